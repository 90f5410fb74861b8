"""Pieces that several pages share: words for counts, status marks, finding cards, downloads, cautions.

What people sent is never read as Markdown: it passes through `plain` or stands in a data frame.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pandas as pd
import streamlit as st

from dashboard import access, charts, days, drawing, pictures, replay, units
from dashboard.cautions import CAUTIONS, CHECK, HAZARDS
from dashboard.evidence_tables import evidence_frame, evidence_told, headed, is_missing
from dashboard.palette import ANSWERS, VERDICTS, Mark
from dashboard.replay import drawn_once
from dashboard.sheets import told
from dashboard.standing import Standing, club
from data import upload
from rules.engine import Finding

STATIC = Path(__file__).parent / "static"
SHOWN_LINES = 6
SHOWN_PROBLEMS = 30
SHOWN_FIXES = 3
SHOWN_ROWS, WINDOW_PX = 8, 480  # a longer table is looked through in a window of that height
PINNED_PX = {
    1: 160,
    2: 110,
}  # of one or two that stay in sight: above 0.6 of a phone's the framework lets go of them
PINNED_LETTERS = 20  # that fit there
WRAPS_PX = 66  # height of rows from which the framework breaks what is long into lines
AT_ONCE = 40  # rows of what may be long: a heatmap of so many stays SVG, so every cell can be read aloud and clicked
MIMES = {
    "csv": "text/csv",
    "json": "application/json",
    "zip": "application/zip",
    "pdf": "application/pdf",
    "ics": "text/calendar",
    "txt": "text/plain",
    "png": "image/png",
    "svg": "image/svg+xml",
}
SPECIAL = re.compile(r"([\\`*_{}\[\]()<>#+\-.!|~$:&^=@/])")


def plain(text: object) -> str:
    """Text with every sign that Markdown would read made literal, on one line."""
    return SPECIAL.sub(r"\\\1", " ".join(str(text).split()))


def breaking(text: object) -> str:
    """As `plain`, for narrow cells: a line may end behind a slash, so that no phone breaks the word behind it."""
    return plain(text).replace("/", "/\u200b")


def inked(mark: Mark) -> str:
    """A status in running text: coloured shape, plain word."""
    return f":{mark.ink}[{mark.shape}] {mark.word}"


def many(count: int, one: str, more: str = "") -> str:
    """A count with its noun: `1 kit`, `2 kits`, `no kits`."""
    noun = one if count == 1 else more or one + "s"
    return f"{count or 'no'} {noun}"


def listed(words: Sequence[str]) -> str:
    """Words as people list them: `a, b and c`."""
    return " and ".join((", ".join(words[:-1]), words[-1]) if len(words) > 1 else words)


def kit_stands(scores: pd.DataFrame, member: str, kit: str) -> str:
    """Verdict and score of a kit, in words."""
    rows = scores[(scores["subject_kind"] == "kit") & (scores["member"] == member) & (scores["kit"] == kit)]
    if rows.empty:
        return "not judged yet"
    row = rows.iloc[0]
    return f"{inked(VERDICTS[row['verdict']])}, score {charts.score_range(row['low'], row['high'])}"


def verdict_counts(scores: pd.DataFrame) -> dict[str, int]:
    """How many have each verdict, in the order of VERDICTS."""
    counts = scores["verdict"].value_counts()
    return {word: int(counts.get(word, 0)) for word in VERDICTS}


def standing_words(scores: pd.DataFrame) -> str:
    """How many have which verdict, as the end of a sentence: `3 are ready and 1 not known`."""
    said = [f"{count} {word}" for word, count in verdict_counts(scores).items() if count]
    first, _, rest = said[0].partition(" ")
    return listed([f"{first} {'is' if first == '1' else 'are'} {rest}", *said[1:]])


def season_headline(kits: pd.DataFrame, members: int) -> str:
    """How the club stands, in one sentence."""
    return f"Of {many(len(kits), 'kit')} of {many(members, 'member')}, {standing_words(kits)}."


def gaps_headline(gaps: pd.DataFrame) -> str:
    """The gaps that block or limit most members, in one sentence."""
    grave = gaps[gaps["severity"] != "advice"].head(3)
    if grave.empty:
        return "Nothing that blocks or limits is known to be missing."
    said = [f"{row.title.lower()} ({many(row.members, 'member')})" for row in grave.itertuples()]
    return f"What blocks or limits most often: {listed(said)}."


def heat_title(cells: pd.DataFrame, noun: str) -> str:
    """What the heatmap shows, as its finding: the two questions where most is blocked, or all that tie for these."""
    blocked = cells[cells["worst"] == "blocks"]
    everyone = many(cells["subject"].nunique(), noun)
    if blocked.empty:
        return f"Nothing blocks any of {everyone}"
    by_family = blocked["family"].value_counts()
    most = sorted(by_family[by_family >= by_family.iloc[:2].min()].index)
    said = f"Something blocks {blocked['subject'].nunique()} of {everyone}"
    return f"{said}; most often in {listed(most)}" if len(most) <= 3 else said


def money(low_high: tuple[float, float] | None) -> str:
    """A usual price range, "" where nothing needs buying."""
    if low_high is None:
        return ""
    low, high = low_high
    return f"about {low:.0f} USD" if round(low) == round(high) else f"about {low:.0f} to {high:.0f} USD"


def wrapped(rows: pd.DataFrame, key: str, alt: str) -> None:
    """A table that is there to be read: its cells wrap, so that no screen cuts one."""
    with st.container(key=f"wrapped-{key}"):
        st.table(
            rows.map(lambda cell: "" if is_missing(cell) else plain(cell)),
            border="horizontal",
            height=WINDOW_PX if len(rows) > SHOWN_ROWS else "content",
            hide_index=True,
            alt=alt,
        )


def in_sight(rows: pd.DataFrame, columns: Sequence[str]) -> dict[str, Any]:
    """Settings of one or two columns that stay in sight while a phone moves the others sideways.

    One with long names is no wider than leaves room for another beside it.
    """
    is_long = {name: rows[name].dropna().astype(str).str.len().max() > PINNED_LETTERS for name in columns}
    width_px = PINNED_PX[len(columns)]
    return {name: {"pinned": True} | ({"width": width_px} if is_long[name] else {}) for name in columns}


def meanings(told: Mapping[str, Mapping[str, str]]) -> None:
    """What the columns of editors mean, by editor and heading: the headings tell it too, but only to a mouse."""
    columns = st.expander("what do the columns mean?", key="meanings", on_change="rerun")
    if columns.open:
        with columns:
            for editor, said in told.items():
                lines = [f"- **{plain(heading)}**: {plain(meaning)}" for heading, meaning in said.items()]
                st.markdown("\n".join([f"{plain(editor)}:\n", *lines] if len(told) > 1 else lines))


def turned(count: int, key: str, order: str = "") -> slice:
    """Which of many rows are shown, AT_ONCE at a time: the pages to turn, and which rows of how many these are.

    Begins anew where the count is another, as what is looked at then is too.
    """
    pages = -(-count // AT_ONCE)
    number = st.pagination(pages, key=f"{key}-{count}") if pages > 1 else 1
    shown = slice((number - 1) * AT_ONCE, min(number * AT_ONCE, count))
    if pages > 1:
        st.text(f"Rows {shown.start + 1} to {shown.stop} of {count:,}{order}.")
    return shown


def worst(finding: Finding) -> Mark:
    """The mark of a finding: its severity, or not known, or met."""
    return ANSWERS[finding.severity if finding.status == "not met" else finding.status]


def finding_card(findings: Sequence[Finding], standing: Standing, key: str, is_nested: bool = False) -> None:
    """One card for the findings of one rule: what, for whom, how to mend it, evidence and source.

    The evidence of one finding stands in lines, which no screen is too narrow for, that of several in a table that wraps.
    Inside an expander (`is_nested`) the evidence stands open, as one expander cannot hold another.
    """
    first = findings[0]
    with st.container(border=True, key=key):
        st.markdown(_card_words(findings, standing))
        with nullcontext() if is_nested else st.expander("evidence and source"):
            evidence = evidence_frame(findings)
            alike, rest = evidence_told(evidence)
            if alike:
                st.markdown(("For each of them:\n" if rest is not None else "") + "\n".join(
                    f"- {plain(said)}" for said in alike
                ))  # fmt: skip
            if rest is not None:
                wrapped(rest, f"{key}-evidence", f"Evidence: {first.title}")
            st.markdown(f"Source: {plain(first.source)}")
            st.page_link(
                "views/rulebook.py", label=":green[read this rule]", query_params={"rule": first.rule}
            )


def _card_words(findings: Sequence[Finding], standing: Standing) -> str:
    """What a card says of its findings, and how to mend them."""
    first = findings[0]
    count = f" · {many(len(findings), 'time')}" if len(findings) > 1 else ""
    lines = [f"- {plain(units.in_finding(f.sentence, f))}" for f in findings[:SHOWN_LINES]]
    more = len(findings) - SHOWN_LINES
    if more > 0:
        lines.append(f"- and {more} more, in the evidence below")
    said = [f"**{inked(worst(first))} · {plain(first.title)}**{count}", "\n".join(lines)]
    cost = money(standing.price(first.rule, first.evidence))
    for fix in list(dict.fromkeys(units.in_finding(f.fix, f) for f in findings if f.fix))[:SHOWN_FIXES]:
        price = f" ({plain(cost)} for each)" if cost and "USD" not in fix else ""
        said.append(f"To mend it: {plain(fix)}{price}")
    return "\n\n".join(said)


def finding_cards(findings: Sequence[Finding], standing: Standing, key: str, is_nested: bool = False) -> None:
    """Cards, one for each rule and status, in the order given."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.rule, finding.status), []).append(finding)
    for (rule, status), group in groups.items():
        finding_card(group, standing, f"{key}-{rule}-{status.replace(' ', '-')}", is_nested)


