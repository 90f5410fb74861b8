"""Policies and rules of a club's own that mean harm: each is refused in words, and what asked goes on."""

from __future__ import annotations

import os
import re
import tomllib
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from data import club, upload
from rules import engine, facts, guard, own_rules
from rules.policy import STANDARD, Policy, PolicyError
from rules.rule import Param, Rule, RuleError, fill, load_rules

ANY = settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
FEWER = settings(ANY, max_examples=25)
FILE = "/etc/hostname"
HEADER = """title = "x"
subject = "{subject}"
severity = "advice"
why = "x"
not_met = "{not_met}"
fix = "x"
source = "x"
"""
# What may not stand where a table stands: files, network, settings, other databases, addresses in memory.
SOURCES = [
    f"read_text('{FILE}')", f"read_blob('{FILE}')", f"read_csv('{FILE}')", f"read_json('{FILE}')", f"'{FILE}'",
    f"read_parquet('{FILE}')", f"parquet_metadata('{FILE}')", f"sniff_csv('{FILE}')", "glob('/*')",
    f"read_duckdb('{FILE}')", "read_csv('http://192.0.2.1/x.csv')", "'s3://x/y.parquet'",
    "postgres_scan('host=192.0.2.1', 'a', 'b')", f"sqlite_scan('{FILE}', 't')", "query('select 1')",
    "query_table('item')", "json_execute_serialized_sql('{}')", "duckdb_settings()", "duckdb_secrets()",
    "duckdb_extensions()", "duckdb_tables()", "duckdb_logs()", "information_schema.tables", "pragma_database_list",
    "sqlite_master", "pg_catalog.pg_class", f"enable_logging(storage_path = '{FILE}')", "checkpoint()",
    "force_checkpoint()", "arrow_scan(1, 2, 3)", "pandas_scan(1)", "seq_scan(1)", "python_map_function(1)",
    "create_external_resource('x')", "test_all_types()", "repeat_row(1, num_rows = 9)", "read_ndjson('~/.netrc')",
    "copy_database('a', 'b')", "judgement", "score", "scored", "subject", "bearing", "part", "temp.item", "other.main.item", "system.main.duckdb_columns",
]  # fmt: skip
SCALARS = [f"{name}('x')" for name in sorted(guard.UNSTEADY)]
STATEMENTS = [
    f"attach '{FILE}' as stolen", "attach ':memory:' as other", "detach memory", "install httpfs", "load httpfs",
    "force install spatial from community", f"load '{FILE}'", f"copy item to '{FILE}'", f"copy item from '{FILE}'",
    f"export database '{FILE}'", f"import database '{FILE}'", "set memory_limit = '1TB'", "set threads = 99",
    "set enable_external_access = true", "reset lock_configuration", "pragma enable_profiling",
    f"pragma profile_output = '{FILE}'", "call enable_logging()", "drop table item", "delete from item returning 1",
    "insert into item select * from item returning 1", "update item set quantity = 0 returning 1", "truncate item",
    "create table stolen as from item", "create macro item_id() as 1", "create secret (type s3)",
    "create trigger t after insert on item execute function x()", "alter table item rename to gone",
    "begin", "commit", "vacuum", "checkpoint", "prepare p as select 1", "execute p", "explain analyze select 1",
    "use memory", "describe item", "summarize item", "show tables", "pivot item on item_id",
    "merge into item using kit on true when matched then delete returning 1",
]  # fmt: skip
# Ways to say it.
SOURCED = [
    "select 1 as subject, true as ok from {}",
    "select 1 as subject, (select count(*) from {}) = 0 as ok",
    "select 1 as subject, true as ok from item where exists (select 1 from {})",
    "with w as (select * from {}) select 1 as subject, true as ok from w",
    "with w as materialized (select * from {}) select 1 as subject, true as ok from item cross join w",
    "with recursive w as (select 1 as a union all select 2 from {}) select a as subject, true as ok from w",
    "select 1 as subject, true as ok from item, lateral (select * from {})",
    "select 1 as subject, true as ok union all select 2, false from {}",
    "select item_id as subject, true as ok from item semi join {} on true",
    "select 1 as subject, [x for x in (select list(1) from {})] is null as ok",
]
SAID = [
    "{}", "{}; select 1 as subject, true as ok", "select 1 as subject, true as ok; {}",
    "with w as ({}) select 1 as subject, true as ok from w", "select 1 as subject, true as ok from ({})",
    "select 1 as subject, exists ({}) as ok", "/* {} */ {}", "{} --",
]  # fmt: skip
CASES = st.one_of(
    st.tuples(st.sampled_from(SOURCED), st.sampled_from(SOURCES)),
    st.tuples(st.sampled_from(SAID), st.sampled_from(STATEMENTS)),
    st.tuples(st.sampled_from(["select 1 as subject, {} is null as ok", "select {} as subject, true as ok from item",
                               "select 1 as subject, true as ok from range(3) as r(i) order by {}"]),
              st.sampled_from(SCALARS)),
)  # fmt: skip
SPELLED = st.sampled_from([str, str.upper, lambda sql: sql.replace(" ", "\n"), lambda sql: f"-- x\n{sql}"])


