"""The forms that a column of a file may take: how each is declared in `data.schema`, and told to whoever fills it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import pandas as pd
import pandera.pandas as pa

from data import reference

# The forms a cell may take.
TEXT = "text"
MEMBER = "member"
WORD = "word"
WORDS = "words"
YES_NO = "yes_no"
WHOLE = "whole"
NUMBER = "number"
DATE = "date"
YEAR_OR_DATE = "year_or_date"
MOMENT = "moment"

# What stands in a cell of those forms that need no more to be said.
WRITE = {
    TEXT: "words of your own",
    MEMBER: "a call sign or member number",
    YES_NO: "yes or no",
    DATE: "a day: 2026-07-31",
    YEAR_OR_DATE: "a day or a year: 2026-07-31, 2026",
    MOMENT: "a day and local time: 2027-04-25T05:15",
}

# A text with a letter of any script in it.
IN_WORDS = r".*[^\W\d_].*"

FIRST_DAY = pd.Timestamp("1950-01-01")
LAST_DAY = pd.Timestamp("2099-12-31")

EMPTY_OK = "or leave the cell empty"
SHOWN = 'The page "send a kit list" shows that list, and so does: kitmuster words {source}.'


@dataclass(frozen=True)
class Column:
    """One column of a file, in words that need no pandera.

    Attributes
    ----------
    form : one of the forms above
    mend : what to write
    name : its heading
    unit : unit of a number ("" for none)
    low, high : smallest and largest number allowed, in the unit; None for no limit
    reference : column of the reference tables that holds the allowed words, or ""
    listed : the allowed words when they are few
    aliases : column of the reference tables that holds other writings of the words, or ""
    required : the column must be there and no cell may be empty
    default : what an empty cell means, or None
    default_from : column whose value fills an empty cell, or ""
    is_done : the day on which something was done, which is not to come
    in_words : a text that a figure alone does not tell
    """

    form: str
    title: str
    description: str = ""
    mend: str = ""
    name: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    reference: str = ""
    listed: tuple[str, ...] = ()
    aliases: str = ""
    required: bool = False
    default: object = None
    default_from: str = ""
    is_done: bool = False
    in_words: bool = False

    @property
    def words(self) -> tuple[str, ...]:
        """Allowed words; empty when any text will do."""
        return reference.words(self.reference) if self.reference else self.listed

    @property
    def is_filled(self) -> bool:
        """Whether no row is without a value."""
        return self.required or self.default is not None or bool(self.default_from)

    @property
    def to_write(self) -> str:
        """What stands in a cell of it, in a few words."""
        if self.form in (WHOLE, NUMBER):
            one = "whole number" if self.form == WHOLE else "number"
            return f"a {one}, {self.low:.10g} to {self.high:.10g}"
        if self.form in (WORD, WORDS):
            one = "a word" if self.form == WORD else "words, spaces between,"
            source = f"of the {self.reference} list" if self.reference else f"of: {', '.join(self.listed)}"
            return f"{one} {source}" if self.words else "words, spaces between"
        return WRITE[self.form]

    @property
    def when_empty(self) -> str:
        """What an empty cell of it means; "" where it is then not told."""
        if self.required:
            return "refused"
        if self.default_from:
            return f"as {self.default_from}"
        if isinstance(self.default, bool):
            return "yes" if self.default else "no"
        return "" if self.default is None else str(self.default)


@dataclass(frozen=True)
class Order:
    """`low` must not exceed `factor` times `high` in one row (nor equal it, when `strict`); `mend` says what to write."""

    low: str
    high: str
    strict: bool = False
    factor: float = 1.0
    mend: str = "Mend one of the two cells."


def _field(
    form: str, title: str, description: str, mend: str, *,
    shown: str = "", matches: str | None = None, alias: str | None = None, **told: Any,
) -> Any:  # fmt: skip
    """A field of a model, with the `Column` that tells it; `shown` says where what to write is looked up."""
    column = Column(form, title, description, **told)
    mend = mend if column.is_filled else f"{mend.removesuffix('.')}, {EMPTY_OK}."
    is_dated = form in (DATE, YEAR_OR_DATE, MOMENT)
    return pa.Field(
        nullable=not column.is_filled,
        title=title,
        description=description,
        ge=FIRST_DAY if is_dated else column.low,
        le=LAST_DAY if is_dated else column.high,
        str_matches=matches,
        alias=alias,
        metadata={"column": replace(column, mend=f"{mend} {shown}".rstrip())},
    )


def text(title: str, description: str, *, required: bool = False, default_from: str = "") -> Any:
    """Free text on one cell."""
    mend = f"Write the {title.casefold()}: {description[0].casefold()}{description[1:]}"
    return _field(TEXT, title, description, mend, required=required, default_from=default_from)


def in_words(title: str, description: str, example: str) -> Any:
    """What is done, in words: a figure alone does not tell it."""
    mend = f"Write it in words, for example: {example}."
    return _field(TEXT, title, description, mend, matches=IN_WORDS, in_words=True)


def member(title: str, description: str, *, required: bool = True) -> Any:
    """Call sign or member number, upper case."""
    mend = "Write 2 to 12 of A to Z, 0 to 9, / and -, for example Q1ABC."
    return _field(MEMBER, title, description, mend, matches=r"^[A-Z0-9/-]{2,12}$", required=required)


def word(title: str, description: str, source: str | tuple[str, ...], **more: Any) -> Any:
    """One word of a reference column (its name) or of a short list."""
    return _words_field(WORD, title, description, source, more)


def words(title: str, description: str, source: str | tuple[str, ...], **more: Any) -> Any:
    """Words with spaces between; an empty list allows any word."""
    return _words_field(WORDS, title, description, source, more)


def _words_field(
    form: str, title: str, description: str, source: str | tuple[str, ...], more: dict[str, Any]
) -> Any:
    one = "a word" if form == WORD else "words"
    if isinstance(source, str):
        mend, shown = f"Write {one} of the {source} list.", SHOWN.format(source=source)
        return _field(
            form, title, description, mend, shown=shown, reference=source, **{"aliases": source} | more
        )
    if not source:
        return _field(form, title, description, "Write words with spaces between.", listed=(), **more)
    mend = f"Write {one} of: {', '.join(source)}."
    return _field(form, title, description, mend, listed=source, **more)


def yes_no(title: str, description: str, *, default: bool | None = None) -> Any:
    """yes or no."""
    return _field(YES_NO, title, description, "Write yes or no.", default=default)


def whole(title: str, description: str, low: int, high: int, unit: str = "", **more: Any) -> Any:
    """A whole number."""
    mend = f"Write a whole number from {low} to {high}."
    return _field(WHOLE, title, description, mend, unit=unit, low=float(low), high=float(high), **more)


def number(title: str, description: str, unit: str, low: float, high: float, **more: Any) -> Any:
    """A number in a unit."""
    in_unit = f" in {unit}" if unit else ""
    mend = f"Write a number{in_unit} from {low:.10g} to {high:.10g}."
    return _field(NUMBER, title, description, mend, unit=unit, low=float(low), high=float(high), **more)


def date(title: str, description: str, *, year_alone: bool = False, **more: Any) -> Any:
    """A day, year first; `year_alone` also accepts the year, read as 1 January."""
    mend = "Write the date as year-month-day, for example 2026-07-31."
    if year_alone:
        mend = "Write the date as year-month-day, for example 2026-07-31, or the year alone."
    form = YEAR_OR_DATE if year_alone else DATE
    return _field(form, title, description, mend, **more)


def done(title: str, description: str, **more: Any) -> Any:
    """A day on which something was done: one to come is not known (`data.club.fill`)."""
    return date(title, description, is_done=True, **more)


def moment(title: str, description: str, **more: Any) -> Any:
    """A local day and time."""
    mend = "Write date and local time, for example 2027-04-25T05:15."
    return _field(MOMENT, title, description, mend, **more)