def what_changes(
    kind: str,
    name: str,
    make: Callable[[], pd.DataFrame],
    why_none_moves: Callable[[pd.DataFrame], str],
    ask: Callable[[], pd.DataFrame],
) -> None:
    """What would change the verdict of a member, post or event, and what to ask first, for who may see all of it.

    Worked out once unfolded.
    """
    said = f"what would change the verdict of {plain(name)}?"
    moves = st.expander(said, key=f"{kind}-changes", on_change="rerun")
    if moves.open:
        with moves:
            told = make()
            if told.empty:
                st.text("Nothing: every rule that bears on it is met.")
            else:
                changes(told, why_none_moves(told), f"{kind}-changes", said)
                ask_first(ask(), f"{kind}-unknowns")


def changes(told: pd.DataFrame, why_none_moves: str, key: str, said: str) -> None:
    """What each thing would change that is put right, below what to say where none moves the verdict."""
    if why_none_moves:
        st.text(why_none_moves)
    wrapped(told, key, said)


def ask_first(told: pd.DataFrame, key: str) -> None:
    """What is worth finding out first, if anything is not known."""
    if not told.empty:
        st.text("Worth finding out first:")
        wrapped(told, key, "What is worth finding out first")


def policies(history: pd.DataFrame, key: str) -> None:
    """Policies that were in force, newest first, and what one of them says; `history` as `Store.policies` has it."""
    told = {
        "number": history["policy_id"],
        "when (UTC)": history["at"].map(days.moment),
        "by": history["by"],
        "why": history["why"],
    }
    wrapped(pd.DataFrame(told), key, "Policies that were in force, newest first")
    text = dict(zip(history["policy_id"], history["text"], strict=True))
    number = st.selectbox(
        "what one of them says", list(text), index=None, key=f"{key}-one", placeholder="choose a number"
    )
    if number is not None:
        st.code(text[number], language="toml", wrap_lines=True)


