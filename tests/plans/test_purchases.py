"""What to buy: the promise against what the rules say, the lines, the frontier, the command."""

from __future__ import annotations

import csv
import io
import itertools
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from dashboard import buy_commands, money
from dashboard.sheets import purchases as sheet
from rules import engine
from rules.plans import purchases, replacements, trials
from rules.plans.purchases import buy_list, settling, trying, wanted
from tests import printed, small_club
from tests.command_line import called
from tests.plans.conftest import OFFERS
from tests.plans.picks import menus, most_gain
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, HANDHELD, LEAD, MOBILE, PACK


@pytest.mark.parametrize("budget", [0, 45, 120, 300, 400, 2000])
def test_the_plan_is_the_best_of_all_that_was_tried_as_the_rules_judge(
    market: purchases.Market, budget: int
) -> None:
    plan = purchases.plan(market.assessment, None, budget, 10.0, market)
    assert plan.is_proven
    assert plan.promised == pytest.approx(plan.judged)
    assert plan.spent_usd <= budget
    assert (
        plan.spent_usd
        == pytest.approx(plan.member_usd + plan.club_usd)
        == pytest.approx(sum(line.cost_usd for line in plan.lines))
    )
    assert plan.judged == pytest.approx(most_gain(market, budget))
    applied = settling._applied(market, plan.ways)
    assert market.gap - market.gap_of(applied.after.not_met()) == pytest.approx(plan.judged)
    assert len(plan.closed) == len(applied.closes) and len(plan.opened) == len(applied.opens)


def test_money_buys_something_and_says_for_whom(all_bought: purchases.Plan) -> None:
    plan = all_bought
    assert plan.judged > 0
    assert any("No spare pack for a handheld" in text for text in plan.closed)
    pack = next(line for line in plan.lines if line.kind == "handheld_pack" and line.for_whom == "QB2CD/Bag")
    assert "QB2CD/Bag: No spare pack for a handheld" in pack.closes
    contacts = next(line for line in plan.lines if line.kind == "connector_kit")
    assert (
        contacts.units == 1
        and contacts.for_whom == "shared, pieces for: QB2CD/Bag 1; 19 left for the pool"
        and contacts.paid_by == "club"
    )
    assert not any(line.is_estimate for line in plan.lines if line.kind == "handheld_pack")
    assert all(line.is_estimate for line in plan.lines if line.kind not in {row["kind"] for row in OFFERS})


def test_what_a_post_lacks_is_bought_once_for_the_kits_sent_there() -> None:
    """Two kits at a post, either of which could carry what mends it; a kit at another post cannot."""
    post = {"event": "Ride", "post_type": "aid_station", "beside_traffic": False}
    posts = [post | {"post": name} for name in ("Ford", "Mill")]
    at = (("Ford", "QA1BC"), ("Ford", "QB2CD"), ("Mill", "QC3DE"))
    club_ = small_club.assess(
        inventory=[
            row
            for member in ("QA1BC", "QB2CD", "QC3DE")
            for row in small_club.kit(
                member, "Bag", HANDHELD, PACK, *([{"kind": "first_aid"}] if member == "QC3DE" else [])
            )
        ],
        events=[EVENT],
        posts=posts,
        assignments=[{"event": "Ride", "post": post, "member": member, "kit": "Bag"} for post, member in at],
    )
    of = purchases.market(club_)
    title = "Ride/Ford: No first-aid kit at the post"
    kits = {
        of.names("kit")[way.kit_id] for way in of.ways if any(text == title for text in of.spoken(way.closes))
    }
    assert kits == {"QA1BC/Bag", "QB2CD/Bag"}
    plan = purchases.plan(club_, None, 5000, 10.0, of)
    assert title in plan.closed and plan.promised == pytest.approx(plan.judged)
    bought = [line for line in plan.lines if title in line.closes]
    assert [(line.kind, line.units) for line in bought] == [("first_aid", 1)]


SHARES = ("connector_kit", "rf_adapter_kit")


