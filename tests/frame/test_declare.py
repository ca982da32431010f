"""What is declared for the products, and what is refused."""

import pyproj
import pytest

from geoqa.errors import FrameError
from geoqa.frame.declare import common_frame
from geoqa.records.base_settings import Position
from geoqa.units import LinearUnit
from tests.frame.scenes import products_of, raster_of, settings_of, survey_of

METRE, FOOT, US_SURVEY_FOOT = LinearUnit
NAVD88 = "EPSG:5703"
PLACE = Position(latitude=52.0, longitude=13.0, height=100.0)


def both(ortho, surface, **tables):
    """Return the common frame of two rasters."""
    return common_frame(raster_of(ortho, path="ortho.tif"), raster_of(surface), settings_of(**tables), None)


def test_the_frame_is_that_of_the_orthomosaic():
    products = both("EPSG:25833", "EPSG:25832+7837", orthomosaic={})
    assert products.frame.name == "ETRS89 / UTM zone 33N (EPSG:25833)"
    assert products.frame.unit is METRE
    assert products.frame.height_system == "EPSG:7837"
    assert products.frame.assumptions == ()


def test_two_spellings_of_one_crs_agree():
    wkt = pyproj.CRS("EPSG:25833").to_wkt("WKT1_ESRI")
    assert both("EPSG:25833", wkt, orthomosaic={}, elevation={"height_system": "EPSG:7837"}).elevation


def test_two_datums_are_refused_naming_both():
    with pytest.raises(FrameError, match=r"ortho\.tif is in WGS 84 .* surface\.tif in ETRS89 .*one datum"):
        both("EPSG:32633", "EPSG:25833", orthomosaic={})


def test_frames_say_that_two_labels_are_one_realisation():
    products = both(
        "EPSG:32611", "EPSG:6340", orthomosaic={"frame": "EPSG:6319"}, elevation={"height_system": NAVD88}
    )
    assert products.realisation is not None
    assert products.realisation.name == "NAD83(2011)"
    assert products.datum is products.realisation


def test_a_frame_of_one_product_is_that_of_the_other_with_the_same_label():
    products = both("EPSG:32611", "EPSG:32611", orthomosaic={}, elevation={"frame": "EPSG:6319"})
    assert products.datum.name == "NAD83(2011)"
    assert any("both taken to be in NAD83(2011)" in said for said in products.frame.assumptions)


def test_products_at_two_epochs_of_a_moving_frame_are_refused():
    frame = {"frame": "EPSG:9989"}
    with pytest.raises(FrameError, match=r"epoch 2026.* 2020"):
        both(
            "EPSG:32611",
            "EPSG:32611",
            orthomosaic={**frame, "epoch": 2026.0},
            elevation={**frame, "epoch": 2020.0},
        )


def test_the_settings_complete_a_raster_without_a_crs():
    local = 'LOCAL_CS["some plane",UNIT["metre",1]]'
    with pytest.raises(FrameError, match=r"ortho\.tif is in a local grid .* orthomosaic\.crs"):
        both(local, "EPSG:25833", orthomosaic={})
    products = both(local, "EPSG:25833", orthomosaic={"crs": "EPSG:25833"})
    assert products.orthomosaic is not None
    assert products.orthomosaic.unit is METRE
    assert not any("not in" in said for said in products.frame.assumptions)


def test_a_compound_crs_in_the_settings_brings_its_heights():
    products = products_of("EPSG:25833", crs="EPSG:25833+7837")
    assert products.frame.height_system == "EPSG:7837"


def test_a_crs_that_overrides_the_file_is_told():
    products = both("EPSG:32633", "EPSG:25833", orthomosaic={"crs": "EPSG:25833"})
    assert any(
        said.startswith("ortho.tif is taken to be in EPSG:25833") for said in products.frame.assumptions
    )


def test_two_rasters_in_local_grids_are_taken_to_be_in_one():
    products = both('LOCAL_CS["a",UNIT["metre",1]]', 'LOCAL_CS["b",UNIT["metre",1]]', orthomosaic={})
    assert any("one local grid" in said for said in products.frame.assumptions)
    with pytest.raises(FrameError, match="Bring both into one grid"):
        both('LOCAL_CS["a",UNIT["metre",1]]', 'LOCAL_CS["b",UNIT["foot",0.3048]]', orthomosaic={})


def test_no_raster_and_no_crs_make_a_local_grid():
    products = products_of(points=[{"unit": "foot"}])
    assert products.frame.crs.geodetic_crs is None
    assert products.frame.unit is FOOT
    assert any("one local grid" in said for said in products.frame.assumptions)
    by_header = products_of(surveys=[survey_of([[1.0, 2.0]], unit=US_SURVEY_FOOT)])
    assert by_header.frame.unit is US_SURVEY_FOOT


