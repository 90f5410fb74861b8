"""One member: how ready each kit is, what to fix first, and everything that was found."""

from collections import Counter
from functools import partial

import pandas as pd
import streamlit as st

from dashboard import access, charts, curves, evidence_tables, gear_charts, kits, parts, units
from dashboard.names import file_name
from dashboard.palette import ENOUGH, LINKS, VERDICTS
from dashboard.replay import drawn_once
from dashboard.sheets import asks as paper
from dashboard.sheets import dates
from dashboard.sheets import kit as paper_kit
from dashboard.standing import Standing
from rules.engine import Finding
from rules.rule import FAMILIES
from rules.score import next_steps

FIRST = 3


def steps_of(now: Standing, member: str) -> list[Finding]:
    """What a member should mend first."""
    return now.kept.once(("first steps", member), lambda: next_steps(now.assessment, member, FIRST))


@drawn_once
def steps(now: Standing, member: str) -> None:
    """What a member should mend first, each with why and how."""
    st.header("what should I fix first?")
    if not steps_of(now, member):
        is_sent = bool(kits.names(now, member))
        st.text(
            "Nothing to fix: what the member can mend is in order."
            if is_sent
            else "A kit list first: of what has been told, nothing is to mend."
        )
        return
    for number, step in enumerate(steps_of(now, member), 1):
        with st.container(border=True, key=f"step-{number}"):
            st.subheader(f"{number}. {parts.plain(step.title)}")
            cost = parts.money(now.price(step.rule, step.evidence))
            st.markdown(
                f"{parts.inked(parts.worst(step))} · {parts.plain(units.in_finding(step.sentence, step))}\n\n"
                f"**{parts.plain(units.in_finding(step.fix, step))}**"
                + (f" {parts.plain(cost)}." if cost and "USD" not in step.fix else "")
            )
            st.page_link(
                "views/rulebook.py", label=":green[why this matters]", query_params={"rule": step.rule}
            )
    parts.cautions(parts.hazards(step.family for step in steps_of(now, member)))


def first_steps(now: Standing, member: str) -> None:
    """What a member should mend first, on the page and to take away."""
    steps(now, member)
    if not steps_of(now, member):
        return
    with st.container(horizontal=True):
        name, origin = file_name(member), parts.origin()
        parts.sheet(
            f"Download these asks for {parts.plain(member)} as PDF",
            lambda: paper.asks(now.assessment, member, base=origin),
            f"{name}-asks.pdf",
            "asks-pdf",
        )
        parts.sheet(
            f"Download a letter to {parts.plain(member)} for a mail",
            lambda: paper.letter(now.assessment, member, base=origin).encode(),
            f"{name}-asks.txt",
            "asks-txt",
        )
        parts.sheet(
            f"Download the days of {parts.plain(member)} as a calendar",
            lambda: dates.calendar(now.assessment, member),
            f"{name}.ics",
            "member-ics",
        )


def grave(now: Standing, member: str, status: str, subject_kind: str) -> str:
    """What blocks, or may, in a member's person or at a post to which they are sent, by its title; else empty."""
    found = [f for f in now.findings("s.member = ?", [member]) if f.subject_kind == subject_kind]
    titles = dict.fromkeys(f"“{f.title}”" for f in found if f.severity == "blocks" and f.status == status)
    return parts.plain(parts.listed(list(titles))) if titles else ""


@drawn_once
def readiness(now: Standing, member: str) -> None:
    scores = now.scores[(now.scores["member"] == member) & now.scores["subject_kind"].isin(["kit", "member"])]
    own = scores[scores["subject_kind"] == "member"].iloc[0]
    bags = scores[scores["subject_kind"] == "kit"]
    mark = VERDICTS[own["verdict"]]
    st.header(
        f"{parts.plain(member)} is {parts.inked(mark)}, "
        f"score {charts.score_range(own['low'], own['high'])} of 100"
    )
    if (scores["verdict"] == "not ready").any():
        st.text(
            "One thing that blocks is enough for not ready, however high the score: the score counts all that was looked at."
        )
    if said := grave(now, member, "not met", "member"):
        st.markdown(f"This blocks and concerns the member, not a kit: {said}.")
    elif own["verdict"] == "not known" and (said := grave(now, member, "not known", "member")):
        st.markdown(f"This is not known and concerns the member, not a kit: {said}.")
    if said := grave(now, member, "not met", "post"):
        st.markdown(f"This blocks the posts that they are sent to, and counts there: {said}.")
    if bags.empty:
        st.text("No kit of this member has been sent yet, so what they can bring is not known.")
        return
    frame = bags.assign(subject=bags["kit"])
    title = kits.can_go(list(frame["verdict"]))
    parts.chart(
        ("ranges", member),
        lambda: charts.ranges(frame, title),
        key="ranges",
        alt=f"Score ranges of the kits of {member}. {title}.",
    )