@pytest.fixture(scope="module")
def odd_plugs() -> purchases.Market:
    """Two kits of three with the wrong plugs; what contacts and adapters can do for the club's two shares."""
    battery, antenna = BATTERY | {"dc_plug": "t_plug_male"}, ANTENNA | {"rf_plug": "bnc_male"}
    club_ = small_club.assess(
        inventory=[
            *small_club.kit("QA1BC", "Go box", MOBILE, BATTERY, LEAD, FUSE, ANTENNA, COAX),
            *small_club.kit("QB2CD", "Bag", HANDHELD, PACK, battery, antenna),
            *small_club.kit("QC3DE", "Bag", HANDHELD, PACK, battery, antenna),
        ]
    )
    of = purchases.market(club_)
    ways = tuple(w for w in of.ways if all(of.offers[n].kind in SHARES for n, _ in w.uses))
    return replace(of, ways=ways)


def test_a_fuse_holder_is_bought_for_each_battery_that_has_none() -> None:
    things = (MOBILE, BATTERY | {"quantity": 2.0}, LEAD, ANTENNA, COAX)
    told = small_club.assess(inventory=small_club.kit("QA1BC", "Box", *things))
    offers = small_club.frame("offers", [{"offer": "holder", "kind": "fuse_holder", "price_usd": 8.0}])
    plan = purchases.plan(told, offers, 500)
    assert [line.units for line in plan.lines if line.kind == "fuse_holder"] == [2]
    assert any("No fuse at the battery" in text for text in plan.closed)


def test_the_club_s_shares_are_bought_as_judged_of_every_pick(odd_plugs: purchases.Market) -> None:
    """Every pick of contacts and adapters judged on the whole club, against the plan for some budgets."""
    of = odd_plugs
    assert {share.answer() for share in of.shares} == {False}
    told = []
    for picked in itertools.product(*menus(of.ways)):
        ways = tuple(w for w in picked if w)
        applied = settling._applied(of, ways)
        told.append((buy_list.spent(of, ways), of.gap_of(applied.closes) - of.gap_of(applied.opens)))
    assert len(told) >= 16
    closed = set()
    for budget in (30, 40, 80, 500):
        plan = purchases.plan(of.assessment, None, budget, 10.0, of)
        best = max(value for money, value in told if money <= budget)
        assert plan.is_proven and plan.judged == pytest.approx(best) == pytest.approx(plan.promised)
        closed |= {text for line in plan.lines for text in line.closes if text.startswith("the club: ")}
        assert {text for text in plan.closed if text.startswith("the club: ")} <= closed
    assert len(closed) == 2
    adapters = next(line for line in plan.lines if line.kind == "rf_adapter_kit")
    assert adapters.units == 1
    assert adapters.for_whom == "shared, pieces for: QB2CD/Bag 1, QC3DE/Bag 1; 6 left for the pool"


@pytest.fixture(scope="module")
def invented(frames: dict[str, pd.DataFrame], assessment: engine.Assessment) -> purchases.Market:
    """The market of the invented club."""
    return purchases.market(assessment, frames["offers"])


def test_what_blocks_a_post_is_told_of_each_that_cannot_be_held(invented: purchases.Market) -> None:
    """Of posts that something not known blocks too nothing is told: what is bought leaves that open."""
    of = invented
    verdict = {number: word for (kind, number), word in of.stood.items() if kind == "post"}
    assert set(of.blocked) == {post for post, word in verdict.items() if not trying.is_ready(word)}
    sure = {post: keys for post, keys in of.blocked.items() if keys}
    assert sure and {verdict[post] for post in sure} == {"not ready"}
    closed = frozenset().union(*(way.closes for way in of.ways))
    assert any(keys <= closed for keys in sure.values()), "in the same words as what ways close"
    assert not any(keys for post, keys in of.blocked.items() if verdict[post] == "not known")


