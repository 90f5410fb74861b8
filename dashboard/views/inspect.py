"""Inspection day: look a kit over thing by thing, on a phone, and see what that does to its verdict."""

import pandas as pd
import streamlit as st

from dashboard import access, days, edits, inspections, parts, units
from dashboard.access import Action
from dashboard.inspections import THERE, Look
from dashboard.names import file_name
from dashboard.palette import FOUND
from dashboard.sheets import kit as paper_kit
from dashboard.standing import Standing, club

NEXT = 3
WAS = {
    "faulty": "written down as faulty",
    "removed": "written down as taken out",
    "unknown": "state not known",
}


def state_key(seen: str, place: int) -> str:
    return f"state-{seen}-{place}"


def done_key(seen: str, place: int) -> str:
    return f"done-{seen}-{place}"


def module_key(seen: str) -> str:
    return f"module-{seen}"


def go_to(seen: str, module: str) -> None:
    """Look at another module."""
    st.session_state[module_key(seen)] = module


def all_there(seen: str, places: list[int]) -> None:
    """Every thing of a module that nothing is said of yet is there."""
    for place in places:
        if not st.session_state.get(state_key(seen, place)):
            st.session_state[state_key(seen, place)] = THERE


def keep(seen: str, count: int) -> None:
    """Hold on to what is ticked in modules that are not shown; the framework drops what it does not draw."""
    for place in range(count):
        for key in (state_key(seen, place), done_key(seen, place)):
            if key in st.session_state:
                st.session_state[key] = st.session_state[key]


def ticked(seen: str, count: int) -> dict[int, Look]:
    """What is ticked so far."""
    return {
        place: Look(state, tuple(st.session_state.get(done_key(seen, place)) or ()))
        for place in range(count)
        if (state := st.session_state.get(state_key(seen, place)))
    }


def save(member: str, kit: str, seen: str, count: int) -> None:
    me = access.require(Action.INSPECT, member)
    before = parts.standing()
    try:
        outcome = inspections.inspect(
            member, kit, seen, ticked(seen, count), before.day, me.name, is_own=me.member == member
        )
    except edits.EditError as error:
        st.session_state["inspect_wrong"] = str(error)
        return
    st.session_state["inspected"] = {"outcome": outcome, "before": before.scores}
    if not outcome.is_whole:
        go_on(member, kit, seen, count)


def go_on(member: str, kit: str, seen: str, count: int) -> None:
    """Keep the ticks and the module of a kit that is saved by halves: saving changed its list, and so its fingerprint."""
    changed = inspections.fingerprint(club().store.frames_of(member)["inventory"], member, kit)
    if changed == seen:
        return
    pairs = [
        (key(seen, place), key(changed, place)) for place in range(count) for key in (state_key, done_key)
    ]
    for old, new in [*pairs, (module_key(seen), module_key(changed))]:
        if old in st.session_state:
            st.session_state[new] = st.session_state[old]


def outcome(now: Standing, mine: pd.DataFrame) -> None:
    """What the last inspection changed, and which kit is due next."""
    if wrong := st.session_state.pop("inspect_wrong", ""):
        st.error(parts.plain(wrong))
    done = st.session_state.pop("inspected", None)
    if done is None:
        return
    told = done["outcome"]
    with st.container(border=True, key="outcome"):
        counts = parts.listed([f"{count} {state}" for state, count in told.counts.items() if count])
        st.success(f"Saved: {parts.plain(told.member)}, {parts.plain(told.kit)}. {counts}.")
        was = parts.kit_stands(done["before"], told.member, told.kit)
        st.markdown(
            f"The kit was {was}.  \nNow it is **{parts.kit_stands(now.scores, told.member, told.kit)}**."
        )
        if not told.is_whole:
            st.text("Not everything was looked at, so no day of inspection is written down yet.")
        if not told.saved.changes.empty:
            with st.expander(f"what changed: {parts.many(len(told.saved.changes), 'cell')}"):
                st.dataframe(
                    told.saved.changes[["item", "column", "before", "after"]],
                    hide_index=True,
                    key="inspection-changes",
                    alt="What the inspection changed",
                )
        st.page_link(
            "views/kit.py",
            label=":green[what should this member fix first?]",
            query_params={"member": told.member},
        )
    next_kits(mine[(mine["member"] != told.member) | (mine["kit"] != told.kit)])


def next_kits(mine: pd.DataFrame) -> None:
    """Links to the kits that are due first."""
    if mine.empty:
        return
    st.header("which kit is next?")
    for row in mine.head(NEXT).itertuples():
        when = "never inspected" if pd.isna(row.due) else f"due {days.spoken(row.due)}"
        st.page_link(
            "views/inspect.py",
            label=f":green[{parts.plain(row.member)}, {parts.plain(row.kit)}: {when}]",
            query_params={"member": row.member, "kit": row.kit},
        )


