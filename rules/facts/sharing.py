"""What each kit has to itself where several at a post draw from one vehicle or generator, and each radio of several in one kit.

Kits that are there at the same time (`of_post`):

- A vehicle that stays has one socket for certain. What it gives is split among the kits that draw from it, as each draws: so
  much that all of them last, or none. Of several vehicles the next hungriest kit takes the one from which least is drawn. In
  the high end, where nobody tells how many there are, each kit has one to itself.
- What clips take from a vehicle's own battery is bound by the lead alone.
- What generators give is split among those that may run or charge on them, in the high end, where alone it counts.
- A kit that is not sent is taken to be there alone.

Radios of one kit that are on the air at once (`seats`, `dealt`):

- Batteries are dealt out whole, piece by piece: first what fits one radio alone, then what would carry a radio longest, each
  to the radio that is worst off of those that it fits. Two handhelds with two packs between them have one each. Radios that
  must last together have of all deals that in which the first of them ends latest, as long as there are few (DEALS).
- A radio that the post plans and for which nothing is left draws from the bank of the best off with which it could share. Both
  are taken to transmit at the same time, and what hangs on the bank beside them counts once. It is no other way on the air.
- A mains supply carries one radio.
- What panels, their controllers and chargers give is split evenly among the radios of a sort (handhelds, others) that have a
  bank of their own; what comes by one lead, booster, inverter or socket from a vehicle, or from a generator, is split as each draws.
- A handheld's 12 V lead runs one handheld, from a vehicle or from a mains supply.

Cases and `feed` are those of `rules.facts.lasting`.
"""

from __future__ import annotations

from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from rules.facts import recharge
from rules.facts.recharge import Taken, Used
from rules.facts.select import Floats

DRAWN = ("amps_tx", "amps_rx", "amps_idle", "amps_tx_low")
EVENLY = ("solar_w", "solar_may_w", "controller_a", "controller_may_a")
LED = {
    "handheld_leads": ("handheld_lead_a", "handheld_clip_a", "handheld_plug_a"),
    "handheld_leads_may": (
        "handheld_lead_may_a",
        "handheld_clip_may_a",
        "handheld_plug_may_a",
        "handheld_open_a",
    ),
}
"""Columns that one 12 V lead gives to one handheld, by that of how many such there are."""
DEALS = 5000
"""In so many ways the pieces of a kit may be dealt out for all of them to be looked at."""
Whole = npt.NDArray[np.int64]


def of_post(
    con: duckdb.DuckDBPyConnection,
    frame: pd.DataFrame,
    feed: pd.DataFrame,
    load_w: Floats,
    used: Used,
    taken: Taken,
) -> pd.DataFrame:
    """The cases with the part that each kit has of a vehicle's socket (socket_share) and of generators (plant_w, sure_plant_w).

    Parameters
    ----------
    frame : cases of `at_post.AT_POST`, all of those of each post
    load_w, used : of these, uncharged
    """
    sent = frame[
        frame["is_assigned"] & frame["is_fit"] & (frame["may_have_vehicle"] | (frame["plant_w"] > 0))
    ]
    is_beside = sent["kit_id"].groupby(sent["post_id"]).transform("nunique") > 1
    rows = frame.index.get_indexer(sent.index[is_beside])
    if not len(rows):
        return frame
    some, used = frame.iloc[rows], used.of(rows)
    hoped = recharge.hoped(some).assign(has_mains=some["has_mains"])
    by_vehicle, by_plant = hoped.assign(generator_w=0.0), hoped.assign(has_vehicle=False)

    def gains(cases: pd.DataFrame, source: str) -> npt.NDArray[np.bool_]:
        with_it, without = (
            recharge.put_in(each, feed, used, taken).charger_w
            for each in (cases, cases.assign(**{source: 0.0}))
        )
        return with_it > without

    runs = some["may_have_supply"] & ~some["has_mains"] & (some["plant_w"] > 0)
    there = con.execute(
        "select distinct post_id, instant, kit_id from present where kit_id is not null and post_id in $posts",
        {"posts": some["post_id"].unique().tolist()},
    ).df()
    sockets = some["vehicles"].fillna(1).clip(lower=1)
    socket_share = _parts(some, load_w[rows], gains(by_vehicle, "socket_share"), there, sockets)
    on_plant = gains(by_plant, "generator_w") | runs.to_numpy(bool)
    plant_share = _parts(some, load_w[rows], on_plant, there, pd.Series(1, some.index))
    part_w = np.minimum(some["plant_w"], some["plants_w"] * plant_share)
    frame = frame.copy()
    frame.loc[some.index, "socket_share"] = socket_share
    frame.loc[some.index, "sure_plant_w"] *= (part_w / some["plant_w"]).fillna(1.0)
    frame.loc[some.index, "plant_w"] = part_w
    return frame


