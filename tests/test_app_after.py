"""The page after an event: a report becomes changed rows, and measured duty becomes a policy with its reason."""

from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import access, after, parts, pictures, standing
from data import upload, writing
from tests.pages import alone, page, table, unfolded, words

from .plans.test_after import HOURS, PEOPLE, left_after, told
from .small_club import frame

pytestmark = pytest.mark.usefixtures("judged_once")

DAY = pd.Timestamp(date.today()) - pd.Timedelta(days=7)
OTHERS = pd.Timestamp(date.today()) + pd.Timedelta(days=90)


def opened(folder: Path, **rehearsed) -> standing.Club:
    """A club whose ride was a week ago, and another that is yet to come."""
    frames = told(**rehearsed)
    ride = frames["events"].iloc[0].to_dict() | {
        "starts": DAY + timedelta(hours=6),
        "ends": DAY + timedelta(hours=12),
    }
    later = ride | {"event": "Next Ride", "starts": OTHERS, "ends": OTHERS + pd.Timedelta(hours=6)}
    frames["events"] = frame("events", [ride, later])
    frames["rehearsals"]["date"] = DAY
    for stem in ("posts", "assignments"):
        again = frames[stem].assign(event="Next Ride")
        frames[stem] = pd.concat([frames[stem], again], ignore_index=True)
    club = standing.open_club(folder / "club.duckdb")
    for stem, rows in frames.items():
        if len(rows):
            read = upload.read(f"{stem}.csv", writing.csv_of(stem, rows), stem)
            assert not read.problems, read.problems[0]
            club.store.accept(read, "test")
    return club


@pytest.fixture
def club(tmp_path):
    """The club, with one earlier report."""
    with alone():
        yield opened(tmp_path, Q2BBB={"hours_on_battery": HOURS, "battery_left_pct": 40.0})


def fill(app: AppTest, key: str) -> AppTest:
    """Fill in the first line: hours and charge; a lead failed and a coax was missing."""
    app.session_state[f"report-{key}"] = {
        "edited_rows": {0: {"hours_on_battery": 5.5, "battery_left_pct": 45.0}},
        "added_rows": [],
        "deleted_rows": [],
    }
    app.multiselect(key=f"faulty-{key}").set_value([("Q1AAA", "box", "dc_lead", 1)])
    app.multiselect(key=f"missing-{key}").set_value([("Q1AAA", "box", "coax", 1)]).run()
    assert not app.exception, app.exception[0].stack_trace
    return app


def test_the_event_that_is_over_is_asked_about_first(club):
    app = page("after")
    assert app.selectbox(key="event").options == ["Ride", "Next Ride"]
    assert "Nothing yet" in words(app)


def test_a_report_is_shown_and_then_saved_as_changed_rows_in_one_step(club):
    app = fill(page("after"), "ride-0")
    changes = table(app, "change")
    assert sorted(zip(changes["change"], changes["item"].str.split(" ").str[0], strict=True))[0][0] == "added"
    conditions = changes[changes["column"] == "condition"]
    assert dict(zip(conditions["item"].str.split(" ").str[0], conditions["after"], strict=True)) == {
        parts.plain("dc_lead"): "faulty",
        "coax": "removed",
    }
    assert len(club.store.uploads()) == 5, "nothing is stored unasked"
    app.button(key="save").click().run()
    assert "The report is saved" in words(app)
    moved = table(app, "before")
    assert moved[["member", "kit"]].values.tolist() == [["Q1AAA", "box"]]
    assert (moved["before"] != moved["after"]).all()
    uploads = club.store.uploads()
    assert set(uploads["file"].head(2)) == {"after-ride-rehearsals.csv", "after-ride-inventory.csv"}
    assert set(uploads["by"].head(2)) == {"coordinator"}
    now = club.store.frames()
    row = now["rehearsals"].query("member == 'Q1AAA'").iloc[0]
    assert (row["stage"], row["event"], row["post"]) == ("event", "Ride", "Mile 1")
    assert (row["hours_on_battery"], row["battery_left_pct"]) == (5.5, 45.0)
    assert (row["faulty"], row["missing"]) == ("dc_lead", "coax")
    held = now["inventory"].query("member == 'Q1AAA'").set_index("item")["condition"]
    assert (held["dc_lead"], held["coax"]) == ("faulty", "removed")
    found = club.standing().assessment.findings("s.member = 'Q1AAA'")
    assert any(f.rule == "faulty_but_in_the_kit" and f.status == "not met" for f in found)