def test_the_frontier_of_the_invented_club_is_what_plans_are_judged_to_close(
    invented: purchases.Market, capfd: pytest.CaptureFixture[str]
) -> None:
    """The frontier judges copies of what meets, a plan the whole club: the same figures, and the same who is ready."""
    of = invented
    pairs = [[of.ways[j] for j in places] for places in of.judged]
    assert pairs and all(one.kit_id == two.kit_id and one.group != two.group for one, two in pairs)
    assert any(lesson.places in of.judged for lesson in settling._recalled(of).lessons)
    steps = purchases.frontier(of, [1400], 60.0).to_dict("records")
    assert capfd.readouterr().out == "", "the solver prints where JSON may stand"
    for row in steps:
        plan = purchases.plan(
            of.assessment, None, row["budget_usd"], 60.0, replace(of, judged={}, lessons=[])
        )
        assert row["is_proven"] and plan.is_proven
        assert row["gap_closed"] == pytest.approx(plan.judged) == pytest.approx(plan.promised)
        assert row["posts_opened"] == len(plan.posts_opened) > 0
        assert {post for line in plan.lines for post in line.posts} == set(plan.posts_opened)


def test_more_money_never_closes_less(market: purchases.Market) -> None:
    steps = purchases.frontier(market, [0, 50, 100, 200, 400, 800, 5000], 10.0)
    assert steps["gap_closed"].is_monotonic_increasing
    assert (steps["spent_usd"] <= steps["budget_usd"]).all()
    assert steps["is_proven"].all()
    assert steps["gap_closed"].iloc[0] == 0 and steps["gap_closed"].iloc[-1] > 0
    for row in steps.iloc[[2, -1]].to_dict("records"):
        plan = purchases.plan(market.assessment, None, row["budget_usd"], 10.0, market)
        assert row["gap_closed"] == pytest.approx(plan.judged)
        assert (row["kits_ready"], row["posts_opened"]) == (len(plan.kits_ready), len(plan.posts_opened))


def test_only_what_one_side_pays(two_kits: engine.Assessment, offers: pd.DataFrame) -> None:
    of = purchases.market(two_kits, offers, paid_by="club")
    assert {offer.paid_by for offer in of.offers} == {"club"}
    plan = purchases.plan(two_kits, offers, 2000, 10.0, of)
    assert plan.member_usd == 0 and plan.club_usd > 0


@pytest.mark.parametrize("budget", [-1.0, float("nan"), float("inf")])
def test_a_budget_that_is_no_money_is_said(two_kits: engine.Assessment, budget: float) -> None:
    with pytest.raises(ValueError, match=r"budget: .* is not an amount of money"):
        purchases.plan(two_kits, None, budget)


def test_a_club_that_lacks_nothing_to_buy() -> None:
    empty = engine.assess({}, today=small_club.TODAY)
    plan = purchases.plan(empty, None, 500)
    assert plan.lines == () and plan.spent_usd == 0 and plan.is_proven


def test_the_printed_buy_list_names_what_for_whom_and_what_wears_out(
    market: purchases.Market, all_bought: purchases.Plan
) -> None:
    plan = all_bought
    old = pd.Timestamp("2010-01-01")
    club_ = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", PACK | {"acquired": old}, HANDHELD))
    due = replacements.replacements(club_)
    payload = sheet.buy_list(plan, due, market.assessment)
    said = printed.text(payload)
    assert f"{plan.spent_usd:,.0f} USD" in said and "QB2CD/Bag" in said and "shared, pieces for:" in said
    assert (
        "To replace within three years" in said
        and "2027" in said
        and "The age of 1 thing is not written down" in said
    )


def test_a_forecast_sums_its_years_and_tells_the_clubs_share() -> None:
    """Packs last five years: a member's of 40 USD is due now, the club's two of 30 in two years."""
    packs = [
        PACK | {"acquired": pd.Timestamp("2020-01-01"), "cost_usd": 40.0},
        PACK | {"acquired": pd.Timestamp("2024-01-10"), "cost_usd": 30.0, "quantity": 2.0, "owner": "club"},
    ]
    club_ = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", *packs))
    assert money.forecast(replacements.replacements(club_)) == [
        (2027, 1, "about 40 USD", "none"),
        (2029, 1, "about 60 USD", "about 60 USD"),
        ("together", 2, "about 100 USD", "about 60 USD"),
    ]
    assert money.forecast(replacements.replacements(small_club.assess(inventory=[]))) == []


