"""What is in my kit? Fill in and edit a kit, or another list of the club, and save it as a file would be."""

from dataclasses import dataclass

import pandas as pd
import streamlit as st

from dashboard import access, consent, parts, sheet_editing, units
from dashboard.access import Action
from dashboard.edits import EditError
from dashboard.sending import OTHERS, in_counts, sent_by, what_becomes
from dashboard.sheet_editing import CHECKLISTS, Part
from dashboard.standing import club
from data import upload
from data.store import COVERS

KIT, POSTS = "things in a kit", "posts of an event"
LISTS = {
    KIT: "inventory",
    "members": "members",
    "events": "events",
    POSTS: "posts",
    "who goes to which post": "assignments",
    "price book": "offers",
    "loans of club gear": "loans",
}
MOST_WRONG = 30  # sentences of what is wrong at once
BLANK = ("kits",)  # always one row, to be filled in


@dataclass
class Draft:
    """One part being edited.

    Attributes
    ----------
    began_with : what stood in force when editing began
    rows : what the editor was given
    latest : what it holds now
    is_us : whether figures stand there in feet and pounds
    round : grows when the editor is to be given other rows
    """

    began_with: bytes
    rows: pd.DataFrame
    latest: pd.DataFrame
    is_us: bool
    round: int = 0

    def give(self, rows: pd.DataFrame) -> None:
        """Show other rows in the editor."""
        self.rows = self.latest = rows.reset_index(drop=True)
        self.round += 1

    def key(self, part: Part) -> str:
        """Under which the editor stands in the session."""
        return f"rows-{part.stem}-{part.name}-{self.round}"


def begin(part: Part) -> Draft:
    """A part as it stands in force, to be edited."""
    rows = sheet_editing.opened(part, club().store.frame(part.stem))
    if part.stem in BLANK and rows.empty:
        rows = sheet_editing.one_blank(part)
    return Draft(sheet_editing.in_force(part), rows, rows, units.is_us())


def draft(part: Part) -> Draft:
    """The draft of this session, begun where there is none or where nothing was edited yet and others saved."""
    drafts: dict[Part, Draft] = st.session_state.setdefault("drafts", {})
    if part not in drafts:
        drafts[part] = begin(part)
    held = drafts[part]
    if held.is_us != units.is_us():
        held.is_us = units.is_us()
        held.give(sheet_editing.turned(part, held.latest))
    return held


def is_edited(part: Part, now: Draft) -> bool:
    """Whether the editor holds anything else than what stood in force."""
    blank = pd.DataFrame(columns=now.latest.columns)
    before = begin(part).rows if sheet_editing.in_force(part) == now.began_with else blank
    return sheet_editing.csv_of(part, now.latest) != sheet_editing.csv_of(part, before)


def again(*edited: Part) -> None:
    """Throw the edits away and begin with what is in force."""
    for part in edited:
        held = draft(part)
        fresh = begin(part)
        held.began_with = fresh.began_with
        held.give(fresh.rows)


def keep_mine(*edited: Part) -> None:
    """Go on with the edits, over what somebody else saved meanwhile."""
    for part in edited:
        draft(part).began_with = sheet_editing.in_force(part)


def redraw(part: Part) -> None:
    """Give the editor its own rows again, so that another set of columns keeps what was written."""
    held = draft(part)
    held.give(held.latest)


def checklist(part: Part) -> None:
    """Begin an empty kit."""
    if sort := st.session_state.get("checklist"):
        draft(part).give(sheet_editing.begun_with(part, sort))


def editor(part: Part, columns: list[str] | None, alt: str) -> Draft:
    """The rows of a part, to be edited."""
    held = draft(part)
    if held.key(part) not in st.session_state and not held.latest.equals(held.rows):
        held.give(held.latest)  # the framework lets go of an editor that a page did not draw
    held.rows.index = pd.RangeIndex(1, len(held.rows) + 1)  # as the problems count rows
    held.latest = st.data_editor(
        held.rows,
        key=held.key(part),
        num_rows="fixed" if part.stem in BLANK else "dynamic",
        column_config=sheet_editing.config(part, held.rows),
        column_order=columns,
        hide_index=part.stem in BLANK,
        placeholder="",
        alt=alt,
    )
    return held


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


def show_check(sent: dict[Part, upload.Upload]) -> bool:
    """What the reader says of the rows; whether they can be saved."""
    for read in sent.values():
        if not read.is_accepted:
            found = sheet_editing.problems(read)
            st.error(f"{parts.many(len(found), 'thing')} to mend before this can be saved:")
            more = [f"and {len(found) - MOST_WRONG} more"] if len(found) > MOST_WRONG else []
            st.markdown("\n".join(f"- {parts.plain(said)}" for said in [*found[:MOST_WRONG], *more]))
        for notice in read.notices:
            st.text(f"Note: {notice}")
    return all(read.is_accepted for read in sent.values())


