"""Rows of a fact: a select that never leaves the database, or columns that were worked out beside it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from data.kept import Kept

Floats = npt.NDArray[np.float64]
Columns = Mapping[str, Any] | pd.DataFrame


class Select(NamedTuple):
    """The select that makes a fact's rows, with the values of its `$names`."""

    sql: str
    values: Mapping[str, Any] = {}


def columns(
    con: duckdb.DuckDBPyConnection, sql: str, values: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """The columns of a select, by name: as Arrow has them, of a few rows as masked arrays, which are there sooner."""
    if isinstance(con, Kept):
        return con.execute(sql, values).fetchnumpy()
    rows = con.sql(sql, params=values).to_arrow_table()
    return dict(zip(rows.column_names, rows.columns, strict=True))


def floats(column: Any) -> Floats:
    """A column of numbers, NaN where they are not known; one that is so already as it is."""
    if type(column) is np.ndarray and column.dtype == np.float64:
        return column
    numbers: Floats = np.ma.filled(np.ma.asarray(column).astype(np.float64), np.nan)
    return numbers


def table(columns: Mapping[str, Any]) -> pa.Table:
    """Columns as rows; NULL where a value is masked or NaN."""
    return pa.table(
        {
            name: values if isinstance(values, pa.ChunkedArray) else pa.array(values, from_pandas=True)
            for name, values in columns.items()
        }
    )
