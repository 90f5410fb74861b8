"""Numbers at the ends of what a cell or a figure of a policy may be: every one is judged, none is a traceback."""

import dataclasses
from collections.abc import Iterator
from datetime import date

import pandas as pd
import pytest

from data import forms, schema, upload
from rules import engine
from rules.policy import Policy
from rules.rule import load_rules

TODAY = date(2027, 3, 1)
KINDS = (
    "mobile_vhf_uhf", "battery_lifepo4", "battery_agm", "dc_lead", "fuse_holder", "coax", "jpole", "handheld", "whip",
    "handheld_pack", "boost_converter", "buck_converter", "clip_lead", "power_station", "solar_panel",
    "charge_controller_mppt", "charger_lifepo4", "generator", "laptop", "rf_pigtail",
)  # fmt: skip
ALONE = 3
"""Of so many things of the kit each number is tried also while the others keep theirs."""
FILES = {
    "inventory": "member,kit,item,kind,dc_plug,dc_plug_far,rf_plug,capacity_ah,tested_ah,tested,charged,swr,fuse_at_m\n"
    + "".join(
        f"Q1AAA,box,{kind},{kind},genderless_30,genderless_30,so239,5,4,2027-01-10,2027-02-28,1.5,0.1\n"
        for kind in KINDS
    ),
    "members": "member,licence_class,carry_limit_kg,walk_limit_km\nQ1AAA,general,9,5\n",
    "events": "event,starts,ends,lat,lon,utc_offset_h,temp_min_c,temp_max_c\nRide,2027-03-08T06:00,2027-03-08T14:00,44,-71,-5,5,20\n",
    "posts": "event,post,post_type,bands,mains,mast_m,power_line_m,public_m\nRide,Ford,aid_station,2m,no,6,40,10\n",
    "assignments": "event,post,member,kit\nRide,Ford,Q1AAA,box\n",
    "offers": "offer,kind,price_usd,capacity_ah\nbattery,battery_agm,40,12\n",
    "rehearsals": "member,kit,date,stage\nQ1AAA,box,2027-01-02,park\n",
    "kits": "member,kit\nQ1AAA,box\n",
}


def told() -> dict[str, pd.DataFrame]:
    """A usual kit with one thing of each of KINDS, sent to a post."""
    frames = {}
    for stem, text in FILES.items():
        read = upload.read(f"{stem}.csv", text.encode())
        assert read.frame is not None, [str(problem) for problem in read.problems]
        frames[stem] = read.frame
    return frames


def ends(column: forms.Column) -> set[float]:
    """The ends of a column's range, and of what it once took, which may be in the store."""
    assert column.low is not None and column.high is not None
    return {column.low, column.high} | ({0.0} if column.name == "volts_max" else set())


def numeric(stem: str) -> list[forms.Column]:
    return [column for column in schema.columns(stem).values() if column.form in (forms.NUMBER, forms.WHOLE)]


def copies(usual: dict[str, pd.DataFrame], stem: str) -> Iterator[dict[str, pd.DataFrame]]:
    """The usual club, each time with one number of a file at an end of its range: in one row, or in all."""
    rows = usual[stem]
    for column in numeric(stem):
        for value in ends(column):
            for row in (*range(min(len(rows), ALONE)), slice(None)):
                changed = rows.astype({column.name: "float64"})
                changed.loc[rows.index[row], column.name] = value
                yield usual | {stem: changed.astype({column.name: rows[column.name].dtype})}


@pytest.mark.parametrize("stem", [stem for stem in FILES if numeric(stem)])
def test_every_number_that_a_file_may_hold_is_judged(stem: str) -> None:
    usual = told()
    clubs: dict[str, list[pd.DataFrame]] = {stem: [] for stem in usual}
    for count, club in enumerate(copies(usual, stem)):
        names = {"member": f"Q{count:05d}", "offer": f"battery {count}"}
        if stem in ("events", "posts"):
            names |= {"event": f"Ride {count}"}
        for file, rows in club.items():
            mine = {name: text for name, text in names.items() if name in rows and rows[name].notna().all()}
            if count == 0 or mine:
                clubs[file].append(rows.assign(line=rows["line"] + count * len(KINDS), **mine))
    frames = {file: pd.concat(rows, ignore_index=True) for file, rows in clubs.items()}
    found = engine.assess(frames, today=TODAY)
    assert len(found.table("kit_runtime")) == len(clubs["inventory"])
    assert len(found.table("runtime").query("how == how")) >= len(clubs["inventory"])
    assert all(finding.sentence for finding in found.findings("severity_no = 0"))


@pytest.mark.parametrize("end", [0, 1], ids=["least", "most"])
def test_figures_of_a_policy_at_an_end_of_what_they_may_be_are_judged_by(
    frames: dict[str, pd.DataFrame], end: int
) -> None:
    figures = {
        rule.name: {
            name: param.within(name)[end]
            for name, param in rule.param.items()
            if not isinstance(param.value, str)
        }
        for rule in load_rules()
    }
    policy = dataclasses.replace(Policy.standard(), rules=figures)
    assert engine.assess(frames, policy, TODAY).findings()
