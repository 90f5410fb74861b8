"""Lists edited on a page: which rows, as what an editor shows, and back to the file a member would have sent."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd
import streamlit as st

from dashboard import edits, lending, parts, units
from dashboard.edits import EditError
from dashboard.names import file_name
from dashboard.standing import club
from data import checks, forms, plain_words, reference, schema, upload, writing
from data.forms import Column
from data.problems import Problem
from data.store import COVERS
from rules.engine import OWN, assess

SHORT = ("item", "kind", "quantity", "spare", "condition", "charged")
# Shown in the short view where a kind of the kit usually has them.
OFTEN = (
    "dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far", "bands", "chemistry", "capacity_ah", "amps_rated",
    "coax", "length_m",
)  # fmt: skip
# What a kit of each sort is usually begun with; common practice, and only a beginning.
CHECKLISTS: dict[str, tuple[str, ...]] = {
    "handheld bag": (
        "handheld", "handheld_pack", "handheld_pack", "whip", "speaker_mic", "charger_handheld", "channel_list",
        "clipboard", "headlamp", "hi_vis", "water",
    ),
    "vehicle or table station": (
        "mobile_vhf_uhf", "battery_lifepo4", "charger_lifepo4", "dc_lead", "fuse", "mag_mount", "jpole", "coax",
        "rf_adapter_kit", "multimeter", "headphones", "channel_list", "clipboard", "hi_vis",
    ),
    "HF station": (
        "hf_100w", "battery_lifepo4", "charger_lifepo4", "dc_lead", "fuse", "dipole", "coax", "tuner",
        "mast_fibreglass", "guy_kit", "headphones", "manual", "clipboard",
    ),
}  # fmt: skip
YES_NO = {True: "yes", False: "no"}
SHOWN_DIGITS = 12
INDEX_PX = 45  # of the numbers of rows
MOMENT_PX = 150  # of a day and its hour
NARROW_LETTERS = 16  # that a column holds whose width nobody sets


@dataclass(frozen=True)
class Part:
    """The part of one kind of file that is edited: the rows with these values, which are not shown.

    The values are those of the columns that an upload of this kind covers, so that saving replaces these rows and
    no other.
    """

    stem: str
    values: tuple[str, ...] = ()

    @property
    def fixed(self) -> dict[str, str]:
        """Value of each column that is not shown."""
        return dict(zip(COVERS[self.stem], self.values, strict=True)) if self.values else {}

    def of(self, frame: pd.DataFrame) -> pd.DataFrame:
        """The rows of the part, in their order."""
        for name, value in self.fixed.items():
            frame = frame[frame[name] == value]
        return frame.reset_index(drop=True)

    @property
    def columns(self) -> dict[str, Column]:
        """Columns that are shown."""
        return {name: told for name, told in schema.columns(self.stem).items() if name not in self.fixed}

    @property
    def name(self) -> str:
        """What the part is called in the records."""
        return file_name(*self.values) if self.values else "whole"


def opened(part: Part, frame: pd.DataFrame) -> pd.DataFrame:
    """Typed rows as the editor holds them: words and yes or no as text, lists of words as lists, the reader's units."""
    rows = part.of(frame)
    return pd.DataFrame({name: _shown(rows[name], told) for name, told in part.columns.items()})


def is_converted(column: Column) -> bool:
    """Whether the editor shows a column in other units than it is kept in."""
    return units.name(column.unit) != column.unit


def _shown(values: pd.Series, column: Column) -> pd.Series:
    """Cells as objects, None where nothing stands: a row that the editor adds fits no narrower type."""
    shown = values.map(lambda kept: _in_us(kept, column.unit)) if is_converted(column) else values
    shown = shown.astype(object)
    if column.form not in (forms.NUMBER, forms.WHOLE, forms.DATE, forms.MOMENT):
        shown = pd.Series(writing.cells(values, column.form), index=values.index, dtype=object)
        shown = shown.where(shown != "", None)
    shown = shown.where(shown.notna(), None)
    return shown.map(str.split, na_action="ignore").astype(object) if is_list(column) else shown


def _in_us(kept: float, unit: str) -> float:
    """A kept figure in feet and the like, to as many digits as an editor can show."""
    return float(f"{units.in_us(kept, unit):.{SHOWN_DIGITS}g}")


def _taken(written: pd.Series, kept: pd.Series, unit: str) -> pd.Series:
    """Figures in feet and the like as they are kept; those that nobody touched are kept to the last bit."""
    untouched = {_in_us(value, unit): value for value in kept.dropna()}
    return written.map(lambda value: untouched.get(value, units.taken(value, unit)), na_action="ignore")


