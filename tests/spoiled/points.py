"""Spoiled files of points: every format mutated, and tables that are wrong as a whole."""

import csv
import io
import tempfile
from collections.abc import Callable, Iterator
from functools import cache, partial
from pathlib import Path

import geopandas
import pyproj
import shapely

from tests.readers.points.files import block, write_dxf, write_ods, write_xlsx
from tests.site import FIXTURE
from tests.spoiled import Case, settings_text
from tests.spoiled.mutations import OF_BYTES, OF_TEXT, spoiled

COUNT_OF_TEXT, COUNT_OF_BYTES = 16, 10
CRS = 'crs = "EPSG:25832"\nheight_system = "EPSG:7837"\n'
DEGREES = 'frame = "same as products"\nheight_system = "EPSG:7837"\n'


@cache
def rows() -> list[dict[str, str]]:
    """Return the points of the sound site."""
    return list(csv.DictReader(io.StringIO((FIXTURE / "points.csv").read_text("utf-8"))))


def _plan() -> list[tuple[str, float, float, float]]:
    return [
        (row["id"], float(row["easting"]), float(row["northing"]), float(row["height"])) for row in rows()
    ]


def _degrees() -> Iterator[tuple[str, float, float, float]]:
    to_degrees = pyproj.Transformer.from_crs("EPSG:25832", "EPSG:4258", always_xy=True)
    for name, easting, northing, height in _plan():
        yield name, *to_degrees.transform(easting, northing), height


def _table(path: Path) -> None:
    path.write_bytes((FIXTURE / "points.csv").read_bytes())


def _semicolons(path: Path) -> None:
    lines = ["id;easting;northing;height"]
    lines += [
        ";".join((name, *(repr(value).replace(".", ",") for value in place))) for name, *place in _plan()
    ]
    path.write_text("\r\n".join(lines) + "\r\n", "utf-8-sig")


def _headerless(path: Path) -> None:
    path.write_text("".join(f"{name} {n} {e} {h} invented\n" for name, e, n, h in _plan()))


def _sexagesimal(path: Path) -> None:
    def text(value: float) -> str:
        minutes = value % 1 * 60
        return f"{int(value)} {int(minutes)} {minutes % 1 * 60:.6f}"

    lines = ["id\tlatitude\tlongitude\theight"]
    lines += [f"{name}\t{text(lat)}\t{text(lon)}\t{h}" for name, lon, lat, h in _degrees()]
    path.write_text("\n".join(lines) + "\n")


def _workbook(path: Path) -> None:
    write = write_xlsx if path.suffix == ".xlsx" else write_ods
    write(path, {"points": [("id", "easting", "northing", "height"), *_plan()]})


def _drawing(path: Path) -> None:
    write_dxf(path, *[block({"NUMBER": name}, e, n, h) for name, e, n, h in _plan()])


def _vector_file(path: Path) -> None:
    geographic = path.suffix == ".geojson"
    places = list(_degrees()) if geographic else _plan()
    frame = geopandas.GeoDataFrame(
        {"id": [place[0] for place in places]},
        geometry=[shapely.Point(*place[1:]) for place in places],
        crs="EPSG:4979" if geographic else "EPSG:25832",
    )
    frame.to_file(path, engine="pyogrio")


def _landxml(path: Path) -> None:
    points = "".join(f'<CgPoint name="{name}">{n} {e} {h}</CgPoint>\n' for name, e, n, h in _plan())
    path.write_text(
        '<?xml version="1.0" encoding="UTF-8"?>\n<LandXML version="1.2"><Units><Metric linearUnit="meter"/>'
        f"</Units><CgPoints>\n{points}</CgPoints></LandXML>\n"
    )


def _nmea(path: Path) -> None:
    lines = []
    for number, (_, lon, lat, h) in enumerate(_degrees()):
        place = f"{int(lat):02d}{lat % 1 * 60:010.7f},N,{int(lon):03d}{lon % 1 * 60:010.7f},E"
        body = f"GNGGA,1015{number:02d}.00,{place},4,18,0.7,{h:.3f},M,0.000,M,1.0,0007"
        checksum = 0
        for letter in body:
            checksum ^= ord(letter)
        lines.append(f"${body}*{checksum:02X}\r\n")
    path.write_text("".join(lines))


# File name → what writes a sound one, what the settings say of it, whether it is text.
FORMATS: dict[str, tuple[Callable[[Path], None], str, bool]] = {
    "points.csv": (_table, CRS, True),
    "semicolons.csv": (_semicolons, CRS, True),
    "headerless.txt": (_headerless, CRS + 'layout = "PNEZD"\n', True),
    "sexagesimal.tsv": (_sexagesimal, 'crs = "EPSG:4258"\nheight_system = "EPSG:7837"\n', True),
    "points.xlsx": (_workbook, CRS, False),
    "points.ods": (_workbook, CRS, False),
    "points.dxf": (_drawing, CRS, True),
    "points.xml": (_landxml, CRS, True),
    "points.nmea": (_nmea, 'crs = "EPSG:4258"\n[geoid]\nseparation_m = 0\n', True),
    "points.geojson": (_vector_file, DEGREES, True),
    "points.gpkg": (_vector_file, CRS, False),
    "points.shp": (_vector_file, CRS, False),
    "points.fgb": (_vector_file, CRS, False),
}

