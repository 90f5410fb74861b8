"""How a kit's batteries run down at a post: volts at the radio while it transmits, hour by hour."""

from __future__ import annotations

import numpy as np
import pandas as pd

from dashboard.standing import Standing
from rules.facts.power import left_by_hour
from rules.physics import battery, discharge

POINTS = 25  # of each battery's curve
LONGEST_H = 240.0
SENT = """
    select distinct p.event, p.post, pk.post_kit_id, p.opens from post_kit as pk join post as p using (post_id)
    join kit as k on k.kit_id = pk.kit_id where pk.is_assigned and k.member = ? and k.kit = ? order by p.opens, p.post
"""
CASE = """
    select f.item_id, f.piece_ah, f.quantity, f.chemistry, f.nominal_v, f.usable_share, f.gain, f.stop_v, i.item, s.path_ohm,
        least(f.gain, 1) * s.accessory_a as beside_a, f.gain * r.amps_tx + beside_a as amps_tx,
        f.gain * s.amps_rx + beside_a as amps_rx, f.gain * s.amps_idle + beside_a as amps_idle,
        p.tx_share * m.mode_factor as talk_share, p.rx_share, p.tx_share, p.idle_share,
        coalesce(e.temp_min_c, $warm) as temperature_c, r.runtime_h, r.need_h, r.limited_by
    from runtime as r
    join post_kit as pk using (post_kit_id)
    join post as p using (post_id)
    join event as e using (event_id)
    join supply as s on s.kit_id = pk.kit_id and s.radio_item_id = r.radio_item_id
    join feed as f on f.supply_id = s.supply_id
    join item as i on i.item_id = f.item_id
    join post_talk as m on m.post_id = p.post_id
    where pk.post_kit_id = $post_kit and not r.is_on_mains and r.runtime_h > 0 and f.piece_ah > 0
    order by i.item_id
"""


def sent_to(now: Standing, member: str, kit: str) -> dict[str, int]:
    """Posts to which a kit is sent, in the order of their opening: number of the post and kit by `event/post`."""

    def asked() -> dict[str, int]:
        rows = now.assessment.con.cursor().execute(SENT, [member, kit]).fetchall()
        return {f"{event}/{post}": post_kit for event, post, post_kit, _ in rows}

    return now.kept.once(("sent to", member, kit), asked)


def at_post(now: Standing, post_kit: int) -> pd.DataFrame:
    """Volts at the radio, or the converter before it, on transmit while a kit's batteries are used one after another.

    Empty where the kit has no battery, runs on mains, or something is not known. The hours are those of
    the table `runtime`; the curve between follows the rest voltage of each chemistry. Where sun or chargers put something
    in, what is left hour by hour is what `rules.facts.power` steps through, and the volts are those of that charge.

    Returns
    -------
    DataFrame
        hours, volts_v, battery; the same in every row: least_v (at which it stops), need_h (the shift),
        runtime_h, limited_by.
    """
    return now.kept.once(("curve at", post_kit), lambda: _at_post(now, post_kit))


def _at_post(now: Standing, post_kit: int) -> pd.DataFrame:
    warm = float(now.assessment.policy.facts["assumed_temperature_c"])
    case = now.assessment.con.cursor().execute(CASE, {"post_kit": post_kit, "warm": warm}).df()
    if case.empty:
        return pd.DataFrame()
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
    left = left_by_hour(now.assessment.con.cursor(), now.assessment.policy, post_kit)
    if left is None:
        hours = used_h = np.linspace(begins, ends, POINTS).T.ravel()
        piece = np.repeat(np.arange(len(row)), POINTS)
    else:
        runtime_h = float(case["runtime_h"].iloc[0])
        hours = np.union1d(left[0][left[0] < runtime_h], np.linspace(0.0, runtime_h, POINTS * len(row)))
        used_h = (ends[-1] - np.interp(hours, *left)).clip(0.0, ends[-1])
        piece = np.searchsorted(ends[:-1], used_h)
    of = row[piece]
    charge = 1.0 - (used_h - begins[piece]) * spare[of] / energy_h[of]
    volts = battery.open_circuit_v(chemistry[of], charge.clip(0, 1), nominal[of]) - sag_v[of]
    alike = np.concatenate([np.arange(1, number + 1) for number in quantity])
    names = [
        item if number == 1 else f"{item} ({n})"
        for item, number, n in zip(case["item"].iloc[row], quantity[row], alike, strict=True)
    ]
    curve = pd.DataFrame({"hours": hours, "volts_v": volts, "battery": np.array(names, object)[piece]})
    told = case[["need_h", "runtime_h", "limited_by"]].iloc[0].to_dict()
    return curve.assign(least_v=case["stop_v"].iloc[each_h.argmax()], **told)


def _simulated(case: pd.DataFrame) -> discharge.Discharge:
    n = {name: case[name].to_numpy(float) for name in case.select_dtypes("number")}
    chemistry = case["chemistry"].to_numpy(str)
    return discharge.simulate(
        n["piece_ah"], chemistry, n["temperature_c"], 1.0,
        battery.internal_resistance_ohm(chemistry, n["piece_ah"], n["nominal_v"]), n["path_ohm"],
        n["amps_tx"], n["amps_rx"], n["amps_idle"],
        n["talk_share"], n["rx_share"] + n["tx_share"] - n["talk_share"], n["idle_share"],
        n["stop_v"], LONGEST_H, n["nominal_v"], 1.0 - n["usable_share"],
    )  # fmt: skip


def title(curve: pd.DataFrame) -> str:
    """What the curve shows, as its finding."""
    lasts, need = curve["runtime_h"].iloc[0], curve["need_h"].iloc[0]
    why = {"brown-out": "the radio drops out on transmit", "stored energy": "the charge is used up"}
    if curve["limited_by"].iloc[0] == "nothing" and lasts >= need:
        return f"Lasts the shift of {need:.1f} h and goes on past {lasts:.0f} h"
    ends = why.get(curve["limited_by"].iloc[0], "the batteries end")
    if lasts >= need:
        return f"Lasts the shift of {need:.1f} h: {ends} after {lasts:.1f} h"
    return f"{need - lasts:.1f} h short: {ends} after {lasts:.1f} h of {need:.1f} h"
