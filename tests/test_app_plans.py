"""The pages that plan: which kit can hold which post, who goes where, hours, swaps and distances."""

import csv
import io
import json
import re
from dataclasses import replace

import pandas as pd
import pytest
import vl_convert
from streamlit.testing.v1 import AppTest

from dashboard import buying, charts, days, drawing, kits, money, parts, post_review, posts
from dashboard.palette import CHANCES, ENOUGH, VERDICTS
from dashboard.pictures import standing_alone
from dashboard.sheets import purchases as sheet
from data import demo, upload
from rules.plans.posts import post_by_kit
from rules.plans.replacements import replacements
from rules.score import changes
from tests.pages import invented, page, table, unfolded, words

EVENTS = {
    "kits": "which kit can hold which post?",
    "plan": "who should go where?",
    "hours": "do the batteries last?",
    "swaps": "can one kit stand in for another?",
    "distances": "how far must people stay?",
}


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """The invented club, open for reading."""
    with invented(tmp_path_factory.mktemp("demo")) as opened:
        yield opened


@pytest.fixture(scope="module")
def event(club):
    """The event with fewest posts."""
    return club.standing().of("post")["event"].value_counts().index[-1]


@pytest.mark.parametrize("name", ["events", "whatif"])
def test_the_event_that_comes_next_is_chosen_and_those_that_are_over_stand_last(club, name):
    app = page(name)
    assert not app.exception, app.exception[0].stack_trace
    told = club.store.frames()["events"].sort_values("starts")
    comes = told[told["ends"] >= pd.Timestamp(club.standing().day)]["event"].tolist()
    assert app.selectbox(key="event").value == comes[0]
    assert app.selectbox(key="event").options == [*comes, demo.WALK]


def pictures(app: AppTest) -> set[str]:
    """What can be taken away as a picture in both forms."""
    names = [button.label for button in app.get("download_button")]
    png, svg = ({n.split(" as ")[0] for n in names if n.endswith(f" as {form}")} for form in ("PNG", "SVG"))
    assert png == svg
    return {name.removeprefix("Download ") for name in png}


# ---- which kit can hold which post


@pytest.mark.parametrize(("part", "look"), EVENTS.items())
def test_every_part_of_an_event_has_its_own_address_and_its_chart_as_a_picture(club, event, part, look):
    app = unfolded(page("events", event=event, look=look))
    assert [header.value for header in app.header] == [look, "what goes on paper?"]
    drawn = {"kits": "kits by post", "hours": "hours", "distances": "distances"}
    assert pictures(app) == ({drawn[part]} if part in drawn else set())


def test_what_people_and_kits_bring_to_a_post_is_sent_once_it_is_unfolded(club, event):
    bearing = post_review.looked_at(club.standing(), event, None).bearing
    post, brought = next(
        (post, found[0])
        for post, all_found in bearing.items()
        if (found := [f for f in all_found if f.subject_kind != "post" and f.severity != "blocks"])
    )
    app, card = (
        page("events", event=event, post=post),
        f"brought-{brought.rule}-{brought.status.replace(' ', '-')}",
    )
    with pytest.raises(KeyError):
        app.get_by_key(card)
    assert parts.plain(brought.title) in unfolded(app).get_by_key(card).markdown[0].value


def leafed(app):
    """The table of kits at posts, with all its pages turned."""
    shown = [table(app, "why")]
    for number in range(2, app.get("pagination")[0].num_pages + 1):
        app.get("pagination")[0].set_value(number).run()
        shown.append(table(app, "why"))
    return pd.concat(shown).map(lambda cell: re.sub(r"\\(.)", r"\1", cell))


def test_kits_by_post_are_the_engines_own_answers(club, event):
    told = post_by_kit(club.standing().assessment, event)
    app = page("events", event=event, look=EVENTS["kits"])
    assert f"Rows 1 to {parts.AT_ONCE} of {len(told):,}." in words(app), "a phone shows whole what it shows"
    counted = leafed(app)["answer"].value_counts().to_dict()
    assert counted == {CHANCES[word].label: n for word, n in told["answer"].value_counts().items()}
    able = told[told["answer"].isin(["can", "with limits"])]["post"].nunique()
    assert (able == told["post"].nunique()) == ("can be held by some kit" in posts.kits_title(told))


