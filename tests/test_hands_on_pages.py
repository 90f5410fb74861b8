"""The pages where kit is in people's hands: inspection day and the loan book."""

from datetime import date, timedelta
from types import SimpleNamespace

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import access, days, inspections, lending, searching, standing
from dashboard.access import Person, Role, Sight
from dashboard.sheets import loan as slip
from data import upload
from tests import small_club
from tests.pages import alone, page, words

pytestmark = pytest.mark.usefixtures("judged_once")

TODAY = date.today()
INVENTORY = """\
member,kit,item,kind,module,condition,charged,owner,notes
Q1ABC,go bag,the *radio*,handheld,radio,ok,,member,
Q1ABC,go bag,pack,handheld_pack,radio,faulty,2020-01-01,member,keep me
Q1ABC,go bag,lead,dc_lead,power,ok,,member,
Q1ABC,other bag,torch,headlamp,,ok,,member,
Q2XYZ,tote,club radio,handheld,,ok,,club,
Q2XYZ,tote,club pack,handheld_pack,,ok,,club,
"""
LOANS = f"item,borrower,out,due,condition_out\nclub pack,Q1ABC,2026-01-01,{TODAY - timedelta(days=3)},ok\n"


@pytest.fixture
def club(tmp_path):
    """A small club with one late loan; what a test changes is its own."""
    with alone():
        opened = standing.open_club(tmp_path / "club.duckdb")
        for stem, text in (("inventory", INVENTORY), ("loans", LOANS)):
            sent = upload.read(f"{stem}.csv", text.encode(), stem)
            assert sent.problems == []
            opened.accept(sent, "test")
        yield opened


def again(app: AppTest) -> AppTest:
    assert not app.exception, app.exception[0].stack_trace
    return app


def rows(club, member="Q1ABC", kit="go bag") -> pd.DataFrame:
    return inspections.own_rows(club.store.frames()["inventory"], member, kit).set_index("item")


def seen(club, kit="go bag") -> str:
    return inspections.fingerprint(club.store.frames()["inventory"], "Q1ABC", kit)


def tick(app: AppTest, club, place: int, state: str, *done: str) -> AppTest:
    word = seen(club)
    app.session_state[f"state-{word}-{place}"] = state
    app.session_state[f"done-{word}-{place}"] = list(done)
    return app


def test_a_whole_look_is_saved_and_dates_the_inspection(club):
    app = page("inspect", member="Q1ABC", kit="go bag")
    tick(app, club, 0, "missing")
    tick(app, club, 1, "there", "charged today", "tested today")
    tick(app, club, 2, "there", "polarity checked")
    again(app.run())
    again(app.button(key="save").click().run())
    now = rows(club)
    assert list(now["condition"]) == ["removed", "ok", "ok"]
    today = pd.Timestamp(TODAY)
    assert now.loc["pack", ["charged", "tested"]].tolist() == [today, today]
    assert now.loc["lead", "polarity_checked"] == today
    assert now.loc["pack", "notes"] == "keep me"
    assert pd.isna(now.loc["lead", "charged"])
    kits = club.store.frames()["kits"]
    assert kits[["member", "kit", "inspected"]].values.tolist() == [["Q1ABC", "go bag", today]]
    said = words(app)
    assert "2 there and 1 missing" in said
    assert "The kit was" in said
    uploads = club.store.uploads()
    assert set(uploads["by"]) == {"test", access.HERE.name}
    assert list(uploads["file"].head(2)) == ["inspection-kits.csv", "inspection-inventory.csv"]
    assert len(rows(club, kit="other bag")) == 1


def test_a_part_of_a_look_dates_nothing(club):
    app = page("inspect", member="Q1ABC", kit="go bag")
    again(tick(app, club, 2, "faulty", "polarity checked").run())
    again(app.button(key="save").click().run())
    assert rows(club).loc["lead", "condition"] == "faulty", words(app)
    assert pd.isna(rows(club).loc["lead", "polarity_checked"]), "what is faulty was not seen to work"
    assert club.store.frames()["kits"].empty
    assert "Not everything was looked at" in words(app)