def test_a_line_names_as_many_findings_as_its_cell_holds_whole() -> None:
    assert sheet._some(()) == ""
    assert sheet._some(("a", "b", "c", "d", "e", "f")) == "a; b; c; d; and 2 more"
    long = ("a" * 100, "b" * 100, "c" * 100)
    assert sheet._some(long) == f"{long[0]}; {long[1]}; and 1 more"


def test_what_blocks_and_is_not_known_with_it_bought_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    """A battery for a kit with three fuses of which nobody tells where they sit: whether one is beside it, nobody knows."""
    things = (MOBILE, LEAD, FUSE | {"quantity": 3.0}, ANTENNA, COAX)
    club_ = small_club.assess(inventory=small_club.kit("QA1BC", "Box", *things))
    of = purchases.market(club_, small_club.frame("offers", OFFERS[:1]))
    few = {offer.number for offer in of.offers if offer.kind in ("battery_lifepo4", "jpole")}
    of = replace(of, ways=tuple(way for way in of.ways if {number for number, _ in way.uses} == few))
    plan = purchases.plan(club_, None, 400.0, of=of)
    assert [line.kind for line in plan.lines] == ["battery_lifepo4", "jpole"]
    assert plan.untold == ("QA1BC/Box: No fuse at the battery",)
    frontier, worn = purchases.frontier(of, [0.0]), replacements.replacements(club_)
    for one in (plan, replace(plan, untold=())):
        printed_ = printed.text(sheet.buy_list(one, worn, club_))
        buy_commands._buy_list(one, frontier, worn, club_.policy.weight)
        for said in (printed_, capsys.readouterr().out):
            assert ("No fuse at the battery" in said.partition(sheet.UNTOLD)[2]) == bool(one.untold)


def test_no_cell_of_the_export_begins_a_formula(two_kits: engine.Assessment) -> None:
    told = small_club.frame("offers", [{"offer": "=1+1", "kind": "handheld_pack", "price_usd": 35.0}])
    plan = purchases.plan(two_kits, told, 1000)
    rows = list(csv.DictReader(io.StringIO(purchases.buy_list_csv(plan).decode("utf-8-sig"))))
    assert [row["offer"] for row in rows if row["kind"] == "handheld_pack"] == ["'=1+1"]
    assert {row["price_from"] for row in rows} <= {"offer", "planning estimate"}


def test_buy_on_the_command_line(tmp_path: Path) -> None:
    (tmp_path / "inventory.csv").write_text(
        "member,kit,item,kind\nQA1BC,Bag,radio,handheld\nQA1BC,Bag,pack,handheld_pack\n"
    )
    asked = ("buy", tmp_path, "--budget", 60, "--today", small_club.TODAY)
    told = called(*asked, "--csv", tmp_path / "out" / "buy.csv")
    assert told.exit_code == 2 and "Name a file that can be written to" in told.stderr
    told = called(*asked)
    assert told.exit_code == 0, told.output
    assert "of 60 USD" in told.stdout and "Readiness against money" in told.stdout
    assert (
        "budget USD\tspent USD\tpoints closed\tshare" in told.stdout
        and "\N{BOX DRAWINGS LIGHT HORIZONTAL}" not in told.stdout
    )
    assert called("buy", tmp_path, "--budget", 60, "--paid-by", "me").exit_code == 2


def test_money_is_told_to_the_cent() -> None:
    """Three maps at 1.10 USD are 3.30, not 3.3000000000000003, and within 3.30."""
    bags = [
        row for member in ("QA1BC", "QB2CD", "QC3DE") for row in small_club.kit(member, "Bag", HANDHELD, PACK)
    ]
    club_ = small_club.assess(inventory=bags)
    book = small_club.frame("offers", [{"offer": "map", "kind": "map", "price_usd": 1.10}])
    plan = purchases.plan(club_, book, 3.30)
    maps = [line for line in plan.lines if line.offer == "map"]
    assert len(maps) == 3 and plan.spent_usd == 3.3


