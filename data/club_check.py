"""What does not fit between a club's files: a post of an event not listed, a kit nobody has, hours outside those of their event."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from difflib import get_close_matches
from typing import Any

import pandas as pd

from data import clocks
from data.problems import Problem

Hours = tuple[pd.Timestamp, pd.Timestamp]
A_DAY = pd.Timedelta(days=1)


def loose_ends(frames: Mapping[str, pd.DataFrame]) -> list[Problem]:
    """Every cell that names an event, post, member or kit that no other file knows, and hours that end before they begin.

    A member is known by members.csv, inventory.csv or kits.csv; a kit exists when an inventory lists
    something in it. Where a name is unknown, the names that hang on it in the same row are not judged. An end of the
    hours that is left blank is that of the post, or of the event.

    Parameters
    ----------
    frames : typed frames by file stem, as `data.upload.read` gives them; a missing frame has no rows
    """
    events = _names(frames, "events", "event")
    posts = _names_under(frames, "posts", "event", "post")
    kits = _names_under(frames, "inventory", "member", "kit")
    members = _names(frames, "members", "member") | set(kits) | _names(frames, "kits", "member")

    found = []
    hours = {
        row["event"]: (row["starts"], row["ends"])
        for row in _rows(frames, "events", "event", "starts", "ends")
    }
    zones = {
        row["event"]: row["time_zone"]
        for row in _rows(frames, "events", "event", "time_zone")
        if not pd.isna(row["time_zone"]) and clocks.is_known(row["time_zone"])
    }
    open_at = {}
    for row in _rows(frames, "posts", "event", "post", "opens", "closes"):
        if row["event"] not in events:
            found.append(_unknown_event(row, events))
        else:
            open_at[row["event"], row["post"]] = _within(row, "opens", "closes", hours[row["event"]])
            found += _impossible(row, "opens", "closes", f"event {row['event']}", hours[row["event"]])
            found += _left_out(row, "opens", "closes", zones)
    for row in _rows(frames, "assignments", "event", "post", "member", "kit", "kit_owner", "from", "to"):
        event, post, member, kit = row["event"], row["post"], row["member"], row["kit"]
        owner = member if pd.isna(row["kit_owner"]) else row["kit_owner"]
        if event not in events:
            found.append(_unknown_event(row, events))
        elif post not in posts.get(event, ()):
            otherwise = f'or add the post to event "{event}" in posts.csv'
            found.append(_problem(row, "post", f"not a post of {event}", posts.get(event, ()), otherwise))
        else:
            found += _impossible(row, "from", "to", f"post {post}", open_at[event, post])
            found += _left_out(row, "from", "to", zones)
        if member not in members:
            found.append(_unknown_member(row, "member", members))
        elif owner not in members:
            found.append(_unknown_member(row, "kit_owner", members))
        elif not pd.isna(kit) and kit not in kits.get(owner, ()):
            found.append(_unknown_kit(row | {"member": owner}, kits))
    for stem in ("kits", "rehearsals"):
        for row in _rows(frames, stem, "member", "kit"):
            if row["member"] not in members:
                found.append(_unknown_member(row, "member", members))
            elif row["kit"] not in kits.get(row["member"], ()):
                found.append(_unknown_kit(row, kits))
    for row in _rows(frames, "loans", "borrower"):
        if row["borrower"] not in members:
            found.append(_unknown_member(row, "borrower", members))
    return found


def _unknown_event(row: dict[str, Any], events: Collection[str]) -> Problem:
    return _problem(row, "event", "not an event of events.csv", events, "or add the event to events.csv")


def _unknown_member(row: dict[str, Any], column: str, members: Collection[str]) -> Problem:
    return _problem(
        row, column, "not a member whom any file lists", members, "or add the member to members.csv"
    )


def _unknown_kit(row: dict[str, Any], kits: Mapping[str, Collection[str]]) -> Problem:
    member = row["member"]
    otherwise = f"or send an inventory in which {member} has this kit"
    return _problem(row, "kit", f"not a kit in an inventory of {member}", kits.get(member, ()), otherwise)


def _within(row: dict[str, Any], begin: str, end: str, whole: Hours) -> Hours:
    """The hours of a row, where an end that is left blank is that of the whole."""
    first, last = (
        of if pd.isna(row[name]) else row[name] for name, of in zip((begin, end), whole, strict=True)
    )
    return first, last


def _impossible(row: dict[str, Any], begin: str, end: str, of: str, whole: Hours) -> list[Problem]:
    """Hours of a row that end before they begin, as one end is told and the other is that of the whole, or that are of another day."""
    first, last = _within(row, begin, end, whole)
    ends_early = first >= last or first >= whole[1] + A_DAY
    if (pd.isna(row[begin]) and pd.isna(row[end])) or not (ends_early or last <= whole[0] - A_DAY):
        return []
    told = begin if (ends_early and not pd.isna(row[begin])) or pd.isna(row[end]) else end
    side, bound = ("not before", whole[1]) if told == begin else ("not after", whole[0])
    problem = f"{side} {bound:%Y-%m-%dT%H:%M}, when {of} {'ends' if told == begin else 'begins'}"
    fix = f"Correct the hour or the day of {begin} and {end}, or of what they belong to."
    return [Problem(row["file"], row["line"], told, f"{row[told]:%Y-%m-%dT%H:%M}", problem, fix)]


def _left_out(row: dict[str, Any], begin: str, end: str, zones: Mapping[str, str]) -> Iterator[Problem]:
    """Times of a row that clocks of its event's time zone leave out."""
    for column in (begin, end):
        if row["event"] in zones and not pd.isna(row[column]):
            for wrong in clocks.left_out(zones[row["event"]], column, row[column].to_pydatetime()):
                yield Problem(row["file"], row["line"], *wrong)


def _problem(
    row: dict[str, Any], column: str, problem: str, known: Collection[str], otherwise: str
) -> Problem:
    value = row[column]
    near = _nearest(value, known)
    fix = f'Write "{near}", {otherwise}.' if near else f"Correct the name, {otherwise}."
    return Problem(row["file"], row["line"], column, value, problem, fix)


def _nearest(value: str, known: Collection[str]) -> str | None:
    """The known name most like the value, upper and lower case alike; None when nothing is near."""
    by_fold = {name.casefold(): name for name in sorted(known)}
    near = get_close_matches(value.casefold(), by_fold, n=1)
    return by_fold[near[0]] if near else None


def _rows(frames: Mapping[str, pd.DataFrame], stem: str, *columns: str) -> Iterator[dict[str, Any]]:
    frame = frames.get(stem)
    if frame is None:
        return
    wanted = ["file", "line", *columns]
    for values in zip(*(frame[name].tolist() for name in wanted), strict=True):
        yield dict(zip(wanted, values, strict=True))


def _names(frames: Mapping[str, pd.DataFrame], stem: str, column: str) -> set[str]:
    frame = frames.get(stem)
    return set() if frame is None else set(frame[column].dropna())


def _names_under(
    frames: Mapping[str, pd.DataFrame], stem: str, owner: str, column: str
) -> Mapping[str, Collection[str]]:
    """Names of `column` by the name in `owner`, each pair once."""
    frame = frames.get(stem)
    if frame is None:
        return {}
    under: dict[str, set[str]] = {}
    for name, value in frame[[owner, column]].dropna().drop_duplicates().itertuples(index=False):
        under.setdefault(name, set()).add(value)
    return under
