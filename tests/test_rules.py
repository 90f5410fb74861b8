"""Every rule keeps its promises: its cases, its words, its evidence, and one answer for every subject of the demo club."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import replace
from datetime import date
from itertools import combinations
from pathlib import Path
from typing import Any

import duckdb
import pytest

from dashboard import sending
from data import reference, schema
from rules import engine, facts
from rules.plans.offers import SIZES
from rules.policy import Policy
from rules.rule import FAMILIES, FIGURE, FIND_OUT, Rule, evidence, fill, load_rules, params, sentence
from tests import small_club
from tests.tools import insert

HERE = Path(__file__).parent
TODAY = date(2027, 3, 1)
RULES = load_rules()
EVIDENCE = evidence()
BY_RULE = pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
SPOKEN_OF = {"member": "QA1BC", "kit": "Go bag", "event": "Ride", "post": "Ford"}
GET = re.compile(
    r"\b(?:[Aa]dd|[Bb]ring|[Bb]uy|[Ff]it|[Pp]ack|[Uu]se|[Rr]eplace|[Tt]ake|[Pp]ut) (?:it if|what is missing|(?:(?:a|an|about|one|the|more) )?"
    r"[a-z0-9 {}:.]*\b(?:adapter|antenna|battery|charger|fuse|lead|meter|pack|radio|set|tape|vest|water|Wh)\b)"
)
ALL_BUT_OWN = {name for stem in schema.FILES for name in schema.columns(stem)} - {
    name for stem in sending.OWN_FILES for name in schema.columns(stem)
}
NOT_EVIDENCE = {"subject", "ok", "lines"}


def cases(rule: Rule) -> list[dict[str, Any]]:
    path = HERE / "cases" / rule.family / f"{rule.name}.toml"
    return tomllib.loads(path.read_text("utf-8"))["case"] if path.exists() else []


ALL_CASES = [(rule, case) for rule in RULES for case in cases(rule)]


@pytest.fixture(scope="module")
def blank() -> Any:
    con = facts.blank()
    yield con
    con.close()


@pytest.fixture
def con(blank: duckdb.DuckDBPyConnection) -> Any:
    """A club without rows; those that a test puts in are taken back."""
    blank.begin()
    yield blank
    blank.rollback()


def judged(con: duckdb.DuckDBPyConnection, rule: Rule, policy: Policy, today: date) -> list[dict[str, Any]]:
    told = con.execute(f"select to_json(r) from ({rule.sql}) as r", rule.values(policy, today)).fetchall()
    return [json.loads(row) for (row,) in told]


def answers(con: duckdb.DuckDBPyConnection, rule: Rule, case: dict[str, Any]) -> list[dict[str, Any]]:
    """What a rule says of a case, by subject."""
    for table, rows in case["given"].items():
        insert(con, table, *rows)
    return sorted(
        judged(con, rule, policy_of(rule, case), case.get("today", TODAY)), key=lambda row: row["subject"]
    )


def policy_of(rule: Rule, case: dict[str, Any]) -> Policy:
    own: dict[str, dict[str, Any]] = {}
    for name, value in case.get("param", {}).items():
        own.setdefault(rule.figures()[name][0], {})[name] = value
    policy = Policy.standard()
    return Policy(policy.weight, policy.facts, own)


def as_expected(rows: list[dict[str, Any]], case: dict[str, Any]) -> list[dict[str, Any]]:
    """Of the rows the columns that a case expects, in its words: the expected value where a number is as good as that."""
    found = []
    expected = {wanted["subject"]: wanted for wanted in case["expect"]}
    for row in rows:
        said = row | {"ok": {True: "met", False: "not met", None: "not known"}[row["ok"]]}
        wanted = expected.get(row["subject"], {"subject": 0, "ok": ""})
        found.append(
            {
                name: value
                if isinstance(value, float) and said[name] == pytest.approx(value, rel=1e-6)
                else said[name]
                for name, value in wanted.items()
            }
        )
    return found


@pytest.mark.parametrize(
    ("rule", "case"), ALL_CASES, ids=[f"{rule.name}: {case['name']}" for rule, case in ALL_CASES]
)
def test_case(con: duckdb.DuckDBPyConnection, rule: Rule, case: dict[str, Any]) -> None:
    rows = answers(con, rule, case)
    assert as_expected(rows, case) == sorted(case["expect"], key=lambda row: row["subject"])
    if says := case.get("says"):
        assert says in [sentence(rule, row | SPOKEN_OF, policy_of(rule, case)) for row in rows]
    for row in rows:  # who mends something is told nothing of what nobody knows
        assert row["ok"] or "not known" not in fill(rule, rule.fix, row | SPOKEN_OF, policy_of(rule, case))


EDGE = re.compile(r"(?<![-<>=])(<=|>=|<(?!>)|>)(?= *(?:[\w.]+ \* )?\$(?!today\b))")
"""A comparison with a figure that a club may set."""
BESIDE = {"<=": "<", "<": "<=", ">=": ">", ">": ">="}
NAMES_LINES_ONLY = ("container_too_heavy_for_one",)


@BY_RULE
def test_a_case_stands_at_the_edge_of_each_figure(blank: duckdb.DuckDBPyConnection, rule: Rule) -> None:
    """Where just as much as a figure counts the other way, some case is answered otherwise."""
    for found in EDGE.finditer(rule.sql) if rule.name not in NAMES_LINES_ONLY else ():
        sql = f"{rule.sql[: found.start()]}{BESIDE[found[1]]}{rule.sql[found.end() :]}"
        for case in reversed(cases(rule)):
            blank.begin()
            rows = answers(blank, replace(rule, sql=sql), case)
            blank.rollback()
            if as_expected(rows, case) != sorted(case["expect"], key=lambda row: row["subject"]):
                break
        else:
            line = rule.sql[: found.end()].count("\n")
            raise AssertionError(
                f"{rule.name}: add a case just at the figure of `{rule.sql.splitlines()[line].strip()}`"
            )


@BY_RULE
def test_cases_show_every_answer(rule: Rule) -> None:
    shown = {row["ok"] for case in cases(rule) for row in case["expect"]}
    wanted = {"met", "not met"} | ({"not known"} if rule.not_known else set())
    assert shown >= wanted, (
        f"tests/cases/{rule.family}/{rule.name}.toml shows {shown or 'nothing'}; add {wanted - shown}"
    )


@BY_RULE
def test_a_case_holds_the_sentence(rule: Rule) -> None:
    assert any("says" in case for case in cases(rule))


@BY_RULE
def test_header_is_whole(rule: Rule) -> None:
    for name in ("title", "why", "not_met", "fix", "source"):
        assert getattr(rule, name).strip(), f"{rule.name} has no {name}"
    for name, param in rule.param.items():
        assert param.unit and param.why and param.source, (
            f"{rule.name}: param.{name} needs unit, why and source"
        )
        assert f"${name}" in rule.sql, f"{rule.name}: the select never uses ${name}"
    assert set(re.findall(r"\$(\w+)", rule.sql)) <= {*rule.param, *rule.shared, "today"}
    for name, of in rule.shared.items():
        assert name in params()[of] and f"${name}" in rule.sql
    assert rule.family in FAMILIES


@BY_RULE
def test_what_a_thing_mends_says_what_the_thing_costs(con: duckdb.DuckDBPyConnection, rule: Rule) -> None:
    """A remedy names a kind with a price range, or the evidence column that holds the kind; the fix says the cost."""
    kinds = reference.kinds().set_index("kind")[["price_low_usd", "price_high_usd"]].dropna()
    told = [(float(low), float(high)) for low, high in re.findall(r"(\d+) to (\d+)", rule.fix)]
    if kind := rule.remedy.get("kind"):
        assert "USD" in rule.fix or kind == "item_kind", f"{rule.name}: say in fix what it costs"
        if kind != "item_kind":
            low, high = kinds.loc[kind]
            assert any(a <= high and b >= low for a, b in told), (
                f"{rule.name}: fix names no price of {kind}, {low:.0f} to {high:.0f} USD"
            )
        else:
            values = rule.values(Policy.standard(), TODAY)
            columns = {row[0] for row in con.execute(f"describe {rule.sql}", values or None).fetchall()}
            assert kind in columns, f"{rule.name}: return {kind}"
    if sizes := {word for size, word in rule.remedy.items() if size in SIZES}:
        values = rule.values(Policy.standard(), TODAY)
        columns = {row[0] for row in con.execute(f"describe {rule.sql}", values or None).fetchall()}
        assert sizes <= columns, f"{rule.name}: return {', '.join(sorted(sizes))}"
    elif get := GET.search(rule.fix):
        assert "USD" in rule.fix, f"{rule.name}: {get.group()!r} asks for a thing; say what it costs"


@BY_RULE
def test_every_fix_says_what_it_costs_or_that_it_costs_nothing(rule: Rule) -> None:
    assert re.search(r"[\d}] USD|costs? nothing", rule.fix), f"{rule.name}: say in fix what mending costs"


def test_the_prices_of_fixes_are_those_of_kinds() -> None:
    """From the least of a kind's usual prices to the most of one, or a sum of such."""
    kinds = reference.kinds().set_index("kind")[["price_low_usd", "price_high_usd"]].dropna()
    price = {str(kind): (low, high) for kind, low, high in kinds.itertuples()}
    battery = (90, 260)  # LiFePO4 of 20 Ah; smaller ones begin where the kind does

    def together(*parts: tuple[float, float]) -> tuple[float, float]:
        return sum(low for low, _ in parts), sum(high for _, high in parts)

    pack, controllers = (
        price["handheld_pack"],
        (price["charge_controller_pwm"], price["charge_controller_mppt"]),
    )
    sums = {
        battery,
        (price["battery_lifepo4"][0], battery[1]),
        together(price["handheld"], pack, price["jpole"]),
        together(price["handheld"], pack, pack),
        together(price["mobile_vhf_uhf"], battery, price["mag_mount"], price["dc_lead"]),
        together(price["solar_panel"], (controllers[0][0], controllers[1][1])),
    }
    for rule in RULES:
        for told in re.findall(r"(?<![\d.])([\d,]+) to ([\d,]+)(?! ?(?:h|m|min|d)\b)", rule.fix):
            low, high = (float(figure.replace(",", "")) for figure in told)
            is_kinds = low in set(kinds["price_low_usd"]) and high in set(kinds["price_high_usd"])
            assert is_kinds or (low, high) in sums, f"{rule.name}: no kind costs {low:g} to {high:g} USD"


