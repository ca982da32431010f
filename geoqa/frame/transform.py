"""Bring the points of all files into the common frame."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import chain
from typing import TypeVar

import numpy as np

from geoqa.frame.axes import equal_crs
from geoqa.frame.bring import Brought, Given, bring
from geoqa.frame.datums import SAME_AS_PRODUCTS
from geoqa.frame.declare import Products
from geoqa.numerics.arrays import FloatArray
from geoqa.records.geoid import GeoidGrid
from geoqa.records.points import Checkpoints, SurveyPoints
from geoqa.records.settings import Limits, Points, SiteGrid

T = TypeVar("T")


def to_frame(
    surveys: Sequence[SurveyPoints],
    declared: Sequence[Points],
    products: Products,
    limits: Limits,
    *,
    geoid: GeoidGrid | float | None = None,
    site_grid: SiteGrid | None = None,
) -> Checkpoints:
    """Return the points of all files in the common frame.

    Parameters
    ----------
    surveys, declared
        Files as read and their tables in the settings, in the same order.
    geoid
        A grid of separations, or one for the site in metres, where the settings give one.
    site_grid
        From the map grid to coordinates of the site, where points or products are in these.

    Raises
    ------
    FrameError
        When something cannot be done exactly: the sentence says what, and what to do.
    """
    given = Given(limits, geoid, site_grid)
    brought = [bring(survey, table, products, given) for survey, table in zip(surveys, declared, strict=True)]
    numbers = [(file, row) for file, survey in enumerate(surveys) for row in range(len(survey))]
    return Checkpoints(
        ids=_joined(survey.ids for survey in surveys),
        roles=_joined(survey.roles for survey in surveys),
        fixes=_joined(survey.fixes for survey in surveys),
        covers=_joined(survey.covers for survey in surveys),
        sessions=_joined(survey.sessions for survey in surveys),
        targets=_joined(survey.targets for survey in surveys),
        position_m=np.concatenate([np.empty((0, 3)), *(_position_m(item, products) for item in brought)]),
        sigma_m=np.concatenate([np.empty((0, 3)), *(survey.sigma_m for survey in surveys)]),
        survey=tuple(surveys),
        survey_index=np.array(numbers, dtype=int).reshape(-1, 2),
        file_steps=tuple(item.steps for item in brought),
        assumptions=tuple(dict.fromkeys(_joined(item.assumptions for item in brought))),
        messages=tuple(dict.fromkeys(_joined(item.messages for item in brought))),
    )


def marks_to_frame(
    survey: SurveyPoints,
    products: Products,
    declared: Sequence[Points],
    limits: Limits | None = None,
    *,
    geoid: GeoidGrid | float | None = None,
    site_grid: SiteGrid | None = None,
) -> Checkpoints:
    """Return positions picked by hand in the common frame.

    They are in the coordinates of the orthomosaic, or where there is none in what the first table of
    points declares; a CRS and units that the file itself carries hold. No base correction of the points
    reaches them.
    """
    products = replace(products, base=())
    table = Points(path=survey.source)
    if products.orthomosaic is not None:
        if not equal_crs(products.orthomosaic.crs, products.crs):
            crs = products.orthomosaic.crs.to_wkt()
            table = Points(path=survey.source, crs=crs, frame=SAME_AS_PRODUCTS)
        return to_frame([survey], [table], products, limits or Limits(), geoid=geoid)
    table = declared[0].model_copy(update={"path": survey.source})
    return to_frame([survey], [table], products, limits or Limits(), geoid=geoid, site_grid=site_grid)


def _position_m(brought: Brought, products: Products) -> FloatArray:
    return np.column_stack([brought.plan * products.frame.unit.metres, brought.height_m])


def _joined(columns: Iterable[Sequence[T]]) -> tuple[T, ...]:
    return tuple(chain.from_iterable(columns))
