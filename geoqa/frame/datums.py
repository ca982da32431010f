"""Geodetic datums: whether two are the same, and which names leave the realisation open."""

import re
from functools import cache

import pyproj
from pyproj.crs import GeographicCRS

from geoqa.errors import FrameError
from geoqa.frame.axes import crs_title, parse_crs, parts

SAME_AS_PRODUCTS = "same as products"

# Geographic CRSs whose datum stands for several realisations that differ by decimetres to metres.
# WGS 84: EPSG dataset, datum ensemble 6326, accuracy 2 m; NAD83 and NAD83(CSRS): common practice.
_GENERIC = ("EPSG:4326", "EPSG:4269", "EPSG:4617")

_DEGREE = round(0.017453292519943295, 12)

_PLATE_FIXED = re.compile(r"ETRF\d")

# An ensemble that is better than this is as good as a realisation; ETRS89 (0.1 m) is.
_ENSEMBLE_ACCURACY_M = 0.1


def geographic(crs: pyproj.CRS, where: str) -> pyproj.CRS:
    """Return the geographic CRS with height that has the datum of this CRS.

    Raises
    ------
    FrameError
        When the CRS is local.
    """
    base = crs.source_crs.geodetic_crs if crs.is_bound and crs.source_crs else crs.geodetic_crs
    if base is None:
        message = (
            f"{where}: {crs_title(crs)} is tied to no datum, so nothing can be brought into or "
            "out of it. Name its CRS, or give points and products in the one local grid."
        )
        raise FrameError(message)
    if base.is_geocentric:
        base = GeographicCRS(name=base.name, datum=base.datum)
    return base.to_3d()


def same_datum(first: pyproj.CRS, second: pyproj.CRS) -> bool:
    """Return whether two CRSs have one datum; the projection does not matter, nor does the spelling.

    A local grid has the datum of no other CRS but itself. An ensemble is another datum than each of
    its members.
    """
    one, two = first.geodetic_crs, second.geodetic_crs
    if one is None or two is None:
        return one is two and bool(first.equals(second, ignore_axis_order=True))
    if one.is_geocentric or two.is_geocentric:
        one, two = geographic(one, ""), geographic(two, "")
    if one.to_2d().equals(two.to_2d(), ignore_axis_order=True):
        return True
    return _datum_key(one) == _datum_key(two)


def is_member(realisation: pyproj.CRS, ensemble: pyproj.CRS) -> bool:
    """Return whether a CRS is on one of the realisations that the datum ensemble of another stands for.

    Examples
    --------
    >>> is_member(pyproj.CRS("EPSG:7931"), pyproj.CRS("EPSG:4258"))
    True
    """
    one, many = realisation.geodetic_crs, ensemble.geodetic_crs
    if one is None or many is None:
        return False
    members = many.to_json_dict().get("datum_ensemble", {}).get("members", [])
    own = one.to_json_dict().get("datum", {}).get("name", "")
    return own in [member["name"] for member in members]


def datum_name(crs: pyproj.CRS) -> str:
    """Return the name of the datum without the word “ensemble”, for messages."""
    base = crs.geodetic_crs
    return "a local grid" if base is None else str(base.name)


def is_dynamic(crs: pyproj.CRS) -> bool:
    """Return whether coordinates of fixed points change with time in this datum, by centimetres a year.

    Realisations of ETRS89 count as fixed to their plate, which they are by definition; the EPSG
    dataset calls them dynamic since version 12.
    """
    base = crs.geodetic_crs
    if base is None or _PLATE_FIXED.match(base.name):
        return False
    return "DYNAMIC[" in base.to_wkt("WKT2_2019")


def is_indefinite(crs: pyproj.CRS) -> bool:
    """Return whether the datum leaves open, by more than 0.1 m, which realisation is meant."""
    base = crs.geodetic_crs
    if base is None:
        return False
    ensemble = base.to_json_dict().get("datum_ensemble")
    if ensemble is not None and float(ensemble["accuracy"]) > _ENSEMBLE_ACCURACY_M:
        return True
    return any(same_datum(base, generic) for generic in _generic())


@cache
def _generic() -> tuple[pyproj.CRS, ...]:
    return tuple(pyproj.CRS(code) for code in _GENERIC)


def counts_from_greenwich(crs: pyproj.CRS) -> bool:
    """Return whether a geographic CRS counts in degrees from Greenwich."""
    return _figure(crs)[2:] == (0.0, _DEGREE)


def named_frame(text: str, where: str) -> pyproj.CRS:
    """Return the geographic CRS with height of the datum that a code names; of any kind of CRS."""
    named = parse_crs(text, where)
    return geographic(named if named.is_geocentric else parts(named, where).horizontal, where)


def realisation(text: str, crs: pyproj.CRS, where: str) -> pyproj.CRS:
    """Return the geographic CRS of the true realisation that `frame` names for a CRS.

    Raises
    ------
    FrameError
        When it cannot be the realisation of the CRS's datum; see `refuse_other_figure`.
    """
    frame = named_frame(text, where)
    refuse_other_figure(frame, crs, where)
    return frame


def refuse_other_figure(frame: pyproj.CRS, crs: pyproj.CRS, where: str) -> None:
    """Raise `FrameError` unless the datum of a CRS can be replaced by that of `frame`.

    The projection is kept, so both must have one ellipsoid (WGS 84 and GRS 1980 count as one: they
    differ by 0.1 mm), prime meridian and angular unit.
    """
    if _figure(geographic(frame, where)) != _figure(geographic(crs, where)):
        message = (
            f"{where}: {frame.name} cannot be the realisation of {crs_title(crs)}, which rests "
            "on another ellipsoid or prime meridian. Name a realisation of its datum."
        )
        raise FrameError(message)


def _figure(crs: pyproj.CRS) -> tuple[float, float, float, float]:
    ellipsoid, meridian = crs.ellipsoid, crs.prime_meridian
    if ellipsoid is None or meridian is None:
        return (0.0, 0.0, 0.0, 0.0)
    return (
        round(ellipsoid.semi_major_metre, 2),
        round(ellipsoid.inverse_flattening, 5),
        round(meridian.longitude, 9),
        round(crs.axis_info[0].unit_conversion_factor, 12),
    )


def _datum_key(crs: pyproj.CRS) -> tuple[str, tuple[float, float, float, float]]:
    definition = crs.to_json_dict()
    datum = definition.get("datum") or definition["datum_ensemble"]
    return re.sub(r"[^a-z0-9]", "", datum["name"].lower()), _figure(crs)
