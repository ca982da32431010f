"""Write an invented site to files: both products, points, settings and truth."""

import shutil
import tempfile
from pathlib import Path

from rasterio.errors import RasterioError

from geoqa.demo.mosaic import products_of, surface_at
from geoqa.demo.quenzelau import QUENZELAU
from geoqa.demo.rasters import write_orthomosaic, write_surface
from geoqa.demo.site import Site
from geoqa.demo.survey import points_text, survey_of, truth_text
from geoqa.demo.terrain import Terrain
from geoqa.demo.texts import MARK, readme_text, settings_text
from geoqa.errors import OutputError

SETTINGS = "check.toml"
README = "README.txt"
FILES = ("orthomosaic.tif", "surface.tif", "points.csv", "truth.csv", README, SETTINGS)


def write_scenario(folder: Path) -> Path:
    """Write the gravel pit Quenzelau to a folder and return the path of its settings.

    Two runs on one machine leave the same bytes. Files of an earlier run are replaced once all new
    ones are whole.

    Raises
    ------
    OutputError
        When the folder cannot be written, or holds files of these names from elsewhere.
    """
    return write_site(folder, QUENZELAU)


def write_site(folder: Path, site: Site) -> Path:
    """Write a site to a folder and return the path of its settings; errors as in `write_scenario`."""
    try:
        _refuse_foreign_files(folder)
        folder.mkdir(parents=True, exist_ok=True)
        staging = Path(tempfile.mkdtemp(prefix=".geoqa-partial-", dir=folder))
        try:
            _write_files(staging, site)
            for name in FILES:
                (staging / name).replace(folder / name)
        finally:
            shutil.rmtree(staging, ignore_errors=True)
    except (OSError, RasterioError) as mistake:
        reason = getattr(mistake, "strerror", None) or mistake
        message = (
            f"{folder}: the invented site cannot be written ({reason}). "
            "Name another folder, or make room and grant write permission."
        )
        raise OutputError(message) from mistake
    return folder / SETTINGS


def _refuse_foreign_files(folder: Path) -> None:
    taken = [name for name in FILES if (folder / name).exists()]
    readme = folder / README
    ours = readme.is_file() and MARK in readme.read_text(encoding="utf-8", errors="replace")
    if taken and not ours:
        message = (
            f"{folder}: holds {', '.join(taken)} that geoqa did not write, and the invented site would "
            "replace them. Name another folder."
        )
        raise OutputError(message)


def _write_files(folder: Path, site: Site) -> None:
    terrain = Terrain(site)
    survey = survey_of(terrain)
    products = products_of(terrain, survey)
    write_orthomosaic(folder / "orthomosaic.tif", site, products)
    write_surface(folder / "surface.tif", site, products)
    heights = surface_at(site, products.surface_m, survey.true_m)
    texts = {
        "points.csv": points_text(survey),
        "truth.csv": truth_text(survey, heights),
        README: readme_text(site),
        SETTINGS: settings_text(site),
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