def _parts(
    some: pd.DataFrame,
    load_w: Floats,
    draws: npt.NDArray[np.bool_],
    there: pd.DataFrame,
    sources: pd.Series,
) -> Floats:
    """The share of each case in what kits at one post draw from together, at the hour in which most is drawn; 1 where it draws nothing.

    Parameters
    ----------
    there : which kits are at a post (post_id, kit_id) from each moment at which somebody comes or goes (instant)
    sources : of each case, from how many its post draws
    """
    drawn = some[["post_id", "kit_id"]].assign(
        load_w=np.where(draws, pd.Series(load_w).fillna(np.nanmax(load_w, initial=1.0)), 0.0),
        sources=sources,
    )
    of_kit = drawn.groupby(["post_id", "kit_id"], as_index=False).max()
    at = there.merge(of_kit[of_kit["load_w"] > 0], on=["post_id", "kit_id"])
    at = at.sort_values(["load_w", "kit_id"], ascending=[False, True], ignore_index=True)
    together = at.groupby(["post_id", "instant"])
    group, turn = together.ngroup().to_numpy(), together.cumcount().to_numpy()
    most = int(turn.max(initial=-1)) + 1
    given_w = np.zeros((group.max(initial=-1) + 1, most))
    given_w[np.arange(most) >= at.groupby(group)["sources"].max().to_numpy()[:, None]] = np.inf
    source = np.zeros(len(at), dtype=np.int64)
    for place in range(most):
        now = np.flatnonzero(turn == place)
        source[now] = given_w[group[now]].argmin(axis=1)
        given_w[group[now], source[now]] += at["load_w"].to_numpy()[now]
    at["share"] = at["load_w"] / given_w[group, source]
    least = at.groupby(["post_id", "kit_id"])["share"].min()
    return least.reindex(pd.MultiIndex.from_frame(drawn[["post_id", "kit_id"]])).fillna(1.0).to_numpy(float)


def ways(frame: pd.DataFrame, feed: pd.DataFrame) -> pd.DataFrame:
    """The cases that may be ways on the air of a kit that is sent, and the bank of each: those that share no battery have another.

    Handhelds and other radios share none, but where a converter lets both draw from one.

    Parameters
    ----------
    frame : cases of `at_post.AT_POST`
    """
    return _banked(frame[(frame["ways"] > 0) & frame["is_fit"]], feed)


def _banked(some: pd.DataFrame, feed: pd.DataFrame) -> pd.DataFrame:
    fed = feed.merge(some[["supply_id", "kit_id", "is_handheld"]].drop_duplicates(), on="supply_id")
    of_both = fed.groupby("item_id")["is_handheld"].transform("nunique") > 1
    return some.assign(bank=some["is_handheld"] & ~some["kit_id"].isin(fed["kit_id"][of_both]))


def seats(frame: pd.DataFrame, ways: pd.DataFrame, feed: pd.DataFrame) -> pd.DataFrame:
    """A row for each radio that is on, of the kits that have several on at once; by lot, best first.

    A lot is what the post plans of a kit (is_way false), or so many ways of a kit as would share batteries, two and more:
    those known to suit that last longest. What the post plans is the best radio and, of those known to suit before others,
    such as share no batteries with one that is on already: a spare one would but take from these. Of those that have the bands
    of the post between them that which ends first comes first, and so has the best battery.

    Parameters
    ----------
    frame : cases of `at_post.AT_POST`, by kit at a post, those that suit best and last longest first
    ways : of these the ways, with their bank
    feed : what feeds them
    """
    some = frame[(frame["at_once"] > 1) & frame["is_fit"]]
    some = some.loc[some.index.repeat(some["radios"].to_numpy(int))]
    some = some[some["post_kit_id"].duplicated(keep=False)]
    if len(some):
        some = _banked(some, feed)
        shared = some.groupby(["post_kit_id", "bank"]).cumcount()
        is_after = some["post_kit_id"].duplicated()
        thirst = -some.groupby("post_kit_id").cumcount() * (some["team"] > 1)
        by = [some["post_kit_id"], thirst, is_after, is_after & ~some["is_sure"], shared]
        some = some.iloc[np.lexsort(by[::-1])]
        some = some[some.groupby("post_kit_id").cumcount() < some["at_once"]]
    lots = [some.assign(is_way=False, lot=-some["post_kit_id"])]
    order = ["post_kit_id", "bank", "is_sure", "is_on_mains", "runtime_h"]
    ways = ways.loc[ways.index.repeat(ways["radios"].to_numpy(int))]
    ways = ways.sort_values(
        order, ascending=[True, True, False, False, False], kind="stable", ignore_index=True
    )
    of_bank = ways.groupby(["post_kit_id", "bank"])
    place, group = of_bank.cumcount(), of_bank.ngroup()
    most = np.minimum(of_bank["radios"].transform("size"), ways["ways"])
    for number in range(2, int(most.max()) + 1 if len(ways) else 0):
        of_number = (place < number) & (most >= number)
        lots.append(ways[of_number].assign(is_way=True, lot=group + number * len(ways)))
    return pd.concat(lots, ignore_index=True)


