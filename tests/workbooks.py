"""Workbooks as bytes, written by hand so that also the hostile ones can be."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape, quoteattr

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_OPEN = "urn:oasis:names:tc:opendocument:xmlns"
ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"


def packed(parts: Mapping[str, str | bytes]) -> bytes:
    """A zip archive of parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return out.getvalue()


def cell(reference: str, value: str = "", style: int = 0, form: str = "", formula: str = "") -> str:
    """One .xlsx cell: text unless a form ("n", "b", "e") says otherwise."""
    inner = f"<f>{escape(formula)}</f>" if formula else ""
    if not value:
        return f'<c r="{reference}" s="{style}">{inner}</c>'
    if form:
        return f'<c r="{reference}" s="{style}" t="{form}">{inner}<v>{escape(value)}</v></c>'
    return f'<c r="{reference}" t="inlineStr"><is><t>{escape(value)}</t></is></c>'


def row(number: int, *cells: str) -> str:
    """One .xlsx row."""
    return f'<row r="{number}">{"".join(cells)}</row>'


def table(rows: Sequence[Sequence[str]]) -> str:
    """Rows of text from A1 on."""
    return "".join(
        row(number, *(cell(f"{chr(65 + place)}{number}", text) for place, text in enumerate(texts)))
        for number, texts in enumerate(rows, 1)
    )


def xlsx_parts(sheets: Mapping[str, str], states: Mapping[str, str] | None = None) -> dict[str, str | bytes]:
    """Parts of an .xlsx workbook; styles 1 and 2 are a day and a day with its time, 3 to 5 percent, the last
    with a sign that is only shown."""
    states = states or {}
    named = "".join(
        f'<sheet name={quoteattr(name)} sheetId="{i}" state="{states.get(name, "visible")}" r:id="r{i}"/>'
        for i, name in enumerate(sheets, 1)
    )
    links = "".join(
        f'<Relationship Id="r{i}" Type="{_OFFICE}/worksheet" Target="worksheets/sheet{i}.xml"/>'
        for i in range(1, len(sheets) + 1)
    )
    parts: dict[str, str | bytes] = {
        "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types"/>',
        "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="r1" '
        f'Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>{named}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">{links}'
        f'<Relationship Id="rs" Type="{_OFFICE}/styles" Target="styles.xml"/></Relationships>',
        "xl/styles.xml": f'<styleSheet xmlns="{_MAIN}"><numFmts count="2"><numFmt numFmtId="164" formatCode="0.0%"/>'
        '<numFmt numFmtId="165" formatCode="0&quot;%&quot;"/></numFmts><cellStyleXfs><xf numFmtId="9"/></cellStyleXfs>'
        '<cellXfs count="6"><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="22"/><xf numFmtId="9"/>'
        '<xf numFmtId="164"/><xf numFmtId="165"/></cellXfs></styleSheet>',
    }
    for i, content in enumerate(sheets.values(), 1):
        parts[f"xl/worksheets/sheet{i}.xml"] = (
            f'<worksheet xmlns="{_MAIN}"><sheetData>{content}</sheetData></worksheet>'
        )
    return parts


def xlsx(sheets: Mapping[str, str], states: Mapping[str, str] | None = None) -> bytes:
    """An .xlsx workbook of sheets written with `row`, `cell` or `table`."""
    return packed(xlsx_parts(sheets, states))


def ods(sheets: Mapping[str, str], manifest: str = "") -> bytes:
    """An .ods workbook; a sheet is its `table:table-row` elements."""
    tables = "".join(
        f"<table:table table:name={quoteattr(name)}>{rows}</table:table>" for name, rows in sheets.items()
    )
    content = (
        f'<office:document-content xmlns:office="{_OPEN}:office:1.0" xmlns:table="{_OPEN}:table:1.0" '
        f'xmlns:text="{_OPEN}:text:1.0"><office:body><office:spreadsheet>{tables}'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    listed = f'<manifest:manifest xmlns:manifest="{_OPEN}:manifest:1.0">{manifest}</manifest:manifest>'
    return packed({"mimetype": ODS_TYPE, "content.xml": content, "META-INF/manifest.xml": listed})


def ods_row(*texts: str, repeated: int = 1) -> str:
    """One .ods row of text; "" is an empty cell."""
    cells = "".join(
        f'<table:table-cell office:value-type="string"><text:p>{escape(text)}</text:p></table:table-cell>'
        if text
        else "<table:table-cell/>"
        for text in texts
    )
    return f'<table:table-row table:number-rows-repeated="{repeated}">{cells}</table:table-row>'