def rule(sql: str, not_met: str = "x", subject: str = "item") -> Rule:
    told = tomllib.loads(HEADER.format(subject=subject, not_met="x")) | {"not_met": not_met}
    return Rule(name="theirs", family="packing", sql=sql, **told)


def told(error: RuleError | PolicyError) -> None:
    """See that a refusal says where, in not too many words, of each problem."""
    for said in error.problems if isinstance(error, PolicyError) else (str(error),):
        assert re.match(r"(theirs\.sql|policy(\.toml)?)[:,] ", said), said
        assert len(said) < 2_000


@pytest.fixture(scope="module")
def con():
    with facts.blank() as opened:
        yield opened


@ANY
@given(case=CASES, spelled=SPELLED)
def test_a_rule_that_does_more_than_read_the_club_is_refused_in_words(con, case, spelled):
    said, what = case
    sql = spelled(said.replace("{}", what))
    with pytest.raises(RuleError, match=r"^theirs\.sql: "):
        own_rules.hold(con, rule(sql))
    assert con.execute("select count(*) from item").fetchone() == (0,)
    assert con.execute("select current_setting('lock_configuration')").fetchone() == (True,)


@ANY
@given(sql=st.text(max_size=60) | st.text(alphabet="select from(),'\"*;-/$01ab\n", max_size=80))
def test_any_text_as_a_rule_is_refused_in_words_or_reads_the_club(con, sql):
    try:
        own_rules.hold(con, rule(sql))
    except RuleError as error:
        told(error)


def test_every_way_to_say_it_would_be_taken_if_it_read_the_club(con):
    for said in SOURCED:
        own_rules.hold(con, rule(said.replace("{}", "kit")))


@pytest.mark.parametrize(
    "sql",
    [
        "select item_id as subject, true as ok from item tablesample 10%",
        "select item_id as subject, true as ok from item using sample 1 rows",
        "select item_id as subject, current_date > tested as ok from item",
        "select item_id as subject, localtimestamp > tested as ok from item",
        "select item_id as subject, age(tested) < interval 1 year as ok from item",
        "select item_id as subject, ago('1 day') > tested as ok from item",
        "select item_id as subject, tested > pg_postmaster_start_time() as ok from item",
        "with sqlite_master as (select 1) select 1 as subject, (select count(*) from main.sqlite_master) > 1 as ok",
        "select 1 as subject, true as ok from (with pg_class as (select 1) from pg_class), pg_class",
        "select 1 as subject, true as ok from (with PRAGMA_database_list as (select 1 as a) from PRAGMA_database_list), "
        "pragma_database_list",
    ],
)
def test_a_rule_that_answers_otherwise_another_time_or_hides_what_it_reads_is_refused(con, sql):
    with pytest.raises(RuleError, match=r"^theirs\.sql: "):
        own_rules.hold(con, rule(sql))


