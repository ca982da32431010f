"""Heights of one side counted from the ellipsoid and of the other from a geoid, twice, or from two geoids."""

from collections.abc import Iterator, Sequence

import numpy as np

from geoqa.causes.coarse_geoid import COARSE_SIGMA_M, coarse_separation_m
from geoqa.causes.evidence import Evidence
from geoqa.causes.finding import Sayings, finding
from geoqa.causes.hypothesis import Hypothesis, constant, slack
from geoqa.causes.prediction import Amplitude
from geoqa.causes.site_place import middle_of
from geoqa.diagnoses import Diagnosis, DiagnosisCase
from geoqa.records.results import Finding, Quantity

# [EGM2008]: separations lie between −107 m and +86 m on the whole Earth.
_WIDEST_M = 108.0
_TYPICAL_M = 35.0
# Below this a pole or an antenna explains a height offset as well as an unknown geoid.
_LEAST_M = 2.6
# Two geoid models of one region differ by up to about a metre: EGM96 and EGM2008 at 24 cities, −0.85 to
# +0.94 m.
_MODELS_M = 0.3
_TOLERANCE_M = 0.10
_MULTIPLES = {
    1: "the products count heights from the ellipsoid and the points from the geoid",
    -1: "the points count heights from the ellipsoid and the products from the geoid",
    2: "the geoid was applied to the points twice, or to the products with the wrong sign",
    -2: "the geoid was applied to the products twice, or to the points with the wrong sign",
}


def propose(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield multiples of the separation where it is known, else a height offset of any plausible size."""
    separations = case.separations_m
    known = separations[evidence.rows] if len(separations) else np.full(len(evidence), np.nan)
    if evidence.height.any() and np.isfinite(known[evidence.height]).all():
        yield from _by_separation(evidence, np.nan_to_num(known))
    yield Hypothesis(
        "height-reference",
        "two geoid models, or two heights called alike, differ here by a constant",
        (constant(evidence, 2, _MODELS_M),),
        log_prior=-0.5,
    )
    if not np.isfinite(known).any():
        yield from _by_size(case, evidence)


def _by_size(case: DiagnosisCase, evidence: Evidence) -> Iterator[Hypothesis]:
    """Yield an offset as large as separations are; usual where it agrees with the coarse one of the site."""
    middle_m = float(np.median(evidence.residuals("height"))) if evidence.height.any() else 0.0
    if not _LEAST_M < abs(middle_m) < _WIDEST_M:
        return
    place = middle_of(case.frame, evidence.position_m)
    coarse_m = None if place is None else coarse_separation_m(float(place[0]), float(place[1]))
    agrees = coarse_m is not None and abs(abs(middle_m) - abs(coarse_m)) < 3 * COARSE_SIGMA_M
    told = f"a height offset of {middle_m:+.1f} m is of the size of a geoid separation"
    if coarse_m is not None:
        told += f", which is about {coarse_m:+.0f} m here"
    yield Hypothesis(
        "height-reference",
        f"{told if agrees or coarse_m is None else f'{told} and does not agree'}".replace("-", "−"),
        (constant(evidence, 2, _TYPICAL_M),),
        coincidence=min(2 * 6 * COARSE_SIGMA_M / (2 * _WIDEST_M), 1.0) if agrees else None,
        log_prior=0.0 if agrees else -2.0,
        gross=True,
    )


def _by_separation(evidence: Evidence, known_m: np.ndarray) -> Iterator[Hypothesis]:
    for multiple, words in _MULTIPLES.items():
        effect = np.zeros((len(evidence), 3))
        effect[:, 2] = multiple * known_m
        told = f"{abs(multiple) if abs(multiple) > 1 else ''} × ".lstrip(" ×")
        yield Hypothesis(
            "height-reference",
            f"{words} ({told}the separation here, {np.median(known_m):+.2f} m)".replace("-", "−"),
            (slack(evidence, "height-reference", 2, _TOLERANCE_M),),
            known_m=effect,
            coincidence=min(len(_MULTIPLES) * 4 * _TOLERANCE_M / (2 * _WIDEST_M), 1.0),
            log_prior=0.0 if abs(multiple) == 1 else -1.0,
            gross=True,
        )


def figures(found: dict[str, Amplitude], what: Hypothesis) -> Sequence[Quantity]:
    """Return the height offset, or what is left of it beside the separation."""
    name = "height offset" if what.known_m is None else "height offset beside the separation"
    return tuple(Quantity(name, item.value, "m", item.sigma) for item in found.values())


def examine(case: DiagnosisCase) -> Finding:
    """Return whether the heights count from different surfaces."""
    return finding(
        case.comparison,
        Sayings(
            "height-reference",
            "State the height system of points and elevation raster (points.height_system, "
            "elevation.height_system) and the geoid, and run again; do not shift the map by hand. Deciding "
            "test: "
            "a mark with a published height, and the name of the geoid set in the rover.",
            "Too few heights count to see an offset.",
            figures,
        ),
    )


DIAGNOSIS = Diagnosis(
    id="height-reference",
    title="Heights counted from different surfaces",
    minimum_points=2,
    examine=examine,
    propose=propose,
)
