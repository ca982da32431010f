"""Linear units that survey files come in, with their length in metres."""

from enum import StrEnum


class LinearUnit(StrEnum):
    """A unit of length, named as in the settings file."""

    METRE = "metre"
    FOOT = "foot"
    US_SURVEY_FOOT = "us-survey-foot"

    @property
    def metres(self) -> float:
        """Return the length of one unit in metres.

        References
        ----------
        [NIST811]_, appendix B.6: international foot 0.3048 m; US survey foot 1200/3937 m.

        Examples
        --------
        >>> LinearUnit.FOOT.metres
        0.3048
        """
        return _METRES[self]

    @property
    def symbol(self) -> str:
        """Return the short form used in column names and messages: m, ft or ftUS."""
        return _SYMBOLS[self]


# [NIST811], appendix B.6.
_METRES = {LinearUnit.METRE: 1.0, LinearUnit.FOOT: 0.3048, LinearUnit.US_SURVEY_FOOT: 1200 / 3937}
_SYMBOLS = {LinearUnit.METRE: "m", LinearUnit.FOOT: "ft", LinearUnit.US_SURVEY_FOOT: "ftUS"}


def unit_of_length(metres: float) -> LinearUnit | None:
    """Return the unit whose length in metres this is, or None where no known unit has it.

    The two feet differ by 2 parts in a million, so lengths are compared to 1 part in 10⁸.

    Examples
    --------
    >>> unit_of_length(0.3048)
    <LinearUnit.FOOT: 'foot'>
    >>> unit_of_length(0.5) is None
    True
    """
    for unit, length in _METRES.items():
        if abs(metres - length) <= 1e-8 * length:
            return unit
    return None
