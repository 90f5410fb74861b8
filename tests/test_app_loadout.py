"""The page of load-outs: what to take to a post, who can lend what, and the papers that go with it."""

from dataclasses import replace
from datetime import date

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import access, loadouts, parts, standing
from dashboard.sheets import loadout as sheets
from data import upload
from tests import printed
from tests.pages import page, words

pytestmark = pytest.mark.usefixtures("judged_once")

BORROW = "who can lend what?"
TODAY = date.today()
FILES = {
    "inventory.csv": "member,kit,item,kind,module,owner,weight_kg,charged\nQA1BC,Bag,radio,handheld,radio,,0.4,\n"
    f"QA1BC,Bag,pack,handheld_pack,radio,,0.2,{TODAY}\nQA1BC,Bag,chair *big*,chair_table,comfort,,3.5,\n"
    f"QB2CD,Pool,club pack,handheld_pack,,club,0.2,{TODAY}\n",
    "events.csv": "event,starts,ends\nRide,2027-04-25T06:00,2027-04-25T09:00\n",
    "posts.csv": "event,post,post_type\nRide,Ford,mile_marker\n",
    "assignments.csv": "event,post,member,kit\nRide,Ford,QA1BC,Bag\n",
}


@pytest.fixture
def club(tmp_path):
    """A bag with a chair in it, sent to one post, and a spare pack of the club's."""
    opened = standing.open_club(tmp_path / "club.duckdb")
    for name, text in FILES.items():
        opened.store.accept(upload.read(name, text.encode()), "test")
    yield opened
    standing.close_club()


def spoken(app: AppTest) -> str:
    """What a page says, as a reader sees it."""
    return words(app).replace("\\", "")


def test_things_are_left_out_by_themselves_where_that_is_chosen(club):
    app = page("loadout", member="QA1BC", kit="Bag")
    app.toggle(key="by_thing").set_value(True).run()
    app.button(key="work-out").click().run()
    assert "1 thing of 3 can stay at home: 0.6 kg go along, 3.5 kg stay." in spoken(app)
    shown = next(f.value for f in app.table if "thing" in f.value.columns)
    assert [cell.replace("\\", "") for cell in shown["thing"]] == [
        "pack (line 3)", "radio (line 2)", "chair *big* (line 4)",
    ]  # fmt: skip


def test_the_chair_stays_at_home_on_request_only(club):
    app = page("loadout", member="QA1BC", kit="Bag")
    assert "can stay at home:" not in spoken(app)
    app.button(key="work-out").click().run()
    assert not app.exception, app.exception[0].stack_trace
    assert "1 module of 2 can stay at home: 0.6 kg go along, 3.5 kg stay." in spoken(app)
    assert "that is proven" in spoken(app)
    assert "The whole kit does not hold this post" in spoken(app), "it has no antenna"
    shown = next(f.value for f in app.table if "what" in f.value.columns)
    assert shown["weight"].str.fullmatch(r"\d+\\\.\d\d kg").all(), (
        "no finer than anyone weighs, with its unit"
    )
    assert dict(zip(shown["module"], shown["what"], strict=True)) == {
        "radio": loadouts.TAKE,
        "comfort": loadouts.STAY,
    }
    assert parts.plain(parts.CAUTIONS["carrying"]) in "\n".join(m.value for m in app.markdown)
    again = page("loadout", member="QA1BC", kit="Bag")
    assert "0.6 kg go along" in spoken(again), "what is known is shown to others at once"


def test_what_is_said_against_a_load_out_has_word_shape_and_colour(club):
    found = loadouts.loadout(club.standing(), "QA1BC/Bag", "Ride/Ford")
    said = loadouts.against(replace(found, lacks=("blocks: Too *heavy*", "not known: Far")))
    assert said == [":red[■] blocks: Too \\*heavy\\*", ":gray[◇] not known: Far"]


