"""The report after an event: what became of each kit, and the rows of the files that change with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import pandas as pd

from data import clocks, failures
from data.club import kit_owner

Frames = Mapping[str, pd.DataFrame]
TELLING = ("hours_on_battery", "battery_left_pct", "trips_back", "also_missing", "notes")
"""What a line of the report may say of a kit at a post."""
BETWEEN = "; "


def things(frames: Frames, event: str) -> pd.DataFrame:
    """What the kits that were sent to an event hold: place (row of the inventory), member, kit, item, nth, quantity, condition.

    nth counts things with the same words in one kit, from 1.
    """
    sent = frames["assignments"]
    sent = sent[sent["event"].eq(event) & sent["kit"].notna()]
    pairs = set(zip(kit_owner(sent), sent["kit"], strict=True))
    held = frames["inventory"]
    here = held.loc[[pair in pairs for pair in zip(held["member"], held["kit"], strict=True)]]
    rows = here[["member", "kit", "item", "quantity", "condition"]].rename_axis("place").reset_index()
    rows["quantity"] = rows["quantity"].fillna(1)
    return rows.assign(nth=rows.groupby(["member", "kit", "item"]).cumcount() + 1)


def sheet(frames: Frames, event: str) -> pd.DataFrame:
    """One line for each kit and post of an event to fill in, with what was told already.

    Returns
    -------
    DataFrame
        member (whose kit it is), kit, post, planned_h, then TELLING

    Raises
    ------
    KeyError
        No file names the event.
    """
    when, posts = _event(frames, event), frames["posts"]
    posts = posts[posts["event"].eq(event)].set_index("post")
    told = {
        (row["member"], row["kit"], row["post"]): row
        for row in _told(frames, event, _day(when)).to_dict("records")
    }
    known, clock = things(frames, event), clocks.of_row(when)
    lines: dict[tuple[str, str, str], dict[str, Any]] = {}
    sent = frames["assignments"].query("event == @event and kit.notna()")
    for row in sent.assign(member=kit_owner(sent)).to_dict("records"):
        key = (row["member"], row["kit"], row["post"])
        post = posts.loc[row["post"]] if row["post"] in posts.index else pd.Series(dtype=object)
        begins = _first(row["from"], post.get("opens"), when["starts"])
        until = _first(row["to"], post.get("closes"), when["ends"])
        planned_h = (clock.utc(until) - clock.utc(begins)) / pd.Timedelta(hours=1)
        if key in lines:
            lines[key]["planned_h"] += planned_h
            continue
        lines[key] = {"planned_h": planned_h}
        if key in told:
            before = told[key]
            names = set(known[known["member"].eq(key[0]) & known["kit"].eq(key[1])]["item"])
            others = [name for name in _names(before["missing"]) if name not in names]
            lines[key] |= {name: before[name] for name in TELLING if name in before}
            lines[key]["also_missing"] = BETWEEN.join(others) or None
    rows = [
        dict(zip(("member", "kit", "post"), key, strict=True)) | line for key, line in sorted(lines.items())
    ]
    table = pd.DataFrame(rows, columns=["member", "kit", "post", "planned_h", *TELLING])
    numbers = ("planned_h", "hours_on_battery", "battery_left_pct")
    texts = ("member", "kit", "post", "also_missing", "notes")
    types = dict.fromkeys(numbers, "float64") | {"trips_back": "Int64"} | dict.fromkeys(texts, "str")
    return table.astype(types)


def untold(frames: Frames, event: str) -> pd.DataFrame:
    """Kits that were sent to an event of which nobody has told how they did: member, kit, post, planned_h."""
    if not {"assignments", "inventory", "rehearsals", "posts"} <= set(frames):
        return pd.DataFrame(columns=["member", "kit", "post", "planned_h"])
    lines, told = sheet(frames, event), _told(frames, event, _day(_event(frames, event)))
    known = set(zip(told["member"], told["kit"], told["post"], strict=True))
    is_told = [line in known for line in zip(lines["member"], lines["kit"], lines["post"], strict=True)]
    return lines.loc[[not one for one in is_told], ["member", "kit", "post", "planned_h"]].reset_index(
        drop=True
    )


def chosen_before(frames: Frames, event: str, column: str) -> list[int]:
    """Places of the things that were told already as `faulty` or `missing` at an event."""
    told = _told(frames, event, _day(_event(frames, event)))
    named = {
        (row["member"], row["kit"], name) for row in told.to_dict("records") for name in _names(row[column])
    }
    known = things(frames, event)
    is_named = [key in named for key in zip(known["member"], known["kit"], known["item"], strict=True)]
    return [int(place) for place in known.loc[is_named, "place"]]


def changed(
    frames: Frames, event: str, filled: pd.DataFrame, failed: Mapping[int, int], missing: Mapping[int, int]
) -> dict[str, pd.DataFrame]:
    """The files that take a report in: of each kit that is told of, all of its rows, as an upload replaces them.

    Parameters
    ----------
    filled : as `sheet` returns it; a line on which nothing is told is left out
    failed, missing : how many pieces by place, as `things` names them; some of a line stand in a line of their own
        afterwards, missing ones are taken out of the kit

    Returns
    -------
    dict
        rehearsals and inventory; a file that nothing changes is left out
    """
    day = _day(_event(frames, event))
    held = frames["inventory"]
    rows, names = _parted(held, failed, missing)
    lines = []
    for row in filled.to_dict("records"):
        own = {column: names.pop((row["member"], row["kit"], column), []) for column in ("faulty", "missing")}
        if not any(own.values()) and all(_is_empty(row[name]) for name in TELLING):
            continue
        own["missing"] += [] if _is_empty(row["also_missing"]) else [row["also_missing"].strip()]
        kept = ("member", "kit", "post", "hours_on_battery", "battery_left_pct", "trips_back", "notes")
        lines.append(
            {name: row[name] for name in kept}
            | {column: BETWEEN.join(told) or None for column, told in own.items()}
            | {"date": day, "stage": "event", "event": event, "line": 1, "file": "report"}
        )
    files = {}
    if lines:
        files["rehearsals"] = _rehearsals(frames["rehearsals"], lines)
    if not rows["condition"].equals(held["condition"]):
        pairs = {tuple(row) for row in held.loc[[*failed, *missing], ["member", "kit"]].to_numpy()}
        is_kit = [pair in pairs for pair in zip(rows["member"], rows["kit"], strict=True)]
        files["inventory"] = rows.loc[is_kit].reset_index(drop=True)
    return files


def _parted(
    held: pd.DataFrame, failed: Mapping[int, int], missing: Mapping[int, int]
) -> tuple[pd.DataFrame, dict[tuple[str, str, str], list[str]]]:
    """The inventory with what failed and what was missing in lines of its own, and what these are called by member, kit and column."""
    rows, parts = held.copy(), []
    names: dict[tuple[str, str, str], list[str]] = {}
    for column, pieces, condition in (("faulty", failed, "faulty"), ("missing", missing, "removed")):
        for place, count in sorted(pieces.items()):
            line = rows.loc[place].to_dict()
            there, name = int(_first(line["quantity"], 1)), line["item"]
            if count < there:
                name = f"{name} ({count} of {there})"
                parts.append(
                    rows.loc[[place]]
                    .assign(item=name, quantity=count, condition=condition)
                    .astype(rows.dtypes.to_dict())
                )
                rows.loc[place, "quantity"] = there - count
            else:
                rows.loc[place, "condition"] = condition
            names.setdefault((line["member"], line["kit"], column), []).append(name.replace(";", ","))
    return pd.concat([rows, *parts]).sort_index(kind="stable") if parts else rows, names


def still_listed(frames: Frames, event: str) -> pd.DataFrame:
    """Things that failed or were missing at an event and stand in the inventory as before.

    One that was tested, serviced or acquired since works again.

    Returns
    -------
    DataFrame
        line, member, kit, item, before, after: the condition as it is and as it should be
    """
    held, told = frames["inventory"], frames["rehearsals"]
    told = told[told["event"].eq(event) & told["stage"].eq("event")]
    rows = []
    for row in told.to_dict("records"):
        of_kit = held[held["member"].eq(row["member"]) & held["kit"].eq(row["kit"])]
        for column, after in (("faulty", "faulty"), ("missing", "removed")):
            named = of_kit[
                of_kit["item"].isin(_names(row[column]))
                & ~of_kit["condition"].isin(["faulty", "removed"])
                & ~(of_kit[[*failures.DATED]] > row["date"]).any(axis=1)
            ]
            rows += [
                (*line, after) for line in named[["line", "member", "kit", "item", "condition"]].to_numpy()
            ]
    columns = ["line", "member", "kit", "item", "before", "after"]
    return pd.DataFrame(rows, columns=columns).drop_duplicates(ignore_index=True)


def _rehearsals(told: pd.DataFrame, lines: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """All rows of the kits on the lines, with the lines in the place of what was told of the same day and post."""
    new = pd.DataFrame(lines).reindex(columns=told.columns).astype(told.dtypes.to_dict())
    pairs = set(zip(new["member"], new["kit"], strict=True))
    said = ["member", "kit", "post", "event", "date"]
    again = {tuple(row) for row in new[said].astype(str).to_numpy()}
    kept = [
        pair in pairs and row not in again
        for pair, row in zip(
            zip(told["member"], told["kit"], strict=True),
            (tuple(row) for row in told[said].astype(str).to_numpy()),
            strict=True,
        )
    ]
    both = [part for part in (told.loc[kept], new) if len(part)]
    return pd.concat(both, ignore_index=True)


def _told(frames: Frames, event: str, day: pd.Timestamp) -> pd.DataFrame:
    """What was told of an event on its day."""
    told = frames["rehearsals"]
    return told[told["event"].eq(event) & told["stage"].eq("event") & told["date"].eq(day)]


def _event(frames: Frames, event: str) -> Any:
    events = frames["events"]
    found = events[events["event"].eq(event)]
    if found.empty:
        raise KeyError(event)
    return found.iloc[0]


def _day(event: Any) -> pd.Timestamp:
    return pd.Timestamp(event["starts"]).normalize()


def has_begun(event: Any, today: date) -> bool:
    """Whether an event (a row of events.csv) has begun on a day, so that it can be told of."""
    return _day(event).date() <= today


def _first(*values: Any) -> Any:
    return next(value for value in values if not pd.isna(value))


def _names(cell: Any) -> list[str]:
    return [] if _is_empty(cell) else [name.strip() for name in str(cell).split(";") if name.strip()]


def _is_empty(value: Any) -> bool:
    return bool(pd.isna(value)) or not str(value).strip()
