"""Workbooks: every acceptance, and one spoiled workbook for every refusal. All points are invented.

Workbooks are written by GDAL, or byte by byte from ECMA-376 and OpenDocument 1.3 (`files.py`).
"""

import csv
import io
import zipfile

import numpy as np
import pandas
import pyogrio
import pytest

from geoqa.errors import InputError
from geoqa.readers.points import PointsRequest, read_points
from geoqa.readers.points._xlsx_book import _is_date
from geoqa.readers.points.workbook import READER
from geoqa.units import LinearUnit
from tests.readers.points.files import HEADER, ROWS, Raw, ods_row, write_ods, write_xlsx, xlsx_rows

WRITERS = {"points.xlsx": write_xlsx, "points.ods": write_ods}
COORDINATES = [row[1:] for row in ROWS]


def read(path, **request):
    return read_points(str(path), PointsRequest(**request))


def message(path, **request):
    with pytest.raises(InputError) as caught:
        read(path, **request)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith(path.name)
    return str(caught.value)


@pytest.fixture(params=WRITERS)
def write(request, tmp_path):
    """Return a function that writes a workbook of either kind."""

    def write_book(sheets, **options):
        return WRITERS[request.param](tmp_path / request.param, sheets, **options)

    return write_book


@pytest.mark.parametrize(("name", "driver"), [("points.xlsx", "XLSX"), ("points.ods", "ODS")])
def test_example_is_read_from_a_workbook_that_gdal_wrote(tmp_path, name, driver):
    table = pandas.DataFrame(list(csv.DictReader(io.StringIO(READER.example))))
    for column in ("Punkt", "Rechtswert", "Hochwert", "Höhe"):
        table[column] = pandas.to_numeric(table[column])
    table["time"] = pandas.to_datetime(["2026-05-01 10:15:30"] * 4)
    pyogrio.write_dataframe(table, tmp_path / name, driver=driver)
    points = read(tmp_path / name)
    assert points.ids == ("101", "102", "103", "104")
    np.testing.assert_array_equal(points.coordinates[0], [431250.118, 5412380.472, 212.34])
    assert np.isnan(points.coordinates[2, 2])
    np.testing.assert_array_equal(points.lines, [2, 3, 4, 5])
    assert points.attributes["description"][1] == "invented track"
    assert points.attributes["time"][0] == "2026-05-01T10:15:30"
    assert points.notes == ()


def test_numbers_are_exact_and_whole_ones_have_no_decimals(write):
    points = read(write({"S": [HEADER, (1.0, 431250.1180000001, 5412380, -0.5), ("007", 0.1, 1e-3, None)]}))
    assert points.ids == ("1", "007")
    np.testing.assert_array_equal(
        points.coordinates, [[431250.1180000001, 5412380, -0.5], [0.1, 1e-3, np.nan]]
    )


def test_seventeen_digits_of_a_program_are_the_number_that_was_typed(tmp_path):
    cell = Raw("<c><v>5412380.4719999997</v></c>")
    path = write_xlsx(
        tmp_path / "points.xlsx", {"S": [("id", "easting", "northing", "note"), ("A", 1, cell, cell)]}
    )
    assert read(path).attributes["note"] == ("5412380.472",)


def test_header_may_stand_below_a_title_and_beside_empty_columns(write):
    title = (None, "Invented site, 1 May 2026")
    rows = [
        title,
        (None,),
        (None, *HEADER[:2], None, *HEADER[2:]),
        *[(None, *r[:2], None, *r[2:]) for r in ROWS],
    ]
    points = read(write({"S": rows}))
    np.testing.assert_array_equal(points.coordinates, COORDINATES)
    np.testing.assert_array_equal(points.lines, [4, 5])
    assert points.ids == ("CP1", "CP2")


def test_empty_rows_keep_the_row_numbers(write):
    points = read(write({"S": [HEADER, ROWS[0], (None,), ROWS[1]]}))
    np.testing.assert_array_equal(points.lines, [2, 4])
    assert points.origin(1).startswith("points.")


def test_numbers_as_text_with_a_decimal_comma_are_read(write):
    points = read(write({"S": [HEADER, ("A", "431250,118", "5412380,472", "212,34")]}))
    np.testing.assert_array_equal(points.coordinates, [COORDINATES[0]])


