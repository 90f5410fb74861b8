"""Events: each post, whether it can be held, by whom and with what, a staffing plan, and what it lacks."""

from functools import partial

import pandas as pd
import streamlit as st

from dashboard import access, charts, days, kits, parts, post_review, posts, units, who_goes_where
from dashboard.names import file_name
from dashboard.palette import CHANCES, ENOUGH, VERDICTS
from dashboard.replay import drawn_once
from dashboard.sheets import of_event as sheets_of
from dashboard.sheets import told
from dashboard.standing import Standing
from rules.engine import Finding
from rules.plans.posts import why

SECTIONS = {
    "posts": "what does each post lack?",
    "kits": "which kit can hold which post?",
    "plan": who_goes_where.QUESTION,
    "hours": "do the batteries last?",
    "swaps": "can one kit stand in for another?",
    "distances": "how far must people stay?",
}
HELD_TO = 40  # bars of a chart; the rest stands in the table


def hazards(post: pd.Series, event: pd.Series) -> list[str]:
    """What to be careful of at a post, whatever was found there; where nobody tells of storms or of traffic, of these too."""
    told = {
        "mains": post["has_mains"],
        "masts": pd.notna(post["mast_m"]) or pd.notna(post["power_line_m"]),
        "exposure": pd.notna(post["public_m"]) or event["is_public"],
    }
    untold = {"lightning": event["is_storm_possible"], "traffic": post["is_beside_traffic"]}
    return [
        *(hazard for hazard, is_so in told.items() if pd.notna(is_so) and bool(is_so)),
        *(hazard for hazard, is_so in untold.items() if pd.isna(is_so) or bool(is_so)),
    ]


def show_post(
    now: Standing,
    score: pd.Series,
    findings: list[Finding],
    sent: pd.DataFrame,
    careful: list[str],
    sees_all: bool,
) -> None:
    """One post: verdict, who is sent, cautions, and its findings but those that `brought_along` has."""
    mark = VERDICTS[score["verdict"]]
    st.subheader(f"{parts.plain(score['post'])} is {parts.inked(mark)}")
    st.text(f"Score {charts.score_range(score['low'], score['high'])} of 100.")
    if sent.empty:
        st.text("Nobody is assigned.")
    else:
        shown = in_whose_hands(sent)
        if sees_all:  # where kits are not shared, an empty name may be that of a kit
            shown["kit"] = shown["kit"].replace("", "none")
        told = {
            "member": shown["member"], "kit": shown["kit"],
            "from": shown["starts"].map(days.moment), "to": shown["ends"].map(days.moment),
        }  # fmt: skip
        parts.wrapped(pd.DataFrame(told), "assigned", f"Who is assigned to {score['post']}")
        for member in dict.fromkeys(sent["member"]):
            if member in set(now.of("member")["subject"]):
                st.page_link(
                    "views/kit.py",
                    label=f":green[open {parts.plain(member)}]",
                    query_params={"member": member},
                )
    own = [f for f in findings if f.subject_kind == "post"]
    grave = [f for f in findings if f.subject_kind != "post" and f.severity == "blocks"]
    first = sorted([*grave, *own], key=lambda f: (f.severity != "blocks", f.status != "not met"))
    parts.cautions([*careful, *parts.hazards(f.family for f in first)])
    parts.finding_cards(first, now, "post")
    if sees_all and not first:
        st.text("Nothing to mend at the post itself.")


def brought_along(now: Standing, event: str, post: str, seen: access.Sight | None) -> list[Finding]:
    """What people and kits bring to a post; what decides its verdict is not folded away with it."""
    found = post_review.looked_at(now, event, seen).bearing[post]
    return [f for f in found if f.subject_kind != "post" and f.severity != "blocks"]


@drawn_once
def brought(now: Standing, event: str, post: str, seen: access.Sight | None) -> None:
    """The cards of what people and kits bring to a post, with the cautions that go with mending it."""
    found = brought_along(now, event, post, seen)
    parts.cautions(parts.hazards(f.family for f in found))
    parts.finding_cards(found, now, "brought", is_nested=True)