def test_the_picture_of_kits_by_post_has_its_numbers_behind_it(club, event):
    rows = posts.by_kit(club.standing(), event)
    app = unfolded(page("events", event=event, look=EVENTS["kits"]))
    shown = table(app, "cannot").set_index("post")
    assert list(shown.index) == list(dict.fromkeys(rows["post"])) and list(shown) == list(CHANCES)
    counted = rows.groupby(["post", "answer"]).size()
    assert all(shown.loc[post, answer] == many for (post, answer), many in counted.items())
    assert shown.to_numpy().sum() == len(rows)


def test_kits_that_are_sent_elsewhere_meanwhile_say_so(club):
    told = post_by_kit(club.standing().assessment)
    away = told[told["sent_to"].notna() & ~told["is_assigned"]]
    event = away["event"].value_counts().index[-1]
    shown = leafed(page("events", event=event, look=EVENTS["kits"]))
    wanted = {
        f"no, to {other.removeprefix(f'{event}/')} meanwhile"
        for other in away.loc[away["event"] == event, "sent_to"]
    }
    assert {said for said in shown["is sent there"] if said.startswith("no")} == wanted


def test_kits_that_are_sent_elsewhere_meanwhile_stand_behind_the_others():
    rows = pd.DataFrame(
        [("can", "QA1AA", "a", False, "Ride/Ford", ""), ("can", "QB2BB", "b", False, None, ""),
         ("can", "QC3CC", "c", True, None, ""), ("cannot", "QD4DD", "d", False, None, "x")],
        columns=["answer", "member", "kit", "is_assigned", "sent_to", "reasons"],
    )  # fmt: skip
    assert list(posts.best_first(rows)["kit"]) == ["c", "b", "a", "d"]


def test_one_post_lists_its_kits_best_first_and_says_why_one_cannot(club, event):
    told = post_by_kit(club.standing().assessment, event)
    post = told[told["answer"] == "cannot"]["post"].iloc[0]
    app = page("events", event=event, look=EVENTS["kits"], at_post=post)
    shown = leafed(app)
    place = [[mark.label for mark in CHANCES.values()].index(answer) for answer in shown["answer"]]
    assert place == sorted(place)
    assert len(shown) == int((told["post"] == post).sum())
    worst = shown.iloc[-1]
    app.selectbox(key="why_kit").select(worst["kit"]).run()
    assert not app.exception
    (said,) = [m.value for m in app.markdown if m.value.startswith("- ")]
    assert said.count("\n- ") + 1 >= worst["why"].count("; ") + 1


def test_answers_filter_the_kits(club, event):
    app = page("events", event=event, look=EVENTS["kits"])
    app.pills(key="answers").set_value(["can", "with limits"]).run()
    shown = table(app, "why")
    assert set(shown["answer"]) == {CHANCES["can"].label, CHANCES["with limits"].label}


# ---- a plan


@pytest.fixture(scope="module")
def planned(club, event):
    """The page with a plan worked out on request, and the plan."""
    app = page("events", event=event, look=EVENTS["plan"])
    assert "compare with" not in words(app), "nothing is worked out unasked"
    app.button(key="work-out").click().run()
    assert not app.exception, app.exception[0].stack_trace
    return app, posts.plan(club.standing(), event, 10)[0]


def test_a_plan_is_worked_out_on_request_and_told_with_its_proof(planned):
    app, found = planned
    assert pictures(app) == {"the plan by hour"}
    said = words(app)
    assert "in full" not in said, "the headline stands above the chart, and is not said twice"
    assert ("that is proven" in said) == found.is_proven
    assert len(table(app, "stays as it is")) == len(found.rows)
    assert "how does it compare with the assignments that are sent?" in said


def test_a_plan_that_is_known_is_shown_to_others_at_once(planned, event):
    app = page("events", event=event, look=EVENTS["plan"])
    assert len(table(app, "stays as it is")) == len(planned[1].rows)


