"""Words of the reference lists as people call them, on pages and paper."""

import re

import pytest

from data import plain_words, reference
from tests.small_club import MOBILE, assess, kit

CODE = re.compile(r"[a-z0-9.]*_[a-z0-9_.]*")


@pytest.mark.parametrize("names", [plain_words.plugs(), plain_words.sides(), plain_words.families()])
def test_every_plug_has_a_name_that_is_no_code(names):
    assert set(names) <= {*reference.words("plug"), *reference.table("connectors")["family"]}
    assert not [name for name in names.values() if CODE.search(name)]


def test_the_two_sides_of_a_family_are_told_apart_and_ratings_are_not():
    sides = plain_words.sides()
    assert (sides["xt60_male"], sides["xt60_female"]) == ("XT60, pins", "XT60, sockets")
    assert sides["genderless_15"] == sides["genderless_45"] == "genderless stackable DC"
    listed = reference.table("connectors")
    both = listed.assign(side=listed["plug"].map(sides)).groupby("family")["side"].nunique()
    assert both.equals(listed.groupby("family")["gender"].nunique().rename("side"))


def test_a_family_is_called_by_what_its_sides_share():
    families = plain_words.families()
    assert (families["t_plug"], families["bnc"], families["barrel_2.1"]) == (
        "2-pin T-plug", "BNC", "barrel plug 5.5 x 2.1 mm"
    )  # fmt: skip


def test_only_words_of_the_lists_are_renamed():
    assert plain_words.called("dc_plug", "ring_m6") == "ring terminals M5 to M8"
    assert plain_words.called("item_kind", "battery_lifepo4") == plain_words.kinds()["battery_lifepo4"]
    assert plain_words.called("roles", "field net_control") == "field, net control"
    assert plain_words.called("item", "ring_m6") == "ring_m6", "what members write stays as it is"
    assert plain_words.called("dc_plug", None) is None


@pytest.mark.parametrize(
    ("name", "word", "says"),
    [
        ("chemistry", "lifepo4", "lithium iron phosphate (LiFePO4)"),
        ("charger_chemistry", "gel and li_ion", "sealed lead-acid, gel and lithium-ion"),
        ("coax", "low_loss_400", "low-loss 10 mm (0.405 in)"),
        ("post_type", "net_control", "net control"),
        ("duty", "post", "ordinary post"),
    ],
)
def test_words_that_a_list_labels_are_said_by_their_label(name, word, says):
    assert plain_words.called(name, word) == says


def test_a_sentence_names_plugs_in_plain_words():
    club = assess(inventory=kit("Q1AAA", "box", MOBILE | {"dc_plug": "xt60_male"}))
    (found,) = (f for f in club.findings() if f.rule == "not_on_the_club_connector" and f.status == "not met")
    assert "its power plug is XT60, pins, and" in found.sentence
    assert "into genderless stackable DC." in found.sentence


def test_a_column_that_a_sentence_names_is_found_in_the_editor_by_its_heading():
    said = plain_words.titled("Keep it indoors, and write stored_min_c and tested. Not no_such_column.")
    assert (
        said == "Keep it indoors, and write stored_min_c (“Coldest in store”) and tested. Not no_such_column."
    )
    assert plain_words.titled(said) == said
    said = plain_words.titled(
        "How high it goes (mast_m, 0 for not at all) and where (site) stands in mast_m."
    )
    assert said == (
        "How high it goes (mast_m “Mast height”, 0 for not at all) and where (site) stands in mast_m (“Mast height”)."
    )
    assert plain_words.titled(said) == said
    said = plain_words.titled("Tell the coordinator the date (last_on_air).")
    assert said == "Tell the coordinator the date (last_on_air, “Last on the air”)."
    assert plain_words.titled(said) == said
