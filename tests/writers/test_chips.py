"""Pictures of the targets: what lies where in them, and their names."""

import re
from dataclasses import replace

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from PIL import Image, ImageChops

from geoqa.records.measurements import RasterPatch, TargetStatus
from geoqa.writers import _chip_names
from geoqa.writers._chip_drawing import CAPTION_PX, caption, chip, ellipse_axes_px, north_in_picture
from geoqa.writers._chip_names import chip_names, chip_paths, chip_rows
from geoqa.writers._chip_view import SIDE_PX, View, picture, view
from geoqa.writers.chips import WRITER, ground_of_pixels, write
from tests.builders import ORTHO_CELL_M, make_assessment, pixel_of

NAN = float("nan")


# --- names -----------------------------------------------------------------------------------------


@given(st.lists(st.text(max_size=60), max_size=30))
def test_names_are_portable_and_differ_on_any_file_system(ids):
    names = chip_names(ids)
    assert len({name.lower() for name in names}) == len(ids)
    for name in names:
        # POSIX.1-2017, 3.282: the portable filename character set; a hyphen shall not come first.
        assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]*", name)
        assert len(name) <= 60


def test_names_stay_readable():
    assert chip_names(["CP01", "CP/1 ä", "../etc/passwd", "a.b", ""]) == (
        "CP01",
        "CP_1_a",
        "etc_passwd",
        "a_b",
        "point",
    )


def test_a_name_that_windows_keeps_for_a_device_is_avoided():
    # Microsoft, "Naming Files, Paths, and Namespaces": CON, PRN, AUX, NUL, COM1, LPT1, also with a suffix.
    for device in ("CON", "prn", "Aux", "NUL", "COM1", "LPT9", "nul.txt"):
        (name,) = chip_names([device])
        assert name.split(".")[0].upper() not in {"CON", "PRN", "AUX", "NUL", "COM1", "LPT9"}


def test_equal_names_are_numbered_without_meeting_a_third():
    assert chip_names(["cp", "CP", "cp-2", "c/p", "c_p"]) == ("cp", "CP-2", "cp-2-2", "c_p", "c_p-2")


def test_a_target_without_a_window_has_no_picture():
    assessment = make_assessment(16)
    sought = [row for row, patch in enumerate(assessment.patches) if patch is not None]
    assert chip_rows(assessment) == tuple(sought)
    assert chip_rows(make_assessment(16, pictures=False)) == ()


def test_too_many_targets_leave_those_not_measured_and_the_largest_residuals(monkeypatch):
    monkeypatch.setattr(_chip_names, "MOST_CHIPS", 5)
    assessment = make_assessment(16)
    rows = chip_rows(assessment)
    statuses = [assessment.fixes.fixes[row].status for row in rows]
    assert len(rows) == 5
    for status in (TargetStatus.SUSPECT, TargetStatus.NOT_FOUND, TargetStatus.AMBIGUOUS):
        assert status in statuses
    delta = assessment.residuals.delta_m
    length = np.hypot(delta[:, 0], delta[:, 1])
    found = [row for row, fix in enumerate(assessment.fixes.fixes) if fix.status in ("found", "marked")]
    assert max(found, key=lambda row: length[row]) in rows


# --- view ------------------------------------------------------------------------------------------


def make_window(side=96, seed=4):
    values = np.random.default_rng(seed).integers(0, 256, (3, side, side)).astype(float)
    return RasterPatch(values, np.ones((side, side), dtype=bool), row0=1000, col0=2000)


def test_the_picture_is_the_window_in_whole_squares():
    patch = make_window(90)
    shown = view(patch, np.array([[1045.0, 2045.0]]))
    assert (shown.row0, shown.col0, shown.side) == (1000, 2000, 90)
    found = np.asarray(picture(patch, shown, make_assessment(0).orthomosaic))
    expected = np.kron(patch.values.transpose(1, 2, 0), np.ones((4, 4, 1)))
    assert_allclose(found, expected)


def test_pixel_centres_lie_at_a_half():
    shown = View(row0=1000, col0=2000, side=90)
    assert shown.place(1000.0, 2000.0) == (0.0, 0.0)
    assert shown.place(1000.5, 2002.5) == (10.0, 2.0)


