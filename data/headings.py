"""The line of headings: where it stands, which column each heading means, and which file it tells."""

from __future__ import annotations

import csv
import difflib
import io
import itertools
import re
from collections.abc import Collection, Sequence
from functools import lru_cache

from data import cells, schema
from data.shown import shown_value

WIDEST = 300
DEEPEST = 30  # rows in which headings are looked for where the first holds none
# What stands between headings that were all read as one cell, as it is said.
BETWEEN = {
    ",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes (|)", ":": "colons", "^": "signs ^",
    "~": "signs ~", "/": "strokes (/)", " ": "spaces",
}  # fmt: skip
SHOWN = 5  # headings that are named where none is known
INTO_A_BLANK = (
    "Write what it says into a blank list, a row for each thing, save that as CSV (UTF-8) and send it; "
    'or fill it in on the page "what is in my kit?".'
)
# What stands in a row and is no heading: a number, a day, a call sign.
VALUE = re.compile(r"[-+]?\d+(?:[.,]\d+)?|\d{4}-\d\d-\d\d|(?i:[A-Z]{1,2}\d[A-Z]{1,4})")
# Columns that an annotated copy adds; they are passed over when the copy comes back.
ADDED = ("problem", "fix")
# What people write above columns of their own lists: it is asked about, and never taken for the column unasked.
OFTEN_WRITTEN = {
    column: frozenset(words.split())
    for column, words in {
        "member": "call callsign call_sign member_number member_no operator owner whose",
        "kit": "bag box case container go_bag kit_name",
        "item": "thing things gear equipment article device object what what_it_is name description item_name make maker model brand",
        "kind": "type category class sort item_type",
        "quantity": "qty number no count pieces pcs amount how_many",
        "condition": "status state works working",
        "dc_plug": "connector plug power_plug power_connector dc_connector",
        "rf_plug": "antenna_plug antenna_connector rf_connector",
        "rf_watts": "power power_w watts wattage tx_power",
        "capacity_ah": "capacity ah amp_hours battery_ah",
        "volts_max": "voltage volts",
        "acquired": "purchased bought year",
        "cost_usd": "cost price value",
    }.items()
}


def found(body: bytes) -> tuple[str, list[str], int]:
    """Delimiter, headings and their line: of , ; and tab the one that gives the most known headings."""
    start = body[: 1 << 20].decode("utf-8", errors="ignore")

    def rank(delimiter: str) -> tuple[int, int]:
        heading = first_row(start, delimiter)[0]
        names = (any(name_of(cell, stem)[0] for stem in schema.FILES) for cell in heading[:WIDEST])
        return sum(names), len(heading)

    delimiter = max(",;\t", key=rank)
    return delimiter, *first_row(start, delimiter)


def below(body: bytes, heading: Sequence[str]) -> tuple[int, str]:
    """Line and file of headings that stand below a title or other rows; 0 and "" where none do."""
    if _is_kit_list(heading) or any(len(_known(heading, stem)) > 1 for stem in schema.FILES):
        return 0, ""
    start = body[: 1 << 16].decode("utf-8", errors="ignore")
    for delimiter in ",;\t":
        reader = csv.reader(io.StringIO(start, newline=""), delimiter=delimiter)
        line = 1
        try:
            for row in itertools.islice(reader, DEEPEST):
                for stem in schema.FILES:
                    known = _known(row, stem)
                    if len(known) >= 3 and _needed(stem) <= known:
                        return line, stem
                if _is_kit_list(row):
                    return line, "inventory"
                line = reader.line_num + 1
        except csv.Error:
            continue
    return 0, ""


def _known(heading: Sequence[str], stem: str) -> set[str]:
    return {name_of(cell, stem)[0] for cell in heading[:WIDEST]} - {""}


def _needed(stem: str) -> set[str]:
    return {name for name, column in schema.columns(stem).items() if column.required}


