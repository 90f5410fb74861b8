"""Events: each post, whether it can be held, by whom and with what, a staffing plan, and what it lacks."""

import pandas as pd
import streamlit as st

from dashboard import access, charts, parts, posts, units
from dashboard.edits import EditError
from dashboard.names import file_name
from dashboard.palette import CHANCES, ENOUGH, VERDICTS
from dashboard.sheets import of_event as sheets_of
from dashboard.standing import Standing
from rules.engine import Finding
from rules.plans.posts import why
from rules.plans.staffing import Plan

SECTIONS = {
    "posts": "what does each post lack?",
    "kits": "which kit can hold which post?",
    "plan": "who should go where?",
    "hours": "do the batteries last?",
    "swaps": "can one kit stand in for another?",
    "distances": "how far must people stay?",
}
TIMES = [5, 10, 30, 60]  # seconds that may be spent on a plan
NOTHING = "nothing that blocks or limits"
HELD_TO = 40  # bars of a chart; the rest stands in the table
SHIFT = {
    "starts": st.column_config.DatetimeColumn("from", format="D MMM HH:mm"),
    "ends": st.column_config.DatetimeColumn("to", format="D MMM HH:mm"),
    "from": st.column_config.DatetimeColumn("from", format="D MMM HH:mm"),
    "to": st.column_config.DatetimeColumn("to", format="D MMM HH:mm"),
}


def event_headline(event: str, posts: pd.DataFrame) -> str:
    """How the posts of an event stand, in one sentence."""
    return f"Of {parts.many(len(posts), 'post')} of {event}, {parts.standing_words(posts)}."


def assigned(now: Standing, event: str) -> pd.DataFrame:
    """Who is sent to which post of the event, with which kit and whose, from when to when."""
    return (
        now.assessment.con.cursor()
        .execute(
            "select p.post, m.member, coalesce(k.kit, '') as kit, coalesce(k.member, m.member) as owner, a.starts, a.ends from assignment as a "
            "join post as p using (post_id) join member as m on m.member_id = a.member_id "
            "left join kit as k on k.kit_id = a.kit_id where p.event = ? order by p.post, a.starts, m.member",
            [event],
        )
        .df()
    )


def brought(now: Standing, sent: pd.DataFrame) -> list[Finding]:
    """Findings on the assigned people and kits themselves, which bear on their posts."""
    members = sorted({*sent["member"], *sent["owner"]})
    if not members:
        return []
    marks = ", ".join("?" * len(members))
    where = f"j.subject_kind in ('item', 'kit', 'member') and s.member in ({marks})"
    return now.findings(where, members)


def bearing_on(findings: list[Finding], sent: pd.DataFrame) -> list[Finding]:
    """Those findings on members and kits that bear on the post to which these are sent."""
    members, pairs = set(sent["member"]), set(zip(sent["owner"], sent["kit"], strict=True))
    return [f for f in findings if (f.member in members if f.kit is None else (f.member, f.kit) in pairs)]


def lacks(findings: list[Finding]) -> str:
    """What stands in the way at a post, in a few words; each gap once."""
    stops = [f.title for f in findings if f.status == "not met" and f.severity == "blocks"]
    open_ = [f"not known: {f.title}" for f in findings if f.status == "not known" and f.severity == "blocks"]
    limits = [f.title for f in findings if f.status == "not met" and f.severity == "limits"]
    return "; ".join(dict.fromkeys([*stops, *open_, *limits])) or NOTHING


def hazards(post: pd.Series, event: pd.Series) -> list[str]:
    """What to be careful of at a post."""
    told = {
        "mains": post["has_mains"],
        "masts": pd.notna(post["mast_m"]) or pd.notna(post["power_line_m"]),
        "exposure": pd.notna(post["public_m"]) or event["is_public"],
        "lightning": event["is_storm_possible"],
        "traffic": post["is_beside_traffic"],
    }
    return [hazard for hazard, is_so in told.items() if pd.notna(is_so) and bool(is_so)]


def review(scores: pd.DataFrame, sent: pd.DataFrame, bearing: dict[str, list[Finding]]) -> pd.DataFrame:
    """One row per post: verdict, who, score, what it lacks."""
    return pd.DataFrame(
        {
            "post": scores["post"],
            "verdict": scores["verdict"],
            "who": [
                ", ".join(dict.fromkeys(sent[sent["post"] == post]["member"])) or "nobody"
                for post in scores["post"]
            ],
            "score": [charts.score_range(row.low, row.high) for row in scores.itertuples()],
            "lacks": [lacks(bearing[post]) for post in scores["post"]],
        }
    )


