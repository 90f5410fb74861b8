"""The engine's answer to many small changes at once.

A trial is a change to one kit: things added, left out or given another plug. Trials are judged together in one copy of the
club: each stands there as its own kit, with the posts that the kit is assigned to and everyone else who is sent there, so
that one trial does not see another. Where somebody there is sent to another post at the same time, or a kit goes on to
another post on the same charge, that post is there with nobody else at it. Kits of others that are sent to one post, and do
not come back to it, stand once for all trials, and so do the events, with all their posts and nobody at them.

What a third post answers is not seen; a plan is therefore judged once more, as a whole, by `whole`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any
from weakref import finalize

import duckdb
import pandas as pd

from data import club, schema
from data.kept import names_read
from rules import engine
from rules.engine import Assessment
from rules.rule import is_clubs_own

TABLES = ("member", "kit", "item", "rehearsal", "event", "post", "assignment", "loan")
LARGEST = 2**31 - 1
"""Largest number of an item in a copy; more trials are judged in several copies."""
HEARD = frozenset(("item", "kit", "member", "post_kit", "post"))
"""Subjects whose rules a trial hears; of events and of the club no trial tells, and no verdict in it rests on them. Of whoever is
sent to a post without a kit only the verdict of the post does: no change of a kit mends what is said of them."""
MANY = 400
"""From so many trials on a copy of their own costs less than it saves."""

TRIALS = """
    create temp table trial_post as
        with own as (
            select trial, a.post_id from trial join from_assignment as a using (kit_id) union select trial, post_id from sent
        )
        from own union select own.trial, q.post_id   -- what stands on the same site is on the air beside it
            from own join from_post as p using (post_id) join from_post as q
                on lower(q.site) = lower(p.site) and q.opens < p.closes and q.closes > p.opens;
    create temp table onward as select kit_id from from_assignment where kit_id is not null
        group by kit_id having count(distinct post_id) > 1 or max(starts) >= min(ends);
    create temp table trial_kit as select trial, kit_id, trial as under from trial
        union select trial, a.kit_id, case when o.kit_id is null then {under} else trial_post.trial end
            from trial_post join from_assignment as a using (post_id) left join onward as o using (kit_id)
            anti join trial as t on t.trial = trial_post.trial and t.kit_id = a.kit_id
            where a.kit_id is not null;
    create temp table copied as select distinct under, kit_id from trial_kit;
    create temp table trial_member as select distinct trial, a.member_id
        from trial_post join from_assignment as a using (post_id);
    create temp table trial_else as select distinct trial, b.post_id
        from trial_post join from_assignment as a using (post_id) join from_assignment as b
            on b.member_id = a.member_id and b.post_id <> a.post_id
        anti join trial_post as t on t.trial = trial_post.trial and t.post_id = b.post_id
        union select trial, a.post_id from trial_kit join onward using (kit_id) join from_assignment as a using (kit_id)
        anti join trial_post as t on t.trial = trial_kit.trial and t.post_id = a.post_id