@BY_RULE
def test_sentences_use_what_the_select_returns(con: duckdb.DuckDBPyConnection, rule: Rule) -> None:
    values = rule.values(Policy.standard(), TODAY)
    columns = {row[0] for row in con.execute(f"describe {rule.sql}", values or None).fetchall()}
    assert {"subject", "ok"} <= columns
    spoken = set()
    for text in (rule.not_met, rule.not_known, rule.fix):
        spoken |= set(re.findall(r"\{(\w+)", text))
    assert spoken <= columns | rule.figures().keys() | {"member", "kit", "event", "post"}
    assert columns - NOT_EVIDENCE <= set(EVIDENCE), (
        f"{rule.name}: add {columns - NOT_EVIDENCE - set(EVIDENCE)} to evidence.toml"
    )
    if rule.subject == "post_kit":
        assert "lines" in columns, f"{rule.name}: return the upload lines that the answer rests on as `lines`"


@BY_RULE
def test_two_figures_that_differ_never_read_alike(rule: Rule) -> None:
    """Of any two in one unit: what misses its threshold by little is not said to be equal to it."""
    policy = Policy.standard()
    param = {name: told for name, (_, told) in rule.figures().items()}

    def unit(name: str) -> str:
        told = param[name].unit if name in param else EVIDENCE.get(name, {}).get("unit", "")
        return told.removeprefix("°")

    for template in (rule.not_met, rule.not_known, rule.fix):
        forms = {found[1]: found[0] for found in FIGURE.finditer(template)}
        names = [name for name, form in forms.items() if "." in form or name in param]
        for one, other in combinations(names, 2):
            is_alike = unit(one) == unit(other) and ("%" in forms[one]) == ("%" in forms[other])
            if is_alike and not {one, other} <= param.keys() and ":" in forms[one] + forms[other]:
                bound = param[one].value if one in param else 10
                near = param[other].value if other in param else 1.0004 * bound
                row = {one: bound if other not in param else 1.0004 * near, other: near}
                said = fill(rule, f"{forms[one]} {forms[other]}", row, policy).split(" ")
                assert said[0] != said[1], f"{rule.name}: {one} and {other}"