def turned(part: Part, edited: pd.DataFrame) -> pd.DataFrame:
    """Rows of the editor in the other units than they are in: those that the reader has just chosen."""
    kept, turned = club().store.frame(part.stem), edited.copy()
    for name, told in part.columns.items():
        if told.unit in units.US:
            figures = pd.to_numeric(edited[name])
            turned[name] = (
                figures.map(lambda value, unit=told.unit: _in_us(value, unit), na_action="ignore")
                if is_converted(told)
                else _taken(figures, kept[name], told.unit)
            )
            turned[name] = turned[name].astype(object).where(turned[name].notna(), None)
    return turned


def is_list(column: Column) -> bool:
    """Whether several words of a list stand in the cell."""
    return column.form == forms.WORDS and bool(column.words)


def csv_of(part: Part, edited: pd.DataFrame) -> bytes:
    """Rows of the editor as the CSV file that a member would have written; rows left empty are no rows."""
    kept = club().store.frame(part.stem) if any(map(is_converted, part.columns.values())) else None
    written = {
        name: _written(
            edited[name]
            if kept is None or not is_converted(told)
            else _taken(pd.to_numeric(edited[name]), kept[name], told.unit),
            told,
        )
        for name, told in part.columns.items()
    }
    filled = [part.stem == "kits" or any(cells) for cells in zip(*written.values(), strict=True)]
    columns = {}
    for name in schema.columns(part.stem):
        cells = written.get(name) or [part.fixed.get(name, "")] * len(filled)
        columns[name] = [cell for cell, is_filled in zip(cells, filled, strict=True) if is_filled]
    return writing.csv_of_cells(columns)


def _written(values: pd.Series, column: Column) -> list[str]:
    if is_list(column):
        return [" ".join(value) if isinstance(value, list | tuple) else "" for value in values]
    if column.form in (forms.MOMENT, forms.DATE):
        return writing.cells(pd.to_datetime(values, format="ISO8601"), column.form)
    if column.form in (forms.NUMBER, forms.WHOLE):
        return writing.cells(pd.to_numeric(values), column.form)
    return writing.cells(values, forms.TEXT)


def read(part: Part, edited: pd.DataFrame) -> upload.Upload:
    """The edited rows as the reader of uploads understands them. Line *n* is row *n* - 1 of those that are filled."""
    return upload.read(
        f"{part.name}-{part.stem}.csv",
        csv_of(part, edited),
        part.stem,
        limits=edits.LIMITS,
        aliases=club().policy().aliases,
    )


def problems(sent: upload.Upload) -> list[str]:
    """What is wrong with the rows, as an upload would be told, each thing a sentence that names its row and column."""
    return [in_row(found) for found in sent.problems]


def in_row(found: Problem) -> str:
    """A problem as a sentence that names the row and column of the editor."""
    row = f"row {found.line - 1}" if found.line > 1 else ""
    place = ", ".join(filter(None, (row, plain_words.columns().get(found.column, found.column))))
    said = re.sub(rf"(?<={checks.ALREADY} )line (\d+)", lambda at: f"row {int(at[1]) - 1}", found.problem)
    what = f'"{found.value}" is {said}' if found.value else said
    return f"{place}: {what}. {plain_words.titled(found.fix)}".removeprefix(": ").rstrip()


def in_force(part: Part) -> bytes:
    """The rows of the part as they stand in the store now, to see whether somebody changed them meanwhile."""
    return writing.csv_of(part.stem, part.of(club().store.frame(part.stem)))


def save(sent: Mapping[Part, upload.Upload], began_with: Mapping[Part, bytes], by: str) -> edits.Saved:
    """Put edited parts in force together.

    Parameters
    ----------
    began_with : what stood in force for each part when its editing began

    Raises
    ------
    EditError
        Somebody else changed one of the parts meanwhile, or its rows would be refused as a file.
    """

    def edit(part: Part, rows: pd.DataFrame) -> pd.DataFrame:
        if writing.csv_of(part.stem, part.of(rows)) != began_with[part]:
            raise EditError("Somebody else changed these rows while you edited them. Nothing was saved.")
        frame = sent[part].frame
        if frame is None:
            raise EditError(str(sent[part].problems[0]))
        return frame

    makes = {part.stem: (lambda rows, part=part: edit(part, rows)) for part in sent}
    return edits.save(makes, next(iter(sent)).name, by)


def verdict_after(sent: Mapping[Part, upload.Upload], member: str, day: date) -> pd.DataFrame:
    """Scores of what is a member's if the edited rows were in force, as `Assessment.scores`.

    The rows that bear on the member are enough, but for a club's own rules, which may look at everyone's.
    """
    policy = club().policy()
    if policy.own_rules:
        scores = club().trial(list(sent.values())).scores
        return scores[scores["member"] == member]
    frames = club().store.frames_bearing_on(member, sent.values())
    scores = assess(frames, policy, day, subjects=OWN).scores()
    return scores[scores["member"] == member]


# ---- what an editor shows