"""
COPY = """
    insert into member by name select m.* replace (trial * $member + m.member_id as member_id)
    from (select trial, member_id from trial_member
        union select trial, a.member_id from trial_kit join from_assignment as a using (kit_id)
        union select under, k.member_id from copied join from_kit as k using (kit_id))
    join from_member as m using (member_id);

    insert into kit by name select k.* replace (under * $kit + k.kit_id as kit_id, under * $member + k.member_id as member_id)
    from copied join from_kit as k using (kit_id);

    insert into item by name select i.* replace (under * $item + i.item_id as item_id, under * $kit + i.kit_id as kit_id,
        under * $member + i.member_id as member_id, coalesce(r.dc_plug, i.dc_plug) as dc_plug,
        i.dc_plug_is_assumed and r.dc_plug is null as dc_plug_is_assumed)
    from copied join from_item as i using (kit_id)
    left join replugged as r on r.trial = under and r.item_id = i.item_id
    where not exists (from dropped as d where d.trial = under and d.item_id = i.item_id);

    insert into item by name select a.* exclude (trial) replace (trial * $item + a.item_id as item_id,
        trial * $kit + a.kit_id as kit_id, trial * $member + a.member_id as member_id)
    from added as a;

    insert into rehearsal by name select r.* replace (under * $kit + r.kit_id as kit_id)
    from copied join from_rehearsal as r using (kit_id);

    insert into loan by name from from_loan;

    insert into event by name from from_event as e
    where event_id in (select event_id from (from trial_post union all from trial_else) join from_post using (post_id));

    insert into post by name from from_post as p where event_id in (select event_id from event);

    insert into post by name select p.* replace (trial * $post + p.post_id as post_id, p.site || ' ' || trial as site)
    from (from trial_post union all from trial_else) join from_post as p using (post_id);

    insert into assignment by name select a.* replace (trial * $assignment + a.assignment_id as assignment_id,
        trial * $post + a.post_id as post_id, trial * $member + a.member_id as member_id, under * $kit + a.kit_id as kit_id)
    from trial_post join from_assignment as a using (post_id) left join trial_kit using (trial, kit_id);

    insert into assignment by name select a.* replace (trial * $assignment + a.assignment_id as assignment_id,
        trial * $post + a.post_id as post_id, trial * $member + a.member_id as member_id,
        under * $kit + t.kit_id as kit_id)
    from trial_else join from_assignment as a using (post_id) left join trial_member as m using (trial, member_id)
    left join trial_kit as t on t.trial = trial_else.trial and t.kit_id = a.kit_id
    where m.member_id is not null or t.kit_id is not null;

    insert into assignment select trial * $assignment + $assignment - 1, p.event_id, trial * $post + post_id,
        trial * $member + k.member_id, trial * $kit + kit_id, p.opens, p.closes, null, null
    from sent join from_post as p using (post_id) join from_kit as k using (kit_id)
"""

OPEN = """
    select {trial_of_item} as trial, rule_no, severity_no, subject_kind, {item} as a, 0 as b, ok is not null as is_not_met
    from judgement where subject_kind = 'item' and ok is not true
    union all
    select {trial_of_kit}, rule_no, severity_no, subject_kind, {kit}, 0, ok is not null
    from judgement where subject_kind = 'kit' and ok is not true
    union all
    select {trial_of_post}, rule_no, severity_no, subject_kind, {post}, {post_kit}, ok is not null
    from judgement join post_kit on post_kit_id = subject_id
    where subject_kind = 'post_kit' and ok is not true and is_assigned and kit_id is not null and {is_seen_there}
    union all
    select {trial_of_post_subject}, rule_no, severity_no, subject_kind, {post_subject}, 0, ok is not null
    from judgement
    where subject_kind = 'post' and ok is not true and rule_no in (select unnest({on_posts})) and {is_seen}
"""
VERDICTS = """
    select {trial_of_kit} as trial, subject_kind, {kit} as a, verdict from score where subject_kind = 'kit'
    union all
    select {trial_of_post_subject}, subject_kind, {post_subject}, verdict from score where subject_kind = 'post' and {is_seen}
"""
CLUB = """
    union all
    select 0, rule_no, severity_no, subject_kind, 0, 0, ok is not null
    from judgement where subject_kind = 'club' and ok is not true and rule_no in (select unnest({on_club}))
"""
PLUGS = """
    select {trial_of_kit} as trial, {kit} as kit_id, $place as place, count(*) as things,
        count(*) filter (list_contains(families, $family)) as fitted, count(*) filter (families is null) as untold
    from (select kit_id as subject_id, families from shared_plug where sort = $sort)
    group by subject_id