def test_a_fuse_holder_comes_with_spares_for_it() -> None:
    """Bought alone it closes what blocks and opens the want of spare fuses, with the money for them left over."""
    no_fuse = small_club.kit("QA1BC", "Box", MOBILE, BATTERY, LEAD, ANTENNA, COAX)
    club_ = small_club.assess(inventory=no_fuse)
    book = small_club.frame(
        "offers",
        [
            {"offer": "holder", "kind": "fuse_holder", "price_usd": 12.0, "amps_rated": 15.0},
            {"offer": "fuses", "kind": "fuse", "price_usd": 10.0},
        ],
    )  # fmt: skip
    of = purchases.market(club_, book)
    of = replace(
        of,
        ways=tuple(
            way for way in of.ways if {of.offers[n].offer for n, _ in way.uses} <= {"holder", "fuses"}
        ),
    )
    plan = purchases.plan(club_, book, 30.0, of=of)
    assert {line.offer for line in plan.lines} == {"holder", "fuses"} and plan.spent_usd == 22.0
    assert not any("spare fuse" in said.lower() for said in plan.opened)
    assert plan.promised == pytest.approx(plan.judged) and plan.is_proven
    less = purchases.plan(club_, book, 12.0, of=of)
    assert [line.offer for line in less.lines] == ["holder"]


def test_the_kind_that_a_finding_names_is_sought_not_the_usual_one_of_its_rule() -> None:
    """A handheld that lasts its shift without a margin wants a pack, which no other rule asks for beside its spare."""
    packs = [
        PACK | {"capacity_ah": 1.0, "item": name, "spare": name == "spare"} for name in ("pack", "spare")
    ]
    club_ = small_club.assess(
        inventory=small_club.kit("QA1BC", "Bag", HANDHELD, *packs),
        events=[EVENT],
        posts=[{"event": "Ride", "post": "Ford", "post_type": "aid_station"}],
        assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
    )
    (kinds,) = wanted.wanted_kinds(club_, trials.standing(club_)).values()
    assert "handheld_pack" in kinds and "battery_lifepo4" not in kinds
    plan = purchases.plan(club_, None, 600)
    (pack,) = [line for line in plan.lines if line.kind == "handheld_pack"]
    assert pack.closes == ("Ride/Ford with QA1BC/Bag: No margin on the clock",)
    assert plan.promised == pytest.approx(plan.judged)


@pytest.mark.parametrize("fuses", [(FUSE,), ()])
def test_a_battery_comes_with_a_fuse_holder_where_none_is_left_for_it(fuses: tuple[dict, ...]) -> None:
    """Bought alone, a second battery opens what blocks; where the first has no fuse either, two holders are bought."""
    small = BATTERY | {"capacity_ah": 4.0, "charged": pd.Timestamp(small_club.TODAY)}
    club_ = small_club.assess(
        inventory=small_club.kit("QA1BC", "Box", MOBILE, small, LEAD, *fuses, ANTENNA, COAX),
        events=[EVENT],
        posts=[{"event": "Ride", "post": "Ford", "post_type": "aid_station"}],
        assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Box"}],
    )
    plan = purchases.plan(club_, small_club.frame("offers", OFFERS), 2000)
    assert plan.is_proven and plan.promised == pytest.approx(plan.judged) and plan.opened == ()
    assert "Ride/Ford with QA1BC/Box: Battery runs out before the shift ends" in plan.closed
    assert ("QA1BC/Box: No fuse at the battery" in plan.closed) == (not fuses)
    (holder,) = [line for line in plan.lines if line.kind == "fuse_holder"]
    assert holder.units == 2 - len(fuses)
    assert "Ride/Ford with QA1BC/Box: Battery runs out before the shift ends" in holder.closes
    assert not any("antenna" in text for text in holder.closes)
