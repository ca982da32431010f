"""Settings from a file and from words: what is accepted, and every mistake told at once by its line."""

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from geoqa.errors import SettingsError
from geoqa.readers.settings import (
    SCHEMA_FILE,
    read_settings,
    settings_from,
    settings_schema,
    write_settings_schema,
)
from geoqa.records.settings import POINT_COLUMNS, Settings
from geoqa.units import LinearUnit

# Every key that the reference of the settings file names; an invented job at Lake Ambra.
COMPLETE = """\
title = "Lake Ambra, dam crest (invented)"
[orthomosaic]
path = "ortho.tif"
crs = 25832
[elevation]
path = "surface.tif"
kind = "terrain"
height_system = "EPSG:5703"
unit = "us-survey-foot"
[points]
path = "points.csv"
crs = "EPSG:6339"
frame = "EPSG:6319"
via = "EPSG:7931"
epoch = 2026.45
height_system = "ellipsoidal"
unit = "foot"
height_unit = "metre"
known = false
[points.columns]
id = "Name"
[base]
assumed = { latitude = 47.5, longitude = -122, height = 12.5 }
precise = { x = 1.0, y = 2.0, z = 3.0, sigma_m = [0.008, 0.008, 0.02] }
crs = "EPSG:6319"
epoch = 2026.45
reference = "antenna reference point"
antenna_height_m = 1.8
points_use = "assumed"
products_use = "independent"
[geoid]
separation_m = -17.03
[site_grid]
scale = 1.0000438
origin_m = [100.0, 200.0]
offset_m = [1.0, 2.0]
applies_to = ["points", "products"]
[targets]
kind = "auto"
size_m = 0.6
search_radius_m = 0.5
marks = "marks.csv"
[survey]
gap_minutes = 45
floor_horizontal_m = 0
floor_vertical_m = 0.02
warn_horizontal_m = 0.02
warn_vertical_m = 0.04
reject_m = 0.08
optimistic_horizontal_m = 0.004
optimistic_vertical_m = 0.006
keep = ["CP7", "CP9"]
[requirement]
horizontal_rmse_m = 0.05
vertical_p95_m = 1
per_axis = true
standards = ["asprs-2023", { id = "nmas-1947", scale = 1200 }]
[deliver]
pictures = false
[limits]
max_operation_accuracy_m = 0.15
slope_percent = 10
relief_m = 0.30
use_float = true
allow_large_base_shift = true
network = true
"""
SHORT = '[elevation]\npath = "surface.tif"\n[points]\npath = "points.csv"\n'


@pytest.fixture
def job(tmp_path):
    """Return a function that writes a settings file beside the files it may name."""
    for name in ("ortho.tif", "surface.tif", "points.csv", "marks.csv"):
        (tmp_path / name).touch()

    def write(text):
        path = tmp_path / "job.toml"
        path.write_bytes(text.encode("utf-8"))
        return path

    return write


def message_of(path):
    with pytest.raises(SettingsError) as caught:
        read_settings(path)
    return str(caught.value)


def test_the_survey_is_trusted_as_common_practice_has_it(job):
    # Specification class of RTK receivers and two-occupation limits: common practice.
    survey = read_settings(job(SHORT)).survey
    assert survey.gap_minutes == 30
    assert (survey.floor_horizontal_m, survey.floor_vertical_m) == (0.010, 0.018)
    assert (survey.warn_horizontal_m, survey.warn_vertical_m, survey.reject_m) == (0.03, 0.05, 0.10)
    assert (survey.optimistic_horizontal_m, survey.optimistic_vertical_m) == (0.005, 0.008)


@pytest.mark.parametrize(
    "key", ["gap_minutes = 0", "floor_vertical_m = -0.01", "reject_m = 0", 'keep = [""]']
)
def test_limits_of_the_survey_are_lengths_and_names(job, key):
    assert "line 6" in message_of(job(f"{SHORT}[survey]\n{key}\n"))