"""
Key = tuple[int, str, int, int]
KEY = ["rule_no", "subject_kind", "a", "b"]
"""What a finding is known by: the rule, and its item (a), kit (a), post (a), post (a) and kit there (b), or the club."""
Plug = tuple[str, str]
"""What is counted of the fact shared_plug: things of this sort that this family of plugs fits."""


def _none(columns: Mapping[str, str]) -> pd.DataFrame:
    return pd.DataFrame({name: pd.Series(dtype=form) for name, form in columns.items()})


@dataclass
class Changes:
    """What is done to the kits of trials.

    added : trial and the columns of the table item, with kit_id and member_id of the club; `filled` makes the rows.
    dropped : trial, item_id.
    replugged : trial, item_id, dc_plug.
    sent : trial, kit_id, post_id; the kit goes to the post for all its hours, beside those who are sent; one a trial.
    """

    added: pd.DataFrame = field(default_factory=lambda: _none({"trial": "int64"}))
    dropped: pd.DataFrame = field(default_factory=lambda: _none({"trial": "int64", "item_id": "int64"}))
    sent: pd.DataFrame = field(
        default_factory=lambda: _none({"trial": "int64", "kit_id": "int64", "post_id": "int64"})
    )
    replugged: pd.DataFrame = field(
        default_factory=lambda: _none({"trial": "int64", "item_id": "int64", "dc_plug": "str"})
    )


@dataclass(frozen=True)
class Answers:
    """What the rules say: findings that are not met or not known, and verdicts of kits and posts.

    open : trial, rule_no, severity_no, subject_kind, a, b, is_not_met (else not known; see KEY; numbers are those of the club).
    verdicts : trial, subject_kind (kit or post), a, verdict.
    plugs : trial, kit_id, place (of those that were asked for), things, fitted, untold; see `Plug`.
    """

    open: pd.DataFrame
    verdicts: pd.DataFrame
    plugs: pd.DataFrame

    def keys(self) -> set[Key]:
        """Findings that are not met or not known."""
        return set(zip(*(self.open[name].tolist() for name in KEY), strict=True))

    def not_met(self) -> set[Key]:
        """Findings that are not met."""
        rows = self.open[self.open["is_not_met"]]
        return set(zip(*(rows[name].tolist() for name in KEY), strict=True))


def filled(rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Rows of the table item for things told as in inventory.csv; what is not told is the kind's typical value."""
    empty = schema.empty("inventory")
    told = pd.DataFrame(rows, columns=empty.columns).astype(empty.dtypes)
    con = club.connect()
    club.fill(con, {"inventory": told})
    return con.execute("from item order by item_id").df()


def mended(assessment: Assessment) -> list[int]:
    """Numbers of the rules on posts that a thing in a kit there can mend; the other posts' findings are no trial's."""
    return [
        number
        for number, rule in enumerate(assessment.rules)
        if rule.subject == "post" and rule.remedy.get("kind")
    ]


def on_club(assessment: Assessment) -> list[int]:
    """Numbers of the rules on the club that ask for a share of its gear; no trial sees the club."""
    return [number for number, rule in enumerate(assessment.rules) if rule.remedy.get("share")]


def standing(
    assessment: Assessment, on_posts: Sequence[int] | None = None, plugs: Sequence[Plug] = ()
) -> Answers:
    """The answers of the club as it stands, all under trial 0; of the rules on posts those that are given, or `mended`."""
    words = dict.fromkeys(("item", "kit", "post_subject"), "subject_id")
    words |= {"post": "post_id", "post_kit": "kit_id", "is_seen": "true", "is_seen_there": "true"}
    words |= dict.fromkeys(("trial_of_item", "trial_of_kit", "trial_of_post", "trial_of_post_subject"), "0")
    heard = mended(assessment) if on_posts is None else list(on_posts)
    asked = (OPEN + CLUB).format(**words, on_posts=heard, on_club=on_club(assessment))
    return Answers(
        assessment.frame(asked),
        assessment.frame(VERDICTS.format(**words)),
        _counted(assessment.con.cursor(), plugs, words),
    )


def _counted(con: duckdb.DuckDBPyConnection, plugs: Sequence[Plug], words: Mapping[str, str]) -> pd.DataFrame:
    """The frame `Answers.plugs`."""
    asked = PLUGS.format(**words)
    parts = [
        con.execute(asked, {"place": place, "sort": sort, "family": family}).df()
        for place, (sort, family) in enumerate(plugs)
    ]
    names = ("trial", "kit_id", "place", "things", "fitted", "untold")
    return pd.concat(parts, ignore_index=True) if parts else _none(dict.fromkeys(names, "int64"))


def _source(assessment: Assessment, con: duckdb.DuckDBPyConnection) -> None:
    """Let the copy read the tables of the club, as from_<table>."""
    cursor = assessment.con.cursor()
    for name in TABLES:
        con.register(f"from_{name}", cursor.sql(f'from "{name}"').to_arrow_table())