def in_whose_hands(sent: pd.DataFrame) -> pd.DataFrame:
    """Assignments in which a kit that another lends says whose it is."""
    is_lent = (sent["owner"] != sent["member"]) & (sent["kit"] != "")
    return sent.assign(kit=sent["kit"].where(~is_lent, sent["kit"] + " of " + sent["owner"]))


@drawn_once
def lacking(now: Standing, event: str, seen: access.Sight | None) -> None:
    """What each post lacks."""
    if seen is not None:
        st.text("What lies behind the verdict of a post is left out where it is not shared with you.")
    st.header("what does each post lack?")
    table = post_review.looked_at(now, event, seen).table
    shown = table.drop(columns="lacks").rename(columns={"in_short": "lacks"})
    shown["verdict"] = [parts.inked(VERDICTS[verdict]) for verdict in table["verdict"]]
    for column in ("post", "who", "lacks"):
        shown[column] = shown[column].map(parts.plain)
    with st.container(key="lacking"):
        st.table(shown, border="horizontal", hide_index=True, alt=f"Posts of {event}")


def one_post(now: Standing, event: str, post: str, seen: access.Sight | None) -> None:
    """One post in full; what people and kits bring along is made and sent once it is unfolded."""
    with st.container(key="one-post"):
        at_the_post(now, event, post, seen)
        if count := len(brought_along(now, event, post, seen)):
            label = f"what its people and kits bring along ({parts.many(count, 'finding')})"
            along = st.expander(label, key="brought-along", on_change="rerun")
            if along.open:
                with along:
                    brought(now, event, post, seen)
        if seen is None:
            place = f"{event}/{post}"
            parts.what_changes(
                "post", post,
                lambda: kits.what_changes(now, "post", place), partial(kits.why_none_moves, now, "post", place),
                lambda: kits.worth_asking(now, "post", place),
            )  # fmt: skip


@drawn_once
def at_the_post(now: Standing, event: str, post: str, seen: access.Sight | None) -> None:
    """What stands open of one post."""
    looked = post_review.looked_at(now, event, seen)
    rows, events = now.assessment.table("post"), now.assessment.table("event")
    row = rows[(rows["event"] == event) & (rows["post"] == post)].iloc[0]
    show_post(
        now,
        looked.scores[looked.scores["post"] == post].iloc[0],
        looked.bearing[post],
        looked.sent_to(post),
        hazards(row, events[events["event"] == event].iloc[0]),
        seen is None,
    )


@drawn_once
def shifts(now: Standing, event: str, seen: access.Sight | None) -> None:
    """Who stands where and when, as bars."""
    looked = post_review.looked_at(now, event, seen)
    timed, scores = looked.sent.dropna(subset=["starts", "ends"]), looked.scores
    st.header("who stands where, and when?")
    if timed.empty:
        st.text("Nobody is assigned with a time.")
        return
    title = (
        f"{parts.many(timed['member'].nunique(), 'member')} at "
        f"{timed['post'].nunique()} of {parts.many(len(scores), 'post')}"
    )
    verdicts = dict(zip(scores["post"], scores["verdict"], strict=True))
    parts.chart(
        ("shifts", event, seen and seen.drawn_as),
        lambda: charts.shifts(timed.assign(verdict=timed["post"].map(verdicts)), title),
        key="shifts",
        alt=f"Assignments by post and time. {title}.",
    )
    parts.legend(VERDICTS)


@drawn_once
def whole_event(now: Standing, event: str, seen: access.Sight | None) -> None:
    """What was found on no one post; for who plans events also which rows lead to none."""
    whole = [f for f in post_review.looked_at(now, event, seen).findings if f.post is None]
    if seen is None:
        club = now.findings("s.subject_kind = ?", ["club"])
        whole = [f for f in club if f.rule == "rows_that_count_for_nothing"] + whole
    if whole:
        st.header("what concerns the whole event?")
        parts.cautions(parts.hazards(f.family for f in whole))
        parts.finding_cards(whole, now, "event")


