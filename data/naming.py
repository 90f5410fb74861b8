"""The members and kits that the files of a club name: each once, numbered in the order of the names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from data.column_values import each, plain

NAME_MEMBERS = ("inventory", "members", "kits", "rehearsals", "assignments")
NAME_KITS = ("inventory", "kits")
TOLD = frozenset({"member", "kit", "line", "owner", "condition"})
"""Columns of the inventory that are read here."""


def numbered(told: Mapping[str, pa.Table]) -> tuple[pa.Table, pa.Table, pa.Table]:
    """Number the members and kits of a club.

    Parameters
    ----------
    told : rows of each file, as `data.upload.read` types them

    Returns
    -------
    members
        member_id, member
    kits
        kit_id, member_id, member, kit, and of the rows of the inventory in it: lines, and whether all that has not been
        taken out is the club's (is_pool)
    inventory
        the rows with kit_id and member_id
    """
    inventory, kit_list = (told[stem] for stem in NAME_KITS)
    members = _names(told[stem]["member"] for stem in NAME_MEMBERS)
    names = _names(told[stem]["kit"] for stem in NAME_KITS)

    def pairs(rows: pa.Table) -> pa.Array:
        member, kit = _places(rows["member"], members), _places(rows["kit"], names)
        return pc.add(pc.multiply(member.cast(pa.int64()), len(names)), kit)

    of_row = pairs(inventory).dictionary_encode()
    once = of_row.dictionary.to_numpy()
    known = np.union1d(once, pairs(kit_list).to_numpy())
    member, name = np.divmod(known, max(1, len(names)))
    kit = np.searchsorted(known, once)[of_row.indices.to_numpy()]
    member_id = (member + 1).astype(np.int32)
    kits = {
        "kit_id": np.arange(1, len(known) + 1, dtype=np.int32),
        "member_id": member_id,
        "member": members.take(pa.array(member)),
        "kit": names.take(pa.array(name)),
        "lines": _lines(inventory, kit, len(known)),
        "is_pool": _is_pool(inventory, kit, len(known)),
    }
    for column, number in (("kit_id", kits["kit_id"]), ("member_id", member_id)):
        inventory = inventory.append_column(column, pa.array(number[kit]))
    numbers = np.arange(1, len(members) + 1, dtype=np.int32)
    return pa.table({"member_id": numbers, "member": members}), pa.table(kits), inventory


def _names(columns: Iterable[pa.ChunkedArray]) -> pa.StringArray:
    """Each text of some columns once, in order."""
    texts = [plain(column.combine_chunks().unique()).cast(pa.string()) for column in columns]
    names = pa.concat_arrays(texts).unique()
    return names.take(pc.array_sort_indices(names))


def _places(column: pa.ChunkedArray, names: pa.StringArray) -> pa.Array:
    """Where the text of each row stands among the names."""
    return plain(each(column.combine_chunks(), lambda texts: pc.index_in(texts.cast(pa.string()), names)))


def _lines(inventory: pa.Table, kit: npt.NDArray[np.int64], count: int) -> pa.ListArray:
    """The lines of each kit, in order."""
    line = inventory["line"].to_numpy().astype(np.int32)
    order = np.argsort((kit << 32) + line, kind="stable")
    ends = np.cumsum(np.bincount(kit, minlength=count), dtype=np.int32)
    return pa.ListArray.from_arrays(np.append(np.int32(0), ends), line[order])


def _is_pool(inventory: pa.Table, kit: npt.NDArray[np.int64], count: int) -> npt.NDArray[np.bool_]:
    is_there = ~_is(inventory["condition"], "removed")
    others = np.bincount(kit[is_there & ~_is(inventory["owner"], "club")], minlength=count)
    pool: npt.NDArray[np.bool_] = (np.bincount(kit[is_there], minlength=count) > 0) & (others == 0)
    return pool


def _is(column: pa.ChunkedArray, word: str) -> npt.NDArray[np.bool_]:
    """Whether each row has a word."""
    has = plain(each(column.combine_chunks(), lambda texts: pc.equal(texts.cast(pa.string()), word)))
    found: npt.NDArray[np.bool_] = has.fill_null(False).to_numpy(zero_copy_only=False)
    return found
