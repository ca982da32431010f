"""Small files that no text editor writes: workbooks and drawings, byte by byte from their specifications.

Nothing here leans on the libraries that read them. All points are invented.
"""

import zipfile
from xml.sax.saxutils import escape, quoteattr

HEADER = ("id", "easting", "northing", "height")
ROWS = (("CP1", 431250.118, 5412380.472, 212.34), ("CP2", 431377.905, 5412391.016, 211.982))

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"


class Raw(str):
    """XML of a whole cell, as it is."""

    __slots__ = ()


def letters(column):
    """Return the letters of a column, counted from 0 and fewer than 26."""
    return chr(ord("A") + column)


def xlsx_rows(rows, first=1):
    """Return the rows of a sheet as XML: ECMA-376, part 1, section 18.3.1."""
    text = ""
    for number, row in enumerate(rows, start=first):
        cells = "".join(_xlsx_cell(cell, f"{letters(column)}{number}") for column, cell in enumerate(row))
        text += f'<row r="{number}">{cells}</row>'
    return text


def _xlsx_cell(cell, place):
    if cell is None:
        return ""
    if isinstance(cell, Raw):
        return cell.replace("<c", f'<c r="{place}"', 1)
    if isinstance(cell, str):
        return f'<c r="{place}" t="inlineStr"><is><t>{escape(cell)}</t></is></c>'
    return f'<c r="{place}"><v>{cell!r}</v></c>'


def write_xlsx(path, sheets, *, hidden=(), extra=None):
    """Write a workbook; `sheets` gives name → rows, or the XML of all rows; `extra` further parts."""
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types"/>',
        "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
        f'Type="{_LINKS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_LINKS}"><sheets>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">',
    }
    for number, (name, rows) in enumerate(sheets.items(), start=1):
        state = ' state="hidden"' if name in hidden else ""
        parts["xl/workbook.xml"] += (
            f'<sheet name={quoteattr(name)} sheetId="{number}"{state} r:id="rId{number}"/>'
        )
        parts["xl/_rels/workbook.xml.rels"] += (
            f'<Relationship Id="rId{number}" Type="{_LINKS}/worksheet" '
            f'Target="worksheets/sheet{number}.xml"/>'
        )
        content = rows if isinstance(rows, str) else xlsx_rows(rows)
        parts[f"xl/worksheets/sheet{number}.xml"] = (
            f'<worksheet xmlns="{_MAIN}"><sheetData>{content}</sheetData></worksheet>'
        )
    parts["xl/workbook.xml"] += "</sheets></workbook>"
    parts["xl/_rels/workbook.xml.rels"] += "</Relationships>"
    _write_zip(path, parts | (extra or {}))
    return path


def write_ods(path, sheets, *, hidden=()):
    """Write a workbook: OpenDocument 1.3, part 3, section 9; `sheets` gives name → rows or their XML."""
    names = ("office", "table", "text", "style")
    spaces = " ".join(f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in names)
    text = (
        f'<office:document-content {spaces} xmlns:calcext="urn:invented:calcext"><office:automatic-styles>'
        f'<style:style style:name="hidden" style:family="table"><style:table-properties '
        f'table:display="false"/></style:style></office:automatic-styles><office:body><office:spreadsheet>'
    )
    for name, rows in sheets.items():
        style = ' table:style-name="hidden"' if name in hidden else ""
        content = rows if isinstance(rows, str) else "".join(map(ods_row, rows))
        text += f"<table:table table:name={quoteattr(name)}{style}>{content}</table:table>"
    text += "</office:spreadsheet></office:body></office:document-content>"
    _write_zip(path, {"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": text})
    return path


def ods_row(row):
    """Return a row as XML."""
    return f"<table:table-row>{''.join(map(_ods_cell, row))}</table:table-row>"


def _ods_cell(cell):
    if cell is None:
        return "<table:table-cell/>"
    if isinstance(cell, Raw):
        return cell
    if isinstance(cell, str):
        return (
            f'<table:table-cell office:value-type="string"><text:p>{escape(cell)}</text:p></table:table-cell>'
        )
    # A reader must take the value, not the rounded text.
    return (
        f'<table:table-cell office:value-type="float" office:value="{cell!r}"><text:p>{cell:.0f}</text:p>'
        f"</table:table-cell>"
    )


def _write_zip(path, parts):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)


def write_dxf(path, *entities):
    """Write a drawing of these entities: pairs of group code and value, as in the DXF reference."""
    head = [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009"), (0, "ENDSEC")]
    head += [(0, "SECTION"), (2, "BLOCKS"), (0, "BLOCK"), (8, "0"), (2, "MARK"), (70, 2), *at(0, 0, 0)]
    head += [(0, "LINE"), (8, "0"), (10, -1), (20, 0), (11, 1), (21, 0), (0, "ENDBLK"), (8, "0")]
    pairs = [*head, (0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES")]
    pairs += [pair for entity in entities for pair in entity] + [(0, "ENDSEC"), (0, "EOF")]
    path.write_text("".join(f"{code:>3}\n{value}\n" for code, value in pairs), encoding="utf-8")
    return path


def at(*place):
    """Return the group codes of a position."""
    return [(10 * (axis + 1), value) for axis, value in enumerate(place)]


def point(*place, layer="SURVEY", paper=False):
    """Return a POINT."""
    return [(0, "POINT"), (8, layer), *([(67, 1)] if paper else []), *at(*place)]


def label(text, *place, layer="LABELS"):
    """Return a TEXT."""
    return [(0, "TEXT"), (8, layer), *at(*place), (40, 1), (1, text)]


def block(attributes, *place, layer="SURVEY"):
    """Return an INSERT with attributes."""
    entity = [(0, "INSERT"), (8, layer), (66, 1), (2, "MARK"), *at(*place)]
    for tag, value in attributes.items():
        entity += [(0, "ATTRIB"), (8, layer), *at(0, 0, 0), (40, 1), (1, value), (2, tag), (70, 0)]
    return [*entity, (0, "SEQEND"), (8, layer)]
