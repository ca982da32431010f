"""The main job: how well do these products agree with these points?"""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.errors import InputError
from geoqa.processes import Input, Output, Process

if TYPE_CHECKING:
    from geoqa.records.settings import Settings

RASTER = {
    "type": "string",
    "format": "uri-reference",
    "contentMediaType": "image/tiff; application=geotiff",
}
POINTS = {"type": "string", "format": "uri-reference", "contentMediaType": "text/csv"}
_LIMIT = {"type": "number", "exclusiveMinimum": 0, "x-ogc-unit": "m"}
UNITS = ["metre", "foot", "us-survey-foot"]


def check(  # noqa: PLR0913 - one keyword an input, as its description lists them
    *,
    settings: str | None = None,
    orthomosaic: str | None = None,
    elevation: str | None = None,
    points: str | None = None,
    marks: str | None = None,
    out: str | None = None,
    horizontal_limit_m: float | None = None,
    vertical_limit_m: float | None = None,
    points_crs: str | None = None,
    points_unit: str | None = None,
    height_system: str | None = None,
    require: str | None = None,
    cure: str | None = None,
    created: str | None = None,
) -> Mapping[str, Any]:
    """Return the results of a check and the folder that holds its deliverables."""
    from geoqa.assess import assess
    from geoqa.deliver import deliver
    from geoqa.processes._delivered import Delivered, read_in_brief
    from geoqa.readers.settings import read_settings

    words = {
        "orthomosaic": orthomosaic,
        "elevation": elevation,
        "points": points,
        "marks": marks,
        "horizontal_limit": horizontal_limit_m,
        "vertical_limit": vertical_limit_m,
        "points_crs": points_crs,
        "points_unit": points_unit,
        "height_system": height_system,
    }
    given = {name: value for name, value in words.items() if value is not None}
    if settings is not None:
        _refuse_both(settings, given)
        wanted = read_settings(Path(settings))
        folder = Path(settings).with_name(f"{Path(settings).stem}-accuracy")
    else:
        wanted = _settings_of_words(given)
        folder = Path(f"{Path(str(points)).stem}-accuracy")
    cures = [words.strip() for words in (cure or "").split(";") if words.strip()]
    folder = Path(out) if out is not None else folder
    # The assessment is held by nobody when the results are read: both are large with many points.
    deliver(assess(wanted, created=created, cures=cures), folder)
    in_brief = read_in_brief(folder)
    return Delivered(folder, in_brief, status(in_brief, require=require))


def _refuse_both(settings: str, given: Mapping[str, object]) -> None:
    if given:
        options = ", ".join("--" + name.replace("_", "-") for name in given)
        message = f"{settings}: a settings file was given together with {options}. Put them into the file."
        raise InputError(message)


def _settings_of_words(given: Mapping[str, Any]) -> "Settings":
    """Return the same as a settings file would hold."""
    from geoqa.processes._asked import asked

    if "points" not in given:
        message = "No points were given. Name a settings file, or --points with --orthomosaic or --elevation."
        raise InputError(message)
    tables: dict[str, dict[str, Any]] = {
        "points": {
            "path": given["points"],
            "crs": given.get("points_crs"),
            "unit": given.get("points_unit"),
            "height_system": given.get("height_system"),
        },
        "requirement": {
            "horizontal_rmse_m": given.get("horizontal_limit"),
            "vertical_rmse_m": given.get("vertical_limit"),
        },
        "targets": {"marks": given.get("marks")},
    }
    products = {name: {"path": given[name]} for name in ("orthomosaic", "elevation") if name in given}
    return asked(products | tables)


def status(results: Mapping[str, Any], *, require: str | None) -> int:
    """Return 0 met or not contradicted or nothing asked, 1 failed, 3 undecidable."""
    verdicts = {results["verdict"]["horizontal"], results["verdict"]["vertical"]}
    failing = {"failed", "not contradicted"} if require == "proved" else {"failed"}
    if verdicts & failing or any(item["verdict"] == "not met" for item in results["judgements"]):
        return 1
    measured = [point["target"]["status"] for point in results["points"]]
    measured += [point["surface"]["status"] for point in results["points"]]
    off_the_map = "outside" in measured and set(measured) <= {"outside", "not sought"}
    return 3 if "undecidable" in verdicts or off_the_map else 0


def summary(outputs: Mapping[str, Any]) -> str:
    """Return what a person reads in the terminal: the decision first."""
    from geoqa.processes._delivered import Delivered
    from geoqa.processes._summary import summary_of

    results = outputs.in_brief if isinstance(outputs, Delivered) else outputs["results"]
    return summary_of(results, outputs["folder"])


CREATED = Input(
    "Time stamp of the results",
    {"type": "string", "format": "date-time"},
    "ISO 8601, UTC; SOURCE_DATE_EPOCH does the same",
)
OUTPUTS = {
    "results": Output("Results", {"type": "object"}, "the content of results.json"),
    "folder": Output("Folder of the deliverables", {"type": "string", "format": "uri-reference"}),
    "status": Output(
        "Status",
        {"type": "integer", "enum": [0, 1, 3]},
        "0 met, not contradicted or not asked; 1 failed; 3 undecidable",
    ),
}

PROCESS = Process(
    id="check",
    version="1.0.0",
    title="Check a map against surveyed points",
    description=(
        "Brings the points into the frame of the products, finds the targets in the orthomosaic, reads the "
        "elevation raster, forms residuals (product minus survey), states the accuracy and writes map, "
        "report and layers.\n\nGive a settings file, or name the files with options; either raster may be "
        "left out, and with --marks both may."
    ),
    inputs={
        "settings": Input(
            "Settings file",
            {"type": "string", "format": "uri-reference"},
            "TOML",
            position=True,
            word="SETTINGS.toml",
        ),
        "orthomosaic": Input("Orthomosaic", RASTER, "GeoTIFF or any raster that rasterio opens"),
        "elevation": Input("Elevation raster", RASTER, "surface or terrain heights"),
        "points": Input("Surveyed points", POINTS, "table, workbook, vector file, LandXML, NMEA log"),
        "marks": Input("Positions picked by hand", POINTS, "id, easting, northing, optionally height"),
        "out": Input(
            "Folder for the results",
            {"type": "string", "format": "uri-reference"},
            "default <settings or points name>-accuracy",
            word="FOLDER",
        ),
        "horizontal_limit_m": Input("Largest horizontal (radial) RMSE accepted", _LIMIT),
        "vertical_limit_m": Input("Largest vertical RMSE accepted", _LIMIT),
        "points_crs": Input(
            "CRS of the points", {"type": "string"}, "such as EPSG:25832; default that of the products"
        ),
        "points_unit": Input("Unit of the points", {"type": "string", "enum": UNITS}),
        "height_system": Input(
            "Height system of the points",
            {"type": "string"},
            "a vertical CRS such as EPSG:5703, or “ellipsoidal”; default that of the products",
        ),
        "require": Input(
            "Also fail what is not contradicted but not proved", {"type": "string", "enum": ["proved"]}
        ),
        "cure": Input(
            "Cures to try on the residuals, with no file touched",
            {"type": "string"},
            "parted by “;”: vector EAST NORTH UP, without ID …, swap ID ID, shift, plane, similarity, or "
            "the id "
            "of a finding",
            word="WORDS",
        ),
        "created": CREATED,
    },
    outputs=OUTPUTS,
    run=check,
    summary=summary,
    exit_status=lambda outputs: int(outputs["status"]),
    document="results",
)