def each_post(now: Standing, name: str, me: access.Person) -> None:
    """What each post lacks, one post in full, and who is sent where and when."""
    seen = None if access.plans_events(me) else access.sight(me)
    looked = post_review.looked_at(now, name, seen)
    lacking(now, name, seen)
    parts.download(
        "Download the posts as CSV",
        lambda: parts.csv(looked.table.drop(columns="in_short")),
        "posts-review.csv",
        "posts-csv",
    )
    st.header("look at one post")
    post = st.selectbox("post", list(looked.scores["post"]), key="post", bind="query-params")
    one_post(now, name, post, seen)
    if me.may(access.Action.ASSIGN):
        who_goes_where.by_hand(name)
    shifts(now, name, seen)
    kept_as = ("shifts", name, seen and seen.drawn_as)
    timed = now.kept.once(("timed", *kept_as), lambda: looked.sent.dropna(subset=["starts", "ends"]))
    if not timed.empty:
        parts.numbers_behind(lambda: timed.drop(columns="is_over"), "assignments", "shifts", kept_as)
    whole_event(now, name, seen)
    if seen is None:
        parts.what_changes(
            "event", name,
            lambda: kits.what_changes(now, "event", name), partial(kits.why_none_moves, now, "event", name),
            lambda: kits.worth_asking(now, "event", name),
        )  # fmt: skip


@drawn_once
def kits_by_post(now: Standing, event: str) -> None:
    """How many kits can hold each post."""
    rows = posts.by_kit(now, event)
    title = posts.kits_title(rows)
    parts.chart(
        ("kits", event),
        lambda: charts.chances(posts.counts(rows), title),
        key="chances",
        alt=f"Kits by post and answer. {title}.",
    )
    parts.legend(CHANCES)


def chosen(now: Standing, event: str, post: str | None, answers: tuple[str, ...]) -> pd.DataFrame:
    """Kits with these answers at one post, best first, or at all of them; with no answer named, with any."""
    rows = posts.by_kit(now, event)
    shown = rows if post is None else posts.best_first(rows[rows["post"] == post])
    return shown[shown["answer"].isin(answers)] if answers else shown


@drawn_once
def each_kit(now: Standing, event: str, post: str | None, answers: tuple[str, ...], first: int) -> None:
    """Rows of `chosen`, as many as are shown at once, as a table."""
    shown = chosen(now, event, post, answers)[first : first + parts.AT_ONCE]
    told = {
        "kit": shown["member"] + "/" + shown["kit"],
        **({} if post else {"post": shown["post"]}),
        "answer": [CHANCES[word].label for word in shown["answer"]],
        "is sent there": [
            "yes"
            if is_sent
            else ""
            if pd.isna(other)
            else f"no, to {other.removeprefix(f'{event}/')} meanwhile"
            for is_sent, other in zip(shown["is_assigned"], shown["sent_to"], strict=True)
        ],
        "why": shown["reasons"].fillna(""),
    }
    parts.wrapped(pd.DataFrame(told), "post-by-kit", f"Which kit can hold which post of {event}")


def why_one_kit(now: Standing, event: str, post: str, bags: list[str]) -> None:
    """All that stands in the way of one of these kits (MEMBER/KIT) at a post, in sentences."""
    kit = st.selectbox("why one kit", bags, index=None, key="why_kit", placeholder="choose a kit")
    if kit is None:
        return
    member, _, bag = kit.partition("/")
    said, names = why(now.assessment, event, post, member, bag), (event, post, kit, bag)
    with st.container(border=True, key="why"):
        st.markdown(
            "\n".join(f"- {parts.plain(units.said(text, names))}" for text in said)
            or "Nothing stands in its way."
        )
        st.page_link(
            "views/kit.py", label=f":green[open {parts.plain(member)}]", query_params={"member": member}
        )


