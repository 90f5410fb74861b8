"""Which sources of a kit give power to which of its radios: what its plugs, leads, volts and amperes let through.

The same parts as in `station_fits`, asked otherwise: every source is followed to every radio, charged or not and whether or
not there is an antenna, for hours on the air count what is charged before use. Plugs are sets of bits, as in `station_reach`.

- A pack may feed a handheld, any other source any other radio, straight; through a converter, or two one after the other, a
  source feeds both.
- Each lead and fuse on the way carries what passes it: behind a converter the radio's current, before it what the converter
  takes in, and each converter what the next takes in.
- Figures and families that are not told fit, for whoever reads this knows that they are not told. A plug that is not told
  leaves it open, as does a lead or converter that may not work. Whether source and radio themselves work is not asked.
- Where nothing is joined to a radio for certain, what may be counts as if it were: whether that makes a station at all
  others say (`stations`, `suit` in `rules.facts.ways`).

Limits of the model beside those of `station_fits`: a way through three converters is none, and a lead may be met twice on one
way. What one way takes no other lacks: batteries of a kit are used one after another.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.facts.places import Array, join, marked
from rules.facts.station_fits import STEPS, unlike
from rules.facts.station_parts import PACK, Parts
from rules.facts.station_reach import EVERY, Plugs, spread

NO, MAYBE, SURE = 0, 1, 2


@dataclass(frozen=True)
class Apart:
    """Pairs of a source and a radio of its kit, of all that could be joined by their sorts those that are not in each way.

    source, radio : places among the parts
    straight, boosted, bucked, stepped : NO, MAYBE or SURE; by leads alone, and through a boost, a buck or another converter that
        delivers what the radio takes
    is_in_series : of a boost, a buck and another converter, whether none hangs on the source itself as surely
    as behind another one, (3, pairs)
    """

    source: Array
    radio: Array
    straight: Array
    boosted: Array
    bucked: Array
    stepped: Array
    is_in_series: Array


def _joints(parts: Parts, is_loose: bool) -> Plugs:
    """The plugs of the parts; what is not told is none, or if loose any."""
    return Plugs.of(parts, EVERY if is_loose else np.uint64(0))


def apart(parts: Parts, converter_share: float) -> Apart:
    """Follow every source to every radio of its kit.

    Parameters
    ----------
    converter_share : share of what a converter takes in that it gives out
    """
    kit, n = parts.kit, len(parts.kit)
    low_v, high_v = parts.figures["volts_min"], parts.figures["volts_max"]
    is_held = parts.plays("radio") & parts.are("handheld")
    held, other = np.flatnonzero(is_held), np.flatnonzero(parts.plays("radio") & ~is_held)
    packs = np.flatnonzero(parts.role == PACK)
    sources = np.flatnonzero(parts.plays("source") & ~parts.are("generator"))
    radio, source = (
        np.concatenate(x) for x in zip(_pairs(kit, held, packs), _pairs(kit, other, sources), strict=True)
    )
    fits = _gives(parts, source, radio, high_v)
    straight = _straight(parts, source, radio, fits)
    is_fed = marked(n, radio[straight == SURE])
    few = np.flatnonzero(straight < SURE)
    radio, source, straight = radio[few], source[few], straight[few]

    converters = np.flatnonzero(parts.plays("converter"))
    n_converters = np.bincount(kit[converters], minlength=int(kit.max(initial=-1)) + 1)
    r, c = _pairs(kit, np.flatnonzero(parts.plays("radio") & (n_converters > 0)[kit]), converters)
    fits = _gives(parts, c, r, low_v)
    r, c = r[fits], c[fits]
    at, k = join(kit[r], kit[sources])
    r, c, s = r[at], c[at], sources[k]
    by_itself = through = _through(parts, s, [c], r, converter_share)
    few = np.flatnonzero((through < SURE) & (n_converters > 1)[kit[r]])
    if len(few):
        at, k = join(kit[r[few]], kit[converters])
        at, k = few[at], converters[k]
        at, k = at[k != c[at]], k[k != c[at]]
        other = np.zeros(len(r), dtype=np.int64)
        np.maximum.at(other, at, _through(parts, s[at], [k, c[at]], r[at], converter_share))
        through = np.maximum(other, through)
    is_fed[r[through == SURE]] = True
    pair, of = np.unique(r * n + s, return_inverse=True)

    key = radio * n + source
    every = np.union1d(key, pair)
    source, radio = every % n, every // n
    joined, is_way = np.zeros((4, len(every)), dtype=np.int64), np.zeros((4, len(every)), dtype=bool)
    one_stage = joined.copy()
    joined[0] = np.where(is_held[radio], NO, SURE)
    joined[0, np.searchsorted(every, key)] = straight
    of = np.searchsorted(every, pair)[of]
    sort = np.select([parts.are(kind)[c] for kind in STEPS], [1, 2], 3)
    np.maximum.at(joined, (sort, of), through)
    np.maximum.at(one_stage, (sort, of), by_itself)
    is_in_series = (joined > one_stage)[1:]
    is_way[sort, of] = True
    is_way[0] = ~is_held[radio] | ~is_way[1:].any(axis=0)
    joined[(joined == MAYBE) & ~is_fed[radio]] = SURE
    is_open = ((joined < SURE) & is_way).any(axis=0) | is_in_series.any(axis=0)
    straight, boosted, bucked, stepped = joined[:, is_open]
    return Apart(
        source[is_open], radio[is_open], straight, boosted, bucked, stepped, is_in_series[:, is_open]
    )


def _pairs(kit: Array, some: Array, others: Array) -> tuple[Array, Array]:
    """All pairs of one of some and one of others of its kit."""
    i, j = join(kit[some], kit[others])
    return some[i], others[j]


def _gives(parts: Parts, giver: Array, radio: Array, reached_v: Array) -> Array:
    """Whether nothing told says that a giver does not give what a radio takes; of its volts ``reached_v`` must come up to that."""
    low_v, high_v, tx, rated, _ = parts.figures.values()
    is_wrong = (
        (reached_v[giver] < low_v[radio]) | (high_v[giver] > high_v[radio]) | (rated[giver] < tx[radio])
    )
    is_wrong |= unlike(parts.family[giver], parts.family[radio])
    gives: Array = ~is_wrong
    return gives


def _straight(parts: Parts, source: Array, radio: Array, fits: Array) -> Array:
    """How sure each source is joined to a radio by leads alone."""
    joined = np.zeros(len(source), dtype=np.int64)
    for is_loose, as_sure in ((False, SURE), (True, MAYBE)):
        joints = _joints(parts, is_loose)
        asked = np.flatnonzero(fits & (joined == NO))
        given, taken = joints.either(joints.bit, source[asked]), joints.either(joints.met, radio[asked])
        is_met = given & taken > 0
        joined[asked[is_met]] = as_sure
        asked, given, taken = (x[~is_met] for x in (asked, given, taken))
        amps = parts.figures["amps_tx"][radio[asked]]
        _lead_on(parts, joints, parts.kit[radio[asked]], given, amps, is_loose)
        joined[asked[given & taken > 0]] = as_sure
    return joined


def _through(
    parts: Parts, source: Array, converters: list[Array], radio: Array, converter_share: float
) -> Array:
    """How sure each source is joined to a radio through converters one after the other, of which the last delivers what it takes."""
    low_v, high_v, tx, rated, _ = parts.figures.values()
    middle_v = (low_v + high_v) / 2
    drawn_a, is_wrong = [tx[radio]], np.zeros(len(radio), dtype=bool)
    for giver, converter in zip([source, *converters][::-1][1:], converters[::-1], strict=True):
        into_a = middle_v[converter] * drawn_a[0] / converter_share / middle_v[giver]
        drawn_a.insert(0, np.where(np.isnan(into_a), drawn_a[0], into_a))
        boosts, bucks = (parts.are(kind)[converter] for kind in STEPS)
        is_wrong |= (rated[giver] < drawn_a[0]) | (boosts & (middle_v[converter] < low_v[giver]))
        is_wrong |= bucks & (middle_v[giver] <= middle_v[converter])
    is_sure, joined = np.all([parts.is_sure[x] for x in converters], axis=0), np.zeros(len(source), np.int64)
    for is_loose, as_sure in ((False, SURE), (True, MAYBE)):
        joints = _joints(parts, is_loose)
        asked = np.flatnonzero(~is_wrong & (joined == NO) & (is_loose | is_sure))
        given = joints.either(joints.bit, source[asked])
        taken = [joints.met[joints.near[x[asked]]] for x in converters]
        left = [joints.bit[joints.far[x[asked]]] for x in converters]
        for entry, leave, amps in zip(
            [*taken, joints.either(joints.met, radio[asked])], [*left, EVERY], drawn_a, strict=True
        ):
            late = np.flatnonzero((given & entry == 0) & (given > 0))
            before = given[late]
            _lead_on(parts, joints, parts.kit[radio[asked[late]]], before, amps[asked[late]], is_loose)
            given[late] = before
            given = leave * (given & entry > 0)
        joined[asked[given > 0]] = as_sure
    return joined


def _lead_on(parts: Parts, joints: Plugs, kit: Array, given: Array, amps: Array, is_loose: bool) -> None:
    """Add to the plugs that give power those to which the leads and fuses of their kit lead on, as far as these carry the amperes."""
    if not len(given):
        return
    links = np.flatnonzero(parts.plays("lead", "fuse") & (parts.is_sure | is_loose))
    at, k = join(kit, parts.kit[links])
    link = links[k]
    bears = np.flatnonzero(~(parts.figures["amps_rated"][link] < amps[at]))
    at, link = np.repeat(at[bears], 2), link[bears]
    ends = np.stack([joints.near[link], joints.far[link]], axis=1)
    enter, leave = joints.met[ends].ravel(), joints.bit[ends[:, ::-1]].ravel()
    while spread(given, at, leave * (enter & given[at] > 0)):
        pass