def test_a_figure_of_another_rule_is_compared_with_and_said_as_the_club_has_set_it() -> None:
    rule = next(rule for rule in RULES if rule.name == "not_on_the_club_connector")
    policy = Policy.parse('[rules.few_on_the_club_connector]\nclub_family = "xt60"\n')
    assert rule.values(policy, TODAY)["club_family"] == "xt60"
    assert fill(rule, "into {club_family}", {}, policy) != fill(
        rule, "into {club_family}", {}, Policy.standard()
    )


@pytest.mark.parametrize(
    ("near", "bound", "said"),
    [
        (10.4, 10.0, "10.4 A of 10.0 A"),
        (10.04, 10.0, "10.04 A of 10.00 A"),
        (10.0, 10.0, "10 A of 10 A"),
        (10.0, 10.000004, "10 A of 10 A"),
        (None, 10.0, "not known A of 10 A"),
        (9.2, 10.0, "9 A of 10 A"),
    ],
)
def test_figures_are_given_the_digits_that_tell_them_apart(
    near: float | None, bound: float, said: str
) -> None:
    rule = next(rule for rule in RULES if rule.name == "weaker_than_the_peak")
    row = {"amps_rated": near, "peak_a": bound, "runtime_h": 10.1}
    told = fill(rule, "{amps_rated:.0f} A of {peak_a:.0f} A for {runtime_h:.1f} h", row, Policy.standard())
    assert told == f"{said} for 10.1 h"


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"power_line_m": 11.4, "clear_m": 11.448}, "11.4 m of 11.5 m"),
        ({"power_line_m": 11.4, "clear_m": 11.41}, "11.4 m of 11.5 m"),
        ({"power_line_m": 11.5, "clear_m": 11.51}, "11.5 m of 11.6 m"),
        ({"power_line_m": 2.0, "clear_m": 1.1 * 3}, "2.0 m of 3.3 m"),
        ({"power_line_m": 11.46, "clear_m": 11.448}, "11.46 m of 11.45 m"),
        ({"power_line_m": 11.4, "clear_m": None}, "11.4 m of not known m"),
    ],
)
def test_what_is_asked_for_at_least_is_said_no_smaller_than_it_is(row: dict[str, Any], said: str) -> None:
    rule = next(rule for rule in RULES if rule.name == "mast_reaches_the_power_line")
    assert fill(rule, "{power_line_m:.1f} m of {clear_m:.1f} m", row, Policy.standard()) == said


