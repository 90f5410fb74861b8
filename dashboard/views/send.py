"""Send files: what is wrong with them, what they would change, what came of it; earlier ones; blank lists."""

from collections.abc import Iterable
from pathlib import Path

import pandas as pd
import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

import data
from dashboard import access, charts, consent, days, limits, parts, units
from dashboard.palette import VERDICTS
from dashboard.sending import SHOWN_MEMBERS, asked, in_counts, moved_in_words, sent_by, what_becomes, whose
from dashboard.standing import Standing, club
from data import problems, reference, schema, sent_back, spreadsheet, table_schema, upload
from data.database import StoreError
from data.store import COVERS
from rules.engine import Finding
from rules.score import next_steps

TEMPLATES = Path(data.__file__).parent / "templates"
FIRST = 3
WHAT = {
    "inventory": "what is in each kit; the one file that every member sends",
    "members": "licence, roles and limits of each member",
    "kits": "purpose and planned hours of each kit",
    "rehearsals": "when each kit was tried, and what was missing",
    "events": "when and where each event is",
    "posts": "the posts of each event and what they ask for",
    "assignments": "who is sent to which post with which kit",
    "offers": "the price book of the club",
    "loans": "club gear that is lent out",
}


def show_problems(sent: upload.Upload, key: str) -> None:
    """Everything that is wrong with a file, to read and to take away."""
    place = problems.counted(sent.file)
    is_a_list = any(problem.line for problem in sent.problems)
    st.error(
        f"{parts.many(len(sent.problems), 'problem')} in {parts.plain(sent.file)}. "
        f"Nothing of it has been taken. Mend the {place}s below and send the file again."
        if is_a_list
        else f"{parts.plain(sent.file)} cannot be read as a list, and nothing of it has been taken."
    )
    parts.problems(sent.problems, ", in the list to download")
    if not is_a_list:
        return
    with st.container(horizontal=True):
        parts.download(
            "Download the problem list",
            sent_back.problems_csv(sent),
            f"problems-{sent.stem or 'file'}.csv",
            f"problem-list-{key}",
        )
        if sent.names:
            parts.download(
                f"Download your file with notes beside each {place}",
                sent_back.annotated_copy(sent),
                f"annotated-{sent.stem or 'file'}.csv",
                f"annotated-{key}",
            )


def show_changes(sent: upload.Upload, key: str) -> bool:
    """What a good file would add, remove and change; whether it would at all."""
    st.success(f"{parts.plain(sent.file)} is in order: {parts.many(len(sent.frame), 'row')} of {sent.stem}.")
    return show_difference(sent, key)


def show_difference(sent: upload.Upload, key: str) -> bool:
    """What putting a file in force would add, remove and change; whether it would at all."""
    changes = club().store.changes(sent)
    if changes.empty:
        st.text("It changes nothing: the same is in force already.")
        return False
    st.markdown(f"**What would change:** {in_counts(changes)}.")
    if (gone := int(changes["change"].eq("removed").sum())) > len(sent.frame):
        st.warning(
            f"More would go than is sent: {parts.many(gone, 'row')} that stand now are not in this file. "
            "To add to a list, send all of it, what stands now and what is new."
        )
    st.dataframe(changes, hide_index=True, key=f"changes-{key}", alt=f"What {sent.file} would change")
    return True


def earlier_uploads(uploads: pd.DataFrame) -> None:
    """What was sent before, by whom, of whom, and whether it is in force."""
    told = {
        "file": uploads["file"],
        "number": uploads["upload_id"],
        "sent (UTC)": uploads["at"].map(days.moment),
        "by": uploads["by"],
        "list": uploads["stem"],
        "rows": uploads["rows"],
        "in force": ["yes" if is_current else "no" for is_current in uploads["is_current"]],
        "whose": [
            " ".join(members) if len(members) <= 3 else parts.many(len(members), "member")
            for members in uploads["members"].str.split()
        ],
    }
    parts.wrapped(pd.DataFrame(told), "uploads", "Earlier uploads")