def scores(now: Standing, member: str) -> None:
    """The figures and the picture of the scores of a member's kits."""
    if kits.names(now, member):

        def table() -> pd.DataFrame:
            bags = now.of("kit")
            return bags[bags["member"] == member][["kit", "verdict", "low", "high"]].round(1)

        parts.numbers_behind(table, "scores", "ranges", ("ranges", member))


@drawn_once
def verdicts_only(now: Standing, member: str) -> None:
    """What others see of a member who shares no more than verdicts."""
    scores = now.scores[now.scores["member"] == member]
    own = scores[scores["subject_kind"] == "member"].iloc[0]
    st.header(f"{parts.plain(member)} is {parts.inked(VERDICTS[own['verdict']])}")
    bags = scores[scores["subject_kind"] == "kit"]
    for kit, verdict in zip(bags["kit"], bags["verdict"], strict=True):
        st.markdown(f"{parts.plain(kit)} is {parts.inked(VERDICTS[verdict])}.")
    st.text("More of it is not shared with you.")


def lasting(now: Standing, member: str) -> None:
    """Hours of each kit against the hours that are wanted of it."""
    rows = kits.hours(now, member)
    if not rows.empty:
        hours(now, member)
        parts.numbers_behind(lambda: kits.hours_numbers(rows), "hours", "lasting", ("lasting", member))


@drawn_once
def hours(now: Standing, member: str) -> None:
    """The bars of hours."""
    rows = kits.hours(now, member)
    st.header("how long do the batteries last?")
    parts.cautions(["charging"])
    title = kits.hours_title(rows)
    st.text(
        "Each bar runs from the fewest hours to the most; the upright line is how long the kit is meant to last. "
        "An arrow: more hours than are drawn."
    )
    parts.chart(
        ("lasting", member),
        lambda: charts.spans(rows, title, "hours"),
        key="lasting",
        alt=f"Hours of the kits of {member}. {title}.",
    )
    parts.legend(ENOUGH)


def running_down(now: Standing, member: str, kit: str) -> None:
    """How the batteries of a kit run down at a post to which it is sent."""
    sent = curves.sent_to(now, member, kit)
    if not sent:
        return
    st.header("how does it run down at a post?")
    post = st.selectbox("post", list(sent), key="down_at", bind="query-params")
    curve = curves.at_post(now, sent[post])
    if curve.empty:
        st.text("No curve: it runs on mains there, has no battery, or something about them is not known.")
        return
    volts(now, kit, post, sent[post])
    parts.numbers_behind(lambda: curves.numbers(curve), "volts by hour", "curve", ("curve", sent[post]))


@drawn_once
def volts(now: Standing, kit: str, post: str, post_kit: int) -> None:
    """The curve of volts by hour."""
    curve = curves.at_post(now, post_kit)
    title = curves.title(curve)
    parts.chart(
        ("curve", post_kit),
        lambda: gear_charts.discharge(curve, title),
        key="curve",
        alt=f"Volts of {kit} at {post} hour by hour. {title}.",
    )
    changes = (
        " Where the line breaks off, the next battery takes over." if curve["battery"].nunique() > 1 else ""
    )
    st.text(
        "Worked out from what is written down, with full batteries at the coldest hour; "
        f"a test on the bench is better.{changes}"
    )


def one_kit(now: Standing, member: str, kit: str) -> None:
    """The station of one kit with what it hangs on, and what would change its verdict."""
    st.header(f"what does {parts.plain(kit)} hang on?")
    origin = parts.origin()
    parts.sheet(
        "Download the list for its lid as PDF",
        lambda: paper_kit.lid(now.assessment, member, kit, base=origin),
        f"{file_name(member, kit)}-lid.pdf",
        "lid-pdf",
    )
    station(now, member, kit)
    rows = kits.station(now, member, kit)
    if not rows.empty:
        parts.numbers_behind(lambda: rows, "station", "station", ("station", member, kit))
    running_down(now, member, kit)
    what_changes(now, member, kit)


