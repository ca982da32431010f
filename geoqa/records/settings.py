"""What the user asks for: the one copy of every setting, its type, unit and default."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ConfigDict, Field
from pydantic.json_schema import SkipJsonSchema

from geoqa.records.base_settings import Base
from geoqa.records.checked_table import Table, broken_rule, unknown_name
from geoqa.records.deliver_settings import Deliver
from geoqa.records.setting_types import (
    CrsText,
    Epoch,
    Flag,
    Length,
    Metres,
    NonEmpty,
    Number,
)
from geoqa.records.survey_settings import Survey
from geoqa.units import LinearUnit

# Names of the columns of a points file, in the order in which they are explained to the user.
POINT_COLUMNS = (
    *("id", "easting", "northing", "height", "latitude", "longitude"),
    *("sd_east", "sd_north", "sd_up", "role", "fix", "time", "occupation", "session", "cover"),
    *("target", "target_height", "antenna_height", "separation", "description"),
)


def _listed(value: object) -> object:
    return [value] if isinstance(value, Mapping) else value


def _point_column(value: object) -> object:
    if value not in POINT_COLUMNS:
        raise broken_rule(unknown_name(str(value), POINT_COLUMNS, "column"))
    return value


PointColumn = Annotated[
    str, BeforeValidator(_point_column), Field(json_schema_extra={"enum": list(POINT_COLUMNS)})
]

_RASTER = "GeoTIFF or another raster that GDAL opens; a file, a URL or a /vsi path"
_CRS = "CRS, where the file names none or a wrong one"
_FRAME = "True realisation where the CRS names an ensemble or a generic datum"
_P95 = "Largest 95th percentile of the"


class Orthomosaic(Table):
    """The orthomosaic; crs, frame and epoch only override or complete what the file says."""

    path: NonEmpty = Field(description=_RASTER)
    crs: CrsText | None = Field(None, description=_CRS)
    frame: CrsText | None = Field(None, description=_FRAME)
    epoch: Epoch | None = None


class Elevation(Table):
    """The elevation raster."""

    path: NonEmpty = Field(description=_RASTER)
    kind: Literal["surface", "terrain"] = Field("surface", description="With or without what stands on it")
    crs: CrsText | None = Field(None, description=_CRS)
    frame: CrsText | None = Field(None, description=_FRAME)
    epoch: Epoch | None = None
    height_system: CrsText | None = Field(None, description="A vertical CRS, or “ellipsoidal”")
    unit: LinearUnit | None = Field(None, description="Unit of the heights, where the file does not say")


class Points(Table):
    """A file of surveyed points."""

    path: NonEmpty = Field(description="Table, list, workbook, vector file, drawing or receiver log")
    crs: CrsText = Field("same as products", description="CRS of the points")
    frame: CrsText | None = Field(None, description=f"{_FRAME}; or “same as products”")
    via: CrsText | None = Field(None, description="Go through this frame where several operations tie")
    epoch: Epoch | None = None
    height_system: CrsText = Field("same as products", description="A vertical CRS, or “ellipsoidal”")
    unit: LinearUnit | None = Field(None, description="Unit of easting and northing")
    height_unit: LinearUnit | None = Field(None, description="Unit of the heights; that of `unit` if absent")
    layout: str | None = Field(None, description="Column order (PNEZD …) of a list without a header row")
    known: Flag = Field(default=False, description="Published positions of marks, not measured ones")
    sealed: NonEmpty | None = Field(None, description="SHA-256 issued before processing, or the seal file")
    columns: dict[PointColumn, NonEmpty] = Field(
        default_factory=dict, description="Our name → name in header"
    )


class Geoid(Table):
    """The geoid: a grid file or one separation for the site."""

    grid: NonEmpty | None = Field(None, description="Grid file of separations")
    separation_m: Length | None = Field(None, description="Geoid above the ellipsoid at the site")

    @classmethod
    def broken_rules(cls, given: Mapping[str, Any]) -> Iterator[str]:
        """Yield where not exactly one of the two is given."""
        if ("grid" in given) == ("separation_m" in given):
            yield "give exactly one of grid and separation_m."


class SiteGrid(Table):
    """Local ground coordinates: scaled about an origin, then moved."""

    scale: Annotated[Number, Field(gt=0.9, lt=1.1)] = Field(description="Scale about the origin")
    origin_m: tuple[Length, Length] = Field((0.0, 0.0), description="East and north of the origin")
    offset_m: tuple[Length, Length] = Field((0.0, 0.0), description="Shift east and north after scaling")
    applies_to: tuple[Literal["points", "products"], ...] = Field(("points",), description="What is local")


class Targets(Table):
    """The ground targets to look for in the orthomosaic."""

    kind: str = Field("auto", description="A kind, or “auto” for any, where a point names none")
    size_m: Metres | None = Field(None, description="Side or diameter of the target")
    search_radius_m: Metres = Field(0.5, description="Around the surveyed place")
    marks: NonEmpty | None = Field(None, description="File of positions picked by hand")
    marks_layout: str | None = Field(None, description="Column order (PEN …) of marks without a header row")


class StandardChoice(Table):
    """A standard by its id, with the options it needs."""

    model_config = ConfigDict(extra="allow", frozen=True)

    id: str = Field(description="Id of the standard; its options stand beside it")

    @property
    def options(self) -> dict[str, Any]:
        """Return everything beside the id."""
        return dict(self.model_extra or {})


def _as_choice(value: object) -> object:
    return {"id": value} if isinstance(value, str) else value


ChosenStandard = Annotated[
    StandardChoice, BeforeValidator(_as_choice, json_schema_input_type=str | StandardChoice)
]


class Requirement(Table):
    """What was asked for. Limits are compared unrounded."""

    horizontal_rmse_m: Metres | None = Field(None, description="Largest radial RMSE")
    horizontal_p95_m: Metres | None = Field(None, description=f"{_P95} length of the residual")
    horizontal_max_m: Metres | None = Field(None, description="Largest length of a residual")
    vertical_rmse_m: Metres | None = Field(None, description="Largest vertical RMSE")
    vertical_p95_m: Metres | None = Field(None, description=f"{_P95} vertical residual")
    vertical_max_m: Metres | None = Field(None, description="Largest vertical residual")
    per_axis: Flag = Field(default=False, description="The horizontal limit holds for east and north, each")
    standards: tuple[ChosenStandard, ...] = Field((), description="Standards whose statements are wanted")

    @classmethod
    def broken_rules(cls, given: Mapping[str, Any]) -> Iterator[str]:
        """Yield the directions that have several limits."""
        for direction in ("horizontal", "vertical"):
            names = [f"{direction}_{kind}_m" for kind in ("rmse", "p95", "max")]
            limits = [name for name in names if name in given]
            if len(limits) > 1:
                yield f"give one of {' and '.join(limits)}, not {len(limits)} limits for one direction."


class Limits(Table):
    """Limits that decide about use, with their defaults."""

    max_operation_accuracy_m: Metres = Field(0.15, description="Coarsest operation between datums accepted")
    slope_percent: Annotated[Number, Field(gt=0)] = Field(10.0, description="Steepest for heights")
    relief_m: Metres = Field(0.30, description="Largest step off a plane for heights")
    use_float: Flag = Field(default=False, description="Float and autonomous fixes count")
    allow_large_base_shift: Flag = Field(default=False, description="Accept a base correction of many metres")
    network: Flag = Field(default=False, description="Fetch grids that are not installed")


# For the JSON Schema only: a faulty entry would count as a missing one, so a rule looks for emptiness.
PointFiles = Annotated[tuple[Points, ...], Field(min_length=1)]


class Settings(Table):
    """Everything that one check needs to know.

    Paths are relative to `folder`, the folder of the settings file.
    """

    title: str | None = Field(None, description="Heading of the report and of the map")
    orthomosaic: Orthomosaic | None = None
    elevation: Elevation | None = None
    points: Annotated[
        tuple[Points, ...], BeforeValidator(_listed, json_schema_input_type=Points | PointFiles)
    ]
    base: Annotated[
        tuple[Base, ...], BeforeValidator(_listed, json_schema_input_type=Base | tuple[Base, ...])
    ] = ()
    geoid: Geoid | None = None
    site_grid: SiteGrid | None = None
    targets: Targets = Targets()
    survey: Survey = Survey()
    requirement: Requirement = Requirement()
    deliver: Deliver = Deliver()
    limits: Limits = Limits()
    folder: SkipJsonSchema[Path] = Field(default=Path(), exclude=True)

    def file(self, path: str) -> str:
        """Return a path of the settings as one that opens from here; URLs and /vsi paths stay."""
        return path if is_remote(path) else str(self.folder / path)

    @classmethod
    def broken_rules(cls, given: Mapping[str, Any]) -> Iterator[str]:
        """Yield what a comparison lacks, and several bases that cannot be told apart."""
        products = (given.get("orthomosaic"), given.get("elevation"), _value(given.get("targets"), "marks"))
        if products == (None, None, None):
            yield "nothing to compare the points with: give [orthomosaic], [elevation] or targets.marks."
        if given.get("points") in ([], ()):
            yield "points is an empty list: give at least one [[points]] table."
        tables = _as_list(given.get("points"))
        if tables and all(_value(table, "known") is True for table in tables):
            yield "every table of points is known: give a table with the measured points as well."
        bases = given.get("base")
        if isinstance(bases, list | tuple) and len(bases) > 1:
            sessions = [_value(base, "session") for base in bases]
            if None in sessions or len(set(map(str, sessions))) < len(sessions):
                yield "several bases are told apart by their session: give each [[base]] one of its own."


def _as_list(given: object) -> list[object] | tuple[object, ...]:
    return given if isinstance(given, list | tuple) else [] if given is None else [given]


def _value(table: object, key: str) -> object:
    return table.get(key) if isinstance(table, Mapping) else getattr(table, key, None)


def is_remote(path: str) -> bool:
    """Return whether a path is a URL or one of GDAL's /vsi paths, not a file of this disk.

    Examples
    --------
    >>> is_remote("https://example.org/ortho.tif"), is_remote("ortho.tif")
    (True, False)
    """
    return "://" in path or path.startswith("/vsi")


def is_sha256(text: str) -> bool:
    """Return whether a text is a SHA-256 written in hexadecimal digits, not the name of a file."""
    return len(text) == 64 and set(text.lower()) <= set("0123456789abcdef")