def thing(row: pd.Series, place: int, seen: str) -> None:
    """One thing with its controls."""
    with st.container(border=True, key=f"thing-{place}"):
        many = f"{paper_kit.times(row)} " if row["quantity"] != 1 else ""
        was = WAS.get(row["condition"], "")
        small = " · ".join(filter(None, (units.said(row["details"]), was)))
        st.markdown(f"**{many}{parts.plain(row['item'])}**" + (f"  \n{parts.plain(small)}" if small else ""))
        st.segmented_control(
            f"state of {parts.plain(row['item'])}",
            list(FOUND),
            format_func=lambda state: FOUND[state].label,
            key=state_key(seen, place),
            label_visibility="collapsed",
            width="stretch",
        )
        if row["ticks"]:
            st.pills(
                f"done today to {parts.plain(row['item'])}",
                list(row["ticks"]),
                selection_mode="multi",
                key=done_key(seen, place),
                label_visibility="collapsed",
            )


@st.fragment
def walk(member: str, kit: str, seen: str, rows: pd.DataFrame) -> None:
    """The kit, module by module; a tick runs only this part again."""
    access.require(Action.INSPECT, member)
    keep(seen, len(rows))
    modules = list(dict.fromkeys(rows["module"]))
    looks = ticked(seen, len(rows))
    left = {name: sum(place not in looks for place in rows.index[rows["module"] == name]) for name in modules}
    module = modules[0]
    if len(modules) > 1:
        # its words stay as they are while things are ticked: a browser would go back to the first
        module = st.selectbox("module", modules, key=module_key(seen))
        there = f"{left[module]} to look at here" if left[module] else "● done here"
        still = len(rows) - len(looks)
        st.text(
            f"{there}; {parts.many(still, 'thing')} to look at in the whole kit."
            if still
            else "● done, the whole kit: save it."
        )
    here = rows[rows["module"] == module]
    parts.cautions(paper_kit.hazards(here.to_dict("records")))
    for place, row in here.iterrows():
        thing(row, place, seen)
    st.button(
        "All the others here are there",
        key="all-there",
        on_click=all_there,
        args=(seen, list(here.index)),
        width="stretch",
    )
    open_ = [name for name in modules if name != module and left[name]]
    if open_:
        st.button(
            f"Next: {parts.plain(open_[0])}",
            key="next-module",
            on_click=go_to,
            args=(seen, open_[0]),
            width="stretch",
        )
        st.markdown("[up to the first thing](#inspection-day)")
    st.progress(len(looks) / len(rows), f"{len(looks)} of {len(rows)} looked at")
    if st.button("Save what was found", key="save", type="primary", width="stretch", disabled=not looks):
        save(member, kit, seen, len(rows))
        st.rerun()


def choose(mine: pd.DataFrame) -> tuple[str, str] | None:
    """Whose kit, and which."""
    members = sorted(set(mine["member"]))
    member = parts.member_box(members)
    if not member:
        return None
    own = sorted(mine[mine["member"] == member]["kit"])
    if len(own) == 1:
        return member, own[0]
    kit = st.selectbox("kit", own, index=None, key="kit", placeholder="choose a kit", bind="query-params")
    return (member, kit) if kit else None


def show() -> None:
    now = parts.standing()
    st.title("Inspection day")
    due = inspections.due(now)
    if due.empty:
        parts.nothing_yet("No kit is known yet.")
    me = access.require(Action.SEE_SEASON)
    mine = due.loc[[me.may(Action.INSPECT, member) for member in due["member"]]].reset_index(drop=True)
    if mine.empty and parts.is_own_unsent(me, now):
        parts.none_sent(me)
        return
    if mine.empty:
        access.require(Action.INSPECT)
    chosen = choose(mine)
    if chosen is None:
        st.text("Choose a kit, and say of each thing in it whether it is there and works.")
        next_kits(mine)
        return
    member, kit = chosen
    me = access.require(Action.INSPECT, member)
    rows = inspections.things(now, member, kit)
    if rows.empty:
        st.text("Nothing is written down for this kit yet.")
        return
    st.markdown(f"{parts.plain(kit)} is {parts.kit_stands(now.scores, member, kit)}.")
    if me.member == member:
        st.markdown(
            "This is your own kit: once all of it is looked at, today is written down as the day it was packed. "
            "An inspection is done by another member."
        )
    walk(member, kit, inspections.fingerprint(club().store.frames_of(member)["inventory"], member, kit), rows)
    outcome(now, mine)  # where whoever pressed the button looks
    origin = parts.origin()
    parts.sheet(
        "Download this kit's inspection sheet as PDF",
        lambda: paper_kit.inspection(now.assessment, member, kit, base=origin),
        f"{file_name(member, kit)}-inspection.pdf",
        "inspection-pdf",
    )


show()
