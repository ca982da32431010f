"""Names in a header: what they mean, by our list and synonyms of the trade, and their units."""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from geoqa.readers.points._angles import DECIMAL, PACKED, PARTED
from geoqa.records.settings import POINT_COLUMNS
from geoqa.units import LinearUnit

# Common practice, English, German, French, Spanish, Portuguese; compared without case, accents, blanks and
# marks. “x” and “y” are missing on purpose: some surveyors call north X.
_SYNONYMS: dict[str, str] = {
    "id": "point name no nr number pt pnt station label pointid pointname pointno pointnr pointnumber "
    "ptid ptname ptno ptnr pntid stationid stationname gcp gcpid gcpname "
    "punkt punktnummer punktnr punktname punktid pkt pktnr pktnummer nummer "
    "nom numéro matricule nompoint numéropoint nompt "
    "punto número nombre nombrepunto númeropunto ponto nome nomeponto númeroponto",
    "easting": "east e eastings eastcoordinate rechtswert ostwert ost est este leste coordenadaeste",
    "northing": "north n northings northcoordinate hochwert nordwert nord norte coordenadanorte",
    "height": "elevation elev h z altitude alt rl heights ellipsoidalheight ellipsoidheight ellheight "
    "ellipht ellht orthometricheight orthoheight orthoht höhe hoehe ellhöhe ellipsoidischehöhe ellipsoidhöhe "
    "hauteurellipsoïdale cota altura alturaelipsoidal altitud elevación elevação altitudeelipsoidal",
    "latitude": "lat latitud breitengrad geographischebreite",
    "longitude": "lon long lng longitud längengrad geographischelänge",
    "sd_east": "sde sdeasting sigmaeast sigmae sigmaeasting stdeast stde stdeveast eastsd esd",
    "sd_north": "sdn sdnorthing sigmanorth sigman sigmanorthing stdnorth stdn stdevnorth northsd nsd",
    "sd_up": "sdu sdheight sdh sigmaup sigmau sigmaheight sigmah stdup stdu stdevup upsd usd heightsd",
    "role": "pointrole",
    "fix": "fixtype fixstatus",
    "time": "timestamp datetime measuredat",
    "occupation": "occupationid",
    "session": "sessionid",
    "cover": "groundcover landcover",
    "target": "targetkind targettype",
    "target_height": "",
    "antenna_height": "poleheight rodheight",
    "separation": "geoidseparation geoidheight undulation",
    "description": "desc descr beschreibung descripción descrição",
}

_UNITS: dict[str, str] = {
    "m": "m metre metres meter meters",
    "ft": "ft ift foot feet intft internationalfoot internationalfeet",
    "ftUS": "ftus usft sft usfoot usfeet ussurveyfoot ussurveyfeet surveyfoot surveyfeet",
    "mm": "mm",
    "cm": "cm",
    "km": "km",
    DECIMAL: "deg degree degrees dd decimaldegrees",
    PARTED: "dms d:m:s dd:mm:ss",
    PACKED: "d.mmss dd.mmss ddd.mmss",
}

# The sign for “number” in several languages; its letter alone is a northing.
_NUMERO = re.compile(r"\bn[°º]|№")

# Metres in one unit of a length.
METRES = {"mm": 0.001, "cm": 0.01} | {unit.symbol: unit.metres for unit in LinearUnit}
LINEAR = {unit.symbol: unit for unit in LinearUnit}

PROJECTED = ("easting", "northing")
GEOGRAPHIC = ("latitude", "longitude")
LENGTHS = ("sd_east", "sd_north", "sd_up", "target_height")
ATTRIBUTES = ("time", "occupation", "antenna_height", "separation", "description")

