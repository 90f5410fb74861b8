"""After an event: what became of each kit, saved as changed rows; hours as predicted and as measured; the duty."""

import datetime

import pandas as pd
import streamlit as st

from dashboard import access, after, parts
from dashboard.access import Action, Person
from dashboard.edits import EditError, preview, save
from dashboard.names import file_name
from dashboard.palette import RAN
from dashboard.standing import Standing, club
from rules.plans import report
from rules.plans.after import Correction, corrections, with_duty

COLUMNS = {
    "planned_h": st.column_config.NumberColumn("planned (h)", format="%.1f"),
    "hours_on_battery": st.column_config.NumberColumn(
        "ran (h)", help="Hours that it ran on its batteries.", min_value=0, max_value=720, format="%.1f"
    ),
    "battery_left_pct": st.column_config.NumberColumn(
        "left (%)", help="Charge left in its batteries at the end.", min_value=0, max_value=100, format="%.0f"
    ),
    "trips_back": st.column_config.NumberColumn(
        "trips", help="How often someone went back for something.", min_value=0, max_value=100
    ),
    "also_missing": st.column_config.TextColumn(
        "also missing", help="What was missing and stands on no list."
    ),
    "notes": st.column_config.TextColumn("notes"),
}
FIXED = ["member", "kit", "post", "planned_h"]


def in_order(lines: pd.DataFrame) -> list[str]:
    """The columns: the names that tell the lines apart, what is to be filled in, then what is only to be read."""
    names = FIXED[:2] if not lines.duplicated(FIXED[:2]).any() else FIXED[:3]
    return names + [column for column in lines if column not in FIXED] + FIXED[len(names) :]


def whose() -> tuple[Person, str]:
    """Who tells, and the member whose kits they may tell of; "" for everyone's."""
    asking = access.person()
    own = "" if asking is None or asking.may(Action.REPORT) else asking.member
    return access.require(Action.REPORT, own), own


def choose(events: pd.DataFrame) -> pd.Series:
    """The event in question: those that have begun first, the latest on top."""
    today = pd.Timestamp(datetime.date.today())
    over = events[events["starts"] < today + pd.Timedelta(days=1)].sort_values("starts", ascending=False)
    order = [*over["event"], *events.drop(over.index).sort_values("starts")["event"]]
    name = st.selectbox("event", order, key="event", bind="query-params")
    return events[events["event"] == name].iloc[0]


def tell(me: Person, own: str, event: pd.Series) -> None:
    """The report: a line for each kit at each post, what failed, what was missing, and what that changes."""
    name, frames = event["event"], club().store.frames()
    lines = report.sheet(frames, name)
    known = after.named(frames, name)
    if own:
        lines = lines[lines["member"] == own].reset_index(drop=True)
        known = {thing: place for thing, place in known.items() if thing[0] == own}
    if lines.empty:
        st.text(f"No kit of {own} was sent to this event." if own else "No kit was sent to this event.")
        return
    st.text(
        "Fill in the columns with a pen in their heading, and leave empty what nobody knows. "
        "On a narrow screen, move the table sideways to reach them all."
    )
    key = f"{file_name(name)}-{st.session_state.get('report-round', 0)}"
    filled = st.data_editor(
        lines, hide_index=True, key=f"report-{key}", alt=f"How each kit did at {name}",
        disabled=FIXED, column_config=parts.in_sight(lines, FIXED[:2]) | COLUMNS, column_order=in_order(lines), placeholder="",
    )  # fmt: skip
    parts.meanings({"report": {told["label"]: told["help"] for told in COLUMNS.values() if told["help"]}})
    filled = filled.assign(**{column: lines[column] for column in FIXED})  # whatever a browser sent for these
    things = list(known)
    places = {place: thing for thing, place in known.items()}
    pieces = report.things(frames, name).set_index("place")["quantity"]
    chosen = []
    for column, label in (("faulty", "what failed?"), ("missing", "what was missing?")):
        before = [places[place] for place in report.chosen_before(frames, name, column) if place in places]
        named = st.multiselect(
            label, things, default=before, key=f"{column}-{key}", format_func=spoken,
            placeholder="choose from the kits' own lists",
        )  # fmt: skip
        chosen.append(
            {thing: how_many(thing, int(pieces[known[thing]]), f"{column}-{key}") for thing in named}
        )
    st.text(
        "What failed is marked faulty, what was missing is taken out of the kit; the next review counts on neither."
    )
    made = after.edits(frames, name, filled, *chosen)
    st.header("what would change?")
    try:
        changes = preview(made, f"after-{file_name(name)}")
    except EditError as error:
        st.error(parts.plain(str(error)))
        return
    if changes.empty:
        st.text("Nothing yet: fill in a line, or choose what failed.")
        return
    # what is changed goes before what is added, which is long
    changes = changes.sort_values("change", ascending=False, kind="stable")
    told = changes[["item", "change", "member", "kit", "column", "before", "after"]]
    parts.wrapped(told, "report-changes", "What the report would change")
    is_early = not report.has_begun(event, datetime.date.today())
    if is_early:
        st.info("This event has not begun. It can be told of from its first day on.")
    st.button(
        "Save the report",
        type="primary",
        key="save",
        disabled=is_early,
        on_click=keep,
        args=(made, name, own),
    )


