"""What is in my kit?: filled in and edited on a page, checked and saved as a file would be."""

import io

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import parts, sheet_editing, standing, units
from dashboard.edits import EditError
from dashboard.sheet_editing import CHECKLISTS, Part
from data import reference, schema, upload, writing
from tests import small_club as small
from tests.pages import alone, page, words

pytestmark = pytest.mark.usefixtures("judged_once")

KIT = (
    b"member,kit,item,kind,quantity,bands,spare,charged\nQX1NEW,bag,radio,handheld,1,2m 70cm,no,2026-07-31\n"
)
POOL = b"member,kit,item,kind,owner\nQX3POOL,pool,club mast,mast_fibreglass,club\nQX3POOL,pool,own radio,handheld,\n"
LOANS = b"item,borrower,out,due\nwatt meter,QX1NEW,2026-07-01,2026-07-31\n"
BAG = Part("inventory", ("QX1NEW", "bag"))
TRIED = Part("rehearsals", ("QX1NEW", "bag"))
ABOUT = Part("kits", ("QX1NEW", "bag"))


@pytest.fixture
def club(tmp_path):
    """A club with one kit of one thing."""
    with alone():
        opened = standing.open_club(tmp_path / "club.duckdb")
        opened.store.accept(upload.read("inventory.csv", KIT), "a test")
        yield opened


def editing(**more: str) -> AppTest:
    return page("mine", member="QX1NEW", kit="bag", **more)


def edit(app: AppTest, part: Part = BAG, round_: int = 0, **what) -> AppTest:
    """Edit cells as the editor would."""
    edits = {"edited_rows": {}, "added_rows": [], "deleted_rows": []} | what
    app.session_state[f"rows-{part.stem}-{part.name}-{round_}"] = edits
    app.run()
    assert not app.exception, app.exception[0].stack_trace
    return app


# ---- rows and files


def test_rows_opened_and_written_again_are_the_same_file():
    row = {
        "member": "QX1NEW", "kit": "bag", "item": "thing", "kind": "handheld", "quantity": 2, "module": "bag",
        "spare": True, "condition": "ok", "bands": "2m 70cm", "volts_max": 8.4,
        "charged": pd.Timestamp("2026-07-31"), "acquired": pd.Timestamp("2020-01-01"),
    }  # fmt: skip
    frame = small.frame("inventory", [row])
    opened = sheet_editing.opened(BAG, frame)
    assert opened.loc[0, "bands"] == ["2m", "70cm"]
    again = upload.read("inventory.csv", sheet_editing.csv_of(BAG, opened), "inventory")
    told = list(schema.columns("inventory"))
    pd.testing.assert_frame_equal(again.frame[told], frame[told])


def test_rows_left_empty_are_no_rows():
    frame = small.frame(
        "inventory", [{"member": "QX1NEW", "kit": "bag", "item": "thing", "kind": "handheld"}]
    )
    opened = sheet_editing.opened(BAG, frame)
    more = pd.concat([opened, sheet_editing.one_blank(BAG)], ignore_index=True)
    assert sheet_editing.csv_of(BAG, more) == sheet_editing.csv_of(BAG, opened)


@pytest.mark.parametrize("stem", schema.FILES)
def test_every_column_has_a_setting(club, stem):
    part = Part(stem)
    blank = sheet_editing.one_blank(part)
    assert set(sheet_editing.config(part, blank)) == {"_index", *schema.columns(stem)}


def test_a_column_is_as_wide_as_the_labels_of_its_words_ask(club):
    told = sheet_editing.config(BAG, sheet_editing.one_blank(BAG))
    assert told["kind"]["width"] == "medium"
    assert told["condition"]["width"] is None
    sent = Part("assignments")
    told_from = sheet_editing.config(sent, sheet_editing.one_blank(sent))["from"]
    assert told_from["width"] == sheet_editing.MOMENT_PX, "a day with its hour"
    assert [name for name in told if told[name].get("pinned")] == ["item"], "a row is known while it is moved"


