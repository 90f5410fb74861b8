"""Rows of a fact: a select that never leaves the database, or columns that were worked out beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from data.kept import Lane

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
    if isinstance(con, Lane):
        return con.execute(sql, values).fetchnumpy()
    rows = con.sql(sql, params=values).to_arrow_table()
    return dict(zip(rows.column_names, rows.columns, strict=True))


def floats(column: Any) -> Floats:
    """A column of numbers, NaN where they are not known; one that is so already as it is."""
    if isinstance(column, pd.Series) and column.dtype == np.float64:
        column = column.to_numpy()
    if type(column) is np.ndarray and column.dtype == np.float64:
        return column
    if isinstance(column, pa.ChunkedArray):
        return np.asarray(column.cast(pa.float64()))
    numbers: Floats = np.ma.filled(np.ma.asarray(column).astype(np.float64), np.nan)
    return numbers


def each_word(column: Any, made: Callable[[npt.NDArray[Any]], npt.NDArray[Any]]) -> npt.NDArray[Any]:
    """What a function makes of each word of a column, which Arrow hands over once for all rows that it stands in."""
    if not isinstance(column, pa.ChunkedArray):
        return made(np.asarray(column))
    coded = column.combine_chunks().dictionary_encode(null_encoding="encode")
    of_each: npt.NDArray[Any] = made(np.asarray(coded.dictionary))[np.asarray(coded.indices)]
    return of_each


def table(columns: Mapping[str, Any]) -> pa.Table:
    """Columns as rows; NULL where a value is masked or NaN."""
    return pa.table(
        {
            name: values if isinstance(values, pa.ChunkedArray) else pa.array(values, from_pandas=True)
            for name, values in columns.items()
        }
    )
