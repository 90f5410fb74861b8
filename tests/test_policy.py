"""A club's policy and its own rules: what they may say, what they change, and what they may not reach."""

from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from data import reference, upload
from rules import engine, own_rules
from rules.policy import OF_REFERENCE, WITHIN, Policy, PolicyError, with_allowed, with_rule
from rules.rule import RuleError
from tests import small_club

TODAY = date(2027, 3, 1)
OWN = """/*
title = "No whistle"
subject = "kit"
severity = "advice"
why = "A whistle carries when a radio does not."
not_met = "{subject}: no whistle, {items} things."
fix = "Add a whistle."
source = "common practice"
*/
select kit_id as subject, len(lines) as items, lines, exists (from item where item.kit_id = kit.kit_id and kind = 'whistle') as ok
from kit
"""


@pytest.fixture
def frames() -> dict[str, pd.DataFrame]:
    text = "member,kit,item,kind\nQA1BC,bag,handheld radio,handheld\nQA1BC,bag,its pack,handheld_pack\n"
    frame = upload.read("inventory.csv", text.encode()).frame
    assert frame is not None
    return {"inventory": frame}


def own(folder: Path, text: str, name: str = "no_whistle") -> Path:
    (folder / "packing").mkdir(parents=True, exist_ok=True)
    (folder / "packing" / f"{name}.sql").write_text(text, "utf-8")
    return folder


