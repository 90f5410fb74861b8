"""The pages: what they say of a club, what becomes of a file that is sent, and what never gets through."""

import csv
import io
import json
import re
from dataclasses import replace

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import evidence_tables, kits, parts, post_review, sending, serve, standing, units
from data import reference, schema, upload
from data.database import StoreError
from data.store import Store
from rules.rule import FAMILIES, load_rules
from rules.score import next_steps
from tests.pages import alone, chart_title, invented, page, table, unfolded, words
from tests.tools import awaited

GOOD = (
    b"member,kit,item,kind,quantity,notes\n"
    b"QX1NEW,first bag,radio,handheld,1,\n"
    b"QX1NEW,first bag,pack,handheld_pack,2,\n"
)
WALK = b"event,starts,ends\nMoor Walk,2027-03-13T07:00,2027-03-13T18:00\n"
GATE = b"event,post,post_type\nMoor Walk,Gate,mile_marker\n"
BAD = (
    b"member,kit,item,kind,quantity\nQX1NEW,first bag,radio,handheld,two\nQX1NEW,first bag,thing,nonsense,1\n"
)
NASTY = "![x](http://host.invalid/t.png) **loud** <b>tag</b> :red[ink] $x^2$ `code`"


@pytest.fixture(scope="module")
def demo_club(tmp_path_factory):
    """The invented club, open for reading."""
    with invented(tmp_path_factory.mktemp("demo")) as club:
        yield club


@pytest.fixture
def empty_club(tmp_path):
    """A club that nobody has told anything; whatever a test sends to it is its own."""
    with alone():
        yield standing.open_club(tmp_path / "club.duckdb")


def send(app: AppTest, name: str, payload: bytes) -> AppTest:
    app.file_uploader[0].upload(name, payload, "text/csv").run()
    assert not app.exception, app.exception[0].stack_trace
    return app


# ---- the pages of the invented club


@pytest.mark.parametrize("view", ["", "kit", "send", "events", "rulebook"])
def test_every_page_stands(demo_club, view):
    app = page(view)
    assert len(app.title) == 1


@pytest.mark.parametrize("view", ["after", "whatif"])
def test_a_page_of_an_event_stands_before_the_first_kit_is_sent(empty_club, view):
    told = {
        "events": "event,starts,ends\nRide,2026-12-19T09:00,2026-12-19T12:00\n",
        "posts": "event,post,post_type\nRide,Corner,mile_marker\n",
        "assignments": "event,post,member,kit\nRide,Corner,QX1NEW,bag\n",
    }
    for stem, text in told.items():
        empty_club.store.accept(upload.read(f"{stem}.csv", text.encode()), "a test")
    assert not page(view).exception


def test_the_season_counts_every_kit_once(demo_club):
    app = page()
    kits = demo_club.standing().of("kit")
    assert sum(int(metric.value) for metric in app.metric) == len(kits)
    assert f"Of {len(kits)} kits of {len(demo_club.standing().of('member'))} members" in words(app)
    assert "What blocks or limits most often" in words(app), "advice is counted in the chart alone"
    assert "An empty cell: no rule of that question applies to this kit." in words(app)


def test_choosing_a_cell_shows_the_findings_behind_it(demo_club):
    app = page()
    cells = demo_club.standing().cells["kit"]
    cell = cells[cells["worst"] == "blocks"].iloc[0]
    app.selectbox(key="look_subject").select(cell["subject"])
    app.selectbox(key="look_family").select(cell["family"]).run()
    assert f"{parts.plain(cell['subject'])}: {FAMILIES[cell['family']]}" in words(app)
    behind = [
        f
        for f in demo_club.standing().assessment.findings("s.member = ?", [cell["member"]])
        if f.kit == cell["kit"] and f.family == cell["family"] and f.subject_kind in ("item", "kit", "member")
    ]
    assert behind
    assert parts.plain(behind[0].sentence) in words(app)


def test_choosing_a_gap_shows_whom_it_concerns(demo_club):
    app = page()
    gap = demo_club.standing().gaps.iloc[0]
    app.selectbox(key="look_gap").select(gap["rule"]).run()
    assert f"{parts.plain(gap['title'])}**" in words(app)


def test_a_link_opens_a_member(demo_club):
    member = demo_club.standing().of("member").iloc[3]["subject"]
    app = page("kit", member=member)
    assert app.selectbox(key="member").value == member
    assert f"{parts.plain(member)} is " in words(app)


def test_what_a_link_asks_for_stands_in_the_address_of_the_page_it_leads_to(demo_club):
    app = page("kit", member="QC8MRS")
    for view, asked in (("mine", "QC8MRS"), ("kit", ["QA1BCD", "QC8MRS"])):  # what was chosen comes behind
        app.switch_page(f"views/{view}.py")
        app.query_params["member"] = asked
        app.run()
        assert not app.exception
        wanted = asked if isinstance(asked, str) else asked[0]
        assert app.query_params["member"] == app.selectbox(key="member").value == wanted
    app.switch_page("views/season.py").run()
    assert app.query_params == {}, "a page that asks for no member names none"