@st.fragment
def which_kit(event: str) -> None:
    """Every post with every kit, by post and by answer; for one post the kits best first, and why."""
    if not access.plans_events(access.require(access.Action.SEE_EVENTS)):
        return
    now = parts.standing()
    st.header(SECTIONS["kits"])
    rows = posts.by_kit(now, event)
    if rows.empty:
        st.text("No kit of a member who is available is known.")
        return
    kits_by_post(now, event)
    parts.numbers_behind(lambda: posts.counts_by_post(rows), "kits by post", "chances", ("kits", event))
    left, right = st.columns(2)
    post = left.selectbox(
        "at the post", posts.named(now, event), index=None, key="at_post",
        placeholder="all posts", bind="query-params",
    )  # fmt: skip
    answers = right.pills(
        "answer", list(CHANCES), selection_mode="multi", key="answers", bind="query-params",
        format_func=lambda word: CHANCES[word].label,
    )  # fmt: skip
    found = chosen(now, event, post, tuple(answers))
    order = "" if post is None else ", best first"
    if len(found) <= parts.AT_ONCE:
        st.text(f"{parts.many(len(found), 'row' if post is None else 'kit')}{order}.")
    each_kit(now, event, post, tuple(answers), parts.turned(len(found), "post-by-kit-page", order).start)
    if post is not None:
        why_one_kit(now, event, post, [f"{row.member}/{row.kit}" for row in found.itertuples()])
    parts.download(
        "Download every post and kit as CSV", lambda: parts.csv(rows), "post-by-kit.csv", "post-by-kit-csv"
    )


WORST_FIRST = ["too little", "may fall short", "not known", "enough"]
NUMBERS = {
    "hours": posts.HOURS | {"need": "shift (h)", "untold": "what is not told"},
    "distances": {
        "low": "crew (m)", "high": "people (m)", "need": "people come to (m)", "band": "band",
        "rf_watts": "power (W)", "how": "figures are",
    },
}  # fmt: skip


