"""The command that lists the words a file may hold."""

from __future__ import annotations

from typing import Annotated

import typer

from dashboard import folders, say
from dashboard.options import AsJson


def words(
    column: Annotated[
        str, typer.Argument(metavar="LIST", help="kind, plug, coax, chemistry, duty, band …")
    ] = "",
    as_json: AsJson = False,
) -> None:
    """List the words that a file may hold, with what they mean and what else is understood.

    Exit code: 0 listed, 2 there is no such list.
    """
    from data import reference

    lists = ", ".join(reference.WORDS_IN)
    if column not in reference.WORDS_IN:
        raise folders.fail(f'"{column}" is no list of words. Write one of: {lists}.')
    told = reference.word_list(column)
    if as_json:
        say.as_json({"words": told.to_dict("records")})
        return
    say.table(f"Words for {column}", list(told.columns), told.itertuples(index=False))
