"""What if something changes: verdicts and staffing of an event side by side, and which single failure costs most."""

import pandas as pd
import streamlit as st

from dashboard import access, parts, units, whatif, who_goes_where
from dashboard.access import Action, Share, Sight
from dashboard.palette import LOSSES, VERDICTS
from dashboard.standing import Standing, club
from dashboard.turns import in_turn
from data import plain_words, reference
from rules.plans import whatif as plans
from rules.plans.whatif import ChangeError

SECONDS = 5.0  # for each of the two staffings


def ask(now: Standing, sight: Sight) -> whatif.Asked:
    """The event and what would be otherwise there."""
    posts = now.of("post")
    event = st.selectbox("event", now.events_with_posts(), key="event", bind="query-params")
    told = now.assessment.table("event").set_index("event").loc[event]
    with st.grid(min_column_width=200):
        coldest = units.asked("coldest", "°C", -60, 60, "coldest", _usual(told["temp_min_c"]))
        hottest = units.asked("hottest", "°C", -60, 60, "hottest", _usual(told["temp_max_c"]))
        longer = st.number_input("longer by, hours", -48.0, 240.0, 0.0, 0.5, key="longer")
        duty = st.selectbox(
            "duty", reference.words("duty"), index=None, key="duty", placeholder="as told",
            format_func=plain_words.labels("duty").get,
        )  # fmt: skip
        post = st.selectbox(
            "hours and duty at", list(posts[posts["event"] == event]["post"]), index=None, key="post",
            placeholder="every post",
        )  # fmt: skip
    members = [name for name in now.of("member")["member"] if sight.of(name) is not Share.NONE]
    absent = st.multiselect("who is absent?", members, key="absent", placeholder="everyone comes")
    kits = now.of("kit")
    kits = kits.loc[[sight.of(name) is not Share.NONE for name in kits["member"]]]
    broken = st.multiselect(
        "which kit fails?", list(kits["subject"]), key="broken", placeholder="every kit works"
    )
    hours = f"{longer:+g}" if longer else ""
    return whatif.Asked(event, coldest, hottest, hours, duty, post, tuple(absent), tuple(broken))


def _usual(value: float) -> str:
    return "not told" if pd.isna(value) else f"{units.spoken(value, '°C')} as told"


def show_answer(now: Standing, sight: Sight, asked: whatif.Asked) -> None:
    """Verdicts and staffing before and after; who stands where for those who plan."""
    key = ("whatif", asked)
    is_asked = st.button("Work it out", type="primary", key="work-out", disabled=not asked.words())
    if not asked.words():
        st.text("Change something above: nothing is stored or sent by trying it out.")
        return
    changes = asked.words(lambda value: units.spoken(value, "°C"))
    st.markdown(parts.plain(f"If {parts.listed(changes)}:"))
    if not is_asked and key not in now.kept:
        return
    try:
        with st.spinner("Judging and staffing, before and after …"):
            found = now.kept.once(
                key,
                lambda: in_turn(lambda: whatif.answer(club().store.frames(), asked, now.assessment, SECONDS)),
            )
    except ChangeError as error:
        st.error(parts.plain(str(error)))
        return
    rows = found.verdicts
    rows = rows.loc[[not isinstance(m, str) or sight.of(m) is not Share.NONE for m in rows["member"]]]
    st.subheader(parts.plain(whatif.title(rows)))
    parts.legend(VERDICTS)
    parts.wrapped(whatif.side_by_side(rows), "side-by-side", f"Verdicts at {asked.event} before and after")
    st.subheader("and the best staffing?")
    st.text(
        "Lower is better, and an earlier line counts before a later one. Each is the best plan found in a few seconds."
    )
    st.table(
        whatif.measures_words(found.staffing.measures),
        border="horizontal", hide_index=True, alt="The best staffing before and after",
    )  # fmt: skip
    if access.plans_events(access.require(Action.SEE_EVENTS)):
        moves = found.staffing.moves
        st.markdown(f"**{parts.plain(whatif.moves_title(moves))}.**")
        if len(moves):
            st.table(
                whatif.who_stands(moves).map(parts.plain),
                border="horizontal", hide_index=True, alt="Who stands where, before and after",
            )  # fmt: skip
        if len(found.staffing.uncovered):
            st.markdown("**What would stay open, and what would fill it:**")
            who_goes_where.open_seats(found.staffing.uncovered)


@st.fragment
def single_failures(event: str) -> None:
    """Which one person, kit, battery or adapter family costs the event most, worst first."""
    me = access.require(Action.SEE_EVENTS)
    now, sight = parts.standing(), access.sight(me)
    st.header("which single failure costs most?")
    key = ("failures", event)
    is_asked = st.button("Fail one thing at a time", key="fail")
    if not is_asked and key not in now.kept:
        st.text(
            "Every person, kit, battery and family of adapters is taken away once, and the posts judged again."
        )
        return
    with st.spinner("Failing one thing at a time …"):
        of = now.assessment
        table = now.kept.once(
            key, lambda: in_turn(lambda: plans.single_failures(club().store.frames(), event, of))
        )
    said, rows = whatif.failures_title(table, event), whatif.ranked(table)
    owners = whatif.of_members(rows["which"], rows["what"])
    rows = rows.assign(
        which=[
            name if sight.is_full(owner) else sight.name(owner)
            for name, owner in zip(rows["which"], owners, strict=True)
        ]
    )
    if rows.empty:
        st.text(f"{said}.")
        return
    rows["which"] = rows["which"].where(
        ~rows.duplicated(["what", "which"]), rows["which"] + " " + (rows.index + 1).astype(str)
    )
    kept_as = ("failures", event, me.role, me.member)
    parts.chart(
        kept_as, lambda: whatif.failures_chart(rows, said), key="failures",
        alt=f"Single failures by posts lost. {said}.",
    )  # fmt: skip
    parts.legend(LOSSES)
    st.text("Lost: a post that is ready, with limits or not, and would be neither.")
    parts.numbers_behind(lambda: rows, "single failures", "failures", kept_as)


def show() -> None:
    me = access.require(Action.SEE_EVENTS)
    now, sight = parts.standing(), access.sight(me)
    st.title("What if something changes?")
    if not now.events_with_posts():
        parts.no_event_yet("No event with posts is known yet.")
    asked = ask(now, sight)
    show_answer(now, sight, asked)
    single_failures(asked.event)


show()