def test_what_is_left_out_stands() -> None:
    policy = Policy.parse("[weight]\nblocks = 9\n")
    assert policy.weight["blocks"] == 9
    assert policy.weight["limits"] == Policy.standard().weight["limits"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[weight]\nblocs = 9\n", 'weight: "blocs" is not known. Did you mean blocks?'),
        ("[weight]\nblocks = 'nine'\n", "weight.blocks: 'nine' does not fit. Write a value like 5."),
        ("[weight]\nblocks = true\n", "weight.blocks: True does not fit"),
        ("weights = 1\n", 'policy: "weights" is not known. Did you mean weight?'),
        ("[weight\n", "not TOML"),
        ("[duty.post]\ntx_share = 0.5\nrx_share = 0.5\nidle_share = 0.5\n", "add up to 1"),
        (
            "[duty.post]\ntx_share = 1.2\nrx_share = -0.2\nidle_share = 0\n",
            "duty.post.tx_share: 1.2 is out of range",
        ),
        ("[weight]\nblocks = -1\n", "weight.blocks: -1 is out of range. Write 0 or more."),
        (
            "[weight]\nblocks = 0\nlimits = 0.0\nadvice = 0\n",
            "weight: nothing counts. Write more than 0 for one of blocks, limits, advice.",
        ),
        (
            "[facts]\nsun_share = 1.5\n",
            "facts.sun_share: 1.5 is out of range. Write at least 0 and at most 1.",
        ),
        ("[facts]\nlead_temperature_c = -400\n", "facts.lead_temperature_c: -400 is out of range"),
        ("[chemistry.agn]\nusable_share = 0.7\n", 'chemistry: "agn" is not known. Did you mean agm?'),
        ("[chemistry.agm]\nusable = 0.7\n", "Did you mean usable_share?"),
        ("[chemistry.agm]\nusable_share = 70\n", "chemistry.agm.usable_share: 70 is out of range"),
        ("[chemistry.agm]\ncharge_days = 'never'\n", "chemistry.agm.charge_days: 'never' does not fit"),
        ("[chemistry]\nagm = 0.7\n", "chemistry.agm: 0.7 is no table"),
        ('[facts]\nkit_duty = "posts"\n', 'facts.kit_duty: "posts" is not known. Did you mean post?'),
        ("[post_type.sagg]\nradios = 2\n", 'post_type: "sagg" is not known. Did you mean sag?'),
        ("[post_type.sag]\nradio = 2\n", "Did you mean radios?"),
        ("[post_type.sag]\nradios = 1.5\n", "post_type.sag.radios: 1.5 does not fit. Write a whole number"),
        ("[post_type.sag]\noperators = true\n", "post_type.sag.operators: True does not fit."),
        ("[post_type.sag]\noperators = 0\n", "post_type.sag.operators: 0 is out of range"),
        (
            "[post_type.sag]\nis_critical = 1\n",
            "post_type.sag.is_critical: 1 does not fit. Write a value like True.",
        ),
        ('[post_type.sag]\nduty = "bussy"\n', 'post_type.sag.duty: "bussy" is not known. Did you mean busy?'),
        ('[post_type.sag]\nrole_needed = "feild"\n', "Did you mean field?"),
        ("[post_type.sag]\nduty = 3\n", "post_type.sag.duty: 3 does not fit."),
        ("[mode.ssb]\nduty_factor = 20\n", "mode.ssb.duty_factor: 20 is out of range"),
        (
            "[facts]\ndull_share = 0.6\n",
            "facts.dull_share: 0.6 is more than sun_share, 0.5. Write no more than that, or more there.",
        ),
        (
            "[chemistry.lifepo4]\ncharge_min_c = 30\ncharge_max_c = 20\n",
            "charge_min_c: 30 is more than charge_max_c, 20",
        ),
        ("[chemistry.agm]\nflag_years = 49\n", "chemistry.agm.flag_years: 49 is more than life_years"),
        ("[facts]\ntwilight_deg = 6\n", "facts.twilight_deg: 6 is out of range"),
    ],
)
def test_a_wrong_policy_says_where_and_what_to_write(text: str, says: str) -> None:
    with pytest.raises(PolicyError, match="policy") as error:
        Policy.parse(text)
    assert says in str(error.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[rules.no_second_radios]\nleast = 1\n", "Did you mean no_second_radio?"),
        ('allow = ["no_map_on_paper"]\n', '"no_map_on_paper" is not known. Did you mean no_map?'),
        ('allow = ["xyz"]\n', '"xyz" is not known. Write the name of a rule: kitmuster rules lists them'),
        ("[rules.no_second_radio]\nlest = 1\n", "Did you mean least?"),
        ("[rules.no_second_radio]\nleast = 'one'\n", "Write a value like 2."),
        ("[rules.few_on_the_club_connector]\nclub_family = 'genderles'\n", "Did you mean genderless?"),
        (
            "[rules.channels_not_loaded]\nplan_from = '1 March'\n",
            'rules.channels_not_loaded.plan_from: \'1 March\' is no day. Write one in quotes, for example "2027-03-01", or "" for none.',
        ),
        ("[rules.channels_not_loaded]\nplan_from = 2027-03-01\n", "is no day. Write one in quotes"),
        ("[rules.channels_not_loaded]\nplan_from = '20270301'\n", "is no day."),
        ("[rules.channels_not_loaded]\nplan_from = 400\n", "plan_from: 400 is no day."),
        (
            "[rules.old_channel_list]\nplan_from = '2027-03-01'\n",
            "Write it below [rules.channels_not_loaded].",
        ),
        ("[duty.posts]\ntx_share = 0.5\nrx_share = 0.5\nidle_share = 0\n", "Did you mean post?"),
        ("[rules.no_second_radio]\nleast = -1\n", "least: -1 is out of range. Write 0 or more."),
        ("[rules.shift_over_twelve_hours]\nmost_h = 1e9\n", "Write at least 0 and at most 8760."),
        ("[rules.pool_too_small]\nposts_each = 0\n", "posts_each: 0 is out of range. Write 1 or more."),
        ("[rules.no_second_antenna]\nwanted = 3\n", '"wanted" is not known. Write least.'),
        ("[rules.no_complete_station]\nwanted = 3\n", '"wanted" is not known. Leave it out'),
        ("[rules.drop_over_three_percent]\nmost_share = 3\n", "Write at least 0 and at most 1."),
        ("[rules.no_gloves_to_write_in]\ncold_c = -61\n", "cold_c: -61 is out of range. Write -60 or more."),
    ],
)
def test_a_policy_is_held_to_the_rules(frames: dict[str, pd.DataFrame], text: str, says: str) -> None:
    with pytest.raises(PolicyError) as error:
        engine.assess(frames, Policy.parse(text), TODAY)
    assert says in str(error.value)


WRONG = """weights = 1
allow = ["no_second_radios", "no_spare_fuse"]
[weight]
blocks = "nine"
advice = -1
[facts]
age_factor = 7
kit_duty = "posts"
[duty.post]
tx_share = 2
rx_share = 0.5
[aliases.kind]
box = "handhold"
[rules.no_second_radio]
lest = 1
least = "one"
"""


