"""What the page of one member says of one kit: its station, its hours, and what would change its verdict."""

from __future__ import annotations

import pandas as pd

from dashboard import parts
from dashboard.palette import ANSWERS, VERDICTS
from dashboard.posts import HOURS, as_said, enough, hours_words
from dashboard.standing import Standing, made_once
from data import plain_words
from rules.score import changes, unknowns

ROLES = {
    "source": "power",
    "pack": "power",
    "lead": "power lead",
    "radio": "radio",
    "rf_adapter": "adapter",
    "coax": "coax",
    "antenna": "antenna",
}


@made_once
def names(now: Standing, member: str) -> list[str]:
    """What the kits of a member are called."""
    kits = now.of("kit")
    return sorted(kits[kits["member"] == member]["kit"])


def can_go(verdicts: list[str]) -> str:
    """How many kits can go, and of how many that is not known."""
    able, open_ = sum(verdict.startswith("ready") for verdict in verdicts), verdicts.count("not known")
    if len(verdicts) > 1:
        return f"{able} of {len(verdicts)} kits can go" + (f"; of {open_} it is not known" if open_ else "")
    if open_:
        return "Whether the one kit can go is not known"
    return "The one kit can go" if able else "The one kit cannot go yet"


@made_once
def station(now: Standing, member: str, kit: str) -> pd.DataFrame:
    """One station of a kit from source to antenna: item, role, link (a word of LINKS); empty where none is whole."""
    rows = now.assessment.frame(
        "select i.item, i.role, list_contains(s.weak_lines, i.line) as is_weak from station_step as t "
        "join item as i using (item_id) join kit as k on k.kit_id = t.kit_id "
        "join station as s on s.kit_id = t.kit_id where k.member = ? and k.kit = ? order by t.step",
        [member, kit],
    )
    rows["link"] = ["no stand-in" if is_weak else "has a stand-in" for is_weak in rows["is_weak"]]
    rows["role"] = [ROLES.get(role, role.replace("_", " ")) for role in rows["role"]]
    return rows[["item", "role", "link"]]


def missing_link(now: Standing, member: str, kit: str) -> str:
    """What a kit lacks for one whole station, in words; empty where nothing is missing or nothing is known."""
    return _of_station(now, "missing_link", member, kit)


def spare(now: Standing, member: str, kit: str) -> str:
    """The kind of thing of which one more would make another whole station, in words; empty where no single one would."""
    return str(plain_words.called("item_kind", _of_station(now, "spare_kind", member, kit)))


def _of_station(now: Standing, column: str, member: str, kit: str) -> str:
    """A word on a kit's station; empty where there is none."""
    asked = f"select {column} from station join kit using (kit_id) where member = ? and kit = ?"
    found = now.assessment.tuples(asked, [member, kit])
    return (found[0][0] or "") if found else ""


def station_title(rows: pd.DataFrame) -> str:
    """What a station hangs on, as a finding."""
    weak = list(rows[rows["link"] == "no stand-in"]["item"])
    if not weak:
        return "Nothing in this station is the only one of its kind"
    return (
        f"Without {parts.listed(weak)} there is no station"
        if len(weak) == 1
        else f"{parts.many(len(weak), 'thing')} have no stand-in: without any one of them there is no station"
    )


@made_once
def hours(now: Standing, member: str) -> pd.DataFrame:
    """Hours of each kit of a member against those wanted: subject (the kit), low, high, need, enough, says."""
    rows = now.assessment.frame(
        "select kit as subject, runtime_low_h as low, runtime_high_h as high, r.need_h as need, load_w, energy_wh, "
        "limited_by, duty from kit_runtime as r join kit using (kit_id) where member = ? order by kit",
        [member],
    )
    rows["enough"] = [enough(row.low, row.high, row.need) for row in rows.itertuples()]
    rows["says"] = [hours_words(row.low, row.high, row.need) for row in rows.itertuples()]
    return rows


def hours_title(rows: pd.DataFrame) -> str:
    """How many kits of a member last as long as they are meant to, as a finding."""
    lasting = int((rows["enough"] == "enough").sum())
    doubt = int(rows["enough"].isin(["may fall short", "not known"]).sum())
    if len(rows) == 1:
        said = "lasts" if lasting else "may not last" if doubt else "does not last"
        return f"The one kit {said} as long as planned"
    title = f"{lasting} of {len(rows)} kits {'lasts' if lasting == 1 else 'last'} as long as planned"
    return title + (f", {doubt} {'is' if doubt == 1 else 'are'} in doubt" if doubt else "")


def hours_numbers(rows: pd.DataFrame) -> pd.DataFrame:
    """The figures behind the bars of hours."""
    return as_said(rows)[["subject", "enough", *HOURS]].rename(columns={"subject": "kit", **HOURS})


def what_changes(now: Standing, kind: str, subject: str) -> pd.DataFrame:
    """What putting each thing right would do to the verdict and the score of something; what moves it most first."""
    told = changes(now.assessment, kind, subject)
    return pd.DataFrame(
        {
            "if this were put right": [
                f"{ANSWERS[row.severity].label} · {row.title}" for row in told.itertuples()
            ],
            f"the {kind} would be": [VERDICTS[word].label for word in told["verdict_after"]],
            "times": [_times(row.not_met, row.not_known) for row in told.itertuples()],
            "low end up by": [f"{points:g}" for points in told["low_points"]],
            "high end up by": [f"{points:g}" for points in told["high_points"]],
        }
    )


def why_none_moves(now: Standing, kind: str, subject: str, told: pd.DataFrame) -> str:
    """What to say where nothing of `what_changes` moves the verdict by itself; "" where something does, or it is ready."""
    is_it = (now.scores["subject_kind"] == kind) & (now.scores["subject"] == subject)
    verdict = now.scores.loc[is_it, "verdict"].item()
    if verdict == "ready" or set(told[f"the {kind} would be"]) != {VERDICTS[verdict].label}:
        return ""
    return "No single one of these moves the verdict: more than one stands in its way."


def _times(not_met: int, not_known: int) -> str:
    """How often a rule is not met and not known, in words."""
    said = ((not_met, "not met"), (not_known, "not known"))
    return ", ".join(f"{count} {word}" for count, word in said if count)


def worth_asking(now: Standing, kind: str, subject: str) -> pd.DataFrame:
    """What is not known of something and would move its verdict and score furthest, first."""
    told = unknowns(now.assessment, kind, subject)
    return pd.DataFrame(
        {
            "not known": [f"{ANSWERS[row.severity].label} · {row.title}" for row in told.itertuples()],
            f"if it is so, the {kind} would be": [VERDICTS[word].label for word in told["verdict_if_not"]],
            f"if it is not, the {kind} would be": [VERDICTS[word].label for word in told["verdict_if_met"]],
            "times": told["not_known"],
            "points": [f"{points:g}" for points in told["points"]],
        }
    )
