"""Season review: how the whole club stands, where the gaps are, and what lies behind each of them."""

import pandas as pd
import streamlit as st

from dashboard import access, buying, charts, club_charts, course, evidence_tables, parts, plugs
from dashboard.palette import ANSWERS, VERDICTS, WAYS
from dashboard.replay import drawn_once
from dashboard.sheets import dates
from dashboard.sheets import season as review
from dashboard.sheets.purchases import USUAL_USD
from dashboard.standing import Standing, club
from rules.engine import Finding
from rules.rule import FAMILIES

GAPS = 12
CARDS = 15
PLUGS = 12  # bars of plugs; the table holds the rest
NOT_SHARED = "This looks into kits that are not shared with you."


def by_worst(cells: pd.DataFrame) -> list[str]:
    """Subjects, those with most that blocks first, then limits, then not known, then by name."""
    counts = pd.crosstab(cells["subject"], cells["worst"]).reindex(columns=list(ANSWERS), fill_value=0)
    counts["name"] = counts.index
    order = ["blocks", "limits", "not known"]
    return list(counts.sort_values([*order, "name"], ascending=[False, False, False, True]).index)


def gap_title(gaps: pd.DataFrame, members: int) -> str:
    """What the ranked bars show, as their finding."""
    first = gaps.iloc[0]
    return f"{first['title']}: {int(first['members'])} of {parts.many(members, 'member')}"


def pick_cell() -> None:
    """Take the clicked cell over into the select boxes."""
    for cell in st.session_state["heatmap"]["selection"].get("cell", []):
        st.session_state["look_subject"], st.session_state["look_family"] = cell["subject"], cell["family"]


def pick_gap() -> None:
    """Take the clicked bar over into the select box."""
    for gap in st.session_state["gaps"]["selection"].get("gap", []):
        st.session_state["look_gap"] = gap["rule"]


def behind(now: Standing, by: str, subject: str, family: str) -> list[Finding]:
    """The findings behind one cell."""
    where = "s.member = ?" if by == "member" else "s.member || '/' || s.kit = ?"
    kinds = "j.subject_kind in ('item', 'kit', 'member')"
    return [f for f in now.findings(f"{where} and {kinds}", [subject]) if f.family == family]


def in_order(cells: pd.DataFrame, subjects: list[str]) -> pd.DataFrame:
    """The cells of some subjects, in their order."""
    place = {name: position for position, name in enumerate(subjects)}
    return cells[cells["subject"].isin(subjects)].sort_values(
        "subject", key=lambda names: names.map(place), kind="stable"
    )


@st.fragment
def heat() -> None:
    """The heatmap and what lies behind the chosen cell; a choice here runs only this part again."""
    now, seen = parts.standing(), access.sight(access.require(access.Action.SEE_SEASON))
    st.header("where are the gaps?")
    by = st.radio("one row for each", ["kit", "member"], horizontal=True, key="by", bind="query-params")
    found = seen_cells(now, seen, by)
    if found is None:
        st.text(f"No {by} has been judged yet." if now.cells[by].empty else NOT_SHARED)
        return
    order, families, title = found
    shown = parts.turned(len(order), f"page_{by}", ", worst first")
    kept_as = ("heatmap", by, shown.start, seen.drawn_as)
    table = now.kept.once(("cells", *kept_as), lambda: in_order(now.cells[by], order[shown]))
    parts.chart(
        kept_as,
        lambda: charts.heatmap(table, FAMILIES, title, by),
        key="heatmap",
        on_select=pick_cell,
        selection_mode="cell",
        alt=f"Heatmap of {by}s and families of rules. {title}.",
    )
    parts.legend(ANSWERS)
    st.markdown(
        f"An empty cell: no rule of that question applies to this {by}. "
        "Click a cell, or choose here, to read the findings behind it."
    )
    left, right = st.columns(2)
    if st.session_state.get("look_subject") not in order:
        st.session_state["look_subject"] = None
    subject = left.selectbox(by, order, key="look_subject", placeholder=f"choose a {by}")
    family = right.selectbox("question", families, format_func=FAMILIES.get, key="look_family")
    if subject:
        behind_cell(now, by, subject, family)
    parts.numbers_behind(lambda: table.drop(columns=["member", "kit"]), f"answers by {by}", "heat", kept_as)


def seen_cells(now: Standing, seen: access.Sight, by: str) -> tuple[list[str], list[str], str] | None:
    """Whose cells one may see, worst first, the families that these have, and the finding; None where there are none."""

    def found() -> tuple[list[str], list[str], str] | None:
        cells = now.cells[by]
        cells = cells.loc[[seen.is_full(member) for member in cells["member"]]]
        if cells.empty:
            return None
        held = set(cells["family"])
        return by_worst(cells), [family for family in FAMILIES if family in held], parts.heat_title(cells, by)

    return now.kept.once(("cells", by, seen.drawn_as), found)