def dealt(rows: pd.DataFrame, feed: pd.DataFrame, used: Used) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The radios of `seats` with what is drawn from the bank of each, and these banks as rows of `feed`.

    They have new numbers of supply. A radio that has no bank of its own is left out, and if it is planned drawn for at another.

    Parameters
    ----------
    used : how the batteries of these rows are used up if each had them all
    """
    kit = np.unique(rows["lot"], return_inverse=True)[1]
    seat = _place(kit)
    n_kits, n_seats = int(kit.max()) + 1, int(seat.max()) + 1
    is_led = rows["handheld_lead_id"].notna().to_numpy()
    turn = rows[is_led].groupby([kit[is_led], "handheld_lead_id"]).cumcount()
    late = {most: turn.index[turn >= rows.loc[is_led, most]].to_numpy() for most in LED}
    has_supply, may_have_supply = (
        _in_turn(
            rows[name].to_numpy(bool) & ~np.isin(np.arange(len(rows)), late[led]),
            kit,
            rows[of].to_numpy(float),
        )
        for name, of, led in (
            ("has_mains_supply", "supplies", "handheld_leads"),
            ("may_have_supply", "supplies_may", "handheld_leads_may"),
        )
    )
    is_supplied = rows["is_on_mains"].to_numpy(bool) & has_supply

    told = feed.iloc[used.fed]
    (lot_kit, _), lot = np.unique(
        np.stack([kit[used.case], told["item_id"].to_numpy(np.int64)]), axis=1, return_inverse=True
    )
    lot = lot.ravel()
    pieces = np.zeros(len(lot_kit), dtype=np.int64)
    pieces[lot] = told["quantity"]
    each_h = np.full(
        (len(lot_kit), n_seats), -1.0
    )  # of a piece in each radio of its kit; below 0: not for it
    each_h[lot, seat[used.case]] = np.where(
        is_supplied[used.case], -1.0, np.nan_to_num(used.piece_h / told["quantity"].to_numpy(float))
    )
    given, bank_h = deal(lot_kit, pieces, each_h, n_kits)
    is_level = np.zeros(n_kits, dtype=bool)
    is_level[kit] = rows["is_way"].to_numpy(bool) | (rows["team"].to_numpy(int) > 1)
    level(given, bank_h, lot_kit, pieces, each_h, np.flatnonzero(is_level))

    own = np.zeros((n_kits, n_seats), dtype=np.int64)
    np.add.at(own, lot_kit, given)
    could = np.zeros((n_kits, n_seats, n_seats), dtype=bool)
    np.logical_or.at(could, lot_kit, (each_h >= 0)[:, :, None] & (given > 0)[:, None, :])
    joins = np.flatnonzero((own[kit, seat] == 0) & could[kit, seat].any(axis=1))
    at = np.where(could[kit, seat], bank_h[kit], -1.0)[joins].argmax(axis=1)
    to = joins - seat[joins] + at

    radios = rows.assign(
        supply_id=int(feed["supply_id"].max()) + 1 + np.arange(len(rows)), is_on_mains=is_supplied, has_mains_supply=has_supply,
        may_have_supply=may_have_supply,
    )  # fmt: skip
    is_drawn = ~rows["is_way"].to_numpy(bool)[joins]
    for name in DRAWN:
        amps = rows[name].to_numpy(float, copy=True)
        np.add.at(amps, to[is_drawn], rows[name].to_numpy(float)[joins[is_drawn]])
        radios[name] = amps
    has_own = pd.Series(own[kit, seat] > 0)
    split = has_own.groupby([kit, rows["is_handheld"]]).transform("sum").clip(lower=1).to_numpy(float)
    radios[[*EVENLY]] = radios[[*EVENLY]].div(split, axis=0)
    drawn_w = rows["load_w"].fillna(rows["load_w"].max()).to_numpy(float, copy=True)
    np.add.at(drawn_w, to[is_drawn], drawn_w[joins[is_drawn]])
    drawn = pd.Series(drawn_w * has_own)
    radios["vehicle_share"] = (drawn / drawn.groupby(kit).transform("sum")).fillna(1.0).to_numpy(float)
    on_plant = pd.Series(drawn_w)
    on_plant[joins] = 0.0
    radios[["plant_w", "sure_plant_w"]] = radios[["plant_w", "sure_plant_w"]].mul(
        (on_plant / on_plant.groupby(kit).transform("sum")).to_numpy(float), axis=0
    )
    for most, led in LED.items():
        radios.loc[late[most], list(led)] = np.nan
    share = given[lot, seat[used.case]]
    mine = told.assign(
        supply_id=radios["supply_id"].to_numpy()[used.case],
        quantity=share,
        charger_a=told["charger_a"].to_numpy(float) / split[used.case],
        charger_may_a=told["charger_may_a"].to_numpy(float) / split[used.case],
    )
    return radios[~np.isin(np.arange(len(radios)), joins)], mine[share > 0]


def _in_turn(has: npt.NDArray[np.bool_], kit: Whole, most: Floats) -> npt.NDArray[np.bool_]:
    """Of the radios of each kit that have something, the first so many."""
    has = has.copy()
    has[has] = _place(kit[has]) < most[has]
    return has


def _place(kit: npt.NDArray[Any]) -> Whole:
    """Place of each row within its kit; rows of a kit stand together."""
    return np.asarray(pd.Series(kit).groupby(kit).cumcount(), np.int64)


def deal(kit: Whole, pieces: Whole, each_h: Floats, n_kits: int) -> tuple[Whole, Floats]:
    """How many pieces of each lot each radio of its kit gets, and the hours of each kit's radios then.

    Parameters
    ----------
    kit, pieces : of each of L lots of batteries
    each_h : hours of one piece in each radio of its kit, below 0 where it does not fit it, (L, radios)
    """
    order = np.lexsort((-each_h.max(axis=1, initial=-1.0), (each_h >= 0).sum(axis=1), kit))
    lot = np.repeat(order, pieces[order])
    turn = _place(kit[lot])
    given = np.zeros(each_h.shape, dtype=np.int64)
    bank_h = np.zeros((n_kits, each_h.shape[1]))
    for at in range(int(turn.max(initial=-1)) + 1):
        now = lot[turn == at]
        open_h = np.where(each_h[now] >= 0, bank_h[kit[now]], np.inf)
        fits = np.isfinite(open_h.min(axis=1))
        now, seat = now[fits], open_h.argmin(axis=1)[fits]
        given[now, seat] += 1
        bank_h[kit[now], seat] += np.maximum(each_h[now, seat], 1e-9)
    return given, bank_h


def level(
    given: Whole, bank_h: Floats, kit: Whole, pieces: Whole, each_h: Floats, kits: npt.NDArray[np.intp]
) -> None:
    """Deal anew of what `deal` gave where the first radio of one of these kits to end then ends later.

    Of all deals of a kit, where there are no more than DEALS; `given` and `bank_h` are changed.

    Parameters
    ----------
    kit, pieces, each_h : of each lot of batteries, as `deal` takes them, by kit
    """
    firsts, lasts = np.searchsorted(kit, kits), np.searchsorted(kit, kits, side="right")
    for of, first, last in zip(kits, firsts, lasts, strict=True):
        lots = np.arange(first, last)
        radios = np.flatnonzero((each_h[lots] >= 0).any(axis=0))
        piece = np.repeat(lots, pieces[lots])
        if len(radios) < 2 or len(radios) ** len(piece) > DEALS:
            continue
        to = np.indices((len(radios),) * len(piece)).reshape(len(piece), -1)
        is_given = to[:, :, None] == np.arange(len(radios))
        piece_h = np.maximum(each_h[piece][:, radios], 0.0)
        ends_h = np.einsum("pdr,pr->dr", is_given, piece_h)
        best = np.lexsort(np.sort(ends_h, axis=1).T[::-1])[-1]
        if ends_h[best].min() > bank_h[of, radios].min():
            given[lots] = 0
            np.add.at(given, (piece, radios[to[:, best]]), 1)
            given[lots] *= each_h[lots] >= 0
            bank_h[of, radios] = ends_h[best]
