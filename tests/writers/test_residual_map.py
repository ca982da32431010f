"""The map picture: mostly the data drawn, and its place on the ground."""

import shutil
import subprocess
import sys
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
import shapely
from affine import Affine
from numpy.testing import assert_allclose
from PIL import Image
from rasterio.errors import NotGeoreferencedWarning
from scipy import ndimage

from geoqa.records.measurements import Backdrop
from geoqa.records.results import UseReason
from geoqa.records.settings import Requirement
from geoqa.units import LinearUnit
from geoqa.writers import _map_page as page_of
from geoqa.writers._exaggeration import exaggeration
from geoqa.writers._map_content import map_content
from geoqa.writers._map_figure import map_figure, pale
from geoqa.writers._map_key import factor_text, reference_length
from geoqa.writers._map_labels import Obstacles, place_labels
from geoqa.writers._map_marks import arrows, mark
from geoqa.writers._map_notes import letters
from geoqa.writers._map_words import remarks
from geoqa.writers._symbols import RED, Shape
from geoqa.writers.residual_map import WRITER, write
from tests.builders import (
    EXTENT_M,
    ORIGIN_M,
    make_assessment,
    make_frame,
    make_residuals,
    make_settings,
)

NAN = float("nan")
BASELINE = Path(__file__).parents[1] / "images" / "residual_map.png"


def assessment_of(delta_m, **overrides):
    """Return an assessment with these residuals, all finite ones used."""
    delta = np.asarray(delta_m, float)
    made = make_assessment(len(delta), pictures=False)
    return replace(made, residuals=make_residuals(delta_m=delta), **overrides)


def content_of(assessment):
    return map_content(assessment, page_of.ASPECT)


# --- what is drawn ---------------------------------------------------------------------------------


def test_a_vector_runs_from_the_surveyed_place_along_the_enlarged_residual():
    assessment = assessment_of([[0.02, -0.01, 0.0], [-0.015, 0.02, 0.0], [0.01, 0.01, 0.0]])
    drawn = content_of(assessment).vectors
    survey, delta = assessment.residuals.survey_m[:, :2], assessment.residuals.delta_m[:, :2]
    assert_allclose(drawn.start_m, survey, rtol=0, atol=1e-9)
    assert_allclose(drawn.tip_m, survey + exaggeration(assessment) * delta, rtol=0, atol=1e-6)
    assert not drawn.cut.any()


def test_a_point_without_a_plan_residual_has_no_vector():
    content = content_of(assessment_of([[0.02, 0.01, 0.0], [NAN, NAN, 0.03]]))
    assert content.vectors.index.tolist() == [0]
    assert content.height_class.tolist().count(-1) == 0


def test_the_mark_shows_the_sign_of_the_height_residual_by_its_shape():
    requirement = make_settings(requirement=Requirement(vertical_rmse_m=0.05))
    content = content_of(
        assessment_of([[0, 0, 0.3], [0, 0, 0.06], [0, 0, 0.0], [0, 0, -0.06]], settings=requirement)
    )
    shapes = [content.classes[item].shape for item in content.height_class]
    assert shapes == [Shape.HIGH, Shape.HIGH, Shape.WITHIN, Shape.LOW]


def test_marks_are_centred_on_their_centre_of_gravity():
    for shape in (Shape.HIGH, Shape.LOW, None):
        corners = mark(shape).vertices[:-1]
        assert_allclose(corners.mean(axis=0), 0.0, rtol=0, atol=0.01)
    assert mark(Shape.HIGH).vertices[:, 1].max() > 1 > mark(Shape.LOW).vertices[:, 1].max()


def test_an_arrow_ends_exactly_at_its_tip_however_short():
    start, tip = np.zeros((3, 2)), np.array([[50.0, 0.0], [2.0, 0.0], [0.0, 0.0]])
    outlines = arrows(start, tip)
    assert_allclose(outlines[:, 3], tip, rtol=0, atol=1e-12)
    assert outlines[1, :, 0].min() >= 0
    areas = [shapely.Polygon(outline).area for outline in outlines]
    assert areas[0] > areas[1] > areas[2] == 0