def test_what_is_carried_in_other_kits_is_held_to_the_limit_too(club):
    now = club.standing()
    found = replace(
        loadouts.loadout(now, "QA1BC/Bag", "Ride/Ford"), weight_kg=5.5, beside_kg=4.0, carry_limit_kg=9.0
    )
    heavy = "■ Too heavy: 9.5 kg are to be carried, 4.0 kg of them in other kits, at most 9 kg."
    assert loadouts.carrying(found) == heavy
    light = "● Light enough: 5.5 kg are to be carried, at most 9 kg."
    assert loadouts.carrying(replace(found, beside_kg=0.0)) == light
    assert "carried beside, in other kits 4.0 kg" in printed.text(sheets.packing(found, now.assessment))


def test_the_packing_list_names_what_goes_and_what_stays(club):
    now = club.standing()
    found = loadouts.loadout(now, "QA1BC/Bag", "Ride/Ford")
    said = printed.text(sheets.packing(found, now.assessment))
    assert "0.6 kg" in said and "radio" in said and "comfort" in said
    assert "chair" not in said, "things that stay are not ticked off"
    assert "■ The whole kit does not hold this post" in said, "it has no antenna"
    against = replace(found, lacks=("blocks: Too *heavy*", "not known: Far"), is_met=True)
    said = printed.text(sheets.packing(against, now.assessment))
    assert "does not hold" not in said and "What is not known of the whole kit stays not known." in said
    assert "■ blocks: Too *heavy* ◇ not known: Far" in said


def test_loans_are_proposed_printed_and_written_down(club):
    app = page("loadout", look=BORROW)
    app.button(key="work-out-loans").click().run()
    assert not app.exception, app.exception[0].stack_trace
    assert "1 loan close" in spoken(app)
    found = loadouts.borrowing(club.standing(), "Ride")
    (loan,) = found.loans
    told = "\n".join(m.value for m in app.markdown).replace("\\", "")
    assert "- **club pack**, the club's, from QB2CD/Pool to QA1BC/Bag, " in told
    assert f". Closes {'; '.join(loan.closes)}." in told, "every word, which a phone cuts in a table"
    said = printed.text(sheets.slips(found, club.standing().assessment))
    assert said.count("club pack") >= 2 and "copy of the borrower" in said
    assert said.count("lent by the club, from QB2CD/Pool") == 2 and "works" in said
    assert "Batteries and charging" in said and "RF exposure" not in said, "what goes with a pack"
    spare = replace(found, loans=(replace(loan, owner="member", kind="fuse_holder", pieces=2),))
    said = printed.text(sheets.slips(spare, club.standing().assessment))
    assert said.count("lent by QB2CD, from QB2CD/Pool") == 2 and "2 \N{MULTIPLICATION SIGN} club pack" in said
    assert "Wires and fuses" in said and "Batteries and charging" not in said, "what goes with a fuse"
    app.button(key="book").click().run()
    assert not app.exception, app.exception[0].stack_trace
    told = club.store.frames()["loans"]
    assert told[["item", "borrower"]].to_numpy().tolist() == [["club pack", "QA1BC"]]
    assert told["due"].notna().all() and told["back"].isna().all()
    app = page("loadout", look=BORROW)
    app.button(key="work-out-loans").click().run()
    assert "No loan closes anything" in spoken(app), "what is out is not lent again"
    loadouts.book(replace(found, loans=(replace(loan, pieces=2),)), "a test")
    assert club.store.frames()["loans"]["item"].tolist() == ["club pack"] * 3, "a row for each piece"


def test_a_member_sees_their_own_kits_and_lends_nothing(club, monkeypatch):
    monkeypatch.setattr(access, "person", lambda: access.Person("B", access.Role.MEMBER, "QB2CD"))
    app = page("loadout", look=BORROW)
    assert app.selectbox(key="member").options == ["QB2CD"]
    assert "work-out-loans" not in [button.key for button in app.button]