@pytest.mark.parametrize(
    "sql",
    [
        "select ITEM_id as subject, today > 1 as ok from (select item_id, 2 as today from ITEM)",
        "with W as (select item_id from Item) select w.item_id as subject, true as ok from w",
        "select item_id as subject, age($today, tested) < interval 1 year as ok from item where tested < $today",
    ],
)
def test_a_rule_that_reads_the_club_is_taken_however_it_is_spelled(con, sql):
    own_rules.hold(con, rule(sql))


def test_every_function_of_the_database_that_is_not_steady_is_known(con):
    unsteady = con.execute(
        "select distinct function_name from duckdb_functions() where stability = 'VOLATILE' "
        "or macro_definition like '%current_timestamp%' or macro_definition like '%random()%'"
    ).fetchall()
    assert {name for (name,) in unsteady} <= guard.UNSTEADY


@pytest.mark.parametrize("text", ["'$5'", "'$today'", "$$today$$", "1 -- $today\n", "e'\\'$today'"])
def test_a_dollar_that_begins_no_parameter_is_refused(con, text):
    """Parameters are put in as text where plans are kept, and numbered where rules run together."""
    with pytest.raises(RuleError, match=r"^theirs\.sql: "):
        own_rules.hold(
            con, rule(f"select item_id as subject, {text} as costs, $today > tested as ok from item")
        )


def test_evidence_that_is_no_number_is_said_as_it_is_and_lines_are_a_list(con):
    text = "{things:.1f} {subject:,f}"
    own_rules.hold(con, rule("select 'a' as subject, false as ok, [1, 2] as things", text))
    assert fill(rule(""), text, {"things": [1, 2], "subject": "a"}, Policy.standard()) == "[1, 2] a"
    for lines in ("line", "['a']", "[1.5]", "[[line]]"):
        with pytest.raises(RuleError, match=r"^theirs\.sql: lines is no list of whole numbers"):
            own_rules.hold(con, rule(f"select item_id as subject, false as ok, {lines} as lines from item"))
    for lines in ("[line]", "[]", "[null]", "(select list(line) from item)", "[count(*) over ()]"):
        own_rules.hold(con, rule(f"select item_id as subject, false as ok, {lines} as lines from item"))


def test_a_parameter_whose_name_begins_another_ones_may_be_left_out(con):
    told = tomllib.loads(HEADER.format(subject="item", not_met="x"))
    param = {name: Param(1, "kg", "x", "x") for name in ("most", "most_kg")}
    sql = "select item_id as subject, weight_kg < $most_kg as ok from item"
    own_rules.hold(con, Rule(name="theirs", family="packing", sql=sql, **told, param=param))


def test_the_rules_of_the_project_keep_to_the_same(con):
    for one in load_rules():
        assert guard.reads_too_much(con, one.sql) == "", one.name
        assert not any(map(guard.speaks_oddly, (one.not_met, one.not_known, one.fix))), one.name


@ANY
@given(
    field=st.sampled_from(["subject", "ok", "subject.__class__", "subject[0]", "0", "", "__globals__"]),
    turned=st.sampled_from(["", "!r"]),
    spec=st.text(alphabet="0123456789.<>,fdsx{}%", max_size=12),
)
@example(field="subject", turned="", spec="999999999")
@example(field="ok", turned="", spec=".999999999f")
@example(field="subject.__class__.__init__.__globals__", turned="", spec="")
def test_a_sentence_names_columns_and_nothing_behind_them(con, field, turned, spec):
    text = "{" + field + turned + (f":{spec}" if spec else "") + "}"
    try:
        own_rules.hold(con, rule("select 1 as subject, true as ok", text))
    except RuleError as error:
        told(error)
    else:
        assert field in ("subject", "ok")
        for value in (1.5, 3, True, None, "word", [1.5], {"a": 1}):
            row = {"subject": value, "ok": True}
            assert len(fill(rule("", text), text, row, Policy.standard())) < 200