@drawn_once
def station(now: Standing, member: str, kit: str) -> None:
    """One station of a kit as a chain, or what it lacks."""
    rows = kits.station(now, member, kit)
    lacks = kits.missing_link(now, member, kit)
    if rows.empty:
        st.text(f"No whole station: it lacks {lacks}." if lacks else "No whole station can be put together.")
        return
    if lacks:
        st.text(f"This station is not certain: if what is not written down does not fit, it lacks {lacks}.")
    title = kits.station_title(rows)
    parts.chart(
        ("station", member, kit),
        lambda: charts.station(rows, title),
        key="station",
        alt=f"One station of {kit} from power to antenna. {title}.",
    )
    parts.legend(LINKS)
    if one_more := kits.spare(now, member, kit):
        st.text(f"One more would make another whole station: {one_more}.")


@drawn_once
def what_changes(now: Standing, member: str, kit: str) -> None:
    """What would change the verdict of a kit."""
    subject = f"{member}/{kit}"
    told = kits.what_changes(now, "kit", subject)
    if not told.empty:
        st.header("what would change its verdict?")
        none_moves = kits.why_none_moves(now, "kit", subject, told)
        parts.changes(told, none_moves, "changes", f"What would change the verdict of {kit}")
        parts.ask_first(kits.worth_asking(now, "kit", subject), "unknowns")


def found_of(now: Standing, member: str, kit: str | None) -> list[Finding]:
    """Everything that was found on a member, or on one of their kits."""
    return [f for f in now.findings("s.member = ?", [member]) if kit in (None, f.kit)]


@drawn_once
def cards(now: Standing, member: str, kit: str | None, family: str) -> None:
    """What was found in one family of rules."""
    parts.cautions(parts.hazards([family]))
    parts.finding_cards([f for f in found_of(now, member, kit) if f.family == family], now, "all")


def everything(now: Standing, member: str, kit: str | None) -> None:
    """What was found, one family of rules at a time, and all of it to take away."""
    st.header("everything that was found")
    findings = found_of(now, member, kit)
    counts = Counter(finding.family for finding in findings)
    if not counts:
        st.text("No rule is unmet and nothing is unknown.")
        return
    family = st.selectbox(
        "question",
        [family for family in FAMILIES if family in counts],
        format_func=FAMILIES.get,  # words that stay the same for every kit: a browser would go back to the first
        key="family",
        bind="query-params",
    )
    st.text(f"{counts[family]} of {parts.many(len(findings), 'finding')}.")
    cards(now, member, kit, family)
    parts.download(
        f"Download all findings of {parts.plain(member)} as CSV",
        lambda: parts.csv(evidence_tables.findings_frame(findings)),
        "my-findings.csv",
        "my-findings",
    )


def members_of(now: Standing, seen: access.Sight) -> list[str]:
    """Members of whom one may see something."""

    def named() -> list[str]:
        return sorted(m for m in now.of("member")["subject"] if seen.of(m) is not access.Share.NONE)

    return now.kept.once(("members", seen.drawn_as), named)


def show() -> None:
    now = parts.standing()
    st.title("What should I fix first?")
    me = access.require(access.Action.SEE_SEASON)
    seen = access.sight(me)
    if now.of("member").empty:
        parts.nothing_yet("No member is known yet.")
    members = members_of(now, seen)
    if not members:
        st.text("No kit is shared with you yet.")
        return
    if me.member in members and "member" not in st.session_state and "member" not in st.query_params:
        st.session_state["member"] = me.member
    member = parts.member_box(members)
    if not member:
        if parts.is_own_unsent(me, now):
            parts.none_sent(me)
        st.text("Choose whose kit to look at.")
        return
    if not seen.is_full(member):
        verdicts_only(now, member)
        return
    readiness(now, member)
    scores(now, member)
    first_steps(now, member)
    own, kit = kits.names(now, member), None
    if own:
        parts.what_changes(
            "member", member,
            lambda: kits.what_changes(now, "member", member), partial(kits.why_none_moves, now, "member", member),
            lambda: kits.worth_asking(now, "member", member),
        )  # fmt: skip
    if me.may(access.Action.SEND_KIT, member):
        if own:
            st.page_link(
                "views/mine.py",
                label=":green[write down what is in the kit, or what has changed]",
                query_params={"member": member},
            )
        else:
            parts.ways_to_send(member)
    lasting(now, member)
    if len(own) > 1:
        kit = st.selectbox(
            "kit", own, index=None, key="kit", placeholder="all kits of this member", bind="query-params"
        )
    if kit is not None or len(own) == 1:
        one_kit(now, member, kit or own[0])
    elif own:
        st.text("Choose a kit to see what it hangs on and what would change its verdict.")
    everything(now, member, kit)


show()