def test_the_assignments_that_are_sent_stay_where_that_is_asked(club, planned, event):
    app = page("events", event=event, look=EVENTS["plan"])
    app.multiselect(key=f"stays-{event}").set_value([0]).run()
    app.button(key="work-out").click().run()
    assert not app.exception, app.exception[0].stack_trace
    rows, first = table(app, "stays as it is"), posts.sent(club.standing(), event).iloc[0]
    kept = rows[rows["stays as it is"]]
    assert kept[["post", "member"]].values.tolist() == [[first["post"], first["member"]]]
    app.multiselect(key=f"stays-{event}").set_value(
        list(range(len(posts.sent(club.standing(), event))))
    ).run()
    app.button(key="work-out").click().run()
    rows, sent = table(app, "stays as it is"), club.store.frames()["assignments"]
    kept, sent = rows[rows["stays as it is"]], sent[sent["event"] == event]
    assert set(zip(kept["post"], kept["member"], strict=True)) == set(
        zip(sent["post"], sent["member"], strict=True)
    )


def test_a_plan_can_be_sent_back_as_assignments(club, planned, event):
    payload = parts.csv(posts.as_assignments(planned[1]))
    sent = upload.read("assignments.csv", payload)
    assert sent.is_accepted, sent.problems
    assert len(sent.frame) == len(planned[1].rows)
    assert set(sent.frame["event"]) == {event}


def test_a_plan_is_saved_as_the_assignments_of_its_event_alone(club, planned, event):
    app, found = planned
    before = club.store.frames()["assignments"]
    kept = before[before["event"] != event]
    app.button(key="save-plan").click().run()
    assert not app.exception, app.exception[0].stack_trace
    (said,) = [done.value for done in app.success]
    assert said.startswith(f"Saved: {parts.many(len(found.rows), 'assignment')}. Of ") and said.endswith(
        " now."
    )
    told = club.store.frames()["assignments"]
    names = ["post", "member", "kit", "from", "to"]
    saved = told[told["event"] == event][names].fillna("").sort_values(names, ignore_index=True)
    planned_rows = found.rows[names].fillna("").sort_values(names, ignore_index=True)
    assert saved.astype(str).equals(planned_rows.astype(str))
    assert len(told[told["event"] != event]) == len(kept)
    sent = club.store.uploads().query("stem == 'assignments'")
    assert sent["by"].iloc[0] == "coordinator" and len(sent) == 2
    club.restore(int(sent["upload_id"].iloc[1]), "test")
    again = club.store.frames()["assignments"]
    assert len(again[again["event"] == event]) == len(before) - len(kept)


def test_a_plan_leaves_as_text_whatever_its_cells_begin_with(planned):
    rows = posts.as_assignments(planned[1]).head(1).assign(post="=1+1")
    (line,) = csv.DictReader(io.StringIO(parts.csv(rows).decode("utf-8-sig")))
    assert line["post"] == "'=1+1"


def a_blocked_post() -> None:
    """A page with what still blocks one post."""
    from types import SimpleNamespace

    import pandas as pd

    from dashboard import parts, who_goes_where

    row = (
        "Ford",
        None,
        None,
        "Mast reaches the power line",
        "Ride/Ford: the power line is 6.0 m away.",
        "Write power_line_m.",
    )
    rows = pd.DataFrame([row], columns=["post", "member", "kit", "title", "why", "fix"])
    who_goes_where.blocked(SimpleNamespace(event="Ride", blocked=rows), parts.standing())


def test_what_still_blocks_a_post_names_it_once_with_the_headings_of_columns_and_a_caution(club):
    said = words(AppTest.from_function(a_blocked_post, default_timeout=30).run()).replace("\\", "")
    assert "**Ford**: the power line is 6.0 m away. Write power_line_m (“Power line”)." in said
    assert said.count("Masts and antennas") == 1


def test_nobody_stands_in_two_lanes_of_a_post_at_once(planned):
    found = planned[1]
    bars = posts.lanes(found, list(dict.fromkeys(found.rows["post"])))
    assert len(bars) == len(found.rows) + len(found.uncovered)
    for _, lane in bars.groupby(["post", "lane"]):
        ordered = lane.sort_values("starts")
        assert (ordered["starts"].iloc[1:].to_numpy() >= ordered["ends"].iloc[:-1].to_numpy()).all()