def test_a_small_target_is_shown_larger():
    patch = make_window(96)
    wide = view(patch, np.array([[1048.0, 2048.0]]))
    close = view(patch, np.array([[1048.0, 2048.0]]), size_px=15.0)
    assert 2.4 * 15 <= close.side < wide.side


@given(
    st.tuples(st.floats(1000, 1096), st.floats(2000, 2096)),
    st.tuples(st.floats(1000, 1096), st.floats(2000, 2096)),
    st.floats(5, 60),
)
def test_survey_and_centre_both_lie_in_the_picture(surveyed, centre, size_px):
    shown = view(make_window(96), np.array([surveyed, centre]), size_px)
    for row, col in (surveyed, centre):
        x, y = shown.place(row, col)
        assert 0 < x < SIDE_PX
        assert 0 < y < SIDE_PX


def test_a_centre_kilometres_off_does_not_shrink_the_picture():
    shown = view(make_window(96), np.array([[1048.0, 2048.0], [9e6, 9e6]]))
    assert shown.side <= 96


def test_what_is_not_known_is_striped_not_black():
    patch = make_window(90)
    valid = np.ones((90, 90), dtype=bool)
    valid[:, :45] = False
    hidden = RasterPatch(patch.values * 0, valid, 1000, 2000)
    found = np.asarray(picture(hidden, View(1000, 2000, 90), make_assessment(0).orthomosaic))
    assert (found[:, :180] > 150).all()
    assert len(np.unique(found[:, :180])) == 2
    assert (found[:, 180:] == 0).all()


def test_sixteen_bit_values_are_stretched():
    patch = make_window(90)
    info = replace(make_assessment(0).orthomosaic, dtype="uint16")
    deep = RasterPatch(patch.values * 200 + 3000, patch.valid, 1000, 2000)
    found = np.asarray(picture(deep, View(1000, 2000, 90), info))
    assert found.min() == 0
    assert found.max() == 255


# --- marks -----------------------------------------------------------------------------------------


def middle_of(difference):
    rows, cols = np.nonzero(np.asarray(difference.convert("L")))
    return (cols.min() + cols.max() + 1) / 2, (rows.min() + rows.max() + 1) / 2


def test_ring_and_cross_lie_at_survey_and_centre():
    assessment = make_assessment(1)
    fix, patch = assessment.fixes.fixes[0], assessment.patches[0]
    surveyed = np.array([fix.row + 9.0, fix.col - 12.0])
    axes = np.full((2, 2), NAN)
    shown = view(patch, np.array([surveyed, (fix.row, fix.col)]), fix.size_px)
    ground = picture(patch, shown, assessment.orthomosaic)
    box = (0, 0, SIDE_PX, SIDE_PX)
    both = chip(assessment, 0, surveyed, axes).crop(box)
    cross = chip(assessment, 0, np.full(2, NAN), axes).crop(box)
    plain = view(patch, np.array([(fix.row, fix.col)]), fix.size_px)
    centred = ImageChops.difference(cross, picture(patch, plain, assessment.orthomosaic))
    assert_allclose(middle_of(centred), plain.place(fix.row, fix.col), rtol=0, atol=1.0)
    marks = np.asarray(ImageChops.difference(both, ground).convert("L")) > 0
    x, y = shown.place(*surveyed)
    # The ring leaves the surveyed place itself free, and so does the cross the centre found.
    assert not marks[int(y), int(x)]
    angle = np.linspace(0, 2 * np.pi, 60)
    assert marks[
        np.round(y + 16 * np.sin(angle)).astype(int), np.round(x + 16 * np.cos(angle)).astype(int)
    ].all()


def test_the_surveyed_place_comes_from_the_survey_alone():
    assessment = make_assessment(4)
    places, axes = ground_of_pixels(assessment)
    expected = [pixel_of(position) for position in assessment.residuals.survey_m]
    assert_allclose(places, expected, rtol=0, atol=1e-5)
    assert_allclose(axes[0], [[0.0, ORTHO_CELL_M], [-ORTHO_CELL_M, 0.0]], rtol=0, atol=1e-8)