def test_long_names_that_stay_in_sight_leave_room_for_a_column_beside_them_on_a_phone(club):
    begun = sheet_editing.begun_with(BAG, "handheld bag")
    assert begun["item"].str.len().max() > parts.PINNED_LETTERS
    assert (
        sheet_editing.config(BAG, begun)["item"]["width"]
        == parts.PINNED_PX[1]
        <= 0.6 * 358 - sheet_editing.INDEX_PX
    )
    short = begun.assign(item="radio")
    assert sheet_editing.config(BAG, short)["item"].get("width") is None


@pytest.mark.parametrize("sort", CHECKLISTS)
def test_a_checklist_reads_as_a_list_without_problems(club, sort):
    begun = sheet_editing.begun_with(BAG, sort)
    assert set(begun["kind"]) <= set(reference.words("kind"))
    assert sheet_editing.read(BAG, begun).problems == []


def test_the_short_view_shows_what_the_kinds_of_the_kit_have():
    assert "capacity_ah" in sheet_editing.short_view(pd.DataFrame({"kind": ["battery_agm"]}))
    assert "capacity_ah" not in sheet_editing.short_view(pd.DataFrame({"kind": ["whistle", None]}))


def test_what_somebody_else_saved_meanwhile_is_not_written_over(club):
    began = {BAG: sheet_editing.in_force(BAG)}
    mine = sheet_editing.opened(BAG, club.store.frames()["inventory"])
    sent = {BAG: sheet_editing.read(BAG, mine.assign(quantity=5))}
    club.accept(upload.read("b.csv", KIT.replace(b",1,", b",3,")), "another")
    with pytest.raises(EditError, match="Somebody else"):
        sheet_editing.save(sent, began, "a test")
    assert club.store.frames()["inventory"]["quantity"].tolist() == [3]


# ---- the page


def test_an_edit_is_previewed_saved_and_kept_as_an_upload(club):
    app = edit(
        editing(), edited_rows={0: {"quantity": 4}}, added_rows=[{"item": "pack", "kind": "handheld_pack"}]
    )
    assert "1 added, 0 removed, 1 cell changed" in words(app)
    assert club.store.version() == 1, "nothing is saved by looking"
    app.button(key="save").click().run()
    assert not app.exception
    assert "Now it is" in words(app)
    told = club.store.frames()["inventory"]
    assert told[["item", "quantity"]].values.tolist() == [["radio", 4], ["pack", 1]]
    assert told["charged"].notna().tolist() == [True, False], "what is not shown is kept"
    club.restore(1, "a test")
    assert club.store.frames()["inventory"]["quantity"].tolist() == [1]


def test_a_row_that_is_wrong_is_told_as_in_a_file_and_cannot_be_saved(club):
    app = edit(editing(), edited_rows={0: {"quantity": 0}}, added_rows=[{"item": "pack"}])
    (wrong,) = [said.value for said in app.markdown if said.value.startswith("- row")]
    quantity, kind = (line.replace("\\", "") for line in wrong.splitlines())
    assert quantity.startswith('- row 1, Quantity: "0" is ') and ". " in quantity
    assert kind.startswith("- row 2, Kind: ")
    assert not any("what to write" in frame.value.columns for frame in app.dataframe), "a phone cuts tables"
    assert "save" not in {button.key for button in app.button}


def test_a_kit_of_another_than_is_sent_is_warned_of_by_its_row(club):
    for name, told in (
        ("events", b"event,starts,ends\nMoor Walk,2027-03-13T07:00,2027-03-13T18:00\n"),
        ("posts", b"event,post,post_type\nMoor Walk,Gate,mile_marker\n"),
        ("members", b"member\nQX2ELSE\n"),
    ):
        club.store.accept(upload.read(f"{name}.csv", told), "a test")
    there = Part("assignments", ("Moor Walk",))
    row = {"post": "Gate", "member": "QX2ELSE", "kit": "bag"}
    app = edit(page("lists", list="who goes to which post", event="Moor Walk"), there, added_rows=[row])
    assert "count for nothing" in app.warning[0].value
    assert '- row 1, Kit: "bag" is not a kit in an inventory of QX2ELSE.' in words(app).replace("\\", "")
    assert not app.button(key="save").disabled
    app = edit(app, there, added_rows=[row | {"member": "QX1NEW"}])
    assert not app.warning