def test_what_is_open_stands_below_the_people():
    at = pd.to_datetime(["2027-04-25T06:00", "2027-04-25T12:00", "2027-04-25T18:00"])
    columns = ["post", "member", "kit", "from", "to", "answer", "leads"]
    rows = pd.DataFrame(
        [
            ("Mile 3", "Q1A", "box", at[0], at[1], "can", True),
            ("Mile 3", "Q2B", None, at[0], at[2], "can", False),
        ],
        columns=columns,
    )
    open_ = pd.DataFrame([("Mile 3", at[1], at[2])], columns=["post", "from", "to"])
    found = type("Found", (), {"rows": rows, "uncovered": open_})
    bars = posts.lanes(found, ["Mile 3"])
    assert list(zip(bars["who"], bars["lane"], strict=True)) == [("Q1A", 0), ("Q2B", 1), ("open", 2)]
    assert bars["kit"].tolist() == ["box", "", ""]


# ---- figures against what is wanted


@pytest.mark.parametrize(
    ("low", "high", "need", "word"),
    [
        (12, 14, 12, "enough"),
        (8, 14, 12, "may fall short"),
        (8, 11.9, 12, "too little"),
        (12, None, 12, "enough"),
        (None, None, 12, "not known"),
        (8, 9, None, "not known"),
    ],
)
def test_hours_from_low_to_high_are_held_against_the_shift(low, high, need, word):
    nothing = float("nan")
    low, high, need = (nothing if value is None else value for value in (low, high, need))
    assert posts.enough(low, high, need) == word
    assert posts.enough(low, high, need, True) == "enough", "on mains"


def test_every_kit_that_is_sent_has_its_hours(club, event):
    now = club.standing()
    rows = posts.hours(now, event)
    (sent,) = (
        now.assessment.con.cursor()
        .execute(
            "select count(distinct (post_id, kit_id)) from assignment join post using (post_id) "
            "join supply using (kit_id) where post.event = ? and supply.is_main",
            [event],
        )
        .fetchone()
    )
    assert len(rows) == sent
    app = unfolded(page("events", event=event, look=EVENTS["hours"]))
    assert len(table(app, "shift (h)")) == sent
    assert parts.CHECK in words(app), "cautions stand where hours are read"


def test_hours_that_hang_on_what_nobody_tells_say_the_least_and_what_to_ask(club):
    now = club.standing()
    of_events = {event: posts.hours(now, event) for event in now.assessment.table("event")["event"]}
    for rows in of_events.values():
        says = rows.loc[rows["untold"].notna(), "says"]
        assert says.str.match("at least |hours not known").all() and not says.str.contains("240").any()
    event, rows = next((event, rows) for event, rows in of_events.items() if posts.hours_untold(rows))
    said = posts.hours_untold(rows)
    is_open = rows["untold"].notna() & rows["enough"].isin(["may fall short", "not known"])
    assert all(any(kit in one for one in said) for kit in rows.loc[is_open, "subject"])
    assert all(one.startswith("Nobody tells ") and ". That may decide about " in one for one in said)
    app = unfolded(page("events", event=event, look=EVENTS["hours"]))
    assert all(one in words(app) for one in said)
    assert "what is not told" in table(app, "shift (h)").columns
    told = rows.assign(untold="nobody tells the hours from UTC", enough="may fall short").head(1)
    assert posts.hours_untold(told)[0].startswith("Nobody tells the hours from UTC.")


def test_one_kit_and_one_post_are_spoken_of_as_one():
    assert posts.hours_title(pd.DataFrame({"enough": ["enough"]})) == "The one kit sent lasts the shift"
    one = pd.DataFrame({"answer": ["can", "cannot"], "post": ["Hut", "Hut"]})
    assert posts.kits_title(one) == "The one post can be held by some kit"
    assert posts.distance_title(pd.DataFrame({"enough": ["enough"]})).startswith(
        "The one antenna stands far enough"
    )
    assert (
        posts.distance_title(pd.DataFrame({"enough": ["too little"]}))
        == "The one antenna stands too near to people"
    )
    assert posts.distance_title(pd.DataFrame({"enough": ["not known"]})).startswith(
        "Whether the one antenna "
    )
    of_two = pd.DataFrame({"post": ["Hut", "Gate"], "verdict": ["not ready", "not ready"]})
    assert post_review.headline("Fair", of_two) == "Each of the 2 posts of Fair is not ready."
    assert post_review.headline("Fair", of_two.head(1)) == "The one post of Fair is not ready."


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({"Hut": ["cannot"], "Gate": ["can"]}, "No kit can hold 1 of 2 posts as it stands"),
        (
            {"Hut": ["cannot", "not known"], "Gate": ["can"]},
            "No kit is known to hold 1 of 2 posts as it stands",
        ),
        (
            {"Hut": ["cannot"], "Gate": ["not known"], "Ford": ["with limits"]},
            "No kit can hold 1 of 3 posts as it stands; for 1 more none is known to",
        ),
        ({"Hut": ["can"], "Gate": ["with limits"]}, "Each of 2 posts can be held by some kit"),
        ({"Hut": ["cannot", "not known"]}, "No kit is known to hold the one post as it stands"),
    ],
)
def test_a_post_that_some_kit_may_hold_is_not_called_one_that_none_can(answers, said):
    rows = pd.DataFrame(
        [(post, one) for post, some in answers.items() for one in some], columns=["post", "answer"]
    )
    assert posts.kits_title(rows) == said


