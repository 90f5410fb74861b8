"""One cell: the text that was written → the value that it means, or what is wrong with it and what to write.

Nothing here knows about files or lines. A reading is a value and a note; the note says how the text was
understood when it was not taken word for word, and is empty otherwise.

Numbers. A point or a comma is the decimal mark and nothing marks thousands. `1,500` in a file separated by
commas, and `1.500` in a file separated by semicolons or tabs, may mean either; they are refused unless the
range of the column leaves one meaning. The unit of the column may stand behind the number.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime, timedelta
from functools import cache

from data import forms, reference
from data.forms import Column

Reading = tuple[object, str]


class UnreadError(ValueError):
    """A text that cannot be taken: `problem` reads after "is"; `fix` is a sentence, worked out when asked."""

    def __init__(self, problem: str, fix: str | Callable[[], str]) -> None:
        super().__init__(problem)
        self.problem = problem
        self._fix = fix

    @property
    def fix(self) -> str:
        """What to write."""
        return self._fix if isinstance(self._fix, str) else self._fix()


def reader(column: Column, decimal_comma: bool, more: Mapping[str, str]) -> Callable[[str], Reading]:
    """Reader of the trimmed, non-empty cells of one column; raises `UnreadError`.

    `more` holds the club's own writings of the column's words, before those of the reference tables.
    """
    own = {squash(written): word for written, word in more.items()}
    if column.form == forms.MEMBER:
        return lambda text: (_member(text, column), "")
    if column.form in (forms.NUMBER, forms.WHOLE):
        return lambda text: _number(text, column, decimal_comma)
    if column.form == forms.YES_NO:
        return lambda text: (_yes_no(text, column), "")
    if column.form in (forms.DATE, forms.YEAR_OR_DATE):
        return lambda text: (_day(text, column), "")
    if column.form == forms.MOMENT:
        return lambda text: (_moment(text, column), "")
    if column.form == forms.WORD:
        known = {**_known(column.aliases, column.words), **own}
        return lambda text: _word(text, column, known)
    if column.form == forms.WORDS:
        known = {**_known(column.aliases, column.words), **own}
        return lambda text: _words(text, column, known)
    raise ValueError(f"no reader for the form {column.form}")


# ---- members and yes/no

_MEMBER = re.compile(r"[A-Z0-9/-]{2,12}")


def _member(text: str, column: Column) -> str:
    upper = text.upper()
    if text.isascii() and _MEMBER.fullmatch(upper):
        return upper
    bare = re.sub(r"[^A-Z0-9/-]", "", upper) if text.isascii() else ""
    fix = f'Write "{bare}".' if _MEMBER.fullmatch(bare) else column.mend
    raise UnreadError("not a call sign or member number", fix)


# As a phone writes them too. A cross is asked about: on paper it ticks as often as it strikes.
_TICKS = ("✓", "✔", "✔\ufe0f", "☑", "☑\ufe0f", "✅")
_YES_NO = {
    "y": True,
    "yes": True,
    "true": True,
    "1": True,
    **dict.fromkeys(_TICKS, True),
    "n": False,
    "no": False,
    "false": False,
    "0": False,
}


def _yes_no(text: str, column: Column) -> bool:
    answer = _YES_NO.get(text.casefold())
    if answer is None:
        raise UnreadError("not yes or no", column.mend)
    return answer


# ---- numbers

_DIGITS = r"[+-]?(?:[0-9]{1,15}(?:[.,][0-9]{1,30})?|[.,][0-9]{1,30})"
_NUMBER = re.compile(rf"({_DIGITS})(?:\s*([^0-9.,\s].*))?", re.DOTALL)
_ANY_NUMBER = re.compile(r"(?<![0-9.,])[0-9]{1,15}(?:[.,][0-9]{1,15})?(?![0-9.,])")
_MAYBE_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")
_SPELLED = {
    name: value
    for value, name in enumerate(
        "zero one two three four five six seven eight nine ten eleven twelve".split()  # noqa: SIM905
    )
}
_SAME_UNIT = {
    "v": ("volt", "volts"),
    "a": ("amp", "amps"),
    "w": ("watt", "watts"),
    "mm2": ("mm²",),
    "m": ("metre", "metres", "meter", "meters"),
    "°": ("deg", "degrees"),
    "°c": ("c",),
    "h": ("hour", "hours", "hr", "hrs"),
    "min": ("minute", "minutes"),
    "usd": ("$",),
    "awg": ("ga", "gauge"),
    "ft": ("feet", "foot"),
    "lb": ("lbs", "pound", "pounds"),
}
# (unit written, unit of the column) → factor and what is added then; exact by definition.
_OTHER_UNIT = {
    ("mah", "ah"): (0.001, 0.0),
    ("ma", "a"): (0.001, 0.0),
    ("mv", "v"): (0.001, 0.0),
    ("mw", "w"): (0.001, 0.0),
    ("kw", "w"): (1000.0, 0.0),
    ("mm", "m"): (0.001, 0.0),
    ("cm", "m"): (0.01, 0.0),
    ("in", "m"): (0.0254, 0.0),
    ("ft", "m"): (0.3048, 0.0),
    ("km", "m"): (1000.0, 0.0),
    ("m", "km"): (0.001, 0.0),
    ("mi", "km"): (1.609344, 0.0),
    ("g", "kg"): (0.001, 0.0),
    ("lb", "kg"): (0.45359237, 0.0),
    ("lbs", "kg"): (0.45359237, 0.0),
    ("min", "h"): (1 / 60, 0.0),
    ("h", "min"): (60.0, 0.0),
    ("f", "°c"): (5 / 9, -160 / 9),
    ("°f", "°c"): (5 / 9, -160 / 9),
}
_SHOWN_UNIT = {"mah": "mAh", "ma": "mA", "mv": "mV", "mw": "mW", "kw": "kW", "°f": "°F"}
_SAID_TWICE = ("lbs", "f")


def in_other_units(value: float, unit: str) -> Iterator[tuple[str, float]]:
    """Units in which a number may have been written instead, and what it is in the unit asked for."""
    for (written, ours), (factor, more) in _OTHER_UNIT.items():
        if ours == unit.casefold() and written not in _SAID_TWICE:
            yield _SHOWN_UNIT.get(written, written), value * factor + more


def same_unit(written: str, unit: str) -> bool:
    """Whether the unit written by hand is the unit of the column."""
    ours = unit.casefold()
    theirs = written.casefold().rstrip(".")
    return bool(ours) and (theirs == ours or theirs in _SAME_UNIT.get(ours, ()))


def _number(text: str, column: Column, decimal_comma: bool) -> Reading:
    whole = column.form == forms.WHOLE
    kind = "a whole number" if whole else "a number"
    found = _NUMBER.fullmatch(text.replace("−", "-"))  # noqa: RUF001
    if found is None:
        raise UnreadError(f"not {kind}", lambda: _write_the_number(text, column))
    digits, written_unit = found.groups()
    value = float(digits.replace(",", "."))
    note = f"read as {value:g}" if "," in digits and not decimal_comma else ""
    other_mark = "." if decimal_comma else ","
    if other_mark in digits and _MAYBE_THOUSANDS.fullmatch(digits):
        large = value * 1000
        if _within(large, column):
            both = f"{large:.0f} or {value:g}"
            raise UnreadError(f"ambiguous: {both}", f"Write {both}.")
    if written_unit and not same_unit(written_unit, column.unit):
        raise _other_unit(value, written_unit, column, kind)
    if not written_unit and _is_share(value, column):
        raise UnreadError("a share, not in %", f"Write {_shown(value * 100)}.")
    if whole and not value.is_integer():
        raise UnreadError("not a whole number", column.mend)
    if column.low is not None and value < column.low:
        raise UnreadError(
            f"below the lowest allowed, {_shown(column.low)} {column.unit}".rstrip(), column.mend
        )
    if column.high is not None and value > column.high:
        raise UnreadError(
            f"above the highest allowed, {_shown(column.high)} {column.unit}".rstrip(),
            _in_thousandths(value, column) or column.mend,
        )
    return (int(value) if whole else value), note


def _in_thousandths(value: float, column: Column) -> str:
    """What to write where the number is meant in thousandths of the unit, as mAh or mm; "" where it cannot be."""
    for unit, meant in in_other_units(value, column.unit):
        if meant == value * 0.001 and _within(meant, column):
            return f"Write {_shown(meant)} if it is in {unit}; else {column.mend[0].lower()}{column.mend[1:]}"
    return ""


def _is_share(value: float, column: Column) -> bool:
    """Whether a percentage is written as what a spreadsheet keeps of it: 40 % as 0.4."""
    return column.unit == "%" and 0 < value < 1


def _within(value: float, column: Column) -> bool:
    return (column.low is None or value >= column.low) and (column.high is None or value <= column.high)


def _shown(value: float) -> str:
    return f"{value:.10g}"


def _other_unit(value: float, written: str, column: Column, kind: str) -> UnreadError:
    converted = _OTHER_UNIT.get((written.casefold().rstrip("."), column.unit.casefold()))
    if converted is not None:
        factor, more = converted
        return UnreadError(f"in {written}, not in {column.unit}", f"Write {value * factor + more:.6g}.")
    if column.unit:
        return UnreadError(f"not {kind} in {column.unit}", column.mend)
    return UnreadError(f"not {kind}", f"Write {_shown(value)}.")


_UNITS = {unit for pair in _OTHER_UNIT for unit in pair} | {"hz", "mhz", "wh", "ohm", "db", "%"}


def _write_the_number(text: str, column: Column) -> str:
    tokens = re.findall(r"[^\W0-9_]+[0-9]?|[°%$]+", text.casefold())
    if any(token in _UNITS and not same_unit(token, column.unit) for token in tokens):
        return column.mend
    spelled = {_SPELLED[part] for part in re.findall(r"[a-z]+", text.casefold()) if part in _SPELLED}
    written = {float(part.replace(",", ".")) for part in _ANY_NUMBER.findall(text)}
    found = {float(value) for value in spelled} | written
    if len(found) == 1:
        value = found.pop()
        if _within(value, column) and (column.form != forms.WHOLE or value.is_integer()):
            return f"Write {_shown(value)}."
    return column.mend


# ---- days and times

_ISO_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_YEAR = re.compile(r"[0-9]{4}")
_ONE_YEAR = re.compile(r"(?<![0-9])(?:19|20)[0-9]{2}(?![0-9])")
_COUNTED_DAYS = re.compile(r"[34][0-9]{4}")  # of 1982 to 2036, as a spreadsheet keeps them
_YEAR_FIRST = re.compile(
    r"([0-9]{4})[-/. ]?([0-9]{2}|[0-9](?=[-/. ]))[-/. ]?([0-9]{2}|(?<=[-/. ])[0-9])(?:[T ].*)?"
)
_YEAR_LAST = re.compile(r"([0-9]{1,2})[-/. ]([0-9]{1,2})[-/. ]([0-9]{4}|[0-9]{2})(?:[T ,].*)?")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_ISO_IN_TEXT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_OFFSET = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{1,2}:[0-9]{2}.*[Zz+-].*")
_DAY_AND_TIME = re.compile(
    r"(?P<day>.{6,20}?)[T ,]{1,3}(?P<hour>[0-9]{1,2})(?::(?P<minute>[0-9]{2}))?(?::[0-9]{2})? ?(?:(?P<half>[ap])\.?m\.?)?",
    re.IGNORECASE,
)
_MOMENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ]([0-9]{2}):([0-9]{2})(?::([0-9]{2}))?")


def _day(text: str, column: Column) -> datetime:
    if _ISO_DAY.fullmatch(text):
        day = _calendar(text[:4], text[5:7], text[8:])
        if day is None:
            raise UnreadError("not a day of the calendar", column.mend)
        return _in_years(day, column)
    if column.form == forms.YEAR_OR_DATE and _YEAR.fullmatch(text):
        return _in_years(_calendar(text, "1", "1"), column)
    problem, fix = _other_day(text)
    if not fix and column.form == forms.YEAR_OR_DATE and len(years := _ONE_YEAR.findall(text)) == 1:
        fix = f"Write {years[0]}."
    raise UnreadError(problem, fix or column.mend)


def _in_years(day: datetime | None, column: Column) -> datetime:
    if day is None or not forms.FIRST_DAY <= day <= forms.LAST_DAY:
        years = f"{forms.FIRST_DAY.year} to {forms.LAST_DAY.year}"
        raise UnreadError(f"outside the years {years}", column.mend)
    return day


def _calendar(year: str, month: str, day: str) -> datetime | None:
    try:
        full = datetime.strptime(year, "%y").year if len(year) == 2 else int(year)
        return datetime(full, int(month), int(day))
    except ValueError:
        return None


def _other_day(text: str) -> tuple[str, str]:
    """Problem and fix of a day that is not year-month-day; the fix is empty when nothing can be suggested."""
    problem = "not a date of the form year-month-day"
    if _COUNTED_DAYS.fullmatch(text):
        counted = datetime(1899, 12, 30) + timedelta(int(text))
        fix = f"Write {counted:%Y-%m-%d} if it is how a spreadsheet counts days."
        return "a number where a day is asked", fix
    if found := _YEAR_FIRST.fullmatch(text):
        day = _calendar(*found.groups())
        return problem, f"Write {day:%Y-%m-%d}." if day else ""
    if found := _YEAR_LAST.fullmatch(text):
        first, second, last = found.groups()
        orders = [(last, second, first), (last, first, second)]
        if len(first) == len(last) == 2 and "-" in text:
            orders.append((first, second, last))
        days = sorted({day for order in orders if (day := _calendar(*order))})
        fix = " or ".join(f"{day:%Y-%m-%d}" for day in days)
        if len(days) > 1:
            has_years = len({day.year for day in days}) > 1
            problem = "ambiguous: " + " or ".join(_spoken(day) + f" {day.year}" * has_years for day in days)
        return problem, f"Write {fix}." if days else ""
    parts = re.findall(r"[0-9]+|[a-z]+", text.casefold())
    months = [_MONTHS.index(part[:3]) + 1 for part in parts if part[:3] in _MONTHS]
    years = [part for part in parts if _YEAR.fullmatch(part)]
    numbers = [part for part in parts if re.fullmatch(r"[0-9]{1,2}", part)]
    if not years and len(numbers) == 2 and len(numbers[1]) == 2:
        years = [numbers.pop()]
    if len(months) == len(years) == len(numbers) == 1:
        day = _calendar(years[0], str(months[0]), numbers[0])
        return problem, f"Write {day:%Y-%m-%d}." if day else ""
    return problem, ""


def _spoken(day: date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1].capitalize()}"


def _other_moment(text: str) -> tuple[str, str]:
    """Why a day and time written otherwise is ambiguous, and its fix; each empty where that cannot be said."""
    found = _DAY_AND_TIME.fullmatch(text)
    if not found or not (found["minute"] or found["half"]):
        return "", ""
    hour, minute = int(found["hour"]), int(found["minute"] or 0)
    if found["half"]:
        if not 1 <= hour <= 12:
            return "", ""
        hour = hour % 12 + 12 * (found["half"] in "pP")
    if hour > 23 or minute > 59:
        return "", ""
    day = found["day"]
    problem, fix = ("", f"Write {day}.") if _ISO_DAY.fullmatch(day) else _other_day(day)
    days = _ISO_IN_TEXT.sub(lambda at: f"{at[0]}T{hour:02d}:{minute:02d}", fix)
    said = f"{days.removesuffix('.')} in local time." if fix else ""
    return (problem if problem.startswith("ambiguous") else ""), said


def _moment(text: str, column: Column) -> datetime:
    found = _MOMENT.fullmatch(text)
    if found is None:
        problem = "not a date and time of the form 2027-04-25T05:15"
        if _ISO_DAY.fullmatch(text):
            raise UnreadError("a date without a time", f"Write the time behind it, for example {text}T05:15.")
        if _OFFSET.fullmatch(text):
            problem = "a time with an offset; local time is asked"
            raise UnreadError(
                problem, "Write the hour by the clocks of that place, in the form 2027-04-25T05:15."
            )
        ambiguous, fix = _other_moment(text)
        raise UnreadError(ambiguous or problem, fix or column.mend)
    day, hour, minute, second = found.groups()
    try:
        moment = datetime.fromisoformat(f"{day}T{hour}:{minute}:{second or '00'}")
    except ValueError:
        raise UnreadError("not a time of the calendar and clock", column.mend) from None
    return _in_years(moment, column)


# ---- words

Known = dict[str, str]


def squash(text: str) -> str:
    """Text without case, spaces, hyphens and underscores, to compare words written by hand."""
    return re.sub(r"[\s_-]+", "", text.casefold())


@cache
def _known(aliases: str, words: tuple[str, ...]) -> Known:
    """Word for each writing, as listed and squashed; a squashed writing that is ambiguous stands for none."""
    others = dict(reference.aliases(aliases)) if aliases else {}
    others |= {word.casefold(): word for word in words}
    told = reference.table("ambiguous")
    unsure = {squash(text) for text in told.loc[told["column"] == aliases, "written"]}
    return {squash(other): word for other, word in others.items() if squash(other) not in unsure} | others


def _find(text: str, known: Known) -> str | None:
    return known.get(text.casefold()) or known.get(squash(text))


def _word(text: str, column: Column, known: Known) -> Reading:
    word = _find(text, known)
    if word is None:
        raise _unknown(text, column)
    return word, "" if squash(word) == squash(text) else f'read as "{word}"'


_BETWEEN = re.compile(r"[,;/|+&]")
_SPLIT_UNIT = re.compile(r"(?<=[0-9])\s+(?=[cm]?m\b)", re.IGNORECASE)


def _words(text: str, column: Column, known: Known) -> Reading:
    found: list[str] = []
    changed = False
    for piece in _pieces(text, known):
        word = _find(piece, known)
        if word is None and known:
            raise _unknown(piece, column, is_part=squash(piece) != squash(text))
        if word is None:
            word = piece.casefold()
        changed = changed or squash(word) != squash(piece)
        found.append(word)
    if not found:
        raise UnreadError("not a list of words", column.mend)
    value = " ".join(dict.fromkeys(found))
    return value, f'read as "{value}"' if changed else ""


def _pieces(text: str, known: Known) -> Iterator[str]:
    """Words of a list; words that are known together ("net control") stay together."""
    for part in _BETWEEN.split(_SPLIT_UNIT.sub("", text)):
        left = part.split()
        while left:
            size = next((size for size in (3, 2) if _find(" ".join(left[:size]), known)), 1)
            yield " ".join(left[:size])
            left = left[size:]


NO_KIND = " Leave out the row of a thing that is none of them."


def _unknown(text: str, column: Column, is_part: bool = False) -> UnreadError:
    def fix() -> str:
        if near := _near(text, column):
            return f"Did you mean {near}? {column.mend}"
        return column.mend + (NO_KIND if column.aliases == "kind" else "")

    what = "word of" if column.form == forms.WORDS else "word for"
    name = column.name.replace("_", " ")
    return UnreadError(
        f'in part, "{text[:40]}", not a known {what} {name}' if is_part else f"not a known {what} {name}", fix
    )


def _near(text: str, column: Column) -> str | None:
    if column.aliases:
        akin = reference.akin(text[:60], column.aliases)
        return reference.near(text[:60], column.aliases) or " or ".join(akin) or None
    close = difflib.get_close_matches(text[:60].casefold(), column.words, n=1, cutoff=reference.CLOSE_ENOUGH)
    return close[0] if close else None
