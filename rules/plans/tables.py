"""Plans as CSV files that a spreadsheet opens safely."""

from __future__ import annotations

import csv
import io
from typing import Any

import pandas as pd

from data.upload import neutralise


def frame_csv(frame: pd.DataFrame) -> bytes:
    """A frame as CSV, UTF-8 with byte-order mark; no cell begins a formula."""
    out = io.StringIO(newline="")
    write = csv.writer(out)
    write.writerow(frame.columns)
    for row in frame.itertuples(index=False):
        write.writerow([neutralise("" if pd.isna(cell) else _cell(cell)) for cell in row])
    return out.getvalue().encode("utf-8-sig")


def _cell(value: Any) -> str:
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    return f"{value:g}" if isinstance(value, float) else str(value)
