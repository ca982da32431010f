"""The survey of an invented site: true places, what the rover measured, and where the products show them."""

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from geoqa.demo.site import Site
from geoqa.demo.terrain import Terrain
from geoqa.numerics.arrays import FloatArray

# Common practice: what a network or base RTK rover states for a short occupation, 1 sigma in metres.
_SIGMA_M = {"fixed": (0.008, 0.008, 0.015), "float": (0.090, 0.090, 0.160)}

POINT_COLUMNS = (
    "id", "easting", "northing", "height", "sd_east", "sd_north", "sd_up",
    "role", "fix", "cover", "target", "description",
)  # fmt: skip
TRUTH_COLUMNS = (
    "id", "easting", "northing", "height", "row", "col",
    "displacement_east_m", "displacement_north_m", "height_error_m",
    "survey_error_east_m", "survey_error_north_m", "survey_error_up_m", "laid",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Survey:
    """True and measured positions of the spots of a site, one row a spot, in the site's CRS.

    Attributes
    ----------
    true_m, measured_m, sigma_m : arrays, shape (n, 3)
        Easting, northing, height of the ground; as the rover gave them; its standard deviations.
    displacement_m : array, shape (n, 2)
        What the orthomosaic adds to the true easting and northing.
    """

    site: Site
    true_m: FloatArray
    measured_m: FloatArray
    sigma_m: FloatArray
    displacement_m: FloatArray

    @property
    def row_col(self) -> FloatArray:
        """Return row and column of each spot in the orthomosaic, pixel centres at .5, shape (n, 2)."""
        shown = self.true_m[:, :2] + self.displacement_m
        west, south = self.site.south_west
        north = south + self.site.size_m[1]
        return np.column_stack([north - shown[:, 1], shown[:, 0] - west]) / self.site.pixel_m


def survey_of(terrain: Terrain) -> Survey:
    """Return the survey of a site, with errors drawn from its seed."""
    site = terrain.site
    rng = site.rng(7)
    local = np.array([spot.place for spot in site.spots]) + rng.uniform(-0.3, 0.3, (len(site.spots), 2))
    heights = terrain.height_m(local[:, 0], local[:, 1])
    true = np.column_stack([local + np.array(site.south_west), heights])
    sigma = np.array([_SIGMA_M[spot.fix] for spot in site.spots])
    # Receivers state their standard deviations to the millimetre.
    sigma = np.round(sigma * rng.uniform(0.8, 1.3, (len(sigma), 1)), 3)
    measured = np.round(true + sigma * rng.standard_normal(sigma.shape), 3)
    return Survey(site, true, measured, sigma, _displacement(site, local, rng))


def points_text(survey: Survey) -> str:
    """Return the table of surveyed points, as a rover's export would be."""
    rows = (
        [
            spot.id,
            *_metres(place),
            *_metres(sigma),
            spot.role,
            spot.fix,
            spot.cover,
            spot.target,
            spot.description,
        ]
        for spot, place, sigma in zip(survey.site.spots, survey.measured_m, survey.sigma_m, strict=True)
    )
    return _table(POINT_COLUMNS, rows)


def truth_text(survey: Survey, surface_m: FloatArray) -> str:
    """Return the table of true positions and injected errors.

    `surface_m` holds the heights of the elevation raster at the true positions, so that
    `height_error_m` is what the raster adds to the true height of the ground there. Where there
    is no target, row, column and displacement are empty.
    """
    rows = []
    for number, spot in enumerate(survey.site.spots):
        true, place = survey.true_m[number], survey.row_col[number]
        shown = [f"{value:.4f}" for value in place] + _metres(survey.displacement_m[number], 5)
        rows.append(
            [
                spot.id,
                *_metres(true, 5),
                *(shown if spot.laid and spot.target != "none" else [""] * 4),
                *_metres([surface_m[number] - true[2]], 5),
                *_metres(survey.measured_m[number] - true, 5),
                "yes" if spot.laid and spot.target != "none" else "no",
            ]
        )
    return _table(TRUTH_COLUMNS, rows)


def _displacement(site: Site, local: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return what the orthomosaic adds to true positions: shift, rotation, scale and random error."""
    errors = site.errors
    east, north = (local - np.array(site.size_m) / 2).T
    shift_east, shift_north = errors.shift_m
    systematic = np.column_stack(
        [
            shift_east + errors.scale * east - errors.rotation_rad * north,
            shift_north + errors.scale * north + errors.rotation_rad * east,
        ]
    )
    total: FloatArray = systematic + errors.random_m * rng.standard_normal(systematic.shape)
    return total


def _metres(values: Iterable[float], digits: int = 3) -> list[str]:
    return [f"{value:.{digits}f}" for value in values]


def _table(columns: tuple[str, ...], rows: Iterable[list[str]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue()
