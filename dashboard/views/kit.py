"""One member: how ready each kit is, what to fix first, and everything that was found."""

import streamlit as st

from dashboard import access, charts, curves, gear_charts, kits, parts
from dashboard.names import file_name
from dashboard.palette import ENOUGH, LINKS, VERDICTS
from dashboard.sheets import asks as paper
from dashboard.sheets import dates
from dashboard.sheets import kit as paper_kit
from dashboard.standing import Standing
from rules.engine import FAMILIES, Finding
from rules.score import next_steps

FIRST = 3


def first_steps(now: Standing, member: str) -> None:
    steps = now.kept.once(("first steps", member), lambda: next_steps(now.assessment, member, FIRST))
    st.header("what should I fix first?")
    if not steps:
        st.text("Nothing to fix: every rule that applies is met.")
        return
    for number, step in enumerate(steps, 1):
        with st.container(border=True, key=f"step-{number}"):
            st.subheader(f"{number}. {parts.plain(step.title)}")
            st.markdown(
                f"{parts.inked(parts.worst(step))} · {parts.plain(parts.in_units(step.sentence, step))}"
            )
            cost = parts.money(now.price(step.rule, step.evidence))
            st.markdown(
                f"**{parts.plain(parts.in_units(step.fix, step))}**"
                + (f" {parts.plain(cost)}." if cost and "USD" not in step.fix else "")
            )
            st.page_link(
                "views/rulebook.py", label=":green[why this matters]", query_params={"rule": step.rule}
            )
    parts.cautions(parts.hazards(step.family for step in steps))
    with st.container(horizontal=True):
        name = file_name(member)
        parts.sheet(
            f"Download these asks for {member} as PDF",
            lambda: paper.asks(now.assessment, member, FIRST),
            f"{name}-asks.pdf",
            "asks-pdf",
        )
        parts.sheet(
            f"Download a letter to {member} for a mail",
            lambda: paper.letter(now.assessment, member, FIRST).encode(),
            f"{name}-asks.txt",
            "asks-txt",
        )
        parts.sheet(
            f"Download the days of {member} as a calendar",
            lambda: dates.calendar(now.assessment, member),
            f"{name}.ics",
            "member-ics",
        )


def readiness(now: Standing, member: str) -> None:
    scores = now.scores[(now.scores["member"] == member) & now.scores["subject_kind"].isin(["kit", "member"])]
    own = scores[scores["subject_kind"] == "member"].iloc[0]
    bags = scores[scores["subject_kind"] == "kit"]
    mark = VERDICTS[own["verdict"]]
    st.header(
        f"{parts.plain(member)} is {parts.inked(mark)}, "
        f"score {charts.score_range(own['low'], own['high'])} of 100"
    )
    if bags.empty:
        st.text("No kit of this member has been sent yet.")
        st.page_link("views/send.py", label=":green[send a kit list]")
        return
    frame = bags.assign(subject=bags["kit"])
    able = int(frame["verdict"].isin(["ready", "ready with limits"]).sum())
    title = f"{able} of {parts.many(len(frame), 'kit')} can go"
    parts.chart(
        ("ranges", member),
        lambda: charts.ranges(frame, title),
        key="ranges",
        alt=f"Score ranges of the kits of {member}. {title}.",
    )


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
    if rows.empty:
        return
    st.header("how long do the batteries last?")
    parts.cautions(["charging"])
    title = (
        f"{int((rows['enough'] == 'enough').sum())} of {parts.many(len(rows), 'kit')} last as long as planned"
    )
    parts.chart(
        ("lasting", member),
        lambda: charts.spans(rows, title, "hours", "planned, h"),
        key="lasting",
        alt=f"Hours of the kits of {member}. {title}.",
    )
    parts.legend(ENOUGH)
    parts.numbers_behind(rows.drop(columns="says"), "hours", "lasting", ("lasting", member))


