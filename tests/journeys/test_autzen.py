"""Real raster, 40 withheld lidar ground points: the figures of an independent numpy sampling.

Source of the data: PDAL test data (BSD), Eugene, Oregon; expected figures computed apart from this
project from the four cell centres (mean +0.0297 ft, RMSE 0.1265 ft, n 40 on the terrain; 26 of 40
usable on the surface).
"""

import pytest

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