def first_row(text: str, delimiter: str) -> tuple[list[str], int]:
    """The first row that is not empty, and its line."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 1
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                return row, line
            line = reader.line_num + 1
    except csv.Error:
        pass
    return [], line


def in_one_cell(heading: Sequence[str]) -> tuple[str, list[str]]:
    """What stands between headings that were all read as one cell, as it is said, and these headings; "" where none does.

    Two that are known tell it; of words with spaces between, as people write one heading, three.
    """
    filled = [cell for cell in heading if cell.strip()]
    if len(filled) != 1:
        return "", []
    for sign, said in BETWEEN.items():
        parts = [part.strip(" \"'") for part in filled[0].split(sign)]
        known = (sum(bool(name_of(part, stem)[0]) for part in parts[:WIDEST]) for stem in schema.FILES)
        if max(known) >= (3 if sign == " " else 2):
            return said, parts
    return "", []


def plain_heading(heading: str) -> tuple[str, str]:
    """Heading as a column name, and the unit that stood in brackets behind it."""
    text, unit = heading.strip(), ""
    if text.endswith((")", "]")):
        text, _, unit = text[:-1].replace("[", "(").rpartition("(")
    return re.sub(r"[\s_-]+", "_", text.casefold()).strip("_"), unit.strip()


@lru_cache(maxsize=4096)
def name_of(heading: str, stem: str) -> tuple[str, str]:
    """Column that a heading stands for (also a converted one), or "" and why not."""
    columns = schema.columns(stem)
    text, unit = plain_heading(heading)
    known = [*columns, *schema.converted(stem)]
    joined = f"{text}_{unit.casefold()}" if unit else text
    if joined in known:
        return joined, ""
    if not unit:
        return "", ""
    for name in (text, *(column for column in columns if column.rpartition("_")[0] == text)):
        if name in columns:
            if cells.same_unit(unit, columns[name].unit):
                return name, ""
            if columns[name].unit:
                return "", f"in {shown_value(unit)}; {name} is in {columns[name].unit}"
    return "", ""


def meant(heading: str, stem: str, columns: Collection[str]) -> str:
    """Column that an unknown heading of a file probably means, of those that have none yet; "" where none.

    By what people often write, else by its letters; in the unit that it names.
    """
    plain, unit = plain_heading(heading)
    head, _, last = plain.rpartition("_")
    if not unit and any(cells.same_unit(last, one.unit) for one in schema.converted(stem).values()):
        plain, unit = head, last
    known = schema.columns(stem)
    often = [column for column, words in OFTEN_WRITTEN.items() if column in known and plain in words]
    near = often or difflib.get_close_matches(plain, columns, n=1)
    if not near or near[0] not in columns:
        return ""
    others = schema.converted(stem).items()
    return next(
        (name for name, one in others if one.to == near[0] and cells.same_unit(unit, one.unit)), near[0]
    )


def which_file(file: str, heading: Sequence[str]) -> str:
    """Stem by the exact file name, else by the most headings known, a word of the file name, or a kit list's own words."""
    bare = file.casefold().removesuffix(".csv").removesuffix(".txt").removesuffix(".tsv")
    if bare in schema.FILES:
        return bare
    parts = set(re.split(r"[^a-z]+", bare))
    fits = []
    for stem in schema.FILES:
        names = _known(heading, stem)
        is_whole = _needed(stem) <= names
        if is_whole or len(names) >= 3 or (names and stem in parts):
            fits.append((len(names), is_whole, stem in parts, stem))
    if fits:
        return max(fits)[-1]
    return next(
        (stem for stem in schema.FILES if stem in parts), "inventory" if _is_kit_list(heading) else ""
    )


def unlike(heading: Sequence[str], is_torn: bool) -> tuple[str, str]:
    """What a file seems to be of which neither the name nor the headings are known, and what to do.

    Parameters
    ----------
    is_torn : most of its lines have other cells than the first
    """
    filled = [cell.strip() for cell in heading if cell.strip()]
    if len(filled) < 2 or is_torn:
        return (
            "the file reads like a letter or notes, not like a list with cells below headings",
            INTO_A_BLANK,
        )
    if any(VALUE.fullmatch(cell) for cell in filled):
        fix = "Write the headings in a line above it: of things in a kit member, kit, item and kind."
        return "the first line holds a row where the headings are wanted", fix
    names = ", ".join(shown_value(cell) for cell in filled[:SHOWN])
    more = f" and {len(filled) - SHOWN} more" if len(filled) > SHOWN else ""
    often = {name: plain_heading(name)[0] for name in filled}
    meant_by = [
        f'"{shown_value(name)}" is {column}'
        for column, words in OFTEN_WRITTEN.items()
        for name in filled
        if often[name] in words
    ]
    others = ", ".join(f"{stem}.csv" for stem in schema.FILES if stem != "inventory")
    return (
        f"no list has the headings {names}{more}",
        "If it tells what is in kits, give it the headings member, kit, item and kind"
        + (f" ({', '.join(meant_by)})" if meant_by else "")
        + f"; if it is another list, those of its blank list: {others}.",
    )


def _is_kit_list(heading: Sequence[str]) -> bool:
    """Whether headings, if not by name then by what people often write, hold all that an inventory needs."""
    plain = {plain_heading(cell)[0] for cell in heading[:WIDEST]}
    return all(name in plain or plain & OFTEN_WRITTEN[name] for name in _needed("inventory"))
