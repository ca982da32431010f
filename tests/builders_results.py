"""Invented results for `tests.builders`: statistics by plain numpy, judgements, findings, provenance."""

from dataclasses import replace
from typing import Any, Literal

import numpy as np
from scipy import special

from geoqa.numerics.arrays import FloatArray
from geoqa.records.assessment import InputFile, Provenance
from geoqa.records.evidence import (
    BlindSpot,
    FitnessItem,
    Grade,
    Influence,
    OutlierBasis,
    OutlierSearch,
    Place,
    PointEvidence,
    Reach,
)
from geoqa.records.results import (
    AccuracyFigure,
    AccuracyStatistics,
    Claim,
    ClaimVerdict,
    ComponentStatistics,
    Finding,
    FindingVerdict,
    Judgement,
    JudgementVerdict,
    Quantity,
    ResidualSet,
    ThreeNumbers,
)

CREATED = "2026-01-02T03:04:05Z"
NAN = float("nan")


def make_statistics(residuals: ResidualSet) -> AccuracyStatistics:
    """Return the statistics of the used points by plain numpy and chi-square bounds."""
    plan, up = residuals.used_horizontal_m, residuals.used_vertical_m
    return AccuracyStatistics(
        east=_component("east", plan[:, 0]),
        north=_component("north", plan[:, 1]),
        up=_component("up", up),
        horizontal=_radial(plan),
    )


def _bounds(rmse: float, freedom: float) -> dict[str, Any]:
    if freedom == 0:
        return {"rmse_interval_m": (NAN, NAN), "rmse_upper95_m": NAN, "rmse_lower95_m": NAN}
    # chdtri(v, p) is the chi-square value exceeded with probability p.
    at = {p: float(rmse * np.sqrt(freedom / special.chdtri(freedom, p))) for p in (0.025, 0.05, 0.95, 0.975)}
    return {
        "rmse_interval_m": (at[0.025], at[0.975]),
        "rmse_upper95_m": at[0.95],
        "rmse_lower95_m": at[0.05],
    }


def _component(name: Literal["east", "north", "up"], values: FloatArray) -> ComponentStatistics:
    n = len(values)
    if n == 0:
        return ComponentStatistics(name, 0, NAN, max_abs_m=NAN, **_bounds(NAN, 0))
    rmse, median = float(np.sqrt(np.mean(values**2))), float(np.median(values))
    return ComponentStatistics(
        name,
        n,
        rmse,
        max_abs_m=float(np.abs(values).max()),
        mean_m=float(values.mean()),
        std_m=float(values.std(ddof=1)) if n > 1 else NAN,
        median_m=median,
        nmad_m=float(1.4826 * np.median(np.abs(values - median))),
        **_bounds(rmse, n),
    )


def _radial(plan: FloatArray) -> ComponentStatistics:
    n = len(plan)
    if n == 0:
        return ComponentStatistics("horizontal", 0, NAN, max_abs_m=NAN, **_bounds(NAN, 0))
    squares = (plan**2).sum(axis=1)
    rmse = float(np.sqrt(squares.mean()))
    moment = plan.T @ plan / n
    freedom = float(np.clip(n * np.trace(moment) ** 2 / np.trace(moment @ moment), n, 2 * n))
    return ComponentStatistics(
        "horizontal", n, rmse, max_abs_m=float(np.sqrt(squares.max())), **_bounds(rmse, freedom)
    )


def make_claim(direction: Literal["horizontal", "vertical"], part: ComponentStatistics) -> Claim:
    """Return a claim about one direction against a limit of 5 cm."""
    limit = 0.05
    if part.count == 0:
        verdict = ClaimVerdict.UNDECIDABLE
    elif part.rmse_upper95_m <= limit:
        verdict = ClaimVerdict.PROVED
    else:
        verdict = ClaimVerdict.FAILED if part.rmse_m > limit else ClaimVerdict.NOT_CONTRADICTED
    reach = Reach(part.rmse_upper95_m, 0.05, 0.04, 12, None, f"Invented reach of the {direction} points.")
    sentence = f"The {direction} RMSE of {part.count} points against the limit of {limit} m: {verdict}."
    return Claim(
        direction,
        f"{direction} RMSE",
        limit,
        part.rmse_m,
        part.rmse_upper95_m,
        part.rmse_lower95_m,
        part.count,
        verdict,
        sentence,
        arithmetic=f"{part.rmse_m:.3f} m times an invented factor" if part.count else "",
        reach=reach if part.count else None,
    )