# ---- rules that never end, or take everything


BAG = b"member,kit,item,kind\nQ1ABC,bag,radio,handheld\nQ1ABC,bag,pack,handheld_pack\n"


def own(folder: Path, sql: str) -> Policy:
    path = folder / "ours" / "packing" / "theirs.sql"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"/*\n{HEADER.format(subject='item', not_met='x')}*/\n{sql}", "utf-8")
    return Policy.parse('own_rules = "ours"', beside=folder)


def judged(policy: Policy) -> engine.Assessment:
    return engine.assess({"inventory": upload.read("inventory.csv", BAG).frame}, policy, date(2027, 3, 1))


def set_aside(policy: Policy) -> str:
    """What is wrong with the one rule that is set aside; all else is judged."""
    found = judged(policy)
    (said,) = found.set_aside
    assert len(found.scores()) > 3 and len(load_rules()) <= len(found.rules)
    return said


@pytest.mark.parametrize(
    "sql",
    [
        "select item_id as subject, (select count(*) from range(1000000000000)) > 0 as ok from item",
        "with recursive w as (select 1 as a union all select a + 1 from w) "
        "select item_id as subject, (select max(a) from w) > 0 as ok from item",
    ],
)
def test_a_rule_that_never_ends_is_broken_off_and_the_next_review_is_as_before(tmp_path, monkeypatch, sql):
    monkeypatch.setattr(own_rules, "LONGEST_S", 0.5)
    assert re.match(r"theirs.*took longer than 0.5 s", set_aside(own(tmp_path, sql)))
    assert len(judged(Policy.standard()).scores()) > 3


@pytest.mark.parametrize("sql", [
    "select item_id as subject, (select len(list(i)) from range(200000000) as r(i)) > 0 as ok from item",
    "with recursive w as (select 'xxxxxxxxxxxxxxxx' as a union all select a || a from w) "
    "select 1 as subject, (select max(a) from w) = '' as ok",
    "select 1 as subject, (select count(distinct a.i * 9999991 + b.i) from range(9999991) as a(i), range(9) as b(i)) > 0 as ok",
])  # fmt: skip
def test_a_rule_that_takes_all_memory_is_refused_and_nothing_of_it_goes_to_the_disk(
    tmp_path, monkeypatch, sql
):
    """Beside the memory, the disk is where a database puts what is too much."""
    monkeypatch.setattr(club, "MEMORY", "150MB")
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    assert re.match(r"theirs: this rule .* more memory than the 150MB", set_aside(own(tmp_path, sql)))
    assert os.listdir(tmp_path / "here") == []
    with club.connect() as con:
        assert con.execute("select current_setting('temp_directory')").fetchone() == ("",)
    monkeypatch.undo()
    assert len(judged(Policy.standard()).scores()) > 3


@pytest.mark.parametrize("made", [
    "repeat('x', 1000000000)", "lpad('x', 2000000000, 'y')", "RPAD('x', 2000000000, 'y')", "range(2000000000)",
    "(select list_resize([1], 2000000000))", "format('{:>999999999}', 'x')", "printf('%999999999d', 1)",
    "bar(1, 0, 1, 1000000000)", "bitstring('1', 2000000000)", "to_base(1, 2, 2000000000)",
    "list_reduce(generate_series(1, 2000000000), lambda a, b: a + b)", "'x'.repeat(1000000000)",
])  # fmt: skip
def test_a_rule_that_makes_much_of_little_in_one_step_is_refused_before_it_runs(con, made):
    """Neither time nor memory is counted within one step."""
    with pytest.raises(RuleError, match=r"theirs.*makes? much of little"):
        own_rules.hold(con, rule(f"select item_id as subject, {made} is null as ok from item"))