def may_send(sent: upload.Upload) -> access.Person:
    """Who looks at this page, if they may send what is in a file."""
    return access.require(*asked(sent))


def accept(good: list[upload.Upload]) -> None:
    """Put good files in force, all of them or none, remembering how things stood before."""
    me, *_ = [may_send(sent) for sent in good]
    if not consent.noted():
        return
    if not limits.UPLOADS.take(me.name, len(good)):
        st.session_state["too-often"] = True
        return
    then = parts.standing()
    before = then.scores
    members = {member for sent in good for member in sent.frame.get("member", [])}
    found = {member: found_of(then, member) for member in seen_in_full(members)[:SHOWN_MEMBERS]}
    club().accept_all(good, me.name)
    st.session_state["accepted"] = {
        "files": [sent.file for sent in good],
        "stems": {sent.stem for sent in good},
        "members": sorted(members),
        "before": before,
        "found": found,
    }
    st.session_state["round"] = st.session_state.get("round", 0) + 1


def show_outcome() -> None:
    """What came of the files that were just accepted: scores before and after, and what to fix first."""
    done = st.session_state.get("accepted")
    if not done:
        return
    now = parts.standing()
    members = seen_in_full(done["members"])
    with st.container(border=True, key="outcome"):
        st.success(f"In force: {parts.plain(parts.listed(done['files']))}.")
        if done["stems"] & {"events", "posts", "assignments"}:
            st.page_link("views/events.py", label=":green[who can hold which post?]")
        parts.cautions(careful(now, members[:SHOWN_MEMBERS]))
        for member in members[:SHOWN_MEMBERS]:
            rows = [
                scores[(scores["subject_kind"] == "member") & (scores["subject"] == member)]
                for scores in (done["before"], now.scores)
            ]
            if rows[1].empty:
                continue
            was, is_ = (None if row.empty else row.iloc[0] for row in rows)
            mark = VERDICTS[is_["verdict"]]
            said = (
                f"{parts.plain(member)} is {parts.inked(mark)}, "
                f"score {charts.score_range(is_['low'], is_['high'])}"
            )
            before = (
                "not judged before"
                if was is None
                else (f"before: {was['verdict']}, {charts.score_range(was['low'], was['high'])}")
            )
            st.subheader(said)
            st.text(before)
            if was is not None:
                show_moved(done["found"].get(member, []), found_of(now, member))
            fix_first(now, member)
            st.page_link(
                "views/kit.py", label=f":green[open {parts.plain(member)}]", query_params={"member": member}
            )
        if len(members) > SHOWN_MEMBERS:
            st.text(f"And {len(members) - SHOWN_MEMBERS} more members.")


def found_of(then: Standing, member: str) -> list[Finding]:
    """What is not met or not known of a member."""
    return then.assessment.findings("s.member = ?", [member])


def show_moved(before: list[Finding], after: list[Finding]) -> None:
    """What a new list mended, or what it leaves out, and what it brought."""
    for words, found in moved_in_words(before, after):
        st.markdown(
            f"**{words}**\n"
            + "\n".join(f"- {parts.plain(units.in_finding(one.sentence, one))}" for one in found)
        )


def careful(then: Standing, members: list[str]) -> set[str]:
    """What to be careful of where these members mend what they should mend first."""
    steps = [step for member in members for step in next_steps(then.assessment, member, FIRST)]
    return parts.hazards(step.family for step in steps)


def seen_in_full(members: Iterable[str]) -> list[str]:
    """Those members whose kits whoever looks at this page sees in full."""
    seen = access.sight(access.require(access.Action.SEE_SEASON))
    return sorted(member for member in members if seen.is_full(member))