def hazards(families: Iterable[str]) -> set[str]:
    """What to be careful of where findings of these families are mended."""
    return {hazard for family in families for hazard in HAZARDS.get(family, ())}


def cautions(hazards: Iterable[str]) -> None:
    """The cautions that go with what is being read, where people would act on it."""
    said = [text for hazard, text in CAUTIONS.items() if hazard in set(hazards)]
    if said:
        with st.container(border=True):
            st.markdown(
                "**Before you act**\n" + "\n".join(f"- {plain(text)}" for text in said) + f"\n\n{CHECK}"
            )


def problems(found: Sequence[object], where_all_are: str = "") -> None:
    """The first problems as sentences, which wrap on a narrow screen where a table is cut."""
    said = [f"- {plain(problem)}" for problem in found[:SHOWN_PROBLEMS]]
    more = len(found) - SHOWN_PROBLEMS
    st.markdown("\n".join([*said, *([f"- and {more} more{where_all_are}"] if more > 0 else [])]))


def leads_nowhere(found: Sequence[object]) -> None:
    """Rows that name what is not there, before they are put in force."""
    if found:
        st.warning(
            "The rows below name what is not there, or hours of another day. They can be put in force, "
            "but count for nothing, or only in part, until that is mended."
        )
        problems(found)


def legend(marks: Mapping[str, Mark]) -> None:
    """What the shapes and colours of a chart mean."""
    st.markdown(" \u2003 ".join(inked(mark).replace(" ", "\u00a0") for mark in marks.values()))


