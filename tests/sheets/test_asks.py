"""What a member is asked for, on paper and in a letter, and what it costs."""

from dataclasses import replace

from dashboard.sheets import asks, paper, told
from rules.plans import offers, purchases
from tests import small_club
from tests.printed import text
from tests.sheets.hostile_club import LONG


def test_an_ask_list_has_three_asks_with_cost_and_cautions(small):
    given = told.asks(small, "Q1ABC")
    assert len(given) == 3
    said = text(asks.asks(small, "Q1ABC"))
    for number, ask in enumerate(given, 1):
        assert f"{number}. {ask.finding.title}" in said
        assert all(caution.partition(":")[0] in said for caution in ask.cautions)
    assert said.count("What to do:") == 3


def test_a_letter_is_plain_text_that_a_mail_can_carry(small):
    said = asks.letter(small, "Q1ABC", base="https://kits.example.org")
    assert all(
        len(line) <= asks.LETTER_WIDTH
        for line in said.splitlines()
        if "://" not in line and LONG[:60] not in line
    )
    assert said.startswith("Hello Q1ABC,\n")
    flat = " ".join(said.split())
    assert "(not known)" in flat, "a title says what is wrong, which may not be so"
    for ask in told.asks(small, "Q1ABC"):
        assert ask.finding.titled in flat
    assert "Before you act:" in said and paper.CHECK in said
    assert said.rstrip().endswith("https://kits.example.org/kit?member=Q1ABC")


def test_a_member_without_any_ask_is_thanked(monkeypatch, small):
    monkeypatch.setattr(told, "next_steps", lambda *given: [])
    assert asks.NOTHING in asks.letter(small, "Q1ABC")
    assert asks.NOTHING in text(asks.asks(small, "Q1ABC"))


def test_a_member_without_a_kit_is_asked_for_a_list_and_told_of_no_verdict():
    told_ = small_club.assess(members=[{"member": "QA1BC"}])
    flat = " ".join(asks.letter(told_, "QA1BC").split())
    assert asks.NOT_SENT in flat and asks.NOTHING not in flat and "score" not in flat
    said = text(asks.asks(told_, "QA1BC"))
    assert asks.NOT_SENT in said and "score 0 to 100 of 100" in said


def test_asks_rules_and_plans_price_a_thing_alike(small):
    """The usual range is the kind's, the cheapest offer is the one that the plan of purchases would take."""
    priced = offers.prices(small)
    kinds = small.table("kind").set_index("kind")[["price_low_usd", "price_high_usd"]]
    rules = {rule.name: rule for rule in small.rules}
    book = purchases.market(small, small.table("offer")).offers
    assert {offer.kind for offer in book} <= set(priced)
    for offer in book:
        cheapest = min(
            (o for o in book if o.kind == offer.kind and o.available != 0), key=lambda o: o.price_usd
        )
        told_ = priced[offer.kind].cheapest
        assert (told_.offer, told_.price_usd, told_.pieces) == (
            cheapest.offer,
            cheapest.price_usd,
            cheapest.pieces,
        )
    for ask in told.asks(small, "Q1ABC", 99):
        kind = offers.remedy(rules[ask.finding.rule], ask.finding.evidence)
        if kind in priced and ask.finding.status == "not met":
            low, high = kinds.loc[kind]
            wanted = offers.asked(rules[ask.finding.rule], ask.finding.evidence)
            assert ask.cost == told.cost(priced[kind], wanted) and ask.cost.startswith(
                f"usually {low:.0f} to {high:.0f} USD"
            )
        else:
            assert ask.cost == ""
    assert told.cost(priced["handheld"], {}).endswith(
        "; cheapest in the club's price book: Spare radio, 100 USD"
    )
    assert told.cost(priced["connector_kit"], {}).endswith("20 pieces, to share with others")


def test_several_are_named_where_one_is_too_small_and_nothing_where_none_is_large_enough(small):
    radio = offers.prices(small)["handheld"]
    assert told.cost(radio, {"rf_watts": 5.0}).endswith(
        "; cheapest that is large enough in the club's price book: Spare radio, 100 USD"
    )
    assert told.cost(radio, {"rf_watts": 50.0}).endswith("; nothing in the club's price book is large enough")
    pack = replace(radio, sizes=({"capacity_wh": 50.0},) * len(radio.offers))
    assert told.cost(pack, {"capacity_wh": 120.0}).endswith("price book: 3 times Spare radio, 300 USD")