def test_what_is_allowed_at_most_is_said_no_larger_than_it_is() -> None:
    rule = next(rule for rule in RULES if rule.name == "fuse_larger_than_the_wire")
    for ampacity, said in ((19.9, "19 A"), (20.0, "20 A")):
        assert fill(rule, "{ampacity_a:.0f} A", {"ampacity_a": ampacity}, Policy.standard()) == said


def test_a_distance_that_is_kept_as_it_is_said_is_far_enough() -> None:
    for mast_m in (6.0, 6.4, 7.33, 9.0):
        post = {"event": "Ride", "post": "Hut", "post_type": "remote", "mast_m": mast_m}
        club = small_club.assess(events=[small_club.EVENT], posts=[post | {"power_line_m": 1.0}])
        (found,) = club.answers("mast_reaches_the_power_line")
        asked = float(re.findall(r"wants ([\d.]+) m", found.sentence)[0])
        kept = small_club.assess(events=[small_club.EVENT], posts=[post | {"power_line_m": asked}])
        (found,) = kept.answers("mast_reaches_the_power_line")
        assert found.status == "met", (mast_m, asked)


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(2, 2, "stations: 2."), (1, 2, "stations: 1 to 2."), (None, None, "stations: not known to not known.")],
)
def test_a_range_whose_ends_are_the_same_is_one_figure(low: Any, high: Any, said: str) -> None:
    rule = next(rule for rule in RULES if rule.name == "post_without_a_second_way")
    row = {"stations_low": low, "stations_high": high, "dc_plug": "uhf", "dc_plug_far": "uhf"}
    told = fill(rule, "stations: {stations_low} to {stations_high}.", row, Policy.standard())
    assert told == said
    both = fill(rule, "{dc_plug} to {dc_plug_far}", row, Policy.standard())
    assert len({*both.split(" to ")}) == 1 and " to " in both, "a lead has two plugs, though they are alike"