def csv(frame: pd.DataFrame) -> bytes:
    """A frame as CSV for a spreadsheet; no cell can act as a formula."""
    safe = frame.copy()
    safe.columns = [upload.neutralise(str(name)) for name in safe.columns]
    for name in safe.columns:
        if not pd.api.types.is_numeric_dtype(safe[name]):
            safe[name] = [
                None if is_missing(value) else upload.neutralise(str(value)) for value in safe[name]
            ]
    return safe.to_csv(index=False, lineterminator="\r\n").encode("utf-8-sig")


def chart(kept_as: tuple[Any, ...], make: Callable[[], Any], **shown: Any) -> None:
    """A chart, made once for each version of the club and kept under a key; `shown` as of st.vega_lite_chart."""
    now = standing()
    now.kept.once(("chart", *kept_as), lambda: drawing.drawn(make()))
    draw = _chosen_in if "on_select" in shown else _chart
    draw(now, kept_as, **shown)


def _chosen_in(now: Standing, kept_as: tuple[Any, ...], **shown: Any) -> None:
    """A chart in which something can be chosen; it is a widget, so it is drawn anew on every run."""
    spec = now.kept.once(
        ("packed", *kept_as), lambda: drawing.packed(now.kept.once(("chart", *kept_as), dict))
    )
    st.vega_lite_chart(spec, **shown)


_chart = drawn_once(_chosen_in)


def numbers_behind(
    make: Callable[[], pd.DataFrame], name: str, key: str, kept_as: tuple[Any, ...] | None = None
) -> None:
    """The table behind a chart, with its download; made and sent only while someone has it open.

    With `kept_as` of the chart it is made once for each version of the club, and the chart can be had as a picture.
    """
    behind = st.expander(f"the numbers behind it: {name}", key=f"{key}-numbers-behind", on_change="rerun")
    if not behind.open:
        return
    with behind:
        if kept_as is None:
            frame = make()
            _numbers(frame, name, key)
        else:
            now = standing()
            frame = now.kept.once(("numbers", *kept_as), make)
            _numbers_of(now, kept_as, name, key)
        file = name.replace(" ", "-")
        in_metric = ", in metric units" if units.is_us() else ""
        with st.container(horizontal=True):
            download(
                f"Download {name} as CSV{in_metric}", lambda: csv(frame), f"{file}.csv", f"{key}-download"
            )
            if kept_as is not None:
                as_picture(name, key, kept_as)


def _numbers(frame: pd.DataFrame, name: str, key: str) -> None:
    """The table behind a chart; what a row is about stays in sight where a narrow screen moves the rest sideways."""
    times = frame.select_dtypes("datetime")
    shown = units.shown(headed(frame))
    pinned = in_sight(shown, shown.columns[:1])
    st.dataframe(
        shown,
        hide_index=True,
        key=f"{key}-table",
        alt=f"Table: {name}",
        placeholder="",
        row_height=WRAPS_PX if "width" in pinned[shown.columns[0]] else None,
        column_config=pinned
        | {
            column: days.column(column) if _are_days(times[column]) else days.moments(column)
            for column in times
        },
    )


def _are_days(moments: pd.Series) -> bool:
    """Whether moments are whole days, with no time of the day."""
    return bool((moments.dropna() == moments.dropna().dt.normalize()).all())


@drawn_once
def _numbers_of(now: Standing, kept_as: tuple[Any, ...], name: str, key: str) -> None:
    _numbers(now.kept.once(("numbers", *kept_as), pd.DataFrame), name, key)


def as_picture(name: str, key: str, kept_as: tuple[Any, ...]) -> None:
    """A chart that `chart` has kept, to take away as PNG or SVG."""
    spec, file = standing().kept.once(("chart", *kept_as), dict), name.replace(" ", "-")
    sheet(f"Download {name} as PNG", lambda: pictures.png(spec), f"{file}.png", f"{key}-png")
    sheet(f"Download {name} as SVG", lambda: pictures.svg(spec), f"{file}.svg", f"{key}-svg")


