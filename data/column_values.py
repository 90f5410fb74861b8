"""One column: each distinct text is understood once, however often it stands in the file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from data import cells, forms
from data.forms import Column
from data.text_rows import LONGEST_CELL

# Up to this many distinct numbers are read one by one; beyond, plain ones are cast together first.
CAST_FROM = 2_000
# Beyond this many distinct values each row carries its own: who reads a part of the rows reads all of a dictionary.
CODED_TO = 1 << 15

EACH_ROW = "It is written in each row, also where it is the same as above."

_CONTROL = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x{9f}\x{202a}-\x{202e}\x{2066}-\x{2069}]"
_FORMULA = r"^[=+\-@\t\r]"
_PLAIN_NUMBER = r"^[+-]?[0-9]+([.,][0-9]+)?$"
_PLAIN_MEMBER = r"^[A-Z0-9/-]{2,12}\z"
_CASTABLE = r"^-?[0-9]{1,15}(\.[0-9]{1,15})?$"
_BLANK = pa.array([""])
_TYPES = {
    forms.NUMBER: pa.float64(),
    forms.WHOLE: pa.int64(),
    forms.YES_NO: pa.bool_(),
    forms.DATE: pa.timestamp("us"),
    forms.YEAR_OR_DATE: pa.timestamp("us"),
    forms.MOMENT: pa.timestamp("us"),
}


def type_of(column: Column) -> pa.DataType:
    """Type of the column's values."""
    return _TYPES.get(column.form, pa.string())


@dataclass
class Read:
    """One column understood: as it was written, its distinct texts and their values, problems and notes."""

    raw: pa.DictionaryArray
    texts: pa.Array
    values: pa.Array
    wrong: dict[int, cells.UnreadError]
    notes: dict[int, str]
    formulas: int = 0

    @cached_property
    def codes(self) -> npt.NDArray[np.int32]:
        """Which text each row has."""
        codes: npt.NDArray[np.int32] = self.raw.indices.fill_null(len(self.texts) - 1).to_numpy()
        return codes

    def column(self) -> pa.Array:
        """Typed value of each row; few distinct ones as a dictionary, in which nothing is NULL that a row has."""
        is_told = self.values.is_valid().to_numpy(zero_copy_only=False)
        written = len(self.raw.dictionary)
        codes = self.raw.indices
        if not is_told[:written].all() or is_told[written:].any():
            told = pa.array(np.arange(len(is_told), dtype=np.int32), mask=~is_told)
            codes = told.take(pa.array(self.codes))
        if len(is_told) > CODED_TO:
            return self.values.take(codes)
        return pa.DictionaryArray.from_arrays(codes, self.values, safe=False)


def plain(column: pa.Array) -> pa.Array:
    """Column whose rows carry their values themselves."""
    return column.dictionary_decode() if pa.types.is_dictionary(column.type) else column


def each(column: pa.Array, change: Callable[[pa.Array], pa.Array]) -> pa.Array:
    """Column with something done to each of its values, once where they stand in a dictionary."""
    if pa.types.is_dictionary(column.type):
        return pa.DictionaryArray.from_arrays(column.indices, change(column.dictionary), safe=False)
    return change(column)


def filled(column: pa.Array, other: pa.Array) -> pa.Array:
    """Column with the other one's value where it has none; a dictionary if both are."""
    if not (pa.types.is_dictionary(column.type) and pa.types.is_dictionary(other.type)):
        return pc.coalesce(plain(column), plain(other))
    values = pa.concat_arrays([column.dictionary, other.dictionary])
    others = pc.add(other.indices, pa.scalar(len(column.dictionary), pa.int32()))
    return pa.DictionaryArray.from_arrays(pc.coalesce(column.indices, others), values, safe=False)


def same(value: object, count: int, form: pa.DataType) -> pa.DictionaryArray:
    """Column with one value in all rows, or with none."""
    codes = pa.nulls(count, pa.int32()) if value is None else pa.array(np.zeros(count, np.int32))
    return pa.DictionaryArray.from_arrays(codes, pa.array([value], form), safe=False)


def is_empty(column: pa.DictionaryArray) -> npt.NDArray[np.bool_]:
    """Whether each cell is empty or blank."""
    blank = pc.equal(pc.utf8_trim_whitespace(column.dictionary), "")
    found: npt.NDArray[np.bool_] = blank.take(column.indices).fill_null(True).to_numpy(zero_copy_only=False)
    return found


def read_columns(
    raws: Sequence[pa.DictionaryArray],
    columns: Sequence[Column],
    decimal_comma: bool,
    aliases: Mapping[str, Mapping[str, str]],
) -> list[Read]:
    """Understand the columns of a file. What all texts are asked is asked of those of all columns together, which are few."""
    if not raws:
        return []
    own = [[raw.dictionary, _BLANK] if raw.null_count else [raw.dictionary] for raw in raws]
    texts = pc.utf8_trim_whitespace(pa.concat_arrays([part for parts in own for part in parts]))
    empties = pc.equal(texts, "").to_numpy(zero_copy_only=False)
    is_fit = not _unfit(texts)
    reads, begin = [], 0
    for raw, column, parts in zip(raws, columns, own, strict=True):
        size = sum(map(len, parts))
        these, blank = texts.slice(begin, size), empties[begin : begin + size]
        wrong = {} if is_fit else _unfit(these)
        more = aliases.get(column.aliases, {})
        reads.append(_read(raw, these, blank, wrong, column, decimal_comma, more))
        begin += size
    return reads


