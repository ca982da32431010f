"""Findings about points that lie off the map as read."""

import numpy as np

from geoqa.causes.places import SHARE, Reading, readings
from geoqa.numerics.arrays import BoolArray, FloatArray
from geoqa.numerics.polygons import inside
from geoqa.records.points import Checkpoints, CommonFrame
from geoqa.records.results import Finding, FindingVerdict, Quantity


def off_the_map(
    checkpoints: Checkpoints, frame: CommonFrame, mapped_area_m: FloatArray, cause: str, what: str
) -> Finding:
    """Return whether another reading of the coordinates brings the points onto the map.

    Parameters
    ----------
    cause
        Id of the diagnosis; `what` names its readings as a noun, for the evidence.
    """
    positions = checkpoints.position_m[:, :2]
    known = np.asarray(np.isfinite(positions).all(axis=1))
    if len(mapped_area_m) < 3 or not known.any():
        return Finding(cause, FindingVerdict.CANNOT_TELL, "There is no map to hold the points against.", "")
    given = float(inside(positions[known], mapped_area_m).mean())
    if given > 1 - SHARE:
        evidence = f"{100 * given:.0f} % of the points lie on the map as read."
        return Finding(cause, FindingVerdict.ABSENT, evidence, "")
    found = readings(positions[known], frame.crs, frame.unit, mapped_area_m)
    fitting = [item for item in found if item.share >= SHARE]
    own = [item for item in fitting if item.cause == cause]
    if not own:
        tried = max((item.share for item in found if item.cause == cause), default=0.0)
        evidence = (
            f"{100 * given:.0f} % of the points lie on the map as read, and {100 * tried:.0f} % with "
            f"{what}: that "
            "does not bring them there."
        )
        return Finding(cause, FindingVerdict.ABSENT, evidence, "", quantities=_share(tried))
    return _present(checkpoints.ids, own[0], fitting, given, known)


def _present(
    ids: tuple[str, ...], reading: Reading, fitting: list[Reading], given: float, known: BoolArray
) -> Finding:
    others = tuple(sorted({item.cause for item in fitting} - {reading.cause}))
    evidence = (
        f"{100 * given:.0f} % of the points lie on the map as read, {100 * reading.share:.0f} % would if "
        f"{reading.words}."
    )
    order = [item.cause for item in fitting]
    return Finding(
        reading.cause,
        FindingVerdict.PRESENT,
        evidence,
        f"{reading.advice} Deciding test: after that the targets have to be found in the orthomosaic.",
        rank=1 + order.index(reading.cause),
        quantities=_share(reading.share),
        not_separable_from=others,
        point_ids=tuple(np.array(ids)[known][reading.on_map].tolist()),
    )


def _share(share: float) -> tuple[Quantity, ...]:
    return (Quantity("share of points on the map if read so", share, "1"),)