@pytest.mark.parametrize(
    ("power", "antenna", "asked", "word"),
    [
        (True, True, (True, True), "● power and antenna"),
        (False, True, (True, True), "▲ antenna only"),
        (False, False, (True, True), "■ neither"),
        (None, True, (True, True), "◇ not known"),
        (None, True, (False, True), "● antenna"),
        (None, False, (False, True), "■ no antenna"),
        (None, None, (False, False), "nothing to swap"),
    ],
)
def test_a_swap_is_told_by_what_is_asked(power, antenna, asked, word):
    assert posts.swap_word(power, antenna, asked) == word


def test_swaps_stand_as_a_matrix_of_one_post(club):
    now = club.standing()
    event = next(e for e in now.of("event")["subject"] if len(posts.swaps(now, e)))
    rows = posts.swaps(now, event)
    app = page("events", event=event, look=EVENTS["swaps"])
    first = rows[rows["post"] == rows["post"].iloc[0]]
    matrix = table(app, "gear of … works at …")
    assert "An empty cell: the two do not meet there" in words(app)
    assert matrix.shape == (first["from"].nunique(), first["to"].nunique())
    pair = first.iloc[0]
    assert matrix.loc[pair["from"], pair["to"]] == pair["answer"]


def test_distances_take_the_band_that_asks_most_and_carry_their_cautions(club, event):
    now = club.standing()
    rows = posts.distances(now, event)
    assert not rows.empty
    assert (rows["high"] >= rows["low"]).all(), "everyone else stays farther away than the crew"
    most = (
        now.assessment.con.cursor()
        .execute(
            "select max(public_safe_m) from exposure join post_kit using (post_kit_id) join post using (post_id) "
            "where is_assigned and event = ?",
            [event],
        )
        .fetchone()[0]
    )
    assert rows["high"].max() == most
    said = words(page("events", event=event, look=EVENTS["distances"]))
    assert parts.plain(parts.CAUTIONS["exposure"]) in said
    assert "estimates" in said
    assert "write it in the list of posts, under “Public”" in said
    kept = posts.kept_up(pd.DataFrame({"low": [1.21, None], "high": [2.2, None]}))
    assert kept["low"].iloc[0] == 1.3 and kept["high"].iloc[0] == 2.2 and kept.iloc[1].isna().all()
    assert posts.distance_words(1.23, 2.05, float("nan")) == "people 2.1 m, crew 1.3 m; how near is not told"


# ---- charts


def spec(chart) -> dict:
    return chart.to_dict()


def datasets(drawn: dict) -> list[dict]:
    return [row for data in drawn["datasets"].values() for row in data]


def test_a_bar_of_hours_ends_at_twice_the_shift_and_keeps_its_words():
    frame = pd.DataFrame(
        [("a", 58.0, 58.0, 12.0, "enough", "58 h of 12 h"), ("b", None, None, 8.0, "not known", "?")],
        columns=["subject", "low", "high", "need", "enough", "says"],
    )
    rows = datasets(spec(charts.spans(frame, "All last", "hours")))
    assert rows[0]["right"] == 24.0
    assert rows[0]["left"] < 24.0, "one figure is still drawn"
    assert rows[0]["text"] == f"{ENOUGH['enough'].shape} a"
    assert rows[1]["right"] is None
    assert [row["is_beyond"] for row in rows[:2]] == [True, False], "an arrow says that it goes on"


