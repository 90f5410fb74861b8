"""What the pages say of posts: which kit can hold which, who stands there hour by hour, hours, swaps, distances."""

from __future__ import annotations

from collections.abc import Sequence
from math import nan

import pandas as pd

from dashboard import parts, units
from dashboard.edits import Saved, save
from dashboard.palette import CHANCES
from dashboard.standing import Standing, made_once
from dashboard.turns import in_turn
from data import plain_words
from rules import on_air
from rules.plans import posts, staffing
from rules.plans.staffing import Plan
from rules.rule import up

BEST_FIRST = {word: place for place, word in enumerate(CHANCES)}
MEASURES = {
    "rows that cannot": "assignments that cannot hold their post",
    "rows not known": "assignments of which it is not known whether they hold",
    "rows with limits": "assignments that hold with limits",
    "most hours of one person": "hours of whoever has most",
}
SWAPS = {
    (True, True): "● power and antenna",
    (True, False): "▲ power only",
    (False, True): "▲ antenna only",
    (False, False): "■ neither",
}


@made_once
def by_kit(now: Standing, event: str) -> pd.DataFrame:
    """Every post of an event with every kit: post, member, kit, answer, is_assigned, sent_to, reasons (in one text)."""
    rows = posts.post_by_kit(now.assessment, event)
    return rows.assign(reasons=rows["reasons"].map("; ".join))


@made_once
def named(now: Standing, event: str) -> list[str]:
    """The posts of `by_kit`, in their own order."""
    return list(dict.fromkeys(by_kit(now, event)["post"]))


def counts(rows: pd.DataFrame) -> pd.DataFrame:
    """How many kits answer how at each post: post, answer, kits; posts in their own order, answers best first."""
    table = pd.crosstab(rows["post"], rows["answer"]).reindex(
        index=list(dict.fromkeys(rows["post"])), columns=list(CHANCES), fill_value=0
    )
    return table.rename_axis(columns="answer").stack().rename("kits").reset_index()


def counts_by_post(rows: pd.DataFrame) -> pd.DataFrame:
    """The same counts, one row a post, one column an answer."""
    table = counts(rows).pivot(index="post", columns="answer", values="kits")
    return table.reindex(index=list(dict.fromkeys(rows["post"])), columns=list(CHANCES)).reset_index()


def kits_title(rows: pd.DataFrame) -> str:
    """How many posts some kit can hold, as a finding."""
    able = set(rows[rows["answer"].isin(["can", "with limits"])]["post"])
    open_ = len(set(rows[rows["answer"] == "not known"]["post"]) - able)
    every = rows["post"].nunique()
    held_by_none = every - len(able) - open_
    the_one = every == 1
    if held_by_none:
        title = f"No kit can hold {'the one post' if the_one else f'{held_by_none} of {every} posts'} as it stands"
        return title + (f"; for {open_} more none is known to" if open_ else "")
    if open_:
        return f"No kit is known to hold {'the one post' if the_one else f'{open_} of {every} posts'} as it stands"
    return f"{'The one post' if the_one else f'Each of {every} posts'} can be held by some kit"