def test_a_look_that_is_saved_by_halves_goes_on_where_it_was(club):
    app = page("inspect", member="Q1ABC", kit="go bag")
    app.selectbox(key=f"module-{seen(club)}").select("power").run()
    again(tick(app, club, 2, "faulty").run())
    again(app.button(key="save").click().run())
    assert app.selectbox(key=f"module-{seen(club)}").value == "power"
    app.selectbox(key=f"module-{seen(club)}").select("radio").run()
    again(app.button(key="all-there").click().run())
    again(app.button(key="save").click().run())
    assert list(rows(club)["condition"]) == ["ok", "ok", "faulty"]
    assert "Not everything" not in words(app)
    assert club.store.frames()["kits"]["inspected"].tolist() == [pd.Timestamp(TODAY)]


def test_one_module_leads_to_the_next_that_is_open(club):
    app = page("inspect", member="Q1ABC", kit="go bag")
    app.selectbox(key=f"module-{seen(club)}").select("radio").run()
    again(app.button(key="next-module").click().run())
    assert app.selectbox(key=f"module-{seen(club)}").value == "power"
    again(app.button(key="all-there").click().run())
    app.button(key="next-module").click().run()
    again(app.button(key="all-there").click().run())
    assert "next-module" not in [button.key for button in app.button]
    assert "done, the whole kit: save it" in words(app)


def test_all_the_others_are_there(club):
    app = page("inspect", member="Q1ABC", kit="go bag")
    again(tick(app, club, 0, "missing").run())
    app.selectbox(key=f"module-{seen(club)}").select("radio").run()
    again(app.button(key="all-there").click().run())
    again(app.button(key="save").click().run())
    assert list(rows(club)["condition"]) == ["removed", "ok", "ok"]


def test_ticks_for_a_list_that_changed_meanwhile_are_refused(club):
    before = seen(club)
    sent = upload.read("inventory.csv", INVENTORY.replace("the *radio*", "second").encode(), "inventory")
    club.accept(sent, "someone else")
    with pytest.raises(inspections.EditError, match="changed by someone else"):
        inspections.inspect(
            "Q1ABC", "go bag", before, {0: inspections.Look("missing")}, TODAY, "me", is_own=False
        )
    assert list(rows(club)["condition"]) == ["ok", "faulty", "ok"]


def test_members_look_at_their_own_kits_only_and_that_is_no_inspection(club, monkeypatch):
    monkeypatch.setattr(access, "person", lambda: Person("Q1ABC", Role.MEMBER, "Q1ABC"))
    app = page("inspect")
    assert list(app.selectbox(key="member").options) == ["Q1ABC"]
    app = page("inspect", member="Q1ABC", kit="other bag")
    word = seen(club, "other bag")
    app.session_state[f"state-{word}-0"] = "there"
    again(app.run())
    again(app.button(key="save").click().run())
    kits = club.store.frames()["kits"].set_index("kit")
    assert kits.loc["other bag", "packed"] == pd.Timestamp(TODAY)
    assert pd.isna(kits.loc["other bag", "inspected"])


def test_who_has_no_kit_and_no_task_is_told_so(club, monkeypatch):
    monkeypatch.setattr(access, "person", lambda: Person("looker", Role.VIEWER))
    for view in ("inspect", "lend"):
        app = page(view)
        assert "you may not" in words(app)
        assert not app.button


def test_the_kit_that_was_never_inspected_is_due_first(club):
    kits = b"member,kit,inspected\nQ1ABC,go bag,2020-01-01\nQ2XYZ,tote,2026-01-01\n"
    club.accept(upload.read("kits.csv", kits, "kits"), "test")
    order = inspections.due(club.standing())
    assert list(order["kit"]) == ["other bag", "go bag", "tote"]