# Units that a header may state; a column of text has none. An antenna height in feet stays under the
# header's own name, since an attribute is kept as written.
UNITS_OF: dict[str, frozenset[str]] = (
    dict.fromkeys((*PROJECTED, "height"), frozenset(LINEAR))
    | dict.fromkeys(GEOGRAPHIC, frozenset({DECIMAL, PARTED, PACKED}))
    | dict.fromkeys(LENGTHS, frozenset(METRES))
    | dict.fromkeys(("antenna_height", "separation"), frozenset({"m"}))
)


def bare(text: str) -> str:
    """Return a name for comparison: lower case, letters and digits only, without accents.

    Examples
    --------
    >>> bare("Höhe [m]"), bare("N° de point")
    ('hohem', 'nodepoint')
    """
    # Apart from its letter, an accent is neither letter nor digit.
    return re.sub(r"[\W_]+", "", unicodedata.normalize("NFD", _NUMERO.sub("no", text.casefold())))


_MEANINGS = {field: {bare(field), *map(bare, synonyms.split())} for field, synonyms in _SYNONYMS.items()}
# Without its point, a packed angle cannot be told from a parted one.
_UNIT_OF_WORD = {
    bare(word): unit for unit, words in _UNITS.items() for word in words.split() if unit != PACKED
}
_PACKED_WORD = re.compile(r"d{1,3}\.mms+")
_PARTED_WORD = re.compile(r"d{1,3}[ :°]+m{1,2}[ :'′]+s{1,2}(\.s+)?[\"″]?")


def _unit(word: str) -> str | None:
    written = word.strip().casefold()
    if _PACKED_WORD.fullmatch(written):
        return PACKED
    if _PARTED_WORD.fullmatch(written):
        return PARTED
    return _UNIT_OF_WORD.get(bare(written.replace("°", "deg")))


@dataclass(frozen=True)
class HeaderName:
    """A name in the header: as written, its bare form for comparison, and the unit behind it.

    A word in brackets that is no unit we know stands in `unit` as written.
    """

    text: str
    bare: str
    unit: str | None

    def means(self, field: str) -> bool:
        """Return whether the name is ours for this field, or a synonym of the trade."""
        return self.bare in _MEANINGS[field]

    @property
    def unit_is_known(self) -> bool:
        """Return whether the unit is one that we know, fitting or not."""
        return self.unit in _UNITS


def header_name(text: str) -> HeaderName:
    """Return a header name taken apart.

    Examples
    --------
    >>> header_name("Easting (ftUS)")
    HeaderName(text='Easting (ftUS)', bare='easting', unit='ftUS')
    >>> header_name("sd_east")
    HeaderName(text='sd_east', bare='sdeast', unit=None)
    """
    bracket = re.fullmatch(r"(.*?[^\s_\-])[\s_\-]*[(\[](.*)[)\]]", text.strip())
    if bracket:
        word = bracket[2].strip()
        return HeaderName(text, bare(bracket[1]), _unit(word) or word)
    parts = [part for part in re.split(r"[\s_\-]+", text.strip()) if part]
    for count in range(min(3, len(parts) - 1), 0, -1):
        unit = _unit("".join(parts[-count:]))
        if unit:
            return HeaderName(text, bare("".join(parts[:-count])), unit)
    return HeaderName(text, bare(text), None)


def holds_position(header: Iterable[str], wanted: Mapping[str, str]) -> bool:
    """Return whether a header names a pair of coordinates, by our list or by the user's."""
    names = [header_name(text) for text in header]
    written = {bare(name.text) for name in names}
    fields = {field for field, text in wanted.items() if bare(text) in written}
    fields |= {field for field in (*PROJECTED, *GEOGRAPHIC) if any(name.means(field) for name in names)}
    return fields.issuperset(PROJECTED) or fields.issuperset(GEOGRAPHIC)


def recognised(header: Iterable[str], wanted: Mapping[str, str]) -> int:
    """Return how many names of a header mean something, by our list or by the user's."""
    named = {bare(name) for name in wanted.values()}
    names = [header_name(text) for text in header]
    return sum(
        bare(name.text) in named or any(name.means(field) for field in POINT_COLUMNS) for name in names
    )
