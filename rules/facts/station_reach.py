"""Which radios the power things of a kit lead to by their plugs, whatever they are rated and whatever volts they give.

The plugs of a kit are a set of bits, one for each word, so that whole clubs are followed link by link. A lead, fuse or
converter is a link: entered by one plug and left by the other, a converter one way only. A plug that is not told is any.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rules.facts.places import Array, distinct, join, marked, ranked
from rules.facts.station_parts import BUILTIN, NOT_TOLD, Parts

VEHICLE = ("clips", "j563_male")
"""Plugs that go to the battery or the socket of a vehicle, which no list names."""
MET = ("radio", "source", "lead", "fuse", "converter")
FAR = 2**32
EVERY = np.uint64(2**64 - 1)


@dataclass(frozen=True)
class Plugs:
    """The plugs of some things as bits, of at most 64; the last two places of ``bit`` and ``met`` are built in, and not told."""

    near: Array
    far: Array
    bit: Array  # of a plug
    met: Array  # of a plug: those that mate with it; nothing with what is built in
    vehicle: list[int]

    @classmethod
    def of(cls, parts: Parts, not_told: np.uint64) -> Plugs:
        """Those of parts, with the bits that one has which is not told."""
        bit = np.uint64(1) << np.arange(len(parts.plug_words), dtype=np.uint64)
        met = (parts.mates[:-1, :-1] * bit).sum(axis=1, dtype=np.uint64)
        rest = [np.uint64(0), not_told]
        vehicle = [number for number, word in enumerate(parts.plug_words) if word in VEHICLE]
        near, far = parts.plugs["dc_plug"], parts.plugs["dc_plug_far"]
        return cls(near, far, np.append(bit, rest), np.append(met, rest), vehicle)

    def either(self, bits: Array, x: Array) -> Array:
        """Bits of the plugs of things with one or two, of which the second need not be there."""
        both: Array = bits[self.near[x]] | np.where(self.far[x] == NOT_TOLD, np.uint64(0), bits[self.far[x]])
        return both

    def is_driven(self, code: Array) -> Array:
        """Whether power comes to these plugs from a vehicle."""
        return np.isin(code, self.vehicle)


@dataclass(frozen=True)
class Reached:
    """Things and the radios to which they lead, as places among the parts.

    thing, radio, is_converted : what leads to some radio, but not straight to each that is no handheld; whether only through
        a converter
    link, end, rung : links on the shortest ways to a radio that is no handheld: link, radio, and which it is from the source,
        from 1; where one is enough or none needed, the leads that join it by themselves, and where none is needed or there is none
        the radio in the place of one
    """

    thing: Array
    radio: Array
    is_converted: Array
    link: Array
    end: Array
    rung: Array


def reached(parts: Parts) -> Reached:
    """Things that lead to some radio of their kit, but not straight to each that is no handheld.

    Things are the leads, fuses, boosters and sources of kits with a radio that is no handheld. They are followed the way
    that power comes, from a source of the kit or a vehicle; where none comes, both ways. Handhelds are named for those things
    that lead to nothing else. Ways to a radio begin at the sources of its kit whose volts suit one of its radios, else at any,
    and where it has none at a vehicle; at a mains supply only where there is no other.
    """
    is_open = _open_kits(parts, Plugs.of(parts, EVERY))
    place = np.flatnonzero(parts.plays(*MET) & is_open[parts.kit])
    if not len(place):
        return Reached(place, place, place > 0, place, place, place)
    few = parts.only(place)
    found = _followed(few, Plugs.of(few, EVERY))
    places = {name: place[getattr(found, name)] for name in ("thing", "radio", "link", "end")}
    return replace(found, **places)


def _open_kits(parts: Parts, plugs: Plugs) -> Array:
    """Kits with a thing that does not itself join what gives power to each radio that is no handheld."""
    kit, n_kits = parts.kit, int(parts.kit.max(initial=-1)) + 1
    mobile = np.flatnonzero(parts.plays("radio") & ~parts.are("handheld"))
    sources = np.flatnonzero(parts.plays("source"))
    given, unwanted = np.zeros(n_kits, dtype=np.uint64), np.zeros(n_kits, dtype=np.uint64)
    spread(given, kit[sources], plugs.either(plugs.bit, sources))
    spread(unwanted, kit[mobile], ~plugs.either(plugs.met, mobile))
    has_mobile = marked(n_kits, kit[mobile])
    links = np.flatnonzero((parts.plays("lead", "fuse") | parts.are("boost_converter")) & has_mobile[kit])
    to, of = ~unwanted[kit[links]], given[kit[links]]
    ends = plugs.near[links], plugs.far[links]
    has_none = given[kit[links]] == 0
    (fed_near, fed_far), (hit_near, hit_far) = (
        [plugs.is_driven(end) & has_none | (plugs.met[end] & of > 0) for end in ends],
        [plugs.bit[end] & to > 0 for end in ends],
    )
    joins = (fed_near & hit_far) | (fed_far & hit_near & (parts.plays("converter")[links] == 0))
    is_open = marked(n_kits, kit[links[~joins]])
    joins = (plugs.either(plugs.bit, sources) & ~unwanted[kit[sources]] > 0) | ~has_mobile[kit[sources]]
    is_open[kit[sources[~joins]]] = True
    return is_open


def _suiting(parts: Parts, mobile: Array) -> Array:
    """Sources whose volts suit a radio of their kit that is no handheld, all of a kit in which none do; no mains supply beside others."""
    kit, n_kits = parts.kit, int(parts.kit.max(initial=-1)) + 1
    low_v, high_v = parts.figures["volts_min"], parts.figures["volts_max"]
    least, most = np.full(n_kits, np.inf), np.full(n_kits, -np.inf)
    np.minimum.at(least, kit[mobile], np.nan_to_num(low_v[mobile], nan=-np.inf))
    np.maximum.at(most, kit[mobile], np.nan_to_num(high_v[mobile], nan=np.inf))
    suiting = parts.plays("source")
    for is_one in (~(high_v < least[kit]) & ~(low_v > most[kit]), ~parts.are("supply_30a")):
        suiting = suiting & (is_one | ~marked(n_kits, kit[suiting & is_one])[kit])
    return suiting


def _followed(parts: Parts, plugs: Plugs) -> Reached:
    """What `reached` returns, of kits with a radio that is no handheld."""
    kit, n_kits = parts.kit, int(parts.kit.max(initial=-1)) + 1
    near, far, bit, met = plugs.near, plugs.far, plugs.bit, plugs.met
    converts = parts.plays("converter")
    links = np.flatnonzero(parts.plays("lead", "fuse") | converts)
    back = links[~converts[links]]
    sources = np.flatnonzero(parts.plays("source"))
    thing = np.concatenate([links, back, sources])
    entered = np.concatenate([near[links], far[back], np.full(len(sources), BUILTIN)])
    leave = np.concatenate([bit[far[links]], bit[near[back]], plugs.either(bit, sources)])
    order = np.argsort(kit[thing], kind="stable")
    thing, entered, leave = thing[order], entered[order], leave[order]
    enter, given = met[entered], np.zeros(n_kits, dtype=np.uint64)
    is_fed = parts.plays("source")[thing] | plugs.is_driven(entered)
    while spread(given, kit[thing], leave * is_fed):
        is_fed = is_fed | (enter & given[kit[thing]] > 0)

    def led(to: Array) -> tuple[Array, Array, Array]:
        """Pairs of a thing and one of the radios asked that it leads to, and whether only through a converter."""
        radio, row = join(kit[to], kit[thing])
        there, is_lead = plugs.either(met, to), ~converts[thing[row]]
        while spread(there, radio, enter[row] * ((leave[row] & there[radio] > 0) & is_lead)):
            pass
        is_straight = leave[row] & there[radio] > 0
        while spread(there, radio, enter[row] * (leave[row] & there[radio] > 0)):
            pass
        hit = np.flatnonzero(leave[row] & there[radio] > 0)
        x, comes = thing[row[hit]], is_fed[row[hit]]
        used = comes | ~marked(len(kit), x[comes])[x]
        pair = distinct(((x * len(kit) + to[radio[hit]]) << 1 | ~is_straight[hit])[used])
        both, number = ranked(pair >> 1)
        is_converted = np.ones(len(both), dtype=bool)
        is_converted[number[pair & 1 == 0]] = False
        return both // len(kit), both % len(kit), is_converted

    radios = np.flatnonzero(parts.plays("radio"))
    is_handheld = parts.are("handheld")[radios]
    mobile, held = radios[~is_handheld], radios[is_handheld]

    has_source = marked(n_kits, kit[sources])
    is_met, step = _suiting(parts, mobile)[thing], 0
    first = plugs.is_driven(entered) & ~has_source[kit[thing]]
    after, given = np.where(is_met, 0, FAR), np.zeros(n_kits, dtype=np.uint64)
    new = is_met | first
    while new.any():
        spread(given, kit[thing], leave * is_met)
        new, step = ~is_met & (first | (enter & given[kit[thing]] > 0)), step + 1
        after[new] = step
        is_met = is_met | new
    radio, row = join(kit[mobile], kit[thing])
    there, is_hit = plugs.either(met, mobile), np.zeros(len(row), dtype=bool)
    before, step = np.full(len(row), FAR), 0
    while (new := ~is_hit & (leave[row] & there[radio] > 0)).any():
        is_hit |= new
        before[new], step = step, step + 1
        spread(there, radio, enter[row] * new)
    long = after[row] + before
    least = np.full(len(mobile), FAR)
    np.minimum.at(least, radio, long)
    is_way = (long == np.maximum(least, 1)[radio]) & (least[radio] < FAR) & (after[row] > 0)
    on = np.flatnonzero(is_way & ((least[radio] > 1) | parts.plays("lead")[thing[row]]))
    bare = mobile[(least == 0) | (least == 1) & (np.bincount(radio[on], minlength=len(mobile)) == 0)]
    link, end = np.append(thing[row[on]], bare), np.append(mobile[radio[on]], bare)
    rung = np.append(after[row[on]], np.ones(len(bare), dtype=np.int64))
    is_named = ~converts | parts.are("boost_converter")
    x, radio, is_converted = led(mobile)
    straight = np.bincount(x[~is_converted], minlength=len(kit))
    most = is_named[x] & (straight[x] < np.bincount(kit[mobile], minlength=n_kits)[kit[x]])
    is_idle = marked(len(kit), thing[is_named[thing]])
    is_idle[x] = False
    has_idle = marked(n_kits, kit[is_idle])
    y, handheld, is_other = led(held[has_idle[kit[held]]])
    only = is_idle[y]
    return Reached(
        np.concatenate([x[most], y[only]]),
        np.concatenate([radio[most], handheld[only]]),
        np.concatenate([is_converted[most], is_other[only]]),
        link,
        end,
        rung,
    )


def spread(mask: Array, of: Array, bits: Array) -> bool:
    """Add bits to the masks that they are of, ascending; whether that changed any."""
    if not len(of):
        return False
    begin = np.flatnonzero(np.append(True, of[1:] != of[:-1]))
    whole = mask[of[begin]] | np.bitwise_or.reduceat(bits, begin)
    is_new: bool = (whole != mask[of[begin]]).any()
    mask[of[begin]] = whole
    return is_new