SOLD = ("battery_ah",)
"""Parameters whose figure also names what is sold: `a 20 Ah battery 90 to 260`."""


@BY_RULE
def test_a_figure_that_a_club_may_set_is_not_written_out(rule: Rule) -> None:
    said = re.sub(r"\{[^}]*\}", "…", " ".join((rule.not_met, rule.not_known, rule.fix, rule.applies_to)))
    for name, param in rule.param.items():
        if isinstance(param.value, int | float) and param.unit != "1" and name not in SOLD:
            unit = "°C" if param.unit == "C" else param.unit
            written = rf"(?<![\d.]){re.escape(f'{param.value:g}')} ?{re.escape(unit)}\b"
            assert not re.search(written, said), f"{rule.name}: write {{{name}}}, a policy may set another"


@BY_RULE
def test_a_figure_of_another_rule_of_the_family_is_not_written_out(rule: Rule) -> None:
    """Only broken ones tell whose they are: 4 h may be anybody's, 0.18 m is one rule's."""
    said = re.sub(r"\{[^}]*\}", "…", " ".join((rule.not_met, rule.not_known, rule.fix, rule.applies_to)))
    for other in RULES:
        for name, param in other.param.items() if other.family == rule.family else ():
            if isinstance(param.value, float) and param.value % 1 and param.unit != "1":
                written = rf"(?<![\d.]){re.escape(f'{param.value:g} {param.unit}')}\b"
                assert not re.search(written, said), f"{rule.name}: {other.name} sets {name} for a club"


@BY_RULE
def test_no_fix_sends_its_reader_to_themselves(rule: Rule) -> None:
    assert not re.search(r"\b([Aa]sk|[Tt]ell|[Ww]ith|[Tt]o) \{member\}(?!')", rule.fix)


PLAIN = "|".join(sorted(name for stem in schema.FILES for name in schema.columns(stem) if "_" not in name))
UNMARKED = re.compile(rf"\b(?:dates?|day|there|it|reversed|down) (?:in|under) (?:{PLAIN})(?:[.;,]| \()")


@BY_RULE
def test_degrees_and_columns_that_are_words_are_marked(rule: Rule) -> None:
    said = " ".join((rule.not_met, rule.not_known, rule.fix, rule.source))
    assert not re.search(r"[\d}] C\b", said), "write °C: readers of °F have it turned into theirs"
    assert not UNMARKED.search(said), "a column that is a word stands in quotes"


def test_evidence_has_label_and_unit() -> None:
    for name, entry in EVIDENCE.items():
        assert entry["label"] and "unit" in entry, name
        assert entry.get("rounds", "up") in ("up", "down"), name