def send(me: access.Person) -> None:
    session = get_script_run_ctx()
    if session is not None:
        limits.ASKING.open(session.session_id)
    sent_files = st.file_uploader(
        "CSV files or spreadsheets: an inventory, or any other of the lists below",
        accept_multiple_files=True,
        type=["csv", "txt", "tsv", "xlsx", "ods"],
        max_upload_size=5,
        key=f"files-{st.session_state.get('round', 0)}",
    )
    if not sent_files:
        show_outcome()
        return
    st.session_state.pop("accepted", None)
    aliases = club().policy().aliases
    read = [
        sent
        for file in sent_files
        for sent in spreadsheet.read_files(file.name, file.getvalue(), aliases=aliases)
    ]
    good = [sent for sent in read if sent.is_accepted and me.may(*asked(sent))]
    is_new = False
    for number, sent in enumerate(read):
        with st.container(border=True, key=f"file-{number}"):
            if not sent.is_accepted:
                show_problems(sent, str(number))
            elif me.may(*asked(sent)):
                is_new |= show_changes(sent, str(number))
            else:
                action, _ = asked(sent)
                st.warning(f"{parts.plain(sent.file)} is in order, but as {me.called}, you may not {action}.")
            for notice in sent.notices:
                st.markdown(f"Note: {parts.plain(notice)}")
    if st.session_state.pop("too-often", False):
        st.error(limits.TOO_MANY_FILES)
    if is_new:
        parts.leads_nowhere(club().leads_nowhere(good, whose(good)))
        try_out(good)
        has_agreed = consent.asked()
        st.markdown(
            f"Accepting replaces {what_is_replaced(sent.stem for sent in good)}; whatever stood before {what_becomes(me)}."
        )
        st.button(
            f"Put {parts.many(len(good), 'file')} in force",
            type="primary",
            key="accept",
            disabled=not has_agreed,
            on_click=accept,
            args=(good,),
        )


def what_is_replaced(stems: Iterable[str]) -> str:
    """What files take the place of, as the end of a sentence."""
    said = [
        f"all that {stem}.csv said of each {COVERS[stem][-1]} named in it"
        if COVERS[stem]
        else f"the whole of {stem}.csv, also the rows that are not sent again"
        for stem in dict.fromkeys(stems)
    ]
    return "; ".join(said)


def try_out(good: list[upload.Upload]) -> None:
    """Judge files for their sender alone: nothing is kept, and nobody else sees the answer."""
    if not st.button("Judge them for me alone", key="try-out"):
        return
    for sent in good:
        may_send(sent)
    then = club().trial(good)
    with st.container(border=True, key="trial"):
        st.markdown("**For you alone: nothing of this is kept, and nobody else sees it.**")
        members = {member for sent in good for member in sent.frame.get("member", [])}
        shown = seen_in_full(members)[:SHOWN_MEMBERS]
        parts.cautions(careful(then, shown))
        for member in shown:
            said(then, member)


def said(then: Standing, member: str) -> None:
    """How a member would stand, and what to fix first."""
    row = then.scores[(then.scores["subject_kind"] == "member") & (then.scores["subject"] == member)]
    if row.empty:
        return
    score = row.iloc[0]
    st.subheader(
        f"{parts.plain(member)} would be {parts.inked(VERDICTS[score['verdict']])}, "
        f"score {charts.score_range(score['low'], score['high'])}"
    )
    fix_first(then, member)


def fix_first(then: Standing, member: str) -> None:
    """What a member should mend first: what is wrong, and below it what to do."""
    steps = next_steps(then.assessment, member, FIRST)
    if steps:
        st.markdown(
            "**Fix first**\n"
            + "\n".join(
                f"1. {parts.plain(s.titled)} · {parts.plain(units.in_finding(s.sentence, s))}\n\n"
                f"   **{parts.plain(units.in_finding(s.fix, s))}**"
                for s in steps
            )
        )


def restore(upload_id: int) -> None:
    """Bring an earlier upload back, or say why it cannot be."""
    me = access.require(access.Action.RESTORE)
    try:
        club().restore(upload_id, me.name)
        st.session_state["restored"] = f"Upload {upload_id} is in force again."
        st.session_state["earlier"] = None
    except StoreError as error:
        st.session_state["restored"] = str(error)