def show_post(
    now: Standing,
    score: pd.Series,
    findings: list[Finding],
    sent: pd.DataFrame,
    careful: list[str],
    sees_all: bool,
) -> None:
    """One post: verdict, who is sent, cautions, its own findings and those on its people and kits."""
    mark = VERDICTS[score["verdict"]]
    st.subheader(f"{parts.plain(score['post'])} is {parts.inked(mark)}")
    st.text(f"Score {charts.score_range(score['low'], score['high'])} of 100.")
    if sent.empty:
        st.text("Nobody is assigned.")
    else:
        st.dataframe(
            in_whose_hands(sent)[["member", "kit", "starts", "ends"]],
            hide_index=True,
            key="assigned",
            alt=f"Who is assigned to {score['post']}",
            column_config=SHIFT,
        )
        for member in dict.fromkeys(sent["member"]):
            if member in set(now.of("member")["subject"]):
                st.page_link(
                    "views/kit.py",
                    label=f":green[open {parts.plain(member)}]",
                    query_params={"member": member},
                )
    parts.cautions(careful)
    own = [f for f in findings if f.subject_kind == "post"]
    theirs = [f for f in findings if f.subject_kind != "post"]
    if own:
        parts.finding_cards(own, now, "post")
    elif sees_all:
        st.text("Nothing to mend at the post itself.")
    if theirs:
        with st.expander(f"what its people and kits bring along ({parts.many(len(theirs), 'finding')})"):
            parts.finding_cards(theirs, now, "brought", is_nested=True)


def in_whose_hands(sent: pd.DataFrame) -> pd.DataFrame:
    """Assignments in which a kit that another lends says whose it is."""
    is_lent = (sent["owner"] != sent["member"]) & (sent["kit"] != "")
    return sent.assign(kit=sent["kit"].where(~is_lent, sent["kit"] + " of " + sent["owner"]))


def plans_events(me: access.Person) -> bool:
    """Whether someone sees what bears on the posts whoever brings it, as they fill them or see every kit."""
    return me.may(access.Action.ASSIGN) or me.may(access.Action.SEE_KIT)


def as_shared(sent: pd.DataFrame, seen: access.Sight) -> pd.DataFrame:
    """Assignments without the names of members and kits that are not shared."""
    return sent.assign(
        member=[seen.name(member) for member in sent["member"]],
        owner=[seen.name(owner) for owner in sent["owner"]],
        kit=[
            "" if seen.of(owner) is access.Share.NONE else kit
            for owner, kit in zip(sent["owner"], sent["kit"], strict=True)
        ],
    )


def each_post(now: Standing, name: str, scores: pd.DataFrame, me: access.Person) -> None:
    """What each post lacks, one post in full, and who is sent where and when."""
    findings, sent = now.findings("s.event = ?", [name]), assigned(now, name)
    theirs = brought(now, sent)
    sees_all = plans_events(me)
    if not sees_all:
        seen = access.sight(me)
        findings, theirs = ([f for f in found if seen.reads(f)] for found in (findings, theirs))
        st.text("What lies behind the verdict of a post is left out where it is not shared with you.")
        sent = as_shared(sent, seen)
    sent_to = {post: sent[sent["post"] == post] for post in scores["post"]}
    bearing = {
        post: [f for f in findings if f.post == post] + bearing_on(theirs, there)
        for post, there in sent_to.items()
    }
    table = review(scores, sent, bearing)
    if not sees_all:
        table["lacks"] = table["lacks"].replace(NOTHING, "")
    st.header("what does each post lack?")
    shown = table.assign(verdict=[parts.inked(VERDICTS[verdict]) for verdict in table["verdict"]])
    for column in ("post", "who", "lacks"):
        shown[column] = shown[column].map(parts.plain)
    st.table(shown, border="horizontal", hide_index=True, alt=f"Posts of {name}")
    st.download_button(
        "Download the posts as CSV",
        parts.csv(table),
        "posts-review.csv",
        "text/csv",
        key="posts-csv",
        on_click="ignore",
    )

    st.header("look at one post")
    post = st.selectbox("post", list(scores["post"]), key="post", bind="query-params")
    rows, all_events = now.assessment.table("post"), now.assessment.table("event")
    row = rows[(rows["event"] == name) & (rows["post"] == post)].iloc[0]
    with st.container(key="one-post"):
        show_post(
            now,
            scores[scores["post"] == post].iloc[0],
            bearing[post],
            sent_to[post],
            hazards(row, all_events[all_events["event"] == name].iloc[0]),
            sees_all,
        )

    st.header("who stands where, and when?")
    timed = sent.dropna(subset=["starts", "ends"])
    if timed.empty:
        st.text("Nobody is assigned with a time.")
    else:
        title = (
            f"{parts.many(timed['member'].nunique(), 'member')} at "
            f"{timed['post'].nunique()} of {parts.many(len(scores), 'post')}"
        )
        verdicts = dict(zip(scores["post"], scores["verdict"], strict=True))
        kept_as = ("shifts", name, *timed["member"], *timed["kit"])
        parts.chart(
            kept_as,
            lambda: charts.shifts(timed.assign(verdict=timed["post"].map(verdicts)), title),
            key="shifts",
            alt=f"Assignments by post and time. {title}.",
        )
        parts.legend(VERDICTS)
        parts.numbers_behind(timed, "assignments", "shifts", kept_as)
    whole = [f for f in findings if f.post is None]
    if whole:
        st.header("what concerns the whole event?")
        parts.finding_cards(whole, now, "event")