def test_every_rule_has_a_name_of_its_own() -> None:
    assert len({rule.name for rule in RULES}) == len(RULES)


def test_every_case_file_has_its_rule() -> None:
    known = {(rule.family, rule.name) for rule in RULES}
    assert {(path.parent.name, path.stem) for path in (HERE / "cases").glob("*/*.toml")} <= known


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> engine.Assessment:
    from data import club
    from data import demo as demo_club

    folder = tmp_path_factory.mktemp("demo")
    demo_club.write(folder, today=TODAY)
    return engine.assess(club.read_folder(folder).frames, today=TODAY)


@BY_RULE
def test_every_subject_is_judged_once(demo: engine.Assessment, rule: Rule) -> None:
    number = demo.rules.index(rule)
    twice, judged, known = (
        demo.con.cursor()
        .execute(
            "select count(*) - count(distinct subject_id), count(*), "
            "(select count(*) from subject where subject_kind = $kind) from judgement where rule_no = $no and subject_kind = $kind",
            {"kind": rule.subject, "no": number},
        )
        .fetchone()
    )
    assert twice == 0, f"{rule.name} judges {twice} subjects twice"
    assert judged > 0, f"{rule.name} judges nothing on the demo club"
    assert judged == known or rule.applies_to, (
        f"{rule.name} drops {known - judged} subjects; say in applies_to which and why"
    )
    strangers = (
        demo.con.cursor()
        .execute(
            "select count(*) from judgement where rule_no = $no and subject_id not in "
            "(select subject_id from subject where subject_kind = $kind)",
            {"kind": rule.subject, "no": number},
        )
        .fetchone()
    )
    assert strangers == (0,)


@BY_RULE
def test_nobody_is_told_to_write_what_only_the_coordinator_sends(rule: Rule) -> None:
    """Members send their own kits; who they are, events and posts the coordinator does."""
    if rule.told_by == "coordinator":
        read = set(re.findall(r"\b(?:from|join) (\w+)", rule.sql))
        coordinators = {
            "member",
            "event",
            "post",
            "assignment",
            "loan",
            "post_kit",
            "darkness",
            "watch",
            "exposure",
        }
        assert read & coordinators
    elif rule.not_known:
        assert rule.family != "operator" and rule.subject != "member"
    if rule.subject in ("item", "kit", "member", "post_kit"):
        said = re.sub(r"\{[^}]*\}", "", f"{rule.not_known} {rule.fix}")
        named = {name for name in re.findall(r"\w+", said) if "_" in name}
        assert not named & ALL_BUT_OWN or "coordinator" in rule.fix


@BY_RULE
def test_what_only_the_coordinator_can_mend_is_asked_of_no_member(rule: Rule) -> None:
    """A fix that begins with sending somebody else, or at another time, is theirs who make the plan."""
    first = r"(Give (the post|one of the|\{member\})|Send (a|some)|Move one|Take one of the two assignments|Swap( with|,)|Pair them|Name the mentor|Invite)"
    if rule.subject in ("item", "kit", "member", "post_kit") and re.match(first, rule.fix):
        assert rule.mended_by == "coordinator"


@BY_RULE
def test_every_unknown_has_words(demo: engine.Assessment, rule: Rule) -> None:
    number = demo.rules.index(rule)
    unknown = (
        demo.con.cursor()
        .execute("select count(*) from judgement where rule_no = $no and ok is null", {"no": number})
        .fetchone()
    )
    assert unknown == (0,) or rule.not_known, (
        f"{rule.name}: {unknown[0]} subjects are not known; write the not_known sentence"
    )


