"""Everything that the club has told, in open files."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pandas as pd
from pyarrow import parquet

from data import upload
from data.database import StoreError, reason

FORMS = ("csv", "parquet")


def write(file: Path, out: Path, form: str = "csv") -> list[Path]:
    """Write every table of a copy into a new folder, with `schema.sql` that says their form; the files written.

    As CSV, cells that a spreadsheet would take for a formula get an apostrophe, and the files as they were sent
    stand in `uploads`, named by their number. As Parquet every value is exactly as stored.

    Raises
    ------
    StoreError
        The folder holds something already or cannot be written to, or the copy cannot be read.
    """
    if form not in FORMS:
        raise ValueError(f'form: "{form}" is not known. Write one of {", ".join(FORMS)}.')
    try:
        out.mkdir(parents=True, exist_ok=True)
        if any(out.iterdir()):
            raise StoreError(f"{out}: is not an empty folder. Write the name of a new one.")
        with duckdb.connect(str(file), read_only=True) as con:
            con.execute("set TimeZone = 'UTC'")
            form_of = dict(con.execute("select table_name, sql from duckdb_tables() order by all").fetchall())
            written = [_write_table(con, table, out, form) for table in form_of]
            if form == "csv":
                written += _write_payloads(con, out / "uploads")
        form_file = out / "schema.sql"
        form_file.write_text("\n".join(form_of.values()) + "\n", "utf-8")
    except (duckdb.Error, OSError) as error:
        raise StoreError(
            f"{out}: not everything was written: {reason(error)} Write it again, into a new folder."
        ) from error
    return [*written, form_file]


def _write_table(con: duckdb.DuckDBPyConnection, table: str, out: Path, form: str) -> Path:
    path = out / f"{table}.{form}"
    columns = [row[0] for row in con.execute(f'describe "{table}"').fetchall()]
    if form == "parquet":
        parquet.write_table(con.sql(f'from "{table}"').to_arrow_table(), path)
        return path
    shown = ", ".join(
        """'uploads/' || lpad(upload_id::varchar, 6, '0') as payload"""
        if (table, name) == ("upload", "payload")
        else f'"{name}"::varchar as "{name}"'
        for name in columns
    )
    text = con.execute(f'select {shown} from "{table}" order by all').df()
    for name in text.columns:
        text[name] = [cell if pd.isna(cell) else upload.neutralise(cell) for cell in text[name]]
    text.to_csv(path, index=False, lineterminator="\n")
    return path


def _write_payloads(con: duckdb.DuckDBPyConnection, there: Path) -> list[Path]:
    there.mkdir()
    written = []
    for number, payload in con.execute("select upload_id, payload from upload").fetchall():
        path = there / f"{number:06}"
        path.write_bytes(payload)
        written.append(path)
    return written
