"""Typed rows → the CSV file that a member would have written to tell them."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence

import pandas as pd

from data import forms, schema, upload


def csv_of(stem: str, frame: pd.DataFrame) -> bytes:
    """A file of one kind that reads back as the rows given, with every column in the order of the template.

    Parameters
    ----------
    frame : rows typed as `data.upload.read` types them; columns that the file does not have are left out

    Source: the form of CSV is RFC 4180.
    """
    return csv_of_cells(
        {name: cells(frame[name], column.form) for name, column in schema.columns(stem).items()}
    )


def csv_of_cells(columns: Mapping[str, Sequence[str]]) -> bytes:
    """A CSV file of cells as they were written, by column; no cell can act as a formula.

    The apostrophe that sees to it is taken off again where the file is read.
    """
    out = io.StringIO(newline="")
    rows = csv.writer(out)
    rows.writerow(columns)
    rows.writerows([upload.neutralise(cell) for cell in row] for row in zip(*columns.values(), strict=True))
    return out.getvalue().encode("utf-8")


def cells(values: pd.Series, form: str) -> list[str]:
    """Cells as a member would write them, "" for an empty one."""
    if form == forms.YES_NO:
        return ["" if pd.isna(value) else "yes" if value else "no" for value in values]
    if form in (forms.WHOLE, forms.NUMBER):
        return ["" if pd.isna(value) else f"{value:.12g}" for value in values]
    if form in (forms.DATE, forms.YEAR_OR_DATE):
        return ["" if pd.isna(value) else f"{value:%Y-%m-%d}" for value in values]
    if form == forms.MOMENT:
        return [
            "" if pd.isna(value) else f"{value:%Y-%m-%dT%H:%M:%S}".removesuffix(":00") for value in values
        ]
    return ["" if pd.isna(value) else str(value) for value in values]
