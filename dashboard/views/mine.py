"""What is in my kit? Fill in and edit a kit, and save it as a file would be."""

from functools import partial

import pandas as pd
import streamlit as st

from dashboard import access, parts, sheet_editing
from dashboard.access import Action
from dashboard.drafts import draft, editor, finish, outcome, redraw
from dashboard.sheet_editing import CHECKLISTS, Part
from dashboard.standing import club


def checklist(part: Part) -> None:
    """Begin an empty kit."""
    if sort := st.session_state.get("checklist"):
        draft(part).give(sheet_editing.begun_with(part, sort))


def with_asked(known: list[str], name: str) -> list[str]:
    """What can be chosen, with what the address asks for: a member or a kit that is about to be begun."""
    asked = st.query_params.get(name, "").strip()
    return [*known, asked] if asked and asked not in known else known


def choose_kit(me: access.Person) -> tuple[str, str] | None:
    """Whose kit, and which one; None until both are chosen."""
    known = sorted(set(parts.standing().of("member")["subject"]))
    own = known if me.may(Action.SEND_KIT) else [me.member] if me.member else []
    own = with_asked(own, "member") if me.may(Action.SEND_KIT) else own
    left, right = st.columns(2)
    with left:
        member = st.selectbox(
            "member",
            own,
            index=parts.only(own),
            key="member",
            placeholder="choose or write a call sign or member number",
            accept_new_options=me.may(Action.SEND_KIT),
            bind="query-params",
        )
    if not member:
        return None
    access.require(Action.SEND_KIT, member)
    inventory = club().store.frames_of(member)["inventory"]
    kits = with_asked(sorted(inventory["kit"].unique()), "kit")
    with right:
        kit = st.selectbox(
            "kit",
            kits,
            index=parts.only(kits),
            key="kit",
            placeholder="choose a kit, or write the name of a new one",
            accept_new_options=True,
            bind="query-params",
        )
    return (member.strip().upper(), kit.strip()) if kit and kit.strip() else None


def leads(member: str, kit: str, before: pd.DataFrame) -> None:
    """What saving did to the verdict of a kit, and what to do next."""
    st.markdown(
        f"The kit was {parts.kit_stands(before, member, kit)}.  \n"
        f"Now it is **{parts.kit_stands(parts.standing().scores, member, kit)}**."
    )
    st.page_link(
        "views/kit.py", label=":green[what should I fix first?]", query_params={"member": member, "kit": kit}
    )


def show() -> None:
    st.title("What is in my kit?")
    asking = access.person()
    me = access.require(Action.SEND_KIT, asking.member if asking is not None else "")
    if me.may(Action.SEND_CLUB):
        st.page_link(
            "views/lists.py",
            label=":green[members, events, posts and other lists of the club] stand on a page of their own",
        )
    chosen = choose_kit(me)
    if chosen is None:
        st.text("Choose whose kit, and which one. A name that is not there yet begins a new kit.")
        return
    member, kit = chosen
    outcome(me, partial(leads, member, kit))
    things, about, tried = (Part(stem, chosen) for stem in ("inventory", "kits", "rehearsals"))
    held = draft(things)
    if held.latest.empty:
        left, right = st.columns([3, 1], vertical_alignment="bottom")
        left.selectbox("begin with a checklist", list(CHECKLISTS), index=None, key="checklist",
                       placeholder="or add rows of your own below")  # fmt: skip
        right.button("Begin", on_click=checklist, args=(things,), key="begin")
    view = st.segmented_control(
        "columns",
        ["what matters", "everything"],
        default="what matters",
        key="columns",
        on_change=redraw,
        args=(things,),
    )
    columns = None if view == "everything" else sheet_editing.short_view(held.rows)
    st.text("One row for each thing; add rows at the bottom, mark rows on the left to take them away. "
            "What stays empty is taken as usual for the kind.")  # fmt: skip
    editor(things, columns, f"Things in {kit} of {member}")
    with st.expander(
        "the kit itself: when it was packed, when its list was printed, how long it should last"
    ):
        editor(about, None, f"About {kit} of {member}")
    with st.expander(
        "when it was tried, or used at an event: how long it ran, what was missing, what failed"
    ):
        st.text("One row for each time. What stays empty is not known.")
        editor(tried, None, f"Rehearsals of {kit} of {member}")
    parts.meanings(
        {
            "Of each thing": sheet_editing.meanings(things, columns),
            "Of the kit itself": sheet_editing.meanings(about),
            "Of each time that it was tried or used": sheet_editing.meanings(tried),
        }
    )
    finish([things, about, tried], member, kit)


show()