def test_it_is_said_which_rule_of_a_clubs_own_takes_too_much(tmp_path, monkeypatch):
    monkeypatch.setattr(own_rules, "LONGEST_S", 0.5)
    policy = own(
        tmp_path, "select item_id as subject, (select count(*) from range(1000000000000)) > 0 as ok from item"
    )
    (tmp_path / "ours" / "packing" / "quick.sql").write_text(
        f"/*\n{HEADER.format(subject='item', not_met='x')}*/\nselect item_id as subject, true as ok from item",
        "utf-8",
    )
    said = set_aside(policy)
    assert "theirs" in said and "quick" not in said


def test_a_rule_that_crosses_everything_ends_in_time(tmp_path, monkeypatch):
    monkeypatch.setattr(own_rules, "LONGEST_S", 0.5)
    crossed = ", ".join(f"item as i{n}" for n in range(40))
    policy = own(tmp_path, f"select count(*) as subject, count(*) > 0 as ok from {crossed}")
    assert re.match(r"theirs: .*(0\.5 s|memory)", set_aside(policy))


@pytest.mark.parametrize(
    "content", [b"\xff\xfe\x00", b"", b"/*", b"/* x = */ select 1", b"/*\nname = 'x'\n*/ select 1"]
)
def test_a_file_that_is_no_rule_is_refused_in_words(tmp_path, content):
    policy = own(tmp_path, "")
    (tmp_path / "ours" / "packing" / "theirs.sql").write_bytes(content)
    with pytest.raises(RuleError, match=r"theirs\.sql"):
        own_rules.read(policy.own_rules)


# ---- policies

KEYS = {
    f"{part}.{key}"
    for part, values in tomllib.loads(STANDARD.read_text("utf-8")).items()
    if isinstance(values, dict)
    for key in values
} | {
    "rules.no_second_radio.least",
    "duty.post.tx_share",
    "chemistry.agm.usable_share",
    "post_type.sag.operators",
    "post_type.sag.duty",
    "post_type.sag.is_critical",
    "mode.ssb.duty_factor",
    "aliases.kind.brick",
    "own_rules",
    "allow",
    "weight",
    "rules",
    "x.y",
}
VALUES = st.sampled_from([
    "nan", "inf", "-inf", "-1", "0", "1e308", "-1e308", "99999999999999999999", "true", '""', '"x"', "[]", "[1, [2]]",
    "{}", '{a = 1}', '"../../etc"', '"/etc"', '"a\\u0000b"', "2027-01-01", '"' + "x" * 5_000 + '"', "1_0", "0x7f",
])  # fmt: skip
LINES = st.lists(st.tuples(st.sampled_from(sorted(KEYS)), VALUES), max_size=4, unique_by=lambda line: line[0])


def read(text: str) -> Policy | None:
    """A policy that is held to the rules; None where it is refused in words."""
    try:
        policy = Policy.parse(text, beside=Path("/nonexistent"))
        policy.check({one.name: one.param for one in load_rules()}, engine.DUTIES)
    except PolicyError as error:
        told(error)
        return None
    return policy


@ANY
@given(text=st.text(max_size=200) | st.text(alphabet='[]{}"=.\n#aweightdutyrules_0123', max_size=200))
@example("[" * 5_000)
@example("a = " + "[" * 5_000)
@example("a" * 100_000 + " = 1")
@example("".join(f"[t{n}]\n" for n in range(5_000)))
@example("weight = 1")
@example("duty = {post = 1}")
@example("aliases = {kind = 1}")
@example("rules = {no_second_radio = 1}")
@example("weight.advice = nan")
def test_any_text_is_a_policy_or_refused_in_words(text):
    read(text)


@FEWER
@given(lines=LINES)
@example([("facts.horizon_days", "1e308")])
def test_a_policy_of_strange_figures_is_refused_in_words_or_the_club_is_judged(lines):
    policy = read("".join(f"{key} = {value}\n" for key, value in lines))
    if policy is not None:
        try:
            judged(policy)
        except RuleError:
            assert policy.own_rules
