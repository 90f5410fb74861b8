"""How a kit's batteries run down at a post: volts at the radio while it transmits, hour by hour."""

from __future__ import annotations

import numpy as np
import pandas as pd

from dashboard.standing import Standing, made_once
from rules.facts.lasting import inside_ohm, left_by_hour
from rules.facts.runtime import bank_at_post
from rules.on_air import LONGEST_H, asked, down, said, up
from rules.physics import battery, discharge

POINTS = 25  # of each battery's curve
SENT = """
    select distinct p.event, p.post, pk.post_kit_id, p.opens from post_kit as pk join post as p using (post_id)
    join kit as k on k.kit_id = pk.kit_id where pk.is_assigned and k.member = ? and k.kit = ? order by p.opens, p.post
"""
TOLD = """
    select limited_by, is_on_mains or coalesce(runtime_h, 0) <= 0 as is_left_out from runtime where post_kit_id = $post_kit
"""


@made_once
def sent_to(now: Standing, member: str, kit: str) -> dict[str, int]:
    """Posts to which a kit is sent, in the order of their opening: number of the post and kit by `event/post`."""
    rows = now.assessment.tuples(SENT, [member, kit])
    return {f"{event}/{post}": post_kit for event, post, post_kit, _ in rows}


@made_once
def at_post(now: Standing, post_kit: int) -> pd.DataFrame:
    """Volts at the radio, or the converter before it, on transmit while a kit's batteries are used one after another.

    Empty where the kit has no battery, runs on mains, or something is not known. The hours are those of
    the table `runtime`; the curve between follows the rest voltage of each chemistry. Where sun or chargers put something
    in, what is left hour by hour is what `rules.facts.recharge` steps through, and the volts are those of that charge.

    Returns
    -------
    DataFrame
        hours, volts_v, battery; the same in every row: least_v (at which it stops), need_h (the shift),
        runtime_h, limited_by.
    """
    club = now.assessment
    told = club.tuples(TOLD, {"post_kit": post_kit})
    if not told or told[0][1]:
        return pd.DataFrame()
    of, feed = bank_at_post(club.con.cursor(), club.policy, post_kit)
    case = _cases(of.assign(limited_by=told[0][0]), feed[feed["piece_ah"] != 0])
    if case.empty:
        return pd.DataFrame()
    item = dict(club.tuples("select item_id, item from item where kit_id = ?", [int(of["kit_id"].iloc[0])]))
    run = _simulated(case)
    each_h = np.minimum(np.minimum(run.brown_out_h, run.energy_h), LONGEST_H)
    # of several ways from a battery to the radio that on which it lasts longest
    case = case.assign(each_h=each_h, energy_h=run.energy_h, start_v=run.start_v)
    case = case.sort_values(["item_id", "each_h"], na_position="first").drop_duplicates(
        "item_id", keep="last"
    )
    each_h, energy_h = case["each_h"].to_numpy(), case["energy_h"].to_numpy()
    if np.isnan(each_h).any():
        return pd.DataFrame()
    spare = case["usable_share"].to_numpy(float)
    chemistry, nominal = case["chemistry"].to_numpy(str), case["nominal_v"].to_numpy(float)
    sag_v = battery.open_circuit_v(chemistry, 1.0, nominal) - case["start_v"].to_numpy()
    quantity = case["quantity"].to_numpy(int)
    row = np.repeat(np.arange(len(case)), quantity)  # of each piece
    ends = np.cumsum(each_h[row])
    begins = ends - each_h[row]
    left = left_by_hour(of, feed, club.policy)
    if left is None:
        hours = used_h = np.linspace(begins, ends, POINTS).T.ravel()
        piece = np.repeat(np.arange(len(row)), POINTS)
    else:
        runtime_h = float(case["runtime_h"].iloc[0])
        hours = np.union1d(left[0][left[0] < runtime_h], np.linspace(0.0, runtime_h, POINTS * len(row)))
        used_h = (ends[-1] - np.interp(hours, *left)).clip(0.0, ends[-1])
        piece = np.searchsorted(ends[:-1], used_h)
    at = row[piece]
    charge = 1.0 - (used_h - begins[piece]) * spare[at] / energy_h[at]
    volts = battery.open_circuit_v(chemistry[at], charge.clip(0, 1), nominal[at]) - sag_v[at]
    alike = np.concatenate([np.arange(1, number + 1) for number in quantity])
    names = [
        item[at] if number == 1 else f"{item[at]} ({n})"
        for at, number, n in zip(case["item_id"].iloc[row], quantity[row], alike, strict=True)
    ]
    curve = pd.DataFrame({"hours": hours, "volts_v": volts, "battery": np.array(names, object)[piece]})
    same = {name: case[name].iloc[0] for name in ("need_h", "runtime_h", "limited_by")}
    return curve.assign(least_v=case["stop_v"].iloc[each_h.argmax()], **same)


def _cases(of: pd.DataFrame, feed: pd.DataFrame) -> pd.DataFrame:
    """A row for each battery and its way to the radio: its figures, and what the radio and what hangs beside it draw from it."""
    own = ["quantity", "chemistry", "nominal_v"]
    case = (
        of.drop(columns=own, errors="ignore")
        .merge(feed, on="supply_id")
        .sort_values("item_id", ignore_index=True)
    )
    beside_a = np.minimum(case["gain"], 1.0) * case["accessory_a"]
    for amps in ("amps_tx", "amps_rx", "amps_idle"):
        case[amps] = case["gain"] * case[amps] + beside_a
    return case.assign(talk_share=case["tx_share"] * case["mode_factor"])


def _simulated(case: pd.DataFrame) -> discharge.Discharge:
    n = {name: case[name].to_numpy(float) for name in case.select_dtypes("number")}
    chemistry = case["chemistry"].to_numpy(str)
    return discharge.simulate(
        n["piece_ah"], chemistry, n["temperature_c"], 1.0,
        inside_ohm(chemistry, n["piece_ah"], n), n["path_ohm"],
        n["amps_tx"], n["amps_rx"], n["amps_idle"],
        n["talk_share"], n["rx_share"] + n["tx_share"] - n["talk_share"], n["idle_share"],
        n["stop_v"], LONGEST_H, n["nominal_v"], 1.0 - n["usable_share"], n["peukert"],
    )  # fmt: skip


def numbers(curve: pd.DataFrame) -> pd.DataFrame:
    """The curve as a table, its hours and those of the shift rounded as they are said."""
    lasts, need = curve["runtime_h"].iloc[0], curve["need_h"].iloc[0]
    return curve.round(2).assign(runtime_h=down(lasts, need), need_h=up(need, lasts))


def title(curve: pd.DataFrame) -> str:
    """What the curve shows, as its finding."""
    lasts, need = curve["runtime_h"].iloc[0], curve["need_h"].iloc[0]
    wanted = asked(need, lasts)
    why = {"brown-out": "the radio drops out on transmit", "stored energy": "the charge is used up"}
    if curve["limited_by"].iloc[0] == "nothing" and lasts >= need:
        return f"Lasts the shift of {wanted} and goes on for {said(lasts, need=need)}"
    ends = why.get(curve["limited_by"].iloc[0], "the batteries end")
    if lasts >= need:
        return f"Lasts the shift of {wanted}: {ends} after {said(lasts, need=need)}"
    return f"{up(need) - down(lasts):.1f} h short: {ends} after {said(lasts)} of {wanted}"
