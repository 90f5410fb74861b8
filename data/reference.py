"""Reference tables: what is generally known of kinds, plugs, chemistries, wire, coax, duty and posts.

Every table is one CSV in data/reference; each of its rows carries `source` and `basis`
(published, common practice or estimate). Words that could mean two things are kept in ambiguous.csv
and never stand for either: they only lead to a suggestion.
"""

from __future__ import annotations

import csv
import difflib
import re
from functools import cache, lru_cache
from pathlib import Path

import pandas as pd

HERE = Path(__file__).parent / "reference"
YES_NO = frozenset((
    "mates", "is_critical", "needs_two_ways", "is_on_foot", "is_off_the_road", "has_hf_voice", "has_vhf", "is_times",
))  # fmt: skip
TEXT = frozenset((
    "kind", "label", "role", "chemistry", "dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far", "bands", "modes", "coax",
    "aliases", "caution", "source", "basis", "plug", "family", "gender", "domain", "plug_a", "plug_b", "duty", "post_type",
    "role_needed", "rf_grade", "band", "mode", "licence_class", "column", "word", "written", "suggestion", "level", "of",
    "beside",
))  # fmt: skip
# Word column → the table and column that list its words.
WORDS_IN = {
    "kind": ("kinds", "kind"),
    "plug": ("connectors", "plug"),
    "coax": ("coax", "coax"),
    "chemistry": ("chemistries", "chemistry"),
    "duty": ("duty", "duty"),
    "post_type": ("post_types", "post_type"),
    "band": ("bands", "band"),
    "mode": ("modes", "mode"),
    "licence_class": ("licences", "licence_class"),
}
SAME_WORDS = {
    "dc_plug": "plug",
    "dc_plug_far": "plug",
    "rf_plug": "plug",
    "rf_plug_far": "plug",
    "bands": "band",
    "modes": "mode",
}
CLOSE_ENOUGH = 0.75
SHORTEST_GUESS = 3


@cache
def table(name: str) -> pd.DataFrame:
    """One reference table: text as str or None, yes/no as bool, all other columns as float.

    The frame is shared by all who ask: copy it before changing it.

    Parameters
    ----------
    name : file name without .csv, for example ``kinds``

    Raises
    ------
    ValueError
        A cell does not fit its column; the message names file, line and column.
    """
    path = HERE / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        columns = list(reader.fieldnames or ())
        rows = [
            {column: _cell(row[column], column, f"{path.name} line {reader.line_num}") for column in columns}
            for row in reader
        ]
    frame = pd.DataFrame(rows, columns=columns, dtype=object)
    for column in columns:
        if column in YES_NO:
            frame[column] = frame[column].astype(bool)
        elif column not in TEXT:
            frame[column] = frame[column].astype(float)
    return frame


def _cell(text: str, column: str, where: str) -> str | bool | float | None:
    if column in YES_NO:
        if text not in ("yes", "no"):
            raise ValueError(f'{where}, {column}: "{text}" is neither yes nor no. Write yes or no.')
        return text == "yes"
    if not text:
        return None
    if column in TEXT:
        return text
    try:
        return float(text)
    except ValueError:
        raise ValueError(f'{where}, {column}: "{text}" is not a number. Write a number.') from None


def kinds() -> pd.DataFrame:
    """The kinds of things with their typical values, one row per kind."""
    return table("kinds")


@cache
def mating_pairs() -> frozenset[tuple[str, str]]:
    """Pairs of plugs that mate and carry current or signal soundly, in both orders."""
    mating = table("mating")
    sound = mating[mating["mates"]]
    pairs = set(zip(sound["plug_a"], sound["plug_b"], strict=True))
    return frozenset(pairs | {(b, a) for a, b in pairs})


@cache
def words(column: str) -> tuple[str, ...]:
    """Allowed words of a column, in the order of its table."""
    column = SAME_WORDS.get(column, column)
    if column in WORDS_IN:
        name, key = WORDS_IN[column]
        return tuple(table(name)[key])
    told = table("aliases")
    listed = tuple(told.loc[told["column"] == column, "word"])
    if not listed:
        raise KeyError(f'"{column}" has no list of words. Write one of: {", ".join(WORDS_IN)}.')
    return listed


