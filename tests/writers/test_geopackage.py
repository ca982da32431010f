"""The GeoPackage: valid, complete, the same bytes for the same input."""

import shutil
import sqlite3
import time
import warnings
from contextlib import closing
from dataclasses import replace

import numpy as np
import pyogrio
import pyproj
import pytest
from lxml import etree
from osgeo_utils.samples import validate_gpkg

from geoqa.records.tables import LAYERS, TABLES
from geoqa.units import LinearUnit
from geoqa.writers._symbols import height_class_of, height_classes
from geoqa.writers.geopackage import WRITER, gdal_time, to_geodataframe
from tests.builders import CREATED, SITE_GRID, make_assessment, make_frame, make_positions


def written(assessment, folder):
    (path,) = WRITER.write(assessment, folder)
    return folder / path


def asked(path, question, *values):
    with closing(sqlite3.connect(path)) as database:
        return database.execute(question, values).fetchall()


def mistakes(path):
    """Return what GDAL's validator of OGC 12-128 finds, warnings included."""
    return validate_gpkg.check(
        str(path), abort_at_first_error=False, extra_checks=True, warning_as_error=True, myprint=print
    )


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    assessment = make_assessment(40, pictures=False)
    return assessment, written(assessment, tmp_path_factory.mktemp("package"))


@pytest.mark.parametrize("n", [0, 1, 2, 3, 8, 200])
def test_any_number_of_points_gives_a_valid_geopackage(n, tmp_path):
    assert mistakes(written(make_assessment(n, pictures=False), tmp_path)) == []


@pytest.mark.parametrize(
    ("crs", "unit"),
    [
        (SITE_GRID, LinearUnit.METRE),
        ("EPSG:2263", LinearUnit.US_SURVEY_FOOT),
        ("+proj=tmerc +lat_0=48 +lon_0=9 +x_0=500000 +ellps=GRS80 +units=ft", LinearUnit.FOOT),
    ],
    ids=["site grid", "US survey foot", "no code"],
)
def test_any_horizontal_system_is_written_and_comes_back(crs, unit, tmp_path):
    assessment = make_assessment(8, pictures=False, frame=make_frame(crs, unit))
    path = written(assessment, tmp_path)
    assert mistakes(path) == []
    back = pyogrio.read_dataframe(path, layer="checkpoints")
    assert back.crs == pyproj.CRS(crs)
    metres = np.array([point.coords[0] for point in back.geometry]) * unit.metres
    np.testing.assert_allclose(metres, assessment.residuals.survey_m, rtol=1e-12)


def test_a_spoiled_geopackage_does_not_pass_the_validator(package, tmp_path):
    spoiled = shutil.copy(package[1], tmp_path)
    with closing(sqlite3.connect(spoiled)) as database:
        database.execute("DELETE FROM gpkg_extensions WHERE table_name = 'gpkg_data_columns'")
        database.execute("UPDATE gpkg_contents SET last_change = 'yesterday'")
        database.commit()
    assert mistakes(spoiled)


def test_file_header_is_that_of_a_geopackage_without_write_ahead_log(package):
    header = package[1].read_bytes()[:100]
    # OGC 12-128, requirement 2: application id "GPKG"; SQLite file format, bytes 18 and 19: 1 is rollback.
    assert header[68:72] == b"GPKG"
    assert header[18:20] == b"\x01\x01"
    # Requirement 2 as well: bytes 60 to 63 hold the version, 10200 for 1.2, which older readers know.
    assert int.from_bytes(header[60:64], "big") == 10200
    assert [file.name for file in package[1].parent.iterdir()] == ["accuracy.gpkg"]


def test_layers_and_tables_are_those_of_the_list(package):
    found = {name: kind for name, kind in pyogrio.list_layers(package[1]) if name != "layer_styles"}
    assert found == {table.name: table.geometry for table in TABLES}


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_columns_have_names_headings_and_meanings(package, table):
    names = [row[1] for row in asked(package[1], f"PRAGMA table_info({table.name})")]
    own = [name for name in names if name not in ("fid", "geom")]
    assert own == [column.name for column in table.columns]
    told = asked(
        package[1],
        "SELECT column_name, title, description FROM gpkg_data_columns WHERE table_name = ? ORDER BY rowid",
        table.name,
    )
    assert told == [(column.name, column.title, column.meaning) for column in table.columns]
    title = asked(
        package[1], "SELECT identifier, description FROM gpkg_contents WHERE table_name = ?", table.name
    )
    assert title == [(table.title, table.meaning)]


def test_checkpoints_come_back_unrounded(package):
    assessment, path = package
    back = pyogrio.read_dataframe(path, layer="checkpoints")
    residuals = assessment.residuals
    for column, axis in enumerate(("east", "north", "up")):
        np.testing.assert_array_equal(back[f"residual_{axis}_m"], residuals.delta_m[:, column])
    assert back["id"].tolist() == list(residuals.ids)
    assert back["horizontal_used"].tolist() == residuals.horizontal.used.tolist()
    assert back["source_line"].dtype.kind == "i"


