"""Time on the air: of each kit as it stands today, and of each at its posts."""

from __future__ import annotations

from datetime import date
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from rules.facts import at_post, lasting, recharge, sharing
from rules.facts.select import Floats, columns, floats, table
from rules.on_air import LONGEST_H
from rules.physics import battery as cells
from rules.policy import Policy

OF_HOURS = ("load_w", "energy_wh", "runtime_h", "limited_by", "recharge_w", "short_wh")
OF_RUNTIME = (
    "post_kit_id", "radio_item_id", "duty", "amps_tx", *OF_HOURS, "runtime_low_h", "runtime_high_h", "hoped_h", "untold",
    "need_h", "elsewhere_h", "is_on_mains", "has_battery", "low_power_w", "low_power_h", "is_load_assumed", "how", "rests_on",
    "lines", "is_second", "ways_low", "ways_high", "given_share", "hangs_on", "bank_low_h", "bank_high_h",
)  # fmt: skip
OF_RANK = ("post_kit_id", "post_id", "kit_id", "suits", "is_sure", "is_part", "is_on_mains", "runtime_h")
"""What tells which station is the best at a post; to hand over all columns of the cases takes ten times as long."""
PLENTY = 4.0
"""Times the hours of a shift beyond which nobody asks what low power would add; common practice plans for 1.25 times."""
PUBLISHED_C = (-18.0, 60.0)
"""Temperatures of which figures of both sorts of batteries that are asked for are published."""
BEYOND = f"no more than {LONGEST_H:.0f} h are worked out"
IN_DOUBT = ("doubtful_sun", "doubtful_mains", "doubtful_lead", "doubtful_car", "doubtful_plant")
"""Columns of a case: names of things, by what they charge or feed with, of which nobody is sure whether they work."""
OF_SUN = ("solar_w", "controller_a")
UNTOLD_THERE = (
    "whether the post has mains", "whether a vehicle stays there", "whether another vehicle with a socket stays there",
    "the plug of the handheld's 12 V lead", "whether the generator has fuel for all of it",
    "the place, time zone or warmest of the event", "the figures of its batteries", lasting.WHICH_LEAD,
)  # fmt: skip
"""What decides how a bank is charged at its post, where nobody tells it."""
NOBODY_TELLS = "nobody tells "
RESTING_ON = (
    "usual currents of its radio", "usual figures of its batteries", "weather that nobody tells", "how much the sun shines",
)  # fmt: skip
"""What the hours at a post may rest on beside what is told."""


def kit_runtime(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pa.Table]:
    """Hours on the air of each kit's main radio as it stands today, at the policy's duty profile.

    The bank holds what self-discharge has left since its charge date; without a date it is taken as full, and marked
    assumed. At the policy's temperature, with the range of a cold and a warm day: how says what the figures rest on.
    """
    cases = columns(
        con,
        """
        select s.* replace (s.is_bank_assumed or s.is_charge_assumed as is_bank_assumed),
            d.duty, d.tx_share, d.rx_share, d.idle_share, 1.0 as mode_factor, $temperature_c as temperature_c,
            coalesce(k.hours, case when s.is_handheld then $handheld_hours else $hours end) as need_h
        from supply as s join kit as k using (kit_id), (from duty where duty = $duty) as d
        where s.is_main
        """,
        {
            "duty": policy.facts["kit_duty"],
            "temperature_c": policy.facts["assumed_temperature_c"],
            "hours": policy.facts["kit_hours"],
            "handheld_hours": policy.facts["handheld_hours"],
        },
    )
    feed = lasting.read_once(columns(con, "from feed"))
    run = lasting.hours_of(cases, feed, None)
    run = lasting.on_any_lead(run, cases, feed, None, run.short_wh > 0)
    told = {name: cases[name] for name in ("kit_id", "duty", "need_h", "has_apart", "lines")}
    need_h = floats(cases["need_h"])
    is_beyond, is_short = _is_beyond(run.told_h, need_h), run.hours < need_h
    worked_out = {
        "load_w": run.load_w,
        "energy_wh": run.energy_wh,
        "runtime_h": np.where(is_beyond, np.nan, run.told_h),
        "limited_by": np.where(is_beyond, BEYOND, lasting.named(run.told_end, cases)),
        "has_battery": run.has_battery,
        "low_power_h": lasting.at_low_power(cases, feed, None, is_short),
        "stop_v": run.stop_v,
        "low_power_w": np.where(is_short, floats(cases["rf_watts_low"]), np.nan),
    }
    ranged = lasting.ranged(run, cases, policy)
    ends = (ranged["runtime_low_h"], ranged["runtime_high_h"])
    everywhere = np.ones(len(run.hours), bool)
    ranged["runtime_low_h"], ranged["runtime_high_h"] = lasting.widened(
        cases, ends, feed, None, policy, everywhere, ~everywhere
    )
    return {"kit_runtime": table(told | worked_out | ranged)}