def test_edits_are_kept_when_somebody_else_saves_meanwhile(club):
    app = edit(editing(), edited_rows={0: {"item": "my radio"}})
    club.accept(upload.read("b.csv", KIT.replace(b",1,", b",3,")), "another")
    app.run()
    assert [warning.value for warning in app.warning if "Somebody else" in warning.value]
    assert app.button(key="save").disabled
    app.button(key="keep-mine").click().run()
    app.button(key="save").click().run()
    assert club.store.frames()["inventory"][["item", "quantity"]].values.tolist() == [["my radio", 1]]


def test_another_set_of_columns_keeps_what_was_written(club):
    app = edit(editing(), edited_rows={0: {"item": "my radio"}})
    app.segmented_control(key="columns").select("everything").run()
    assert not app.exception
    assert "1 added, 1 removed" in words(app), "another item is another thing"


def test_edits_are_kept_while_another_page_is_looked_at(club):
    app = edit(editing(), edited_rows={0: {"item": "radio of my aunt"}})
    app.switch_page("views/find.py").run()
    app.query_params["member"], app.query_params["kit"] = "QX1NEW", "bag"
    app.switch_page("views/mine.py").run()
    assert app.data_editor[0].value.loc[1, "item"] == "radio of my aunt"
    assert "What would change" in words(app)


def test_edits_can_be_thrown_away_also_those_that_are_wrong(club):
    for edits in ({"item": "radio of my aunt"}, {"item": "", "kind": "handheld"}):
        app = edit(editing(), edited_rows={0: edits})
        app.button(key="undo").click().run()
        assert app.data_editor[0].value.loc[1, "item"] == "radio"
        assert "Nothing is changed yet." in words(app)


def test_an_empty_kit_begins_with_a_checklist(club):
    app = page("mine", member="QX1NEW", kit="new bag")
    app.selectbox(key="checklist").select("handheld bag")
    app.button(key="begin").click().run()
    assert not app.exception, app.exception[0].stack_trace
    app.button(key="save").click().run()
    told = club.store.frames()["inventory"]
    begun = told[told["kit"] == "new bag"]
    assert sorted(begun["kind"]) == sorted(set(CHECKLISTS["handheld bag"]))
    assert set(begun["member"]) == {"QX1NEW"}


def test_the_day_a_kit_was_packed_is_kept_with_the_kit(club):
    app = edit(editing(), ABOUT, edited_rows={0: {"packed": "2026-07-31"}})
    app.button(key="save").click().run()
    (kit,) = club.store.frames()["kits"].itertuples()
    assert (kit.member, kit.kit, f"{kit.packed:%Y-%m-%d}") == ("QX1NEW", "bag", "2026-07-31")
    assert len(club.store.frames()["inventory"]) == 1


def test_who_edits_a_kit_is_led_to_the_lists_of_the_club_and_back(club):
    led = {view: [link.proto.page for link in page(view).get("page_link")] for view in ("mine", "lists")}
    assert "lists" in led["mine"] and "mine" in led["lists"]
    assert page("lists").selectbox(key="list").value is None, "one is chosen, not come upon"


def test_a_list_of_the_club_is_edited_alike(club):
    app = page("lists", list="members")
    edit(app, Part("members"), added_rows=[{"member": "QX2TWO", "roles": ["field", "hf"]}])
    app.button(key="save").click().run()
    assert not app.exception
    (member,) = club.store.frames()["members"].itertuples()
    assert (member.member, member.roles) == ("QX2TWO", "field hf")