def test_the_ellipse_has_95_per_cent_and_lies_along_the_rows_where_they_are_less_certain():
    fix = replace(make_assessment(1).fixes.fixes[0], covariance_px2=np.diag([0.25, 0.04]))
    axes = ellipse_axes_px(fix, View(0, 0, 90))
    lengths = np.hypot(*axes)
    # Chi-square, 2 degrees of freedom, 0.95: 5.991 (NIST/SEMATECH e-Handbook, 1.3.6.7.4).
    assert_allclose(np.sort(lengths), 4 * np.sqrt(5.991) * np.array([0.2, 0.5]), rtol=1e-4)
    longest = axes[:, np.argmax(lengths)]
    assert abs(longest[1]) > 10 * abs(longest[0])


def test_north_turns_with_the_orthomosaic():
    cell = 0.02
    assert_allclose(north_in_picture(np.array([[0.0, cell], [-cell, 0.0]])), [0, -1], atol=1e-12)
    # Rows run east and columns north: north is to the right.
    assert_allclose(north_in_picture(np.array([[cell, 0.0], [0.0, cell]])), [1, 0], atol=1e-12)


def test_a_turned_orthomosaic_is_handled_to_the_pixel():
    assessment = make_assessment(3)
    cos, sin = 0.02 * np.cos(0.5), 0.02 * np.sin(0.5)
    turned = Affine(cos, sin, 512_000.0, sin, -cos, 5_403_180.0)
    info = replace(assessment.orthomosaic, transform=turned)
    places, axes = ground_of_pixels(replace(assessment, orthomosaic=info))
    row, col = places[1]
    east, north = turned.a * col + turned.b * row + turned.c, turned.d * col + turned.e * row + turned.f
    assert_allclose([east, north], assessment.residuals.survey_m[1, :2], rtol=0, atol=1e-6)
    assert_allclose(axes[1], [[turned.b, turned.a], [turned.e, turned.d]], rtol=0, atol=1e-8)


# --- words and files -------------------------------------------------------------------------------


def test_the_caption_says_everything_in_words():
    assessment = make_assessment(16)
    delta = assessment.residuals.delta_m[0]
    name, status, offset, measured, said, _ = caption(assessment, 0)
    assert (name, status) == ("LK01", "✓ found")
    assert offset.startswith(f"{100 * np.hypot(delta[0], delta[1]):.1f} cm off")
    assert "−" in offset
    assert measured.startswith("score 0.93, quadrant panel, sigma ")
    assert said == ""
    row = [fix.status for fix in assessment.fixes.fixes].index(TargetStatus.SUSPECT)
    assert caption(assessment, row)[1] == "? suspect"
    assert caption(assessment, row)[4].startswith("shadow; near the edge; a second place")


def test_a_target_not_found_has_no_offset():
    assessment = make_assessment(8)
    row = [fix.status for fix in assessment.fixes.fixes].index(TargetStatus.NOT_FOUND)
    words = caption(assessment, row)
    assert words[1] == "✗ not found"
    assert words[2] == "no offset: the centre is not known"
    assert "nan" not in " ".join(words)


def test_files_are_written_under_their_names_and_are_equal_each_time(tmp_path):
    assessment = make_assessment(8)
    paths = write(assessment, tmp_path)
    assert set(paths) == set(chip_paths(assessment).values())
    before = [(tmp_path / path).read_bytes() for path in paths]
    write(assessment, tmp_path)
    assert [(tmp_path / path).read_bytes() for path in paths] == before
    with Image.open(tmp_path / paths[0]) as written:
        assert written.size == (SIDE_PX, SIDE_PX + CAPTION_PX)


def test_without_an_orthomosaic_there_is_no_folder(tmp_path):
    assert write(make_assessment(4, pictures=False, orthomosaic=None), tmp_path) == ()
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("text", ["点号一", "x" * 200, "$x$", "a\nb"])
def test_any_id_can_be_drawn(tmp_path, text):
    assessment = make_assessment(1)
    assessment = replace(assessment, residuals=replace(assessment.residuals, ids=(text,)))
    assert len(write(assessment, tmp_path)) == 1


def test_the_writer_is_a_picture():
    assert WRITER.picture
    assert WRITER.media_type == "image/png"
