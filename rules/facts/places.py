"""Arrays of places and of numbers that name things: joined, counted and walked, for the whole club at once."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[Any]


def runs(begin: Array, size: Array) -> tuple[Array, Array]:
    """For all runs one after the other: the number of the run, and the places begin, begin + 1 ... within it."""
    run = np.repeat(np.arange(len(size)), size)
    return run, np.arange(len(run)) + (begin - (np.cumsum(size) - size))[run]


def join(left: Array, right: Array) -> tuple[Array, Array]:
    """All index pairs i, j with left[i] == right[j], by i and j."""
    order = np.argsort(right, kind="stable")
    words, word = ranked(right[order])
    size = np.append(np.bincount(word, minlength=len(words)), 0)
    at = np.searchsorted(words, left)
    at[np.append(words, -1)[at] != left] = len(words)
    i, place = runs((np.cumsum(size) - size)[at], size[at])
    return i, order[place]


def ranked(ascending: Array) -> tuple[Array, Array]:
    """The distinct values of an ascending array, and of each value the number among them."""
    is_first = np.ones(len(ascending), dtype=bool)
    is_first[1:] = ascending[1:] != ascending[:-1]
    return ascending.compress(is_first), np.cumsum(is_first) - 1


def distinct(x: Array) -> Array:
    """Sorted distinct values; faster here than hashing, as what comes in runs is merged."""
    return ranked(np.sort(x, kind="stable"))[0]


def by_second(first: Array, second: Array) -> tuple[Array, Array]:
    """Pairs sorted by the second, then the first; both are less than 2**31, so that one number sorts both, in runs."""
    both = np.sort((second << 32) | first, kind="stable")
    return both & (2**32 - 1), both >> 32


def marked(size: int, places: Array) -> Array:
    """Of each of so many places, whether it is named."""
    is_named = np.zeros(size, dtype=bool)
    is_named[places] = True
    return is_named


def numbered(size: int, places: Array) -> tuple[Array, Array]:
    """The places of `size` that are named, ascending; and the number of each of them."""
    is_named = marked(size, places)
    return np.flatnonzero(is_named), np.cumsum(is_named) - 1


def in_kit(kit: Array, quantity: Array, mark: Array, n_kits: int) -> Array:
    """How many items of those marked each kit has."""
    place = np.flatnonzero(mark)
    return np.bincount(kit[place], weights=quantity[place], minlength=n_kits).astype(np.int64)


def reach(tail: Array, head: Array, start: Array) -> tuple[Array, Array]:
    """Steps from the nearest start to every node (-1: not reached), and the arc that leads to it (-1: none)."""
    seen = start.copy()
    steps, by = np.where(seen, 0, -1), np.full(len(seen), -1)
    arc, step = np.flatnonzero(~seen[head]), 0
    tail, head = tail[arc], head[arc]
    while True:
        new = np.flatnonzero(seen[tail])
        if not len(new):
            return steps, by
        step += 1
        met = head[new]
        steps[met], by[met], seen[met] = step, arc[new], True
        ahead = np.flatnonzero(~seen[head])
        arc, tail, head = arc[ahead], tail[ahead], head[ahead]
