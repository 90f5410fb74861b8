"""What if: the club judged before and after a change, and which single failure hurts an event most."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from data import clocks, plain_words, reference, schema
from data.club import kit_owner
from rules.engine import Assessment, assess
from rules.plans import staffing
from rules.verdicts import VERDICTS

Frames = Mapping[str, pd.DataFrame]
STANDS = ["post", "member", "kit", "kit_owner", "from", "to"]
"""What two plans are told apart by."""
SHOWN = ("post", "event", "kit", "member")
ADAPTERS = ("dc_adapter", "clip_lead", "socket_lead", "rf_adapter", "rf_pigtail", "rf_adapter_kit")
"""Kinds that join two families of connectors."""
AIR_C = (-60.0, 60.0)
"""Least and most that events.csv takes."""
LASTS_H = (0.1, 1000.0)
"""Least and most from opening to closing, h: six weeks."""
PLUGS = ("dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far")


class ChangeError(ValueError):
    """A change that names nothing the club knows; the message says what to write."""


@dataclass(frozen=True)
class Change:
    """One thing that is otherwise.

    Attributes
    ----------
    what : coldest or hottest (value in °C) or hours (value in h from the opening) of an event; hours or duty
        (value a word of duty.csv) of one post or, without a post, of all; absent: a member, from one event or all;
        kit_failed: every item of a kit is faulty; item_failed: one piece of each line
        that names the thing
    """

    what: str
    value: float | str | None = None
    event: str | None = None
    post: str | None = None
    member: str | None = None
    kit: str | None = None
    item: str | None = None


@dataclass(frozen=True)
class WhatIf:
    """Before and after, and the verdicts side by side.

    Attributes
    ----------
    verdicts : subject_kind, subject, event, post, member, kit, before, after, low_before, low_after,
        high_before, high_after, is_worse, is_better
    """

    before: Assessment
    after: Assessment
    verdicts: pd.DataFrame


def what_if(frames: Frames, changes: Sequence[Change], before: Assessment) -> WhatIf:
    """Judge the club with the changes, beside the club as it is.

    Parameters
    ----------
    before : the club as it is, judged; its policy and day hold for both

    Raises
    ------
    ChangeError
        A change names an event, post, member, kit, item, duty or kind of change that is not known.
    """
    after = assess(changed(frames, changes), before.policy, before.today, before.rules)
    return WhatIf(before, after, side_by_side(before, after))


def side_by_side(before: Assessment, after: Assessment) -> pd.DataFrame:
    """Verdicts and score ranges of posts, events, kits and members in both."""
    keys = ["subject_kind", "subject", "event", "post", "member", "kit"]
    both = before.scores().merge(after.scores(), on=keys, how="outer", suffixes=("_before", "_after"))
    both = both[both["subject_kind"].isin(SHOWN)].rename(
        columns={"verdict_before": "before", "verdict_after": "after"}
    )
    rank = {word: place for place, word in enumerate(VERDICTS)}
    was, now = both["before"].map(rank), both["after"].map(rank)
    both["is_worse"], both["is_better"] = now < was, now > was
    order = both["subject_kind"].map({kind: place for place, kind in enumerate(SHOWN)})
    both = both.assign(order=order).sort_values(
        ["is_worse", "order", "subject"], ascending=[False, True, True]
    )
    return both.drop(columns="order").reset_index(drop=True)


@dataclass(frozen=True)
class Staffings:
    """The best staffing of an event before and after.

    Attributes
    ----------
    measures : objective, before, after; lower is better
    moves : post, member, kit (missing where none is brought), kit_owner (whose it is where another lends it), from, to,
        stands (before or after): who stands at a post in one of the two plans alone
    uncovered : what stays open after, why, and the cheapest change that would fill it, as `staffing.Plan` has it
    """

    measures: pd.DataFrame
    moves: pd.DataFrame
    uncovered: pd.DataFrame


def staffings(what: WhatIf, event: str, seconds: float = 10.0, changes: Sequence[Change] = ()) -> Staffings:
    """The best staffing of an event before, and after the one of the best that moves the fewest people.

    Parameters
    ----------
    changes : those made; who is absent from this event alone stands in no file
    """
    absent = [
        change.member
        for change in changes
        if change.what == "absent" and change.event == event and change.member
    ]
    before = staffing.staff(what.before, event, seconds=seconds)
    after = staffing.staff(what.after, event, seconds=seconds, absent=absent, near=before.rows)
    measures = [(name, before.values[name], after.values[name]) for name in staffing.OBJECTIVES]
    return Staffings(
        pd.DataFrame(measures, columns=["objective", "before", "after"]),
        _moves(before.rows, after.rows),
        after.uncovered,
    )


def _moves(before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    """The rows of two plans that stand in one of them alone, post by post as the plans have them."""
    every = pd.concat([before.assign(stands="before"), after.assign(stands="after")], ignore_index=True)
    every["place"] = every["post"].map({post: at for at, post in enumerate(dict.fromkeys(every["post"]))})
    alone = every[~every.duplicated(STANDS, keep=False)].sort_values(["place", "from"], kind="stable")
    return alone[[*STANDS, "stands"]].reset_index(drop=True)


def changed(frames: Frames, changes: Iterable[Change]) -> dict[str, pd.DataFrame]:
    """A copy of the frames with the changes made, in order."""
    copy = {stem: frame.copy() for stem, frame in frames.items()}
    for stem in schema.FILES:
        copy.setdefault(stem, schema.empty(stem))
    for change in changes:
        make = KINDS.get(change.what)
        if make is None:
            raise ChangeError(f'"{change.what}" is not a change. Write one of: {", ".join(KINDS)}.')
        make(copy, change)
    return copy


def _rows(frame: pd.DataFrame, what: str, **named: str | None) -> pd.Series:
    """The rows that carry the names; a name not given matches every row."""
    found = pd.Series(True, index=frame.index)
    for column, name in named.items():
        if name is not None:
            found &= frame[column].eq(name).fillna(False).astype(bool)
    if not found.any():
        told = " of ".join(
            f'{column} "{name}"' for column, name in reversed(named.items()) if name is not None
        )
        raise ChangeError(f"{what}: there is no {told}. Write the names as they stand in the files.")
    return found


def _number(change: Change, least: float, most: float, wanted: str) -> float:
    if isinstance(change.value, str) or change.value is None:
        raise ChangeError(f'{change.what}: "{change.value}" is not a number. Write one, such as 4.')
    if not least <= change.value <= most:
        said = f"{change.what}: {change.value:g} is out of range"
        raise ChangeError(f"{said}. Write {wanted}, at least {least:g} and at most {most:g}.")
    return float(change.value)


def _temperature(column: str, other: str, is_low: bool) -> Callable[[dict[str, pd.DataFrame], Change], None]:
    def make(frames: dict[str, pd.DataFrame], change: Change) -> None:
        value = _number(change, *AIR_C, "°C")
        events = frames["events"]
        rows = _rows(events, change.what, event=change.event)
        events.loc[rows, column] = value
        beyond = rows & (events[other] < value if is_low else events[other] > value)
        events.loc[beyond, other] = value

    return make


def _hours(frames: dict[str, pd.DataFrame], change: Change) -> None:
    """Close the event, or one post, so many hours after it opens; assignments that end with it end with it again.

    Whoever would have come after that does not come.
    """
    length = pd.Timedelta(hours=_number(change, *LASTS_H, "the hours from opening to closing"))
    events, posts, sent = frames["events"], frames["posts"], frames["assignments"]
    event = events[_rows(events, "hours", event=change.event)].iloc[0]
    rows = _rows(posts, "hours", event=event["event"], post=change.post)
    clock = clocks.of_row(event, (event["starts"] + length).to_pydatetime())
    opens = posts["opens"].fillna(event["starts"])
    closes = posts["closes"].fillna(event["ends"])
    later = clock.utc(event["starts"]) + length - clock.utc(event["ends"])
    new = opens.map(lambda at: clock.local(clock.utc(at) + length))
    if change.post is None:
        new = closes.map(lambda at: clock.local(clock.utc(at) + later))
    new = new.where(rows, closes)
    if (new <= opens)[rows].any():
        name = posts.loc[rows & (new <= opens), "post"].iloc[0]
        raise ChangeError(f"hours: {change.value:g} h closes {name} before it opens. Write more hours.")
    ends, gone = sent["to"].copy(), pd.Series(False, index=sent.index)
    for at in posts.index[rows]:
        here = sent["event"].eq(event["event"]) & sent["post"].eq(posts["post"][at])
        with_it = here & (ends.isna() | (ends >= min(closes[at], new[at])))
        sent.loc[with_it, "to"] = new[at]
        gone |= here & (sent["from"] >= new[at])
    frames["assignments"] = sent[~gone].reset_index(drop=True)
    posts.loc[rows, "closes"] = new[rows]
    if change.post is None:
        ends_at = clock.local(clock.utc(event["starts"]) + length)
        events.loc[events["event"].eq(event["event"]), "ends"] = ends_at


def lasts_h(frames: Frames, event: str, post: str | None = None) -> float:
    """Hours (h) from opening to closing of an event, or of one post of it, as told.

    Raises
    ------
    ChangeError
        No file names the event or the post.
    """
    events, posts = frames["events"], frames["posts"]
    row = events[_rows(events, "hours", event=event)].iloc[0]
    opens, closes = row["starts"], row["ends"]
    if post is not None:
        place = posts[_rows(posts, "hours", event=event, post=post)].iloc[0]
        opens = opens if pd.isna(place["opens"]) else place["opens"]
        closes = closes if pd.isna(place["closes"]) else place["closes"]
    clock = clocks.of_row(row)
    return float((clock.utc(closes) - clock.utc(opens)) / pd.Timedelta(hours=1))


def _duty(frames: dict[str, pd.DataFrame], change: Change) -> None:
    known = reference.words("duty")
    if change.value not in known:
        raise ChangeError(f'duty: "{change.value}" is not known. Write one of: {", ".join(known)}.')
    frames["posts"].loc[_rows(frames["posts"], "duty", event=change.event, post=change.post), "duty"] = (
        change.value
    )


def _absent(frames: dict[str, pd.DataFrame], change: Change) -> None:
    if change.member is None:
        raise ChangeError("absent: no member is named. Write whose absence is meant.")
    members, sent = frames["members"], frames["assignments"]
    known = {*members["member"], *frames["inventory"]["member"], *sent["member"]}
    if change.member not in known:
        raise ChangeError(f'absent: "{change.member}" is not a member. Write one as it stands in the files.')
    if change.event is not None:
        _rows(frames["events"], "absent", event=change.event)
    else:
        if not members["member"].eq(change.member).any():
            row = {"member": change.member, "file": "what if", "line": 1}
            new = pd.DataFrame([row]).reindex(columns=members.columns).astype(members.dtypes.to_dict())
            members = frames["members"] = pd.concat(
                [part for part in (members, new) if len(part)], ignore_index=True
            )
        members.loc[members["member"].eq(change.member), "available"] = False
    gone = sent["member"].eq(change.member) & (sent["event"].eq(change.event) if change.event else True)
    frames["assignments"] = sent[~gone].reset_index(drop=True)


def _failed(frames: dict[str, pd.DataFrame], change: Change) -> None:
    if change.member is None or change.kit is None:
        raise ChangeError(f"{change.what}: no member and kit are named. Write whose and which.")
    item = change.item if change.what == "item_failed" else None
    held = frames["inventory"]
    found = _rows(held, "broken", member=change.member, kit=change.kit, item=item)
    found &= held["condition"].ne("removed").fillna(True)
    left = found & held["quantity"].gt(1).fillna(False) & (item is not None)
    whole = held[left].assign(quantity=held.loc[left, "quantity"] - 1)
    held.loc[found, "condition"] = "faulty"
    held.loc[left, "quantity"] = 1
    frames["inventory"] = pd.concat([held, whole]).sort_index(kind="stable", ignore_index=True)


KINDS: dict[str, Callable[[dict[str, pd.DataFrame], Change], None]] = {
    "coldest": _temperature("temp_min_c", "temp_max_c", is_low=True),
    "hottest": _temperature("temp_max_c", "temp_min_c", is_low=False),
    "hours": _hours,
    "duty": _duty,
    "absent": _absent,
    "kit_failed": _failed,
    "item_failed": _failed,
}


# --- one failure at a time ---


@dataclass(frozen=True)
class _Failure:
    what: str
    name: str
    lines: list[int]
    """Places in the inventory; empty where a person is absent."""
    member: str | None
    posts: list[str]


def single_failures(frames: Frames, event: str, before: Assessment) -> pd.DataFrame:
    """Which one person, kit, battery or adapter family hurts an event most.

    Each failure is judged in a copy of only the posts it touches and of everyone sent there, all copies in one
    assessment, beside a copy in which nothing fails; rules that look at the club as a whole see only these. A post
    that is not ready to begin with has nothing to lose. What the loan book lends counts as lent in every copy.

    Parameters
    ----------
    before : the club as it is, judged; its policy, rules and day hold for the copies

    Returns
    -------
    what, name, posts_lost (ready, with limits or not, before; neither after), posts_worse (any worse verdict),
    critical_lost, is_felt; the worst first

    Raises
    ------
    ChangeError
        No file names the event.
    """
    told = changed(frames, ())
    events, posts, sent = told["events"], told["posts"], told["assignments"]
    _rows(events, "single failures", event=event)
    posts, sent = posts[posts["event"].eq(event)], sent[sent["event"].eq(event)]
    failures = list(_failures(told["inventory"], sent))
    columns = ["what", "name", "posts_lost", "posts_worse", "critical_lost", "is_felt"]
    if not failures:
        return pd.DataFrame(columns=columns)
    _lend(told, event, before)
    copies = _Copies(told, event)
    copies.add(posts, sent, 0, None)
    base, critical = copies.verdicts(before)
    scores = before.scores().query("subject_kind == 'post' and event == @event and verdict == 'not ready'")
    standing = {post for (_, post), place in base.items() if place > 0} - set(scores["post"])
    at_stake = [[post for post in failure.posts if post in standing] for failure in failures]
    copies = _Copies(told, event)
    for number, failure in enumerate(failures, 1):
        if not at_stake[number - 1]:
            continue
        people = set(sent.loc[sent["post"].isin(failure.posts), "member"])
        near = sent[sent["post"].isin(failure.posts) | sent["member"].isin(people)]
        copies.add(posts[posts["post"].isin(near["post"])], near, number, failure)
    verdict, _ = copies.verdicts(before)
    rows = []
    for number, failure in enumerate(failures, 1):
        drops = {p: (base[0, p], verdict.get((number, p), base[0, p])) for p in at_stake[number - 1]}
        worse = [post for post, (was, now) in drops.items() if now < was]
        lost = [post for post in worse if drops[post][0] >= 2 > drops[post][1]]
        felt = sum(was - now for was, now in drops.values() if now < was)
        rows.append(
            (failure.what, failure.name, lost, worse, sum(p in critical for p in lost), felt > 0, felt)
        )
    table = pd.DataFrame(rows, columns=[*columns, "felt"])
    table["lost"], table["worse"] = table["posts_lost"].str.len(), table["posts_worse"].str.len()
    order = ["critical_lost", "lost", "worse", "felt", "name"]
    return table.sort_values(order, ascending=[False] * 4 + [True], ignore_index=True)[columns]


def _failures(held: pd.DataFrame, sent: pd.DataFrame) -> Iterable[_Failure]:
    """Every person, kit, battery and adapter family that somebody brings to the event."""
    kinds = reference.table("kinds").set_index("kind")
    families = reference.table("connectors").set_index("plug")["family"].map(plain_words.families()).to_dict()
    at_post: dict[tuple[str, str], set[str]] = defaultdict(set)
    for owner, kit, post in zip(kit_owner(sent), sent["kit"], sent["post"], strict=True):
        if pd.notna(kit):
            at_post[owner, kit].add(post)
    for member, own in sent.groupby("member")["post"]:
        yield _Failure("person", str(member), [], str(member), sorted(set(own)))
    shared: dict[str, tuple[list[int], set[str]]] = {}
    batteries = []
    for (member, kit), posts in at_post.items():
        rows = held[held["member"].eq(member) & held["kit"].eq(kit)]
        yield _Failure("kit", f"{member}/{kit}", rows.index.tolist(), None, sorted(posts))
        for place, row in zip(rows.index.tolist(), rows.to_dict("records"), strict=True):
            kind = row["kind"]
            if kind not in kinds.index:
                continue
            chemistry = row["chemistry"] if pd.notna(row["chemistry"]) else kinds.loc[kind, "chemistry"]
            if kinds.loc[kind, "role"] in ("source", "pack") and pd.notna(chemistry):
                name = f"{member}/{kit}/{row['item']} (line {row['line']})"
                batteries.append(_Failure("battery", name, [place], None, sorted(posts)))
            if kind in ADAPTERS:
                plugs = [row[p] if pd.notna(row[p]) else kinds.loc[kind].get(p) for p in PLUGS]
                joined = sorted({families.get(plug, plug) for plug in plugs if pd.notna(plug)})
                name = f"{kinds.loc[kind, 'label']}: {' to '.join(joined) or 'plugs not told'}"
                places, where = shared.setdefault(name, ([], set()))
                places.append(place)
                where.update(posts)
    yield from batteries
    for name, (places, where) in sorted(shared.items()):
        yield _Failure("adapter family", name, places, None, sorted(where))


def _lend(told: dict[str, pd.DataFrame], event: str, before: Assessment) -> None:
    """Say of the kits that the loan book lends to whoever takes them to an event that they may be lent: copies have no loan book."""
    lent = before.tuples(
        """
        select k.member, k.kit from assignment as a join event using (event_id) join kit as k using (kit_id)
        join member as m on m.member_id = a.member_id and m.member <> k.member
        left join leave as l on l.kit_id = a.kit_id and l.borrower = m.member and l.out <= a.starts::date and l.due >= a.ends::date
        where event = ? group by all having bool_and(l.kit_id is not null)
        """,
        [event],
    )  # fmt: skip
    kits = told["kits"]
    known = set(zip(kits["member"], kits["kit"], strict=True))
    rows = [
        {"member": member, "kit": kit, "file": "what if", "line": 1}
        for member, kit in lent
        if (member, kit) not in known
    ]
    new = pd.DataFrame(rows, columns=kits.columns).astype(kits.dtypes.to_dict())
    kits = told["kits"] = pd.concat([part for part in (kits, new) if len(part)] or [kits], ignore_index=True)
    is_lent = [pair in lent for pair in zip(kits["member"], kits["kit"], strict=True)]
    kits.loc[is_lent, "may_be_lent"] = True


class _Copies:
    """Copies of parts of one event, each under names of its own, judged together."""

    def __init__(self, told: Frames, event: str) -> None:
        self.told, self.event = told, event
        self.parts: dict[str, list[pd.DataFrame]] = {stem: [] for stem in schema.FILES}

    def add(self, posts: pd.DataFrame, sent: pd.DataFrame, number: int, failure: _Failure | None) -> None:
        """Add posts, those who are sent to them and the kits that they bring."""
        told = self.told
        people = {*sent["member"], *kit_owner(sent)}
        kits = set(zip(kit_owner(sent), sent["kit"], strict=True))
        if failure is not None and failure.member is not None:
            sent = sent[sent["member"] != failure.member]
        events = told["events"][told["events"]["event"].eq(self.event)]
        parts = {"events": events, "posts": posts, "assignments": sent}
        parts["members"] = told["members"][told["members"]["member"].isin(people)]
        for stem in ("inventory", "kits", "rehearsals"):
            frame = told[stem]
            is_brought = [pair in kits for pair in zip(frame["member"], frame["kit"], strict=True)]
            parts[stem] = frame.loc[is_brought]
        for stem, frame in parts.items():
            part = frame.copy()
            if stem == "inventory" and failure is not None and failure.lines:
                _break(part, failure.lines, is_one=failure.what == "battery")
            for column in ("event", "member", "kit_owner", "site"):
                if column in part:
                    part[column] = part[column] + f"#{number}"
            self.parts[stem].append(part)

    def verdicts(self, before: Assessment) -> tuple[dict[tuple[int, str], int], set[str]]:
        """Place in VERDICTS by number of the copy and post, and the posts that are critical."""
        whole = {
            stem: pd.concat([part for part in parts if len(part)], ignore_index=True)
            for stem, parts in self.parts.items()
            if any(len(part) for part in parts)
        }
        judged = assess(whole, before.policy, before.today, before.rules, keep_met=False, is_sent_only=True)
        scores = judged.scores()
        scores = scores[scores["subject_kind"] == "post"]
        rank = {word: place for place, word in enumerate(VERDICTS)}
        found = {
            (int(event.rpartition("#")[2]), post): rank[verdict]
            for event, post, verdict in zip(scores["event"], scores["post"], scores["verdict"], strict=True)
        }
        posts = judged.table("post")
        critical = set(posts.loc[posts["is_critical"], "post"])
        judged.con.close()
        return found, critical


def _break(held: pd.DataFrame, places: list[Any], is_one: bool) -> None:
    """Take one of several alike away, or mark the rows faulty."""
    for place in places:
        count = held.loc[place, "quantity"]
        if is_one and pd.notna(count) and count > 1:
            held.loc[place, "quantity"] = count - 1
        else:
            held.loc[place, "condition"] = "faulty"
