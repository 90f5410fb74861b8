"""What is in my kit?: filled in and edited on a page, checked and saved as a file would be."""

import io

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import sheet_editing, standing
from dashboard.edits import EditError
from dashboard.sheet_editing import CHECKLISTS, Part
from data import reference, schema, upload
from tests import small_club as small
from tests.pages import alone, page, words

KIT = (
    b"member,kit,item,kind,quantity,bands,spare,charged\nQX1NEW,bag,radio,handheld,1,2m 70cm,no,2026-07-31\n"
)
BAG = Part("inventory", ("QX1NEW", "bag"))
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
def test_every_column_has_a_setting(stem):
    part = Part(stem)
    assert set(sheet_editing.config(part)) == set(schema.columns(stem))


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
    wrong = next(frame.value for frame in app.dataframe if "what to write" in frame.value.columns)
    assert wrong[["row", "column"]].values.tolist() == [[1, "quantity"], [2, "kind"]]
    assert "save" not in {button.key for button in app.button}


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


def test_a_list_of_the_club_is_edited_alike(club):
    app = page("mine", list="members")
    edit(app, Part("members"), added_rows=[{"member": "QX2TWO", "roles": ["field", "hf"]}])
    app.button(key="save").click().run()
    assert not app.exception
    (member,) = club.store.frames()["members"].itertuples()
    assert (member.member, member.roles) == ("QX2TWO", "field hf")


def test_what_is_edited_can_be_taken_away_as_the_file_it_is(club):
    opened = sheet_editing.opened(BAG, club.store.frames()["inventory"])
    text = sheet_editing.csv_of(BAG, opened).decode()
    frame = pd.read_csv(io.StringIO(text), dtype=str)
    assert list(frame.columns) == list(schema.columns("inventory"))