def test_a_kit_is_due_when_the_club_asks_for_the_next_inspection():
    looked_over = {"member": "Q1ABC", "kit": "go bag", "inspected": pd.Timestamp("2027-02-20")}
    judged = small_club.assess(
        "[rules.not_inspected_this_year]\nwithin_days = 30",
        inventory=small_club.kit("Q1ABC", "go bag", small_club.HANDHELD),
        kits=[looked_over],
    )
    order = inspections.due(SimpleNamespace(assessment=judged))
    assert list(order["due"]) == [pd.Timestamp("2027-03-22")]


def test_a_late_loan_is_named_and_comes_back(club):
    app = page("lend")
    assert "1 thing is lent out, 1 of them late." in words(app)
    said = words(app).replace("\\", "")
    assert "- :red[■] late · **club pack** · " in said and " late · out since " in said
    assert not app.dataframe, "a phone cuts tables"
    (loan,) = lending.out(club.standing())["loan_id"]
    app.selectbox(key="loan").select(int(loan)).run()
    app.segmented_control(key="charged_in").set_value("not charged")
    app.text_input(key="back_notes").input("one clip is loose")
    again(app.button[0].click().run())
    (row,) = club.store.frames()["loans"].to_dict("records")
    assert row["back"] == pd.Timestamp(TODAY)
    assert (row["condition_in"], row["charged_in"], row["notes"]) == ("ok", False, "one clip is loose")
    assert "Nothing is lent out." in words(app)


def test_what_comes_back_broken_is_said_to_be_so_in_its_kit_and_lent_no_more(club):
    app = page("lend")
    (loan,) = lending.out(club.standing())["loan_id"]
    app.selectbox(key="loan").select(int(loan)).run()
    app.session_state["condition_in"] = "faulty"
    again(app.button[0].click().run())
    assert (
        "club pack is back from Q1ABC, faulty. The list of Q2XYZ/tote no longer says that it works."
        in words(app).replace("\\", "")
    )
    assert club.store.frames()["loans"]["charged_in"].isna().all(), "nobody said"
    assert dict(rows(club, "Q2XYZ", "tote")["condition"]) == {"club radio": "ok", "club pack": "faulty"}
    assert lending.can_be_lent(club.standing()) == ["club radio"]


def test_where_its_kit_does_not_tell_which_came_back_broken_one_is_asked_to_write_it(club):
    two = INVENTORY + "Q2XYZ,tote,Club Pack,handheld_pack,,ok,,club,\n"
    club.accept(upload.read("inventory.csv", two.encode(), "inventory"), "test")
    out = date(2026, 1, 1)
    assert lending.bring_back("club pack", "Q1ABC", out, TODAY, "faulty", "", "me") == ""
    assert set(rows(club, "Q2XYZ", "tote")["condition"]) == {"ok"}


def test_a_thing_is_found_with_whoever_has_it(club):
    def found(words_: str) -> list[str]:
        kinds = searching.search(searching.index(club.standing()), words_, Sight(access.HERE, {"": "full"}))
        return [entry.more for of_kind in kinds if of_kind.kind == "thing" for entry in of_kind.entries]

    due = f"lent to Q1ABC, due {days.spoken(TODAY - timedelta(days=3))}"
    assert found("club pack") == [f"handheld pack, lithium-ion; Q2XYZ, tote; {due}"]
    assert found("club radio") == ["handheld, dual band, 5 W; Q2XYZ, tote"]
    own = "Q1ABC,go bag,Club Pack,handheld_pack,,ok,,member,\n"
    more = INVENTORY + own + "Q2XYZ,tote,club pack,handheld_pack,,ok,,club,\n"
    club.accept(upload.read("inventory.csv", more.encode(), "inventory"), "test")
    assert sorted(found("club pack")) == [
        "handheld pack, lithium-ion; Q1ABC, go bag",
        *[f"handheld pack, lithium-ion; Q2XYZ, tote; 1 of 2 {due}"] * 2,
    ]


