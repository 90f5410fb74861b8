"""Which parts of a kit suit which of its radios by their figures, whatever their plugs.

Volts: a source suits a radio where it gives what the radio takes and never more. A battery may fall below that, when the radio
stops before it is empty (`rules.facts.lasting` says when); a converter must stay inside.

Current: behind volts that suit the radio flows its own, also where a booster follows, which is no part of each of these
stations: what that draws more is judged thing by thing (`passing` in facts.sql). Behind other volts, and before a converter,
flows the radio's power, at what its lowest converter gives, over these volts and the share that a converter gives out: less
than the radio's current from a battery of 24 V, more from one of 9 V. Losses count once where one converter feeds another,
and volts that are not told count as the radio's own.

Limits of the model:

- A converter's volts are its output; what it accepts is not recorded. A boost converter takes nothing that never falls to
  what it delivers, a buck converter nothing whose middle is not above that, as `rules.facts.power` has it; any source may feed
  the others.
- A battery that tells no rating bears for certain what the low end of those of its chemistry and size does (`battery`).
- A pack is taken to fit its handheld unless its known figures say otherwise, or both tell their family and it is not the same.
- A battery or pack that is not charged is no source.
- Leads have no voltage limit, and voltage drop is not looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rules.facts.places import Array, in_kit, join, marked
from rules.facts.station_parts import FIGURES, NOT_TOLD, PACK, RADIO, Parts, is_builtin

RAW, RIGHT = 0, 1
STEPS = ("boost_converter", "buck_converter")


@dataclass(frozen=True)
class Fits:
    """Which parts of a kit suit which of its radios by their figures, whatever their plugs."""

    radio: Array  # of each pair of a radio and a DC element, once for each grade
    element: Array
    grade: Array  # RIGHT: good straight before the radio; RAW: behind what gives other volts, where a lead is left to be asked
    source: tuple[Array, Array]  # radio, charged source whose voltage suits it or can be converted to
    antenna: tuple[Array, Array]  # radio, antenna that share a band
    drawn_w: Array  # of item: what a converter takes in for a radio; NaN where that has none, or is not told
    refused: tuple[Array, Array]  # what gives a voltage, converter of its kit that does not take it
    is_charged: Array  # of item
    unknown_fits: bool

    def only(self, chosen: Array) -> Fits:
        """Those of the radios chosen, by a mask of items."""
        dc = np.flatnonzero(chosen[self.radio])
        source, antenna = (
            (r.compress(chosen[r]), x.compress(chosen[r])) for r, x in (self.source, self.antenna)
        )
        return replace(
            self, radio=self.radio[dc], element=self.element[dc], grade=self.grade[dc], source=source, antenna=antenna
        )  # fmt: skip


def fits(parts: Parts, kits: Array, converter_share: float, *, unknown_fits: bool) -> Fits:
    """Compare figures and bands of each radio of the kits marked with the other parts of its kit.

    What is not known fits everywhere or nowhere, but in a pack, which fits its handheld; so does what may not work.
    A converter gives out ``converter_share`` of what it takes in.
    """
    low_v, high_v, tx, *_ = (parts.figures[name] for name in FIGURES)
    rated, middle_v = parts.bears_a(unknown_fits), (low_v + high_v) / 2
    is_charged = (parts.charge_fits == 1) | (np.isnan(parts.charge_fits) & unknown_fits)
    is_source = parts.plays("source", "pack")
    is_lead, is_converter = parts.plays("lead", "fuse"), parts.plays("converter")
    is_loose = (parts.role == PACK) | unknown_fits
    asked = kits[parts.kit] & (parts.is_sure | unknown_fits)
    radios = np.flatnonzero((parts.role == RADIO) & asked)
    dc = np.flatnonzero(((is_source & is_charged) | is_lead | is_converter) & asked)
    every_i, every_j = join(parts.kit[radios], parts.kit[dc])

    def suits(given: Array, asked: Array, i: Array, j: Array) -> Array:
        """Whether what a DC element gives is at least what the radio asks for."""
        given, asked, loose = given[dc], asked[radios], is_loose[dc]
        most = np.where(np.isnan(given), np.where(loose, np.inf, -np.inf), given)
        least = np.concatenate([np.where(np.isnan(asked), unknown, asked) for unknown in (np.inf, -np.inf)])
        is_enough: Array = most[j] >= least[i + len(radios) * loose[j]]
        return is_enough

    is_fit, other = is_lead[dc][every_j], np.flatnonzero(~is_lead[dc][every_j])
    i, j, reached_v = every_i[other], every_j[other], np.where(is_source, high_v, low_v)
    is_fit[other] = suits(reached_v, low_v, i, j) & suits(-high_v, -high_v, i, j)
    is_fit[other] &= ~unlike(parts.family[radios][i], parts.family[dc][j])
    right = np.flatnonzero(suits(rated, tx, every_i, every_j) & is_fit)
    r, e = radios[every_i[right]], dc[every_j[right]]

    last = is_converter[e]
    has_converter = marked(len(parts.kit), r[last])
    drawn_w = np.full(len(parts.kit), np.nan)
    np.fmin.at(drawn_w, r[last], middle_v[e[last]])
    drawn_w *= tx / converter_share
    refused = _refused(parts, is_loose, asked)
    is_taken = in_kit(parts.kit, np.ones(len(parts.kit)), is_converter & asked, len(kits))[parts.kit]
    np.subtract.at(is_taken, refused[0], 1)
    is_far = ~is_fit | is_lead[dc][every_j]
    before = np.flatnonzero(has_converter[radios][every_i] & (is_taken[dc] > 0)[every_j] & is_far)
    raw_r, raw_e = radios[every_i[before]], dc[every_j[before]]
    bears = carries_before(parts, drawn_w, raw_r, raw_e, raw_e, unknown_fits=unknown_fits) | is_lead[raw_e]
    raw_r, raw_e = raw_r[bears], raw_e[bears]
    grade = np.repeat([RIGHT, RAW], [len(r), len(raw_r)])
    r, e = np.concatenate([r, raw_r]), np.concatenate([e, raw_e])
    feeds = is_source[e]

    antennas = np.flatnonzero(parts.plays("antenna") & asked)
    band_set, shares = _shared_bands(parts, unknown_fits)
    q, a = join(parts.kit[radios], parts.kit[antennas])
    q, a = radios[q], antennas[a]
    on_band = shares[band_set[q], band_set[a]]
    source, antenna = (r.compress(feeds), e.compress(feeds)), (q.compress(on_band), a.compress(on_band))
    return Fits(r, e, grade, source, antenna, drawn_w, refused, is_charged, unknown_fits)


def carries_before(
    parts: Parts, drawn_w: Array, radio: Array, giver: Array, element: Array, *, unknown_fits: bool
) -> Array:
    """Whether each element bears the current from a giver to the converter of a radio; the giver's volts not told count as the radio's."""
    low_v, high_v, tx, *_ = (parts.figures[name] for name in FIGURES)
    current_a = drawn_w[radio] * 2 / (low_v + high_v)[giver]
    spare_a = parts.bears_a(unknown_fits)[element] - np.where(np.isnan(current_a), tx[radio], current_a)
    loose = (parts.role[element] == PACK) | unknown_fits
    bears: Array = np.where(np.isnan(spare_a), loose, spare_a >= 0)
    return bears


def _refused(parts: Parts, is_loose: Array, asked: Array) -> tuple[Array, Array]:
    """Pairs of a part that gives a voltage and a converter of its kit that does not take it; what is loose fits if not known."""
    low_v = parts.figures["volts_min"]
    middle_v = (low_v + parts.figures["volts_max"]) / 2
    boosts, bucks = (parts.are(kind) for kind in STEPS)
    givers = np.flatnonzero(parts.plays("source", "pack", "converter") & asked)
    converters = np.flatnonzero(parts.plays("converter") & (boosts | bucks) & asked)
    i, j = join(parts.kit[givers], parts.kit[converters])
    g, c = givers[i], converters[j]
    over_v = np.where(boosts[c], middle_v[c] - low_v[g], middle_v[g] - middle_v[c])
    takes = np.where(np.isnan(over_v), is_loose[g], np.where(boosts[c], over_v >= 0, over_v > 0))
    return g[~takes], c[~takes]


def _shared_bands(parts: Parts, unknown_fits: bool) -> tuple[Array, Array]:
    """Number of each item's set of bands, and a table of which sets share one; the last set is 'not told'."""
    sets = [set(text.split()) for text in parts.band_texts]
    words = sorted(set().union(*sets))
    has = np.array([[word in one for word in words] for one in sets], dtype=np.float32)
    has = has.reshape(len(sets), len(words))
    shares = np.full((len(sets) + 1, len(sets) + 1), unknown_fits)
    shares[:-1, :-1] = has @ has.T > 0
    return np.where(parts.bands < 0, len(sets), parts.bands), shares


def unlike(family: Array, other: Array) -> Array:
    """Whether two families are told and not the same."""
    are: Array = (family != other) & (family != NOT_TOLD) & (other != NOT_TOLD)
    return are


def needs(parts: Parts, suited: Fits, n_kits: int) -> list[tuple[Array, Array]]:
    """Marks of parts of which every station needs one, whatever their plugs, and how many a kit has.

    They are the radios with a source and an antenna, those sources, and those antennas.
    """
    holds = {side: is_builtin(parts, side) for side in ("dc", "rf")}
    holds["dc"] &= suited.is_charged
    fed, aired = holds["dc"].copy(), holds["rf"].copy()
    fed[suited.source[0]] = True
    aired[suited.antenna[0]] = True
    good = fed & aired
    marks = [good, good & holds["dc"], good & holds["rf"]]
    for mark, (radio, other) in zip(marks[1:], (suited.source, suited.antenna), strict=True):
        mark[other.compress(good[radio])] = True
    return [(mark, in_kit(parts.kit, parts.quantity, mark, n_kits)) for mark in marks]