def test_what_the_columns_of_an_editor_mean_can_be_read_without_a_mouse(club):
    for app, part in ((editing(), BAG), (page("lists", list="members"), Part("members"))):
        assert "what do the columns mean?" in [one.label for one in app.expander]
        app.session_state["meanings"] = True
        said = words(app.run())
        for column in list(part.columns.values())[:3]:
            assert f"- **{parts.plain(column.title)}**: {parts.plain(column.description)}" in said


def test_what_is_edited_can_be_taken_away_as_the_file_it_is(club):
    opened = sheet_editing.opened(BAG, club.store.frames()["inventory"])
    text = sheet_editing.csv_of(BAG, opened).decode()
    frame = pd.read_csv(io.StringIO(text), dtype=str)
    assert list(frame.columns) == list(schema.columns("inventory"))


# ---- loans and rehearsals


def test_a_row_that_says_the_same_as_another_names_it_as_it_is_counted_on_the_page(club):
    twice = pd.DataFrame({"member": ["QX1ONE", "QX2TWO", "QX2TWO"]})
    part = Part("members")
    rows = sheet_editing.opened(part, club.store.frames()["members"])
    read = sheet_editing.read(part, twice.reindex(columns=rows.columns).astype(object))
    (said,) = sheet_editing.problems(read)
    assert said.startswith("row 3, ") and "written already in row 2. " in said


def test_a_loan_is_written_into_the_loan_book_from_lists_of_things_and_members(club):
    club.accept(upload.read("inventory.csv", POOL), "a test")
    club.accept(upload.read("loans.csv", LOANS), "a test")
    loans = Part("loans")
    chosen = sheet_editing.config(loans, sheet_editing.opened(loans, club.store.frames()["loans"]))
    options = {name: chosen[name]["type_config"]["options"] for name in ("item", "borrower")}
    kits = ["QX1NEW/bag", "QX3POOL/pool"]
    assert options["item"] == [*kits, "club mast", "watt meter"], (
        "known, alone or with its kit, or lent before"
    )
    assert options["borrower"] == ["QX1NEW", "QX3POOL"]
    row = {"item": "club mast", "borrower": "QX1NEW", "out": "2026-08-01", "due": "2026-08-20"}
    app = edit(page("lists", list="loans of club gear"), loans, added_rows=[row])
    app.button(key="save").click().run()
    assert not app.exception
    told = club.store.frames()["loans"]
    assert told["item"].tolist() == ["watt meter", "club mast"]
    assert f"{told['due'].iloc[1]:%Y-%m-%d}" == "2026-08-20"


def test_a_loan_that_is_due_before_it_leaves_is_refused_as_in_a_file(club):
    row = {"item": "mast", "borrower": "QX1NEW", "out": "2026-08-01", "due": "2026-07-20"}
    app = edit(page("lists", list="loans of club gear"), Part("loans"), added_rows=[row])
    assert [said.value for said in app.markdown if said.value.startswith("- row 1, ")]
    assert "save" not in {button.key for button in app.button}


def test_a_rehearsal_is_written_down_with_its_kit(club):
    row = {"date": "2026-07-31", "stage": "park", "hours_on_battery": 6, "missing": "fuse"}
    app = edit(editing(), TRIED, added_rows=[row])
    app.button(key="save").click().run()
    assert not app.exception
    (told,) = club.store.frames()["rehearsals"].itertuples()
    assert (told.member, told.kit, told.stage, told.hours_on_battery) == ("QX1NEW", "bag", "park", 6)
    uploads = club.store.uploads()
    assert uploads.iloc[0]["stem"] == "rehearsals" and uploads.iloc[0]["rows"] == 1


def assert_told_beforehand(club):
    """The verdict that an edited bag would have is the one that it gets once the bag is put in force."""
    rows = sheet_editing.opened(BAG, club.store.frames_of("QX1NEW")["inventory"])
    sent = {BAG: sheet_editing.read(BAG, rows.assign(item="other radio"))}
    found = sheet_editing.verdict_after(sent, "QX1NEW", club.standing().day)
    club.accept(sent[BAG], "a test")
    scores = club.standing().scores
    pd.testing.assert_frame_equal(
        found.reset_index(drop=True), scores[scores["member"] == "QX1NEW"].reset_index(drop=True)
    )


