"""Several radios of one kit that have the bands of a post between them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

TRIED = 64
"""Ways to share the bands of a post among the radios of a kit that are looked at; on each band the radios that suit best."""


@dataclass(frozen=True)
class Team:
    """Radios that are on at once; None stands for what is not known.

    Attributes
    ----------
    seats : what they must have stations for at once: every choice of one band for each radio, of those that are its own there
    is_mode : whether each does a mode of the post, and all together do all of them
    is_strong : whether each has the power of the post
    rf_watts : of the weakest, W
    amps_tx : of all of them, A
    """

    item_ids: tuple[int, ...]
    seats: list[tuple[str, ...]]
    is_mode: bool | None
    is_strong: bool | None
    rf_watts: float | None
    amps_tx: float


def teams(
    bands: Sequence[str], modes: Sequence[str] | None, radios: Sequence[Mapping[str, Any]]
) -> Iterator[Team]:
    """Every team of a kit's radios that has the bands of a post, in its modes (any, if None).

    Parameters
    ----------
    radios : item_id, on_bands (of the post, where it can stand on a station), does (modes of the post), is_told (whether its
        modes are), is_strong, rf_watts, amps_tx
    """
    best_first = sorted(
        radios, key=lambda radio: (radio["is_strong"] is False, -len(radio["does"]), radio["amps_tx"] or 0.0)
    )
    most = int(TRIED ** (1 / len(bands)) + 1e-9)
    for chosen in product(*([one for one in best_first if band in one["on_bands"]][:most] for band in bands)):
        of = {radio["item_id"]: radio for radio in chosen}
        if len(of) == 1:
            continue
        does = [set(radio["does"]) for radio in of.values()]
        is_mode = modes is None or (all(does) and set(modes) <= set().union(*does))
        watts = [radio["rf_watts"] for radio in of.values() if radio["rf_watts"] is not None]
        has = (
            [band for band, one in zip(bands, chosen, strict=True) if one is radio] for radio in of.values()
        )
        yield Team(
            item_ids=tuple(of),
            seats=list(product(*has)),
            is_mode=is_mode or (False if all(radio["is_told"] for radio in of.values()) else None),
            is_strong=_every(radio["is_strong"] for radio in of.values()),
            rf_watts=min(watts, default=None),
            amps_tx=sum(radio["amps_tx"] or 0.0 for radio in of.values()),
        )


def suits(is_band: bool | None, is_mode: bool | None, is_strong: bool | None) -> tuple[int, bool]:
    """How well a radio or a team suits a post, more is better: as `at_post.AT_POST` has it, then whether it may have the bands."""
    is_fit = _every((is_band, is_mode))
    if is_fit is False:
        rank = 0
    elif is_strong is False:
        rank = 2 if is_fit else 1
    else:
        rank = 4 if is_fit and is_strong else 3
    return rank, is_band is not False


def _every(answers: Iterable[bool | None]) -> bool | None:
    """Whether all are so: False where one is not, else None where one is not known."""
    told = set(answers)
    return False if False in told else None if None in told else True