def short_view(edited: pd.DataFrame) -> list[str]:
    """Columns of an inventory that nobody should miss, and those that the kinds of the kit usually have."""
    kinds = reference.kinds().set_index("kind")
    usual = kinds.loc[[kind for kind in edited["kind"].dropna().unique() if kind in kinds.index]]
    has = {name: usual[name].notna().any() for name in OFTEN}
    has["capacity_ah"] |= has["chemistry"]  # a battery whose capacity nobody can assume is asked for it
    return [*SHORT, *(name for name in OFTEN if has[name])]


def config(part: Part, rows: pd.DataFrame) -> dict[str, Any]:
    """Column settings of the editor: pick lists with labels, units in the headings, what to write as help.

    The first column stays in sight while the others are moved sideways.

    Parameters
    ----------
    rows : what the editor is given; what stands in it can be chosen again
    """
    choices = known(part)
    settings = {
        name: _config(told, sorted({*choices[name], *rows[name].dropna()}) if name in choices else None)
        for name, told in part.columns.items()
    }
    first = next(iter(settings))
    kept = parts.in_sight(rows, [first])[first]
    return settings | {"_index": {"width": INDEX_PX}, first: settings[first] | kept}


def known(part: Part) -> dict[str, set[str]]:
    """By column, the names that the club knows, to be chosen from where a row points to something else."""
    frame = club().store.frame
    if part.stem == "loans":
        inventory = frame("inventory")
        things = lending.of_the_club(inventory)
        kits = set(inventory["member"] + "/" + inventory["kit"])
        return {"item": things | kits, "borrower": _members(inventory)} if things else {}
    if part.stem == "rehearsals":
        return {"event": set(frame("events")["event"]), "post": set(frame("posts")["post"])}
    if part.stem == "assignments":
        posts, inventory = frame("posts"), frame("inventory")
        here = posts[posts["event"] == part.fixed.get("event")]["post"] if part.fixed else posts["post"]
        kits = set(inventory["kit"].dropna())
        return {"post": set(here), "member": _members(inventory), "kit": kits}
    return {}


def _members(inventory: pd.DataFrame) -> set[str]:
    """Members of the club, from the lists of things and of members."""
    listed = [inventory["member"], club().store.frame("members")["member"]]
    return set(pd.concat(listed).dropna())


def heading(column: Column) -> str:
    """What stands above a column, with the unit of the reader."""
    return f"{column.title}, {units.name(column.unit)}" if column.unit else column.title


def meanings(part: Part, shown: Sequence[str] | None = None) -> dict[str, str]:
    """What the columns that are shown mean, by their headings; with none named, all of them."""
    return {
        heading(told): told.description
        for name, told in part.columns.items()
        if shown is None or name in shown
    }


def _config(column: Column, choices: list[str] | None) -> Any:
    told: dict[str, Any] = {"label": heading(column), "help": column.description}
    if choices:
        return st.column_config.SelectboxColumn(**told, options=choices)
    if column.form == forms.YES_NO:
        return st.column_config.SelectboxColumn(**told, options=list(YES_NO.values()))
    if column.form in (forms.NUMBER, forms.WHOLE):
        return st.column_config.NumberColumn(**told)
    if column.form == forms.DATE:
        return st.column_config.DateColumn(**told, format="YYYY-MM-DD")
    if column.form == forms.MOMENT:
        return st.column_config.DatetimeColumn(**told, format="YYYY-MM-DD HH:mm", step=60, width=MOMENT_PX)
    if column.words:
        labels = labels_of(column)
        if max(map(len, labels.values())) > NARROW_LETTERS:
            told["width"] = "medium"  # the framework measures the words that are kept, not their labels
        if is_list(column):
            return st.column_config.MultiselectColumn(**told, options=list(labels), format_func=labels.get)
        return st.column_config.SelectboxColumn(**told, options=list(labels), format_func=labels.get)
    return st.column_config.TextColumn(**told)


def labels_of(column: Column) -> dict[str, str]:
    """Each word of a column with what people call it."""
    if column.reference not in reference.WORDS_IN:
        return {word: word.replace("_", " ") for word in column.words}
    listed = reference.word_list(column.reference)
    return {word: label or word for word, label in zip(listed["write"], listed["means"], strict=True)}


def begun_with(part: Part, sort: str) -> pd.DataFrame:
    """Rows to begin an empty kit with, from the checklist of a sort of kit."""
    labels = labels_of(part.columns["kind"])
    kinds = pd.Series(CHECKLISTS[sort]).value_counts(sort=False)
    first = {
        "item": [labels[kind] for kind in kinds.index],
        "kind": kinds.index,
        "quantity": kinds.to_numpy(),
    }
    blank = opened(part, schema.empty(part.stem))
    begun = pd.DataFrame(first).reindex(columns=blank.columns).astype(object)
    return begun.where(begun.notna(), None)


def one_blank(part: Part) -> pd.DataFrame:
    """One row with nothing in it."""
    blank = opened(part, schema.empty(part.stem)).reindex([0])
    return blank.where(blank.notna(), None)