def test_everything_that_is_wrong_is_said_at_once() -> None:
    with pytest.raises(PolicyError) as error:
        Policy.parse(WRONG)
    assert [problem.partition(":")[0] for problem in error.value.problems] == [
        "policy.toml, policy", "policy.toml, weight.blocks", "policy.toml, weight.advice",
        "policy.toml, facts.age_factor", "policy.toml, facts.kit_duty", "policy.toml, duty.post.tx_share",
        "policy.toml, aliases.kind.box", "policy, allow", "policy, rules.no_second_radio",
        "policy, rules.no_second_radio.least",
    ]  # fmt: skip
    assert str(error.value).splitlines() == list(error.value.problems)


def test_what_may_be_a_clubs_own_rule_is_not_called_unknown_beside_another_problem() -> None:
    own = 'own_rules = "ours"\nallow = ["no_whistle"]\n[rules.no_whistle]\nleast = 1\n[weight]\nblocs = 1\n'
    with pytest.raises(PolicyError) as error:
        Policy.parse(own)
    assert len(error.value.problems) == 1


def test_all_that_does_not_fit_the_rules_is_said_at_once(frames: dict[str, pd.DataFrame]) -> None:
    text = "[rules.no_second_radios]\nleast = 1\n[rules.no_second_radio]\nlest = 1\nleast = 'one'\n"
    with pytest.raises(PolicyError) as error:
        engine.assess(frames, Policy.parse(text), TODAY)
    assert len(error.value.problems) == 3


def test_the_text_of_a_long_refusal_holds_its_first_problems() -> None:
    with pytest.raises(PolicyError) as error:
        Policy.parse("".join(f"[t{number}]\n" for number in range(30)))
    assert len(error.value.problems) == 30
    assert str(error.value).endswith("\nAnd 10 more.")


def test_every_figure_of_the_facts_has_a_range_that_holds_its_usual_value() -> None:
    usual = Policy.standard().facts
    assert {name for name, value in usual.items() if not isinstance(value, str)} == WITHIN.keys()
    assert all(least <= usual[name] <= most for name, (least, most) in WITHIN.items())


def test_two_severities_may_count_for_nothing() -> None:
    assert Policy.parse("[weight]\nlimits = 0\nadvice = 0\n").weight["limits"] == 0


@pytest.mark.parametrize("table", OF_REFERENCE)
def test_what_a_club_may_see_otherwise_in_a_table_can_be_what_usually_stands_there(table: str) -> None:
    names = {"chemistry": "chemistries", "post_type": "post_types", "mode": "modes"}
    usual = reference.table(names[table]).set_index(table)[list(OF_REFERENCE[table])]
    lines = []
    for word, row in usual.iterrows():
        lines.append(f"[{table}.{word}]")
        for name, value in row.dropna().items():
            whole = isinstance(value, float) and value.is_integer()
            said = str(value).lower() if isinstance(value, bool) else f"{int(value) if whole else value!r}"
            lines.append(f"{name} = {said}")
    assert set(Policy.parse("\n".join(lines)).reference[table]) == set(usual.index)


def posts(policy: str) -> small_club.Club:
    """Kit and member at an aid station and a sag post of a summer evening, as a policy counts them."""
    told = {
        "inventory": "member,kit,item,kind\nQA1BC,bag,mobile,mobile_vhf_uhf\nQA1BC,bag,battery,battery_lifepo4\n"
        "QA1BC,bag,lead,dc_lead\n",
        "events": "event,starts,ends,lat,lon,utc_offset_h\nRide,2027-06-21T12:00,2027-06-22T04:30,50,0,0\n",
        "posts": "event,post,post_type,opens,closes,modes,access\n"
        "Ride,Ford,aid_station,2027-06-21T18:00,2027-06-21T21:00,ssb,drive\n"
        "Ride,Hill,remote,2027-06-21T18:00,2027-06-22T02:00,fm,carry\n",
        "assignments": "event,post,member,kit\nRide,Ford,QA1BC,bag\n",
    }
    return small_club.read(policy, **told)