def earlier(me: access.Person) -> None:
    """What was sent before: all of it for those who may bring it back, else one's own."""
    st.header("what has been sent before?")
    uploads = club().store.uploads()
    if not me.may(access.Action.RESTORE):
        uploads = uploads[(uploads["by"] == me.name) | ((uploads["members"] == me.member) & bool(me.member))]
    if uploads.empty:
        st.text("Nothing yet.")
        return
    said = st.session_state.pop("restored", None)
    if said:
        st.info(parts.plain(said))
    earlier_uploads(uploads[parts.turned(len(uploads), "uploads-page", ", newest first")])
    if not me.may(access.Action.RESTORE):
        return
    names = {
        row.upload_id: f"{row.upload_id}: {row.file}, {parts.many(row.rows, 'row')}, by {row.by}"
        for row in uploads.itertuples()
    }
    left, right = st.columns([3, 1], vertical_alignment="bottom")
    chosen = left.selectbox(
        "upload to bring back",
        list(names),
        format_func=names.get,
        key="earlier",
        index=None,
        placeholder="choose an upload",
    )
    stems = uploads.set_index("upload_id")["stem"]
    may_change = chosen is not None and show_restoring(int(chosen), str(stems[chosen]))
    right.button("Restore it", key="restore", disabled=not may_change, on_click=restore, args=(chosen,))


def show_restoring(upload_id: int, stem: str) -> bool:
    """What bringing an earlier upload back would change, and whether it may; what is wrong with it is said by `restore`."""
    name, payload = club().store.payload(upload_id)
    sent = upload.read(name, payload, stem, limits=upload.FOLDER, aliases=club().policy().aliases)
    return not sent.is_accepted or show_difference(sent, "restoring")


def blanks(me: access.Person) -> None:
    """Blank lists of what someone may send; all of them for whoever sends none."""
    st.header("blank lists to fill in")
    st.markdown(
        "Only *member*, *kit*, *item* and *kind* must be filled in an inventory; "
        "what is left empty is taken as usual for the kind. The first row of each list is an example; delete it."
    )
    if me.may(access.Action.SEND_KIT, me.member):
        st.page_link("views/mine.py", label=":green[or fill in a kit here, without a file]")
    with st.grid(min_column_width=260):
        for stem in sent_by(me) or schema.FILES:
            with st.container(border=True, key=f"blank-{stem}"):
                st.markdown(f"**{stem}.csv**: {WHAT[stem]}")
                parts.download(
                    f"Download {stem}.csv",
                    (TEMPLATES / f"{stem}.csv").read_bytes(),
                    f"{stem}.csv",
                    f"template-{stem}",
                )
                parts.download(
                    "Table Schema for programs",
                    (table_schema.CONTRACT / f"{stem}.schema.json").read_bytes(),
                    f"{stem}.schema.json",
                    f"contract-{stem}",
                    is_quiet=True,
                )


def allowed(me: access.Person) -> None:
    """Each column of a file with what to write there, and each list of words."""
    st.header("what can be written?")
    stem = st.selectbox(
        "columns of",
        sent_by(me) or list(schema.FILES),
        index=None,
        key="columns",
        placeholder="choose a file",
        bind="query-params",
    )
    if stem is not None:
        with st.container(key="column-list"):
            st.table(
                schema.column_list(stem).map(parts.plain),
                border="horizontal",
                hide_index=True,
                alt=f"Columns of {stem}.csv",
            )
    chosen = st.selectbox("words for", list(reference.WORDS_IN), key="words", bind="query-params")
    parts.wrapped(reference.word_list(chosen), "allowed", f"Words for {chosen}")


def show() -> None:
    me = access.require(access.Action.SEE_SEASON)
    st.title("Send a kit list")
    st.markdown("A file is taken whole or not at all, and nothing changes before you have seen what would.")
    if sent_by(me):
        send(me)
    else:
        st.text(f"As {me.called}, you may read the blank lists, but not send any.")
    earlier(me)
    blanks(me)
    allowed(me)


show()
