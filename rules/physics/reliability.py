"""Will enough of them work? Independent parts, each with its own chance of working."""

import numpy as np

from rules.physics.quantity import Floats, Numbers, quantity


def series(works_share: Numbers) -> Floats:
    """Chance that all parts work: product over the last axis of `works_share` (0 to 1).

    Independent parts. NaN in a part gives NaN. Raises ValueError outside 0 to 1.

    Source: NIST/SEMATECH e-Handbook 8.1.8.2; MIL-HDBK-338B section 5.
    """
    return np.asarray(np.prod(quantity(works_share, "works_share", 0, 1), axis=-1))[()]


def parallel(works_share: Numbers) -> Floats:
    """Chance that at least one part works: 1 - product of the chances to fail, over the last axis.

    Independent parts, all running, any one enough. Raises ValueError outside 0 to 1.

    Source: NIST/SEMATECH e-Handbook 8.1.8.3.
    """
    return np.asarray(1.0 - np.prod(1.0 - quantity(works_share, "works_share", 0, 1), axis=-1))[()]


def k_of_n(works_share: Numbers, k: int) -> Floats:
    """Chance that at least `k` of the parts on the last axis of `works_share` work; parts may differ.

    The chance of exactly j working is built up part by part, which for equal parts is the binomial sum
    over C(n, i) R^i (1 - R)^(n - i).

    Parameters
    ----------
    works_share : shape (..., n), 0 to 1
    k : 0 to n

    Raises
    ------
    ValueError
        If a share is outside 0 to 1 or k is outside 0 to n.

    Source: NIST/SEMATECH e-Handbook 8.1.8.4.
    """
    parts = quantity(works_share, "works_share", 0, 1)
    n = parts.shape[-1]
    if not 0 <= k <= n:
        raise ValueError(f"k: {k} is out of range for {n} parts. Give 0 to {n}.")
    exactly = np.zeros((*parts.shape[:-1], n + 1))
    exactly[..., 0] = 1.0
    for part in range(n):
        chance = parts[..., part, np.newaxis]
        shifted = np.concatenate([np.zeros_like(exactly[..., :1]), exactly[..., :-1]], axis=-1)
        exactly = exactly * (1.0 - chance) + shifted * chance
    return np.asarray(exactly[..., k:].sum(axis=-1))[()]


def exponential_survival(time_h: Numbers, mtbf_h: Numbers) -> Floats:
    """Chance that a part with a constant failure rate still works after `time_h`: exp(-t / MTBF).

    Raises ValueError if the time is negative or the mean time between failures not above 0.

    Source: NIST/SEMATECH e-Handbook 8.1.6.1; MIL-HDBK-338B section 5.
    """
    return np.asarray(np.exp(-quantity(time_h, "time_h", 0) / quantity(mtbf_h, "mtbf_h", 0, above=True)))[()]