def running_down(now: Standing, member: str, kit: str) -> None:
    """How the batteries of a kit run down at a post to which it is sent."""
    sent = curves.sent_to(now, member, kit)
    if not sent:
        return
    st.header("how does it run down at a post?")
    post = st.selectbox("post", list(sent), key="down_at", bind="query-params")
    curve = now.kept.once(("curve", sent[post]), lambda: curves.at_post(now, sent[post]))
    if curve.empty:
        st.text("No curve: it runs on mains there, has no battery, or something about them is not known.")
        return
    title = curves.title(curve)
    parts.chart(
        ("curve", sent[post]),
        lambda: gear_charts.discharge(curve, title),
        key="curve",
        alt=f"Volts of {kit} at {post} hour by hour. {title}.",
    )
    st.text(
        "Worked out from what is written down, with full batteries at the coldest hour; "
        "a test on the bench is better."
    )
    parts.numbers_behind(curve, "volts by hour", "curve", ("curve", sent[post]))


def one_kit(now: Standing, member: str, kit: str) -> None:
    """The station of one kit with what it hangs on, and what would change its verdict."""
    st.header(f"what does {parts.plain(kit)} hang on?")
    parts.sheet(
        "Download the list for its lid as PDF",
        lambda: paper_kit.lid(now.assessment, member, kit),
        f"{file_name(member, kit)}-lid.pdf",
        "lid-pdf",
    )
    rows = kits.station(now, member, kit)
    lacks = kits.missing_link(now, member, kit)
    if lacks and not rows.empty:
        st.text(f"This station is not certain: if what is not written down does not fit, it lacks {lacks}.")
    if rows.empty:
        st.text(f"No whole station: it lacks {lacks}." if lacks else "No whole station can be put together.")
    else:
        title = kits.station_title(rows)
        parts.chart(
            ("station", member, kit),
            lambda: charts.station(rows, title),
            key="station",
            alt=f"One station of {kit} from power to antenna. {title}.",
        )
        parts.legend(LINKS)
        parts.numbers_behind(rows, "station", "station", ("station", member, kit))
    running_down(now, member, kit)
    told = kits.what_changes(now, member, kit)
    if not told.empty:
        st.header("what would change its verdict?")
        st.dataframe(told, hide_index=True, key="changes", alt=f"What would change the verdict of {kit}")


def everything(now: Standing, member: str, findings: list[Finding]) -> None:
    st.header("everything that was found")
    families = [family for family in FAMILIES if any(f.family == family for f in findings)]
    if not families:
        st.text("No rule is unmet and nothing is unknown.")
        return
    counts = {family: sum(f.family == family for f in findings) for family in families}
    family = st.selectbox(
        "question",
        families,
        format_func=lambda name: f"{FAMILIES[name]} ({counts[name]})",
        key="family",
        bind="query-params",
    )
    parts.cautions(parts.hazards([family]))
    parts.finding_cards([f for f in findings if f.family == family], now, "all")
    st.download_button(
        f"Download all findings of {member} as CSV",
        access.held(lambda: parts.csv(parts.findings_frame(findings))),
        "my-findings.csv",
        "text/csv",
        key="my-findings",
        on_click="ignore",
    )


def show() -> None:
    now = parts.standing()
    st.title("What should I fix first?")
    me = access.require(access.Action.SEE_SEASON)
    seen = access.sight(me)
    known = sorted(now.of("member")["subject"])
    if not known:
        parts.nothing_yet("No member is known yet.")
    members = [member for member in known if seen.of(member) is not access.Share.NONE]
    if not members:
        st.text("No kit is shared with you yet.")
        return
    if me.member in members and "member" not in st.session_state and "member" not in st.query_params:
        st.session_state["member"] = me.member
    member = parts.member_box(members)
    if not member:
        st.text("Choose whose kit to look at, or send a new list.")
        st.page_link("views/send.py", label=":green[send a kit list]")
        return
    if not seen.is_full(member):
        verdicts_only(now, member)
        return
    findings = now.findings("s.member = ?", [member])
    own = sorted(kit for kit in now.of("kit").query("member == @member")["kit"])
    readiness(now, member)
    first_steps(now, member)
    lasting(now, member)
    kit = own[0] if len(own) == 1 else None
    if len(own) > 1:
        kit = st.selectbox(
            "kit", own, index=None, key="kit", placeholder="all kits of this member", bind="query-params"
        )
        findings = [f for f in findings if kit in (None, f.kit)]
    if kit is not None:
        one_kit(now, member, kit)
    elif own:
        st.text("Choose a kit to see what it hangs on and what would change its verdict.")
    everything(now, member, findings)


show()
