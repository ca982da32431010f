"""The map picture in each format, size and part: in its place, of its size, and of what it is to show."""

import re
import zlib
from dataclasses import replace

import numpy as np
import pytest
import rasterio
import shapely
from numpy.testing import assert_allclose
from PIL import Image

from geoqa.records.settings import Deliver
from geoqa.writers import _map_page as page_of
from geoqa.writers._map_content import Part, map_content
from geoqa.writers._map_files import SCALES, whole_dpi
from geoqa.writers._untested import strokes, untested
from geoqa.writers.residual_map import write
from tests.builders import SITE_GRID, make_assessment, make_frame

ALL = ("png", "pdf", "svg", "tif")
# ISO 216, in millimetres, lying.
PAPER_MM = {"A5": (210, 148), "A4": (297, 210), "A3": (420, 297), "A2": (594, 420)}


def asking(assessment, **wanted):
    settings = assessment.settings.model_copy(update={"deliver": Deliver(**wanted)})
    return replace(assessment, settings=settings)


def written(folder, assessment, **wanted):
    folder.mkdir(exist_ok=True)
    return {path.name for path in write(asking(assessment, **wanted), folder)}


def test_only_the_formats_asked_for_are_written(tmp_path):
    few = make_assessment(4, pictures=False)
    default = {"residual_map.png", "residual_map.pgw", "residual_map.png.aux.xml", "residual_map.pdf"}
    assert written(tmp_path / "a", few) == default
    assert written(tmp_path / "b", few, map_formats=("svg",)) == {"residual_map.svg"}
    parts = written(tmp_path / "c", few, map_formats=("tif",), map_variants=("plan", "heights"))
    assert parts == {"residual_map.tif", "residual_map_plan.tif", "residual_map_heights.tif"}


def test_every_format_is_the_same_twice(tmp_path):
    wanted = {"map_formats": ALL, "map_variants": ("plan", "heights"), "map_dpi": 60, "map_size": "A5"}
    names = written(tmp_path / "a", make_assessment(8), **wanted)
    assert names == written(tmp_path / "b", make_assessment(8), **wanted)
    assert len(names) == 3 * 6
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name


@pytest.mark.parametrize("size", sorted(SCALES))
def test_each_format_has_the_size_of_the_paper(tmp_path, size):
    written(tmp_path, make_assessment(3, pictures=False), map_formats=ALL, map_size=size, map_dpi=50)
    wide, high = PAPER_MM[size]
    svg = (tmp_path / "residual_map.svg").read_text("utf-8")
    found = {
        name: float(re.search(rf'<svg [^>]*\b{name}="([\d.]+)mm"', svg)[1]) for name in ("width", "height")
    }
    pdf = (tmp_path / "residual_map.pdf").read_bytes()
    box = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", pdf)
    pdf_mm = [float(value) / 72 * 25.4 for value in box.groups()]
    # What is drawn grows with the page.
    drawn = zlib.decompress(re.search(rb"stream\r?\n(x.*?)\r?\nendstream", pdf, re.DOTALL)[1])
    grown = re.search(rb"([\d.]+) 0 0 ([\d.]+) 0 0 cm", drawn)
    scales = [1.0, 1.0] if grown is None else [float(value) for value in grown.groups()]
    # The sides of the A series grow by the square root of two.
    assert scales == pytest.approx([wide / PAPER_MM["A4"][0]] * 2, rel=0.01)
    with Image.open(tmp_path / "residual_map.png") as picture:
        png_mm = [side / dots * 25.4 for side, dots in zip(picture.size, picture.info["dpi"], strict=True)]
    # The page is a tenth of an inch off A4 at most.
    for measured in ((found["width"], found["height"]), pdf_mm, png_mm):
        assert_allclose(measured, (wide, high), rtol=0.01)


def test_tiff_and_png_lie_at_the_same_place_and_hold_the_same_pixels(tmp_path):
    assessment = make_assessment(12)
    written(tmp_path, assessment, map_formats=("png", "tif"), map_size="A3", map_dpi=100)
    with (
        rasterio.open(tmp_path / "residual_map.tif") as tif,
        rasterio.open(tmp_path / "residual_map.png") as png,
    ):
        assert tif.crs == png.crs == rasterio.CRS.from_epsg(25832)
        assert_allclose(tuple(tif.transform), tuple(png.transform), rtol=0, atol=1e-9)
        assert (tif.read() == png.read()).all()