def test_points_that_do_not_count_carry_the_letter_of_their_reason():
    assessment = make_assessment(16)
    content = content_of(assessment)
    reasons = assessment.residuals.horizontal.reasons
    row = reasons.index(UseReason.NOT_FOUND)
    assert content.labels[row] == f"{assessment.residuals.ids[row]} (n)"
    row = reasons.index(UseReason.HEIGHT_ONLY)
    assert content.labels[row] == assessment.residuals.ids[row]
    row = reasons.index(UseReason.ROLE_CONTROL)
    assert letters(assessment, row) == "c"
    counted = {note.letter: note.count for note in content.unused}
    used = [assessment.residuals.horizontal, assessment.residuals.vertical]
    slopes = sum(UseReason.SLOPE in pair for pair in zip(*(use.reasons for use in used), strict=True))
    assert counted["l"] == slopes
    assert counted["n"] == reasons.count(UseReason.NOT_FOUND)


def test_a_long_id_is_cut_but_not_its_letter():
    assessment = make_assessment(16)
    row = assessment.residuals.horizontal.reasons.index(UseReason.NOT_FOUND)
    ids = tuple(f"{name}-{'x' * 60}" for name in assessment.residuals.ids)
    label = content_of(replace(assessment, residuals=replace(assessment.residuals, ids=ids))).labels[row]
    assert label.endswith("x… (n)")
    assert len(label) < 30


def test_vectors_of_points_that_do_not_count_are_told_apart():
    assessment = make_assessment(16)
    drawn = content_of(assessment).vectors
    assert_allclose(drawn.used, assessment.residuals.horizontal.used[drawn.index])
    assert not drawn.used.all()


def test_ellipses_join_survey_and_location_at_95_per_cent():
    assessment = make_assessment(4)
    drawn = content_of(assessment)
    row = int(drawn.vectors.index[0])
    survey = np.diag(assessment.residuals.sigma_survey_m[row, :2] ** 2)
    total = survey + assessment.fixes.covariance_m2[row]
    # Chi-square, 2 degrees of freedom, 0.95: 5.991 (NIST/SEMATECH e-Handbook, 1.3.6.7.4).
    half = np.sqrt(5.991 * np.linalg.eigvalsh(total))[::-1] * drawn.exaggeration
    assert_allclose(drawn.ellipses.half_axes_m[0], half, rtol=1e-4)
    assert_allclose(drawn.ellipses.centre_m[0], drawn.vectors.tip_m[0], rtol=0, atol=1e-9)
    assert drawn.ellipses.source == "survey and location"


def test_the_long_axis_of_an_ellipse_points_along_the_larger_uncertainty():
    assessment = make_assessment(1)
    turned = np.array([[2.0, 1.9], [1.9, 2.0]]) * 1e-3  # long axis towards the north-east
    fixes = replace(assessment.fixes, covariance_m2=turned[None])
    angle = content_of(replace(assessment, fixes=fixes)).ellipses.angle_deg[0]
    assert_allclose(angle % 180, 45.0, rtol=0, atol=0.5)


def test_no_uncertainty_no_ellipse():
    assessment = assessment_of([[0.01, 0.0, 0.0]])
    unknown = replace(assessment.fixes, covariance_m2=np.full((1, 2, 2), NAN))
    assert len(content_of(replace(assessment, fixes=unknown)).ellipses.centre_m) == 0


def test_a_single_long_vector_is_cut_and_its_length_written():
    delta = np.full((9, 3), 0.01)
    delta[4] = [3.0, 4.0, 0.0]
    assessment = assessment_of(delta)
    content = content_of(assessment)
    assert content.vectors.cut.tolist() == [row == 4 for row in range(9)]
    assert content.labels[4] == f"{assessment.residuals.ids[4]}: 5.00 m"
    length = np.hypot(*(content.vectors.tip_m - content.vectors.start_m)[4])
    assert length < max(EXTENT_M)
    direction = (content.vectors.tip_m - content.vectors.start_m)[4] / length
    assert_allclose(direction, [0.6, 0.8], rtol=0, atol=1e-9)


