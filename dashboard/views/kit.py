"""One member: how ready each kit is, what to fix first, and everything that was found."""

import streamlit as st

from dashboard import charts, parts
from dashboard.palette import VERDICTS
from dashboard.standing import Standing
from rules.engine import FAMILIES, Finding
from rules.score import next_steps

FIRST = 3


def first_steps(now: Standing, member: str) -> None:
    steps = next_steps(now.assessment, member, FIRST)
    st.header("what should I fix first?")
    if not steps:
        st.text("Nothing to fix: every rule that applies is met.")
        return
    parts.cautions(parts.hazards(step.family for step in steps))
    for number, step in enumerate(steps, 1):
        with st.container(border=True, key=f"step-{number}"):
            st.subheader(f"{number}. {parts.plain(step.title)}")
            st.markdown(f"{parts.inked(parts.worst(step))} · {parts.plain(step.sentence)}")
            cost = parts.money(now.price(step.rule, step.evidence))
            st.markdown(
                f"**{parts.plain(step.fix)}**"
                + (f" {parts.plain(cost)}." if cost and "USD" not in step.fix else "")
            )
            st.page_link(
                "views/rulebook.py", label=":green[why this matters]", query_params={"rule": step.rule}
            )


def readiness(now: Standing, member: str) -> None:
    scores = now.scores[(now.scores["member"] == member) & now.scores["subject_kind"].isin(["kit", "member"])]
    own = scores[scores["subject_kind"] == "member"].iloc[0]
    kits = scores[scores["subject_kind"] == "kit"]
    mark = VERDICTS[own["verdict"]]
    st.header(
        f"{parts.plain(member)} is {parts.inked(mark)}, "
        f"score {charts.score_range(own['low'], own['high'])} of 100"
    )
    if kits.empty:
        st.text("No kit of this member has been sent yet.")
        st.page_link("views/send.py", label=":green[send a kit list]")
        return
    frame = kits.assign(subject=kits["kit"])
    able = int(frame["verdict"].isin(["ready", "ready with limits"]).sum())
    title = f"{able} of {parts.many(len(frame), 'kit')} can go"
    st.altair_chart(
        charts.ranges(frame, title), key="ranges", alt=f"Score ranges of the kits of {member}. {title}."
    )


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
        parts.csv(parts.findings_frame(findings)),
        "my-findings.csv",
        "text/csv",
        key="my-findings",
        on_click="ignore",
    )


def show() -> None:
    now = parts.standing()
    st.title("What should I fix first?")
    members = sorted(now.of("member")["subject"])
    if not members:
        parts.nothing_yet("No member is known yet.")
    member = st.selectbox(
        "member",
        members,
        index=None,
        key="member",
        placeholder="choose a call sign or member number",
        bind="query-params",
    )
    if not member:
        st.text("Choose whose kit to look at, or send a new list.")
        st.page_link("views/send.py", label=":green[send a kit list]")
        return
    findings = now.assessment.findings("s.member = ?", [member])
    kits = sorted({f.kit for f in findings if f.kit})
    readiness(now, member)
    first_steps(now, member)
    if len(kits) > 1:
        kit = st.selectbox(
            "kit", kits, index=None, key="kit", placeholder="all kits of this member", bind="query-params"
        )
        findings = [f for f in findings if kit in (None, f.kit)]
    everything(now, member, findings)


show()
