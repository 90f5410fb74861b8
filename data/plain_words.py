"""What people call the words of the reference lists: plugs, their families, kinds and roles."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from itertools import takewhile
from typing import Any

from data import reference, schema

COLUMN = re.compile(r"\b[a-z]+(?:_[a-z0-9]+)+\b(?!,? [(“])")  # names of one word are words of the sentence
# Columns whose words stand in a list with a label; evidence and columns named after them end so.
LABELLED = ("chemistry", "coax", "duty", "post_type", "kind")
# What two labels of one family may differ in.
DIFFERS = re.compile(r"[ ,()]*((plug|socket|pins|sockets|male|female|PL-259|SO-239|\d+ A contact)[ ,()]*)*")


def called(name: str, value: Any) -> Any:
    """A word as people call it, by the name of the evidence or column that it stands under; anything else as it is.

    Parameters
    ----------
    name : for example dc_plug, club_family, item_kind or role_needed
    value : `ring_m6` under dc_plug becomes `ring terminals M5 to M8`
    """
    if isinstance(value, list):
        return [called(name.removesuffix("s"), one) for one in value]
    if not isinstance(value, str):
        return value
    if name.endswith(("plug", "plug_far")):
        return plugs().get(value, value)
    if name.endswith("family"):
        return families().get(value, value)
    column = next((ending for ending in LABELLED if name.endswith(ending)), None)
    if column is not None:
        return " and ".join(labels(column).get(word, word) for word in value.split(" and "))
    is_role = name.endswith(("role", "roles", "role_needed"))
    return ", ".join(word.replace("_", " ") for word in value.split()) if is_role else value


def titled(text: str) -> str:
    """A sentence that names columns of files, each with the heading that an editor gives it behind it."""
    return COLUMN.sub(_titled, text)


def _titled(found: re.Match[str]) -> str:
    """A column with its heading in brackets; within brackets behind a comma where it is alone there, else behind it."""
    name, before, after = found[0], found.string[: found.start()], found.string[found.end() :]
    if name not in columns():
        return name
    heading = f"“{columns()[name]}”"
    if before.endswith("(") and after.startswith(")"):
        return f"{name}, {heading}"
    return f"{name} {heading}" if before.count("(") > before.count(")") else f"{name} ({heading})"


@cache
def columns() -> Mapping[str, str]:
    """Each column of the files by its heading."""
    return {name: told.title for stem in schema.FILES for name, told in schema.columns(stem).items()}


@cache
def plugs() -> Mapping[str, str]:
    """Each plug by its own name, with its gender where it has one: `XT60, pins`."""
    listed = reference.table("connectors")
    return dict(zip(listed["plug"], listed["label"], strict=True))


@cache
def sides() -> Mapping[str, str]:
    """Each plug by its family and gender, whatever its rating: `genderless stackable DC` for contacts of 15, 30 and 45 A."""
    listed = reference.table("connectors")
    same = listed.groupby(["family", "gender"], dropna=False)["label"].transform(
        lambda own: _shared(list(own))
    )
    return dict(zip(listed["plug"], same, strict=True))


@cache
def families() -> Mapping[str, str]:
    """Each family of plugs by what its two sides have in common: `2-pin T-plug`; else by its plug."""
    listed = reference.table("connectors")
    return {str(family): _shared(list(own["label"])) for family, own in listed.groupby("family", sort=False)}


def kinds() -> Mapping[str, str]:
    """Each kind of thing by its name."""
    return labels("kind")


@cache
def labels(column: str) -> Mapping[str, str]:
    """Each word of a column, one of `reference.WORDS_IN`, by its label."""
    table, word = reference.WORDS_IN[column]
    listed = reference.table(table)
    return dict(zip(listed[word], listed["label"], strict=True))


def _shared(labels: list[str]) -> str:
    """The beginning that labels share, where they differ only in gender or rating; else the first label."""
    words = takewhile(lambda own: len(set(own)) == 1, zip(*(label.split() for label in labels), strict=False))
    begin = " ".join(own[0] for own in words).rstrip(",")
    is_told = begin and all(DIFFERS.fullmatch(label.removeprefix(begin)) for label in labels)
    return begin if is_told and len(labels) > 1 else labels[0]