@pytest.mark.parametrize("n", [0, 1, 8, 30, 200])
def test_everything_lies_inside_the_frame(n):
    content = content_of(make_assessment(n))
    west, south, east, north = content.extent_m
    low, high = np.array([west, south]), np.array([east, north])
    for places in (content.vectors.tip_m, content.position_m[content.in_full], np.array([ORIGIN_M])):
        assert ((places >= low) & (places <= high)).all()
    assert_allclose(
        (east - west) / (north - south), page_of.FRAME_WIDTH_IN / page_of.FRAME_HEIGHT_IN, rtol=1e-9
    )


def test_points_at_one_place_get_a_frame_of_some_size():
    made = make_residuals(delta_m=np.full((3, 3), 0.01))
    same = replace(made, survey_m=np.tile(made.survey_m[0], (3, 1)))
    assessment = replace(make_assessment(3, pictures=False), residuals=same, mapped_area_m=np.zeros((0, 2)))
    west, south, east, north = content_of(assessment).extent_m
    assert min(east - west, north - south) >= 100.0
    assert map_figure(assessment).unlabelled == 0


@pytest.mark.parametrize("away", [(4e5, 0), (-4e5, 0), (0, 4e5), (0, -4e5)])
def test_a_point_far_off_the_map_is_named_not_drawn(away):
    made = make_residuals(delta_m=np.full((4, 3), 0.01))
    survey = np.array(made.survey_m)
    survey[2, :2] += away
    assessment = replace(make_assessment(4, pictures=False), residuals=replace(made, survey_m=survey))
    content = content_of(assessment)
    assert content.ground.beyond.tolist() == [False, False, True, False]
    west, south, east, north = content.extent_m
    assert max(east - west, north - south) < 3 * max(EXTENT_M)
    assert f"Far off this map, not shown: {made.ids[2]}." in remarks(assessment, content, 0)


def test_where_no_point_lies_near_the_product_the_map_shows_the_points_and_says_so():
    made = make_residuals(delta_m=np.full((4, 3), NAN))
    away = np.array(made.survey_m)
    away[:, 0] += 4e5
    assessment = replace(make_assessment(4, pictures=False), residuals=replace(made, survey_m=away))
    content = content_of(assessment)
    assert content.ground.shown.all()
    assert content.extent_m[0] > ORIGIN_M[0] + 3e5
    assert "The product lies elsewhere: no point is near it." in remarks(assessment, content, 0)


def test_many_points_are_thinned_to_the_median_of_each_cell_and_that_is_said():
    delta = np.random.default_rng(5).normal(0.0, 0.02, (3000, 3))
    assessment = assessment_of(delta)
    content = content_of(assessment)
    assert content.in_full.sum() < 450
    assert (content.in_full | content.dots).all()
    assert not (content.in_full & content.dots).any()
    length = np.hypot(delta[:, 0], delta[:, 1])
    chosen = content.in_full.copy()
    chosen[list(content.labels)] = False
    # The median length of two components of equal sigma is sigma √(2 ln 2) (Rayleigh distribution).
    assert_allclose(np.median(length[chosen]), 0.02 * np.sqrt(2 * np.log(2)), rtol=0.05)
    assert np.std(length[chosen]) < 0.5 * np.std(length)
    assert int(np.argmax(length)) in content.labels
    assert any("The others are dots." in words for words in remarks(assessment, content, 0))


def test_thinning_takes_heights_where_there_is_no_plan():
    delta = np.full((1000, 3), NAN)
    delta[:, 2] = np.random.default_rng(6).normal(0.02, 0.01, 1000)
    content = content_of(assessment_of(delta))
    assert not len(content.vectors.index)
    assert 300 < content.in_full.sum() < 1000