def test_columns_units_and_words_follow_the_rules_of_a_table(write):
    rows = [("Nr", "Y [ft]", "X [ft]", "cover"), (1, 10, 20, "Hard")]
    points = read(write({"S": rows}), columns={"easting": "Y [ft]", "northing": "X [ft]"})
    np.testing.assert_array_equal(points.coordinates[0, :2], [10, 20])
    assert points.unit is LinearUnit.FOOT
    assert points.covers == ("hard",)


def test_the_one_sheet_with_a_position_is_taken_and_named(write):
    book = {"Crew": [("name", "description"), ("A", "invented")], "Points": [HEADER, *ROWS]}
    points = read(write(book))
    assert points.ids == ("CP1", "CP2")
    assert points.notes == (f"{points.source}: the points come from the sheet “Points”.",)


def test_hidden_and_empty_sheets_do_not_count(write):
    book = {"Old": [HEADER, *ROWS], "Points": [HEADER, *ROWS], "Empty": []}
    assert read(write(book, hidden={"Old"})).notes == ()


def test_several_sheets_with_a_position_are_refused(write):
    found = message(write({"A": [HEADER, *ROWS], "B": [HEADER, *ROWS], "C": [("x",)]}))
    assert "several sheets may hold the points, “A”, “B”." in found


def test_sheet_is_a_list_where_a_layout_is_named(write):
    points = read(write({"S": ROWS}), layout="PENZ")
    np.testing.assert_array_equal(points.coordinates, COORDINATES)
    np.testing.assert_array_equal(points.lines, [1, 2])
    found = message(write({"S": ROWS, "T": [("x",)]}), layout="PENZ")
    assert "several sheets" in found


def test_sheet_without_ids_is_named_by_file_and_row(write):
    points = read(write({"S": [HEADER[1:], *[row[1:] for row in ROWS]]}))
    assert points.ids == ("points:2", "points:3")
    assert "named by file and row" in points.notes[0]


REFUSED = {
    "no header": ({"S": ROWS}, ["no sheet has a header row", "“S”"]),
    "nothing": ({"S": []}, ["no visible sheet"]),
    "x and y": (
        {"S": [("id", "x", "y", "z"), ("A", 1, 2, 3)]},
        ["sheet “S”, row 1", "“x”, “y”", "which is east"],
    ),
    "header only": ({"S": [HEADER]}, ["sheet “S”, row 1", "there are no points"]),
    "empty cell": ({"S": [HEADER, ("A", None, 2, 3)]}, ["row 2, column “easting”", "empty"]),
    "text in a number": ({"S": [HEADER, ("A", 1, "north", 3)]}, ["row 2, column “northing”", "“north”"]),
    "cell beside the table": (
        {"S": [HEADER, (*ROWS[0], "sum")]},
        ["row 2: the row has 5 cells, the header 4", "beside the table"],
    ),
    "comma and point": ({"S": [HEADER, ("A", "1,5", 2.5, 3)]}, ["“1,5”", "“2.5”"]),
    "ids that may be": ({"S": [("code", *HEADER[1:]), *ROWS]}, ["ids", "“code”"]),
}


@pytest.mark.parametrize("name", REFUSED)
def test_spoiled_workbook_is_refused_in_one_sentence(write, name):
    sheets, parts = REFUSED[name]
    found = message(write(sheets))
    for part in parts:
        assert part in found


@pytest.mark.parametrize("shown", ["#N/A", "#REF!", "#DIV/0!"])
def test_error_in_a_cell_is_not_an_empty_cell(tmp_path, shown):
    # ECMA-376, part 1, section 18.18.11: type e. OpenDocument programs write such a cell as text or as 0.
    cell = Raw(f'<c t="e"><f>1/0</f><v>{shown}</v></c>')
    path = write_xlsx(tmp_path / "points.xlsx", {"S": [HEADER, (*ROWS[0][:3], cell)]})
    assert f"row 2, column “height”: “{shown}” is not a number" in message(path)
    for value in (
        'office:value-type="string" office:string-value=""',
        'office:value-type="float" office:value="0"',
    ):
        for mark in ('calcext:value-type="error"', ""):
            cell = Raw(
                f'<table:table-cell table:formula="of:=1/0" {value} {mark}><text:p>{shown}</text:p>'
                f"</table:table-cell>"
            )
            path = write_ods(tmp_path / "points.ods", {"S": [HEADER, (*ROWS[0][:3], cell)]})
            assert f"row 2, column “height”: “{shown}” is not a number" in message(path)


