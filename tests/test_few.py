"""Rows of one member, judged on a connection that keeps its plans, come out as on one that does not, and as in the club."""

from __future__ import annotations

import random
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from data import allocator, kept, upload, writing
from data.store import Store
from rules import engine, facts
from rules.policy import Policy
from rules.rule import Rule, load_rules
from tests.small_club import TODAY

LISTS = ("inventory", "kits", "members", "rehearsals", "assignments")


def of(frames: dict[str, pd.DataFrame], member: str, stems: tuple[str, ...]) -> dict[str, pd.DataFrame]:
    """The rows of one member in some lists."""
    return {stem: frames[stem][frames[stem]["member"] == member] for stem in stems}


def thinned(frame: pd.DataFrame, chance: random.Random) -> pd.DataFrame:
    """A random part of an inventory, each thing told in part."""
    rows = frame.sample(n=chance.randint(0, 50), random_state=chance.randint(0, 2**31)).copy()
    for name in rows.columns.difference(["line", "file", "member", "kit", "item", "kind"]):
        rows[name] = rows[name].mask([chance.random() < 0.3 for _ in range(len(rows))])
    return rows.astype(frame.dtypes)


def said(value: object) -> str:
    """A value as text; what is added up in another order may differ in the last digits."""
    return re.sub(r"\d+\.\d+(e-?\d+)?", lambda number: f"{float(number[0]):.9g}", str(value))


@pytest.fixture(scope="module", autouse=True)
def rooms() -> Iterator[None]:
    """Rooms of these tests alone: what others keep may hold all that there are."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engine, "_waiting", kept.Waiting(most=2, lent=6))
        yield


@pytest.fixture
def waiting(monkeypatch: pytest.MonkeyPatch) -> kept.Waiting:
    """No room but those of the test."""
    monkeypatch.setattr(engine, "_waiting", kept.Waiting(most=2, lent=3))
    return engine._waiting


def apart(told: dict[str, pd.DataFrame], policy: Policy | None = None) -> engine.Assessment:
    """The rows of one member judged on a connection of their own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engine, "PAIRS", -1)
        return engine.assess(told, policy, TODAY, subjects=engine.OWN)


def same_tables(told: dict[str, pd.DataFrame], policy: Policy | None = None) -> None:
    """Hold every table of the club, its facts and judgements, to those of a connection of its own."""
    expected, found = apart(told, policy), engine.assess(told, policy, TODAY, subjects=engine.OWN)
    assert isinstance(found.con, kept.Lane) and not isinstance(expected.con, kept.Lane)
    for (name,) in expected.con.execute("select table_name from duckdb_tables()").fetchall():
        got, want = (
            one.table(name).map(said).pipe(lambda rows: rows.sort_values(list(rows)).reset_index(drop=True))
            for one in (found, expected)
        )
        pd.testing.assert_frame_equal(got, want, obj=name)
    assert [said(one) for one in found.findings()] == [said(one) for one in expected.findings()]


@pytest.mark.parametrize("seed", range(2))
def test_random_lists_and_events(frames: dict[str, pd.DataFrame], seed: int) -> None:
    chance = random.Random(seed)
    told = {"inventory": thinned(frames["inventory"], chance)}
    if seed % 2:
        member = chance.choice(sorted(frames["assignments"]["member"].unique()))
        told = (
            of(frames, member, LISTS[1:])
            | told
            | {stem: frames[stem] for stem in ("events", "posts", "offers")}
        )
    same_tables(told)


def test_another_policy_and_nothing_after_a_full_club(frames: dict[str, pd.DataFrame]) -> None:
    strict = Policy.parse(
        "[duty.quiet]\ntx_share = 0.5\nrx_share = 0.5\nidle_share = 0.0\n[facts]\nkit_duty = 'quiet'\n"
    )
    one = of(frames, frames["kits"]["member"].iloc[0], LISTS)
    same_tables(one, strict)
    same_tables(one)
    same_tables({})