def judge(
    assessment: Assessment, trials: pd.DataFrame, changes: Changes, on_posts: Sequence[int] | None = None,
    plugs: Sequence[Plug] = (),
) -> Answers:  # fmt: skip
    """Judge every trial.

    Parameters
    ----------
    trials
        trial (1, 2, …) and kit_id, a row for each kit of a trial.
    changes
        What each trial does to its kit.
    on_posts
        Numbers of the rules on posts that are heard; `mended` unless given.
    plugs
        What is counted of each kit of a trial beside the answers.
    """
    heard = mended(assessment) if on_posts is None else list(on_posts)
    lots = _lots(assessment, trials, changes)
    with ThreadPoolExecutor(max_workers=2) as pool:
        parts = list(pool.map(lambda lot: _judge(assessment, lot, changes, heard, plugs), lots))
    if not parts:
        now = standing(assessment, heard, plugs)
        return Answers(now.open.head(0), now.verdicts.head(0), now.plugs.head(0))
    return Answers(
        *(
            pd.concat([getattr(part, name) for part in parts], ignore_index=True)
            for name in ("open", "verdicts", "plugs")
        )
    )


def _lots(assessment: Assessment, trials: pd.DataFrame, changes: Changes) -> list[pd.DataFrame]:
    """The trials of each copy: those at no post apart, where they are many, since no fact on posts is asked there."""
    ((known,),) = assessment.tuples("select coalesce(max(item_id), 0) from item")
    most = max(known, *changes.added.get("item_id", [0])) + 1
    size = max(1, LARGEST // int(most) - 1)
    sent = assessment.frame("select distinct kit_id from assignment where kit_id is not null")["kit_id"]
    there = trials.loc[trials["kit_id"].isin(sent), "trial"]
    is_there = trials["trial"].isin(there) | trials["trial"].isin(changes.sent["trial"])
    apart = [trials[is_there], trials[~is_there]]
    return [
        lot[(lot["trial"] - 1) // size == number]
        for lot in (apart if min(map(len, apart)) >= MANY else [trials])
        for number in sorted(set((lot["trial"] - 1) // size))
    ]


def _judge(
    assessment: Assessment, trials: pd.DataFrame, changes: Changes, on_posts: list[int], plugs: Sequence[Plug]
) -> Answers:
    before = int(trials["trial"].min()) - 1  # within the copy they are 1, 2, …; 0 is what all share
    size = dict(assessment.tuples("select kit_id, count(*) from item group by kit_id"))
    con, let_go = engine.tables(assessment.policy, sum(size.get(kit, 0) for kit in trials["kit_id"]), 1)
    _source(assessment, con)
    for name in ("added", "dropped", "replugged", "sent"):
        rows = getattr(changes, name)
        rows = rows[rows["trial"].isin(trials["trial"])]
        con.register(name, rows.assign(trial=rows["trial"] - before))
    con.register("trial", trials.assign(trial=trials["trial"] - before))
    con.execute(TRIALS.format(under=0 if _is_shared(assessment) else "trial_post.trial"))
    span = {
        name: int(con.execute(f"select coalesce(max({name}_id), 0) + 1 from from_{name}").fetchall()[0][0])
        for name in ("member", "kit", "item", "event", "post", "assignment")
    }
    if len(changes.added):
        span["item"] = max(span["item"], int(changes.added["item_id"].max()) + 1)
    span["assignment"] += 1
    con.execute("insert into sent_only values (true)")
    for statement in COPY.split(";"):
        if "from added" in statement and changes.added.empty:
            continue
        con.execute(statement, {name: value for name, value in span.items() if f"${name}" in statement})
    for name in TABLES:
        con.unregister(f"from_{name}")
    heard = [(number, rule) for number, rule in enumerate(assessment.rules) if rule.subject in HEARD]
    engine.answer(con, heard, assessment.policy, assessment.today, None)
    _keep_the_others(assessment, con, span)
    engine.score(con, assessment.policy)
    seen = f"(select trial * {span['post']} + post_id from trial_post)"
    words = {name: f"subject_id % {span[name]}" for name in ("item", "kit")}
    words |= {f"trial_of_{name}": f"subject_id // {span[name]} + {before}" for name in ("item", "kit")}
    words |= {"post": f"post_id % {span['post']}", "post_kit": f"kit_id % {span['kit']}"}
    words |= {"trial_of_post": f"post_id // {span['post']} + {before}", "is_seen_there": f"post_id in {seen}"}
    words |= {
        "post_subject": f"subject_id % {span['post']}",
        "trial_of_post_subject": f"subject_id // {span['post']} + {before}",
        "is_seen": f"subject_id in {seen}",
    }
    found = (
        con.execute(OPEN.format(**words, on_posts=on_posts)).df(),
        con.execute(VERDICTS.format(**words)).df(),
        _counted(con, plugs, words),
    )
    let_go()
    return Answers(*(rows[rows["trial"] > before].reset_index(drop=True) for rows in found))


def _is_shared(assessment: Assessment) -> bool:
    """Whether who is there with others can stand once for all trials: none of a club's own rules on posts or people asks
    where else a kit is, which in a trial of its own would be told."""
    return not any(
        is_clubs_own(rule) and rule.subject in ("member", "post_kit", "post") for rule in assessment.rules
    )


def _keep_the_others(assessment: Assessment, con: duckdb.DuckDBPyConnection, span: Mapping[str, int]) -> None:
    """Of the kits that stand once for all trials, and of their items, the answers of the club as it stands.

    Each is sent to one post, which stands in many trials: of where else it is nothing is said.
    """
    told = "from judgement where subject_kind in ('item', 'kit') and ok is not true"
    con.register("told", assessment.con.cursor().sql(told).to_arrow_table())
    for kind, there in (
        ("kit", "select kit_id from copied where under = 0"),
        ("item", "select item_id from item join copied using (kit_id) where under = 0"),
    ):
        con.execute(f"delete from judgement where subject_kind = '{kind}' and subject_id < {span[kind]}")
        con.execute(
            f"insert into judgement from told where subject_kind = '{kind}' and subject_id in ({there})"
        )
    con.unregister("told")
    con.execute(
        "delete from judgement where rule_no in (select unnest($numbers)) "
        "and subject_id in (select post_kit_id from post_kit where kit_id < $kit)",
        {
            "numbers": [no for no, rule in enumerate(assessment.rules) if "sent_on" in names_read(rule.sql)],
            "kit": span["kit"],
        },
    )


def whole(assessment: Assessment, changes: Changes) -> Assessment:
    """The whole club judged again after the changes, whatever trial they are of, as far as `standing` hears it.

    Who could be asked instead is left out: no answer of `standing` rests on those who are free, and every post with
    every free kit is most of the work.
    """
    ((things, posts),) = assessment.tuples("select (select count(*) from item), (select count(*) from post)")
    con, let_go = engine.tables(assessment.policy, things, posts)
    _source(assessment, con)
    for name in ("added", "dropped", "replugged", "sent"):
        con.register(name, getattr(changes, name))
    for name in TABLES:
        if name != "item":
            con.execute(f'insert into "{name}" by name from from_{name}')
    con.execute("insert into sent_only values (true)")
    con.execute(
        "insert into item by name select i.* replace (coalesce(r.dc_plug, i.dc_plug) as dc_plug, "
        "i.dc_plug_is_assumed and r.dc_plug is null as dc_plug_is_assumed) from from_item as i "
        "left join replugged as r using (item_id) where item_id not in (select item_id from dropped)"
    )
    if len(changes.added):
        con.execute("insert into item by name select * exclude (trial) from added")
    con.execute(
        "insert into assignment select (select coalesce(max(assignment_id), 0) from from_assignment) + row_number() over (), "
        "p.event_id, post_id, k.member_id, kit_id, p.opens, p.closes, null, null "
        "from sent join from_post as p using (post_id) join from_kit as k using (kit_id)"
    )
    for name in ("offer", "loan"):
        con.register("rest", assessment.con.cursor().sql(f'from "{name}"').to_arrow_table())
        con.execute(f'insert into "{name}" by name from rest')
        con.unregister("rest")
    share = set(on_club(assessment))
    heard = [(no, rule) for no, rule in enumerate(assessment.rules) if rule.subject in HEARD or no in share]
    engine.answer(con, heard, assessment.policy, assessment.today, None)
    engine.score(con, assessment.policy)
    judged = Assessment(con, assessment.rules, assessment.policy, assessment.today)
    finalize(judged, let_go).atexit = False
    return judged
