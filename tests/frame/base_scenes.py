"""Bases, points and products for tests of the base correction; every site is invented."""

from dataclasses import replace

import numpy as np

from geoqa.frame.base_products import corrected_products
from geoqa.frame.base_shift import base_corrections
from geoqa.frame.transform import to_frame
from geoqa.readers.base_position import given_base
from geoqa.records.base_settings import Base
from geoqa.records.settings import Limits, Points
from tests.frame import ecef_by_hand as hand
from tests.frame.scenes import products_of, survey_of

FRAME, EPOCH = "EPSG:9989", 2026.45
LON, LAT, HEIGHT = ("longitude", "latitude", "height")


def geographic(place, **more):
    """Return a position of the settings from longitude, latitude, height."""
    return dict(zip((LON, LAT, HEIGHT), map(float, place), strict=True)) | more


def table(assumed=None, precise=None, **more):
    """Return a table [base] of the worked example, with some keys changed."""
    filled = {
        "assumed": geographic(hand.ASSUMED) if assumed is None else assumed,
        "precise": geographic(hand.PRECISE, sigma_m=[0.008, 0.008, 0.02]) if precise is None else precise,
        "crs": FRAME,
        "epoch": EPOCH,
        "points_use": "assumed",
        "products_use": "precise",
    }
    return {key: value for key, value in (filled | more).items() if value is not None}


def corrections_of(*tables, limits=None):
    """Return the corrections of these tables of the settings."""
    bases = [
        given_base(Base(**item), "base" if len(tables) == 1 else f"base[{number}]", str)
        for number, item in enumerate(tables)
    ]
    return base_corrections(bases, limits or Limits())


def worked_survey(which=hand.BEFORE, **fields):
    """Return the points of the worked example."""
    return survey_of(list(which.values()), geographic=True, ids=tuple(which), **fields)


def brought_with_base(
    survey, crs, points, *tables, limits=None, geoid=None, site_grid=None, marks=None, **elevation
):
    """Return points in the frame of a raster, with bases: what a run of `check` does."""
    measured = {key: value for key, value in points.items() if key != "known"}
    products = products_of(crs, points=[measured], surveys=[survey], **elevation)
    corrections = corrections_of(*tables, limits=limits)
    products = corrected_products(products, corrections, site_grid=site_grid)
    declared = [Points(path="points.csv", **points)]
    return to_frame([survey], declared, products, limits or Limits(), geoid=geoid, site_grid=site_grid)


def without_heights(survey):
    """Return the same points without heights."""
    plan = np.array(survey.coordinates)
    plan[:, 2] = np.nan
    return replace(survey, coordinates=plan)