@st.fragment
def which_kit(event: str) -> None:
    """Every post with every kit, by post and by answer; for one post the kits best first, and why."""
    if not plans_events(access.require(access.Action.SEE_EVENTS)):
        return
    now = parts.standing()
    st.header(SECTIONS["kits"])
    rows = posts.by_kit(now, event)
    if rows.empty:
        st.text("No kit of a member who is available is known.")
        return
    title = posts.kits_title(rows)
    parts.chart(
        ("kits", event),
        lambda: charts.chances(posts.counts(rows), title),
        key="chances",
        alt=f"Kits by post and answer. {title}.",
    )
    parts.legend(CHANCES)
    left, right = st.columns(2)
    post = left.selectbox(
        "at the post", list(dict.fromkeys(rows["post"])), index=None, key="at_post",
        placeholder="all posts", bind="query-params",
    )  # fmt: skip
    answers = right.pills(
        "answer", list(CHANCES), selection_mode="multi", key="answers", bind="query-params",
        format_func=lambda word: CHANCES[word].label,
    )  # fmt: skip
    shown = rows if post is None else posts.best_first(rows[rows["post"] == post])
    if answers:
        shown = shown[shown["answer"].isin(answers)]
    st.text(f"{parts.many(len(shown), 'row')}" + ("" if post is None else ", best first") + ".")
    shown = shown.assign(answer=[CHANCES[word].label for word in shown["answer"]])
    shown = shown[
        [name for name in ("answer", "post", "member", "kit", "is_assigned", "reasons") if name in shown]
    ]
    st.dataframe(
        shown,
        hide_index=True,
        key="post-by-kit",
        alt=f"Which kit can hold which post of {event}",
        column_config={
            "is_assigned": "is sent there",
            "reasons": st.column_config.TextColumn("why", width="large"),
        },
    )
    if post is not None:
        told = [f"{row.member}/{row.kit}" for row in shown.itertuples()]
        kit = st.selectbox("why one kit", told, index=None, key="why_kit", placeholder="choose a kit")
        if kit is not None:
            member, _, bag = kit.partition("/")
            said, names = why(now.assessment, event, post, member, bag), (event, post, kit, bag)
            with st.container(border=True, key="why"):
                st.markdown(
                    "\n".join(f"- {parts.plain(units.said(text, names))}" for text in said)
                    or "Nothing stands in its way."
                )
                st.page_link(
                    "views/kit.py",
                    label=f":green[open {parts.plain(member)}]",
                    query_params={"member": member},
                )
    with st.container(horizontal=True):
        st.download_button(
            "Download every post and kit as CSV",
            access.held(lambda: parts.csv(rows)),
            "post-by-kit.csv",
            "text/csv",
            key="post-by-kit-csv",
            on_click="ignore",
        )
        parts.as_picture("kits by post", "chances", ("kits", event))