@drawn_once
def behind_cell(now: Standing, by: str, subject: str, family: str) -> None:
    """The findings behind the chosen cell."""
    findings = behind(now, by, subject, family)
    with st.container(key="behind-cell"):
        st.subheader(f"{parts.plain(subject)}: {FAMILIES[family]}")
        if findings:
            parts.cautions(parts.hazards([family]))
            parts.finding_cards(findings[:CARDS], now, "cell")
            if len(findings) > CARDS:
                st.text(f"{len(findings) - CARDS} more on the member's own page.")
        else:
            st.text("Nothing to mend here: every rule that applies is met.")
        member = subject if by == "member" else subject.split("/" + subject.split("/")[-1])[0]
        st.page_link("views/kit.py", label=":green[open this member's page]", query_params={"member": member})


@st.fragment
def ranked() -> None:
    """The gaps that most members share and whom the chosen one concerns; runs again on its own."""
    now, seen = parts.standing(), access.sight(access.require(access.Action.SEE_SEASON))
    st.header("which gaps do most members share?")
    if now.gaps.empty:
        st.text("No rule is unmet.")
        return
    title, names = now.kept.once(
        ("gaps named",),
        lambda: (
            gap_title(now.gaps, len(now.of("member"))),
            dict(zip(now.gaps["rule"], now.gaps["title"], strict=True)),
        ),
    )
    parts.chart(
        ("gaps",),
        lambda: charts.gaps(now.gaps.head(GAPS), title),
        key="gaps",
        on_select=pick_gap,
        selection_mode="gap",
        alt=f"Gaps by number of members. {title}.",
    )
    rule = st.selectbox(
        "gap",
        list(names),
        index=None,
        format_func=names.get,
        key="look_gap",
        placeholder="click a bar, or choose a gap",
    )
    if rule:
        behind_gap(now, seen, rule)
    columns = ["title", "severity", "family", "members", "kits", "subjects"]
    parts.numbers_behind(lambda: now.gaps[columns], "gaps", "ranked", ("gaps",))


@drawn_once
def behind_gap(now: Standing, seen: access.Sight, rule: str) -> None:
    """Whom a gap concerns, of those whose kits one may see in full."""
    number = next(n for n, r in enumerate(now.assessment.rules) if r.name == rule)
    findings = [
        f
        for f in now.assessment.findings("j.rule_no = ? and s.member is not null", [number])
        if f.status == "not met" and seen.reads(f)
    ]
    parts.cautions(parts.hazards(f.family for f in findings))
    parts.finding_cards(findings, now, "gap")
    if not findings:
        st.text(NOT_SHARED)


@drawn_once
def whole_club(now: Standing) -> None:
    """What was found on the club as a whole."""
    found = now.findings("s.subject_kind = ?", ["club"])
    if found:
        st.header("what concerns the whole club?")
        parts.cautions(parts.hazards(f.family for f in found))
        parts.finding_cards(found, now, "club")


def sees_all(now: Standing, seen: access.Sight) -> bool:
    """Whether one sees everything about every member."""
    return now.kept.once(
        ("sees all", seen.drawn_as),
        lambda: all(seen.is_full(member) for member in now.of("member")["subject"]),
    )


def shared_gear(now: Standing, seen: access.Sight, name: str) -> tuple[str, pd.DataFrame] | None:
    """The finding on gear that kits can share, and its pairs by plugs; None where there are no pairs."""
    gear = plugs.GEAR[name]

    def found() -> tuple[str, pd.DataFrame] | None:
        rows = plugs.pairs(now, gear, [m for m in now.of("member")["subject"] if not seen.is_full(m)])
        return None if rows.empty else (plugs.title(rows, gear), plugs.counts(rows))

    return now.kept.once(("shared", name, seen.drawn_as), found)


@drawn_once
def gear_shared(now: Standing, seen: access.Sight) -> None:
    """Whose battery and whose antenna work at whose radio, by plugs, of the kits that one may see in full."""
    st.header("who can plug into whom?")
    if all(shared_gear(now, seen, name) is None for name in plugs.GEAR):
        none = "No battery or antenna of one kit has the voltage or a band of another kit's main radio."
        st.text(none if sees_all(now, seen) else NOT_SHARED)
        return
    parts.cautions(["charging", "wiring"])
    st.text(
        "Each bar is a plug of a battery or antenna and a plug of a radio: the pairs of kits that have them, where the "
        "voltage or a band fits. Packs of handhelds are left out. Plugs, leads and coax are compared as written down, "
        "and as usual for their kind where they are not."
        + ("" if sees_all(now, seen) else " Only kits that are shared with you count.")
    )
    parts.legend(WAYS)