def test_a_member_gets_at_most_three_things_to_fix_first_with_their_mending(demo_club):
    now = demo_club.standing()
    member = now.of("member").sort_values("low").iloc[0]["subject"]
    app = page("kit", member=member)
    steps = next_steps(now.assessment, member, 3)
    assert 1 <= len(steps) <= 3
    for number, step in enumerate(steps, 1):
        assert f"{number}. {parts.plain(step.title)}" in [element.value for element in app.subheader]
        fix = parts.plain(units.in_finding(step.fix, step))
        assert any(fix in element.value for element in app.markdown)


def test_a_member_is_told_what_blocks_though_it_is_in_no_kit(demo_club):
    found = demo_club.standing().findings("j.subject_kind = 'member' and j.severity_no = 0 and not ok", [])
    assert "This blocks and concerns the member, not a kit: “" in words(page("kit", member=found[0].member))


def test_lines_that_follow_each_other_are_told_as_a_range(demo_club):
    (found,) = demo_club.standing().findings("true", [])[:1]
    shown = evidence_tables.evidence_frame([replace(found, file="inventory", lines=[130, 12, 128, 129, 140])])
    assert shown["lines of inventory.csv"].tolist() == ["12, 128 to 130, 140"]


def test_evidence_says_what_it_is_about_where_it_is_of_several(demo_club):
    found = demo_club.standing().findings("true", [])[:2]
    assert evidence_tables.evidence_frame(found)["about"].tolist() == [f.subject for f in found]
    assert not {"about", "status"} & set(evidence_tables.evidence_frame(found[:1]).columns)


def test_the_evidence_of_one_finding_stands_in_lines(demo_club):
    now = demo_club.standing()
    event = now.of("event").iloc[0]["subject"]
    app = page("events", event=event)
    own = [f for f in now.findings("s.event = ?", [event]) if f.post is None]
    alone = [f for f in own if [(g.rule, g.status) for g in own].count((f.rule, f.status)) == 1]
    name, value = next(iter(evidence_tables.evidence_frame(alone[:1]).iloc[0].items()))
    assert f"- {parts.plain(f'{name}: {value}')}" in words(app)
    assert not any(name in table.value for table in app.dataframe)


def test_the_evidence_of_several_findings_says_once_what_is_the_same_of_all():
    evidence = pd.DataFrame(
        [("Q1AAA/box", "4", "yes", "12 to 14"), ("Q2BBB/bag", "4", "no", None)],
        columns=["about", "coldest (°C)", "has a mast", "lines of inventory.csv"],
    )
    alike, rest = evidence_tables.evidence_told(evidence)
    assert alike == ["coldest (°C): 4"]
    assert rest.values.tolist() == [
        ["Q1AAA/box", "has a mast: yes; lines of inventory.csv: 12 to 14"],
        ["Q2BBB/bag", "has a mast: no"],
    ]
    alike, rest = evidence_tables.evidence_told(evidence[["about", "coldest (°C)"]])
    assert (alike, list(rest)) == (["coldest (°C): 4"], ["about"]), "nothing differs, so no empty column"


def test_what_is_not_known_of_a_post_is_said_behind_each_lack_of_it(demo_club):
    found = demo_club.standing().findings("true", [])
    unknown = next(f for f in found if f.status == "not known" and f.severity == "blocks")
    limit = next(f for f in found if f.status == "not met" and f.severity == "limits")
    assert post_review.lacks([limit, unknown]) == f"{unknown.title} (not known); {limit.title}"
    assert (
        post_review.in_short([limit, unknown]) == f"{unknown.title} (not known); besides 1 that would limit"
    )
    block = replace(unknown, title="No antenna", status="not met")
    said = post_review.in_short([limit, unknown, block])
    assert said == "No antenna; besides 1 not known that could block and 1 that would limit"
    assert post_review.in_short([limit]) == limit.title and post_review.in_short([]) == post_review.NOTHING


def test_what_blocks_a_post_alone_is_not_said_to_block_who_is_sent_there(demo_club):
    now = demo_club.standing()
    at_posts = {
        f.member for f in now.findings("s.member is not null", []) if f.subject_kind == "post" and is_grave(f)
    }
    in_person = {f.member for f in now.findings("j.subject_kind = 'member'", []) if is_grave(f)}
    members = now.of("member").query("verdict != 'not ready'")["subject"]
    member = next(name for name in members if name in at_posts - in_person)
    said = words(page("kit", member=member))
    assert "This blocks and concerns the member, not a kit" not in said
    assert "This blocks the posts that they are sent to, and counts there: “" in said


def test_who_comes_without_a_kit_is_said_to_bring_none(demo_club):
    sent = demo_club.standing().assessment.table("assignment")
    post = (
        demo_club.standing()
        .assessment.table("post")
        .set_index("post_id")
        .loc[sent[sent["kit_id"].isna()]["post_id"].iloc[0]]
    )
    shown = table(page("events", event=post["event"], post=post["post"]), "kit")
    assert "none" in shown["kit"].tolist() and "" not in shown["kit"].tolist()