def test_a_sort_of_post_asks_what_the_club_says() -> None:
    own = (
        "[post_type.aid_station]\noperators = 3\nradios = 2\nrf_watts_min = 40\nis_critical = true\n"
        'needs_two_ways = true\nrole_needed = "packet"\nis_on_foot = true\nduty = "busy"\n'
    )
    columns = [
        "operators", "radios", "rf_watts_min", "is_critical", "needs_two_ways", "role_needed", "is_on_foot", "duty", "tx_share",
    ]  # fmt: skip
    usual, asked = (posts(policy).table("post").set_index("post")[columns] for policy in ("", own))
    assert usual.loc["Ford"].tolist() == [1, 1, 5, False, False, "field", False, "post", 0.05]
    assert asked.loc["Ford"].tolist() == [3, 2, 40, True, True, "packet", True, "busy", 0.1]
    assert asked.loc["Hill"].tolist() == usual.loc["Hill"].tolist()


def test_a_mode_takes_the_power_that_the_club_says() -> None:
    usual, own = (
        posts(policy).table("post_talk")["mode_factor"] for policy in ("", "[mode.ssb]\nduty_factor = 0.4\n")
    )
    assert (usual[0], own[0]) == (0.2, 0.4)


def test_the_club_says_when_it_is_dark_and_when_a_stay_goes_over_the_night() -> None:
    kits = "select w.dark_h from watch as w join post_kit using (post_kit_id) where is_assigned"
    limits = "select pk.carry_limit_kg from post_kit as pk join post using (post_id) where post = 'Hill'"
    usual, own = posts(""), posts("[facts]\ntwilight_deg = 0\nnight_until_h = 1\n")
    dark, early = (one.rows(kits)[0][0] for one in (usual, own))
    assert dark < 0.1 < 0.5 < early
    loads = [one.rows(limits)[0][0] for one in (usual, own)]
    assert loads == [usual.policy.facts["day_load_kg"], usual.policy.facts["overnight_load_kg"]]


def test_a_parameter_changes_the_answer(frames: dict[str, pd.DataFrame]) -> None:
    easy = Policy.parse("[rules.no_second_radio]\nleast = 1\n")
    found = [small_club.Club(frames, policy).answers("no_second_radio") for policy in (None, easy)]
    assert [one.status for (one,) in found] == ["not met", "met"]


def test_a_duty_profile_changes_the_hours(frames: dict[str, pd.DataFrame]) -> None:
    calm = small_club.Club(frames).table("kit_runtime")["runtime_h"].iloc[0]
    busy = Policy.parse("[duty.post]\ntx_share = 0.5\nrx_share = 0.5\nidle_share = 0\n")
    assert small_club.Club(frames, busy).table("kit_runtime")["runtime_h"].iloc[0] < calm


def battery(policy: str) -> pd.Series:
    """The battery of a kit, a 20 Ah AGM bought five years ago and charged 100 days ago, as a policy counts it."""
    told = "QA1BC,bag,a battery,battery_agm,20,agm,2026-11-21,2022-02-01\n"
    text = "member,kit,item,kind,capacity_ah,chemistry,charged,acquired\n" + told
    club = small_club.read(policy, inventory=text)
    found = club.table("battery").iloc[0]
    asked = ("not_charged_lately", "left_twice_too_long", "past_its_service_age")
    found["late"] = [one.rule for one in club.answers(*asked) if one.status == "not met"]
    return found


def test_a_chemistry_is_what_the_club_says() -> None:
    usual, own = (
        battery(""),
        battery("[chemistry.agm]\nusable_share = 0.7\ncharge_days = 120\nlife_years = 7\n"),
    )
    assert own["usable_wh"] == pytest.approx(usual["usable_wh"] * 0.7 / 0.5)
    assert (usual["charge_limit_days"], own["charge_limit_days"]) == (90, 120)
    assert {"not_charged_lately", "past_its_service_age"} <= set(usual["late"])
    assert not {"not_charged_lately", "past_its_service_age"} & set(own["late"])


def test_what_a_battery_loses_and_gives_is_what_the_club_says(frames: dict[str, pd.DataFrame]) -> None:
    usual, own = (battery(policy) for policy in ("", "[chemistry.agm]\nmonth_loss_share = 0.1\n"))
    assert (1 - own["charge_left_share"]) == pytest.approx(2 * (1 - usual["charge_left_share"]))

    def hours(figure: str) -> float:
        judged = small_club.Club(frames, Policy.parse(f"[chemistry.li_ion]\n{figure}\n"))
        return float(judged.table("kit_runtime")["runtime_h"].iloc[0])

    usually = hours("")
    assert hours("peukert = 1.3") < 0.95 * usually
    assert hours("cell_ohm_ah = 5") < 0.95 * usually
    charged = "[chemistry.li_ion]\ngiven_back_share = 0.5\ncharge_per_h = 0.1\n"
    fed = small_club.Club(frames, Policy.parse(charged)).table("feed")
    assert fed["given_back_share"].tolist() == [0.5] * len(fed) != []
    assert fed["charge_per_h"].tolist() == [0.1] * len(fed)


