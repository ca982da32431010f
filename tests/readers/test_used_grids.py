"""Grids that were read stand in the provenance, by path, size and SHA-256, and are looked at for holes."""

import hashlib

import numpy as np
import pytest

from geoqa.errors import FrameError
from geoqa.readers.provenance import found_by_proj, provenance
from geoqa.readers.used_grids import refuse_holes
from geoqa.records.points import CoordinateStep
from tests.frame.scenes import survey_of
from tests.geoid_files import grids_in, plane, write_official

FIRST, STEP, SHAPE = (-115.0, 52.0), 0.05, (40, 50)
NAME = "ca_nrc_CGG2013an83.tif"
CREATED = "2026-05-01T10:00:00Z"


def step(grid: str) -> CoordinateStep:
    return CoordinateStep("datum and height system", "invented", 0.03, np.zeros((2, 3)), (grid,))


def with_hole(folder):
    nodes = plane(FIRST, STEP, SHAPE)
    nodes[19, 19] = np.nan
    return write_official(folder / NAME, FIRST, STEP, nodes, nodata=-88.8888)


def test_a_grid_is_named_with_path_size_and_hash(tmp_path):
    path = write_official(tmp_path / NAME, FIRST, STEP, plane(FIRST, STEP, SHAPE))
    with grids_in(tmp_path):
        for name in (NAME, str(path)):
            (grid,) = provenance([], created=CREATED, grids=[name]).grids
            assert grid.path == str(path)
            assert grid.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
            assert grid.size_bytes == path.stat().st_size
            assert grid.use == "grid"


def test_a_grid_that_is_on_no_disk_keeps_its_name(tmp_path):
    assert found_by_proj("nowhere.tif") == "nowhere.tif"
    (grid,) = provenance([], created=CREATED, grids=["nowhere.tif"]).grids
    assert (grid.path, grid.sha256, grid.size_bytes) == ("nowhere.tif", None, None)


def test_a_point_beside_a_node_without_a_value_is_refused(tmp_path):
    path = with_hole(tmp_path)
    beside = np.array([[-112.9, 50.5], [FIRST[0] + 19.4 * STEP, FIRST[1] - 18.7 * STEP]])
    survey = survey_of(np.column_stack([beside, [10.0, 10.0]]), geographic=True)
    with pytest.raises(FrameError, match="point “P02” lies beside a node without a value"):
        refuse_holes(survey, [step(str(path))], beside)
    plan_only = survey_of(np.column_stack([beside, [10.0, np.nan]]), geographic=True)
    refuse_holes(plan_only, [step(str(path))], beside)


def test_steps_without_a_geoid_are_not_looked_at(tmp_path):
    path = with_hole(tmp_path)
    beside = np.array([[FIRST[0] + 19.4 * STEP, FIRST[1] - 18.7 * STEP]])
    survey = survey_of(np.column_stack([beside, [10.0]]), geographic=True)
    datum = CoordinateStep("datum", "invented", 0.03, np.zeros((1, 3)), (str(path),))
    refuse_holes(survey, [datum], beside)
    refuse_holes(survey, [step("on_a_server.tif")], beside)