def test_plans_are_kept(frames: dict[str, pd.DataFrame], waiting: kept.Waiting) -> None:
    """Other rows are judged by the same plans, which still count with the rows there were when they were made."""
    first, second = frames["kits"]["member"].unique()[:2]
    events = {stem: frames[stem] for stem in ("events", "posts", "offers")}
    engine.assess(of(frames, first, LISTS) | events, today=TODAY, subjects=engine.OWN)
    ((_, room),) = waiting.kept
    made = explained(room)
    assessment = engine.assess(of(frames, second, LISTS) | events, today=TODAY, subjects=engine.OWN)
    again = explained(room)
    assert {key: again[key] for key in made} == made
    assert len(assessment.scores())


def explained(room: kept.Room) -> dict[tuple[int, int], str]:
    """The plans of each lane that read tables alone, with the rows that each step counts with."""
    return {
        (at, number): lane._con.execute(f"explain {plan.query}").fetchall()[0][1]
        for at, lane in enumerate(room.lanes)
        for number, ((_, _, *registered), plan) in enumerate(lane._plans.items())
        if not registered
    }


def test_a_room_in_which_something_failed_is_not_used_again(
    frames: dict[str, pd.DataFrame], waiting: kept.Waiting, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = of(frames, frames["kits"]["member"].iloc[0], LISTS)
    monkeypatch.setattr(engine, "score", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        engine.assess(one, today=TODAY)
    assert not waiting.kept


def test_few_rooms_wait_however_many_clubs_are_let_go(
    frames: dict[str, pd.DataFrame], waiting: kept.Waiting
) -> None:
    waiting.most = 1
    one = of(frames, frames["kits"]["member"].iloc[0], LISTS)
    several = [engine.assess(one, today=TODAY, subjects=engine.OWN) for _ in range(4)]
    assert [isinstance(club.con, kept.Lane) for club in several] == [True, True, True, False]
    assert not waiting.kept
    several.clear()
    assert len(waiting.kept) == 1


def test_a_clubs_own_rule_is_judged_with_the_optimizer(
    frames: dict[str, pd.DataFrame], tmp_path: Path
) -> None:
    """Without it every comma makes all pairs of rows, and a rule that is quick in the whole club never ends."""
    folder = tmp_path / "ours" / "packing"
    folder.mkdir(parents=True)
    (folder / "theirs.sql").write_text(
        "/*\ntitle = 'x'\nsubject = 'kit'\nseverity = 'advice'\nwhy = 'x'\nnot_met = 'x'\nfix = 'x'\n"
        "source = 'common practice'\n*/\nselect kit_id as subject, false as ok from kit",
        "utf-8",
    )
    policy = Policy.parse('own_rules = "ours"\n', beside=tmp_path)
    one = of(frames, frames["kits"]["member"].iloc[0], LISTS)
    found = engine.assess(one, policy, TODAY, subjects=engine.OWN)
    assert not isinstance(found.con, kept.Lane)
    assert "theirs" in {finding.rule for finding in found.findings()}


def test_a_member_is_judged_alone_as_in_the_club(folder: Path) -> None:
    """Every finding on the member's things, kits and papers, and every score: of some who have told of no rehearsal,
    are sent to posts, or lend a kit that is at two posts at once."""
    with closing(Store(None)) as store:
        for path in sorted(folder.glob("*.csv")):
            store.accept(upload.read(path.name, path.read_bytes(), limits=upload.FOLDER), "test")
        lender, borrower = promised_twice(store)
        frames = store.frames()
        whole = engine.assess(frames, today=TODAY)
        told = set(frames["rehearsals"]["member"])
        members = sorted(frames["inventory"]["member"].unique())
        silent = next(member for member in members if member not in told)
        for member in [silent, lender, borrower, *members[::12]]:
            alone = engine.assess(store.frames_bearing_on(member), today=TODAY, subjects=engine.OWN)
            assert of_member(alone, member) == of_member(whole, member), member
        assert "kit_promised_twice" in {
            one.rule for one in whole.findings("s.member = ? and j.subject_kind = 'post_kit'", [lender])
        }
        whole.con.close()


def of_member(assessment: engine.Assessment, member: str) -> tuple[list[str], list[list[str]]]:
    """What is said of a member's things, kits and papers, and their scores."""
    own = f"s.member = '{member}' and j.subject_kind in ('item', 'kit', 'member')"
    found = [said(one) for one in assessment.findings(own, with_met=True)]
    scores = assessment.scores()
    columns = ["subject_kind", "subject", "verdict", "low", "high"]
    return found, scores.loc[scores["member"] == member, columns].map(said).to_numpy().tolist()


def promised_twice(store: Store) -> tuple[str, str]:
    """Let one member bring a kit of another's, who brings it to another post meanwhile; whose kit, and who."""
    frames = store.frames()
    sent, posts = frames["assignments"], frames["posts"]
    first = sent[sent["kit"].notna() & sent["kit_owner"].isna() & sent["from"].isna()].iloc[0]
    other = posts[(posts["event"] == first["event"]) & (posts["post"] != first["post"])].iloc[0]
    borrower = next(name for name in frames["members"]["member"] if name != first["member"])
    row = {"post": other["post"], "member": borrower, "kit_owner": first["member"]}
    rows = pd.concat([sent[sent["event"] == first["event"]], first.to_frame().T.assign(**row)])
    payload = writing.csv_of("assignments", rows.astype(sent.dtypes))
    store.accept(upload.read("assignments.csv", payload, limits=upload.FOLDER), "test")
    return first["member"], borrower


@pytest.mark.parametrize(
    "rule", [rule for rule in load_rules() if rule.subject in engine.OWN], ids=lambda r: r.name
)
def test_what_is_judged_by_the_rows_of_a_member_asks_for_no_fact_on_posts(rule: Rule) -> None:
    of_posts = {fact.__name__ for fact in facts.OF_EVENTS} | {"own_turn"}  # a view
    assert not of_posts.intersection(kept.names_read(rule.sql))


def room(*scripts: str, lanes: int = 1) -> kept.Room:
    """A room with some tables."""
    con = duckdb.connect(config={"threads": 1})
    for script in scripts:
        con.execute(script)
    return kept.Room(con, lanes)


def test_tables_and_views_and_what_is_registered_are_read() -> None:
    two = room("create table thing (n integer); create view big as select n from thing where n > 1", lanes=2)
    few, other = two.lanes
    few.execute("insert into thing select unnest($numbers)", {"numbers": [1, 2, 3]})
    assert few.execute("with big as (select 7 as n) from big").fetchall() == [(7,)]
    assert few.execute("select a.n from thing as a, big as b where a.n = b.n order by a.n").fetchall() == [
        (2,),
        (3,),
    ]
    few.register("more", pd.DataFrame({"n": [5, 6]}))
    few.execute("insert into thing by name select * from more")
    few.unregister("more")
    assert few.execute("-- how many\nselect count(*) from thing").fetchall() == [(5,)]
    other.execute("insert into thing select 7")
    assert few.execute("-- how many\nselect count(*) from thing").fetchall() == [(6,)]
    assert few.execute("select count(*) from thing where n > ?", [5]).fetchall() == [(2,)]
    two.empty()
    assert few.execute("select count(*) from (from thing)").fetchall() == [(0,)]
    two.close()


def test_temporary_tables_are_filled_again_and_macros_are_as_told_last() -> None:
    with_tables = room("create table thing (n integer); create macro most() as 0")
    (few,) = with_tables.lanes
    made = "-- of both\ncreate or replace temp table shared as select thing.n from thing join more using (n);"
    for numbers in ([1, 2], [2, 3], [2, 3, 4]):
        few.execute("insert into thing select unnest($numbers)", {"numbers": numbers})
        few.register("more", pd.DataFrame({"n": [2, 3]}))
        few.execute(f"{made} create or replace macro most() as {numbers[-1]}")
        both = sorted({2, 3}.intersection(numbers))
        assert few.execute("select list(n order by n), most() from shared").fetchone() == (both, numbers[-1])
        with_tables.empty()
    plans = []
    for _ in range(2):
        few.register("more", pd.DataFrame({"n": [2]}))
        few.execute(f"{made} create or replace macro most() as 4")
        assert few.execute("select list(n order by n), most() from shared").fetchone() == (None, 4)
        plans.append(len(few))
    assert plans[0] == plans[1] > 0
    few.execute("create or replace macro most() as 5")
    assert len(few) == 0, "what was planned before would be planned anew each time"


def test_a_temporary_table_has_a_name_that_nothing_else_has() -> None:
    """It stays, and would be read where another table of its name, or rows that are registered, were meant."""
    temporary, others = list[tuple[str, str]](), set[str]()
    top = Path(engine.__file__).parents[1]
    for path in (*top.glob("data/**/*.py"), *top.glob("rules/**/*.py")):
        text = path.read_text("utf-8")
        temporary += re.findall(r"temp table (\w+)|_by_lot\(\s*con, \"(\w+)\"", text)
        others |= set(re.findall(r"\.register\(\s*\"(\w+)", text))
    named = [name or lot for name, lot in temporary]
    with closing(facts.blank()) as con:
        others |= {
            name for (name,) in con.execute("select table_name from information_schema.tables").fetchall()
        }
    assert len(named) > 20 and len(set(named)) == len(named) and not others & set(named)


def test_many_rows_are_read_where_they_are_and_beside_few() -> None:
    (few,) = room("create table thing as select 5 as n").lanes
    some = pd.DataFrame({"n": [5, 6]})
    joined = "select count(*) from many join others using (n)"
    few.register("many", pd.DataFrame({"n": range(kept.CELLS + 1)}))
    few.register("others", some)
    assert few.execute(joined).fetchall() == [(2,)]
    assert len(few) == 0, "a plan that fits these many rows may not fit others"
    assert few.execute("select count(*) from others join thing using (n)").fetchall() == [(1,)]
    assert len(few) == 1, "what reads none of them keeps its plan meanwhile"
    few.unregister("many")
    with pytest.raises(duckdb.CatalogException):
        few.execute("select count(*) from many")
    few.register("many", some)
    assert few.execute(joined).fetchall() == [(2,)]
    assert len(few) == 2, "few rows are read by a plan that is kept"


def test_a_room_that_was_not_emptied_has_too_many_plans_or_was_made_for_another_is_not_lent(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    waiting, made = kept.Waiting(most=2, lent=9), []

    def make() -> kept.Room:
        made.append(room())
        made[-1].lanes[0].execute("select 1")
        return made[-1]

    def lent(thing: str = "club") -> kept.Room:
        one = waiting.lend(thing, make)
        waiting.give_back(thing, one)
        return one

    def fail() -> None:
        raise duckdb.Error

    first = lent()
    assert lent() is first
    assert lent("other") is not first and lent() is first
    monkeypatch.setattr(first, "empty", fail)
    assert lent() is made[2]
    monkeypatch.setattr(kept, "PLANS", 0)
    assert lent() is made[3]
    waiting.most = 0
    lent()
    assert len(made) == 5 and len(waiting.kept) == 0
    for one in made:
        with pytest.raises(duckdb.ConnectionException):
            one.lanes[0].execute("select 2")


def test_rows_that_went_take_no_place() -> None:
    of_things = room("create table thing (n integer)")
    (few,) = of_things.lanes
    for _ in range(3 * kept.TIDIED):
        few.execute("insert into thing select * from range(1000); create temp table other as from thing")
        of_things.empty()
    few.execute("insert into thing select 1; create temp table other as from thing")
    for table in ("thing", "other"):
        assert few.execute(f"select max(rowid) from {table}").fetchone()[0] < 1000 * kept.TIDIED


def test_what_duckdbs_allocator_reads_is_there_before_duckdb() -> None:
    program = """
import os, sys
class Finder:
    def find_spec(self, name, path=None, target=None):
        if name == "duckdb":
            print(os.environ["DUCKDB_JE_MALLOC_CONF"])
sys.meta_path.insert(0, Finder())
import dashboard.command, rules.engine
"""
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert ran.stdout == f"{allocator.DUCKDB}\n"