def test_error_that_an_ods_file_marks_may_show_any_word(tmp_path):
    cell = Raw(
        '<table:table-cell office:value-type="float" office:value="0" calcext:value-type="error">'
        "<text:p>Fehler</text:p></table:table-cell>"
    )
    path = write_ods(tmp_path / "points.ods", {"S": [HEADER, (*ROWS[0][:3], cell)]})
    assert "“Fehler” is not a number" in message(path)


def test_formula_that_was_never_computed_is_not_an_empty_cell(tmp_path):
    path = write_xlsx(tmp_path / "a.xlsx", {"S": [HEADER, (*ROWS[0][:3], Raw("<c><f>C2+1</f></c>"))]})
    assert "row 2, column “height”: “(formula without a value)”" in message(path)
    computed = Raw("<c><f>C2+1</f><v>212.34</v></c>")
    path = write_xlsx(tmp_path / "b.xlsx", {"S": [HEADER, (*ROWS[0][:3], computed)]})
    assert read(path).coordinates[0, 2] == 212.34


def test_shared_strings_dates_and_truth_values_become_text(tmp_path):
    main = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    strings = (
        f"<sst {main}><si><t>id</t></si><si><r><t>CP</t></r><r><t xml:space='preserve'> 1</t></r>"
        f"<rPh sb='0' eb='1'><t>spoken</t></rPh></si></sst>"
    )
    styles = (
        f'<styleSheet {main}><numFmts><numFmt numFmtId="164" formatCode="dd/mm/yyyy;@"/></numFmts>'
        f'<cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="164"/>'
        f'<xf numFmtId="22"/><xf numFmtId="20"/></cellXfs></styleSheet>'
    )
    kinds = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    path = write_xlsx(
        tmp_path / "points.xlsx",
        {
            "S": [
                (Raw('<c t="s"><v>0</v></c>'), "easting", "northing", "a", "b", "c", "d"),
                (
                    *(Raw('<c t="s"><v>1</v></c>'), 1, 2),
                    # ECMA-376, part 1, section 18.17.4.1: days since 30 December 1899 after February 1900;
                    # 1 May 2026 is day 46143 (from memory: 1 January 2000 is day 36526; 9617 days later).
                    *(Raw('<c s="1"><v>46143</v></c>'), Raw('<c s="2"><v>46143.4274305556</v></c>')),
                    *(Raw('<c s="3"><v>0.5</v></c>'), Raw('<c t="b"><v>1</v></c>')),
                ),
            ]
        },
        extra={"xl/sharedStrings.xml": strings, "xl/styles.xml": styles},
    )
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name).decode() for name in archive.namelist()}
    links = "".join(
        f'<Relationship Id="x{name}" Type="{kinds}/{name}" Target="/xl/{name}.xml"/>'
        for name in ("sharedStrings", "styles")
    )
    parts["xl/_rels/workbook.xml.rels"] = parts["xl/_rels/workbook.xml.rels"].replace(
        "</Relationships>", f"{links}</Relationships>"
    )
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    points = read(path)
    assert points.ids == ("CP 1",)
    assert {name: cells[0] for name, cells in points.attributes.items()} == {
        "a": "2026-05-01",
        "b": "2026-05-01T10:15:30",
        "c": "12:00:00",
        "d": "true",
    }


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        *(("dd/mm/yyyy", True), ("[h]:mm:ss", True), ("yyyy-mm-dd;@", True), ("0.000", False)),
        *(('0.00" m"', False), ("General", False), ("[Red]0.00", False), (r"0.0\d", False), ("", False)),
    ],
)
def test_format_of_a_number_tells_dates_from_lengths(code, expected):
    assert _is_date(code) is expected


def test_text_of_an_ods_cell_is_put_together_without_its_remark(tmp_path):
    cell = Raw(
        '<table:table-cell office:value-type="string"><office:annotation><text:p>remark</text:p>'
        '</office:annotation><text:p>a<text:s text:c="2"/>b<text:span>c</text:span></text:p>'
        "<text:p>d</text:p></table:table-cell>"
    )
    path = write_ods(
        tmp_path / "points.ods", {"S": [("id", "easting", "northing", "note"), ("A", 1, 2, cell)]}
    )
    assert read(path).attributes["note"] == ("a  bc\nd",)