def test_known_positions_need_measured_points_beside_them(job):
    known = SHORT.replace("[points]", "[[points]]") + "known = true\n"
    assert "every table of points is known" in message_of(job(known))
    both = read_settings(job(f'{known}[[points]]\npath = "points.csv"\n'))
    assert [table.known for table in both.points] == [True, False]


def test_every_key_arrives(job, tmp_path):
    settings = read_settings(job(COMPLETE))
    assert settings.title == "Lake Ambra, dam crest (invented)"
    assert settings.orthomosaic.crs == "EPSG:25832"
    assert settings.elevation.unit is LinearUnit.US_SURVEY_FOOT
    (points,) = settings.points
    assert (points.unit, points.height_unit) == (LinearUnit.FOOT, LinearUnit.METRE)
    assert points.columns == {"id": "Name"}
    (base,) = settings.base
    assert base.assumed.longitude == -122.0
    assert base.precise.sigma_m == (0.008, 0.008, 0.02)
    assert settings.requirement.vertical_p95_m == 1.0
    assert (settings.survey.gap_minutes, settings.survey.floor_horizontal_m) == (45.0, 0.0)
    assert settings.survey.keep == ("CP7", "CP9")
    assert [(choice.id, choice.options) for choice in settings.requirement.standards] == [
        ("asprs-2023", {}),
        ("nmas-1947", {"scale": 1200}),
    ]
    assert settings.file(points.path) == str(tmp_path / "points.csv")


def test_defaults_are_those_of_the_reference(job):
    settings = read_settings(job(SHORT))
    assert (settings.points[0].crs, settings.points[0].height_system) == ("same as products",) * 2
    limits = settings.limits
    assert (limits.max_operation_accuracy_m, limits.slope_percent, limits.relief_m) == (0.15, 10.0, 0.3)
    assert (limits.use_float, limits.allow_large_base_shift, limits.network) == (False, False, False)
    assert settings.deliver.pictures
    assert (settings.targets.kind, settings.targets.search_radius_m) == ("auto", 0.5)


def test_points_and_base_may_be_lists(job):
    base = '[[base]]\nsession = "{}"\npoints_use = "assumed"\nproducts_use = "assumed"\n'
    position = "{side} = {{ latitude = 1.0, longitude = 2.0, height = 3.0 }}\n"
    sides = position.format(side="assumed") + position.format(side="precise")
    lists = SHORT.replace("[points]", "[[points]]") + '[[points]]\npath = "marks.csv"\n'
    settings = read_settings(job(lists + base.format("A") + sides + base.format("B") + sides))
    assert [points.path for points in settings.points] == ["points.csv", "marks.csv"]
    assert [base.session for base in settings.base] == ["A", "B"]


def test_byte_order_mark_and_windows_line_ends_are_read(job):
    assert read_settings(job("\ufeff" + SHORT.replace("\n", "\r\n"))).points[0].path == "points.csv"


@pytest.mark.parametrize("path", ["https://example.org/ortho.tif", "s3://bucket/o.tif", "/vsicurl/o.tif"])
def test_remote_files_are_not_looked_for_on_this_disk(job, path):
    settings = read_settings(job(SHORT + f'[orthomosaic]\npath = "{path}"\n'))
    assert settings.file(settings.orthomosaic.path) == path


def test_words_need_no_file(tmp_path):
    (tmp_path / "p.csv").touch()
    settings = settings_from({"points": {"path": "p.csv"}, "targets": {"marks": "p.csv"}}, tmp_path, "words")
    assert settings.folder == tmp_path
    assert settings.targets.marks == "p.csv"