def test_what_is_promised_for_later_is_not_said_to_be_out(club):
    later = f"{LOANS}club mast,Q2XYZ,{TODAY + timedelta(days=30)},{TODAY + timedelta(days=40)},ok\n"
    club.accept(upload.read("loans.csv", later.encode(), "loans"), "test")
    app = page("lend")
    said = words(app).replace("\\", "")
    assert "1 thing is lent out, 1 of them late. 1 more is promised and not out yet." in said
    assert "not out yet · **club mast** · Q2XYZ · due " in said and " · goes out on " in said
    assert said.count("out since") == 1
    loans = lending.out(club.standing()).set_index("item")
    app.selectbox(key="loan").select(int(loans.loc["club mast", "loan_id"])).run()
    assert "It is back" not in [button.label for button in app.button]
    assert "It has not gone out yet." in words(app)


@pytest.mark.parametrize(
    ("holders", "lender"),
    [
        ([], "the club"),
        ([("Q1ABC", "club"), ("Q2XYZ", "member")], "the club"),
        ([("Q2XYZ", "member"), ("Q2XYZ", "member")], "Q2XYZ"),
        ([("Q1ABC", "member"), ("Q2XYZ", "member")], "a member"),
        ([("Q2XYZ", "loan")], "the club"),
        ([("Q1ABC", "member"), ("Q2XYZ", "loan")], "Q1ABC"),
    ],
)
def test_a_slip_says_of_nobodys_thing_that_it_is_the_clubs(holders, lender):
    assert slip.whose([{"member": member, "owner": owner} for member, owner in holders]) == lender


def test_a_club_without_gear_of_its_own_is_told_how_to_say_what_is_the_clubs(club):
    mine = INVENTORY.replace(",club", ",member").encode()
    club.accept(upload.read("inventory.csv", mine, "inventory"), "test")
    assert not lending.can_be_lent(club.standing())
    assert "Write club under “Owner”" in words(page("lend"))


def test_what_is_in_a_kit_that_is_lent_whole_is_not_lent(club):
    assert lending.can_be_lent(club.standing()) == ["club radio"]
    club.accept(upload.read("loans.csv", LOANS.replace("club pack", "tote").encode(), "loans"), "test")
    assert not lending.can_be_lent(club.standing())


def test_of_several_pieces_of_one_name_each_is_lent(club):
    another = f"{INVENTORY}Q2XYZ,tote,Club Pack,handheld_pack,,ok,,club,\n"
    club.accept(upload.read("inventory.csv", another.encode(), "inventory"), "test")
    assert lending.can_be_lent(club.standing()) == ["club pack", "club radio"], "one of two is out"
    lending.lend(
        "club pack", "Q2XYZ", TODAY, TODAY, "ok", "", "me", lending.pool(club.standing())["club pack"]
    )
    assert lending.can_be_lent(club.standing()) == ["club radio"]
    with pytest.raises(lending.EditError, match="out already, with Q1ABC, Q2XYZ"):
        lending.lend("club pack", "Q2XYZ", TODAY, TODAY, "ok", "", "me", 2)


def test_a_thing_of_the_club_is_lent_once(club):
    app = page("lend")
    assert list(app.selectbox(key="lend_item").options) == ["club radio"], "what is out cannot be lent"
    assert "lists" in [link.proto.page for link in app.get("page_link")]
    app.selectbox(key="lend_item").select("club radio")
    app.selectbox(key="lend_to").select("Q1ABC")
    again(next(b for b in app.button if b.label == "Lend it").click().run())
    loans = club.store.frames()["loans"]
    assert list(loans["item"]) == ["club pack", "club radio"]
    assert loans.loc[1, "due"] == pd.Timestamp(TODAY + timedelta(days=lending.USUAL_DAYS))
    with pytest.raises(lending.EditError, match="out already, with Q1ABC"):
        lending.lend("Club Radio", "Q2XYZ", TODAY, TODAY, "ok", "", "me")
    assert len(club.store.frames()["loans"]) == 2
