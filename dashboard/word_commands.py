"""The command that lists the columns of a file, and the words that they may hold."""

from __future__ import annotations

from typing import Annotated

import typer

from dashboard import folders, say
from dashboard.options import AsJson


def words(
    name: Annotated[
        str,
        typer.Argument(
            metavar="LIST", help="A list of words (kind, plug, coax …) or a file (inventory, posts …)."
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """List the words that a cell may hold, or the columns of a file: what to write, in which unit, what it is.

    Exit code: 0 listed, 2 there is no such list and no such file.
    """
    from data import reference, schema

    is_file = name.removesuffix(".csv") in schema.FILES
    if not is_file and name not in reference.WORDS_IN:
        lists, files = ", ".join(reference.WORDS_IN), ", ".join(schema.FILES)
        raise folders.fail(
            f'"{name}" is no list of words and no file. Write one of: {lists}; or one of: {files}.'
        )
    told = schema.column_list(name.removesuffix(".csv")) if is_file else reference.word_list(name)
    if as_json:
        say.as_json({"columns" if is_file else "words": told.to_dict("records")})
        return
    say.table(
        f"{'Columns of' if is_file else 'Words for'} {name}", list(told.columns), told.itertuples(index=False)
    )