def test_above_sixty_points_only_the_largest_residuals_and_unused_points_have_ids():
    assessment = make_assessment(120)
    content = content_of(assessment)
    assert 20 <= len(content.labels) <= 40
    delta = assessment.residuals.delta_m
    length = np.nan_to_num(np.hypot(delta[:, 0], delta[:, 1]), nan=-1.0)
    assert int(np.argmax(length)) in content.labels


# --- words and key ---------------------------------------------------------------------------------


def test_the_reference_vector_is_the_limit_where_that_is_of_a_fitting_length():
    assessment = make_assessment(8)
    assert reference_length(assessment, content_of(assessment)) == (0.05, True)
    loose = replace(assessment, settings=make_settings(requirement=Requirement(horizontal_rmse_m=0.5)))
    length, is_limit = reference_length(loose, content_of(loose))
    assert not is_limit
    assert length in {0.01, 0.02, 0.05, 0.1}


def test_the_exaggeration_is_said_in_words():
    assert [factor_text(value) for value in (1000.0, 1.0, 0.5)] == [
        "1000 times enlarged",
        "at their true size",
        "2 times reduced",
    ]


def test_the_page_says_figures_limits_frame_and_date():
    page = map_figure(make_assessment(8)).page
    words = " ".join(text.get_text() for text in page.sheet.texts)
    for part in ("Lindenkamp quarry", "EPSG:25832", "EPSG:7837", "2026-01-02", "limit 0.05 m", "grid north"):
        assert part in words
    assert "5 of 8 points used" in words
    assert "nan" not in words


def test_coordinates_are_in_the_unit_of_the_crs():
    frame = make_frame("EPSG:2263", LinearUnit.US_SURVEY_FOOT)
    drawn = map_figure(replace(make_assessment(8), frame=frame))
    labels = [text.get_text() for text in drawn.axes.get_xticklabels() if text.get_text()]
    places = [
        place
        for place, text in zip(drawn.axes.get_xticks(), drawn.axes.get_xticklabels(), strict=True)
        if text.get_text()
    ]
    # NIST SP 811, appendix B.6: one US survey foot is 1200/3937 m.
    assert_allclose([float(text) * 1200 / 3937 for text in labels], places, rtol=1e-9)
    words = [text.get_text() for text in drawn.page.sheet.texts]
    assert any(text.endswith("ftUS") for text in words)


# --- labels ----------------------------------------------------------------------------------------


def test_labels_cover_neither_each_other_nor_marks_nor_vectors():
    rng = np.random.default_rng(3)
    anchors = rng.uniform(20, 400, (40, 2))
    sizes = np.column_stack([rng.uniform(20, 45, 40), np.full(40, 7.0)])
    boxes = np.hstack([anchors - 4, anchors + 4])
    segments = np.hstack([anchors, anchors + rng.normal(0, 25, (40, 2))])
    nothing = np.zeros((0, 4))
    places = place_labels(
        anchors,
        sizes,
        clearance=4.5,
        frame=(0, 0, 420, 420),
        obstacles=Obstacles(boxes, segments, nothing),
    )
    assert sum(place is not None for place in places) >= 38
    drawn = [
        shapely.box(place.left, place.bottom, place.left + size[0], place.bottom + size[1])
        for place, size in zip(places, sizes, strict=True)
        if place is not None
    ]
    marks = [shapely.box(*box) for box in boxes]
    lines = [shapely.LineString(np.reshape(segment, (2, 2))) for segment in segments]
    for number, label in enumerate(drawn):
        assert shapely.box(0, 0, 420, 420).contains(label)
        assert not any(label.intersection(other).area > 1e-9 for other in drawn[:number])
        assert not any(label.intersection(item).area > 1e-9 for item in marks)
        assert not any(label.intersection(line).length > 1e-9 for line in lines)


def test_a_lone_label_stands_beside_its_point_without_a_line():
    nothing = np.zeros((0, 4))
    (place,) = place_labels(
        np.array([[100.0, 100.0]]),
        np.array([[30.0, 7.0]]),
        clearance=4.0,
        frame=(0, 0, 200, 200),
        obstacles=Obstacles(np.array([[96.0, 96.0, 104.0, 104.0]]), nothing, nothing),
    )
    assert place is not None
    assert place.leader is None
    assert 104.0 <= place.left <= 108.0
    assert place.bottom < 100.0 < place.bottom + 7.0


