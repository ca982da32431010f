"""Real raster, 40 withheld lidar ground points: the figures of an independent numpy sampling.

Source of the data: PDAL test data (BSD), Eugene, Oregon; expected figures computed apart from this
project from the four cell centres (mean +0.0297 ft, RMSE 0.1265 ft, n 40 on the terrain; 26 of 40
usable on the surface).
"""

import csv

import numpy as np
import pytest
from affine import Affine

from tests.readers import raster_files
from tests.site import REAL, geoqa

AUTZEN = REAL / "pdal-autzen"
pytestmark = [
    pytest.mark.real,
    pytest.mark.skipif(not AUTZEN.exists(), reason="open data is not beside the repository"),
]
FOOT_M = 0.3048


def settings(folder, *, elevation=None, orthomosaic=None, points="checkpoints_epsg2994_ft.csv", extra=""):
    lines = ["[points]", f"path = '{AUTZEN / points}'"]
    if elevation:
        lines += ["[elevation]", f"path = '{AUTZEN / elevation}'", "unit = 'foot'"]
    if orthomosaic:
        lines += ["[orthomosaic]", f"path = '{AUTZEN / orthomosaic}'"]
    path = folder / "autzen.toml"
    path.write_text("\n".join(lines) + "\n" + extra)
    return str(path)


OPEN = "[limits]\nslope_percent = 1e9\nrelief_m = 1e9\n[deliver]\npictures = false\n"


def test_terrain_gives_the_published_figures(tmp_path):
    answer = geoqa("check", settings(tmp_path, elevation="dtm_3ft_epsg2994_zft.tif", extra=OPEN), "--json")
    assert answer.exit_code == 0, answer.stderr
    up = answer.json["statistics"]["up"]
    assert up["count"] == 40
    assert up["mean_m"] == pytest.approx(0.0297 * FOOT_M, abs=0.00005 * FOOT_M)
    assert up["median_m"] == pytest.approx(0.0268 * FOOT_M, abs=0.00005 * FOOT_M)
    assert up["std_m"] == pytest.approx(0.1245 * FOOT_M, abs=0.00005 * FOOT_M)
    assert up["rmse_m"] == pytest.approx(0.1265 * FOOT_M, abs=0.00005 * FOOT_M)
    assert up["nmad_m"] == pytest.approx(0.1023 * FOOT_M, abs=0.00005 * FOOT_M)
    assert up["max_abs_m"] == pytest.approx(0.3733 * FOOT_M, abs=0.00005 * FOOT_M)


def test_surface_carries_26_of_40(tmp_path):
    answer = geoqa("check", settings(tmp_path, elevation="dsm_3ft_epsg2994_zft.tif", extra=OPEN), "--json")
    assert answer.exit_code == 0, answer.stderr
    up = answer.json["statistics"]["up"]
    assert up["count"] == 26
    assert up["mean_m"] == pytest.approx(5.8922 * FOOT_M, abs=0.00005 * FOOT_M)
    assert up["rmse_m"] == pytest.approx(17.2272 * FOOT_M, abs=0.00005 * FOOT_M)
    assert up["nmad_m"] == pytest.approx(0.1095 * FOOT_M, abs=0.00005 * FOOT_M)


def test_default_limits_say_which_points_are_unused_and_why(tmp_path):
    extra = "[deliver]\npictures = false\n"
    answer = geoqa("check", settings(tmp_path, elevation="dtm_3ft_epsg2994_zft.tif", extra=extra), "--json")
    assert answer.exit_code == 0, answer.stderr
    unused = [point for point in answer.json["points"] if not point["vertical"]["used"]]
    assert unused
    assert all(point["vertical"]["reason"] for point in unused)
    assert "Not used, vertical" in answer.stderr


def test_metres_against_feet_give_the_same_residuals(tmp_path):
    # Both files are NAD83(HARN), so UTM metres and Lambert feet differ by a projection only.
    feet = geoqa("check", settings(tmp_path, elevation="dtm_3ft_epsg2994_zft.tif", extra=OPEN), "--json").json
    path = settings(
        tmp_path, elevation="dtm_3ft_epsg2994_zft.tif", points="checkpoints_epsg3740_m.csv", extra=OPEN
    )
    text = (tmp_path / "autzen.toml").read_text().replace("[elevation]", "crs = 'EPSG:3740'\n[elevation]", 1)
    (tmp_path / "autzen.toml").write_text(text)
    metres = geoqa("check", path, "--json")
    assert metres.exit_code == 0, metres.stderr
    for one, other in zip(feet["points"], metres.json["points"], strict=True):
        assert one["residual_m"][2] == pytest.approx(other["residual_m"][2], abs=0.0005)


