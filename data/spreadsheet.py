"""Spreadsheets (.xlsx, .ods) → the CSV files that their sheets would have been, read as any upload.

A workbook is a zip archive of XML, and a small one can unfold to fill a machine. It is therefore unpacked here
within bounds, each part is looked through before anything is built from it, and only the plain XML parts are
handed on to the reader: macros, pictures, links to other files and embedded objects never get that far.
Formulas count as the values that were stored with them. Of what a cell looks like only one thing is asked, whether
it is shown in percent: the file keeps 0.4 where its sender reads 40 %.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
import zlib
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from xml.parsers import expat

import python_calamine as calamine

from data import forms, headings, problems, schema, upload
from data.upload import Limits, Upload

ENDINGS = (".csv", *problems.WORKBOOKS)  # of the files of a club
UNPACKED = 40 << 20
RATIO = 200  # sheets of real clubs pack 5 to 30 times smaller
RATIO_FROM = 1 << 20
PARTS = 1_000
SHEETS = 40
CELLS = 2_000_000
DROPPED = ("externallinks", "embeddings", "media", "object", "pictures", "customxml", "scripts", "basic")
SAVE_AS_CSV = "Save the sheet as CSV (UTF-8) and send that."
MOMENTS = {
    name
    for stem in schema.FILES
    for name, column in schema.columns(stem).items()
    if column.form == forms.MOMENT
}
PERCENTS = {"9", "10"}  # formats that every .xlsx has without naming them: 0% and 0.00%
FAILED = re.compile(rb"""(<(?:\w+:)?c\s[^<>]*?\bt=["'])e(["'])""")
LITERAL = re.compile(r'"[^"]*"|\\.')  # of a format: shown as it stands


class WorkbookError(Exception):
    """A workbook cannot be taken: `problem` says what it is, `fix` what to do."""

    def __init__(self, problem: str, fix: str = SAVE_AS_CSV) -> None:
        super().__init__(problem)
        self.problem, self.fix = problem, fix


def read_files(
    name: str, payload: bytes, limits: Limits = upload.UPLOAD, aliases: upload.Aliases = upload.NO_ALIASES
) -> list[Upload]:
    """Everything that one file holds: a CSV file itself, or each sheet of a workbook that has known headings.

    A sheet's upload is called `<file>, sheet <sheet>`; its lines are the rows of the sheet, and its payload is
    the sheet as CSV. A workbook that cannot be taken gives one upload with the reason as its problem.
    """
    if not payload.startswith(b"PK"):
        return [upload.read(name, payload, limits=limits, aliases=aliases)]
    try:
        if len(payload) > limits.size:
            raise WorkbookError(
                f"the file has {len(payload):,} bytes; {limits.size:,} are allowed",
                "Send the sheets in several files.",
            )
        sheets = _sheets(_plain_parts(payload, limits), limits)
        return _known(name, sheets, limits, aliases)
    except WorkbookError as error:
        return [upload.refused(name, payload, error.problem, error.fix)]


def _known(
    name: str, sheets: Sequence[tuple[str, bytes]], limits: Limits, aliases: upload.Aliases
) -> list[Upload]:
    found, passed = [], []
    for sheet, payload in sheets:
        sheet = sheet.replace("/", " ").replace("\\", " ")  # a name, and no path
        stem = sheet.strip().casefold().removesuffix(".csv")
        kind = stem if stem in schema.FILES else None
        read = upload.read(f"{name}{problems.SHEET}{sheet}", payload, kind, limits, aliases)
        if read.stem:
            found.append(read)
        else:
            passed.append(sheet)
    if not found and len(passed) == 1:
        return [read]
    if not found:
        names = ", ".join(schema.FILES)
        raise WorkbookError(
            "no sheet has headings that are known",
            f"Write the headings of a blank list in the first row of a sheet, or name the sheet: {names}.",
        )
    if passed:
        notice = f"Sheets without known headings were passed over: {', '.join(passed)}."
        found[0] = replace(found[0], notices=[*found[0].notices, notice])
    return found


# ---- the archive


def _plain_parts(payload: bytes, limits: Limits) -> bytes:
    """The workbook packed anew with nothing in it but XML parts that were looked through.

    Raises
    ------
    WorkbookError
        It is damaged, locked, no workbook, or unfolds to more than a sheet of a club could hold.
    """
    out = io.BytesIO()
    try:
        with zipfile.ZipFile(io.BytesIO(payload)) as archive, zipfile.ZipFile(out, "w") as plain:
            parts = archive.infolist()
            _check_directory(parts)
            for part in parts:
                if not _is_wanted(part.filename):
                    continue
                content = archive.read(part)
                _look_through(content, limits)
                plain.writestr(part.filename, _with_errors(content))
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError, RuntimeError) as error:
        raise WorkbookError("the file is damaged or no spreadsheet") from error
    return out.getvalue()


def _with_errors(content: bytes) -> bytes:
    """A part in which a formula that went wrong tells what its sender reads there, as #N/A; the reader would leave it empty."""
    return FAILED.sub(rb"\1str\2", content).replace(b' office:string-value=""', b"")


def _check_directory(parts: Sequence[zipfile.ZipInfo]) -> None:
    if len(parts) > PARTS:
        raise WorkbookError(f"the spreadsheet has {len(parts):,} parts; {PARTS:,} are allowed")
    if any(part.flag_bits & 1 for part in parts):
        raise WorkbookError("the file is locked with a password", "Save it without a password.")
    total = sum(part.file_size for part in parts)
    if total > UNPACKED:
        raise WorkbookError(f"the spreadsheet unfolds to {total:,} bytes; {UNPACKED:,} are allowed")
    for part in parts:
        if part.file_size > RATIO_FROM and part.file_size > RATIO * max(part.compress_size, 1):
            raise WorkbookError("the spreadsheet unfolds to far more than it seems to hold")


def _is_wanted(part: str) -> bool:
    folders = part.casefold().split("/")[:-1]
    is_dropped = any(folder.startswith(DROPPED) for folder in folders)
    return part == "mimetype" or (part.casefold().endswith((".xml", ".rels")) and not is_dropped)


def _look_through(content: bytes, limits: Limits) -> None:
    """See that a part declares no entities, is not locked, and holds no cell far out that would be padded to."""
    if content[:1] != b"<" and not content.lstrip(b"\xef\xbb\xbf\xff\xfe \r\n\t").startswith(b"<"):
        return
    extent = _Extent(limits)
    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = extent.doctype
    parser.StartElementHandler = extent.start
    parser.EndElementHandler = extent.end
    try:
        parser.Parse(content, True)
    except expat.ExpatError as error:
        raise WorkbookError("the file is damaged or no spreadsheet") from error


class _Extent:
    """How far the filled cells of one part reach, in either form of workbook."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._row = self._column = 0  # of the last row begun and the last cell in it
        self._repeated = 1  # times the row stands there
        self._filled = 0  # last filled cell of the row
        self._widest = 0
        self._cell: tuple[int, int] | None = None  # where an .ods cell begins, and how many alike

    @staticmethod
    def doctype(*_: object) -> None:
        raise WorkbookError("the spreadsheet declares entities of its own, which is never needed")

    def start(self, name: str, told: dict[str, str]) -> None:
        of = name.rpartition(":")[2]
        told = {key.rpartition(":")[2]: value for key, value in told.items()}
        if of == "encryption-data":
            raise WorkbookError("the file is locked with a password", "Save it without a password.")
        if of == "row":
            self._row, self._column = _number(told.get("r"), self._row + 1), 0
        elif of == "c" and self._row:
            row, column = _place(told.get("r", ""))
            self._row, self._column = row or self._row, column or self._column + 1
        elif of in ("v", "is") and self._column:
            self._see(self._row, self._column)
        elif of in ("table", "sheetData"):
            self._row = self._column = self._widest = 0
        elif of == "table-row":
            self._row += 1
            self._repeated = _number(told.get("number-rows-repeated"), 1)
            self._column = self._filled = 0
        elif of in ("table-cell", "covered-table-cell"):
            alike = _number(told.get("number-columns-repeated"), 1)
            self._cell = (self._column + 1, alike)
            self._column += alike
            if "value-type" in told or "formula" in told:
                self._filled = self._column
        elif of == "p" and self._cell:
            self._filled = self._column

    def end(self, name: str) -> None:
        of = name.rpartition(":")[2]
        if of == "table-row":
            last = self._row + self._repeated - 1
            if self._filled:
                self._see(last, self._filled)
            self._row = last
        elif of in ("table-cell", "covered-table-cell"):
            self._cell = None

    def _see(self, row: int, column: int) -> None:
        self._widest = max(self._widest, column)
        rows = self._limits.rows + 1
        if row > rows:
            raise WorkbookError(
                f"a sheet is filled down to row {row:,}; {rows:,} are allowed",
                "Send the rows in several files.",
            )
        if column > headings.WIDEST:
            raise WorkbookError(
                f"a sheet is filled out to column {column:,}; {headings.WIDEST} are allowed",
                "Send only the columns that are asked for.",
            )
        if row * self._widest > CELLS:
            raise WorkbookError(
                f"a sheet spans more than {CELLS:,} cells", "Send only the rows and columns that are filled."
            )


def _number(text: str | None, otherwise: int) -> int:
    """A count of the file, at most what no sheet exceeds."""
    return min(int(text), 1 << 31) if text and text.isascii() and text.isdigit() else otherwise


def _place(reference: str) -> tuple[int, int]:
    """Row and column of a cell reference like `BC12`, 0 where it does not say."""
    letters = reference.rstrip("0123456789")
    column = 0
    for letter in letters[:8].upper():
        column = column * 26 + ord(letter) - 64 if "A" <= letter <= "Z" else column
    return _number(reference[len(letters) :], 0), column


# ---- the sheets


def _sheets(workbook: bytes, limits: Limits) -> list[tuple[str, bytes]]:
    """Name and CSV of each visible sheet that is not empty."""
    found: dict[str, bytes] = {}
    shares: dict[str, list[int]] = {}
    try:
        with calamine.load_workbook(io.BytesIO(workbook)) as book:
            visible = [
                told.name
                for told in book.sheets_metadata
                if told.visible == calamine.SheetVisibleEnum.Visible
                and told.typ == calamine.SheetTypeEnum.WorkSheet
            ]
            if len(visible) > SHEETS:
                raise WorkbookError(f"the spreadsheet has {len(visible):,} sheets; {SHEETS} are allowed")
            for name in visible:
                rows = _rows(book, name, limits)
                if any(cell not in ("", None) for row in rows for cell in row):
                    found[name] = _csv(rows)
                    shares[name] = _percentages(_heading(rows))
            asked = {name: places for name, places in shares.items() if places}
            in_percent = _percents(workbook, asked, limits)
            for name, places in in_percent.items():
                if places:
                    found[name] = _csv(_rows(book, name, limits), places)
    except (calamine.CalamineError, expat.ExpatError, ValueError, OSError) as error:
        raise WorkbookError("the file is damaged, or neither .xlsx nor .ods") from error
    return list(found.items())


def _rows(book: calamine.CalamineWorkbook, name: str, limits: Limits) -> Sequence[Sequence[object]]:
    """The rows of a sheet from A1 on."""
    return book.get_sheet_by_name(name).to_python(skip_empty_area=False, nrows=limits.rows + 2)


def _heading(rows: Sequence[Sequence[object]]) -> Sequence[object]:
    """The first row that is not empty."""
    return next((row for row in rows if any(str(cell).strip() for cell in row)), [])


def _csv(rows: Sequence[Sequence[object]], in_percent: Collection[tuple[int, int]] = ()) -> bytes:
    """A sheet as CSV whose line *n* is row *n* of the sheet.

    Parameters
    ----------
    in_percent : row and column, from 1, of the cells that are shown in percent
    """
    is_moment = [headings.plain_heading(str(cell))[0] in MOMENTS for cell in _heading(rows)]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    shares = {place for _, place in in_percent}
    for number, row in enumerate(rows, 1):
        texts = [_text(cell, moment) for cell, moment in zip(row, is_moment, strict=True)]
        for place in shares:
            if (number, place) in in_percent and isinstance(share := row[place - 1], float):
                texts[place - 1] = f"{share * 100:.12g} %"
        writer.writerow(texts)
    return out.getvalue().encode("utf-8")


def _percentages(heading: Sequence[object]) -> list[int]:
    """Where columns in % stand, from 1; the first of each name, as a second is refused."""
    found: dict[str, int] = {}
    for place, cell in enumerate(heading, 1):
        for stem in schema.FILES:
            name, columns = headings.name_of(str(cell), stem)[0], schema.columns(stem)
            if name in columns and columns[name].unit == "%":
                found.setdefault(name, place)
    return list(found.values())


def _text(cell: object, is_moment: bool) -> str:
    """A typed cell as a member would write it."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.12g}"
    if isinstance(cell, datetime):
        return f"{cell:%Y-%m-%dT%H:%M}" if is_moment else f"{cell:%Y-%m-%d}"
    if isinstance(cell, date):
        return f"{cell:%Y-%m-%dT00:00}" if is_moment else f"{cell:%Y-%m-%d}"
    return _one_line("" if cell is None else str(cell))


def _one_line(text: str) -> str:
    return " ".join(text.splitlines()) if "\n" in text or "\r" in text else text


# ---- what is shown in percent


Cells = set[tuple[int, int]]


def _percents(workbook: bytes, wanted: Mapping[str, Collection[int]], limits: Limits) -> dict[str, Cells]:
    """Row and column, from 1, of the cells that are shown in percent, by sheet.

    Parameters
    ----------
    wanted : columns that are asked about, by sheet
    """
    if not wanted:
        return {}
    with zipfile.ZipFile(io.BytesIO(workbook)) as parts:
        names = set(parts.namelist())
        if "content.xml" in names:
            cells = _OdsPercents(wanted, limits)
            _read(parts.read("content.xml"), cells.start)
            return cells.found
        styles = _percent_styles(parts.read("xl/styles.xml")) if "xl/styles.xml" in names else set()
        if not styles:
            return {}
        columns: dict[str, set[int]] = {}
        at = {sheet: part for sheet, part in _parts_of(parts).items() if sheet in wanted and part in names}
        for sheet, part in at.items():
            columns.setdefault(part, set()).update(wanted[sheet])
        found = {part: _styled(parts.read(part), styles, asked) for part, asked in columns.items()}
        return {sheet: found[part] for sheet, part in at.items()}


def _styled(content: bytes, styles: set[str], columns: set[int]) -> Cells:
    """The cells of some columns of one .xlsx sheet that have one of these styles."""
    found: Cells = set()
    row = column = 0

    def start(name: str, told: dict[str, str]) -> None:
        nonlocal row, column
        if name == "row":
            row, column = _number(told.get("r"), row + 1), 0
        elif name == "c":
            to_row, to_column = _place(told.get("r", ""))
            row, column = to_row or row, to_column or column + 1
            if column in columns and told.get("s", "0") in styles:
                found.add((row, column))

    _read(content, start)
    return found


def _read(content: bytes, start: Callable[[str, dict[str, str]], None]) -> None:
    """Go through a part; names are told without their prefixes."""

    def plain(name: str, told: dict[str, str]) -> None:
        start(name.rpartition(":")[2], {key.rpartition(":")[2]: value for key, value in told.items()})

    parser = expat.ParserCreate()
    parser.StartElementHandler = plain
    parser.Parse(content, True)


def _parts_of(parts: zipfile.ZipFile) -> dict[str, str]:
    """The part of an .xlsx file that holds each sheet, by its name."""
    links: dict[str, str] = {}
    targets: dict[str, str] = {}

    def start(name: str, told: dict[str, str]) -> None:
        if name == "sheet":
            links[told.get("name", "")] = told.get("id", "")
        elif name == "Relationship":
            targets[told.get("Id", "")] = told.get("Target", "")

    for part in ("xl/workbook.xml", "xl/_rels/workbook.xml.rels"):
        if part in parts.namelist():
            _read(parts.read(part), start)
    whole = {
        link: target[1:] if target.startswith("/") else f"xl/{target}" for link, target in targets.items()
    }
    return {sheet: whole[link] for sheet, link in links.items() if link in whole}


def _percent_styles(content: bytes) -> set[str]:
    """The numbers of the cell styles of an .xlsx file that show percent."""
    named: dict[str, str] = {}
    formats: list[str] = []
    is_of_cells = False

    def start(name: str, told: dict[str, str]) -> None:
        nonlocal is_of_cells
        if name in ("cellStyleXfs", "cellXfs"):
            is_of_cells = name == "cellXfs"
        elif name == "numFmt":
            named.setdefault(told.get("numFmtId", ""), told.get("formatCode", ""))
        elif name == "xf" and is_of_cells:
            formats.append(told.get("numFmtId", ""))

    _read(content, start)
    percent = PERCENTS | {number for number, code in named.items() if "%" in LITERAL.sub("", code)}
    return {str(style) for style, number in enumerate(formats) if number in percent}


class _OdsPercents:
    """The cells of some columns of .ods sheets that are shown in percent, by sheet."""

    def __init__(self, wanted: Mapping[str, Collection[int]], limits: Limits) -> None:
        self.found: dict[str, Cells] = {}
        self._wanted, self._last = wanted, limits.rows + 1
        self._sheet = ""  # "" where nothing is asked about it
        self._row = self._column = 0  # before the row, before the cell
        self._repeated = 0  # times the row stands there

    def start(self, name: str, told: dict[str, str]) -> None:
        if name == "table":
            sheet = told.get("name", "")
            self._sheet = sheet if sheet in self._wanted and sheet not in self.found else ""
            self._row = self._repeated = 0
            if self._sheet:
                self.found[sheet] = set()
        elif name == "table-row":
            self._row += self._repeated
            self._repeated, self._column = _number(told.get("number-rows-repeated"), 1), 0
        elif name in ("table-cell", "covered-table-cell") and self._sheet:
            alike = _number(told.get("number-columns-repeated"), 1)
            if told.get("value-type") == "percentage" and self._row + self._repeated <= self._last:
                rows = range(self._row + 1, self._row + 1 + self._repeated)
                columns = [place for place in self._wanted[self._sheet] if 0 < place - self._column <= alike]
                self.found[self._sheet].update((row, column) for row in rows for column in columns)
            self._column += alike