def test_no_raster_leaves_the_crs_of_the_points():
    assert products_of(points_crs=pyproj.CRS("EPSG:25833+7837")).frame.name.endswith("(EPSG:25833)")


def test_the_height_system_is_the_setting_or_the_file_or_unknown_and_said():
    assert products_of("EPSG:25833", height_system="EPSG:7837").frame.height_system == "EPSG:7837"
    assert products_of("EPSG:25833", height_system="ellipsoidal").frame.height_system == "ellipsoidal"
    assert products_of("EPSG:25833+7837").frame.height_system == "EPSG:7837"
    three_axes = raster_of(pyproj.CRS("EPSG:6340").to_3d().to_wkt())
    assert products_of(raster=three_axes).frame.height_system == "ellipsoidal"
    unknown = products_of("EPSG:25833").frame
    assert unknown.height_system == "not stated"
    assert any("taken to be in one height system" in said for said in unknown.assumptions)


def test_the_points_may_state_the_height_system_of_both_and_it_is_said():
    frame = products_of("EPSG:25833", points=[{"height_system": "EPSG:7837"}]).frame
    assert frame.height_system == "EPSG:7837"
    assert any("like those of the points" in said for said in frame.assumptions)


def test_two_files_of_points_in_two_height_systems_need_that_of_the_surface():
    with pytest.raises(FrameError, match=r"Set elevation\.height_system"):
        products_of("EPSG:25833", points=[{"height_system": "EPSG:7837"}, {"height_system": "ellipsoidal"}])


def test_a_height_system_against_the_file_is_refused_unless_it_is_the_same_surface():
    with pytest.raises(FrameError, match=r"carries heights in EPSG:6360 .* says EPSG:5713"):
        products_of("EPSG:2991+6360", height_system="EPSG:5713")
    agreed = products_of("EPSG:2991+6360", height_system=NAVD88)
    assert agreed.height_unit is US_SURVEY_FOOT


@pytest.mark.parametrize(
    ("crs", "elevation", "points", "unit", "said"),
    [
        ("EPSG:25833", {"unit": "foot"}, {}, FOOT, None),
        ("EPSG:25833", {}, {}, METRE, "taken to be metres"),
        ("EPSG:2991+6360", {}, {}, US_SURVEY_FOOT, None),
        ("EPSG:2994", {"unit": "metre"}, {}, METRE, None),
        ("EPSG:2994", {"height_system": "EPSG:8228"}, {}, FOOT, None),
        ("EPSG:2994", {}, {"height_unit": "us-survey-foot"}, US_SURVEY_FOOT, "like that of the points"),
        ("EPSG:2994", {}, {"unit": "foot"}, FOOT, "like that of the points"),
        ("EPSG:2994", {"height_system": NAVD88}, {"unit": "foot"}, FOOT, "like that of the points"),
    ],
)
def test_the_unit_of_the_heights_is_stated_or_taken_and_said(crs, elevation, points, unit, said):
    products = products_of(crs, points=[points], **elevation)
    assert products.height_unit is unit
    told = [sentence for sentence in products.frame.assumptions if "unit of the heights" in sentence]
    assert bool(told) is (said is not None)
    assert said is None or said in told[0]


def test_a_unit_of_the_band_that_is_none_is_refused_until_the_settings_state_one():
    raster = raster_of("EPSG:25833", unknown_unit="cm")
    with pytest.raises(FrameError, match=r"states its heights in “cm”, .*Set elevation\.unit"):
        products_of(raster=raster)
    assert products_of(raster=raster, unit="metre").height_unit is METRE


def test_the_header_of_the_points_may_state_the_unit_of_the_heights():
    survey = survey_of([[1.0, 2.0, 3.0]], unit=FOOT, height_unit=FOOT)
    assert products_of("EPSG:2994", surveys=[survey]).height_unit is FOOT


@pytest.mark.parametrize("points", [[{}], [{"unit": "foot"}, {"unit": "metre"}], [{"unit": "metre"}]])
def test_feet_in_plan_alone_do_not_tell_the_unit_of_the_heights(points):
    with pytest.raises(FrameError, match=r"EPSG:2994, which counts in foot.*Set elevation\.unit to “metre”"):
        products_of("EPSG:2994", points=points)


def test_a_unit_against_the_file_is_refused_naming_both():
    with pytest.raises(FrameError, match=r"metre by elevation\.unit and us-survey-foot by surface\.tif"):
        products_of("EPSG:2991+6360", unit="metre")
    with pytest.raises(FrameError, match=r"foot by elevation\.unit and us-survey-foot by the height system"):
        products_of("EPSG:2994", unit="foot", height_system="EPSG:6360")
