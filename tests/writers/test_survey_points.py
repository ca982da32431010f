"""The layer of the USGS survey point delivery: its 13 fields, its points, the numbers of the file.

Source of fields and rules: U.S. Geological Survey, Survey Point Delivery (Lidar Base Specification 2022
rev. A).
"""

import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace

import numpy as np
import pyogrio
import pytest
from osgeo_utils.samples import validate_gpkg

from geoqa.records.points import Cover, Role
from geoqa.records.results import Use, UseReason
from geoqa.records.settings import Deliver
from geoqa.writers.geopackage import WRITER, to_geodataframe
from geoqa.writers.styles import write as write_styles
from tests.builders import make_assessment
from tests.site import FIXTURE, geoqa

FIELDS = [
    "unique_identifier",
    "point_type",
    "comment",
    "collection_date",
    "source_geoid",
    "source_horizontal_epsg",
    "source_horizontal_unit",
    "source_vertical_epsg",
    "source_vertical_unit",
    "source_easting",
    "source_northing",
    "source_elevation",
    "project_id",
]


def asking(assessment):
    settings = assessment.settings.model_copy(update={"deliver": Deliver(survey_points=True)})
    return replace(assessment, settings=settings)


def layers(path):
    return pyogrio.list_layers(path)[:, 0].tolist()


def test_layer_is_written_only_where_asked_for(tmp_path):
    WRITER.write(make_assessment(8, pictures=False), tmp_path)
    assert "survey_points" not in layers(tmp_path / "accuracy.gpkg")
    WRITER.write(asking(make_assessment(8, pictures=False)), tmp_path)
    assert "survey_points" in layers(tmp_path / "accuracy.gpkg")


@pytest.mark.parametrize("n", [0, 1, 40])
def test_geopackage_with_the_layer_is_valid_and_holds_the_fields_in_order(tmp_path, n):
    WRITER.write(asking(make_assessment(n, pictures=False)), tmp_path)
    path = str(tmp_path / "accuracy.gpkg")
    assert (
        validate_gpkg.check(path, abort_at_first_error=False, extra_checks=True, warning_as_error=True) == []
    )
    info = pyogrio.read_info(path, layer="survey_points")
    assert info["fields"].tolist() == FIELDS
    assert info["geometry_type"] == "Point Z"
    with closing(sqlite3.connect(path)) as database:
        told = database.execute(
            "SELECT count(*) FROM gpkg_data_columns WHERE table_name = 'survey_points' AND description != ''"
        ).fetchone()
        styles = database.execute("SELECT f_table_name FROM layer_styles").fetchall()
    assert told == (13,)
    assert ("survey_points",) in styles


def test_points_that_the_assessment_did_not_use_are_left_out():
    made = make_assessment(12, pictures=False)
    n = len(made.residuals)
    reasons = [None] * n
    reasons[1], reasons[2], reasons[3] = UseReason.VEGETATED, UseReason.SLOPE, UseReason.ROLE_CONTROL
    roles = [Role.CHECK] * n
    roles[3] = Role.CONTROL
    covers = [Cover.HARD] * n
    covers[1] = Cover.VEGETATED
    used = np.array([reason is None for reason in reasons])
    residuals = replace(made.residuals, vertical=Use(used, tuple(reasons)))
    checkpoints = replace(made.checkpoints, roles=tuple(roles), covers=tuple(covers))
    layer = to_geodataframe(
        asking(replace(made, residuals=residuals, checkpoints=checkpoints)), "survey_points"
    )
    kinds = dict(zip(layer["unique_identifier"], layer["point_type"], strict=True))
    ids = made.residuals.ids
    assert kinds[ids[0]] == "NVA"
    assert kinds[ids[1]] == "VVA"
    assert ids[2] not in kinds
    assert kinds[ids[3]] == "control"
    assert layer.geometry.has_z.all()


def test_numbers_and_codes_are_those_of_the_file(tmp_path):
    site = shutil.copytree(FIXTURE, tmp_path / "site")
    settings = (site / "check.toml").read_text(
        "utf-8"
    ) + "\n[deliver]\nsurvey_points = true\npictures = false\n"
    (site / "check.toml").write_text(settings, "utf-8")
    assert geoqa("check", str(site / "check.toml"), "--quiet").exit_code == 0
    layer = pyogrio.read_dataframe(site / "check-accuracy" / "accuracy.gpkg", layer="survey_points")
    row = layer.set_index("unique_identifier").loc["CP01"]
    # The first line of the file of points.
    assert (row.source_easting, row.source_northing, row.source_elevation) == (
        571305.137,
        5713158.442,
        267.482,
    )
    assert (row.source_horizontal_epsg, row.source_vertical_epsg) == ("25832", "7837")
    assert (row.source_horizontal_unit, row.source_vertical_unit) == ("metre", "metre")
    assert "CP05" not in set(layer["unique_identifier"])
    assert layer.crs.to_epsg() == 25832


def test_style_of_the_layer_lies_beside_the_others(tmp_path):
    paths = write_styles(asking(make_assessment(4, pictures=False)), tmp_path)
    assert "survey_points.sld" in {path.name for path in paths}