def show_changes(sent: dict[Part, upload.Upload]) -> None:
    """What saving would add, remove and change."""
    changes = pd.concat([club().store.changes(read) for read in sent.values()], ignore_index=True)
    st.markdown(f"**What would change:** {in_counts(changes)}.")
    if not changes.empty:
        told = changes[["item", "change", "member", "column", "before", "after"]]
        parts.wrapped(told, "edit-changes", "What saving would change")


def needed(stem: str) -> Action:
    """What someone must be allowed to do to edit a list of the whole club."""
    return OTHERS.get(stem, Action.SEND_CLUB)


def save(sent: dict[Part, upload.Upload], member: str) -> None:
    """Put the rows in force, unless somebody else changed them meanwhile."""
    me = access.require(Action.SEND_KIT, member) if member else access.require(needed(next(iter(sent)).stem))
    if not consent.noted():
        return
    before = parts.standing().scores
    try:
        saved = sheet_editing.save(sent, {part: draft(part).began_with for part in sent}, me.name)
    except EditError as error:
        st.session_state["edit_wrong"] = str(error)
        return
    again(*sent)
    st.session_state["edited"] = {"changes": len(saved.changes), "before": before}


def outcome(me: access.Person, member: str, kit: str, stem: str = "") -> None:
    """What came of the last save, and where it leads."""
    if wrong := st.session_state.pop("edit_wrong", ""):
        st.error(parts.plain(wrong))
    done = st.session_state.pop("edited", None)
    if done is None:
        return
    with st.container(border=True, key="outcome"):
        st.success(f"Saved: {parts.many(done['changes'], 'change')}. What stood before {what_becomes(me)}.")
        if kit:
            st.markdown(
                f"The kit was {parts.kit_stands(done['before'], member, kit)}.  \n"
                f"Now it is **{parts.kit_stands(parts.standing().scores, member, kit)}**."
            )
            st.page_link(
                "views/kit.py",
                label=":green[what should I fix first?]",
                query_params={"member": member, "kit": kit},
            )
        if stem == "events":
            st.page_link("views/mine.py", label=":green[name their posts]", query_params={"list": POSTS})
        if stem in ("posts", "assignments"):
            st.page_link("views/events.py", label=":green[who can hold which post?]")


def finish(edited: list[Part], member: str = "", kit: str = "") -> None:
    """Check, preview and save what the editors hold."""
    drafts = {part: draft(part) for part in edited}
    stale = [part for part in edited if sheet_editing.in_force(part) != drafts[part].began_with]
    if stale:
        st.warning(
            "Somebody else changed these rows since you opened them. Your edits are kept and not saved. "
            "What would change below is counted against what stands now."
        )
        with st.container(horizontal=True):
            st.button("Keep my edits and go on", on_click=keep_mine, args=stale, key="keep-mine")
            st.button("Throw mine away and show what stands now", on_click=again, args=stale, key="again")
    changed = [part for part in edited if part in stale or is_edited(part, drafts[part])]
    sent = {part: sheet_editing.read(part, drafts[part].latest) for part in changed}
    first = edited[0]
    if not sent:
        st.text("Nothing is changed yet.")
    elif not show_check(sent):
        st.button("Throw my edits away", on_click=again, args=changed, key="undo")
    else:
        show_changes(sent)
        loose = club().leads_nowhere(list(sent.values()), member)
        parts.leads_nowhere([sheet_editing.in_row(found) for found in loose])
        has_agreed = consent.asked()
        with st.container(horizontal=True):
            st.button(
                "Save",
                type="primary",
                key="save",
                disabled=bool(stale) or not has_agreed,
                on_click=save,
                args=(sent, member),
            )
            wants = bool(kit) and st.button("What would the verdict be?", key="judge")
            st.button("Throw my edits away", on_click=again, args=changed, key="undo")
        if wants:
            with st.spinner("judging the kit as edited"):
                after = sheet_editing.verdict_after(sent, member, parts.standing().day)
            st.markdown(
                f"The kit is {parts.kit_stands(parts.standing().scores, member, kit)}.  \n"
                f"It would be **{parts.kit_stands(after, member, kit)}**."
            )
    parts.download(
        "Download these rows as CSV",
        sheet_editing.csv_of(first, drafts[first].latest),
        f"{first.stem}.csv",
        "edited-csv",
    )


def edit_kit(me: access.Person) -> None:
    chosen = choose_kit(me)
    if chosen is None:
        st.text("Choose whose kit, and which one. A name that is not there yet begins a new kit.")
        return
    member, kit = chosen
    outcome(me, member, kit)
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


def edit_list(stem: str) -> None:
    outcome(access.require(needed(stem)), "", "", stem)
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
    title.title("What is in my kit?")
    me = access.person()
    if me is None:
        access.require(Action.SEND_KIT)
    lists = [name for name, stem in LISTS.items() if stem in sent_by(me)]
    if not lists:
        access.require(Action.SEND_KIT, me.member)
    chosen = lists[0]
    if len(lists) > 1:
        chosen = st.selectbox("list to edit", lists, key="list", bind="query-params")
    if LISTS[chosen] == "inventory":
        edit_kit(me)
    else:
        title.title(chosen.capitalize())
        edit_list(LISTS[chosen])


show()
