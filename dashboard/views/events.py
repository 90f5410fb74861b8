"""Events: each post, whether it can be held, by whom, and what it lacks."""

import pandas as pd
import streamlit as st

from dashboard import charts, parts
from dashboard.palette import VERDICTS
from dashboard.standing import Standing
from rules.engine import Finding


def event_headline(event: str, posts: pd.DataFrame) -> str:
    """How the posts of an event stand, in one sentence."""
    return f"Of {parts.many(len(posts), 'post')} of {event}, {parts.standing_words(posts)}."


def assigned(now: Standing, event: str) -> pd.DataFrame:
    """Who is sent to which post of the event, with which kit, from when to when."""
    return (
        now.assessment.con.cursor()
        .execute(
            "select p.post, m.member, coalesce(k.kit, '') as kit, a.starts, a.ends from assignment as a "
            "join post as p using (post_id) join member as m on m.member_id = a.member_id "
            "left join kit as k on k.kit_id = a.kit_id where p.event = ? order by p.post, a.starts, m.member",
            [event],
        )
        .df()
    )


def brought(now: Standing, sent: pd.DataFrame) -> list[Finding]:
    """Findings on the assigned people and kits themselves, which bear on their posts."""
    members = sorted(set(sent["member"]))
    if not members:
        return []
    marks = ", ".join("?" * len(members))
    where = f"j.subject_kind in ('item', 'kit', 'member') and s.member in ({marks})"
    return now.assessment.findings(where, members)


def bearing_on(findings: list[Finding], sent: pd.DataFrame) -> list[Finding]:
    """Those findings on members and kits that bear on the post to which these are sent."""
    members, pairs = set(sent["member"]), set(zip(sent["member"], sent["kit"], strict=True))
    return [f for f in findings if (f.member in members if f.kit is None else (f.member, f.kit) in pairs)]


def lacks(findings: list[Finding]) -> str:
    """What stands in the way at a post, in a few words; each gap once."""
    stops = [f.title for f in findings if f.status == "not met" and f.severity == "blocks"]
    open_ = [f"not known: {f.title}" for f in findings if f.status == "not known" and f.severity == "blocks"]
    limits = [f.title for f in findings if f.status == "not met" and f.severity == "limits"]
    return "; ".join(dict.fromkeys([*stops, *open_, *limits])) or "nothing that blocks or limits"


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
    now: Standing, score: pd.Series, findings: list[Finding], sent: pd.DataFrame, careful: list[str]
) -> None:
    """One post: verdict, who is sent, cautions, its own findings and those on its people and kits."""
    mark = VERDICTS[score["verdict"]]
    st.subheader(f"{parts.plain(score['post'])} is {parts.inked(mark)}")
    st.text(f"Score {charts.score_range(score['low'], score['high'])} of 100.")
    if sent.empty:
        st.text("Nobody is assigned.")
    else:
        st.dataframe(
            sent[["member", "kit", "starts", "ends"]],
            hide_index=True,
            key="assigned",
            alt=f"Who is assigned to {score['post']}",
            column_config={
                "starts": st.column_config.DatetimeColumn("from", format="D MMM HH:mm"),
                "ends": st.column_config.DatetimeColumn("to", format="D MMM HH:mm"),
            },
        )
        for member in dict.fromkeys(sent["member"]):
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
    else:
        st.text("Nothing to mend at the post itself.")
    if theirs:
        with st.expander(f"what its people and kits bring along ({parts.many(len(theirs), 'finding')})"):
            parts.finding_cards(theirs, now, "brought", is_nested=True)


def show() -> None:
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

    findings, sent = now.assessment.findings("s.event = ?", [name]), assigned(now, name)
    theirs = brought(now, sent)
    sent_to = {post: sent[sent["post"] == post] for post in scores["post"]}
    bearing = {
        post: [f for f in findings if f.post == post] + bearing_on(theirs, there)
        for post, there in sent_to.items()
    }
    table = review(scores, sent, bearing)
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
    posts, all_events = now.assessment.table("post"), now.assessment.table("event")
    row = posts[(posts["event"] == name) & (posts["post"] == post)].iloc[0]
    with st.container(key="one-post"):
        show_post(
            now,
            scores[scores["post"] == post].iloc[0],
            bearing[post],
            sent_to[post],
            hazards(row, all_events[all_events["event"] == name].iloc[0]),
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
        st.altair_chart(
            charts.shifts(timed.assign(verdict=timed["post"].map(verdicts)), title),
            key="shifts",
            alt=f"Assignments by post and time. {title}.",
        )
        parts.legend(VERDICTS)
        parts.numbers_behind(timed, "assignments", "shifts")
    whole = [f for f in findings if f.post is None]
    if whole:
        st.header("what concerns the whole event?")
        parts.finding_cards(whole, now, "event")


show()