def worst_first(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of hours or distances, those that fall short first."""
    return rows.assign(place=rows["enough"].map(WORST_FIRST.index)).sort_values("place", kind="stable")


def bars(event: str, section: str, rows: pd.DataFrame, title: str, axis: str) -> None:
    """Bars from low to high against what is wanted, those that fall short first, in the reader's units."""
    unit = "m" if section == "distances" else "h"
    parts.chart(
        (section, event, units.is_us()),
        lambda: charts.spans(posts.in_units(worst_first(rows).head(HELD_TO), unit), title, axis),
        key=section,
        alt=f"{axis}. {title}.",
    )
    parts.legend(ENOUGH)


def numbers(event: str, section: str, rows: pd.DataFrame) -> None:
    """The table behind the bars of a section."""
    if not rows.empty:
        names, kept_as = NUMBERS[section], (section, event, units.is_us())
        parts.numbers_behind(
            lambda: worst_first(rows)[["subject", "enough", *names]]
            .rename(columns={"subject": "kit"} | names),
            section, f"{section}-numbers", kept_as,
        )  # fmt: skip


@drawn_once
def battery_hours(now: Standing, event: str) -> None:
    """Hours of the kits that are sent, against their shifts."""
    st.header(SECTIONS["hours"])
    rows = posts.hours(now, event)
    if rows.empty:
        st.text("No kit with a radio is sent to this event yet.")
        return
    parts.cautions(["charging", "mains"])
    st.text(
        "Each bar runs from the fewest hours to the most; the upright line is the shift. "
        "An arrow: more hours than are drawn."
    )
    bars(event, "hours", rows, posts.hours_title(rows), "hours on its own batteries")
    for said in posts.hours_untold(rows):
        st.text(said)


@drawn_once
def meeting(now: Standing, event: str) -> None:
    """How many kits can help each other out."""
    st.header(SECTIONS["swaps"])
    rows = posts.swaps(now, event)
    if rows.empty:
        st.text("No two kits meet at a post of this event.")
        return
    st.markdown(
        f"**{parts.plain(posts.swap_title(rows))}.** Plugs, voltages and bands are compared as written down."
    )
    parts.cautions(["charging", "wiring"])


@drawn_once
def matrix(now: Standing, event: str, post: str) -> None:
    """Whose gear works at whose station at one post."""
    rows = posts.swaps(now, event)
    table = rows[rows["post"] == post].pivot(index="from", columns="to", values="answer").fillna("")
    table.index.name = "gear of … works at …"
    st.text(
        "Each row is the kit that lends, each column the station that it would help. An empty cell: the two do not meet "
        "there, or are the same kit. Nothing to swap: the one has no battery or antenna that the other could use."
    )
    st.dataframe(table, key="swap-matrix", alt=f"Whose gear works at whose station at {post}")


@st.fragment
def stand_ins(event: str) -> None:
    """Whether the gear of kits that meet at a post fits each other."""
    if not access.plans_events(access.require(access.Action.SEE_EVENTS)):
        return
    now = parts.standing()
    meeting(now, event)
    rows = posts.swaps(now, event)
    if rows.empty:
        return
    post = st.selectbox(
        "at the post", list(dict.fromkeys(rows["post"])), key="swap_post", bind="query-params"
    )
    matrix(now, event, post)
    parts.numbers_behind(lambda: rows, "swaps", "swaps")


@drawn_once
def people_away(now: Standing, event: str) -> None:
    """Distances between people and the antennas that are sent."""
    st.header(SECTIONS["distances"])
    rows = posts.distances(now, event)
    if rows.empty:
        st.text("No kit whose distance can be worked out is sent to this event yet.")
        return
    parts.cautions(["exposure", "masts", "lightning"])
    st.text(
        "Each bar runs from the distance for the crew to that for everyone else, at the band that asks most; "
        "the upright line is how near people come; where there is none, write it in the list of posts, under “Public”. "
        "Distances are estimates after public formulas, not measurements."
    )
    axis = "feet from the antenna" if units.is_us() else "metres from the antenna"
    bars(event, "distances", rows, posts.distance_title(rows), axis)


def on_paper(now: Standing, event: str) -> None:
    """The sheets of an event, one at a time, each made when it is asked for."""
    st.header("what goes on paper?")
    made = now.kept.once(("sheets of", event), lambda: sheets_of.of_event(now.assessment, event))
    chosen = st.selectbox(
        "sheet", list(made), index=None, key="event-sheet", placeholder="choose packet, form or packing list"
    )
    if chosen is not None:
        parts.sheet(
            f"Download {parts.plain(chosen)} as PDF",
            made[chosen],
            f"{file_name(event, chosen)}.pdf",
            "event-sheet-pdf",
        )


@drawn_once
def headline(now: Standing, event: str) -> None:
    """How the posts of an event stand, in words and counts."""
    scores = post_review.scores_of(now, event)
    st.markdown(f"**{parts.plain(post_review.headline(event, scores))}**")
    events = now.assessment.table("event")
    row = events[events["event"] == event].iloc[0]
    if change := told.clocks(row, row["starts"], row["ends"], days.spoken):
        st.text(f"Clocks {change}; hours are counted as they pass.")
    parts.verdict_metrics(scores)


def show() -> None:
    me = access.require(access.Action.SEE_EVENTS)
    now = parts.standing()
    st.title("Who can hold which post?")
    events = now.of("event")
    if events.empty:
        parts.no_event_yet("No event is known yet.")
    name = st.selectbox("event", now.events, key="event", bind="query-params")
    if post_review.scores_of(now, name).empty:
        if not me.may(access.Action.SEND_CLUB):
            st.info("This event has no posts yet. The coordinator names them.")
            return
        st.info(
            "This event has no posts yet. Send posts.csv with its name in the column event, or name them by hand."
        )
        its_posts = {"list": "posts of an event", "event": name}
        st.page_link("views/lists.py", label=":green[name its posts]", query_params=its_posts)
        st.page_link("views/send.py", label=":green[send posts.csv]")
        return
    headline(now, name)
    if not access.plans_events(me):
        each_post(now, name, me)
        return
    if me.may(access.Action.ASSIGN):
        st.page_link(
            "views/lists.py",
            label=":green[who goes to which post, as a list]",
            query_params={"list": "who goes to which post", "event": name},
        )
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
        who_goes_where.staffing_plan(name)
    elif section == SECTIONS["hours"]:
        battery_hours(now, name)
        numbers(name, "hours", posts.as_said(posts.hours(now, name)))
    elif section == SECTIONS["swaps"]:
        stand_ins(name)
    elif section == SECTIONS["distances"]:
        people_away(now, name)
        numbers(name, "distances", posts.kept_up(posts.distances(now, name)).round(1))
    else:
        each_post(now, name, me)
    on_paper(now, name)


show()