def word_list(column: str) -> pd.DataFrame:
    """The words of a column as people look them up: write, means, also understood; "" where nothing stands."""
    name, key = WORDS_IN[column]
    told = table(name)
    blank = pd.Series([None] * len(told), index=told.index, dtype=object)
    return pd.DataFrame(
        {
            "write": told[key],
            "means": told.get("label", blank),
            "also understood": told.get("aliases", blank).str.replace("|", ", ", regex=False),
        }
    ).fillna("")


@cache
def aliases(column: str) -> dict[str, str]:
    """What members write, lower case, and the one word that it stands for.

    Holds the words themselves, their labels and aliases, each also with spaces, hyphens or underscores.

    Raises
    ------
    ValueError
        One written form would stand for two words, or is listed as ambiguous.
    """
    column = SAME_WORDS.get(column, column)
    found: dict[str, str] = {}
    for written, word in _written(column):
        for form in _forms(written):
            if found.setdefault(form, word) != word:
                raise ValueError(
                    f'{column}: "{form}" stands for {found[form]} and for {word}. Keep it for one.'
                )
    for written in _ambiguous(column):
        if written in found:
            raise ValueError(
                f'{column}: "{written}" is ambiguous, yet stands for {found[written]}. Drop one.'
            )
    return found


def _written(column: str) -> list[tuple[str, str]]:
    pairs = [(word, word) for word in words(column)]
    if column in WORDS_IN:
        name, key = WORDS_IN[column]
        frame = table(name)
        for extra in ("label", "aliases"):
            if extra in frame:
                pairs += _split(frame[key], frame[extra])
    told = table("aliases")
    told = told[told["column"] == column]
    return pairs + _split(told["word"], told["aliases"])


def _split(keys: pd.Series, cells: pd.Series) -> list[tuple[str, str]]:
    return [(part, key) for key, cell in zip(keys, cells, strict=True) if cell for part in cell.split("|")]


def _forms(text: str) -> set[str]:
    parts = [part for part in re.split(r"[\s_-]+", text.lower()) if part]
    return {text.lower(), *(joint.join(parts) for joint in " -_")}


@cache
def _ambiguous(column: str) -> dict[str, str]:
    told = table("ambiguous")
    told = told[told["column"] == column]
    return {
        form: suggestion
        for written, suggestion in zip(told["written"], told["suggestion"], strict=True)
        for form in _forms(written)
    }


@lru_cache(maxsize=4096)
def akin(text: str, column: str) -> tuple[str, ...]:
    """The three words at most that share a whole word with a text that is not known, most shared first.

    For example `big roof antenna`: the antennas. Pieces of fewer than four letters share nothing.
    """
    column = SAME_WORDS.get(column, column)
    asked = {piece for piece in re.split(r"[^a-z]+", text.lower()) if len(piece) >= 4}
    shared: dict[str, set[str]] = {}
    for written, word in aliases(column).items():
        shared.setdefault(word, set()).update(asked & set(re.split(r"[^a-z]+", written)))
    found = [word for word in words(column) if shared.get(word)]
    return tuple(sorted(found, key=lambda word: -len(shared[word]))[:3])


@lru_cache(maxsize=4096)
def near(word: str, column: str) -> str | None:
    """What the writer may have meant: a word, several joined by "or" when the writing is ambiguous, or None.

    Closeness is the ratio of `difflib.SequenceMatcher`; writings of fewer than three letters are not guessed.
    A number that alone names one word (a cable size, a frequency) is enough.
    """
    column = SAME_WORDS.get(column, column)
    plain = " ".join(part for part in re.split(r"[\s_-]+", word.lower()) if part)
    if plain in _ambiguous(column):
        return _ambiguous(column)[plain]
    known = aliases(column)
    if plain in known:
        return known[plain]
    if len(plain) < SHORTEST_GUESS:
        return None
    spaced = [form for form in (*known, *_ambiguous(column)) if "_" not in form and "-" not in form]
    close = difflib.get_close_matches(plain, spaced, n=1, cutoff=CLOSE_ENOUGH)
    if not close:
        return known.get(re.sub(r"\D", "", plain))
    return known.get(close[0]) or _ambiguous(column)[close[0]]