# What the user wrote → what the one sentence must hold.
MISTAKES = {
    "unknown key": ("[points]\nunitt = 'metre'", ["line 4, points.unitt", "did you mean “unit”?"]),
    "unknown key, nothing near": ("[deliver]\nfoo = 1", ["line 6, deliver.foo", "pictures"]),
    "unknown table": ("[ortomosaic]\npath = 'x'", ["line 5, ortomosaic", "did you mean “orthomosaic”?"]),
    "unknown column": ("[points]\ncolumns = { hight = 'Z' }", ["line 4, points.columns.hight", "“height”?"]),
    "folder is no key": ("folder = '/'", ["line 1, folder", "not a known key"]),
    "text for a number": ("[points]\nepoch = '2026.4'", ["line 4, points.epoch", "number, found “2026.4”"]),
    "date for a number": ("[points]\nepoch = 2026-05-01", ["points.epoch", "number, found 2026-05-01"]),
    "true for a number": ("[targets]\nsize_m = true", ["targets.size_m", "number, found true"]),
    "number for a flag": ("[limits]\nnetwork = 1", ["limits.network", "true or false, found 1"]),
    "number for text": ("title = 5", ["line 1, title", "text in quotes, found 5"]),
    "infinite number": ("[limits]\nrelief_m = inf", ["limits.relief_m", "finite number, found inf"]),
    "no number": ("[limits]\nslope_percent = nan", ["limits.slope_percent", "found nan"]),
    "not above zero": (
        "[requirement]\nvertical_rmse_m = 0",
        ["requirement.vertical_rmse_m", "greater than 0"],
    ),
    "epoch too early": ("[points]\nepoch = 26.4", ["points.epoch", "at least 1900, found 26.4"]),
    "unknown unit": (
        "[points]\nunit = 'feet'",
        ["points.unit", "“feet” is not one of metre, foot, us-survey-foot"],
    ),
    "unknown kind": ("[elevation]\nkind = 'dem'", ["elevation.kind", "“dem” is not one of surface, terrain"]),
    "text for a table": ("geoid = 'g.gtx'", ["line 1, geoid", "must be a table, found “g.gtx”"]),
    "empty path": ("[orthomosaic]\npath = ''", ["line 6, orthomosaic.path", "empty"]),
    "standard without id": (
        "[requirement]\nstandards = [{ scale = 1 }]",
        ["requirement.standards[0].id", "missing"],
    ),
    "number for a standard": ("[requirement]\nstandards = ['a', 5]", ["requirement.standards[1]", "found 5"]),
    "two limits": (
        "[requirement]\nvertical_rmse_m = 1\nvertical_max_m = 1",
        ["line 5, requirement", "vertical_rmse_m and vertical_max_m"],
    ),
    "two geoids": ("[geoid]\ngrid = 'points.csv'\nseparation_m = 1", ["line 5, geoid", "exactly one"]),
    "no geoid": ("[geoid]", ["line 5, geoid", "exactly one"]),
    "scale of a site grid": ("[site_grid]\nscale = 438", ["site_grid.scale", "less than 1.1"]),
    "two numbers wanted": ("[site_grid]\nscale = 1\norigin_m = [1, 2, 3]", ["site_grid.origin_m", "takes 2"]),
    "missing orthomosaic": ("[orthomosaic]\npath = 'none.tif'", ["line 6, orthomosaic.path", "none.tif"]),
    "missing marks": ("[targets]\nmarks = 'none.csv'", ["line 6, targets.marks", "none.csv"]),
    "missing grid": ("[geoid]\ngrid = 'none.gtx'", ["line 6, geoid.grid", "none.gtx"]),
    "name too long for a disk": (f"[geoid]\ngrid = '{'x' * 5000}'", ["geoid.grid", "there is no file"]),
}


def with_mistake(text):
    """Return valid settings with one mistake, in the table where it belongs."""
    first = text.splitlines()[0]
    if not first.startswith("["):
        return f"{text}\n{SHORT}"
    return SHORT.replace(first, text) if first in SHORT else f"{SHORT}{text}\n"


@pytest.mark.parametrize("name", MISTAKES)
def test_one_mistake_is_one_sentence_with_its_place(job, name):
    text, expected = MISTAKES[name]
    message = message_of(job(with_mistake(text)))
    assert message.startswith("job.toml, line ")
    assert "\n" not in message
    for part in expected:
        assert part in message