def keep(made: dict, event: str, own: str) -> None:
    """Save a report on the kits of one member, or with "" of all, or say why it cannot be."""
    me = access.require(Action.REPORT, own)
    before = parts.standing().scores
    try:
        save(made, f"after-{file_name(event)}", me.name)
    except EditError as error:
        st.session_state["report-said"] = str(error)
    else:
        st.session_state["report-round"] = st.session_state.get("report-round", 0) + 1
        st.session_state["report-before"] = before


def saved(now: Standing, before: pd.DataFrame, me: Person) -> None:
    """What a report that was just saved did to the kits that one sees in full."""
    seen, moved = access.sight(me), after.moved(before, now.scores)
    moved = moved.loc[[seen.is_full(member) for member in moved["member"]]]
    otherwise = (
        f"{parts.many(len(moved), 'kit')} {'stands' if len(moved) == 1 else 'stand'} otherwise than before:"
    )
    st.success(
        "The report is saved; the review counts with it from now on. "
        + (otherwise if len(moved) else "Every kit that you see in full stands as before.")
    )
    if len(moved):
        parts.wrapped(moved, "report-moved", "Kits that stand otherwise after the report")
    st.page_link("views/season.py", label=":green[is the club ready?]")


def spoken(thing: tuple[str, str, str, int]) -> str:
    """A thing as people would name it."""
    member, kit, item, nth = thing
    return f"{member}, {kit}: {item}" + (f" ({nth})" if nth > 1 else "")


def how_many(thing: tuple[str, str, str, int], there: int, key: str) -> int:
    """How many pieces of a line are meant: all of them, until somebody says fewer."""
    if there == 1:
        return 1
    label = f"how many of the {there}? {parts.plain(spoken(thing))}"
    return int(st.number_input(label, 1, there, there, key=f"pieces-{key}-{'-'.join(map(str, thing))}"))


def measured(now: Standing, me: Person, own: str, event: str) -> None:
    """Hours as predicted and as measured, and what they say of the duty profiles."""
    st.header("did the batteries do as predicted?")
    every = after.observations(now)
    found = every[every["event"] == event]
    if own:
        found = found[found["member"] == own]
    if found.empty:
        st.text("Nobody has told how long a kit ran at this event, this year or before.")
        return
    parts.cautions(["charging"])
    st.text(
        "Each bar is what was predicted of the kit at that post. The mark is how long it would have lasted by the charge "
        "that was left; the line through the mark says how sure that is, as a gauge may be off by "
        f"{now.assessment.policy.facts['gauge_share']:.0%} of a full charge. "
        "Where that line meets the bar, the kit ran as predicted."
    )
    said, drawn = after.title(found), found.dropna(subset=["predicted_h"])
    if not drawn.empty:
        parts.chart(
            ("ran", event, own), lambda: after.chart(drawn, said), key="ran",
            alt=f"Hours as predicted and as measured. {said}.",
        )  # fmt: skip
        parts.legend(RAN)
    kept_as = None if drawn.empty else ("ran", event, own)
    parts.numbers_behind(lambda: after.figures(found).round(1), "hours as measured", "ran", kept_as)
    if me.may(Action.SET_POLICY):
        st.header("does a duty profile need a change?")
        st.text("Every event counts here, because a profile holds for all of them.")
        for correction in corrections(now.assessment, every):
            propose(correction)


def propose(correction: Correction) -> None:
    """What was measured of one profile, and the way to put it in force."""
    with st.container(border=True, key=f"duty-{correction.duty}"):
        st.text(correction.reason)
        if not correction.is_enough:
            st.text(f"Too few to change it for all: at least {correction.least:g} stations are needed.")
        elif not correction.is_off:
            st.text("The profile lies within what was measured; there is no need to change it.")
        elif st.button("Use what was measured", key=f"use-{correction.duty}"):
            text = with_duty(club().store.policy(), correction)
            st.session_state["policy-proposed"] = (text, correction.reason)
            st.switch_page("views/policy.py")


def show() -> None:
    me, own = whose()
    now = parts.standing()
    st.title("How did it go?")
    events = club().store.frames()["events"]
    if events.empty:
        parts.no_event_yet("No event is known yet.")
    if said := st.session_state.pop("report-said", ""):
        st.error(parts.plain(said))
    before = st.session_state.pop("report-before", None)
    if before is not None:
        saved(now, before, me)
    event = choose(events)
    tell(me, own, event)
    measured(now, me, own, event["event"])


show()