def download(
    label: str, made: bytes | Callable[[], bytes], file: str, key: str, is_quiet: bool = False
) -> None:
    """A file to take away; one that is made only when it is asked for is made for whoever may still see the page."""
    content = access.held(made) if callable(made) else made
    mime, look = MIMES[file.rsplit(".", 1)[1]], "tertiary" if is_quiet else "secondary"
    st.download_button(label, content, file, mime, key=key, on_click="ignore", type=look)


def sheet(label: str, make: Callable[[], bytes], file: str, key: str) -> None:
    """A sheet of paper, a calendar or a letter to take away, in the units of the page."""
    download(label, units.kept(make), file, key)


def origin() -> str:
    """Where the reader has the dashboard, for the codes and letters that lead back to it: scheme, host and port."""
    asked = urlsplit(st.context.url or "")
    return (
        f"{asked.scheme}://{asked.netloc}"
        if asked.scheme in ("http", "https") and asked.netloc
        else told.BASE
    )


def only(names: Sequence[str]) -> int | None:
    """The place of the only one there is, which nobody need choose; None where there are more, or none."""
    return 0 if len(names) == 1 else None


def member_box(members: Sequence[str]) -> str | None:
    """Whose page it is, chosen from a list or by the address; the only member there is."""
    return st.selectbox(
        "member",
        members,
        index=only(members),
        key="member",
        placeholder="choose a call sign or member number",
        bind="query-params",
    )


def verdict_metrics(scores: pd.DataFrame) -> None:
    """Four counts, one for each verdict."""
    with st.grid(min_column_width=150):
        for word, count in verdict_counts(scores).items():
            st.metric(inked(VERDICTS[word]), count, border=True)


def ways_to_send(member: str) -> None:
    """The two ways to tell what is in a kit, for whoever may."""
    st.page_link(
        "views/mine.py",
        label=":green[fill in a kit here], without a file",
        query_params={"member": member} if member else None,
    )
    st.page_link("views/send.py", label=":green[or send a file]; blank lists are there too")


def none_sent(me: access.Person) -> None:
    """What to do next for a member of whom no kit is known."""
    st.text(
        f"No kit of {me.member} has been sent yet. One is enough to begin with: what it lacks is told at once."
    )
    ways_to_send(me.member)


def is_own_unsent(me: access.Person, now: Standing) -> bool:
    """Whether someone may send kits of their own and has sent none."""
    is_sender = bool(me.member) and me.may(access.Action.SEND_KIT, me.member)
    return is_sender and not (now.of("kit")["member"] == me.member).any()


def how_to_begin(what: str) -> None:
    """What to do next in a club of which little or nothing is told."""
    st.info(f"{what} One kit is enough to begin with: one row for each thing in it.")
    st.page_link("views/start.py", label=":green[how do I start?]")
    me = access.person()
    if me is not None and me.may(access.Action.SEND_KIT, me.member):
        ways_to_send(me.member)


def nothing_yet(what: str) -> None:
    """What to do next where there is nothing to show; ends the page."""
    how_to_begin(what)
    st.stop()


def no_event_yet(what: str) -> None:
    """What to do next where there is no event, or no post of one, to plan for; ends the page."""
    me = access.person()
    if me is None or not me.may(access.Action.SEND_CLUB):
        st.info(f"{what} The coordinator sends the lists of events, posts and assignments.")
        st.stop()
    st.info(
        f"{what} Send events.csv, posts.csv and assignments.csv; blank ones are on the page “send a kit list”."
    )
    st.page_link("views/start.py", label=":green[how do I start?]")
    st.page_link("views/lists.py", label=":green[write them down here], without a file")
    st.page_link("views/send.py", label=":green[or send the event's files]")
    st.stop()


def out_of_force(said: str, may_mend: bool) -> str:
    """That a rule of the club's own is set aside, in Markdown; what is wrong with it, which may name rows, for who mends it."""
    name = said.partition(":")[0]
    if not may_mend:
        return plain(
            f"{name}: this rule of the club's own is out of force until it is mended; all else is judged."
        )
    return plain(
        f'{said} Until then the rule is out of force and all else is judged; allow = ["{name}"] in the policy leaves it out for good.'
    )


def standing() -> Standing:
    """The club as it stands; within a part that is drawn once, as that part was given it, whatever is sent meanwhile."""
    given = next((one for one in replay.given() if isinstance(one, Standing)), None)
    return given or club().standing()