@pytest.mark.parametrize(("size", "dpi"), [("A5", 97), ("A3", 100), ("A2", 50)])
def test_a_mark_lies_on_its_coordinates_at_every_size(tmp_path, size, dpi):
    assessment = make_assessment(1, pictures=False)
    written(tmp_path, assessment, map_formats=("tif",), map_size=size, map_dpi=dpi, map_variants=("heights",))
    east, north = assessment.residuals.survey_m[0, :2]
    with rasterio.open(tmp_path / "residual_map_heights.tif") as dataset:
        row, col = dataset.index(east, north)
        picture = dataset.read().astype(int)
        around = picture[:, row - 1 : row + 2, col - 1 : col + 2].mean(axis=(1, 2))
    classes = map_content(assessment, page_of.ASPECT)
    colour = classes.classes[classes.height_class[0]].colour
    expected = [int(colour[place : place + 2], 16) for place in (1, 3, 5)]
    assert_allclose(around, expected, rtol=0, atol=12)


def test_local_grid_has_a_tiff_without_a_crs(tmp_path):
    assessment = replace(make_assessment(4, pictures=False), frame=make_frame(SITE_GRID))
    written(tmp_path, assessment, map_formats=("tif",), map_dpi=50)
    with rasterio.open(tmp_path / "residual_map.tif") as dataset:
        assert dataset.crs is None


def test_resolution_gives_whole_pixels():
    for dpi in range(50, 601, 7):
        for scale in SCALES.values():
            found = whole_dpi(dpi * scale)
            assert (page_of.WIDTH_IN * found) % 1 == pytest.approx(0, abs=1e-9) or found % 10 == 0
            assert abs(found - dpi * scale) <= 5


def test_plan_map_shows_no_height_and_height_map_no_plan():
    assessment = make_assessment(20)
    plan, heights = (map_content(assessment, page_of.ASPECT, part) for part in (Part.PLAN, Part.HEIGHTS))
    assert len(plan.classes) == 1
    used = assessment.residuals.horizontal.used
    assert (plan.height_class >= 0).tolist() == used.tolist()
    assert len(plan.vectors.index)
    assert not len(heights.vectors.index)
    assert not len(heights.ellipses.centre_m)
    assert (heights.height_class >= 0).tolist() == assessment.residuals.vertical.used.tolist()
    row = int(np.flatnonzero(assessment.residuals.vertical.used)[0])
    centimetres = f"{100 * abs(assessment.residuals.delta_m[row, 2]):.1f}"
    assert centimetres in heights.labels[row]
    assert {note.text for note in plan.unused} & {note.text for note in heights.unused} == set()


# Where no checkpoint supports the map


def test_hatch_covers_the_product_outside_the_hull_and_nothing_inside():
    assessment = make_assessment(20)
    left = untested(assessment, ("plan", "height"))
    used = assessment.residuals.horizontal.used | assessment.residuals.vertical.used
    for place in assessment.residuals.survey_m[used, :2]:
        assert left.distance(shapely.Point(place)) < 1e-6 or not left.contains(shapely.Point(place))
        assert not left.contains(shapely.Point(place))
    corner = assessment.mapped_area_m.min(axis=0) + 0.01
    assert left.contains(shapely.Point(corner))
    # Convex parts do not overlap: both together are the product.
    product = shapely.Polygon(assessment.mapped_area_m)
    both = shapely.MultiPoint(assessment.residuals.survey_m[assessment.residuals.horizontal.used, :2])
    alone = untested(assessment, ("plan",))
    hull = both.convex_hull.intersection(product)
    assert alone.area + hull.area == pytest.approx(product.area, rel=1e-9)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_points_support_nothing(count):
    assessment = make_assessment(count)
    product = shapely.Polygon(assessment.mapped_area_m)
    assert untested(assessment, ("plan", "height")).area == pytest.approx(product.area)


def test_without_an_outline_nothing_is_hatched():
    assessment = replace(make_assessment(5), mapped_area_m=np.empty((0, 2)))
    assert untested(assessment, ("plan",)).is_empty
    assert len(strokes(shapely.Polygon(), 1.0)) == 0


def test_strokes_lie_inside_at_even_distance():
    area = shapely.box(100.0, 50.0, 108.0, 56.0).difference(shapely.box(102.0, 51.0, 104.0, 53.0))
    ends = strokes(area, 0.5)
    lines = shapely.linestrings(ends)
    assert area.buffer(1e-9).contains(lines).all()
    rises = np.unique(((ends[:, 0, 1] - ends[:, 0, 0]) / (0.5 * np.sqrt(2))).round(6))
    assert_allclose(rises, np.round(rises), atol=1e-6)
    # Strokes this dense fill the area: their length times their distance is its size.
    assert shapely.length(lines).sum() * 0.5 == pytest.approx(area.area, rel=0.05)