def runtime(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Hours on the air of each kit at each post: the radio of the kit that suits it best and lasts longest.

    Which radio: one suits that stands on a whole station for the post and has its power (`ways.suit`).

    - Where the post plans several radios, those of a kit that are on at once share its batteries, all at the duty of the post;
      its hours are those of the best.
    - Radios that have the bands of the post between them (`ways.suit`) are all on, and the hours are those of the one that ends
      first; together they are one way.
    - The best stations of all kits that are there are ranked hour by hour by how they suit and last: the post hangs on the first,
      and a kit that is never first is second. A kit that is not sent is taken to be there alone.
    - Where the post transmits at low power the radio draws what it draws there; one that does not tell is taken at full power,
      and marked assumed.

    What it runs on, at the event's lowest temperature (the policy's where none is told, with the range of a cold and a warm day):

    - Batteries that are full when the first shift begins, and again after a night at home between two (the policy's home_h). Nobody
      tells of these charges; the rule no_way_to_recharge asks for a charger where a night is short.
    - What sun, chargers and a vehicle put in from the start of the shift on (`recharge`), the sun with the range of days of rain
      and of a clear sky, where the event tells its place and hours from UTC.
    - Mains, where the post has mains and the kit a supply that is joined to the radio; not known where nobody tells of mains.
    - Where it hangs_on mains, or else on a vehicle, that feeds or charges it, bank_low_h and bank_high_h are the hours of a full
      bank that nothing charges.
    - What kits there, and radios of one kit, draw from one thing is split among them (`sharing`).

    The range:

    - The high end is at least the hours where all is well that nobody tells of the post and its event (hoped_h): mains, a vehicle
      that may stay, one for each kit, a generator that has fuel, the place and the warmth of the day.
    - Where the best ends too early for certain and one that may suit as well may last, that is the high end (hoped_h, untold).
    - rests_on says what makes a range that is too short at its low end and long enough at its high end.
    - No hours beyond LONGEST_H are worked out: whether a station that lasts those lasts a longer need_h is not known, and its
      hours are NULL then, as in kit_runtime.

    Where the post needs two ways, those of a kit that is sent are the most of its complete stations there that last its hours
    all at once, each on batteries of its own: at least those that do at the low end of their hours, and at most those
    that may at the high end.
    """
    alone, feed = _stations(con, policy)
    ways = sharing.ways(alone, feed)
    together, feed = _together(alone, ways, feed, policy)
    ranked = _ranked(alone, together)
    frame = ranked.drop_duplicates("post_kit_id")
    frame = frame.assign(is_second=frame["is_assigned"] & ~frame["post_kit_id"].isin(_firsts(con, frame)))
    _hope_for_others(con, frame, ranked)
    frame["rests_on"] = _rests_on(frame)
    frame = frame.merge(_ways(ways, together[together["is_way"]]), how="left", on="post_kit_id")
    is_way = frame["is_fit"] & (frame["ways"] > 0) & (frame["team"] > 1)
    for name, lasts in zip(("ways_low", "ways_high"), _last(frame), strict=True):
        frame[name] = frame[name].mask(is_way, lasts.astype(float))
    is_short = frame["runtime_h"].lt(PLENTY * frame["need_h"]) & ~frame["is_on_mains"]
    frame["low_power_h"] = lasting.at_low_power(
        frame, feed, lasting.taken_for_granted(policy), is_short.to_numpy(bool)
    )
    frame["low_power_w"] = frame["rf_watts_low"].where(is_short)
    is_beyond = _is_beyond(frame["runtime_h"], frame["need_h"]) & ~frame["is_on_mains"]
    frame["runtime_h"] = frame["runtime_h"].mask(is_beyond)
    frame["limited_by"] = frame["limited_by"].mask(is_beyond, BEYOND)
    frame["is_on_mains"] = (
        frame["is_on_mains"]
        .astype("boolean")
        .mask(
            ~frame["is_on_mains"] & (frame["may_have_mains"] | frame["has_mains"]) & frame["may_have_supply"]
        )
    )
    frame["given_share"] = _given_share(frame["temperature_c"], frame["is_handheld"])
    return {"runtime": frame[list(OF_RUNTIME)]}


def _given_share(temperature_c: pd.Series, is_handheld: pd.Series) -> Floats:
    """Share of what its label says that another battery gives there: LiFePO4, or of a handheld; beyond what is published as there."""
    return cells.temperature_factor(
        np.where(is_handheld, "li_ion", "lifepo4"), temperature_c.clip(*PUBLISHED_C).to_numpy(float)
    )


def _stations(
    con: duckdb.DuckDBPyConnection, policy: Policy, post_kit_id: int | None = None
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The stations of each kit at each post with their hours, each with all of its kit's batteries, best first; and the fact feed.

    Parameters
    ----------
    post_kit_id : of one kit at a post alone, unless None
    """
    frame = at_post.cases(con, policy, post_kit_id)
    feed = con.execute("from feed").df()
    taken = lasting.taken_for_granted(policy)
    run, used = lasting.uncharged(frame, feed, True)
    frame = sharing.of_post(con, frame, feed, run.load_w, used, taken)
    if post_kit_id is not None:
        rows = np.flatnonzero(frame["post_kit_id"] == post_kit_id)
        frame = frame.iloc[rows].reset_index(drop=True)
        run, used = lasting.uncharged(frame, feed, True)
    return _best_first(_lasting(frame, feed, run, used, taken, policy)), feed


def _together(
    alone: pd.DataFrame, ways: pd.DataFrame, feed: pd.DataFrame, policy: Policy
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The stations that are on at once (`sharing.seats`) with their hours, and feed with the banks of each."""
    several = sharing.seats(alone, ways, feed)
    if several.empty:
        return several, feed
    several, own = sharing.dealt(several, feed, lasting.uncharged(several, feed, True)[1])
    feed = pd.concat([feed, own], ignore_index=True)
    run, used = lasting.uncharged(several, feed, True)
    return _lasting(several, feed, run, used, lasting.taken_for_granted(policy), policy), feed


def _lasting(
    frame: pd.DataFrame, feed: pd.DataFrame, run: lasting.Hours, used: recharge.Used, taken: recharge.Taken, policy: Policy,
) -> pd.DataFrame:  # fmt: skip
    """The cases with their hours on the air and what follows from them, given how they run uncharged."""
    charged, put = lasting.charged_at_post(frame, feed, run, used, taken)
    charged = lasting.on_any_lead(charged, frame, feed, taken, np.ones(len(frame), bool))
    worked_out = dict(zip(OF_HOURS, charged[:6], strict=True))
    worked_out |= {"runtime_h": charged.told_h, "limited_by": lasting.named(charged.told_end, frame)}
    worked_out["has_battery"] = charged.has_battery
    worked_out |= _by_itself(frame, run, charged, put, policy)
    frame = frame.assign(**worked_out, **lasting.ranged(charged, frame, policy))
    is_any_air = frame["is_weather_assumed"].to_numpy(bool)
    has_sun = frame["solar_w"].to_numpy(float) > 0
    if (is_any_air | has_sun).any():
        ends = frame["runtime_low_h"].to_numpy(float), frame["runtime_high_h"].to_numpy(float)
        low_h, high_h = lasting.widened(frame, ends, feed, taken, policy, is_any_air, has_sun)
        is_assumed = is_any_air | (low_h < ends[0]) | (high_h > ends[1])
        how = frame["how"].mask(is_assumed, "assumed")
        frame = frame.assign(runtime_low_h=low_h, runtime_high_h=high_h, how=how)
    frame.loc[frame["is_on_mains"], "limited_by"] = "mains"
    _hope(frame, feed, run._replace(hangs_on_lead=charged.hangs_on_lead), used, taken)
    for name in ("runtime_high_h", "hoped_h"):
        at_most = np.maximum(frame[name], frame["need_h"])
        frame[name] = frame[name].mask(frame[name] >= LONGEST_H, at_most)
    return frame


def _by_itself(
    frame: pd.DataFrame, run: lasting.Hours, charged: lasting.Hours, put: recharge.PutIn, policy: Policy
) -> dict[str, npt.NDArray[Any]]:
    """What feeds or charges each case beside its bank (hangs_on), and the low and high hours of the bank without it."""
    is_on_mains, has_mains = (frame[name].to_numpy(bool) for name in ("is_on_mains", "has_mains"))
    hangs_on = np.full(len(frame), None, object)
    hangs_on[put.by_vehicle] = "vehicle"
    hangs_on[is_on_mains | has_mains & put.by_mains] = "mains"
    used_h = np.where(put.by_mains | put.by_vehicle, 0, floats(frame["before_h"]))
    most_h = np.where(charged.hangs_on_lead, charged.most_h, run.most_h)
    bank = lasting.ranged(run._replace(most_h=most_h), frame, policy)
    hours = {f"bank_{end}_h": np.maximum(bank[f"runtime_{end}_h"] - used_h, 0) for end in ("low", "high")}
    return {"hangs_on": hangs_on} | hours


def _is_beyond(hours: Any, need_h: Any) -> Any:
    """Whether it is not known if hours of N cases last as long as these need: both go beyond what is worked out."""
    return (hours >= LONGEST_H) & (need_h > LONGEST_H)


def _hope(
    frame: pd.DataFrame, feed: pd.DataFrame, run: lasting.Hours, used: recharge.Used, taken: recharge.Taken
) -> None:
    """Raise the high end to the hours where all is well that nobody tells (hoped_h), and say what that is (untold).

    It is of the post, of its event and of what charges there. Mains supplies run on a generator as well, as long as there is fuel.
    """
    hoped = recharge.hoped(frame)
    charged, put = lasting.charged_at_post(hoped, feed, run, used, taken)
    has_supply, may_have_supply, may_have_mains, has_mains, has_vehicle, is_on_mains, is_handheld = (
        frame[name].to_numpy(bool)
        for name in ("has_mains_supply", "may_have_supply", "may_have_mains", "has_mains", "has_vehicle", "is_on_mains", "is_handheld")
    )  # fmt: skip
    plant_w = frame["plant_w"].to_numpy(float)
    is_fed = may_have_supply | put.by_mains
    runs = may_have_supply & (may_have_mains | has_mains | (run.load_w < plant_w * taken.converter_share))
    part = hoped.assign(socket_share=frame["socket_share"])
    part_w = (
        recharge.put_in(part, feed, used, taken).charger_w
        if (part["socket_share"] < 1).any()
        else put.charger_w
    )
    is_open = [
        is_fed & may_have_mains,
        put.by_vehicle & ~has_vehicle,
        part_w < np.minimum(run.load_w, put.charger_w),
        put.by_vehicle
        & is_handheld
        & (frame["handheld_open_a"] > 0).to_numpy(bool)
        & frame["handheld_lead_a"].isna().to_numpy(bool),
        is_fed & (plant_w > 0) & ~has_mains,
        put.by_weather,
        put.is_some & frame["runtime_h"].isna().to_numpy(bool) & ~run.hangs_on_lead,
        run.hangs_on_lead,
    ]
    may = {
        name: (frame[works].fillna(0) > frame[name].fillna(0)).to_numpy(bool)
        for name, works in recharge.IF_IT_WORKS.items()
    }
    is_in_doubt = [
        put.is_some & np.any([may[name] for name in OF_SUN], axis=0),
        put.by_doubt | runs & ~has_supply,
        runs & ~has_supply & is_handheld,
        put.by_vehicle & np.any([may[name] for name in may if name not in OF_SUN], axis=0),
        is_fed & (plant_w > frame["sure_plant_w"].to_numpy(float)) & ~has_mains,
    ]
    names = [frame[name].to_numpy(object) for name in IN_DOUBT]
    items = frame["open_items"].to_numpy(object)
    is_said = is_handheld & (frame["doubtful_lead"].map(len).to_numpy(int) > 0)
    is_apart = frame["open_items"].notna().to_numpy(bool) & (run.is_least | runs & ~has_supply & ~is_said)
    untold = np.full(len(frame), None, dtype=object)
    for row in np.flatnonzero(np.any([*is_open, *is_in_doubt, is_apart], axis=0) & ~is_on_mains):
        words = [word for word, at in zip(UNTOLD_THERE, is_open, strict=True) if at[row]]
        for things, at in zip(names, is_in_doubt, strict=True):
            if at[row]:
                words += (f"whether {thing} works" for thing in things[row])
        if is_apart[row]:
            words.append(lasting.joined_to_radio(items[row]))
        untold[row] = NOBODY_TELLS + ", ".join(words)
    frame["untold"] = untold
    frame["hoped_h"] = np.where(runs, LONGEST_H, charged.told_h)
    most_h = np.where(runs, LONGEST_H, charged.hours)
    frame["runtime_high_h"] = np.maximum(frame["runtime_high_h"], most_h)


def _best_first(frame: pd.DataFrame) -> pd.DataFrame:
    """By kit at a post the cases that suit best, on mains or longest, first."""
    order = ["post_kit_id", "suits", "is_part", "is_on_mains", "runtime_h", "radio_item_id"]
    is_up = [True, False, False, False, False, True]
    return frame.sort_values(order, ascending=is_up, na_position="last", ignore_index=True)


def _ranked(alone: pd.DataFrame, together: pd.DataFrame) -> pd.DataFrame:
    """The stations of each kit at a post, best first; where it has several on at once that the post plans, these."""
    planned = _first_to_end(together[~together["is_way"]])
    if planned.empty:
        return alone
    rest = alone[~alone["post_kit_id"].isin(planned["post_kit_id"])]
    return _best_first(pd.concat([rest, planned], ignore_index=True))


def _first_to_end(planned: pd.DataFrame) -> pd.DataFrame:
    """Of radios that have the bands of a post between them the one that ends first.

    One that ends too early comes before one of which that is not known, and this before those that last.
    """
    is_short, is_open = planned["runtime_high_h"] < planned["need_h"], planned["runtime_h"].isna()
    rank = np.select([planned["is_on_mains"], is_short, is_open], [3, 0, 1], 2)
    planned = planned.iloc[np.lexsort((planned["runtime_low_h"], rank))]
    return planned[(planned["team"] == 1) | ~planned["post_kit_id"].duplicated()]


def _hope_for_others(con: duckdb.DuckDBPyConnection, frame: pd.DataFrame, ranked: pd.DataFrame) -> None:
    """Where the best station of a kit ends too early and one that may suit as well may last: raise the high
    end, and say what is not told.

    One may suit of which it is not known whether it does the bands, the modes or the power; of one that suits nobody may
    tell how long it lasts. It is the kit's own, or of another that is sent there and is there whenever the kit is.

    Parameters
    ----------
    frame : the best of each kit at a post, with the index of `ranked`; changed
    ranked : all of them (`_ranked`)
    """
    need_h, suits, hoped_h = (ranked[name].to_numpy(float) for name in ("need_h", "suits", "hoped_h"))
    may_h = np.where(ranked["is_on_mains"] | np.isnan(hoped_h), LONGEST_H, hoped_h)
    may_last = (suits > 0) & (may_h >= need_h)
    best = np.asarray(frame.index)
    is_short = np.zeros(len(ranked), bool)
    is_short[best] = ~may_last[best] & (ranked["runtime_h"].to_numpy(float)[best] < need_h[best])
    does = ranked["is_on_mains"].to_numpy(bool) | (ranked["runtime_h"].to_numpy(float) >= need_h)
    is_open = may_last & ~(does & (suits % 2 == 0))  # what is certain needs no hope
    least = suits - (suits % 2 == 0)
    of = np.repeat(best, np.diff(np.append(best, len(ranked))))
    own = np.flatnonzero(is_open & is_short[of] & (suits >= least[of]))
    short, at = np.unique(of[own], return_index=True)
    found = dict(zip(short.tolist(), own[at].tolist(), strict=True))
    sent = np.flatnonzero(is_open & ranked["is_assigned"].to_numpy(bool))
    kit = ranked["post_kit_id"].to_numpy()
    is_short[list(found)] = False
    rows = np.flatnonzero(is_short & ranked["is_assigned"].to_numpy(bool))
    there = _there_with(con, kit[rows].tolist()) if len(sent) and len(rows) else {}
    for row in rows:
        others = sent[np.isin(kit[sent], there.get(kit[row], ())) & (suits[sent] >= least[row])]
        if len(others):
            found[int(row)] = int(others[0])
    if found:
        rows, by = np.array(list(found)), list(found.values())
        frame.loc[rows, "untold"] = _untold_of(con, ranked.loc[by], ranked.loc[rows, "kit_id"].to_numpy())
        frame.loc[rows, "hoped_h"] = np.maximum(may_h[by], need_h[rows])
        frame.loc[rows, "runtime_high_h"] = frame.loc[rows, "hoped_h"]
        frame.loc[rows, "how"] = "assumed"


def _there_with(con: duckdb.DuckDBPyConnection, sent: list[int]) -> dict[int, list[int]]:
    """By kit sent to a post (post_kit_id), of those given, the others that are there whenever it is."""
    return dict(con.execute(
        """
        with own as (
            select *, count(*) over (partition by post_kit_id) as instants from (
                select distinct pk.post_kit_id, t.post_id, t.kit_id, t.instant
                from post_kit as pk join present as t using (post_id, kit_id) where pk.post_kit_id in $sent
            )
        ), beside as (
            select own.post_kit_id, t.post_id, t.kit_id
            from own join present as t on t.post_id = own.post_id and t.instant = own.instant and t.kit_id <> own.kit_id
            group by all having count(distinct t.instant) = any_value(own.instants)
        )
        select b.post_kit_id, list(pk.post_kit_id) from beside as b join post_kit as pk using (post_id, kit_id) group by b.post_kit_id
        """,
        {"sent": sent},
    ).fetchall())  # fmt: skip


def _untold_of(con: duckdb.DuckDBPyConnection, by: pd.DataFrame, kit_id: npt.NDArray[Any]) -> list[str]:
    """What nobody tells of each of some stations, of another kit than that given with its member and kit."""
    told = con.execute(
        "select item_id, item, condition = 'ok' as is_ok, member, kit from item join kit using (kit_id) where item_id in $radios",
        {"radios": by["radio_item_id"].tolist()},
    ).df().set_index("item_id").to_dict("index")  # fmt: skip
    said = []
    for row, own in zip(by.to_dict("records"), kit_id, strict=True):
        radio = told[row["radio_item_id"]]
        name = (
            radio["item"]
            if row["kit_id"] == own
            else f"{radio['item']} in {radio['member']}'s {radio['kit']}"
        )
        words = [] if radio["is_ok"] else [f"whether {name} works"]
        if radio["is_ok"] and not row["is_sure"]:
            words.append(f"the bands, modes or plugs of {name}, or whether what it needs works")
        elif radio["is_ok"] and row["suits"] % 2:
            words.append(f"the watts of {name}")
        if pd.isna(row["runtime_h"]) and row["is_sure"]:
            words.append(f"how long what feeds {name} lasts")
        elif row["untold"] and row["runtime_h"] < row["need_h"] and not row["is_on_mains"]:
            words.append(row["untold"].removeprefix(NOBODY_TELLS))
        said.append(NOBODY_TELLS + ", ".join(words))
    return said


def _rests_on(frame: pd.DataFrame) -> list[str | None]:
    """What makes the range of the hours of each kit at a post, where its low end is too short and its high end is not."""
    is_open = frame["runtime_low_h"].lt(frame["need_h"]) & frame["runtime_high_h"].ge(frame["need_h"])
    sides = [
        frame[name].to_numpy(bool) for name in ("is_load_assumed", "is_bank_assumed", "is_weather_assumed")
    ]
    sides.append(frame["solar_w"].to_numpy(float) > 0)
    said: list[str | None] = [None] * len(frame)
    for row in np.flatnonzero(is_open & np.any(sides, axis=0)):
        said[row] = " and ".join(word for word, side in zip(RESTING_ON, sides, strict=True) if side[row])
    return said


def _firsts(con: duckdb.DuckDBPyConnection, best: pd.DataFrame) -> pd.Series:
    """Kits at a post (post_kit_id) that are sent and whose station is the best there for some of the time.

    Of equals the first by name, which copies keep (`rules.plans.trials`). Where none there has all of the bands for certain,
    each that gives some of them is, too.
    """
    con.register("lasting", best[list(OF_RANK)])
    first = con.execute(
        """
        with sent as (
            select post_kit_id, post_id, a.starts, a.ends, suits, is_sure, is_part, is_on_mains, coalesce(runtime_h, 0) as hours,
                kit.member, kit.kit
            from lasting join kit using (kit_id) join assignment as a using (post_id, kit_id)
        ), cut as (
            select post_id, moment as begins, lead(moment) over (partition by post_id order by moment) as until
            from (select distinct post_id, unnest([starts, ends]) as moment from sent)
        )
        select distinct post_kit_id from (
            select post_kit_id, is_part and not bool_or(is_sure) over (partition by c.post_id, c.begins) as is_joint,
                row_number() over (partition by c.post_id, c.begins order by suits desc, is_on_mains desc, hours desc,
                    member, kit) as place
            from cut as c join sent as s on s.post_id = c.post_id and s.starts <= c.begins and s.ends >= c.until
        ) where place = 1 or is_joint
        """
    ).df()["post_kit_id"]
    con.unregister("lasting")
    return first


def _last(frame: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Whether each station lasts its hours for certain, and whether it may."""
    low = frame["is_on_mains"] | frame["runtime_low_h"].ge(frame["need_h"])
    return low & frame["is_sure"], frame["is_on_mains"] | ~frame["runtime_high_h"].lt(frame["need_h"])


def _ways(alone: pd.DataFrame, together: pd.DataFrame) -> pd.DataFrame:
    """How many ways on the air of a kit last their hours, at once: post_kit_id, ways_low, ways_high.

    Radios that share no batteries add up, of those that share some the most that last together count; no more than there
    are complete stations that share no item. Each radio that does not last may take one of these away, as others may
    stand on one antenna; then one is there for certain.

    Parameters
    ----------
    alone : the stations of kits that may be ways, each by itself, with the bank that they share (`sharing.ways`)
    together : several at once, by lot (`sharing.seats`)
    """
    rows = pd.concat([alone.assign(lot=-1 - np.arange(len(alone))), together], ignore_index=True)
    low, high = _last(rows)
    by = [rows[name] for name in ("post_kit_id", "bank", "lot")]
    at_once = pd.DataFrame({"ways_low": low, "ways_high": high}).groupby(by).sum()
    lasting = at_once.groupby(level=[0, 1]).max().groupby(level=0).sum()
    there = alone.drop_duplicates("post_kit_id").set_index("post_kit_id")
    is_end = alone["is_sure"].to_numpy(bool) & ~low.to_numpy(bool)[: len(alone)]
    ends = (alone["radios"] * is_end).groupby(alone["post_kit_id"]).sum()
    sure = (there["stations_low"] - ends).clip(lower=lasting["ways_low"].clip(upper=1))
    lasting["ways_low"] = lasting["ways_low"].clip(upper=there["stations_low"]).clip(upper=sure)
    lasting["ways_high"] = lasting["ways_high"].clip(upper=there["stations_high"])
    return lasting.reset_index()


def bank_at_post(
    con: duckdb.DuckDBPyConnection, policy: Policy, post_kit_id: int
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The station of a kit at a post whose hours the fact runtime tells, as one case, and its batteries as rows of feed."""
    alone, feed = _stations(con, policy, post_kit_id)
    together, feed = _together(alone, sharing.ways(alone, feed), feed, policy)
    case = _ranked(alone, together).drop_duplicates("post_kit_id")
    return case, feed[feed["supply_id"].isin(case["supply_id"])]