def test_of_things_alike_it_is_asked_how_many_failed(club):
    held = club.store.frames_of("Q1AAA")["inventory"]
    held.loc[held["item"] == "dc_lead", "quantity"] = 4
    club.store.accept(upload.read("inventory.csv", writing.csv_of("inventory", held), "inventory"), "test")
    app = fill(page("after"), "ride-0")
    (asked,) = app.number_input
    assert asked.label == "how many of the 4? Q1AAA, box\\: dc\\_lead" and asked.value == 4
    asked.set_value(1).run()
    app.button(key="save").click().run()
    assert not app.exception, app.exception[0].stack_trace
    told = club.store.frames_of("Q1AAA")["inventory"].set_index("item")
    assert told.loc[["dc_lead", "dc_lead (1 of 4)"], "quantity"].tolist() == [3, 1]
    assert told.loc[["dc_lead", "dc_lead (1 of 4)"], "condition"].tolist() == ["ok", "faulty"]


def test_what_was_saved_stands_in_the_lines_again(club):
    app = fill(page("after"), "ride-0")
    app.button(key="save").click().run()
    again = page("after")
    assert again.data_editor[0].value["hours_on_battery"].tolist()[:2] == [5.5, HOURS]
    assert again.multiselect(key="faulty-ride-0").value == [("Q1AAA", "box", "dc_lead", 1)]
    assert "Nothing yet" in words(again), "the same report again changes nothing"


def test_what_is_to_be_filled_in_stands_beside_the_names_that_tell_the_lines_apart(club):
    asked = ["hours_on_battery", "battery_left_pct", "trips_back", "also_missing", "notes"]
    assert page("after").data_editor[0].proto.column_order == ["member", "kit", *asked, "post", "planned_h"]
    sent = club.store.frames()["assignments"]
    again = sent.query("event == 'Ride' and post == 'Mile 1'").assign(post="Mile 3")
    rows = writing.csv_of("assignments", pd.concat([sent, again]))
    club.store.accept(upload.read("assignments.csv", rows), "test")
    assert page("after").data_editor[0].proto.column_order == ["member", "kit", "post", *asked, "planned_h"]


def test_an_event_that_has_not_begun_cannot_be_told_of(club):
    app = fill(page("after", event="Next Ride"), "next-ride-0")
    assert app.button(key="save").disabled
    assert "has not begun" in words(app)


def test_hours_as_measured_stand_beside_those_predicted(club):
    app = unfolded(page("after"))
    shown = table(app, "would last (h)")
    assert shown["member"].tolist() == ["Q2BBB"]
    assert shown["ran (h)"].tolist() == [HOURS] and shown["left (%)"].tolist() == [40.0]
    assert parts.CHECK in words(app), "cautions stand where battery hours are read"
    assert "at least 3 stations are needed" in words(app)
    assert "the profile “busy” said" in words(app).replace("\\", "")
    assert "Fill in the columns with a pen" in words(app)
    assert not [button for button in app.button if button.key.startswith("use-")]


def test_the_picture_of_hours_and_the_figures_behind_it_can_be_taken_away(club):
    app = unfolded(page("after"))
    assert len(app.get("vega_lite_chart")) == 1
    labels = [button.label for button in app.get("download_button")]
    assert labels == [f"Download hours as measured as {form}" for form in ("CSV", "PNG", "SVG")]
    spec = club.standing().kept.once(("chart", "ran", "Ride", ""), pytest.fail)
    drawn = pictures.svg(spec).decode()
    assert "Q2BBB" in drawn and DAY.strftime("%b %Y") in drawn
    assert pictures.png(spec).startswith(b"\x89PNG")