@pytest.mark.parametrize("has_told", [False, True])
def test_the_verdict_that_edited_rows_would_have_is_the_one_that_they_get(club, has_told):
    """Also where only others have told of rehearsals, and where those are the member's own."""
    tried = b"member,kit,date,stage\n%s,bag,2026-04-01,yard\n" % (b"QX1NEW" if has_told else b"QX2OLD")
    for stem, payload in (("inventory", KIT.replace(b"QX1NEW", b"QX2OLD")), ("rehearsals", tried)):
        club.accept(upload.read(f"{stem}.csv", payload, stem), "a test")
    assert_told_beforehand(club)


def test_a_verdict_beforehand_asks_everyone_where_a_rule_of_the_club_may(club, tmp_path):
    rule = tmp_path / "ours" / "packing" / "less_than_others_bring.sql"
    rule.parent.mkdir(parents=True)
    rule.write_text(
        """/*
title = "Less than others bring"
subject = "kit"
severity = "blocks"
why = "Nobody wants the smallest bag."
not_met = "{subject}: others bring more."
fix = "Bring as much."
source = "common practice"
*/
select kit_id as subject, lines, len(lines) >= (select max(len(lines)) from kit) as ok from kit
""",
        "utf-8",
    )
    others = KIT.replace(b"QX1NEW", b"QX2OLD") + b"QX2OLD,bag,whistle,whistle,1,,no,\n"
    club.accept(upload.read("inventory.csv", others), "a test")
    club.set_policy('own_rules = "ours"', "a test", "a rule of ours")
    assert_told_beforehand(club)


# ---- feet and pounds


def test_figures_are_edited_in_feet_and_kept_in_metres_to_the_last_bit(club, monkeypatch):
    long = 12.34 * 0.3048
    rows = [
        {"member": "QX1NEW", "kit": "bag", "item": name, "kind": "coax", "length_m": length, "weight_kg": 0.3}
        for name, length in (("line", long), ("short line", 1.8), ("no length", None))
    ]
    frame = small.frame("inventory", rows)
    payload = writing.csv_of("inventory", frame)
    club.accept(upload.read("inventory.csv", payload), "a test")
    kept = club.store.frames()["inventory"]
    metric = sheet_editing.csv_of(BAG, sheet_editing.opened(BAG, kept))
    monkeypatch.setattr(units, "is_us", lambda: True)
    shown = sheet_editing.opened(BAG, kept)
    assert shown["length_m"].tolist()[:2] == pytest.approx([12.34, 5.90551181])
    assert sheet_editing.config(BAG, shown)["length_m"]["label"] == "Length, ft"
    assert sheet_editing.csv_of(BAG, shown) == metric, "what nobody touched stays as it was"
    shown.loc[2, "length_m"] = 6.0
    again = sheet_editing.read(BAG, shown).frame
    assert again["length_m"].tolist() == [kept["length_m"].iloc[0], 1.8, 1.8288]


def test_the_page_takes_pounds_of_who_reads_pounds(club):
    app = page("mine", member="QX1NEW", kit="bag").toggle(key=units.KEY).set_value(True).run()
    edit(app, round_=1, edited_rows={0: {"weight_kg": 2}})
    app.button(key="save").click().run()
    assert not app.exception
    assert club.store.frames()["inventory"]["weight_kg"].tolist() == [0.90718474]


def test_another_choice_of_units_keeps_what_was_written(club):
    app = edit(editing(), edited_rows={0: {"weight_kg": 3, "item": "my radio"}})
    app.toggle(key=units.KEY).set_value(True).run()
    assert not app.exception
    app.button(key="save").click().run()
    told = club.store.frames()["inventory"]
    assert told[["item", "weight_kg"]].values.tolist() == [["my radio", 3.0]]