BASE = """\
[[base]]
session = "A"
assumed = { latitude = 1.0, longitude = 2.0, height = 3.0 }
precise = { latitude = 1.0, longitude = 2.0, height = 3.0 }
points_use = "assumed"
products_use = "assumed"
[[base]]
session = "B"
points_use = "assumed"
products_use = "assumed"
[base.assumed]
latitude = 1.0
longitude = 2.0
height = 3.0
[base.precise]
x = 1.0
y = 2.0
z = 3.0
"""
BASE_MISTAKES = {
    "missing SINEX": (
        "x = 1.0\ny = 2.0\nz = 3.0",
        'sinex = "b.snx"',
        ["line 20, base[1].precise.sinex", "b.snx"],
    ),
    "no height": (
        "longitude = 2.0\nheight",
        "longitude = 2.0\n#",
        ["line 15, base[1].assumed", "latitude, longitude"],
    ),
    "two ways": ("x = 1.0", "easting = 1.0", ["line 19, base[1].precise", "found easting, y, z"]),
    "no side": ('products_use = "assumed"\n[base', "[base", ["line 11, base[1].products_use", "missing"]),
    "latitude": (
        "latitude = 1.0\nlongitude",
        "latitude = 91\nlongitude",
        ["base[1].assumed.latitude", "at most 90"],
    ),
    "two sigmas": (
        "z = 3.0",
        "z = 3.0\nsigma_m = [1, 1, 1]\nsigma_95_m = [1, 1, 1]",
        ["base[1].precise", "not both"],
    ),
    "two numbers of three": ("z = 3.0", "z = 3.0\nsigma_m = [1, 1]", ["line 23, base[1].precise.sigma_m[2]"]),
    "same session": ('"B"', '"A"', ["told apart by their session"]),
    "antenna height": (
        'session = "B"',
        'session = "B"\nreference = "antenna reference point"',
        ["antenna_height_m"],
    ),
}


@pytest.mark.parametrize("name", BASE_MISTAKES)
def test_mistake_in_a_base_names_which_one(job, name):
    old, new, expected = BASE_MISTAKES[name]
    assert old in BASE
    message = message_of(job(SHORT + BASE.replace(old, new)))
    assert "\n" not in message
    for part in expected:
        assert part in message


def test_all_mistakes_are_told_at_once_in_the_order_of_lines(job):
    text = (
        '[orthomosaic]\npath = "nowhere.tif"\ncrs = true\n[points]\npath = "none.csv"\nunit = "feet"\n'
        "hight = 1\n[requirement]\nvertical_rmse_m = -1\nhorizontal_rmse_m = 1\nhorizontal_max_m = 1\n"
    )
    lines = message_of(job(text)).splitlines()
    assert lines[0] == "job.toml holds 7 mistakes:"
    assert [line.split(":")[0] for line in lines[1:]] == [
        "- line 2, orthomosaic.path",
        "- line 3, orthomosaic.crs",
        "- line 5, points.path",
        "- line 6, points.unit",
        "- line 7, points.hight",
        "- line 8, requirement",
        "- line 9, requirement.vertical_rmse_m",
    ]


def test_nothing_to_compare_with_is_told_beside_other_mistakes(job):
    message = message_of(job('[points]\npath = "points.csv"\nunit = "feet"\n'))
    assert "give [orthomosaic], [elevation] or targets.marks" in message
    assert "line 3, points.unit" in message


@pytest.mark.parametrize("points", ["", "points = []\n", 'points = "points.csv"\n'])
def test_points_are_required(job, points):
    assert "points" in message_of(job(points + '[elevation]\npath = "surface.tif"\n'))