# Texts that are wrong as a whole, as points.csv.
WHOLE = {
    "empty": "",
    "blanks": " \n \n\t\n",
    "header only": "id,easting,northing,height\n",
    "one point": "id,easting,northing,height\nA,571310,5713160,267\n",
    "all alike": "id,easting,northing,height\n" + "".join(f"P{i},571310,5713160,267\n" for i in range(9)),
    "one id": "id,easting,northing,height\n" + "".join(f"A,57131{i},5713160,267\n" for i in range(9)),
    "swapped": "id,easting,northing,height\nA,5713160,571310,267\nB,5713161,571311,267\n",
    "zeros": "id,easting,northing,height\nA,0,0,0\nB,0,0,0\n",
    "far off": "id,easting,northing,height\nA,1e300,-1e300,1e300\n",
    "infinite": "id,easting,northing,height\nA,inf,nan,-inf\n",
    "degrees as metres": "id,easting,northing,height\nA,10.02,51.56,267\n",
    "latitude 91": "id,latitude,longitude,height\nA,91,10,267\n",
    "no height at all": "id,easting,northing\nA,571310,5713160\nB,571320,5713165\n",
    "heights of text": "id,easting,northing,height\nA,571310,5713160,high\n",
    "ids of markup": "id,easting,northing,height\n<script>,571310,5713160,267\n{{7*7}},571312,5713160,267\n",
    "ids of paths": "id,easting,northing,height\n../../x,571310,5713160,267\nCON,571312,5713160,267\n",
    "ids of blanks": "id,easting,northing,height\n ,571310,5713160,267\n",
    "negative sigmas": "id,easting,northing,height,sd_east,sd_north,sd_up\nA,571310,5713160,267,-1,-1,-1\n",
    "unknown role": "id,easting,northing,height,role\nA,571310,5713160,267,emperor\n",
    "unknown fix": "id,easting,northing,height,fix\nA,571310,5713160,267,glued\n",
    "columns twice": "id,easting,easting,northing,height\nA,571310,571311,5713160,267\n",
    "a thousand columns": ",".join(f"c{i}" for i in range(1000)) + "\n" + ",".join("1" * 1000) + "\n",
    "one long line": "id,easting,northing,height\n" + "9" * 200_000 + "\n",
    "open quote": 'id,easting,northing,height\n"A,571310,5713160,267\nB,571311,5713160,267\n',
    "controls only": "id,easting,northing,height,role\nA,571310,5713160,267,control\n",
    "many points": "id,easting,northing,height,target\n"
    + "".join(f"P{i},{571301 + i % 60 / 2},{5713151 + i // 60 / 4},267,none\n" for i in range(3000)),
}


@cache
def sound(name: str) -> dict[str, bytes]:
    """Return file name → content of a sound file of a format, with the files that belong to it."""
    with tempfile.TemporaryDirectory() as folder:
        FORMATS[name][0](Path(folder) / name)
        return {path.name: path.read_bytes() for path in sorted(Path(folder).iterdir())}


def put(site: Path, *, name: str, about: str, files: dict[str, bytes]) -> None:
    """Take a file of points into the site."""
    for path, content in files.items():
        (site / path).write_bytes(content)
    (site / "check.toml").write_text(settings_text(points=name, about_points=about))


def unspoiled() -> Iterator[Case]:
    """Yield the formats as they are: they must be read, or the spoiled ones show nothing."""
    for name, (_, about, _) in FORMATS.items():
        yield Case(f"points, {name}, sound", partial(_put_sound, name=name, about=about))


def _put_sound(site: Path, *, name: str, about: str) -> None:
    put(site, name=name, about=about, files=sound(name))


def _put_spoiled(site: Path, *, name: str, way: int) -> None:
    _, about, of_text = FORMATS[name]
    files = sound(name)
    # The parts of a shapefile are spoiled in turn.
    part = sorted(files)[way % len(files)]
    ways, count = (OF_TEXT, COUNT_OF_TEXT) if of_text else (OF_BYTES, COUNT_OF_BYTES)
    content = dict(enumerate(spoiled(files[part], ways, count, seed=list(FORMATS).index(name))))[way][1]
    put(site, name=name, about=about, files=files | {part: content})


def cases() -> Iterator[Case]:
    """Yield the spoiled files of points."""
    for name, (_, _, of_text) in FORMATS.items():
        for way in range(COUNT_OF_TEXT if of_text else COUNT_OF_BYTES):
            yield Case(f"points, {name}, {way}", partial(_put_spoiled, name=name, way=way))
    for word, text in WHOLE.items():
        files = {"points.csv": text.encode()}
        yield Case(f"points, {word}", partial(put, name="points.csv", about=CRS, files=files))
