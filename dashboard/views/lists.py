"""What is in the club's lists? Fill in and edit one of them, and save it as a file would be."""

from functools import partial

import pandas as pd
import streamlit as st

from dashboard import access, parts, sheet_editing
from dashboard.access import Action
from dashboard.drafts import editor, finish, needed, outcome
from dashboard.sending import sent_by
from dashboard.sheet_editing import Part
from dashboard.standing import club
from data.store import COVERS

POSTS = "posts of an event"
LISTS = {
    "members": "members",
    "events": "events",
    POSTS: "posts",
    "who goes to which post": "assignments",
    "price book": "offers",
    "loans of club gear": "loans",
}


def choose_event(stem: str) -> str | None:
    """The event whose rows are edited."""
    known = club().standing().events
    told = {event for name in ("events", stem) for event in club().store.frame(name)["event"]}
    events = [*known, *sorted(told - {*known})]
    return st.selectbox(
        "event",
        events,
        index=parts.only(events),
        key="event",
        placeholder="choose an event",
        bind="query-params",
    )


def leads(stem: str, _: pd.DataFrame) -> None:
    """Where a list that was saved leads."""
    if stem == "events":
        st.page_link("views/lists.py", label=":green[name their posts]", query_params={"list": POSTS})
    if stem in ("posts", "assignments"):
        st.page_link("views/events.py", label=":green[who can hold which post?]")


def edit_list(stem: str) -> None:
    outcome(access.require(needed(stem)), partial(leads, stem))
    part = Part(stem)
    if COVERS[stem] == ("event",):
        event = choose_event(stem)
        if not event:
            st.text("Choose an event. A new one is begun in the list of events.")
            return
        part = Part(stem, (event,))
    st.text("Add rows at the bottom, mark rows on the left to take them away.")
    editor(part, None, f"Rows of {stem}")
    parts.meanings({stem: sheet_editing.meanings(part)})
    finish([part])


def show() -> None:
    title = st.empty()
    title.title("What is in the club's lists?")
    me = access.person()
    lists = [name for name, stem in LISTS.items() if me is not None and stem in sent_by(me)]
    if me is None or not lists:
        access.require(Action.SEND_CLUB)
    chosen = st.selectbox(
        "list to edit",
        lists,
        index=parts.only(lists),
        key="list",
        placeholder="choose a list",
        bind="query-params",
    )
    if chosen is None:
        st.text("Choose a list to look at or to edit.")
        st.page_link("views/send.py", label=":green[send files]; blank lists are there too")
        st.page_link("views/mine.py", label=":green[what is in a kit] stands on a page of its own")
        return
    title.title(chosen.capitalize())
    edit_list(LISTS[chosen])


show()