def is_grave(finding):
    return finding.status == "not met" and finding.severity == "blocks"


def test_a_high_score_that_is_not_ready_is_explained_and_no_other(demo_club):
    scores = demo_club.standing().scores.query("subject_kind in ('kit', 'member')")
    not_ready = set(scores.query("verdict == 'not ready'")["member"])
    for members, is_said in ((not_ready, True), (set(scores["member"]) - not_ready, False)):
        said = "One thing that blocks is enough for not ready, however high the score" in words(
            page("kit", member=min(members))
        )
        assert said is is_said


def test_an_earlier_version_is_told_in_words_and_the_edition_of_its_rules_beside_them(demo_club, monkeypatch):
    app = page("records")
    app.button(key="work-out").click().run()
    rules = demo_club.then(demo_club.store.version()).rules
    assert "by the rules as they are today and by the standard policy, which was in force" in words(app)
    assert rules not in words(app)
    assert [small.value for small in app.caption] == [f"Edition of the rules now: {rules}."]
    monkeypatch.setattr(standing.edition, "digest", lambda own: "another")
    app.button(key="work-out").click().run()
    assert [small.value for small in app.caption] == [f"Edition of the rules now: another; then: {rules}."]


def test_the_records_say_what_was_changed_and_what_a_policy_said(empty_club):
    app = page("records")
    assert "There is no earlier version yet." in words(app)
    empty_club.store.accept(upload.read("inventory.csv", GOOD), "test")
    empty_club.set_policy("[weight]\nadvice = 0.5\n", "coordinator", "a short season")
    empty_club.set_policy("[weight]\nadvice = 2\n", "coordinator", "a long season")
    app = page("records")
    assert table(app, "version")["what"].tolist()[0] == parts.plain("policy changed: a long season")
    assert table(app, "version")["version"].tolist() == ["3", "2", "1"]
    assert table(app, "why")["why"].tolist() == ["a long season", "a short season"]
    app.selectbox(key="policies-one").select(1).run()
    assert "advice = 0.5" in app.code[0].value


def test_a_list_that_would_take_more_away_than_it_brings_is_warned_of(empty_club):
    empty_club.store.accept(upload.read("members.csv", b"member\nQ1AAA\nQ2BBB\nQ3CCC\n"), "test")
    app = send(page("send"), "members.csv", b"member\nQ4DDD\n")
    (said,) = [warning.value for warning in app.warning]
    assert "3 rows that stand now are not in this file" in said
    app = send(page("send"), "members.csv", b"member\nQ1AAA\nQ2BBB\nQ4DDD\n")
    assert not app.warning


def test_rows_that_name_what_is_not_there_are_warned_of_before_they_are_put_in_force(empty_club):
    for name, told in (("events", WALK), ("posts", GATE), ("inventory", GOOD)):
        empty_club.store.accept(upload.read(f"{name}.csv", told), "test")
    sent = b"event,post,member,kit\nMoor Walk,gate,QX1NEW,first bag\nMoor Walk,Gate,QX1NEW,First Bag\n"
    app = send(page("send"), "who goes.csv", sent)
    (said,) = [warning.value for warning in app.warning]
    assert "name what is not there" in said and "count for nothing" in said
    told = words(app).replace("\\", "")
    assert (
        'who goes.csv line 2, post: "gate" is not a post of Moor Walk. Write "Gate", or add the post' in told
    )
    assert (
        'who goes.csv line 3, kit: "First Bag" is not a kit in an inventory of QX1NEW. Write "first bag"'
        in told
    )
    assert app.button(key="accept").label == "Put 1 file in force"
    app = send(
        page("send"), "who goes.csv", sent.replace(b"gate", b"Gate").replace(b"First Bag", b"first bag")
    )
    assert not app.warning


def test_rows_that_count_for_nothing_are_said_where_the_club_and_an_event_are_looked_at(empty_club):
    for name, told in (("events", WALK), ("inventory", GOOD)):
        empty_club.store.accept(upload.read(f"{name}.csv", told), "test")
    app = page("events")
    assert "Send posts.csv with its name in the column event, or name them by hand." in app.info[0].value
    for name, told in (("posts", GATE), ("assignments", b"event,post,member\nMoor Walk,Gaet,QX1NEW\n")):
        empty_club.store.accept(upload.read(f"{name}.csv", told), "test")
    for view, heading in (
        ("events", "what concerns the whole event?"),
        ("season", "what concerns the whole club?"),
    ):
        app = page(view)
        assert heading in [header.value for header in app.header]
        assert "assignments.csv line 2: no post Gaet at Moor Walk" in words(app).replace("\\", "")