def test_a_rule_that_names_no_lines_rests_on_all_of_its_subject(demo: engine.Assessment) -> None:
    silent = {rule.name for rule in RULES if not re.search(r"\blines\b", rule.sql)}
    kits = demo.table("kit").set_index(["member", "kit"])["lines"]
    own = {kind: demo.table(kind) for kind in ("member", "post", "event")}
    own["post"]["post"] = own["post"]["event"] + "/" + own["post"]["post"]
    own_line = {
        (kind, name): line
        for kind, frame in own.items()
        for name, line in zip(frame[kind], frame["line"], strict=True)
    }
    found = [
        finding
        for finding in demo.findings("j.subject_kind <> 'club'", with_met=True)
        if finding.rule in silent
    ]
    assert {finding.subject_kind for finding in found} == {"item", "kit", *own}
    for finding in found:
        if finding.subject_kind == "item":
            assert finding.subject.endswith(f" (line {finding.lines[0]})") and len(finding.lines) == 1
        elif finding.subject_kind == "kit":
            assert finding.lines == list(kits[finding.member, finding.kit])
        else:
            assert finding.lines == [own_line[finding.subject_kind, finding.subject]]


def test_what_is_asked_for_stands_in_some_line(demo: engine.Assessment) -> None:
    """Whoever reads what is not met or not known, of anything but the club, finds where it was told or left out."""
    found = demo.findings("j.subject_kind <> 'club'")
    assert found and not [finding.sentence for finding in found if not finding.lines]


def test_lines_are_of_the_file_that_is_named(demo: engine.Assessment) -> None:
    """Of the inventory those of the kit, of the list of kits its own, of the members the member's, of the assignments theirs, of posts and events their own."""
    kits = (
        demo.con.cursor()
        .execute("select kit, list(item.line) from item join kit using (kit_id) group by kit")
        .fetchall()
    )
    of_kit = {kit: set(lines) for kit, lines in kits}
    whose = dict(demo.con.cursor().execute("select kit || ' of ' || member, kit from kit").fetchall())
    of_bag: dict[str, set[int]] = {}
    for kit, line in demo.con.cursor().execute("select kit, line from kit where line is not null").fetchall():
        of_bag.setdefault(kit, set()).add(line)
    of_member = dict(demo.con.cursor().execute("select member, line from member").fetchall())
    of_person: dict[str, set[int]] = {}
    for member, line in (
        demo.con.cursor()
        .execute("select member.member, assignment.line from assignment join member using (member_id)")
        .fetchall()
    ):
        of_person.setdefault(member, set()).add(line)
    of_post = dict(demo.con.cursor().execute("select event || '/' || post, line from post").fetchall())
    of_event = dict(demo.con.cursor().execute("select event, line from event").fetchall())
    found = demo.findings(with_met=True)
    assert {finding.file for finding in found} == {
        "inventory",
        "kits",
        "members",
        "assignments",
        "posts",
        "events",
        "",
    }
    for finding in found:
        kit = whose.get(finding.kit, finding.kit)
        there = {
            "inventory": of_kit.get(kit, set()),
            "kits": of_bag.get(kit, set()),
            "members": {of_member.get(finding.member)},
            "assignments": of_person.get(finding.member, set()),
            "posts": {of_post.get(finding.subject)},
            "events": {of_event.get(finding.subject)},
            "": set(),
        }[finding.file]
        assert set(finding.lines) <= there, (finding.rule, finding.subject)


def test_evidence_repeats_neither_subject_nor_answer(demo: engine.Assessment) -> None:
    kept = demo.con.cursor().execute("select distinct unnest(json_keys(evidence)) from judgement").fetchall()
    assert kept and not {word for (word,) in kept} & {"subject", "ok"}


def test_the_demo_speaks(demo: engine.Assessment) -> None:
    told_by = {rule.name: rule.told_by for rule in RULES}
    for finding in demo.findings():
        assert "{" not in finding.sentence
        assert finding.sentence.strip()
        assert finding.fix.strip()
        assert finding.source.strip()
        find_out = FIND_OUT[told_by[finding.rule]]
        assert finding.status != "not known" or finding.fix.startswith((find_out, "Write")), "first find out"
        assert finding.status == "not known" or "Find out" not in finding.fix