def test_a_label_without_room_is_left_out():
    nothing = np.zeros((0, 4))
    wall = np.array([[0.0, 0.0, 200.0, 200.0]])
    places = place_labels(
        np.array([[100.0, 100.0]]),
        np.array([[30.0, 7.0]]),
        clearance=4.0,
        frame=(0, 0, 200, 200),
        obstacles=Obstacles(wall, nothing, nothing),
    )
    assert places == (None,)


@pytest.mark.parametrize("text", ["$a_b$", "点号一", "CP\n1", "x" * 80, "%s", "\\frac"])
def test_any_id_and_title_can_be_drawn(text):
    assessment = make_assessment(2, title=text)
    residuals = replace(assessment.residuals, ids=(text, "LK02"))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        map_figure(replace(assessment, residuals=residuals)).page.canvas.draw()


# --- picture and files -----------------------------------------------------------------------------


def test_the_backdrop_is_pale_and_keeps_its_holes():
    grey = np.array([[0.0, 128.0], [255.0, NAN]])
    found = pale(grey)
    assert np.isnan(found[1, 1])
    assert np.nanmin(found) > 0.65
    assert found[0, 0] < found[0, 1] < found[1, 0] <= 1.0


def test_a_rotated_backdrop_lies_where_its_transform_says(tmp_path):
    # A white picture of five by five cells of 20 m with one dark cell, turned by 30 degrees.
    cos, sin = 20 * np.cos(np.pi / 6), 20 * np.sin(np.pi / 6)
    turned = Affine(cos, -sin, 512_100.0, sin, cos, 5_403_020.0)
    grey = np.full((5, 5), 255.0)
    grey[3, 1] = 0.0
    site = np.array([ORIGIN_M, np.add(ORIGIN_M, EXTENT_M)])
    write(replace(make_assessment(0), backdrop=Backdrop(grey, turned), mapped_area_m=site), tmp_path)
    with rasterio.open(tmp_path / "residual_map.png") as picture:
        tone, place = picture.read(1).astype(float), picture.transform
    # The dark cell is the largest dark thing in the frame: the crosses of the coordinates are fine.
    pieces, _ = ndimage.label(tone[150:1080, 120:1250] < 215)
    largest = 1 + int(np.argmax(np.bincount(pieces.ravel())[1:]))
    row, column = ndimage.center_of_mass(pieces == largest)
    found = on_ground(place, column + 120.5, row + 150.5)
    assert_allclose(found, on_ground(turned, 1.5, 3.5), rtol=0, atol=1.0)


@pytest.fixture
def red_point():
    """Return an assessment of one point far too high, its mark red."""
    made = make_assessment(1, pictures=False)
    residuals = make_residuals(delta_m=np.array([[0.0, 0.0, 0.5]]))
    return replace(made, residuals=residuals)


def on_ground(transform, column, row):
    """Return easting and northing of a place in a picture."""
    t = transform
    return np.array([t.a * column + t.b * row + t.c, t.d * column + t.e * row + t.f])


def centre_of_colour(path, colour):
    """Return column and row of the middle of the pixels of a colour."""
    wanted = np.array([int(colour[start : start + 2], 16) for start in (1, 3, 5)])
    picture = np.asarray(Image.open(path).convert("RGB")).astype(int)
    rows, cols = np.nonzero((np.abs(picture - wanted) <= 3).all(axis=2))
    on_map = cols < page_of.KEY_LEFT_IN * page_of.DPI - 30
    return cols[on_map].mean() + 0.5, rows[on_map].mean() + 0.5


