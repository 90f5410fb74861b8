"""What each radio has to itself where a kit has several on the air at once at its post.

Batteries are dealt out whole, piece by piece: first what fits one radio alone, then what would carry a radio longest, each to
the radio that is worst off of those that it fits, so that two handhelds with two packs between them have one each. A radio for which nothing is left
draws from the bank of the best off with which it could share; both are taken to transmit at the same time, and what hangs on
the bank beside them counts once. A mains supply carries one radio. Solar power and what chargers give is split evenly among
the radios of a sort (handhelds, others) that have a bank of their own; what a vehicle gives is not split.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from rules.facts.recharge import Used
from rules.facts.select import Floats

DRAWN = ("amps_tx", "amps_rx", "amps_idle", "amps_tx_low")
Whole = npt.NDArray[np.int64]


def seats(frame: pd.DataFrame) -> pd.DataFrame:
    """A row for each radio that is on, of the kits that have several on at once; by kit at a post, best first.

    Parameters
    ----------
    frame : cases of `power.AT_POST`, by kit at a post, those that suit best and last longest first
    """
    some = frame[(frame["at_once"] > 1) & frame["is_fit"]]
    some = some.loc[some.index.repeat(some["radios"].to_numpy(int))]
    some = some[some.groupby("post_kit_id").cumcount() < some["at_once"]]
    return some[some["post_kit_id"].duplicated(keep=False)].reset_index(drop=True)


def dealt(rows: pd.DataFrame, feed: pd.DataFrame, used: Used) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The radios of `seats` with what is drawn from the bank of each, and these banks as rows of `feed`.

    They have new numbers of supply. A radio that has no bank of its own is left out, and drawn for at another.

    Parameters
    ----------
    used : how the batteries of these rows are used up if each had them all
    """
    kit = np.unique(rows["post_kit_id"], return_inverse=True)[1]
    seat = _place(kit)
    n_kits, n_seats = int(kit.max()) + 1, int(seat.max()) + 1
    is_supplied = rows["is_on_mains"].to_numpy(bool, copy=True)
    is_supplied[is_supplied] = _place(kit[is_supplied]) < rows["supplies"].to_numpy(float)[is_supplied]

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
    given, bank_h = _deal(lot_kit, pieces, each_h, n_kits)

    own = np.zeros((n_kits, n_seats), dtype=np.int64)
    np.add.at(own, lot_kit, given)
    could = np.zeros((n_kits, n_seats, n_seats), dtype=bool)
    np.logical_or.at(could, lot_kit, (each_h >= 0)[:, :, None] & (given > 0)[:, None, :])
    joins = np.flatnonzero((own[kit, seat] == 0) & could[kit, seat].any(axis=1))
    at = np.where(could[kit, seat], bank_h[kit], -1.0)[joins].argmax(axis=1)
    to = joins - seat[joins] + at

    radios = rows.assign(
        supply_id=int(feed["supply_id"].max()) + 1 + np.arange(len(rows)), is_on_mains=is_supplied
    )
    for name in DRAWN:
        amps = rows[name].to_numpy(float, copy=True)
        np.add.at(amps, to, rows[name].to_numpy(float)[joins])
        radios[name] = amps
    has_own = pd.Series(own[kit, seat] > 0)
    split = has_own.groupby([kit, rows["is_handheld"]]).transform("sum").clip(lower=1).to_numpy(float)
    radios["solar_w"] = radios["solar_w"] / split
    share = given[lot, seat[used.case]]
    mine = told.assign(
        supply_id=radios["supply_id"].to_numpy()[used.case],
        quantity=share,
        charger_a=told["charger_a"].to_numpy(float) / split[used.case],
    )
    return radios[~np.isin(np.arange(len(radios)), joins)], mine[share > 0]


def _place(kit: npt.NDArray[Any]) -> Whole:
    """Place of each row within its kit; rows of a kit stand together."""
    return np.asarray(pd.Series(kit).groupby(kit).cumcount(), np.int64)


def _deal(kit: Whole, pieces: Whole, each_h: Floats, n_kits: int) -> tuple[Whole, Floats]:
    """How many pieces of each lot each radio of its kit gets, and the hours of each kit's radios then."""
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