def test_rows_and_cells_of_an_ods_file_that_repeat_are_counted(tmp_path):
    empty = '<table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
    gap = f'<table:table-row table:number-rows-repeated="3">{empty}'
    twice = (
        '<table:table-row><table:table-cell office:value-type="string"><text:p>A</text:p></table:table-cell>'
        '<table:table-cell table:number-columns-repeated="2" office:value-type="float" office:value="7.5"/>'
        '<table:table-cell office:value-type="float" office:value="3"/></table:table-row>'
    )
    end = f'<table:table-row table:number-rows-repeated="1048000">{empty}'
    path = write_ods(tmp_path / "points.ods", {"S": ods_row(HEADER) + gap + twice + end})
    points = read(path)
    np.testing.assert_array_equal(points.coordinates, [[7.5, 7.5, 3]])
    np.testing.assert_array_equal(points.lines, [5])


def test_sheet_of_absurd_size_is_refused_at_once(tmp_path):
    rows = xlsx_rows([HEADER, *ROWS]) + '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
    assert "row 1048576 and column 16384" in message(write_xlsx(tmp_path / "a.xlsx", {"S": rows}))
    many = (
        '<table:table-row table:number-rows-repeated="1048576"><table:table-cell '
        'table:number-columns-repeated="16384" office:value-type="float" office:value="1"/></table:table-row>'
    )
    assert "row 1048576 and column 16384" in message(write_ods(tmp_path / "a.ods", {"S": many}))
    wide = '<row r="1000"><c r="XFD1000"><v>1</v></c></row>'
    assert "row 1000 and column 16384" in message(write_xlsx(tmp_path / "c.xlsx", {"S": wide}))
    tall = xlsx_rows([("A", 1)], first=1_000_001)
    assert "row 1000001" in message(write_xlsx(tmp_path / "b.xlsx", {"S": tall}))


@pytest.mark.parametrize("declared", [None, 100])
def test_workbook_that_unpacks_without_end_is_refused(tmp_path, declared):
    path = write_xlsx(
        tmp_path / "points.xlsx", {"S": [HEADER, *ROWS]}, extra={"xl/media.bin": bytes(201_000_000)}
    )
    if declared is not None:
        # The size that an entry declares stands behind its name in the folder of the archive: 24 bytes in.
        content = bytearray(path.read_bytes())
        entry = content.rindex(b"PK\x01\x02", 0, content.rindex(b"xl/media.bin"))
        content[entry + 24 : entry + 28] = declared.to_bytes(4, "little")
        path.write_bytes(content)
    assert "unpacks to more than 200 MB" in message(path)


def test_document_type_in_a_part_is_refused(tmp_path):
    part = '<!DOCTYPE sst [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><workbook>&b;</workbook>'
    path = write_xlsx(tmp_path / "points.xlsx", {"S": [HEADER, *ROWS]})
    with zipfile.ZipFile(path, "a") as archive, pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr("xl/workbook.xml", part)
    assert "document type" in message(path)


@pytest.mark.parametrize(
    ("name", "content", "part"),
    [
        ("a.xlsx", b"id,easting,northing\nA,1,2\n", "name it .csv"),
        ("a.xlsx", b"PK\x03\x04" + bytes(200), "no workbook"),
        (
            "a.xls",
            bytes.fromhex("D0CF11E0A1B11AE1") + bytes(600),
            "Excel before 2007, or one with a password. Save it as .xlsx",
        ),
        ("a.ods", b"\x00\x01\x02", "no workbook"),
    ],
)
def test_file_that_is_no_workbook_is_refused(tmp_path, name, content, part):
    (tmp_path / name).write_bytes(content)
    assert part.casefold() in message(tmp_path / name).casefold()


def test_archive_without_a_workbook_is_refused(tmp_path):
    path = tmp_path / "points.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("word/document.xml", "<document/>")
    assert "this is no workbook" in message(path)


def test_damaged_workbook_is_refused(tmp_path, write):
    path = write({"S": [HEADER, *ROWS]})
    content = path.read_bytes()
    path.write_bytes(content.replace(content[120:130], bytes(10)))
    assert "damaged" in message(path)
    path.write_bytes(content[: len(content) // 2])
    assert "no workbook" in message(path)


def test_part_that_is_cut_short_or_missing_is_refused(tmp_path):
    assert "damaged" in message(write_xlsx(tmp_path / "a.xlsx", {"S": "<row><c><v>1</v></c>"}))
    path = write_xlsx(tmp_path / "b.xlsx", {"S": [HEADER, *ROWS]})
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist() if "sheet1" not in name}
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    assert "the sheet “S” is missing" in message(path)