def test_a_member_tells_of_their_own_kit_only(club, monkeypatch):
    member = access.Person("first", access.Role.MEMBER, "Q1AAA")
    monkeypatch.setattr(access, "person", lambda: member)
    app = page("after")
    assert app.data_editor[0].value["member"].tolist() == ["Q1AAA"]
    assert all(thing.startswith("Q1AAA") for thing in app.multiselect(key="faulty-ride-0").options)
    assert "does a duty profile need a change?" not in words(app)
    assert not any("would last (h)" in f.value.columns for f in app.dataframe)
    nobody = access.Person("guest", access.Role.VIEWER)
    monkeypatch.setattr(access, "person", lambda: nobody)
    refused = page("after")
    assert "you may not report after an event" in words(refused) and not refused.data_editor


def test_a_member_who_was_not_sent_is_not_told_that_nobody_was(club, monkeypatch):
    stranger = access.Person("third", access.Role.MEMBER, "Q9ZZZ")
    monkeypatch.setattr(access, "person", lambda: stranger)
    assert "No kit of Q9ZZZ was sent to this event." in words(page("after"))


def test_what_was_measured_is_proposed_as_a_policy_with_its_reason(tmp_path):
    with alone():
        left = left_after(HOURS, 0.01, 0.44, 0.55)
        club = opened(
            tmp_path, **{member: {"hours_on_battery": HOURS, "battery_left_pct": left} for member in PEOPLE}
        )
        club.set_policy("# ours\n[weight]\nadvice = 0.5\n", "test", "first")
        app = page("after")
        app.button(key="use-busy").click().run()
        assert not app.exception, app.exception[0].stack_trace
        text = app.text_area(key="policy-text").value
        assert text.startswith("# ours") and "[duty.busy]" in text and "tx_share = 0.01" in text
        assert "what would change?" in "\n".join(element.value for element in app.subheader)
        assert app.text_input(key="policy-why").value.startswith("Measured at 3 stations: on transmit 1.0%")
        app.button(key="policy-save").click().run()
        assert club.policy().duty["busy"]["tx_share"] == 0.01
        assert club.store.policies().iloc[0]["why"].startswith("Measured at 3 stations")


@pytest.mark.parametrize(
    ("lasts", "reading", "word"),
    [
        ((4, 5, 6), "measured", "shorter than predicted"),
        ((6, 8, 9), "measured", "as predicted"),
        ((12, 14, 20), "measured", "longer than predicted"),
        ((12, None, None), "at most", "longer than predicted"),
        ((6, None, None), "at most", "not known"),
    ],
)
def test_hours_as_measured_are_held_against_the_range_predicted(lasts, reading, word):
    low, at, high = (float("nan") if value is None else value for value in lasts)
    row = {"lasts_low_h": low, "lasts_h": at, "lasts_high_h": high, "reading": reading}
    found = after.ran(pd.DataFrame([row | {"predicted_low_h": 8.0, "predicted_high_h": 10.0}]))
    assert found["ran"].tolist() == [word]


def test_the_chart_tells_each_station_in_words(club):
    found = after.observations(club.standing())
    drawn = after.chart(found, after.title(found)).to_dict()
    (row,) = [r for rows in drawn["datasets"].values() for r in rows]
    assert row["subject"] == f"Mile 2: Q2BBB box, {DAY.day} {DAY:%b %Y}"
    assert row["says"].count(" h ") >= 2 and "predicted" in row["says"]
    assert drawn["title"]["text"] == [after.title(found)]
    untold = found.assign(lasts_h=float("nan"), predicted_high_h=found["predicted_low_h"], ran="not known")
    (row,) = [r for rows in after.chart(untold, "x").to_dict()["datasets"].values() for r in rows]
    assert row["hours"] == f"not measured, {found['predicted_low_h'].iloc[0]:.1f} h predicted"
