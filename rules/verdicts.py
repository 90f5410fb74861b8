"""Verdict and score range of every subject: answers of each sort are counted, and the rest follows from the counts.

A sort is a severity with an answer (met, not met, not known). The views `bearing` and `part` in rules/score.sql say which
answers count towards which subject. A score is the weights of what is met in percent of the weights of all that was asked;
its high end counts what is not known as met.

Subjects of all kinds stand in one row of arrays. The *spot* of one is its number among all kinds, its *place* where it stands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
FEW = 1_000
"""Spots that may stay empty, however few subjects there are."""
NOT_KNOWN, READY = map(VERDICTS.index, ("not known", "ready"))
SORTS = 3 * len(SEVERITIES)
"""Sorts of answers: of each severity met, not met, not known."""
KNOWN = "select cast(enum_code(subject_kind) as utinyint) as kind, subject_id as id from subject"
SPOTS = (f"when '{kind}' then least({{0}}_id, $last_{kind}) + $first_{kind}::bigint" for kind in SUBJECTS)
SPOT = f"case {{0}}_kind {' '.join(SPOTS)} end"
"""A number for each subject: kind by kind by its own, and after the last of a kind for what is not there."""
JUDGED = f"""
    select {SPOT.format("subject")} + $spots::bigint * (3 * severity_no + case when ok then 0 when not ok then 1 else 2 end) as spot
    from judgement where subject_id is not null
"""
TIES = f"""
    select * from (
        select {SPOT.format("subject")} as "to", {SPOT.format("from")} as "of", true as is_direct
        from bearing where subject_kind <> from_kind
        union all select {SPOT.format("subject")}, {SPOT.format("part")}, false from part
    ) where "to" is not null and "of" is not null
"""

Ints: TypeAlias = npt.NDArray[np.int64]
Floats: TypeAlias = npt.NDArray[np.float64]


class Known(NamedTuple):
    """What is scored, and what counts towards what.

    values : of the names in SPOT
    spots : int64[n], the spot of each place, in order; nothing stands at the last
    kinds, ids : int8[n], int32[n], the subject there; where none stands, its kind is none of SUBJECTS
    direct : [k, n], 1 where one of the last k counts what is said of another
    parts : int64[2, m], places: to what counts what with all that bears on it
    """

    values: dict[str, int]
    spots: Ints
    kinds: npt.NDArray[np.int8]
    ids: npt.NDArray[np.int32]
    direct: sparse.csr_array
    parts: Ints


def known(con: duckdb.DuckDBPyConnection) -> Known:
    """The subjects of a club that is filled, and the ties between them."""
    there = _columns(con, KNOWN)
    last = [int(there["id"][there["kind"] == kind].max(initial=-1)) + 1 for kind in range(len(SUBJECTS))]
    first = np.cumsum([0, *(most + 1 for most in last)])
    values = {f"last_{kind}": most for kind, most in zip(SUBJECTS, last, strict=True)}
    values |= {f"first_{kind}": int(spot) for kind, spot in zip(SUBJECTS, first[:-1], strict=True)}
    own = first[there["kind"]] + there["id"]
    # numbers with few gaps are places as they are; in copies of a club the gaps are large
    spots = np.arange(first[-1]) if first[-1] < 2 * len(own) + FEW else np.append(np.sort(own), first[-1] - 1)
    kinds, ids = np.full(len(spots), len(SUBJECTS), np.int8), np.zeros(len(spots), np.int32)
    places = _places(spots, own)
    kinds[places], ids[places] = there["kind"], there["id"]
    ties = _columns(con, TIES, values)
    tied, is_direct = _places(spots, np.stack([ties["to"], ties["of"]])), ties["is_direct"].astype(bool)
    return Known(values, spots, kinds, ids, _matrix(tied[:, is_direct], len(spots)), tied[:, ~is_direct])


def scores(con: duckdb.DuckDBPyConnection, known: Known, weights: Sequence[float]) -> pa.Table:
    """The rows of the table scored, for a club that is judged.

    Parameters
    ----------
    weights : one for each of SEVERITIES
    """
    kinds, size = known.kinds, len(known.kinds)
    # by sort, as answers come rule by rule: of one sort mostly, on one subject after the other
    every = int(known.spots[-1]) + 1
    places = _columns(con, JUDGED, {**known.values, "spots": every})["spot"]
    if size < every:
        sorts, spots = np.divmod(places, every)
        places = _places(known.spots, spots) + size * sorts
    counts = np.bincount(places, minlength=SORTS * size).reshape(SORTS, size)
    counts[:, kinds == len(SUBJECTS)] = 0  # what is said of what is not there
    _add(counts, known.direct)
    ranks = _ranks(counts)
    _add(counts, _matrix(known.parts, size))
    counts[:, kinds == CLUB] += counts[:, kinds == MEMBER].sum(axis=1, keepdims=True)
    best, worst = np.full_like(ranks, -1), np.full_like(ranks, READY)
    to, of = known.parts
    np.maximum.at(best, to, ranks[of])
    np.minimum.at(worst, to, ranks[of])
    # a member is as ready as their best kit allows, and not known without one; an event is as its worst post
    is_unsent = (kinds == MEMBER) & (best < 0)
    allowed = np.select([is_unsent, kinds == MEMBER], [NOT_KNOWN, best], worst)
    is_scored = (kinds != POST_KIT) & (kinds < len(SUBJECTS))
    met, not_met, open_ = (_weigh(counts[sort::3], weights)[is_scored] for sort in range(3))
    whole, is_open = met + not_met + open_, is_unsent[is_scored]
    return pa.table(
        {
            "kind_no": kinds[is_scored],
            "subject_id": known.ids[is_scored],
            "verdict_no": np.minimum(ranks, allowed)[is_scored].astype(np.int8),
            "low": np.where(is_open, 0, _of_100(met, whole)),
            "high": np.where(is_open, 100, _of_100(met + open_, whole)),
        }
    )


def _columns(
    con: duckdb.DuckDBPyConnection, asked: str, values: Mapping[str, int] | None = None
) -> dict[str, npt.NDArray[Any]]:
    return {name: np.asarray(column) for name, column in columns(con, asked, values).items()}


def _places(known: Ints, spots: Ints) -> Ints:
    """Where spots stand among those known, which are in order and in few rows without a gap; at the last those that do not."""
    if known[-1] < len(known):
        return spots
    first = np.flatnonzero(np.diff(known, prepend=known[0] - 2) != 1)
    places = spots - (known[first] - first)[np.searchsorted(known[first], spots, side="right") - 1]
    return np.where(known.take(places, mode="clip") == spots, places, len(known) - 1)


def _matrix(ties: Ints, size: int) -> sparse.csr_array:
    """[k, size], 1 where what is said of one of the last k counts towards another; ties as `Known.parts`."""
    to, of = ties
    first = to.min(initial=size)  # items are many, stand first, and nothing counts towards them
    return sparse.csr_array((np.ones(len(to), np.int64), (to - first, of)), (size - first, size))


def _add(counts: Ints, ties: sparse.csr_array) -> None:
    """Count what is said of some subjects towards others as well."""
    for one in counts:
        one[len(one) - ties.shape[0] :] += ties @ one


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