def test_what_one_member_sends_is_not_held_against_the_names_of_others(empty_club):
    empty_club.store.accept(upload.read("inventory.csv", GOOD), "test")
    (wrong,) = empty_club.leads_nowhere(
        [upload.read("kits.csv", b"member,kit\nQX1NEV,first bag\n")], "QX1NEV"
    )
    assert wrong.column == "kit" and "QX1NEW" not in str(wrong)


def test_a_member_of_whom_something_is_not_known_is_told_what(empty_club):
    rows = GOOD + b"QX1NEW,first bag,whip,whip,1,\n"
    empty_club.store.accept(upload.read("inventory.csv", rows), "test")
    app = page("kit", member="QX1NEW")
    assert empty_club.standing().of("member").iloc[0]["verdict"] == "not known"
    assert "This is not known and concerns the member, not a kit: “Licence is over”." in words(app).replace(
        "\\", ""
    )
    (title,) = [
        t for one in app.get("vega_lite_chart") if "planned" in (t := chart_title(json.loads(one.proto.spec)))
    ]
    assert title == "The one kit lasts as long as planned"
    assert re.search(r"\n\d+ of \d+ findings\.", words(app))


def test_of_a_member_without_a_kit_it_is_said_that_none_was_sent(empty_club):
    rows = b"member,licence_class,licence_expires\nQX1NEW,general,2099-01-01\n"
    empty_club.store.accept(upload.read("members.csv", rows), "test")
    said = words(page("kit", member="QX1NEW"))
    assert "QX1NEW is" in said and "not known" in said and "score 0 to 100 of 100" in said
    assert "No kit of this member has been sent yet, so what they can bring is not known." in said
    assert "in order" not in said and "every rule" not in said


def test_nobody_is_asked_to_choose_where_there_is_only_one(empty_club):
    for name, told in (("inventory", GOOD), ("events", WALK)):
        empty_club.store.accept(upload.read(f"{name}.csv", told), "a test")
    for view, asked in {"kit": {}, "inspect": {}, "lists": {"list": "posts of an event"}}.items():
        app = page(view, **asked)
        key, one = ("event", "Moor Walk") if asked else ("member", "QX1NEW")
        assert app.selectbox(key=key).value == one
        assert "Choose" not in words(app)


def test_a_link_to_nobody_asks_whom_to_show(demo_club):
    app = page("kit", member="QZ0NOBODY")
    assert app.selectbox(key="member").value is None
    assert "Choose whose kit" in words(app)


def test_an_event_names_a_verdict_and_a_lack_for_each_post(demo_club):
    posts = demo_club.standing().of("post")
    event = posts.iloc[0]["event"]
    app = page("events", event=event)
    table = app.table[0].value
    assert len(table) == (posts["event"] == event).sum()
    not_ready = table[table["verdict"].str.contains("not ready")]
    assert not not_ready.empty
    assert not not_ready["lacks"].str.contains("nothing").any(), "what is not ready must say why"


def test_what_makes_a_post_not_ready_is_not_folded_away(demo_club):
    posts = demo_club.standing().of("post")
    row = posts[posts["verdict"] == "not ready"].iloc[0]
    app = page("events", event=row["event"], post=row["post"])
    assert any("blocks" in element.value for element in app.markdown)
    folded = [found.value for box in app.expander for found in box.markdown if "people and kits" in box.label]
    assert not any("blocks" in text for text in folded)


def test_a_post_where_no_traffic_or_storm_is_told_of_bears_its_caution(empty_club):
    """As on paper: only where it is told that there is none nothing is said of it."""
    at = "2099-04-25T"
    events = "event,starts,ends,shelter,storms_possible\n" + "".join(
        f"{name},{at}06:00,{at}12:00,hall,{storm}\n"
        for name, storm in (("Run", "no"), ("Ride", ""), ("Walk", "yes"))
    )
    posts = "event,post,post_type,beside_traffic\n" + "".join(
        f"{event},{event} {traffic or 'open'},aid_station,{traffic}\n"
        for event in ("Run", "Ride", "Walk") for traffic in ("no", "", "yes")
    )  # fmt: skip
    for name, text in (("events", events), ("posts", posts)):
        empty_club.store.accept(upload.read(f"{name}.csv", text.encode()), "test")
    for event, traffic in (("Run", "no"), ("Ride", "open"), ("Walk", "yes")):
        said = words(page("events", event=event, post=f"{event} {traffic}"))
        for hazard in ("lightning", "traffic"):
            assert (parts.plain(parts.CAUTIONS[hazard]) in said) == (event != "Run"), (event, hazard)
        assert parts.CHECK in said or event == "Run"


def test_a_link_opens_a_rule_with_its_source(demo_club):
    rule = load_rules()[-1]
    app = page("rulebook", rule=rule.name)
    assert app.selectbox(key="rule_name").value == rule.name
    assert parts.plain(rule.why) in words(app)
    source = parts.plain(rule.source)
    assert f"**Source.** {source[0].upper()}{source[1:]}" in words(app), (
        "a sentence, from its first letter on"
    )