@st.fragment
def staffing_plan(event: str, order: list[str]) -> None:
    """The best staffing on request: by hour, what stays open and what would fill it, beside the coordinator's own."""
    me = access.require(access.Action.SEE_EVENTS)
    if not plans_events(me):
        return
    now = parts.standing()
    st.header(SECTIONS["plan"])
    st.markdown(
        "The plan covers critical posts first, then all others, holds a reserve back, and asks as little as it can "
        "of anyone. Nothing is sent or changed by working it out."
    )
    left, right = st.columns([1, 2], vertical_alignment="bottom")
    seconds = left.selectbox("time for it, in seconds", TIMES, index=1, key="seconds")
    is_asked = right.button("Work out a plan", type="primary", key="work-out")
    if not is_asked and posts.plan_key(event, seconds) not in now.kept:
        return
    with st.spinner("Judging every person and kit at every shift …"):
        found, beside = posts.plan(now, event, seconds)
    title = posts.plan_title(found, len(order))
    st.markdown(f"**{parts.plain(title)}.** {parts.plain(posts.proof(found))}")
    for note in found.notes:
        st.markdown(f"Note: {parts.plain(note)}")
    bars = posts.lanes(found, order)
    if not bars.empty:
        parts.chart(
            posts.plan_key(event, seconds),
            lambda: charts.timeline(bars, title),
            key="timeline",
            alt=f"Staffing by post and hour. {title}.",
        )
        parts.legend(CHANCES)
    if not found.uncovered.empty:
        st.subheader("what stays open, and what would fill it?")
        open_ = found.uncovered.assign(
            is_critical=["critical" if is_so else "" for is_so in found.uncovered["is_critical"]]
        )
        st.dataframe(
            open_[["post", "from", "to", "people_short", "is_critical", "change", "why"]],
            hide_index=True,
            key="open-seats",
            alt="What stays open",
            column_config=SHIFT | {
                "people_short": "people short",
                "is_critical": "critical",
                "change": st.column_config.TextColumn("cheapest change", width="large"),
                "why": st.column_config.TextColumn("why", width="large"),
            },
        )  # fmt: skip
    if not found.asks.empty:
        st.subheader("what is to be found out?")
        st.text("These seats are filled, but the answer to an unknown decides whether they hold.")
        st.dataframe(
            found.asks, hide_index=True, key="plan-asks", alt="What is to be found out",
            column_config={"ask": st.column_config.TextColumn("not known", width="large")},
        )  # fmt: skip
    st.subheader("how does it compare with the assignments that are sent?")
    st.table(
        beside.assign(
            plan=[f"{value:.4g}" for value in beside["plan"]],
            coordinator=[f"{value:.4g}" for value in beside["coordinator"]],
        ),
        border="horizontal",
        hide_index=True,
        alt="The plan beside the assignments that are sent",
    )
    with st.expander(f"the plan as a list: {parts.many(len(found.rows), 'row')}, and the reserve"):
        st.dataframe(found.rows, hide_index=True, key="plan-rows", alt="The plan", column_config=SHIFT)
        st.dataframe(
            found.reserve, hide_index=True, key="plan-reserve", alt="The reserve", column_config=SHIFT
        )
    with st.container(horizontal=True):
        st.download_button(
            "Download the plan as assignments.csv",
            access.held(lambda: parts.csv(posts.as_assignments(found))),
            "assignments.csv",
            "text/csv",
            key="plan-csv",
            on_click="ignore",
        )
        if not bars.empty:
            parts.as_picture("the plan by hour", "timeline", posts.plan_key(event, seconds))
    if me.may(access.Action.ASSIGN):
        take_over(found, me)


def take_over(found: Plan, me: access.Person) -> None:
    """Put a plan in the place of the event's assignments, as if it had been sent."""
    st.markdown(
        f"Saving the plan puts it in the place of every assignment of {parts.plain(found.event)}; what was sent "
        "before stays in the records and can be restored."
    )
    if not st.button("Save the plan as the assignments", key="save-plan", disabled=found.rows.empty):
        return
    try:
        saved = posts.save_plan(found, me.name)
    except EditError as error:
        st.error(parts.plain(error))
        return
    st.success(
        f"Saved: {parts.many(len(found.rows), 'assignment')}. "
        + ("They are judged like any others now." if len(saved.changes) else "Nothing was changed by it.")
    )


def figures(
    event: str,
    section: str,
    rows: pd.DataFrame,
    title: str,
    axis: str,
    wanted: str,
    columns: dict[str, str],
    unit: str = "h",
) -> None:
    """Bars from low to high against what is wanted, those that fall short first, and the table behind them.

    The rows are in `unit`; axis and bars are in the reader's.
    """
    order = ["too little", "may fall short", "not known", "enough"]
    worst = rows.assign(place=rows["enough"].map(order.index)).sort_values("place", kind="stable")
    parts.chart(
        (section, event, units.is_us()),
        lambda: charts.spans(posts.in_units(worst.head(HELD_TO), unit), title, axis, wanted),
        key=section,
        alt=f"{axis}. {title}.",
    )
    parts.legend(ENOUGH)
    table = worst[["post", "subject", "enough", *columns]].rename(columns=columns)
    parts.numbers_behind(table, section, f"{section}-numbers", (section, event))