def test_a_panel_with_a_regulator_is_one_up_to_the_volts_that_the_club_says() -> None:
    told = "member,kit,item,kind,volts_max\nQA1BC,bag,radio,mobile_vhf_uhf,\nQA1BC,bag,panel,solar_panel,16\n"
    watts = [
        small_club.read(policy, inventory=told).table("supply")["solar_w"][0]
        for policy in ("", "[facts]\nregulated_v = 16\n")
    ]
    assert watts[0] == 0 < watts[1]


def test_a_controller_passes_on_what_the_club_says() -> None:
    told = "member,kit,item,kind\nQA1BC,bag,radio,mobile_vhf_uhf\nQA1BC,bag,panel,solar_panel\nQA1BC,bag,box,charge_controller_{}\n"
    for sort, usual in (("mppt", 0.94), ("pwm", 0.75)):
        watts = [
            small_club.read(policy, inventory=told.format(sort)).table("supply")["solar_w"][0]
            for policy in ("", f"[facts]\n{sort}_share = 0.5\n")
        ]
        assert watts[1] == pytest.approx(watts[0] * 0.5 / usual)


def test_the_club_says_when_a_battery_counts_as_empty() -> None:
    assert battery("")["charge_end_days"] == 180
    strict = battery("[facts]\nempty_after_intervals = 1\n")
    assert strict["charge_end_days"] == 90 and "left_twice_too_long" in strict["late"]


def test_a_clubs_own_rule_judges(frames: dict[str, pd.DataFrame], tmp_path: Path) -> None:
    own(tmp_path / "ours", OWN)
    policy = Policy.parse('own_rules = "ours"\n', beside=tmp_path)
    (found,) = [f for f in engine.assess(frames, policy, TODAY).findings() if f.rule == "no_whistle"]
    assert found.sentence == "QA1BC/bag: no whistle, 2 things."


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            OWN.replace("from kit\n", "from kit join item using (kit_id)\n"),
            "more than once for the same kit. Let its select return one row",
        ),
        (OWN.replace("exists (", "null and not exists ("), 'Write not_known = "{subject}: …"'),
        (
            OWN.replace("as items, lines", "as items, [99999, 2, null] as lines"),
            "names lines of inventory.csv that are not there: 99999. Return the column line of the table item",
        ),
        (
            OWN.replace(
                "as items, lines", "as items, [2006, 2005, 2004, 2003, 2002, 2001, 2000] as lines"
            ).replace("subject ", "lines_of = 'members'\nsubject "),
            "names lines of members.csv that are not there: 2000, 2001, 2002, 2003, 2004 and 2 more. Return",
        ),
    ],
)
def test_what_an_own_rule_answers_is_held_to_the_promises(
    frames: dict[str, pd.DataFrame], tmp_path: Path, text: str, says: str
) -> None:
    own(tmp_path / "ours", text.replace("len(lines) as items, lines", "len(kit.lines) as items, kit.lines"))
    policy = Policy.parse('own_rules = "ours"\n', beside=tmp_path)
    (said,) = engine.assess(frames, policy, TODAY).set_aside
    assert said.startswith("no_whistle: ") and says in said


def test_an_own_rule_that_answers_twice_is_set_aside_and_all_else_is_judged(
    frames: dict[str, pd.DataFrame], tmp_path: Path
) -> None:
    """Also by others of the club's own before and after it, under their own numbers; what is judged again goes without it."""
    twice = OWN.replace("from kit\n", "from kit join item using (kit_id)\n")
    own(tmp_path / "ours", OWN, "a_first")
    own(tmp_path / "ours", twice, "no_whistle")
    own(tmp_path / "ours", OWN, "z_last")
    policy = Policy.parse('own_rules = "ours"\nallow = ["no_map"]\n', beside=tmp_path)
    found = engine.assess(frames, policy, TODAY)
    (tmp_path / "ours" / "packing" / "no_whistle.sql").unlink()
    without = engine.assess(frames, policy, TODAY)
    again = engine.assess(frames, found.policy, TODAY, found.rules)
    assert len(found.set_aside) == 1 and not without.set_aside and not again.set_aside
    for one in (found, again):
        assert [rule.name for rule in one.rules] == [rule.name for rule in without.rules]
        assert list(map(repr, one.findings())) == list(map(repr, without.findings()))
        pd.testing.assert_frame_equal(one.scores(), without.scores())