def test_a_rule_says_whether_it_judges_people_or_kits_at_posts(demo_club):
    assert "judges each person at their post" in words(page("rulebook", rule="no_identity_card"))
    assert "judges each kit at its post" in words(page("rulebook", rule="no_light_for_the_dark"))


def test_the_rule_book_narrows_to_a_question(demo_club):
    app = page("rulebook")
    family = load_rules()[0].family
    app.selectbox(key="rule_family").select(family).run()
    assert set(app.selectbox(key="rule_name").options) == {
        r.title for r in load_rules() if r.family == family
    }


# ---- sending


@pytest.mark.parametrize("view", ["events", "whatif", "after"])
def test_an_empty_club_says_which_files_tell_of_an_event(empty_club, view):
    said = words(page(view))
    assert "Send events.csv, posts.csv and assignments.csv" in said and "inventory" not in said


def test_where_there_is_little_to_find_but_rules_it_says_so_and_what_to_do(empty_club):
    app = page("find", q="fuse")
    assert "there is little to find but rules. One kit is enough to begin with" in words(app)
    assert "how do I start?" in "".join(link.proto.label for link in app.get("page_link"))
    assert [header.value.partition(" ")[0] for header in app.header] == ["rules"]
    empty_club.store.accept(upload.read("events.csv", WALK), "a test")
    assert "little to find" not in words(page("find"))


def test_an_empty_club_says_what_to_do(empty_club):
    for view in ("", "kit"):
        assert "One kit is enough to begin with" in words(page(view))
    assert "Send events.csv" in words(page("events"))


def test_a_good_file_shows_what_would_change_before_anything_does(empty_club):
    app = send(page("send"), "my list.csv", GOOD)
    assert "2 added, 0 removed" in words(app)
    assert "Accepting replaces all that inventory.csv said of each kit named in it; whatever" in words(app)
    assert empty_club.store.version() == 0


def test_what_a_list_of_the_whole_club_replaces_is_said_before_it_does(empty_club):
    app = send(page("send"), "members.csv", b"member\nQX1NEW\n")
    assert (
        "Accepting replaces the whole of members.csv, also the rows that are not sent again; whatever"
        in words(app)
    )
    app = send(page("send"), "posts.csv", b"event,post,post_type\nRide,Hut,remote\n")
    assert "Accepting replaces all that posts.csv said of each event named in it; whatever" in words(app)


def test_one_kit_of_a_member_is_spoken_of_as_one(empty_club):
    empty_club.store.accept(upload.read("inventory.csv", GOOD), "test")
    titles = [
        chart_title(json.loads(one.proto.spec)) for one in page("kit", member="QX1NEW").get("vega_lite_chart")
    ]
    assert "The one kit cannot go yet" in titles


@pytest.mark.parametrize(
    ("verdicts", "says"),
    [
        (["ready with limits"], "The one kit can go"),
        (["not ready"], "The one kit cannot go yet"),
        (["not known"], "Whether the one kit can go is not known"),
        (["ready", "not ready"], "1 of 2 kits can go"),
        (["ready", "not known", "not ready"], "1 of 3 kits can go; of 1 it is not known"),
    ],
)
def test_a_kit_that_is_not_known_is_not_said_to_stay(verdicts, says):
    assert kits.can_go(verdicts) == says


@pytest.mark.parametrize(
    ("blocked", "says"),
    [
        ("", "Nothing blocks any of 5 kits"),
        ("1a", "Something blocks 1 of 5 kits; most often in a"),
        ("1a 2a 3b 4c", "Something blocks 4 of 5 kits; most often in a, b and c"),
        ("1a 2a 3b 4b 1c", "Something blocks 4 of 5 kits; most often in a and b"),
        ("1a 2b 3c 4d", "Something blocks 4 of 5 kits"),
    ],
)
def test_the_map_of_gaps_names_all_that_tie_for_most(blocked, says):
    kits_of = {family: {int(one[0]) for one in blocked.split() if one[1] == family} for family in "abcd"}
    cells = pd.DataFrame(
        [
            (kit, family, "blocks" if kit in there else "met")
            for family, there in kits_of.items()
            for kit in range(1, 6)
        ],
        columns=["subject", "family", "worst"],
    )
    assert parts.heat_title(cells, "kit") == says


def test_an_accepted_file_is_in_force_and_its_member_is_told_what_to_fix(empty_club):
    app = send(page("send"), "my list.csv", GOOD)
    app.button(key="accept").click().run()
    assert not app.exception
    assert len(empty_club.store.frames()["inventory"]) == 2
    said = words(app)
    assert "In force: my list" in said.replace("\\", "")
    assert "QX1NEW is" in said
    assert "not judged before" in said
    (steps,) = [some.value for some in app.markdown if some.value.startswith("**Fix first**")]
    first = next_steps(parts.standing().assessment, "QX1NEW", 1)[0]
    first_said = (
        f"1. {parts.plain(first.titled)} · {parts.plain(first.sentence)}\n\n   **{parts.plain(first.fix)}**"
    )
    assert first_said in steps, "what to do stands below what is wrong"


