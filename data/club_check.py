"""Names that lead nowhere between a club's files: a post of an event not listed, a kit nobody has."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from difflib import get_close_matches
from typing import Any

import pandas as pd

from data.upload import Problem


def loose_ends(frames: Mapping[str, pd.DataFrame]) -> list[Problem]:
    """Every cell that names an event, post, member or kit that no other file knows.

    A member is known by members.csv, inventory.csv or kits.csv; a kit exists when an inventory lists
    something in it. Where a name is unknown, the names that hang on it in the same row are not judged.

    Parameters
    ----------
    frames : typed frames by file stem, as `data.upload.read` gives them; a missing frame has no rows
    """
    events = _names(frames, "events", "event")
    posts = _names_under(frames, "posts", "event", "post")
    kits = _names_under(frames, "inventory", "member", "kit")
    members = _names(frames, "members", "member") | set(kits) | _names(frames, "kits", "member")

    found = []
    for row in _rows(frames, "posts", "event"):
        if row["event"] not in events:
            found.append(_unknown_event(row, events))
    for row in _rows(frames, "assignments", "event", "post", "member", "kit", "kit_owner"):
        event, post, member, kit = row["event"], row["post"], row["member"], row["kit"]
        owner = member if pd.isna(row["kit_owner"]) else row["kit_owner"]
        if event not in events:
            found.append(_unknown_event(row, events))
        elif post not in posts.get(event, ()):
            otherwise = f'or add the post to event "{event}" in posts.csv'
            found.append(_problem(row, "post", f"not a post of {event}", posts.get(event, ()), otherwise))
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
