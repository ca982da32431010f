"""Several files of points in one check, each with its CRS, unit and format. All points are invented."""

import numpy as np
import pyproj
import pytest

from tests.readers.points.files import write_xlsx
from tests.readers.raster_files import write
from tests.site import geoqa

# [NIST SP 811], appendix B.6.
FOOT_M, US_FOOT_M = 0.3048, 1200 / 3937
# The next zone, in feet, has no code.
FEET = "+proj=utm +zone=33 +ellps=GRS80 +units=ft +type=crs"
EAST, NORTH = 512_005.0 + 4.0 * np.arange(6), 5_402_995.0 - 4.0 * np.arange(6)
# The surface is a plane, so that bilinear interpolation is exact.
RISE = (0.01, 0.02)


def plane(east, north):
    return 240.0 + RISE[0] * (east - 512_000.0) + RISE[1] * (north - 5_403_000.0)


@pytest.fixture
def site(tmp_path):
    row, col = np.mgrid[0:150, 0:190] + 0.5
    heights = plane(512_000.0 + 0.2 * col, 5_403_000.0 - 0.2 * row)
    write(tmp_path / "surface.tif", heights.astype("float64"))
    return tmp_path


def in_degrees(rows):
    to_degrees = pyproj.Transformer.from_crs("EPSG:25832", "EPSG:4258", always_xy=True)
    return to_degrees.transform(EAST[rows], NORTH[rows])


def settings(*files):
    tables = "".join(
        "[[points]]\n" + "".join(f"{key} = {value!r}\n" for key, value in file.items()) for file in files
    )
    return f"[elevation]\npath = 'surface.tif'\nunit = 'metre'\n{tables}[deliver]\npictures = false\n"


def write_files(site):
    """Write two points to each of three files: metres, degrees and feet, a workbook of feet elsewhere."""
    height = plane(EAST, NORTH)
    lines = [f"M{i},{EAST[i]:.4f},{NORTH[i]:.4f},{height[i] - 0.1:.4f}" for i in (0, 1)]
    (site / "metres.csv").write_text("\n".join(["id,easting,northing,height", *lines]) + "\n")
    longitude, latitude = in_degrees(slice(2, 4))
    lines = [
        f"D{i}\t{latitude[i]:.10f}\t{longitude[i]:.10f}\t{(height[i + 2] - 0.2) / US_FOOT_M:.5f}"
        for i in (0, 1)
    ]
    (site / "degrees.tsv").write_text("\n".join(["id\tlatitude\tlongitude\theight_ftUS", *lines]) + "\n")
    to_zone = pyproj.Transformer.from_crs("EPSG:25832", "EPSG:25833", always_xy=True)
    east, north = to_zone.transform(EAST[4:], NORTH[4:])
    columns = (east / FOOT_M, north / FOOT_M, (height[4:] - 0.3) / FOOT_M)
    rows = [(f"F{i}", *(float(column[i]) for column in columns)) for i in (0, 1)]
    write_xlsx(site / "feet.xlsx", {"points": [("id", "easting", "northing", "height"), *rows]})
    return (
        {"path": "metres.csv", "crs": "EPSG:25832"},
        {"path": "degrees.tsv", "crs": "EPSG:4258"},
        {"path": "feet.xlsx", "unit": "foot", "frame": "same as products", "crs": FEET},
    )


def test_three_files_in_three_systems_make_one_list_of_checkpoints(site):
    metres, degrees, feet = write_files(site)
    (site / "check.toml").write_text(settings(metres, degrees, feet))
    answer = geoqa("check", str(site / "check.toml"), "--json")
    assert answer.exit_code == 0, answer.stderr
    points = answer.json["points"]
    assert [point["id"] for point in points] == ["M0", "M1", "D0", "D1", "F0", "F1"]
    found = np.array([point["survey_m"] for point in points])
    # Coordinates are written to 0.1 mm and 1e-10 degree.
    np.testing.assert_allclose(found[:, 0], EAST, rtol=0, atol=1e-4)
    np.testing.assert_allclose(found[:, 1], NORTH, rtol=0, atol=1e-4)
    up = [point["residual_m"][2] for point in points]
    np.testing.assert_allclose(up, [0.1, 0.1, 0.2, 0.2, 0.3, 0.3], rtol=0, atol=1e-4)
    assert [item["path"] for item in answer.json["provenance"]["inputs"] if item["use"] == "points"] == [
        str(site / name) for name in ("metres.csv", "degrees.tsv", "feet.xlsx")
    ]


def test_the_file_with_the_mistake_is_named(site):
    metres, degrees, _ = write_files(site)
    (site / "degrees.tsv").write_text((site / "degrees.tsv").read_text().replace("D1\t", "D1\tx"))
    (site / "check.toml").write_text(settings(metres, degrees))
    answer = geoqa("check", str(site / "check.toml"))
    assert answer.exit_code == 2
    assert "degrees.tsv, line 3" in answer.stderr


def test_headerless_file_among_others_needs_its_own_layout(site):
    metres, _, _ = write_files(site)
    lines = [f"N{i} {NORTH[i]:.4f} {EAST[i]:.4f} {plane(EAST[i], NORTH[i]):.4f}" for i in (2, 3)]
    (site / "list.txt").write_text("\n".join(lines) + "\n")
    (site / "check.toml").write_text(settings(metres, {"path": "list.txt"}))
    refused = geoqa("check", str(site / "check.toml"))
    assert refused.exit_code == 2
    assert "list.txt" in refused.stderr
    assert "layout" in refused.stderr
    (site / "check.toml").write_text(settings(metres, {"path": "list.txt", "layout": "PNEZD"}))
    answer = geoqa("check", str(site / "check.toml"), "--json")
    assert answer.exit_code == 0, answer.stderr
    up = [point["residual_m"][2] for point in answer.json["points"]]
    np.testing.assert_allclose(up, [0.1, 0.1, 0.0, 0.0], rtol=0, atol=1e-4)