def test_a_file_that_changes_nothing_is_not_offered_to_be_put_in_force(empty_club):
    empty_club.store.accept(upload.read("inventory.csv", GOOD), "test")
    app = send(page("send"), "again.csv", GOOD)
    assert "It changes nothing: the same is in force already." in words(app)
    assert "accept" not in [button.key for button in app.button]


def test_a_second_list_tells_what_it_mended_and_what_is_new(empty_club):
    app = send(page("send"), "list.csv", GOOD)
    app.button(key="accept").click().run()
    assert "mended or gone" not in words(app), "nothing stood before"
    maps = GOOD.rstrip(b"\n").split(b"\n")
    cells = dict.fromkeys(maps[0].decode().split(","), "") | {
        "member": "QX1NEW", "kit": "first bag", "item": "map", "kind": "map", "quantity": "1"
    }  # fmt: skip
    names = maps[0].decode().split(",")
    row = ",".join(cells[name] for name in names).encode()
    app = send(page("send"), "list.csv", b"\n".join([maps[0], row, *maps[1:]]) + b"\n")
    app.button(key="accept").click().run()
    assert not app.exception
    (mended,) = [some.value for some in app.markdown if "mended or gone**" in some.value]
    assert mended.startswith("**1 mended or gone**\n- ") and "map" in mended, (
        "a line moved down is the same thing"
    )
    app = send(page("send"), "list.csv", GOOD)
    app.button(key="accept").click().run()
    (new,) = [some.value for some in app.markdown if some.value.startswith("**1 new**\n- ")]
    assert "map" in new
    bad = next(one for one in parts.standing().assessment.findings() if one.status == "not met")
    lines = [replace(bad, subject=f"QX1NEW/first bag/radio (line {line})") for line in (2, 3)]
    assert sending.moved(lines[:1], lines[1:]) == ([], [])
    assert sending.moved(lines, lines[1:]) == (lines[1:], []), "of two that are alike one is gone"
    unknown = [replace(lines[0], status="not known")]
    assert sending.moved(lines[:1], unknown) == ([], []), "what is not known any more is not mended"
    assert sending.moved(unknown, lines[:1]) == ([], lines[:1])


def test_several_files_are_put_in_force_together_or_not_at_all(empty_club, monkeypatch):
    def put_in_force():
        app = page("send")
        app.file_uploader[0].upload("a.csv", GOOD, "text/csv")
        app.file_uploader[0].upload(
            "b.csv", b"member,kit,purpose\nQX1NEW,first bag,walks\n", "text/csv"
        ).run()
        app.button(key="accept").click().run()

    def broken(store, cur, sent, stem, *rest):
        if stem == "kits":
            raise StoreError("The disk is full.")
        return put(store, cur, sent, stem, *rest)

    put = Store._put
    with monkeypatch.context() as patch:
        patch.setattr(Store, "_put", broken)
        put_in_force()
    assert empty_club.store.version() == 0
    put_in_force()
    assert empty_club.store.version() == 2


def test_a_second_file_tells_the_score_before(empty_club):
    app = send(page("send"), "a.csv", GOOD)
    app.button(key="accept").click().run()
    before = empty_club.standing().of("member").iloc[0]
    more = GOOD + b"QX1NEW,first bag,second radio,handheld,1,\nQX1NEW,first bag,pack 2,handheld_pack,1,\n"
    send(app, "b.csv", more)
    assert "2 added, 0 removed" in words(app)
    app.button(key="accept").click().run()
    assert f"before: {before['verdict']}" in words(app)
    assert len(empty_club.store.frames()["inventory"]) == 4


def test_of_a_file_that_is_no_list_no_lines_are_to_be_mended(empty_club):
    app = send(page("send"), "photo.csv", b"\x89PNG\r\n\x1a\n")
    said = words(app).replace("\\", "")
    assert "photo.csv cannot be read as a list, and nothing of it has been taken." in said
    assert "the file is a picture" in said and "Mend the lines" not in said
    assert "problem-list-0" not in {button.key for button in app.get("download_button")}


def test_a_bad_file_lists_every_problem_and_changes_nothing(empty_club):
    app = send(page("send"), "my list.csv", BAD)
    assert "2 problems in my list" in words(app).replace("\\", "")
    found = upload.read("my list.csv", BAD).problems
    assert [(problem.line, problem.column) for problem in found] == [(2, "quantity"), (3, "kind")]
    for problem in found:
        assert f"- {parts.plain(problem)}" in words(app), "a table is cut on a phone, a sentence is not"
    assert {"problem-list-0", "annotated-0"} <= {button.key for button in app.get("download_button")}
    assert "accept" not in {button.key for button in app.button}
    assert empty_club.store.version() == 0