def battery_hours(event: str) -> None:
    """Hours of the kits that are sent, against their shifts."""
    st.header(SECTIONS["hours"])
    rows = posts.hours(parts.standing(), event)
    if rows.empty:
        st.text("No kit with a radio is sent to this event yet.")
        return
    parts.cautions(["charging", "mains"])
    st.text("Each bar runs from the fewest hours to the most; the upright line is the shift.")
    figures(
        event, "hours", rows, posts.hours_title(rows), "hours on its own batteries", "shift, h",
        {
            "low": "at least (h)", "high": "at most (h)", "need": "shift (h)", "load_w": "load (W)",
            "energy_wh": "energy (Wh)", "limited_by": "what ends it", "duty": "duty",
        },
    )  # fmt: skip


@st.fragment
def stand_ins(event: str) -> None:
    """Whether the gear of kits that meet at a post fits each other."""
    if not plans_events(access.require(access.Action.SEE_EVENTS)):
        return
    st.header(SECTIONS["swaps"])
    rows = posts.swaps(parts.standing(), event)
    if rows.empty:
        st.text("No two kits meet at a post of this event.")
        return
    st.markdown(
        f"**{parts.plain(posts.swap_title(rows))}.** Plugs, voltages and bands are compared as written down."
    )
    parts.cautions(["charging", "wiring"])
    post = st.selectbox(
        "at the post", list(dict.fromkeys(rows["post"])), key="swap_post", bind="query-params"
    )
    here = rows[rows["post"] == post]
    table = here.pivot(index="from", columns="to", values="answer").fillna("")
    table.index.name = "gear of … works at …"
    st.dataframe(table, key="swap-matrix", alt=f"Whose gear works at whose station at {post}")
    parts.numbers_behind(rows, "swaps", "swaps")


def people_away(event: str) -> None:
    """Distances between people and the antennas that are sent."""
    st.header(SECTIONS["distances"])
    rows = posts.distances(parts.standing(), event)
    if rows.empty:
        st.text("No kit whose distance can be worked out is sent to this event yet.")
        return
    parts.cautions(["exposure", "masts", "lightning"])
    unit = "ft" if units.is_us() else "m"
    st.text(
        "Each bar runs from the distance for the crew to that for everyone else, at the band that asks most; "
        "the upright line is how near people come. Distances are estimates after public formulas, not measurements."
    )
    figures(
        event, "distances", rows, posts.distance_title(rows),
        f"{'feet' if units.is_us() else 'metres'} from the antenna", f"people come to, {unit}",
        {
            "low": "crew (m)", "high": "people (m)", "need": "people come to (m)", "band": "band",
            "rf_watts": "power (W)", "how": "figures are",
        },
        "m",
    )  # fmt: skip


def on_paper(now: Standing, event: str) -> None:
    """The sheets of an event, one at a time, each made when it is asked for."""
    st.header("what goes on paper?")
    made = sheets_of.of_event(now.assessment, event)
    chosen = st.selectbox(
        "sheet", list(made), index=None, key="event-sheet", placeholder="choose packet, form or packing list"
    )
    if chosen is not None:
        parts.sheet(
            f"Download {chosen} as PDF", made[chosen], f"{file_name(event, chosen)}.pdf", "event-sheet-pdf"
        )


def show() -> None:
    me = access.require(access.Action.SEE_EVENTS)
    now = parts.standing()
    st.title("Who can hold which post?")
    events = now.of("event")
    if events.empty:
        st.info(
            "No event is known yet. Send events.csv, posts.csv and assignments.csv; "
            "blank ones are on the same page."
        )
        st.page_link("views/send.py", label=":green[send the event's files]")
        return
    name = st.selectbox("event", list(events["subject"]), key="event", bind="query-params")
    scores = now.of("post")
    scores = scores[scores["event"] == name].reset_index(drop=True)
    if scores.empty:
        st.info("This event has no posts yet. Send posts.csv with its name in the column event.")
        st.page_link("views/send.py", label=":green[send posts.csv]")
        return
    st.markdown(f"**{parts.plain(event_headline(name, scores))}**")
    parts.verdict_metrics(scores)
    if not plans_events(me):
        each_post(now, name, scores, me)
        return
    section = st.pills(
        "look at",
        list(SECTIONS.values()),
        default=SECTIONS["posts"],
        required=True,
        key="look",
        bind="query-params",
    )
    if section == SECTIONS["kits"]:
        which_kit(name)
    elif section == SECTIONS["plan"]:
        told = now.assessment.table("post").sort_values("post_id")
        staffing_plan(name, list(told[told["event"] == name]["post"]))
    elif section == SECTIONS["hours"]:
        battery_hours(name)
    elif section == SECTIONS["swaps"]:
        stand_ins(name)
    elif section == SECTIONS["distances"]:
        people_away(name)
    else:
        each_post(now, name, scores, me)
    on_paper(now, name)


show()