def test_a_timeline_writes_a_name_only_where_it_fits():
    at = pd.to_datetime(["2027-04-25T00:00", "2027-04-25T01:00", "2027-04-27T00:00"])
    frame = pd.DataFrame(
        [
            ("Mile 3", 0, "Q1ABCD", "box", "can", at[0], at[1]),
            ("Mile 3", 1, "Q2B", "", "cannot", at[0], at[2]),
        ],
        columns=["post", "lane", "who", "kit", "answer", "starts", "ends"],
    )
    drawn = spec(charts.timeline(frame, "Two"))
    alone = standing_alone(drawing.drawn(charts.timeline(frame, "Two")))
    narrow, wide = (
        vl_convert.vegalite_to_svg(alone | {"width": width}) for width in (drawing.NARROW_PX, 2400)
    )
    assert ">●<" in narrow and ">■ Q2B<" in narrow and "Q1ABCD<" not in narrow
    assert ">● Q1ABCD<" in wide and ">■ Q2B<" in wide
    assert drawn["layer"][0]["encoding"]["y"]["scale"]["domain"] == ["Mile 3", "Mile 3\t0", "Mile 3\t1"]


def test_every_post_keeps_its_row_in_the_count_of_kits():
    rows = pd.DataFrame([("Z", "can"), ("Z", "cannot"), ("A", "cannot")], columns=["post", "answer"])
    counted = posts.counts(rows)
    assert counted["post"].tolist() == ["Z"] * 4 + ["A"] * 4
    says = [
        (row["post"], row["says"]) for row in datasets(spec(charts.chances(counted, "One"))) if "says" in row
    ]
    assert says == [("Z", "● 1, ■ 1"), ("A", "■ 1")]


@pytest.mark.parametrize(
    ("enough", "said"),
    [
        (["not known"] * 2, "None of 2 antennas is known to stand too near to people; how near people come to 2 is not known"),
        (["too little", "enough"], "1 of 2 antennas is known to stand too near to people"),
        (["too little"] * 2, "2 of 2 antennas are known to stand too near to people"),
    ],
)  # fmt: skip
def test_no_antenna_counts_as_far_enough_while_it_is_not_known(enough, said):
    assert posts.distance_title(pd.DataFrame({"enough": enough})) == said


# ---- what to buy


@pytest.fixture(scope="module")
def bought(club):
    """The page of purchases with a plan for 300 USD, and the plan."""
    app = page("purchases", budget="300")
    assert app.slider(key="budget").value == 300
    assert not any("what" in f.value.columns for f in app.dataframe), "nothing is worked out unasked"
    app.button(key="work-out").click().run()
    assert not app.exception, app.exception[0].stack_trace
    return app, club.standing().kept.once(("buy", 300), pytest.fail)


def test_the_buy_list_keeps_to_the_budget_and_says_what_it_closes(bought):
    app, found = bought
    shown = app.table[0].value
    assert 0 < shown["cost"].str.extract(r"([0-9,.]+)\u00a0USD")[0].astype(float).sum() <= 300
    assert shown["closes"].str.len().gt(0).all()
    theirs = zip(shown["for whom"], shown["closes"], strict=True)
    assert not any(closes.startswith(f"{whom}\\:") for whom, closes in theirs), "for whom is said once"
    about = "About " if any(line.is_estimate for line in found.lines) else ""
    assert f"**{about}{found.spent_usd:,.0f} USD close" in words(app).replace("\\", "")
    exact, guess = (
        replace(found, lines=[replace(line, is_estimate=is_so) for line in found.lines])
        for is_so in (False, True)
    )
    for said in (buying.plan_words, sheet.brings, money.spent):
        assert ["About " in said(one) for one in (exact, guess)] == [False, True]
    assert len(shown) == len(found.lines)
    assert "budgets" in pictures(unfolded(app))


def test_more_money_closes_no_less(bought, club):
    points = club.standing().kept.once("frontier", pytest.fail)
    assert points["gap_share"].is_monotonic_increasing
    assert points["gap_share"].iloc[0] == 0
    assert points["gap_share"].iloc[-1] > 0


def test_what_blocks_and_is_not_known_with_it_bought_is_said(bought, monkeypatch):
    plan = replace(bought[1], untold=("Q1ABC/bag: No fuse at the battery",))
    monkeypatch.setattr(buying, "plan", lambda now, budget: plan)
    said = words(page("purchases", budget="200")).replace("\\", "")
    assert f"{sheet.UNTOLD}:\n- Q1ABC/bag: No fuse at the battery" in said