def test_an_own_rule_with_a_sentence_for_it_may_not_know(
    frames: dict[str, pd.DataFrame], tmp_path: Path
) -> None:
    text = OWN.replace('fix = "', 'not_known = "{subject}: nobody knows."\nfix = "').replace(
        "exists (", "null and not exists ("
    )
    own(tmp_path / "ours", text)
    policy = Policy.parse('own_rules = "ours"\n', beside=tmp_path)
    (found,) = [f for f in engine.assess(frames, policy, TODAY).findings() if f.rule == "no_whistle"]
    assert found.sentence == "QA1BC/bag: nobody knows."


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            OWN.replace("len(lines) as items", "(select count(*) from read_csv('/etc/passwd')) as items"),
            "reads read_csv(), which is no table",
        ),
        (OWN.replace("from kit\n", "from kit; drop table kit"), "not one select"),
        (OWN.replace("from kit\n", "from kit) as r; drop table kit; --"), "does not run"),
        (OWN.replace("as items, lines", "as things, lines"), "uses items"),
        (OWN.replace('source = "common practice"\n', ""), "not complete"),
        (OWN.replace("/*", "--", 1), "no header"),
        (OWN.replace('"advice"', '"hint"'), '"hint" is not known'),
        (OWN.replace('"Add a whistle."', "3"), "fix: 3 is not text"),
        (OWN.replace('"No whistle"', '" "'), "title: empty"),
        (OWN.replace("*/", "param = 3\n*/"), "param: not a table"),
        (
            OWN.replace("*/", "[param.most]\nvalue = [1]\nunit = '1'\nwhy = ''\nsource = ''\n*/"),
            "neither a number",
        ),
        (
            OWN.replace("*/", "[param.since]\nvalue = 'May'\nunit = 'date'\nwhy = ''\nsource = ''\n*/"),
            "param.since.value: 'May' is no day.",
        ),
        (
            OWN.replace("*/", "[param.most]\nvalue = 1\nunit = 1\nwhy = ''\nsource = ''\n*/"),
            "most.unit: 1 is not text",
        ),
        (OWN.replace("*/", "remedy = ['whistle']\n*/"), "remedy: not a table"),
        (OWN.replace("*/", "[remedy]\nkind = 7\n*/"), "remedy.kind: 7 is not text"),
        (OWN.replace("*/", "[remedy]\nkind = 'wistle'\n*/"), '"wistle" is no kind of thing'),
        (OWN.replace("*/", "[remedy]\nshare = 'power'\n*/"), '"power" is no kind of thing'),
    ],
)
def test_an_own_rule_is_held_to_the_promises(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(RuleError, match="no_whistle") as error:
        own_rules.read(own(tmp_path, text))
    assert says in str(error.value)


def test_a_folder_without_rules_is_named(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="no rule here"):
        own_rules.read(tmp_path / "missing")


def test_an_own_rule_cannot_take_a_name(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="exists"):
        own_rules.read(own(tmp_path, OWN, "no_second_radio"))


def test_two_own_rules_cannot_have_one_name(tmp_path: Path) -> None:
    own(tmp_path, OWN)
    (tmp_path / "papers").mkdir()
    (tmp_path / "papers" / "no_whistle.sql").write_text(OWN, "utf-8")
    with pytest.raises(RuleError, match="exists"):
        own_rules.read(tmp_path)


@pytest.mark.parametrize("kind", ["whistle", "lacking"])
def test_an_own_rule_says_what_to_get_by_a_kind_or_by_a_column(tmp_path: Path, kind: str) -> None:
    text = OWN.replace("*/", f"[remedy]\nkind = '{kind}'\n*/").replace(
        "as items", "as items, 'whistle' as lacking"
    )
    (rule,) = own_rules.read(own(tmp_path, text))
    assert rule.remedy == {"kind": kind}


def test_a_clubs_own_words_are_read() -> None:
    policy = Policy.parse('[aliases.kind]\n"shoe box" = "handheld"\n')
    text = b"member,kit,item,kind\nQA1BC,bag,mine,Shoe-Box\n"
    assert upload.read("inventory.csv", text).problems
    read = upload.read("inventory.csv", text, aliases=policy.aliases)
    assert read.frame is not None
    assert read.frame["kind"].tolist() == ["handheld"]
    assert any("Shoe-Box" in notice for notice in read.notices)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[aliases.kind]\nbox = "handhold"\n', "Did you mean handheld?"),
        ('[aliases.kinds]\nbox = "handheld"\n', "Did you mean kind?"),
    ],
)
def test_a_wrong_alias_says_what_to_write(text: str, says: str) -> None:
    with pytest.raises(PolicyError) as error:
        Policy.parse(text)
    assert says in str(error.value)


