"""Lists being edited on a page: what the editor was given and holds, checked, previewed and saved as a file would be."""

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd
import streamlit as st

from dashboard import access, consent, parts, sheet_editing, units
from dashboard.access import Action
from dashboard.edits import EditError
from dashboard.sending import OTHERS, in_counts, what_becomes
from dashboard.sheet_editing import Part
from dashboard.standing import club
from data import upload

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


def outcome(me: access.Person, leads: Callable[[pd.DataFrame], None]) -> None:
    """What came of the last save; `leads` says where it leads, given the scores before."""
    if wrong := st.session_state.pop("edit_wrong", ""):
        st.error(parts.plain(wrong))
    done = st.session_state.pop("edited", None)
    if done is None:
        return
    with st.container(border=True, key="outcome"):
        st.success(f"Saved: {parts.many(done['changes'], 'change')}. What stood before {what_becomes(me)}.")
        leads(done["before"])


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