def test_missing_numbers_are_null(package):
    assessment, path = package
    missing = int(np.isnan(assessment.residuals.delta_m[:, 2]).sum())
    assert missing > 0
    assert asked(path, "SELECT count(*) FROM checkpoints WHERE residual_up_m IS NULL") == [(missing,)]
    assert asked(path, "SELECT count(*) FROM checkpoints WHERE residual_up_m = 0") == [(0,)]
    unreasoned = asked(path, "SELECT count(*) FROM checkpoints WHERE vertical_used AND vertical_reason != ''")
    assert unreasoned == [(0,)]


def test_a_plan_only_point_has_no_height(tmp_path):
    position = make_positions(3)
    position[1, 2] = np.nan
    assessment = make_assessment(3, pictures=False)
    residuals = replace(
        assessment.residuals, survey_m=position, delta_m=assessment.residuals.product_m - position
    )
    path = written(replace(assessment, residuals=residuals), tmp_path)
    assert mistakes(path) == []
    assert asked(path, "SELECT id FROM checkpoints WHERE survey_height_m IS NULL") == [("LK02",)]
    assert np.isnan(pyogrio.read_dataframe(path, layer="checkpoints").geometry[1].z)


def test_same_input_gives_the_same_bytes_at_any_time(tmp_path):
    paths = []
    for name in ("first", "second"):
        (tmp_path / name).mkdir()
        paths.append(written(make_assessment(8, pictures=False), tmp_path / name))
        time.sleep(0.01)
    assert paths[0].read_bytes() == paths[1].read_bytes()


def test_a_former_file_is_replaced(tmp_path):
    written(make_assessment(40, pictures=False), tmp_path)
    again = written(make_assessment(8, pictures=False), tmp_path).read_bytes()
    (tmp_path / "fresh").mkdir()
    assert again == written(make_assessment(8, pictures=False), tmp_path / "fresh").read_bytes()


def test_every_time_in_it_is_that_of_the_result(package):
    stamps = {
        *asked(package[1], "SELECT last_change FROM gpkg_contents"),
        *asked(package[1], "SELECT timestamp FROM gpkg_metadata_reference"),
        *asked(package[1], "SELECT update_time FROM layer_styles"),
    }
    assert stamps == {("2026-01-02T03:04:05.000Z",)}


@pytest.mark.parametrize(
    ("created", "expected"),
    [
        (CREATED, "2026-01-02T03:04:05.000Z"),
        ("2026-01-02T03:04:05.678900+00:00", "2026-01-02T03:04:05.678Z"),
        ("2026-01-02T05:04:05+02:00", "2026-01-02T03:04:05.000Z"),
        ("2026-01-02T03:04:05", "2026-01-02T03:04:05.000Z"),
    ],
)
def test_times_are_utc_with_milliseconds(created, expected):
    assert gdal_time(created) == expected


@pytest.mark.parametrize(
    ("name", "value"),
    [("OGR_CURRENT_DATE", "2001-01-01T00:00:00.000Z"), ("OGR_SQLITE_SYNCHRONOUS", None)],
)
def test_settings_of_the_host_are_left_as_they_were(name, value, tmp_path):
    pyogrio.set_gdal_config_options({name: value})
    try:
        written(make_assessment(1, pictures=False), tmp_path)
        assert pyogrio.get_gdal_config_option(name) == value
    finally:
        pyogrio.set_gdal_config_options({name: None})


def test_extensions_are_registered_for_their_tables(package):
    rows = asked(package[1], "SELECT extension_name, table_name FROM gpkg_extensions ORDER BY rowid")
    # OGC 12-128, annexes F.8 and F.9: one row for either table of the extension.
    assert [table for name, table in rows if name == "gpkg_schema"] == [
        "gpkg_data_columns",
        "gpkg_data_column_constraints",
    ]
    assert [table for name, table in rows if name == "gpkg_metadata"] == [
        "gpkg_metadata",
        "gpkg_metadata_reference",
    ]


def test_each_layer_has_a_style_that_loads_by_itself(package):
    rows = asked(
        package[1],
        "SELECT f_table_name, f_geometry_column, useAsDefault, styleQML, styleSLD FROM layer_styles",
    )
    assert [row[0] for row in rows] == [table.name for table in LAYERS]
    for _, geometry, default, qml, sld in rows:
        assert geometry == "geom"
        assert default == 1
        assert etree.fromstring(qml).tag == "qgis"
        assert etree.fromstring(sld.encode()).get("version") == "1.1.0"
    listed = asked(package[1], "SELECT data_type FROM gpkg_contents WHERE table_name = 'layer_styles'")
    assert listed == [("attributes",)]