def test_moving_the_budget_needs_no_second_asking(bought):
    app = page("purchases", budget="0")
    assert "work-out" not in [button.key for button in app.button]
    assert "Nothing that closes a finding can be bought within this budget." in words(app)


def test_replacements_are_counted_by_year_and_the_unknown_apart(club):
    app = unfolded(page("purchases", budget="300"))
    (told,) = [each for each in app.dataframe if "due" in each.value]
    assert json.loads(told.proto.columns)["due"]["type_config"]["format"] == days.DAY
    due = table(app, "price from")
    assert len(due) == len(replacements(club.standing().assessment, 3))
    rows = pd.DataFrame(
        [
            ("radio", 2027, 1134.0, 1134.0, 1134.0),
            ("pack", 2027, 50.0, 20.0, 80.0),
            ("lamp", None, 9.0, 5.0, 20.0),
        ],
        columns=["item", "year", "cost_usd", "low_usd", "high_usd"],
    ).astype({"year": "Int64"})
    drawn = spec(charts.replacements(buying.by_year(rows), "Soon"))
    assert [row["says"] for row in datasets(drawn)] == ["2027: about 1,200 USD, 2 things"], (
        "1,154 to 1,214 read alike in two figures"
    )
    assert buying.due_title(rows.assign(high_usd=rows["high_usd"] * 3)) == (
        "About 1,200 to 3,600 USD fall due within 3 years; the age of 1 thing is not written down"
    )
    assert buying.due_title(rows[2:]) == "What falls due is not known: the age of 1 thing is not written down"


def test_the_frontier_marks_the_budget_in_question():
    points = pd.DataFrame(
        [(0, 0.0, 0, 0), (500, 0.2, 1, 0)], columns=["budget_usd", "gap_share", "kits_ready", "posts_opened"]
    )
    drawn = spec(charts.frontier(points, 300, "More"))
    assert {"budget_usd": 300} in datasets(drawn)
    assert any(row.get("label") == "500 USD close 20%" for row in datasets(drawn))


# ---- one kit


def whole_kit(club, is_weak: bool) -> tuple[str, str]:
    """A kit with a whole station that hangs, or does not hang, on single things."""
    return (
        club.standing()
        .assessment.con.cursor()
        .execute(
            "select member, kit from station join kit using (kit_id) where stations_low > 0 and (weak_lines <> []) = ? "
            "order by all limit 1",
            [is_weak],
        )
        .fetchone()
    )


@pytest.mark.parametrize("is_weak", [True, False])
def test_the_station_of_a_kit_marks_what_it_hangs_on(club, is_weak):
    member, kit = whole_kit(club, is_weak)
    rows = kits.station(club.standing(), member, kit)
    assert (rows["link"] == "no stand-in").any() == is_weak
    assert rows["role"].iloc[0] == "power"
    assert rows["role"].iloc[-1] == "antenna"
    app = unfolded(page("kit", member=member, kit=kit))
    assert f"what does {parts.plain(kit)} hang on?" in words(app)
    assert table(app, "link")["item"].tolist() == rows["item"].tolist()


@pytest.mark.parametrize("kind", ["kit", "member", "post", "event"])
def test_pages_say_what_is_worth_finding_out_first(club, kind):
    scores = club.standing().scores
    row = next(
        row
        for row in scores[(scores["subject_kind"] == kind) & (scores["low"] < scores["high"])].itertuples()
    )
    told = kits.worth_asking(club.standing(), kind, row.subject)
    which = {
        name: value
        for name in ("member", "kit", "event", "post")
        if isinstance(value := getattr(row, name), str)
    }
    app = unfolded(page("kit" if kind in ("kit", "member") else "events", **which))
    first = table(app, f"if it is so, the {kind} would be")
    assert first["not known"].tolist() == told["not known"].map(parts.plain).tolist()