def test_the_first_problems_of_many_are_said_and_the_rest_counted(empty_club):
    rows = b"".join(b"QX1NEW,bag,radio %d,nonsense\n" % number for number in range(parts.SHOWN_PROBLEMS + 2))
    app = send(page("send"), "list.csv", b"member,kit,item,kind\n" + rows)
    assert words(app).count("nonsense") == parts.SHOWN_PROBLEMS, "each once, in the list"
    assert "- and 2 more, in the list to download" in words(app)
    assert not any("kind" in frame.value.columns or "line" in frame.value.columns for frame in app.dataframe)


def test_an_earlier_upload_can_be_brought_back(empty_club):
    app = send(page("send"), "a.csv", GOOD)
    app.button(key="accept").click().run()
    send(app, "b.csv", GOOD.replace(b"pack,handheld_pack,2", b"pack,handheld_pack,1"))
    app.button(key="accept").click().run()
    app.selectbox(key="earlier").select(1).run()
    assert "What would change:** 0 added, 0 removed, 1 cell changed." in words(app)
    assert empty_club.store.frames()["inventory"]["quantity"].tolist() == [1, 1], (
        "nothing before it is asked for"
    )
    app.button(key="restore").click().run()
    assert not app.exception
    assert app.selectbox(key="earlier").value is None
    assert "Upload 1 is in force again" in words(app)
    assert empty_club.store.frames()["inventory"]["quantity"].tolist() == [1, 2]
    app.selectbox(key="earlier").select(1).run()
    assert "It changes nothing" in words(app) and app.button(key="restore").disabled


def test_what_was_erased_is_said_where_it_was_asked_for(empty_club):
    app = send(page("send"), "a.csv", GOOD)
    app.button(key="accept").click().run()
    (member,) = set(empty_club.store.frames()["inventory"]["member"])
    app = page("people")
    app.selectbox(key="take-out").select(member).run()
    app.text_input(key="sure-any").set_value("erase everything").run()
    app.button(key="erase-any").click().run()
    assert not app.exception, app.exception[0].stack_trace
    assert any(done.value.startswith("Erased") for done in app.success)
    assert empty_club.store.frames()["inventory"].empty


def test_what_people_write_is_shown_and_not_obeyed(empty_club):
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerows([["member", "kit", "item", "kind"], ["QX1NEW", NASTY, NASTY, "handheld"]])
    app = send(page("send"), f"{NASTY}.csv", out.getvalue().encode())
    app.button(key="accept").click().run()
    season = page()
    season.selectbox(key="look_subject").select(season.selectbox(key="look_subject").options[0]).run()
    for shown in (app, season, page("kit", member="QX1NEW")):
        kinds = (shown.markdown, shown.subheader, shown.success, shown.info)
        left = [re.sub(r"\\.", "", element.value) for kind in kinds for element in kind]
        assert any("loud" in text for text in left), "the text is there"
        assert not [text for text in left if re.search(r"!\[|\*\*loud|<b>|`code|:red\[ink|\$x", text)]


def test_the_words_that_a_file_may_hold_can_be_looked_up(empty_club):
    app = page("send")
    app.selectbox(key="words").select("plug").run()
    assert set(table(app, "means")["write"]) == set(map(parts.plain, reference.table("connectors")["plug"]))


def test_the_columns_of_a_file_can_be_looked_up(empty_club):
    app = page("send")
    assert not any("what it is" in told.value for told in app.table), "it is drawn for whoever asks"
    app.selectbox(key="columns").select("posts").run()
    told = table(app, "what it is")
    assert list(told["column"]) == [parts.plain(name) for name in schema.columns("posts")]
    assert told["what it is"].all() and told["write"].all()


# ---- one assessment for all


def test_the_club_is_worked_out_once_for_each_change(empty_club, monkeypatch):
    worked, real = [], standing.assess
    monkeypatch.setattr(standing, "assess", lambda *a, **k: worked.append(1) or real(*a, **k))
    first = empty_club.standing()
    assert empty_club.standing() is first
    empty_club.accept(upload.read("a.csv", GOOD), "a test")
    assert len(worked) == 2
    assert empty_club.standing() is not first
    assert len(worked) == 2


def test_pages_without_a_club_say_how_to_start(monkeypatch):
    monkeypatch.setattr(standing, "_open", [])
    with pytest.raises(RuntimeError, match="kitmuster"):
        standing.club()


def test_findings_are_asked_of_the_tables_once_for_each_member(demo_club, monkeypatch):
    now = demo_club.standing()
    member = now.of("kit")["member"].iloc[0]
    found = now.findings("s.member = ?", [member])
    assert found == now.assessment.findings("s.member = ?", [member])
    monkeypatch.setattr(type(now.assessment), "findings", None)
    assert now.findings("s.member = ?", [member]) is found


# ---- words and downloads


@pytest.mark.parametrize(
    ("verdicts", "said"),
    [
        (["ready"], "1 is ready"),
        (["ready", "not ready", "ready"], "2 are ready and 1 not ready"),
        (
            ["not known", "not ready", "ready with limits"],
            "1 is ready with limits, 1 not ready and 1 not known",
        ),
    ],
)
def test_verdicts_in_a_sentence(verdicts, said):
    assert parts.standing_words(pd.DataFrame({"verdict": verdicts})) == said