def make_evidence(residuals: ResidualSet, origin_m: tuple[float, float]) -> PointEvidence:
    """Return one record of each kind that tells what the points can show."""
    ids = residuals.ids[:1]
    east_m, north_m = origin_m
    return PointEvidence(
        blind_spots=(
            BlindSpot("tilt", "vertical", 0.04, "m per 100 m", 0.02, len(residuals), "Invented tilt."),
            BlindSpot("dome", "vertical", None, "m", NAN, len(residuals), "Invented dome."),
        ),
        outliers=(
            OutlierSearch(
                "vertical",
                len(residuals),
                OutlierBasis.SPREAD,
                4.6,
                0.01,
                ids,
                0.03,
                0.02,
                "Invented outliers.",
            ),
        ),
        influence=tuple(Influence("vertical", name, 0.4, 0.03, 0.02, "Invented influence.") for name in ids),
        fitness=(
            FitnessItem("quarters", "horizontal", 0.1, 0.2, "1", Grade.WEAK, "Invented quarters."),
            FitnessItem("control points", None, None, None, "1", Grade.UNKNOWN, "Invented control."),
        ),
        next_places=(Place(east_m + 10.0, north_m + 20.0, 55.0), Place(east_m + 90.0, north_m + 20.0, 44.0)),
    )


def make_figures(statistics: AccuracyStatistics) -> ThreeNumbers:
    """Return the three accuracy figures, the second and third by made-up factors."""

    def figure(part: ComponentStatistics, factor: float, to: str) -> AccuracyFigure:
        if part.count == 0:
            return AccuracyFigure(None, None, to)
        low, high = part.rmse_interval_m
        return AccuracyFigure(factor * part.rmse_m, (factor * low, factor * high), to)

    def both(factor: float, to: str) -> tuple[AccuracyFigure, AccuracyFigure]:
        return figure(statistics.horizontal, factor, to), figure(statistics.up, factor, to)

    return ThreeNumbers(
        both(1.0, "the surveyed checkpoints"),
        both(0.9, "the ground, survey noise taken off"),
        both(1.2, "ETRS89, base included"),
    )


def make_judgements(statistics: AccuracyStatistics) -> tuple[Judgement, ...]:
    """Return two judgements, one of them not assessed."""
    up = statistics.up
    return (
        Judgement(
            standard="asprs-2023",
            clause="7.12",
            quantity="vertical RMSE",
            value=up.rmse_m if up.count else None,
            unit="m",
            limit=0.05,
            verdict=JudgementVerdict.MET if up.count else JudgementVerdict.NOT_ASSESSED,
            sentence="Invented sentence about the vertical accuracy class.",
            count=up.count,
            count_required=30,
            caveats=("Fewer than 30 checkpoints.",),
        ),
        Judgement(
            standard="asprs-2023",
            clause="7.13",
            quantity="vegetated vertical accuracy",
            value=None,
            unit="m",
            limit=None,
            verdict=JudgementVerdict.NOT_ASSESSED,
            sentence="No vegetated checkpoints.",
            count=0,
        ),
    )


def make_finding(ids: tuple[str, ...]) -> Finding:
    """Return a finding that cannot tell."""
    return Finding(
        diagnosis="height-reference",
        verdict=FindingVerdict.CANNOT_TELL,
        evidence="The heights are 1.8 cm too high on average; invented.",
        advice="Compare the geoid model of the product with that of the survey.",
        rank=1,
        quantities=(
            Quantity("height offset", 0.018, "m", 0.006),
            Quantity("share explained", 0.4, "1"),
        ),
        not_separable_from=("antenna-height",),
        predicted_rmse_m={"vertical": 0.021},
        point_ids=ids[:2],
    )


def make_grouped_statistics(residuals: ResidualSet) -> dict[str, dict[str, AccuracyStatistics]]:
    """Return the statistics of every group of every grouping."""
    grouped: dict[str, dict[str, AccuracyStatistics]] = {}
    for name, members in residuals.groups.items():
        for group in sorted({member for member in members if member is not None}):
            inside = np.array([member == group for member in members], dtype=bool)
            part = replace(
                residuals,
                horizontal=replace(residuals.horizontal, used=residuals.horizontal.used & inside),
                vertical=replace(residuals.vertical, used=residuals.vertical.used & inside),
            )
            grouped.setdefault(name, {})[group] = make_statistics(part)
    return grouped


def make_provenance() -> Provenance:
    """Return inputs, a grid and versions, created at `CREATED`."""
    return Provenance(
        inputs=(
            InputFile("lindenkamp_ortho.tif", "1f" * 32, "orthomosaic"),
            InputFile("lindenkamp_surface.tif", "2e" * 32, "elevation"),
            InputFile("lindenkamp.csv", "3d" * 32, "points"),
            InputFile("lindenkamp_levels.csv", None, "points"),
        ),
        grids=(InputFile("lindenkamp_geoid.gtx", "4c" * 32, "geoid"),),
        versions={"geoqa": "0.1.0", "numpy": "2.0.0", "PROJ": "9.5.1"},
        created=CREATED,
    )