@pytest.mark.parametrize(
    ("crs", "unit"), [("EPSG:25832", LinearUnit.METRE), ("EPSG:2263", LinearUnit.US_SURVEY_FOOT)]
)
def test_the_picture_opens_in_its_place(tmp_path, red_point, crs, unit):
    assessment = replace(red_point, frame=make_frame(crs, unit))
    write(assessment, tmp_path)
    column, row = centre_of_colour(tmp_path / "residual_map.png", RED)
    with rasterio.open(tmp_path / "residual_map.png") as picture:  # GDAL reads the .aux.xml
        assert pyproj.CRS.from_wkt(picture.crs.to_wkt()).equals(assessment.frame.crs, ignore_axis_order=True)
        found = on_ground(picture.transform, column, row)
        pixel = picture.transform.a
    expected = assessment.residuals.survey_m[0, :2] / unit.metres
    assert_allclose(found, expected, rtol=0, atol=1.5 * pixel)


def test_world_file_and_side_file_tell_the_same_place(tmp_path, red_point):
    # GDAL, "ESRI world file": its last two lines are the centre of the upper left pixel; a
    # GeoTransform is its corner.
    write(red_point, tmp_path)
    places = []
    for suffix in (".pgw", ".png.aux.xml"):
        alone = tmp_path / suffix
        alone.mkdir()
        for end in (".png", suffix):
            shutil.copy(tmp_path / f"residual_map{end}", alone / f"residual_map{end}")
        with rasterio.open(alone / "residual_map.png") as picture:
            places.append(picture.transform)
    assert_allclose(places[0], places[1], rtol=1e-12, atol=1e-6)


def test_a_local_grid_has_a_world_file_and_no_crs(tmp_path, red_point):
    local = (
        'ENGCRS["Lindenkamp quarry grid, invented",EDATUM["Lindenkamp"],CS[Cartesian,2],'
        'AXIS["easting",east],AXIS["northing",north],LENGTHUNIT["metre",1]]'
    )
    frame = replace(make_frame(), crs=pyproj.CRS.from_wkt(local))
    write(replace(red_point, frame=frame), tmp_path)
    assert "SRS" not in (tmp_path / "residual_map.png.aux.xml").read_text("utf-8")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(tmp_path / "residual_map.png") as picture:
            assert picture.crs is None
            assert picture.transform.a > 0


def test_equal_input_gives_equal_bytes(tmp_path):
    first, second = tmp_path / "a", tmp_path / "b"
    for folder in (first, second):
        folder.mkdir()
        written = write(make_assessment(8), folder)
    assert {path.name for path in written} == {
        "residual_map.png",
        "residual_map.pgw",
        "residual_map.png.aux.xml",
        "residual_map.pdf",
    }
    for path in written:
        assert (first / path).read_bytes() == (second / path).read_bytes()
    for name in ("residual_map.png", "residual_map.pdf"):
        content = (first / name).read_bytes()
        assert b"matplotlib" not in content.lower()
        assert b"CreationDate" not in content


def test_drawing_leaves_no_global_state():
    code = (
        "import sys, geoqa.writers.residual_map, geoqa.writers.chips, geoqa.writers.report\n"
        "print('matplotlib' in sys.modules, 'jinja2' in sys.modules, 'PIL' in sys.modules)\n"
        "from tests.builders import make_assessment\n"
        "from geoqa.writers._map_figure import map_figure\n"
        "map_figure(make_assessment(3))\n"
        "print('matplotlib.pyplot' in sys.modules)\n"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=root)
    assert done.stdout.split() == ["False", "False", "False", "False"], done.stderr


def test_the_writer_is_a_picture():
    assert WRITER.picture
    assert WRITER.media_type == "image/png"


def test_the_picture_looks_as_before(tmp_path):
    """A small grey copy is compared with one that a person looked at; letters may differ a little."""
    write(make_assessment(16), tmp_path)
    small = Image.open(tmp_path / "residual_map.png").convert("L").resize((439, 311), Image.Resampling.BOX)
    known = np.asarray(Image.open(BASELINE), dtype=float)
    difference = np.asarray(small, dtype=float) - known
    assert np.sqrt(np.mean(difference**2)) < 4.0