def best_first(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of one post, best answer first; those that are sent there before others, and these before who is sent elsewhere."""
    place, is_away = rows["answer"].map(BEST_FIRST), rows["sent_to"].notna()
    return rows.assign(place=place, is_away=is_away).sort_values(
        ["place", "is_assigned", "is_away", "member", "kit"], ascending=[True, False, True, True, True]
    )[["answer", "member", "kit", "is_assigned", "sent_to", "reasons"]]


# --- a staffing plan ---


@made_once
def sent(now: Standing, event: str) -> pd.DataFrame:
    """The assignments that are sent to an event: post, member, kit, kit_owner, from, to."""
    return staffing.as_it_stands(now.assessment, event)


def sent_words(row: pd.Series) -> str:
    """An assignment in one line: its post, who is sent, with what, and when."""
    whose = f" of {row['kit_owner']}" if row["kit_owner"] != row["member"] else ""
    kit = f" with {row['kit']}{whose}" if isinstance(row["kit"], str) else ""
    hours = (
        f", {row['from']:%H:%M} to {row['to']:%H:%M}" if pd.notna(row["from"]) and pd.notna(row["to"]) else ""
    )
    return f"{row['post']}: {row['member']}{kit}{hours}"


def plan(now: Standing, event: str, seconds: float, stays: tuple[int, ...] = ()) -> tuple[Plan, pd.DataFrame]:
    """The best staffing of an event found within a time, and its measures beside the assignments that are sent.

    The assignments at the places `stays` of `sent` stay, and the rest is filled.
    """

    def make() -> tuple[Plan, pd.DataFrame]:
        locked = sent(now, event).iloc[list(stays)] if stays else None
        found = staffing.staff(now.assessment, event, locked=locked, seconds=seconds)
        return found, staffing.compare(found, now.assessment)

    return now.kept.once(plan_key(event, seconds, stays), lambda: in_turn(make))


def plan_key(
    event: str, seconds: float, stays: tuple[int, ...] = ()
) -> tuple[str, str, float, tuple[int, ...]]:
    """Under which a plan is kept."""
    return "staffing", event, seconds, stays


def beside_words(beside: pd.DataFrame) -> pd.DataFrame:
    """The measures of a plan beside those of what is sent, as the page says them."""
    figures = {name: [f"{value:.4g}" for value in beside[name]] for name in ("plan", "coordinator")}
    measures = [MEASURES.get(name, name) for name in beside["measure"]]
    return pd.DataFrame({"what": measures, "the plan": figures["plan"], "as sent": figures["coordinator"]})


def plan_title(found: Plan, wanted: int) -> str:
    """How far a plan goes, as a finding."""
    people = found.rows["member"].nunique()
    open_posts = found.uncovered["post"].nunique()
    count = found.blocked["post"].nunique()
    blocked = f"; {parts.many(count, 'post')} blocked all the same" if count else ""
    if not open_posts:
        return f"{parts.many(people, 'member')} cover {parts.many(wanted, 'post')} in full{blocked}"
    return (
        f"{parts.many(people, 'member')} cover {wanted - open_posts} of {parts.many(wanted, 'post')} in full; "
        f"{round(found.values['hours open'], 1):g} person-hours stay open{blocked}"
    )


def said_in_units(frame: pd.DataFrame, *columns: str) -> pd.DataFrame:
    """Columns of sentences in the reader's units, with headings for columns of files; names in the other columns stay as written."""
    names = {name for column in frame.columns.difference(columns) for name in frame[column]}
    said = {
        column: [
            units.said(plain_words.titled(text), names) if isinstance(text, str) else text
            for text in frame[column]
        ]
        for column in columns
    }
    return frame.assign(**said)


def proof(found: Plan) -> str:
    """Whether a better plan may exist, in words."""
    if found.is_proven:
        return "No better plan exists for the gear and people as they stand; that is proven."
    if not found.gap:
        return "No better plan exists with the kits that were tried in other hands; others were not tried."
    gap = units.said("; ".join(_by_up_to(name, value) for name, value in found.gap.items()))
    return (
        f"Time ran out before it was proven. A better plan may have less of these: {gap}. Give it more time."
    )


def _by_up_to(name: str, value: float) -> str:
    unit = " kg" if name.endswith(" kg") else ""
    return f"{name.removesuffix(unit)}, by up to {value:.1f}{unit}"


def lanes(found: Plan, order: Sequence[str]) -> pd.DataFrame:
    """A plan as bars: post, lane, who, kit, answer, starts, ends; what is open stands below the people."""
    people = found.rows.rename(columns={"member": "who", "from": "starts", "to": "ends"})
    open_ = found.uncovered.rename(columns={"from": "starts", "to": "ends"}).assign(
        who="open", kit="", answer="cannot", leads=False
    )
    columns = ["post", "who", "kit", "answer", "starts", "ends", "leads"]
    rows = pd.concat([frame[columns] for frame in (people, open_) if len(frame)], ignore_index=True)
    rows["kit"] = rows["kit"].fillna("")
    place = {post: number for number, post in enumerate(order)}
    rows = rows.assign(place=rows["post"].map(place), is_open=rows["who"] == "open").sort_values(
        ["place", "is_open", "starts", "leads"], ascending=[True, True, True, False], ignore_index=True
    )
    taken: dict[tuple[str, bool], list[pd.Timestamp]] = {}
    first: dict[str, int] = {}
    lane = []
    for row in rows.itertuples():
        ends = taken.setdefault((row.post, row.is_open), [])
        free = next((number for number, end in enumerate(ends) if end <= row.starts), len(ends))
        ends[free : free + 1] = [row.ends]
        if not row.is_open:
            first[row.post] = len(ends)
        lane.append(free + (first.get(row.post, 0) if row.is_open else 0))
    return rows.assign(lane=lane)[["post", "lane", "who", "kit", "answer", "starts", "ends"]]


def as_assignments(found: Plan) -> pd.DataFrame:
    """A plan in the columns of assignments.csv, to be sent as it is or changed first."""
    rows = found.rows[["post", "member", "kit", "kit_owner", "from", "to", "travel_h"]].copy()
    rows.insert(0, "event", found.event)
    for name in ("from", "to"):
        rows[name] = pd.to_datetime(rows[name]).dt.strftime("%Y-%m-%d %H:%M")
    return rows


def save_plan(found: Plan, by: str) -> Saved:
    """Put a plan in the place of the assignments of its event.

    Raises
    ------
    EditError
        A row would be refused as a file.
    """

    def replaced(told: pd.DataFrame) -> pd.DataFrame:
        rows = staffing.apply(found, {"assignments": told})["assignments"]
        return rows[rows["event"] == found.event]

    return save({"assignments": replaced}, f"plan-{found.event}", by)


# --- figures of the kits that are sent ---


@made_once
def hours(now: Standing, event: str) -> pd.DataFrame:
    """Hours of each kit that is sent, against its shift: post, subject, low, high, need, enough, says."""
    rows = now.assessment.frame(
        "select p.post, kit.member || '/' || kit.kit as subject, r.runtime_low_h as low, r.runtime_high_h as high, "
        "r.need_h as need, r.is_on_mains, r.untold, r.limited_by, r.duty, r.load_w, r.energy_wh "
        "from runtime as r join post_kit as pk using (post_kit_id) join post as p using (post_id) "
        "join kit on kit.kit_id = pk.kit_id where pk.is_assigned and p.event = ? order by p.post_id, subject",
        [event],
    )
    rows["enough"] = [enough(row.low, row.high, row.need, row.is_on_mains) for row in rows.itertuples()]
    rows["says"] = [
        hours_words(row.low, row.high, row.need, row.is_on_mains, pd.notna(row.untold))
        for row in rows.itertuples()
    ]
    return rows.assign(subject=rows["subject"] + " at " + rows["post"])


def enough(low: float, high: float, need: float, is_on_mains: bool = False) -> str:
    """Whether what there is (low to high) covers what is wanted; a word of ENOUGH."""
    if pd.notna(is_on_mains) and is_on_mains:
        return "enough"
    if low >= need:
        return "enough"
    if pd.isna(low) or pd.isna(high) or pd.isna(need):
        return "not known"
    return "too little" if high < need else "may fall short"


HOURS = {
    "low": "least (h)", "high": "most (h)", "need": "wanted (h)", "load_w": "load (W)",
    "energy_wh": "energy (Wh)", "limited_by": "what ends it", "duty": "duty",
}  # fmt: skip
"""What the figures of hours are called in a table."""


def hours_words(
    low: float, high: float, need: float, is_on_mains: bool = False, is_more_open: bool = False
) -> str:
    """Hours against the hours wanted, in words; only the least where nobody tells what else may feed the kit there."""
    asked = on_air.asked(need, low, high) if pd.notna(need) else ""
    wanted = f" of {asked}" if asked else ""
    if is_more_open and pd.notna(low):
        said = f"{on_air.at_least(low, need)}{wanted}"
    elif pd.isna(low) or pd.isna(high):
        said = f"hours not known, {asked} wanted" if asked else "hours not known"
    else:
        said = f"{on_air.span(low, high, need=need)}{wanted}"
    return f"on mains; {said}" if pd.notna(is_on_mains) and is_on_mains else said


def as_said(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of hours, those given and those asked for rounded as they are said in words, other figures to tenths."""
    told = [(one.low, one.high, one.need) for one in rows[["low", "high", "need"]].astype(float).itertuples()]
    given = {
        name: [on_air.down(one[at], one[2]) if pd.notna(one[at]) else nan for one in told]
        for at, name in enumerate(("low", "high"))
    }
    need = [on_air.up(need, low, high) if pd.notna(need) else nan for low, high, need in told]
    return rows.round(1).assign(**given, need=need)


def hours_untold(rows: pd.DataFrame) -> list[str]:
    """What nobody tells that may let a kit in doubt last its shift, each with the kits that it decides about."""
    open_rows = rows[rows["enough"].isin(["may fall short", "not known"]) & rows["untold"].notna()]
    return [
        f"{said[0].upper()}{said[1:]}. That may decide about {parts.listed(some['subject'].tolist())}."
        for said, some in open_rows.groupby("untold", sort=False)
    ]


def hours_title(rows: pd.DataFrame) -> str:
    """How many kits last their shift, as a finding."""
    short = int((rows["enough"] == "too little").sum())
    doubt = int(rows["enough"].isin(["may fall short", "not known"]).sum())
    every = parts.many(len(rows), "kit") + " sent"
    if not short and not doubt:
        return "The one kit sent lasts the shift" if len(rows) == 1 else f"All {every} last the shift"
    said = [f"{short} run{'s' if short == 1 else ''} out before the shift ends"] if short else []
    said += [f"{doubt} {'is' if doubt == 1 else 'are'} in doubt"] if doubt else []
    return f"Of {every}, {parts.listed(said)}"


@made_once
def swaps(now: Standing, event: str) -> pd.DataFrame:
    """Pairs of kits that meet at a post: post, from, to, answer (what of the first works at the second)."""
    rows = now.assessment.frame(
        "select p.post, a.member || '/' || a.kit as \"from\", b.member || '/' || b.kit as \"to\", "
        "s.is_power_asked, s.has_power_fit, s.is_antenna_asked, s.has_antenna_fit "
        "from swap as s join post as p using (post_id) join kit as a on a.kit_id = s.from_kit_id "
        'join kit as b on b.kit_id = s.to_kit_id where p.event = ? order by p.post_id, "from", "to"',
        [event],
    )
    rows["answer"] = [
        swap_word(
            row.has_power_fit if row.is_power_asked else None,
            row.has_antenna_fit if row.is_antenna_asked else None,
            asked=(row.is_power_asked, row.is_antenna_asked),
        )
        for row in rows.itertuples()
    ]
    return rows[["post", "from", "to", "answer"]]


def swap_word(power: bool | None, antenna: bool | None, asked: tuple[bool, bool]) -> str:
    """What of one kit works at another, as shape and words; `asked` says whether power and antenna are asked for."""
    told = [
        (name, None if pd.isna(fits) else bool(fits))
        for name, fits, is_asked in (("power", power, asked[0]), ("antenna", antenna, asked[1]))
        if is_asked
    ]
    if not told:
        return "nothing to swap"
    if any(fits is None for _, fits in told):
        return "◇ not known"
    if len(told) == 2:
        return SWAPS[told[0][1] is True, told[1][1] is True]
    name, fits = told[0]
    return f"● {name}" if fits else f"■ no {name}"


def swap_title(rows: pd.DataFrame) -> str:
    """How many pairs can help each other out, as a finding."""
    able = int(rows["answer"].str.startswith("●").sum())
    return f"In {able} of {parts.many(len(rows), 'pair')} one kit can stand in for the other in full"


@made_once
def distances(now: Standing, event: str) -> pd.DataFrame:
    """How far people must stay from the antennas that are sent, at the band that asks most, with how near they come.

    post, subject, low (trained crew, m), high (everyone else, m), need (how near people come, m), enough, says.
    """
    rows = now.assessment.frame(
        "select p.post, kit.member || '/' || kit.kit || ' at ' || p.post as subject, x.band, x.rf_watts, "
        "x.crew_safe_m as low, x.public_safe_m as high, p.public_m as need, x.how "
        "from exposure as x join post_kit as pk using (post_kit_id) join post as p using (post_id) "
        "join kit on kit.kit_id = pk.kit_id where pk.is_assigned and p.event = ? "
        "qualify row_number() over (partition by pk.post_kit_id order by x.public_safe_m desc nulls last) = 1 "
        "order by p.post_id, subject",
        [event],
    )
    rows["enough"] = [
        "not known" if pd.isna(row.high) or pd.isna(row.need)
        else "enough" if row.need >= row.high
        else "too little"
        for row in rows.itertuples()
    ]  # fmt: skip
    rows["says"] = [distance_words(row.low, row.high, row.need) for row in rows.itertuples()]
    return rows


def in_units(rows: pd.DataFrame, unit: str) -> pd.DataFrame:
    """Rows of low, high, need and says, which are in a unit, as the reader wants them; hours stay hours."""
    if not units.is_us() or unit not in units.US:
        return rows
    figures = {name: units.in_us(rows[name], unit) for name in ("low", "high", "need")}
    ends = rows[["low", "high"]].itertuples(index=False)
    said = [
        units.said(says, asked=[end for end in both if pd.notna(end)])
        for says, both in zip(rows["says"], ends, strict=True)
    ]
    return rows.assign(**figures, says=said)


def kept_up(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of distances, those to keep rounded up as they are said in words."""
    ends = {name: rows[name].map(lambda far: up(far, 1), na_action="ignore") for name in ("low", "high")}
    return rows.assign(**ends)


def distance_words(crew: float, public: float, near: float) -> str:
    """Distances in words; those to keep are rounded up."""
    said = "distance not known"
    if not pd.isna(public):
        said = f"people {up(public, 1):.1f} m, crew {up(crew, 1):.1f} m"
    return said + ("; how near is not told" if pd.isna(near) else f"; people come to {near:.1f} m")


def distance_title(rows: pd.DataFrame) -> str:
    """How many antennas stand too near to people, as a finding."""
    near = int((rows["enough"] == "too little").sum())
    open_ = int((rows["enough"] == "not known").sum())
    if len(rows) == 1:
        if open_:
            return "Whether the one antenna stands far enough from people is not known"
        return f"The one antenna stands {'too near to' if near else 'far enough from'} people"
    stand = f"{'are' if near > 1 else 'is'} known to stand too near to people"
    title = f"{near or 'None'} of {len(rows)} antennas {stand}"
    return title + (f"; how near people come to {open_} is not known" if open_ else "")
