"""Looking a kit over: its things as they stand, what the inspector found, and the rows that say so."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import pandas as pd

from dashboard.edits import EditError, Saved, save, with_row
from dashboard.sheets import kit as paper_kit
from dashboard.standing import Standing
from data import writing

THERE, MISSING, FAULTY = "there", "missing", "faulty"
CONDITION = {THERE: "ok", MISSING: "removed", FAULTY: "faulty"}
CHARGED, TESTED, POLARITY = "charged today", "tested today", "polarity checked"
COLUMN = {CHARGED: "charged", TESTED: "tested", POLARITY: "polarity_checked"}
CHARGEABLE = ("source", "pack")
TESTABLE = (
    "source", "pack", "radio", "other_radio", "antenna", "charger", "converter", "solar", "safety", "computer",
)  # fmt: skip
POLARISED = ("dc_lead", "clip_lead", "socket_lead", "dc_adapter")


@dataclass(frozen=True)
class Look:
    """What was found of one thing.

    Attributes
    ----------
    state : THERE, MISSING or FAULTY
    done : of CHARGED, TESTED and POLARITY what was done today
    """

    state: str
    done: tuple[str, ...] = ()


@dataclass(frozen=True)
class Outcome:
    """What an inspection did to a kit."""

    member: str
    kit: str
    counts: Mapping[str, int]
    saved: Saved = field(repr=False)
    is_whole: bool = False


def things(now: Standing, member: str, kit: str) -> pd.DataFrame:
    """The things of a kit in the order of its file.

    Columns: item, kind, role, quantity, module, condition, details, ticks (what can be done to it today).
    """
    held = paper_kit.find(now.assessment, member, kit)
    found = sorted(paper_kit.written(now.assessment, held["kit_id"]), key=lambda item: item["item_id"])
    rows = [
        {
            **{name: item[name] for name in ("item", "kind", "role", "quantity", "module", "condition")},
            "details": paper_kit.details(item),
            "ticks": ticks(item["role"], item["kind"]),
        }
        for item in found
    ]
    columns = ["item", "kind", "role", "quantity", "module", "condition", "details", "ticks"]
    return pd.DataFrame(rows, columns=columns)


def ticks(role: str, kind: str) -> tuple[str, ...]:
    """What an inspector can do to a thing and date."""
    can = {CHARGED: role in CHARGEABLE, TESTED: role in TESTABLE, POLARITY: kind in POLARISED}
    return tuple(tick for tick, is_so in can.items() if is_so)


def own_rows(inventory: pd.DataFrame, member: str, kit: str) -> pd.DataFrame:
    """The rows of one kit in the order of its file."""
    is_own = (inventory["member"] == member) & (inventory["kit"] == kit)
    return inventory[is_own].reset_index(drop=True)


def fingerprint(inventory: pd.DataFrame, member: str, kit: str) -> str:
    """A short word that is another one as soon as anything is written differently in the list of a kit."""
    told = writing.csv_of("inventory", own_rows(inventory, member, kit))
    return hashlib.sha256(told).hexdigest()[:12]


def inspect(
    member: str, kit: str, seen: str, looks: Mapping[int, Look], today: date, by: str, is_own: bool
) -> Outcome:
    """Save what was found. Once every thing was looked at, the day of the inspection is written too.

    Parameters
    ----------
    seen : fingerprint of the list that the inspector had before them
    looks : by place in `things`
    is_own : whether members look at their own kit; that is a check of the packing, not an inspection

    Raises
    ------
    EditError
        The list has changed meanwhile, or nothing was looked at.
    """
    if not looks:
        raise EditError("Nothing is ticked yet. Say of each thing whether it is there.")
    is_whole = False

    def items(inventory: pd.DataFrame) -> pd.DataFrame:
        nonlocal is_whole
        if fingerprint(inventory, member, kit) != seen:
            raise EditError("The list of this kit was changed by someone else meanwhile. Look it over again.")
        rows = own_rows(inventory, member, kit)
        is_whole = len(looks) == len(rows)
        return looked_at(rows, looks, today)

    def days(kits: pd.DataFrame) -> pd.DataFrame:
        is_this = (kits["member"] == member) & (kits["kit"] == kit)
        rows = kits[is_this].reset_index(drop=True)
        if not is_whole:
            return rows
        if rows.empty:
            rows = with_row("kits", rows, member=member, kit=kit)
        rows["packed" if is_own else "inspected"] = pd.Timestamp(today)
        return rows

    saved = save({"inventory": items, "kits": days}, "inspection", by)
    counts = {state: sum(look.state == state for look in looks.values()) for state in CONDITION}
    return Outcome(member, kit, counts, saved, is_whole)


def looked_at(rows: pd.DataFrame, looks: Mapping[int, Look], today: date) -> pd.DataFrame:
    """The rows of a kit with what was found written in."""
    rows = rows.copy()
    for place, look in looks.items():
        rows.loc[place, "condition"] = CONDITION[look.state]
        for tick in look.done if look.state == THERE else ():
            rows.loc[place, COLUMN[tick]] = pd.Timestamp(today)
    return rows


def due(now: Standing) -> pd.DataFrame:
    """Kits in the order in which they are to be looked over: member, kit, inspected, due; never inspected first."""
    kits = now.assessment.table("kit")[["member", "kit", "inspected"]]
    kits = kits.assign(due=kits["inspected"] + paper_kit.inspect_within(now.assessment))
    return kits.sort_values(["due", "member", "kit"], na_position="first", ignore_index=True)
