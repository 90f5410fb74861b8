"""Events: each post, whether it can be held, by whom, and what it lacks."""

import pandas as pd
import streamlit as st

from dashboard import charts, parts
from dashboard.palette import VERDICTS
from dashboard.standing import Standing
from rules.engine import Finding


def event_headline(event: str, posts: pd.DataFrame) -> str:
    """How the posts of an event stand, in one sentence."""
    said = [f"{count} {word}" for word, count in parts.verdict_counts(posts).items() if count]
    return f"Of {parts.many(len(posts), 'post')} of {event}, {parts.listed(said)}."


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


def hazards(post: pd.Series, event: pd.Series) -> list[str]:
    """Families whose cautions a post calls for."""
    told = {
        "power": post["has_mains"],
        "antenna": pd.notna(post["mast_m"]) or pd.notna(post["power_line_m"]),
        "exposure": pd.notna(post["public_m"]) or event["is_public"],
        "weather": event["is_storm_possible"],
        "coverage": post["is_beside_traffic"],
    }
    return [family for family, is_so in told.items() if pd.notna(is_so) and bool(is_so)]


def lacks(findings: list[Finding]) -> str:
    """What stands in the way at a post, in a few words."""
    titles = list(
        dict.fromkeys(f.title for f in findings if f.status == "not met" and f.severity != "advice")
    )
    open_ = list(
        dict.fromkeys(f.title for f in findings if f.status == "not known" and f.severity == "blocks")
    )
    return "; ".join(titles + [f"not known: {title}" for title in open_]) or "nothing"


def show_post(
    now: Standing, score: pd.Series, own: list[Finding], sent: pd.DataFrame, families: list[str]
) -> None:
    mark = VERDICTS[score["verdict"]]
    st.subheader(f"{parts.plain(score['post'])} is {parts.inked(mark)}")
    st.text(f"Score {parts.score_range(score['low'], score['high'])} of 100.")
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
        for row in sent.drop_duplicates(["member", "kit"]).itertuples():
            st.page_link(
                "views/kit.py",
                label=f"open {parts.plain(row.member)} {parts.plain(row.kit)}",
                query_params={"member": row.member},
            )
    parts.cautions(families)
    if own:
        parts.finding_cards(own, now, "post")
    else:
        st.text("No finding for this post itself.")


def show() -> None:
    now = parts.standing()
    st.title("Who can hold which post?")
    events = now.of("event")
    if events.empty:
        st.info(
            "No event is known yet. Send events.csv, posts.csv and assignments.csv; "
            "blank ones are on the same page."
        )
        st.page_link("views/send.py", label="send the event's files")
        return
    name = st.selectbox("event", list(events["subject"]), key="event", bind="query-params")
    scores = now.of("post")
    scores = scores[scores["event"] == name].reset_index(drop=True)
    if scores.empty:
        st.info("This event has no posts yet. Send posts.csv with its name in the column event.")
        st.page_link("views/send.py", label="send posts.csv")
        return
    st.markdown(f"**{parts.plain(event_headline(name, scores))}**")
    parts.verdict_metrics(scores, "post")

    findings = now.assessment.findings("s.event = ?", [name])
    sent = assigned(now, name)
    by_post = {post: [f for f in findings if f.post == post] for post in scores["post"]}
    verdicts = dict(zip(scores["post"], scores["verdict"], strict=True))
    table = pd.DataFrame(
        {
            "post": scores["post"],
            "verdict": [VERDICTS[verdict].label for verdict in scores["verdict"]],
            "who": [
                ", ".join(dict.fromkeys(sent[sent["post"] == post]["member"])) or "nobody"
                for post in scores["post"]
            ],
            "lacks": [lacks(by_post[post]) for post in scores["post"]],
            "score": [
                parts.score_range(low, high) for low, high in zip(scores["low"], scores["high"], strict=True)
            ],
        }
    )
    st.header("what does each post lack?")
    st.dataframe(table, hide_index=True, key="posts", alt=f"Posts of {name}", height="content")
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
            by_post[post],
            sent[sent["post"] == post],
            hazards(row, all_events[all_events["event"] == name].iloc[0]),
        )

    st.header("who stands where, and when?")
    timed = sent.dropna(subset=["starts", "ends"])
    if timed.empty:
        st.text("Nobody is assigned with a time.")
    else:
        title = (
            f"{parts.many(timed['member'].nunique(), 'member')} at "
            f"{timed['post'].nunique()} of {len(scores)} posts"
        )
        st.altair_chart(
            charts.shifts(timed.assign(verdict=timed["post"].map(verdicts)), title),
            key="shifts",
            alt=f"Assignments by post and time. {title}.",
        )
        parts.numbers_behind(timed, "assignments", "shifts")
    whole = [f for f in findings if f.post is None]
    if whole:
        st.header("what concerns the whole event?")
        parts.finding_cards(whole, now, "event")


show()
