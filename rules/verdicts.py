"""Verdict and score range of every subject: answers of each sort are counted, and the rest follows from the counts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, TypeAlias

import duckdb
import numpy as np
import numpy.typing as npt
import pyarrow as pa
from scipy import sparse

from rules.facts.select import columns

SUBJECTS = ("item", "kit", "member", "post_kit", "post", "event", "club")
"""In the order of subject_word."""
SEVERITIES = ("blocks", "limits", "advice")
VERDICTS = ("not ready", "not known", "ready with limits", "ready")
MEMBER, POST_KIT, CLUB = map(SUBJECTS.index, ("member", "post_kit", "club"))
READY = VERDICTS.index("ready")
SORTS = 3 * len(SEVERITIES)
"""Sorts of answers: of each severity met, not met, not known."""
KEY = "(cast(enum_code({0}_kind) as bigint) << 32) + {0}_id"
"""A number for each subject: first the place of its kind in SUBJECTS, then its own number."""
KNOWN = f'select {KEY.format("subject")} as "of" from subject'
JUDGED = f"""
    select {KEY.format("subject")} as "of", cast(3 * severity_no + case when ok then 0 when not ok then 1 else 2 end as integer) as sort
    from judgement where subject_id is not null
"""
TIES = f"""
    select * from (
        select {KEY.format("subject")} as "to", {KEY.format("from")} as "of", true as is_direct
        from bearing where subject_kind <> from_kind
        union all select {KEY.format("subject")}, {KEY.format("part")}, false from part
    ) where "to" is not null and "of" is not null
"""

Ints: TypeAlias = npt.NDArray[np.int64]
Floats: TypeAlias = npt.NDArray[np.float64]


class Known(NamedTuple):
    """What is scored, and what counts towards what.

    keys : int64[n], number of each subject, in order
    direct, parts : int32[2, m], places of subjects: to what counts what, itself and with all that bears on it
    """

    keys: Ints
    direct: Ints
    parts: Ints


def known(con: duckdb.DuckDBPyConnection) -> Known:
    """The subjects of a club that is filled, and the ties between them."""
    keys, ties = np.sort(_columns(con, KNOWN)["of"]), _columns(con, TIES)
    places = np.stack([_places(keys, ties["to"]), _places(keys, ties["of"])])
    return Known(keys, places[:, ties["is_direct"]], places[:, ~ties["is_direct"]])


def scores(con: duckdb.DuckDBPyConnection, known: Known, weights: Sequence[float]) -> pa.Table:
    """The rows of the table scored, for a club that is judged.

    Parameters
    ----------
    weights : one for each of SEVERITIES
    """
    judged, size = _columns(con, JUDGED), len(known.keys) + 1
    # by sort, as answers come rule by rule: of one sort mostly, on one subject after the other
    places = _places(known.keys, judged["of"]) + size * judged["sort"]
    counts = np.bincount(places, minlength=SORTS * size).reshape(SORTS, size)
    counts[:, -1] = 0  # what is said of what is not there
    _add(counts, *known.direct)
    ranks = _ranks(counts)
    _add(counts, *known.parts)
    kinds = np.append(known.keys >> 32, len(SUBJECTS))
    counts[:, kinds == CLUB] += counts[:, kinds == MEMBER].sum(axis=1, keepdims=True)
    best, worst = np.full_like(ranks, -1), np.full_like(ranks, READY)
    to, of = known.parts
    np.maximum.at(best, to, ranks[of])
    np.minimum.at(worst, to, ranks[of])
    # a member is as ready as their best kit allows, an event as its worst post
    allowed = np.where((kinds == MEMBER) & (best >= 0), best, worst)
    is_scored = (kinds != POST_KIT) & (kinds < len(SUBJECTS))
    met, not_met, open_ = (_weigh(counts[sort::3], weights)[is_scored] for sort in range(3))
    whole = met + not_met + open_
    return pa.table(
        {
            "kind_no": kinds[is_scored].astype(np.int8),
            "subject_id": known.keys[is_scored[:-1]].astype(np.int32),
            "verdict_no": np.minimum(ranks, allowed)[is_scored].astype(np.int8),
            "low": _of_100(met, whole),
            "high": _of_100(met + open_, whole),
        }
    )


def _columns(con: duckdb.DuckDBPyConnection, asked: str) -> dict[str, npt.NDArray[Any]]:
    return {name: np.asarray(column) for name, column in columns(con, asked).items()}


def _places(known: Ints, keys: Ints) -> Ints:
    """Where keys stand among those known, which are sorted and in few rows without a gap; past the end where they do not."""
    first = np.flatnonzero(np.diff(known, prepend=known[0] - 2) != 1)
    places = keys - (known[first] - first)[np.searchsorted(known[first], keys, side="right") - 1]
    return np.where(known.take(places, mode="clip") == keys, places, len(known))


def _add(counts: Ints, to: Ints, of: Ints) -> None:
    """Count what is said of some subjects towards others as well."""
    size = counts.shape[1]
    first = to.min(initial=size)  # items are many, stand first, and nothing counts towards them
    ties = sparse.csr_array((np.ones(len(to), np.int64), (to - first, of)), (size - first, size))
    for one in counts:
        one[first:] += ties @ one


def _ranks(counts: Ints) -> Ints:
    """The place in VERDICTS that the answers of each subject allow."""
    return np.select([counts[1] > 0, counts[2] > 0, counts[4] > 0], [0, 1, 2], READY)


def _weigh(counts: Ints, weights: Sequence[float]) -> Floats:
    """What answers of each severity weigh together."""
    weighed = np.zeros(counts.shape[1])
    for weight, of_one in zip(weights, counts, strict=True):
        weighed += weight * of_one
    return weighed


def _of_100(part: Floats, whole: Floats) -> Floats:
    """A part in percent, to a tenth; what no rule applies to lacks nothing."""
    share = np.divide(100 * part, whole, out=np.full_like(part, 100), where=whole > 0)
    return np.floor(10 * share + 0.5) / 10