@pytest.mark.parametrize("kind", ["kit", "member", "post", "event"])
def test_pages_say_where_no_single_thing_moves_the_verdict(club, kind):
    now = club.standing()
    said = {}
    for row in now.scores[now.scores["subject_kind"] == kind].itertuples():
        told = kits.what_changes(now, kind, row.subject)
        if len(told):
            is_moved = row.verdict == "ready" or set(told[f"the {kind} would be"]) > {
                VERDICTS[row.verdict].label
            }
            said.setdefault(is_moved, (row, kits.why_none_moves(now, kind, row.subject, told)))
    assert True not in said or said[True][1] == ""
    row, sentence = said[False]
    assert sentence
    which = {
        name: value
        for name in ("member", "kit", "event", "post")
        if isinstance(value := getattr(row, name), str)
    }
    assert sentence in words(unfolded(page("kit" if kind in ("kit", "member") else "events", **which)))


@pytest.mark.parametrize(("most", "said"), [("= 0", "No whole station: it"), ("> 0", "does not fit, it")])
def test_a_kit_without_a_certain_station_says_what_it_lacks(club, most, said):
    query = "select member, kit, missing_link from station join kit using (kit_id) where missing_link <> ''"
    con = club.standing().assessment.con.cursor()
    member, kit, lacks = con.execute(f"{query} and stations_high {most} order by all limit 1").fetchone()
    assert f"{said} lacks {lacks}." in words(page("kit", member=member, kit=kit))


@pytest.mark.parametrize(
    ("weak", "said"),
    [
        (0, "Nothing in this station is the only one of its kind"),
        (1, "Without thing 0 there is no station"),
        (2, "2 things have no stand-in: without any one of them there is no station"),
    ],
)
def test_the_title_of_a_station_says_what_ends_it(weak, said):
    links = [("no stand-in" if number < weak else "has a stand-in", f"thing {number}") for number in range(3)]
    assert kits.station_title(pd.DataFrame(links, columns=["link", "item"])) == said


def test_a_kit_says_what_one_more_of_would_make_another_station(club):
    con = club.standing().assessment.con.cursor()
    query = "select member, kit, label from station join kit using (kit_id) join kind on kind = spare_kind"
    member, kit, label = con.execute(f"{query} where stations_low > 0 order by all limit 1").fetchone()
    said = "One more would make another whole station"
    assert f"{said}: {label}." in words(page("kit", member=member, kit=kit))
    query = (
        "select member, kit from station join kit using (kit_id) where stations_low > 0 and spare_kind = ''"
    )
    member, kit = con.execute(f"{query} order by all limit 1").fetchone()
    assert said not in words(page("kit", member=member, kit=kit))


def verdict_marks(words):
    return [parts.plain(VERDICTS[word].label) for word in words]


@pytest.mark.parametrize("kind", ["member", "post", "event"])
def test_what_would_change_a_verdict_is_the_scores_own_answer(club, kind):
    row = club.standing().of(kind).query("verdict == 'not ready'").iloc[0]
    told = changes(club.standing().assessment, kind, row["subject"])
    asked = {name: row[name] for name in ("member", "event", "post") if row[name]}
    shown = table(unfolded(page("kit" if kind == "member" else "events", **asked)), f"the {kind} would be")
    assert len(told) > 0
    assert shown[f"the {kind} would be"].tolist() == verdict_marks(told["verdict_after"])


def test_what_would_change_a_kit_is_the_scores_own_answer(club):
    member, kit = whole_kit(club, True)
    app = page("kit", member=member, kit=kit)
    told = changes(club.standing().assessment, "kit", f"{member}/{kit}")
    shown = table(app, "if this were put right")
    assert len(told) > 0
    assert shown["the kit would be"].tolist() == verdict_marks(told["verdict_after"])
    assert list(shown).index("the kit would be") == 1, "the answer stands beside what it is about"


def test_hours_of_a_members_kits_stand_on_their_page(club):
    member, kit = whole_kit(club, True)
    rows = kits.hours(club.standing(), member)
    assert kit in rows["subject"].tolist()
    assert "how long do the batteries last?" in words(page("kit", member=member))


def test_a_chain_says_each_link_with_its_shape():
    rows = pd.DataFrame(
        [("pack", "power", "has a stand-in"), ("whip", "antenna", "no stand-in")],
        columns=["item", "role", "link"],
    )
    drawn = spec(charts.station(rows, kits.station_title(rows)))
    assert [row["says"] for row in datasets(drawn)] == [
        "● pack: power, has a stand-in",
        "▲ whip: antenna, no stand-in",
    ]
    assert drawn["title"]["text"] == ["Without whip there is no station"]