def test_picture_without_targets_has_none(tmp_path):
    answer = geoqa(
        "check",
        settings(tmp_path, orthomosaic="ortho_1ft_epsg2994.tif", extra="[deliver]\npictures = false\n"),
        "--json",
    )
    statuses = [point["target"]["status"] for point in answer.json["points"]]
    assert statuses == ["not found"] * 40
    assert answer.exit_code == 0


def test_limit_without_a_target_is_undecidable(tmp_path):
    answer = geoqa(
        "check",
        settings(
            tmp_path,
            orthomosaic="ortho_1ft_epsg2994.tif",
            extra="[requirement]\nhorizontal_rmse_m = 0.5\n[deliver]\npictures = false\n",
        ),
        "--json",
    )
    assert answer.exit_code == 3
    assert answer.json["verdict"]["horizontal"] == "undecidable"


def test_ground_that_changed_between_two_flights_is_told_in_metres(tmp_path):
    # SOURCE.md of the set, in ftUS, 2010 surface minus 2023 points: n 625, mean −1.548, RMSE 2.316.
    # [NIST SP 811], appendix B.6: 1200/3937 m.
    path = settings(
        tmp_path,
        elevation="track_dtm_2010_1m_xy_m_z_ftUS.tif",
        points="track_2023_ground_points.csv",
        extra=OPEN,
    )
    (tmp_path / "autzen.toml").write_text((tmp_path / "autzen.toml").read_text().replace("unit = 'foot'", ""))
    answer = geoqa("check", path, "--json")
    assert answer.exit_code == 0, answer.stderr
    up = answer.json["statistics"]["up"]
    assert up["count"] == 625
    for name, feet in (("mean_m", -1.548), ("median_m", -1.204), ("rmse_m", 2.316), ("nmad_m", 1.150)):
        assert up[name] == pytest.approx(feet * 1200 / 3937, abs=0.0005 * 1200 / 3937), name


@pytest.mark.parametrize(
    ("columns", "crs", "unit"),
    [
        (("x_epsg2994_ft", "y_epsg2994_ft", "z_ft"), "EPSG:2992", "foot"),
        (("lon_deg", "lat_deg", "z_m"), "EPSG:4269", None),
    ],
)
def test_one_list_in_two_systems_meets_itself_in_a_third(tmp_path, columns, crs, unit):
    # The three columns were converted by others: rounded to 0.01 ft, 1e-7 degree and 0.01 m.
    with (AUTZEN / "same_1065_points_three_crs.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))[:200]

    def write(name, header, keys):
        lines = [",".join((f"P{i}", *(row[key] for key in keys))) for i, row in enumerate(rows)]
        (tmp_path / name).write_text("\n".join((header, *lines)) + "\n")

    metres = ("x_epsg26910_m", "y_epsg26910_m", "z_m")
    write("marks.csv", "id,easting,northing,height", metres)
    write(
        "points.csv",
        "id,longitude,latitude,height" if unit is None else "id,easting,northing,height",
        columns,
    )
    raster_files.write(
        tmp_path / "flat.tif",
        np.zeros((9, 9), dtype="uint8"),
        crs="EPSG:26910",
        transform=Affine(500, 0, 492_000, 0, -500, 4_879_000),
    )
    heights = "" if unit is None else f"unit = '{unit}'\nheight_unit = '{unit}'\n"
    (tmp_path / "check.toml").write_text(
        "[orthomosaic]\npath = 'flat.tif'\n[targets]\nmarks = 'marks.csv'\n"
        f"[points]\npath = 'points.csv'\ncrs = '{crs}'\n{heights}[deliver]\npictures = false\n"
    )
    answer = geoqa("check", str(tmp_path / "check.toml"), "--json")
    assert answer.exit_code == 0, answer.stderr
    delta = np.array([point["residual_m"][:2] for point in answer.json["points"]])
    np.testing.assert_allclose(delta, 0.0, rtol=0, atol=0.0115)
    survey = np.array([point["survey_m"][2] for point in answer.json["points"]])
    np.testing.assert_allclose(survey, [float(row["z_m"]) for row in rows], rtol=0, atol=0.0016)