def _read(
    raw: pa.DictionaryArray,
    texts: pa.Array,
    empties: npt.NDArray[np.bool_],
    wrong: dict[int, cells.UnreadError],
    column: Column,
    decimal_comma: bool,
    more: Mapping[str, str],
) -> Read:
    """Understand one column; `more` holds the club's own writings of its words."""
    if column.required:
        is_name = column.form in (forms.MEMBER, forms.TEXT) and not empties.all()
        empty = cells.UnreadError("empty", f"{column.mend} {EACH_ROW}" if is_name else column.mend)
        wrong.update(dict.fromkeys(np.flatnonzero(empties).tolist(), empty))
    if column.form == forms.TEXT:
        if column.in_words:
            for position in where(pc.invert(pc.match_substring_regex(texts, r"\pL"))):
                if not empties[position]:
                    wrong[position] = cells.UnreadError("no answer in words", column.mend)
        return _read_text(raw, texts, empties, wrong)
    todo = ~empties
    todo[list(wrong)] = False
    values: npt.NDArray[Any] = np.full(len(texts), None, dtype=object)
    if column.form == forms.MEMBER:
        todo &= ~_take_members(texts, todo, values)
    numbers = None
    if column.form == forms.NUMBER and len(texts) > CAST_FROM:
        numbers, is_cast = _cast(texts, todo, column)
        todo &= ~is_cast
    notes: dict[int, str] = {}
    understand = cells.reader(column, decimal_comma, more)
    left = np.flatnonzero(todo)
    for position, text in zip(left.tolist(), texts.take(pa.array(left)).to_pylist(), strict=True):
        try:
            values[position], note = understand(text)
        except cells.UnreadError as unread:
            wrong[position] = unread
        else:
            if note:
                notes[position] = note
    if numbers is not None:
        numbers[todo] = np.array([np.nan if value is None else value for value in values[todo]], dtype=float)
        typed = pa.array(numbers, from_pandas=True)
    else:
        if column.default is not None:
            values[empties] = column.default
        typed = pa.array(values.tolist(), type_of(column))
    return Read(raw, texts, typed, wrong, notes)


def _take_members(texts: pa.Array, todo: npt.NDArray[np.bool_], values: npt.NDArray[Any]) -> Any:
    """Put those texts that are members as they stand into the values, and say which."""
    is_plain = pc.match_substring_regex(texts, _PLAIN_MEMBER).to_numpy(zero_copy_only=False) & todo
    values[is_plain] = texts.filter(pa.array(is_plain)).to_pylist()
    return is_plain


def _cast(texts: pa.Array, todo: npt.NDArray[np.bool_], column: Column) -> tuple[npt.NDArray[Any], Any]:
    """Plain numbers within the range, cast together; the others NaN and left to be read one by one."""
    plain = pc.match_substring_regex(texts, _CASTABLE).to_numpy(zero_copy_only=False) & todo
    numbers = pc.if_else(pa.array(plain), texts, pa.scalar(None, pa.string())).cast(pa.float64())
    values = numbers.to_numpy(zero_copy_only=False).copy()
    low = -np.inf if column.low is None else column.low
    high = np.inf if column.high is None else column.high
    is_cast = plain & (values >= low) & (values <= high)
    if column.unit == "%":  # a share is asked about
        is_cast &= (values == 0) | (values >= 1)
    values[~is_cast] = np.nan
    return values, is_cast


def _read_text(
    raw: pa.DictionaryArray,
    texts: pa.Array,
    empties: npt.NDArray[np.bool_],
    wrong: dict[int, cells.UnreadError],
) -> Read:
    # An apostrophe that `neutralise` put there is taken off again.
    texts_back = pc.replace_substring_regex(texts, r"^'([=+\-@\t\r])", r"\1")
    looks = pc.and_not(
        pc.match_substring_regex(texts_back, _FORMULA), pc.match_substring_regex(texts, _PLAIN_NUMBER)
    )
    is_formula = looks.to_numpy(zero_copy_only=False)
    values = pc.if_else(pa.array(empties), pa.scalar(None, pa.string()), texts_back)
    read = Read(raw, texts, values, wrong, {})
    if is_formula.any():
        read.formulas = int(is_formula[read.codes].sum())
    return read


def _unfit(texts: pa.Array) -> dict[int, cells.UnreadError]:
    """Texts that no cell may hold."""
    wrong = {}
    for position in where(pc.match_substring_regex(texts, _CONTROL)):
        wrong[position] = cells.UnreadError("text with control characters", "Type the text again.")
    for position in where(pc.greater(pc.utf8_length(texts), LONGEST_CELL)):
        wrong[position] = cells.UnreadError(f"longer than {LONGEST_CELL:,} characters", "Shorten it.")
    return wrong


def where(mask: pa.Array) -> list[int]:
    """The places where a mask is true."""
    found: list[int] = np.flatnonzero(mask.to_numpy(zero_copy_only=False)).tolist()
    return found