def test_plain_text_means_nothing_to_markdown():
    assert parts.plain("a\n\n# b") == r"a \# b"
    for sign in "*_`[]()<>#$:~|!\\&":
        assert f"\\{sign}" in parts.plain(f"x{sign}y")


def test_a_downloaded_table_holds_no_formula():
    frame = pd.DataFrame({"note": ["=1+1", "@x", "fine", None], "score": [-1.5, 2, 3, 4]})
    rows = list(csv.reader(io.StringIO(parts.csv(frame).decode("utf-8-sig"))))
    assert rows == [["note", "score"], ["'=1+1", "-1.5"], ["'@x", "2.0"], ["fine", "3.0"], ["", "4.0"]]


WIRES = parts.plain(parts.CAUTIONS["wiring"])


def test_the_cautions_of_what_is_found_stand_before_it(demo_club):
    now = demo_club.standing()
    found = next(f for f in now.assessment.findings() if f.family == "wiring" and f.status == "not met")
    season = page()
    assert words(season).count(WIRES) == 1, "where power is shared"
    season.selectbox(key="look_gap").select(found.rule).run()
    assert words(season).count(WIRES) == 2

    def bears(event: str, post: str, severity: str) -> bool:
        bearing = post_review.looked_at(now, event, None).bearing[post]
        return any(f.family == "wiring" and f.severity == severity for f in bearing)

    posts = now.of("post")[["event", "post"]].itertuples(index=False)
    grave = next(row for row in posts if bears(*row, "blocks"))
    assert WIRES in words(page("events", event=grave.event, post=grave.post))
    along = next(row for row in posts if bears(*row, "limits") and not bears(*row, "blocks"))
    app = page("events", event=along.event, post=along.post)
    assert WIRES not in words(app)
    assert WIRES in words(unfolded(app))


def test_what_blocks_a_post_is_read_before_what_is_not_known(demo_club):
    app = page("events", event="Gorse Hill Trail Run", post="Bib desk")
    cards = [said.value for said in app.markdown if re.match(r"\*\*:\w+\[", said.value)]
    kinds = [re.match(r"\*\*:\w+\[.\] ([a-z ]+) ·", card)[1] for card in cards]
    assert kinds.index("blocks") == 0 and "not known" in kinds[1:]


def test_evidence_is_called_by_its_word_and_unit():
    assert evidence_tables.evidence_label("runtime_h") == "hours on the air (h)"
    assert evidence_tables.evidence_label("never_heard_of_wh") == "never heard of (Wh)"


def test_every_hazard_named_for_a_family_has_its_caution():
    assert {hazard for named in parts.HAZARDS.values() for hazard in named} <= set(parts.CAUTIONS)
    assert set(parts.HAZARDS) <= set(FAMILIES)


# ---- the server


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.9.9.9"])
def test_this_machine_is_served(host):
    serve.check_host(host)


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.4", "example.org", ""])
def test_any_other_address_is_refused_before_anything_opens(host, tmp_path):
    with pytest.raises(serve.HostError, match=r"Write 127\.0\.0\.1"):
        serve.run(tmp_path / "club.duckdb", host=host)
    assert not list(tmp_path.iterdir())


def test_a_broken_store_is_told_before_the_server_starts(tmp_path, monkeypatch):
    monkeypatch.setattr(standing, "_open", [])
    path = tmp_path / "club.duckdb"
    path.write_text("this is no database, whatever its name says; " * 200)
    with pytest.raises(StoreError, match="cannot be read"):
        serve.run(path)


def answer(host: str) -> tuple[int, dict[str, str], bytes]:
    """What the guard lets through or says itself to a request with this Host header."""
    sent = []

    async def app(scope, receive, send):
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"inside"})

    async def send(message):
        sent.append(message)

    scope = {"type": "http", "headers": [(b"host", host.encode())]}
    awaited(serve.Guard(app)(scope, None, send))
    headers = {name.decode(): value.decode() for name, value in sent[0]["headers"]}
    return sent[0]["status"], headers, b"".join(message.get("body", b"") for message in sent)


@pytest.mark.parametrize("host", ["localhost:8501", "127.0.0.1", "127.0.0.1:80", "[::1]:8501", "localhost"])
def test_safe_headers_stand_on_every_answer(host):
    status, headers, body = answer(host)
    assert (status, body) == (200, b"inside")
    assert "default-src 'self'" in headers["content-security-policy"]
    assert "unsafe-inline" not in headers["content-security-policy"].split("script-src")[1].split(";")[0]
    assert headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("host", ["attacker.invalid:8501", "", "localhost.attacker.invalid"])
def test_a_foreign_name_for_this_machine_is_turned_away(host):
    status, headers, body = answer(host)
    assert status == 421
    assert b"inside" not in body
    assert "content-security-policy" in headers
