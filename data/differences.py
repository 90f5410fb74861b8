"""What an upload changes, thing by thing and cell by cell."""

from __future__ import annotations

import pandas as pd

from data import schema, writing

CHANGES = ["change", "member", "kit", "item", "column", "before", "after"]
# Rows before and after with the same values here are the same thing; alike ones are paired in their order.
SAME_THING: dict[str, tuple[str, ...]] = {
    "inventory": ("member", "kit", "item", "kind"),
    "kits": ("member", "kit"),
    "rehearsals": ("member", "kit", "date", "stage"),
    "posts": ("event", "post"),
    "assignments": ("event", "post", "member"),
    "members": ("member",),
    "events": ("event",),
    "offers": ("offer", "kind"),
    "loans": ("item", "borrower", "out"),
}
# Of these columns, those that say whose the thing is.
WHOSE = ("member", "borrower")


def compare(stem: str, before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    """The rows of a file before and after, side by side.

    Returns
    -------
    DataFrame
        change ('added', 'removed', 'changed'), member, kit, item, column, before, after; all text, ""
        where nothing stands. One row for each thing added or removed, one for each cell changed.
        `item` is the thing, post, event or offer that the row is about.
    """
    keys = list(SAME_THING[stem])
    told = [name for name in schema.columns(stem) if name not in keys]
    both = _as_text(stem, before).merge(
        _as_text(stem, after),
        on=[*keys, "_nth"],
        how="outer",
        suffixes=("_before", "_after"),
        indicator="_side",
    )
    owner = next((name for name in keys if name in WHOSE), None)
    about = pd.DataFrame(
        {
            "member": both[owner] if owner else "",
            "kit": both["kit"] if "kit" in keys else "",
            "item": _label(both, [name for name in keys if name not in (*WHOSE, "kit", "kind")]),
        },
        index=both.index,
    )
    parts = [
        about[both["_side"] == side].assign(change=change, column="", before="", after="")
        for side, change in (("right_only", "added"), ("left_only", "removed"))
    ]
    for name in told:
        was, becomes = both[f"{name}_before"], both[f"{name}_after"]
        differs = (both["_side"] == "both") & (was != becomes)
        parts.append(
            about[differs].assign(change="changed", column=name, before=was[differs], after=becomes[differs])
        )
    return pd.concat(parts)[CHANGES].sort_index(kind="stable").reset_index(drop=True)


def _label(rows: pd.DataFrame, columns: list[str]) -> pd.Series[str]:
    label = pd.Series("", index=rows.index, dtype="str")
    for name in columns:
        label = label + (" · " if name != columns[0] else "") + rows[name]
    return label


def _as_text(stem: str, frame: pd.DataFrame) -> pd.DataFrame:
    """Cells as a member would write them, "" for an empty one; `_nth` counts rows about the same thing."""
    text = pd.DataFrame(
        {name: writing.cells(frame[name], column.form) for name, column in schema.columns(stem).items()},
        index=frame.index,
        dtype="str",
    )
    return text.assign(_nth=text.groupby(list(SAME_THING[stem])).cumcount())
