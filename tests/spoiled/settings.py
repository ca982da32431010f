"""Spoiled settings files: values of the wrong kind, and text that is no TOML."""

from collections.abc import Iterator
from functools import partial
from pathlib import Path

from tests.spoiled import Case, settings_text
from tests.spoiled.mutations import OF_TEXT, spoiled

COUNT = 32

# Put in place of a line of the sound settings, or added.
LINES = {
    'path = "orthomosaic.tif"': [
        *('path = ""', "path = 7", 'path = "."', 'path = "check.toml"', 'path = "nowhere.tif"'),
        *('path = "surface.tif"', 'path = "points.csv"', 'path = "\\u0000"', "path = []"),
        *('path = "http://127.0.0.1:9/x.tif"', 'path = "/vsizip/points.csv/x.tif"', 'path = "GPKG:x:y"'),
        *('path = "orthomosaic.tif"\ncrs = "EPSG:0"', 'path = "orthomosaic.tif"\ncrs = "EPSG:4326"'),
        *('path = "orthomosaic.tif"\ncrs = "+proj=utm"', 'path = "orthomosaic.tif"\nepoch = -5'),
    ],
    'height_system = "EPSG:7837"': [
        *('height_system = "EPSG:25832"', 'height_system = "EPSG:5703"', "height_system = true"),
        *('height_system = "ellipsoidal"', 'height_system = ""', 'height_system = "EPSG:99999999"'),
    ],
    'unit = "metre"': ['unit = "foot"', 'unit = "yard"', "unit = 1", 'unit = "us-survey-foot"'],
    'path = "points.csv"': [
        *('path = "points.csv"\ncrs = "EPSG:32632"', 'path = "points.csv"\ncrs = "EPSG:7837"'),
        *('path = "points.csv"\nlayout = "PNEZD"', 'path = "points.csv"\nlayout = "what"'),
        *('path = "points.csv"\n[points.columns]\nid = "nowhere"', 'path = "points.csv"\nepoch = 1e9'),
        *('path = "points.csv"\nframe = "EPSG:4979"', 'path = "points.csv"\nvia = "EPSG:4326"'),
        *('path = "points.csv"\nunit = "foot"', 'path = "points.csv"\n[[points]]\npath = "points.csv"'),
    ],
    'kind = "quadrant-panel"': [
        *('kind = "none"', 'kind = "star"', "kind = 3", 'kind = "auto"\nmarks = "points.csv"'),
        *('kind = "auto"\nmarks = "surface.tif"', 'kind = "auto"\nsearch_radius_m = 1e9'),
        *('kind = "auto"\nsearch_radius_m = -1', 'kind = "auto"\nsearch_radius_m = 1e-9'),
    ],
    "size_m = 0.6": ["size_m = 0", "size_m = nan", "size_m = 1e12", "size_m = 1e-12", "size_m = inf"],
    "horizontal_rmse_m = 0.05": [
        *("horizontal_rmse_m = 0", "horizontal_rmse_m = 1e-300", 'horizontal_rmse_m = "5 cm"'),
        "horizontal_p95_m = 0.05\nhorizontal_max_m = 0.05",
    ],
    'standards = ["asprs-2023"]': [
        *("standards = []", 'standards = ["x"]', 'standards = [{ id = "asprs-2023", scale = -1 }]'),
        *("standards = [[]]", 'standards = ["asprs-2023", "asprs-2023"]', "standards = 7"),
    ],
    "pictures = false": [
        *("pictures = 2", "pictures = true", "pictures = false\n[limits]\nslope_percent = 0"),
        *("pictures = false\n[limits]\nrelief_m = nan", "pictures = false\n[limits]\nnetwork = true"),
        *("pictures = false\n[geoid]\ngrid = 'points.csv'", "pictures = false\n[geoid]\nseparation_m = 1e99"),
        *("pictures = false\n[base]", "pictures = false\n[site_grid]\nscale = 0", "pictures = false\n[x]"),
        "pictures = false\n[limits]\nmax_operation_accuracy_m = -1",
    ],
    'title = "Spoiled on purpose"': [
        *('title = ""', "title = 5", 'title = "' + "long " * 2000 + '"', 'title = "<b>\\u0007\\u202e"'),
        *("", "title = 'x'\ntitle = 'y'"),
    ],
}


def _write(site: Path, *, content: bytes) -> None:
    (site / "check.toml").write_bytes(content)


def cases() -> Iterator[Case]:
    """Yield the spoiled settings."""
    text = settings_text(about_points='crs = "EPSG:25832"\n')
    for line, others in LINES.items():
        assert line in text
        for other in others:
            content = text.replace(line, other, 1).encode()
            yield Case(f"settings, {other[:60]!r}", partial(_write, content=content))
    for name, content in spoiled(text.encode(), OF_TEXT, COUNT, seed=100):
        yield Case(f"settings, {name}", partial(_write, content=content))