WRITTEN = """# decided in spring
[duty.post]
tx_share = 0.1
rx_share = 0.3
idle_share = 0.6
"""


def test_a_rule_that_is_allowed_is_not_looked_at(frames) -> None:
    allowed = Policy.parse('allow = ["no_second_radio"]\n')
    names = [engine.assess(frames, policy, TODAY).tally()["rule"].tolist() for policy in (None, allowed)]
    assert [name for name in names[0] if name not in names[1]] == ["no_second_radio"]


@pytest.mark.parametrize("text", ['allow = "no_second_radio"', "allow = [1]", "allow = true"])
def test_only_a_list_of_rules_can_be_allowed(text: str) -> None:
    with pytest.raises(PolicyError, match="no list of rules"):
        Policy.parse(text)


def test_a_rule_that_does_not_exist_cannot_be_allowed(frames) -> None:
    with pytest.raises(PolicyError, match="Did you mean no_second_radio"):
        engine.assess(frames, Policy.parse('allow = ["no_second_radios"]'), TODAY)


def test_what_is_decided_of_a_rule_leaves_the_rest_of_the_policy_as_it_was_written() -> None:
    standard = {"least": 2}
    eased = with_rule(WRITTEN, "no_second_radio", {"least": 1}, standard)
    assert eased.startswith(WRITTEN)
    assert Policy.parse(eased).value("no_second_radio", "least", 2) == 1
    assert with_rule(eased, "no_second_radio", standard, standard).strip() == WRITTEN.strip()
    allowed = with_allowed(with_allowed(eased, "no_spare_fuse", True), "no_second_antenna", True)
    assert Policy.parse(allowed).allow == ("no_spare_fuse", "no_second_antenna")
    again = with_allowed(with_allowed(allowed, "no_spare_fuse", False), "no_second_antenna", False)
    assert again == eased


def test_a_figure_of_two_rules_is_changed_in_one_place() -> None:
    """Both rules on licences leave out a class without a term, both on people near the antenna what arm's length covers."""
    told = {
        "members": [{"member": "QA1BC", "licence_class": "general"}],
        "inventory": small_club.kit("QA1BC", "Bag", small_club.HANDHELD, small_club.PACK, {"kind": "whip"}),
        "events": [small_club.EVENT | {"public": True}],
        "posts": [{"event": "Ride", "post": "Ford", "bands": "2m"}],
        "assignments": [{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
    }
    frames = {stem: small_club.frame(stem, rows) for stem, rows in told.items()}

    def judged(policy: str, *rules: str) -> set[str]:
        return {one.rule for one in small_club.Club(frames, Policy.parse(policy)).answers(*rules)}

    licence = ("licence_is_over", "licence_runs_out")
    assert judged("", *licence) == {*licence}
    assert judged('[rules.licence_is_over]\nwithout_term = "general"\n', *licence) == set()
    near = ("too_close_to_the_public", "little_room_from_the_antenna")
    assert judged("[rules.too_close_to_the_public]\narm_m = 5\n", *near) == {near[1]}
    assert judged("[rules.too_close_to_the_public]\narm_m = 0\n", *near) == {near[0]}
    for rule, name, of in (("licence_runs_out", "without_term", licence[0]), (near[1], "arm_m", near[0])):
        policy = Policy.parse(f"[rules.{rule}]\n{name} = 1\n")
        with pytest.raises(PolicyError) as refused:
            engine.assess({}, policy, TODAY)
        assert str(refused.value) == (
            f'policy, rules.{rule}: "{name}" is one figure for this rule and {of}. Write it below [rules.{of}].'
        )