@drawn_once
def bars_of_gear(now: Standing, seen: access.Sight, name: str) -> None:
    """The pairs by plugs, as bars."""
    found = shared_gear(now, seen, name)
    if found is None:
        return
    title, counted = found
    shown = counted[counted["plugs"].isin(counted["plugs"].unique()[:PLUGS])]
    parts.chart(
        ("plugs", name, seen.drawn_as),
        lambda: charts.parted(shown, ("plugs", "way", "pairs"), WAYS, title),
        key=f"plugs-{name}",
        alt=f"Pairs of kits by plugs of {name} and radio. {title}.",
    )


def numbers_of_gear(now: Standing, seen: access.Sight, name: str) -> None:
    """The pairs by plugs, as a table."""
    found = shared_gear(now, seen, name)
    if found is not None:
        columns = {"lenders": f"kits with the {name}", "radios": "kits with the radio"}
        kept_as = ("plugs", name, seen.drawn_as)
        parts.numbers_behind(
            lambda: found[1].rename(columns=columns),
            f"shared {plugs.GEAR[name].shared}",
            f"plugs-{name}",
            kept_as,
        )


@drawn_once
def over_time(now: Standing) -> None:
    """Readiness over the days on which the club was judged; counts alone, so whoever sees the season may see them."""
    st.header("is readiness rising?")
    rows = course.days(now, club().store)
    if len(rows) < 2:
        st.text("Kits were judged on one day only, so there is nothing to compare yet.")
        return
    title = course.title(rows)
    parts.chart(
        ("course",),
        lambda: club_charts.course(course.by_verdict(rows), rows[rows["changed"] != ""], title),
        key="course",
        alt=f"Share of kits with each verdict by day. {title}.",
    )
    parts.legend(VERDICTS)
    changed = course.judged_otherwise(rows)
    if changed:
        st.text(changed)


def numbers_over_time(now: Standing) -> None:
    """The days on which the club was judged, as a table."""
    rows = course.days(now, club().store)
    if len(rows) > 1:
        names = {"changed": "what judges changed"}
        parts.numbers_behind(lambda: rows.rename(columns=names), "readiness by day", "course", ("course",))


@drawn_once
def verdicts(now: Standing, seen: access.Sight) -> None:
    """The verdicts of those who share no more than these."""
    scores = now.of("kit")
    shared = scores.loc[[seen.of(member) is access.Share.VERDICTS for member in scores["member"]]]
    if shared.empty:
        return
    st.header("how do the others stand?")
    st.dataframe(
        pd.DataFrame(
            {
                "member": shared["member"],
                "kit": shared["kit"],
                "verdict": [VERDICTS[verdict].label for verdict in shared["verdict"]],
            }
        ),
        hide_index=True,
        key="verdicts",
        alt="Verdicts of other members' kits",
    )


@drawn_once
def headline(now: Standing) -> None:
    """How the club stands, in words and counts."""
    kits = now.of("kit")
    said = f"{parts.season_headline(kits, len(now.of('member')))} {parts.gaps_headline(now.gaps)}"
    st.markdown(f"**{parts.plain(said)}**")
    parts.verdict_metrics(kits)
    club = now.of("club")
    if not club.empty:
        row = club.iloc[0]
        st.markdown(
            f"The club as a whole scores {charts.score_range(row['low'], row['high'])} of 100. "
            "Where there are two figures, the lower counts everything not known as bad, the higher as good."
        )
    if allowed := now.assessment.policy.allow:
        st.text(f"{parts.many(len(allowed), 'rule')} of the rule book {'is' if len(allowed) == 1 else 'are'} "
                "not looked at, as the club has decided.")  # fmt: skip


def show() -> None:
    me = access.require(access.Action.SEE_SEASON)
    seen, may_buy = access.sight(me), me.may(access.Action.SEE_PURCHASES)
    now = parts.standing()
    st.title("Is the club ready for the season?")
    if now.of("kit").empty:
        parts.nothing_yet("No kit is known yet.")
    if parts.is_own_unsent(me, now):
        parts.none_sent(me)
    headline(now)
    heat()
    verdicts(now, seen)
    ranked()
    if sees_all(now, seen):
        whole_club(now)
    gear_shared(now, seen)
    for name in plugs.GEAR:
        bars_of_gear(now, seen, name)
        numbers_of_gear(now, seen, name)
    over_time(now)
    numbers_over_time(now)
    if seen_cells(now, seen, "member") is None:
        return
    st.header("take it with you")
    if sees_all(now, seen):
        parts.sheet(
            "Download the season review as PDF",
            lambda: review.review(now.assessment, buying.plan(now, USUAL_USD) if may_buy else None),
            "season-review.pdf",
            "review-pdf",
        )
        parts.sheet(
            "Download the club's days as a calendar",
            lambda: dates.calendar(now.assessment),
            "club.ics",
            "club-ics",
        )
    parts.download(
        "Download all findings as CSV",
        lambda: parts.csv(
            evidence_tables.findings_frame(f for f in now.assessment.findings() if seen.reads(f))
        ),
        "findings.csv",
        "all-findings",
    )


show()