def test_words_have_paths_without_lines(tmp_path):
    (tmp_path / "p.csv").touch()
    values = {"points": {"path": "p.csv", "unit": "yard"}, "elevation": {"path": "none.tif"}}
    with pytest.raises(SettingsError) as caught:
        settings_from(values, tmp_path, "command line")
    assert str(caught.value).startswith("command line holds 2 mistakes:\n- elevation.path: there is no file ")
    assert "- points.unit: “yard” is not one of" in str(caught.value)


def test_line_is_found_behind_values_of_several_lines(job):
    text = 'title = """\n[points]\nunit = 5\n"""\n[requirement]\nstandards = [\n  "a",\n  5,\n]\n' + SHORT
    assert message_of(job(text)).startswith("job.toml, line 6, requirement.standards[1]: ")


# TOML 1.0.0: basic strings hold escapes, a table is not defined twice, a value is needed.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("[points]\npath =\n", ["job.toml, line 2, column 7", "not TOML"]),
        ("[points]\n\n[points]\n", ["line 3"]),
        ('path = "a', ["at its end"]),
        ('path = "C:\\maps\\o.tif"', ["line 1", "In paths write /"]),
    ],
)
def test_syntax_error_names_its_line(job, text, expected):
    message = message_of(job(text))
    for part in expected:
        assert part in message


def test_settings_file_that_cannot_be_read_is_one_sentence(tmp_path, monkeypatch):
    latin = tmp_path / "latin.toml"
    latin.write_bytes('title = "Höhe"'.encode("latin-1"))
    for path, part in ((tmp_path / "no.toml", "no such"), (tmp_path, "a folder"), (latin, "not UTF-8")):
        assert part in message_of(path)

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_text", refuse)
    assert "Permission denied" in message_of(latin)


def test_shipped_schema_is_that_of_the_model(tmp_path):
    write_settings_schema(tmp_path / "fresh.json")
    assert (tmp_path / "fresh.json").read_text(encoding="utf-8") == SCHEMA_FILE.read_text(encoding="utf-8"), (
        "Call geoqa.readers.settings.write_settings_schema() to bring the shipped schema up to date."
    )


def test_schema_is_valid_and_agrees_with_the_model():
    # JSON Schema, draft 2020-12, as the library jsonschema knows it.
    schema = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    check = jsonschema.Draft202012Validator(schema).is_valid
    for text in (COMPLETE, SHORT, SHORT + BASE):
        assert check(tomllib.loads(text))
    for wrong in (
        "[points]\nunitt = 'm'",
        "[points]\nunit = 'feet'",
        "title = 5",
        "[points]\ncolumns = {a='b'}",
    ):
        assert not check(tomllib.loads(with_mistake(wrong)))
    assert not check({"points": [], "elevation": {"path": "a.tif"}})
    assert "folder" not in schema["properties"]


def test_schema_gives_every_length_its_unit():
    def lengths(node, name=""):
        if isinstance(node, dict):
            if node.get("type") == "number" and name.endswith("_m"):
                yield name, node.get("x-ogc-unit")
            for key, value in node.items():
                yield from lengths(value, key if key.endswith("_m") else name)
        elif isinstance(node, list):
            for value in node:
                yield from lengths(value, name)

    found = dict(lengths(settings_schema()))
    assert len(found) > 10
    assert set(found.values()) == {"m"}


def test_columns_of_points_are_those_of_the_reference():
    reference = (
        "id, easting, northing, height, latitude, longitude, sd_east, sd_north, sd_up, role, fix, time, "
        "occupation, session, cover, target, target_height, antenna_height, separation, description"
    )
    assert set(POINT_COLUMNS) == set(reference.split(", "))


def test_settings_made_in_python_follow_the_same_rules():
    with pytest.raises(ValueError, match="nothing to compare"):
        Settings(points=[{"path": "p.csv"}])
    with pytest.raises(ValueError, match="horizontal_rmse_m and horizontal_p95_m"):
        Settings.model_validate(
            {
                "points": {"path": "p.csv"},
                "elevation": {"path": "e.tif"},
                "requirement": {"horizontal_rmse_m": 1.0, "horizontal_p95_m": 1.0},
            }
        )
