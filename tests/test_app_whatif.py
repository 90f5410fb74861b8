"""What if: changes named by people, the command and the page; every answer beside the club as it is."""

import json

import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboard import access, units, whatif
from dashboard.command import app as command
from data import writing
from rules.plans import whatif as plans
from rules.plans.whatif import ChangeError
from tests.pages import alone, chart_title, page, table, unfolded, words

from .plans.test_after import HOURS, judged, told
from .test_app_after import opened

FAILURES = pd.DataFrame(
    [
        ("kit", "Q1AAA/box", ["Mile 1"], ["Mile 1", "Mile 2"], 0, True),
        ("person", "Q2BBB", [], [], 0, False),
    ],
    columns=["what", "name", "posts_lost", "posts_worse", "critical_lost", "is_felt"],
)

SPAN = (pd.Timestamp("2027-04-25 06:00"), pd.Timestamp("2027-04-25 12:00"))
MOVES = pd.DataFrame(
    [
        ("Mile 1", "Q1AAA", "box", None, *SPAN, "before"),
        ("Mile 1", "Q2BBB", None, None, *SPAN, "before"),
        ("Mile 2", "Q2BBB", "box", "Q1AAA", *SPAN, "after"),
    ],
    columns=[*plans.STANDS, "stands"],
)
UNCOVERED = pd.DataFrame(
    [("Mile 2", *SPAN, 1, True, "nobody else can hold it", "lend it the 12 kg box of the pool")],
    columns=["post", "from", "to", "people_short", "is_critical", "why", "change"],
)


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """Three stations at three posts of a ride."""
    with alone():
        yield opened(tmp_path_factory.mktemp("club"))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The same as a folder of files, with one report."""
    there = tmp_path_factory.mktemp("folder")
    report = {"hours_on_battery": HOURS, "battery_left_pct": 40.0, "faulty": "dc_lead"}
    for stem, rows in told(Q2BBB=report).items():
        (there / f"{stem}.csv").write_bytes(writing.csv_of(stem, rows))
    return there


def run(*arguments: object) -> dict:
    done = CliRunner().invoke(command, [str(argument) for argument in arguments] + ["--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


# ---- changes as people name them


def test_changes_are_named_for_one_event() -> None:
    asked = whatif.Asked(
        "Ride", -5, None, "+2", "quiet", "Mile 1", ("Q1AAA",), ("Q2BBB/box", "Q2BBB/box/coax")
    )
    made = asked.changes(told())
    assert [change.what for change in made] == [
        "coldest", "hours", "duty", "absent", "kit_failed", "item_failed"
    ]  # fmt: skip
    assert made[1].value == 8.0, "two hours more than the six of the ride"
    assert (made[2].post, made[4].kit, made[5].item) == ("Mile 1", "box", "coax")
    assert asked.words() == [
        "the coldest is -5 °C", "it lasts 2 h longer at Mile 1", "duty is “quiet post” at Mile 1", "Q1AAA is absent",
        "Q2BBB/box is broken", "Q2BBB/box/coax is broken (one piece)",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("told_as", "says"),
    [({"hours": "long"}, '"long" is not a number'), ({"broken": ("Q1AAA",)}, "Write MEMBER/KIT")],
)
def test_a_change_that_cannot_be_read_says_what_to_write(told_as, says) -> None:
    with pytest.raises(ChangeError, match=says):
        whatif.Asked("Ride", **told_as).changes(told())


def test_verdicts_of_the_event_stand_first_and_others_only_where_they_move() -> None:
    frames = told()
    found = whatif.answer(frames, whatif.Asked("Ride", broken=("Q1AAA/box",)), judged(frames), 5.0)
    kinds = found.verdicts["subject_kind"].tolist()
    assert kinds[:3].count("post") + kinds[:4].count("event") >= 3
    others = found.verdicts[found.verdicts["event"].isna()]
    assert (others["is_worse"] | others["is_better"]).all(), "what stays as it is elsewhere is left out"
    assert list(found.staffing.measures.columns) == ["objective", "before", "after"]


# ---- the commands


def test_the_command_sets_verdicts_and_staffing_side_by_side(folder) -> None:
    said = run("whatif", folder, "Ride", "--absent", "q1aaa", "--hours", "+2", "--seconds", 5)
    assert said["changes"] == ["it lasts 2 h longer", "Q1AAA is absent"]
    posts = {row["post"]: row for row in said["verdicts"] if row["subject_kind"] == "post"}
    assert set(posts) == {"Mile 1", "Mile 2", "Mile 3"}
    assert posts["Mile 1"]["after"] == "not ready"
    hours = {row["objective"]: (row["before"], row["after"]) for row in said["staffing"]}
    assert any(was != now for was, now in hours.values())
    assert said["moves"] == [], "no kit of theirs could lead before or after"


def test_the_command_without_a_change_fails_one_thing_at_a_time(folder) -> None:
    said = run("whatif", folder, "Ride")
    assert {row["what"] for row in said["failures"]} >= {"person", "kit", "battery"}


def test_the_command_says_which_name_is_not_known(folder) -> None:
    done = CliRunner().invoke(command, ["whatif", str(folder), "Ride", "--broken", "Q1AAA/sack"])
    assert done.exit_code == 2 and 'broken: there is no kit "sack" of member "Q1AAA"' in done.stderr


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--post", "Mile 1"], "Write --hours or --duty, too"),
        (["--post", "Mile 9", "--hours", "+1"], 'there is no post "Mile 9" of event "Ride"'),
        (["--hours", "nan"], "is not a number"),
        (["--hours", "-50"], "the hours from opening to closing, at least 0.1"),
        (["--broken", "q1aaa/sack/map"], 'there is no item "map" of kit "sack" of member "Q1AAA"'),
    ],
)
def test_the_command_says_what_cannot_be_asked(folder, words, says) -> None:
    done = CliRunner().invoke(command, ["whatif", str(folder), "Ride", *words])
    assert done.exit_code == 2 and says in done.stderr and ".0 " not in done.stderr


def test_the_command_after_an_event_tells_what_was_measured_and_what_should_change(folder) -> None:
    said = run("after", folder, "Ride")
    (row,) = said["observations"]
    assert (row["member"], row["post"], row["reading"]) == ("Q2BBB", "Mile 2", "measured")
    assert row["lasts_low_h"] < row["lasts_h"] < row["lasts_high_h"]
    assert [(r["item"], r["before"], r["after"]) for r in said["rows"]] == [("dc_lead", "ok", "faulty")]
    assert said["duty"][0]["duty"] == "busy" and not said["duty"][0]["is_enough"]
    plain = CliRunner().invoke(command, ["after", str(folder), "Ride"])
    assert plain.exit_code == 0 and "Too few to change it: at least 3 are needed." in plain.stdout


# ---- the page


def test_the_page_answers_when_asked_and_only_then(club) -> None:
    app = page("whatif", event="Ride")
    assert app.button(key="work-out").disabled, "nothing is changed yet"
    app.multiselect(key="absent").set_value(["Q1AAA"]).run()
    assert not any("before" in f.value.columns for f in app.dataframe)
    app.button(key="work-out").click().run()
    assert not app.exception, app.exception[0].stack_trace
    shown = table(app, "before").set_index("which")
    assert shown.loc["Mile 1", "after"] == "■ not ready"
    assert len(club.store.uploads()) == 4, "nothing is stored by trying it out"
    others = page("whatif", event="Ride")
    others.multiselect(key="absent").set_value(["Q1AAA"]).run()
    assert len(table(others, "before")) == len(shown), "what one person asked is shown to others at once"


@pytest.mark.parametrize(("role", "is_shown"), [("coordinator", True), ("viewer", False)])
def test_who_stands_where_and_what_stays_open_is_shown_to_those_who_plan(
    club, monkeypatch, role, is_shown
) -> None:
    asked = whatif.Asked("Ride", absent=("Q3CCC",))
    measures = pd.DataFrame([("hours open", 0.0, 6.0)], columns=["objective", "before", "after"])
    before = club.standing().assessment
    verdicts = plans.side_by_side(before, before)[list(whatif.TOLD)]
    club.standing().kept.once(
        ("whatif", asked), lambda: whatif.Answer(verdicts, plans.Staffings(measures, MOVES, UNCOVERED))
    )
    monkeypatch.setattr(access, "person", lambda: access.Person("who", access.Role(role)))
    monkeypatch.setattr(type(club.people), "shares", lambda self: {"": "verdicts"})
    app = page("whatif", event="Ride")
    app.multiselect(key="absent").set_value(["Q3CCC"]).run()
    assert not app.exception, app.exception[0].stack_trace
    assert ("At 2 posts the plan would differ" in words(app)) is is_shown
    shown = [table.value for table in app.table if "post" in table.value.columns]
    assert [list(frame.columns)[-1] for frame in shown] == (["after"] if is_shown else []), (
        "cells wrap in a table"
    )
    seat = (
        "- **Mile 2**, 25 Apr 2027 06:00 to 12:00: 1 person short, critical. "
        "Cheapest change: lend it the 12 kg box of the pool. Why: nobody else can hold it."
    )
    assert (seat in words(app).replace("\\", "")) is is_shown, "a table would cut what to do"


def test_who_stands_where_is_said_post_by_post() -> None:
    assert whatif.who_stands(MOVES).to_numpy().tolist() == [
        ["Mile 1", "Q1AAA with box, 06:00 to 12:00; Q2BBB, 06:00 to 12:00", "nobody"],
        ["Mile 2", "nobody", "Q2BBB with box of Q1AAA, 06:00 to 12:00"],
    ]
    late = MOVES.assign(to=MOVES["to"] + pd.Timedelta("1D"))
    assert whatif.who_stands(late)["after"].iloc[1].endswith("Sun 06:00 to Mon 12:00")
    assert whatif.moves_title(MOVES.iloc[:0]) == "Everyone would stand where they do"
    beside_an_empty_plan = MOVES.astype({"from": object, "to": object})
    assert whatif.who_stands(beside_an_empty_plan).equals(whatif.who_stands(MOVES)), "when nobody is left"


def test_single_failures_are_ranked_and_drawn(club) -> None:
    app = page("whatif", event="Ride")
    app.button(key="fail").click().run()
    assert not app.exception, app.exception[0].stack_trace
    failures = club.standing().kept.once(("failures", "Ride"), pytest.fail)
    felt = int(failures["is_felt"].astype(bool).sum())
    assert whatif.failures_title(failures, "Ride").startswith(f"{felt} of {len(failures)} single failures")


def test_the_picture_of_failures_can_be_taken_away(club) -> None:
    kept = club.standing().kept
    kept.once(("failures", "Next Ride"), lambda: FAILURES)
    made = ("numbers", "failures", "Next Ride", access.HERE.role, access.HERE.member)
    app = page("whatif", event="Next Ride")
    assert len(app.get("vega_lite_chart")) == 1
    assert not app.get("download_button") and made not in kept, "folded"
    labels = [button.label for button in unfolded(app).get("download_button")]
    assert made in kept
    assert labels == [f"Download single failures as {form}" for form in ("CSV", "PNG", "SVG")]


def test_a_viewer_sees_no_member_who_shares_nothing(club, monkeypatch) -> None:
    guest = access.Person("guest", access.Role.VIEWER)
    monkeypatch.setattr(access, "person", lambda: guest)
    club.people.set_share("Q1AAA", "none", "test")
    app = page("whatif", event="Ride")
    assert app.multiselect(key="absent").options == ["Q2BBB", "Q3CCC"]
    assert "Q1AAA" not in " ".join(app.multiselect(key="broken").options)
    assert "Q1AAA" not in words(app)


def test_a_chart_of_failures_tells_lost_and_worse_apart() -> None:
    rows = whatif.ranked(FAILURES)
    drawn = whatif.failures_chart(rows, whatif.failures_title(FAILURES, "Ride")).to_dict()
    said = [r["says"] for data in drawn["datasets"].values() for r in data]
    assert said == ["2 worse, 1 of them lost: kit Q1AAA/box"]
    assert chart_title(drawn) == "1 of 2 single failures would make a post of Ride worse"


def test_what_a_staffing_reaches_is_said_with_its_unit_for_every_objective():
    rows = [(name, 10.0, 2.5) for name in plans.staffing.OBJECTIVES]
    measures = pd.DataFrame(rows, columns=["objective", "before", "after"])
    said = whatif.measures_words(measures).set_index("what")
    assert said.loc["carried in all (kg)", "before"] == "10"
    with units.chosen(True):
        assert (
            whatif.measures_words(measures).set_index("what").loc["carried in all (lb)", "after"] == "5.512"
        )


@pytest.mark.parametrize(
    ("worse", "better", "said"),
    [
        ([False], [False], "The one post would not change its verdict"),
        ([True], [False], "The one post would be worse"),
        ([True, False], [False, True], "Of 2 posts, 1 would be worse and 1 would be better"),
        ([False] * 2, [False] * 2, "None of 2 posts would change its verdict"),
    ],
)
def test_how_many_posts_would_change_is_said_of_one_and_of_several(worse, better, said):
    rows = pd.DataFrame({"subject_kind": "post", "is_worse": worse, "is_better": better})
    assert whatif.title(rows) == said
