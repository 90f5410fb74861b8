"""Readiness over the days: what is written down when a club is judged, and what the season page makes of it."""

from datetime import date, timedelta

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import club_charts, course, drawing, standing
from data import history, upload
from tests.pages import alone, page, unfolded, words

DAY = date(2027, 5, 3)
READY, LIMITS, NOT, UNKNOWN = "ready", "ready with limits", "not ready", "not known"


@pytest.fixture
def club(tmp_path):
    """A club of one kit, judged today."""
    with alone():
        club = standing.open_club(tmp_path / "club.duckdb")
        club.accept(
            upload.read("inventory.csv", b"member,kit,item,kind,quantity\nQ1A,bag,radio,handheld,1\n"), "me"
        )
        yield club


def note(
    club: standing.Club, version: int, day: date, rules: str = "r1", policy: int = 0, **kits: int
) -> None:
    counts = {word.replace("_", " "): count for word, count in kits.items()}
    history.note(club.store, history.Judged(version, day, rules, policy, "s"), counts)


def drawn(rows: pd.DataFrame) -> dict:
    changes = rows[rows["changed"] != ""]
    return drawing.drawn(club_charts.course(course.by_verdict(rows), changes, course.title(rows)))


def table(*days: tuple[date, int, int, str]) -> pd.DataFrame:
    rows = [
        (pd.Timestamp(day), ready, 0, kits - ready, 0, kits, changed) for day, ready, kits, changed in days
    ]
    return pd.DataFrame(rows, columns=["day", READY, LIMITS, NOT, UNKNOWN, "kits", "changed"])


def test_the_first_judgement_of_a_version_counts_its_kits_and_no_later_one_does(club):
    rows = history.by_day(club.store)
    assert list(rows[["verdict", "kits"]].itertuples(index=False, name=None)) == [
        (club.standing().of("kit")["verdict"][0], 1)
    ]
    note(club, int(rows["version"][0]), DAY, ready=9)
    assert list(history.by_day(club.store)["kits"]) == [1]


def test_a_day_is_its_last_version_and_says_what_judges_otherwise_than_the_day_before(club):
    note(club, 101, DAY, ready=1, not_ready=3)
    note(club, 102, DAY, ready=2, not_ready=2)
    note(club, 103, DAY + timedelta(1), "r2", ready=3, not_ready=1)
    note(club, 104, DAY + timedelta(2), "r3", 1, ready=4)
    note(club, 105, DAY + timedelta(3), "r3", 1)
    rows = course.days(club.standing(), club.store)
    rows = rows[(rows["day"] >= pd.Timestamp(DAY)) & (rows["day"] <= pd.Timestamp(DAY + timedelta(9)))]
    assert list(rows[READY]) == [2, 3, 4], "a version without kits is no point"
    assert list(rows["kits"]) == [4, 4, 4]
    assert list(rows["changed"])[1:] == ["rules", "rules and policy"]


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ((DAY, 5, 70), (date(2027, 9, 1), 8, 70), "Ready kits rose from 5 to 8 of 70 since 3 May"),
        ((DAY, 8, 70), (date(2027, 9, 1), 5, 70), "Ready kits fell from 8 to 5 of 70 since 3 May"),
        ((DAY, 8, 70), (date(2027, 9, 1), 8, 70), "Ready kits are 8 of 70, as many as on 3 May"),
        ((DAY, 5, 60), (date(2028, 1, 2), 8, 70), "Ready kits rose from 5 of 60 to 8 of 70 since 3 May 2027"),
        ((DAY, 5, 60), (date(2027, 9, 1), 5, 70), "Ready kits went from 5 of 60 to 5 of 70 since 3 May"),
    ],
)
def test_the_title_says_how_the_ready_kits_went(first, last, said):
    assert course.title(table((*first, ""), (*last, ""))) == said


def test_a_change_of_what_judges_is_told_and_marked():
    rows = table((DAY, 1, 4, ""), (DAY + timedelta(7), 2, 4, "rules"), (DAY + timedelta(9), 2, 4, "policy"))
    assert course.judged_otherwise(rows) == (
        "What judges has changed: the rules by 10 May and the policy by 12 May. "
        "Kits before and after were not held to the same."
    )
    assert course.judged_otherwise(rows.assign(changed="")) == ""
    data = [row for frame in drawn(rows)["datasets"].values() for row in frame.to_dict("records")]
    assert [row["says"] for row in data if "says" in row] == ["rules changed", "policy changed"]


def test_the_chart_has_a_named_shape_for_each_verdict_and_day():
    spec = drawn(table((DAY, 1, 4, ""), (DAY + timedelta(7), 2, 4, "")))
    (frame,) = spec["datasets"].values()
    assert len(set(frame["label"])) == len(frame) == 8
    assert "10 May 2027: 2 of 4 ready" in set(frame["label"])
    point = next(layer for layer in spec["layer"] if layer["mark"]["type"] == "point")
    assert point["encoding"]["description"]["field"] == "label"
    shape = point["encoding"]["shape"]["scale"]
    assert shape["range"][shape["domain"].index(NOT)] == "square"
    assert (frame["share"] == frame["count"] / 4).all()


def test_one_day_only_is_nothing_to_compare(club):
    app = page()
    assert "nothing to compare yet" in words(app)
    assert not charts_of(app, "share of kits")


def test_the_season_page_shows_how_readiness_went_with_its_numbers(club):
    note(club, 101, date.today() - timedelta(400), "r0", ready=1, not_ready=3)
    club.accept(
        upload.read("inventory.csv", b"member,kit,item,kind,quantity\nQ1A,bag,radio,handheld,2\n"), "me"
    )
    app = page()
    assert "What judges has changed: the rules by" in words(app)
    (shown,) = charts_of(app, "share of kits")
    assert "Ready kits" in shown
    labels = [button.label for button in unfolded(app).get("download_button")]
    assert {f"Download readiness by day as {form}" for form in ("CSV", "PNG", "SVG")} <= set(labels)


def charts_of(app: AppTest, axis: str) -> list[str]:
    """The specification of each chart of a page with this title of an axis."""
    return [one.proto.spec for one in app.get("vega_lite_chart") if f'"title": "{axis}"' in one.proto.spec]