def test_filters_of_the_styles_draw_every_feature_once_and_in_its_class(package):
    """The filters are SQL enough for SQLite to judge them."""
    assessment, path = package
    classes = height_classes(assessment)
    place = height_class_of(assessment.residuals.delta_m[:, 2], classes)
    used = assessment.residuals.vertical.used
    for name, qml in asked(path, "SELECT f_table_name, styleQML FROM layer_styles"):
        matched: list[int] = []
        for rule in etree.fromstring(qml).iter("rule"):
            found = [row[0] for row in asked(path, f"SELECT fid FROM {name} WHERE {rule.get('filter')}")]
            if name == "checkpoints" and rule.get("label") in [item.label for item in classes]:
                index = [item.label for item in classes].index(rule.get("label"))
                assert found == (np.flatnonzero((place == index) & used) + 1).tolist()
            matched += found
        everything = [row[0] for row in asked(path, f"SELECT fid FROM {name} ORDER BY fid")]
        assert sorted(matched) == everything, name


def test_columns_of_states_name_their_words_and_hold_no_others(package):
    named = asked(
        package[1],
        "SELECT table_name, column_name, constraint_name FROM gpkg_data_columns "
        "WHERE constraint_name NOTNULL",
    )
    assert {("checkpoints", "role"), ("found_targets", "target_status")} <= {pair[:2] for pair in named}
    for table, column, name in named:
        words = asked(
            package[1],
            "SELECT value FROM gpkg_data_column_constraints WHERE constraint_type = 'enum' "
            "AND constraint_name = ?",
            name,
        )
        held = asked(package[1], f"SELECT DISTINCT {column} FROM {table} WHERE {column} NOTNULL")
        assert held
        assert set(held) <= set(words), column


def test_quality_metadata_is_stored_for_the_whole_file(package):
    ((scope, standard, kind, document),) = asked(
        package[1], "SELECT md_scope, md_standard_uri, mime_type, metadata FROM gpkg_metadata WHERE id = 1"
    )
    assert (scope, kind) == ("dataset", "text/xml")
    assert etree.fromstring(document).nsmap["mdq"] == standard
    assert asked(package[1], "SELECT reference_scope, md_file_id FROM gpkg_metadata_reference") == [
        ("geopackage", 1),
        ("geopackage", 2),
    ]


def test_statistics_table_holds_the_figures(package):
    assessment, path = package
    rows = asked(path, "SELECT component, point_count, rmse_m FROM statistics WHERE grouping = 'used points'")
    expected = [(part.component, part.count, part.rmse_m) for part in assessment.statistics.components]
    assert rows == expected
    accuracy = asked(path, "SELECT group_name, component, rmse_m FROM statistics WHERE grouping = 'accuracy'")
    assert len(accuracy) == 6
    assert accuracy[0] == ("fit", "horizontal", assessment.accuracy.fit[0].rmse_m)
    groups = asked(path, "SELECT DISTINCT grouping FROM statistics")
    assert {name for (name,) in groups} == {"used points", "accuracy", "cover", "session", "role"}


def test_judgements_table_holds_the_requirement_and_the_standards(package):
    rows = asked(package[1], "SELECT standard, quantity, verdict, limit_value FROM judgements")
    assert rows[:2] == [
        ("requirement", "horizontal RMSE", "proved", 0.05),
        ("requirement", "vertical RMSE", "proved", 0.05),
    ]
    assert ("asprs-2023", "vegetated vertical accuracy", "not assessed", None) in rows


def test_findings_table_tells_quantities_with_their_spread(package):
    ((quantities, points, rank),) = asked(package[1], "SELECT quantities, point_ids, rank FROM findings")
    assert quantities == "height offset 0.018 ± 0.006 m; share explained 0.4"
    assert points == "LK01; LK02"
    assert rank == 1


def test_provenance_table_names_inputs_by_their_hash(package):
    inputs = asked(package[1], "SELECT value, sha256 FROM provenance WHERE topic = 'input'")
    assert inputs[0] == ("lindenkamp_ortho.tif", "1f" * 32)
    assert inputs[-1] == ("lindenkamp_levels.csv", None)
    topics = asked(package[1], "SELECT DISTINCT topic FROM provenance")
    assert {topic for (topic,) in topics} == {
        *("created", "frame", "input", "grid", "version", "setting", "assumption", "message", "caution")
    }


@pytest.mark.parametrize("name", [table.name for table in TABLES])
def test_data_frame_is_what_the_file_holds(package, name):
    assessment, path = package
    frame = to_geodataframe(assessment, name)
    back = pyogrio.read_dataframe(path, layer=name)
    assert list(frame.columns) == list(back.columns)
    assert len(frame) == len(back)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert getattr(frame, "crs", None) == getattr(back, "crs", None)


def test_unknown_layer_has_no_data_frame():
    with pytest.raises(KeyError):
        to_geodataframe(make_assessment(1, pictures=False), "points")
