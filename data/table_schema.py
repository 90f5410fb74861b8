"""The data contract for other programs: one Table Schema (JSON) for each kind of file, made from `data.schema`.

Run `python -m data.table_schema` after a change of the models; a test holds the files to them.

Source of the form: Table Schema of the Frictionless Standards, https://specs.frictionlessdata.io/table-schema/.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from data import forms, schema
from data.forms import Column

CONTRACT = Path(__file__).parent / "contract"
TYPES = {
    forms.YES_NO: "boolean",
    forms.WHOLE: "integer",
    forms.NUMBER: "number",
    forms.DATE: "date",
    forms.MOMENT: "datetime",
}
MOMENT_FORMAT = "%Y-%m-%dT%H:%M"


def table_schema(stem: str) -> dict[str, Any]:
    """The contract of one kind of file as a Table Schema descriptor.

    `unit` and `default` (what an empty cell means) are properties of our own, which the standard lets pass.
    """
    fields = [_field(column) for column in schema.columns(stem).values()]
    doc = (schema.FILES[stem].__doc__ or "").strip().splitlines()[0]
    found: dict[str, Any] = {
        "title": f"{stem}.csv",
        "description": doc,
        "fields": fields,
        "fieldsMatch": "partial",  # columns stand in any order; others may stand beside them, unused ones be left out
        "missingValues": [""],
    }
    if key := schema.key(stem):
        found["primaryKey"] = list(key)
    return found


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {
        "name": column.name,
        "type": TYPES.get(column.form, "string"),
        "title": column.title,
        "description": column.description,
    }
    if column.form == forms.YES_NO:
        field |= {"trueValues": ["yes"], "falseValues": ["no"]}
    if column.form == forms.MOMENT:
        field["format"] = MOMENT_FORMAT
    if column.unit:
        field["unit"] = column.unit
    if column.default is not None:
        field["default"] = column.default
    if constraints := _constraints(column):
        field["constraints"] = constraints
    return field


def _constraints(column: Column) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if column.required:
        found["required"] = True
    if column.form == forms.WORD:
        found["enum"] = list(column.words)
    elif column.form == forms.WORDS and column.words:
        one = f"({'|'.join(map(re.escape, column.words))})"
        found["pattern"] = f"{one}( {one})*"
    elif column.in_words:
        found["pattern"] = forms.IN_WORDS
    elif column.form == forms.MEMBER:
        found["pattern"] = "[A-Z0-9/-]{2,12}"
    elif column.form == forms.YEAR_OR_DATE:
        found["pattern"] = "[0-9]{4}(-[0-9]{2}-[0-9]{2})?"
    elif column.form == forms.DATE:
        found |= {"minimum": f"{forms.FIRST_DAY:%Y-%m-%d}", "maximum": f"{forms.LAST_DAY:%Y-%m-%d}"}
    if column.form in (forms.WHOLE, forms.NUMBER):
        cast = int if column.form == forms.WHOLE else float
        bounds = {"minimum": column.low, "maximum": column.high}
        found |= {name: cast(bound) for name, bound in bounds.items() if bound is not None}
    return found


def text(stem: str) -> str:
    """The JSON file of one kind of file."""
    return json.dumps(table_schema(stem), ensure_ascii=False, indent=2) + "\n"


def write(folder: Path = CONTRACT) -> None:
    """Write `<stem>.schema.json` for every kind of file."""
    folder.mkdir(exist_ok=True)
    for stem in schema.FILES:
        (folder / f"{stem}.schema.json").write_text(text(stem), "utf-8")


if __name__ == "__main__":
    write()
