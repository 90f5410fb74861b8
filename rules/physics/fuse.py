"""Blade fuses: which size, and how hard it is worked."""

import numpy as np

from rules.physics.quantity import Floats, Numbers, quantity

BLADE_A = np.array([1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 40], dtype=np.float64)
"""Ratings of regular blade fuses in A. Encyclopaedic automotive-fuse table (ISO 8820-3 type C, SAE J1284)."""
CONTINUOUS_SHARE = 0.8
"""Share of its rating that a fuse may carry for hours: 1 / 1.25. NFPA 70 210.20(A)."""


def smallest_standard_blade_a(load_a: Numbers, margin: Numbers = 1.25) -> Floats:
    """Smallest regular blade fuse in A that carries `load_a` x `margin`.

    Returns NaN above 40 A: no regular blade is that large. Margin 1.25 loads a fuse to 80 %; 4/3 to 75 %.

    Raises ValueError if the load is negative or the margin below 1.

    Source: NFPA 70 210.20(A) (1.25 for loads of three hours or more); ratings as BLADE_A.
    """
    need = quantity(load_a, "load_a", 0) * quantity(margin, "margin", 1)
    # A load such as 12 x 1.25 must not miss its fuse by a rounding error of the product.
    place = np.searchsorted(BLADE_A, need * (1.0 - 1e-12))
    known = (place < BLADE_A.size) & ~np.isnan(need)
    return np.where(known, BLADE_A[np.minimum(place, BLADE_A.size - 1)], np.nan)[()]


def fuse_window(load_a: Numbers, ampacity_a: Numbers, margin: Numbers = 1.25) -> tuple[Floats, Floats]:
    """Lowest and highest fuse rating in A that both carry the load and protect the wire.

    Low is load x margin, high is what the wire may carry. Low above high: no fuse is right, use thicker wire.

    Raises ValueError if the load or ampacity is negative or the margin below 1.

    Source: NFPA 70 210.20(A) (low) and 240.4 (high).
    """
    low = quantity(load_a, "load_a", 0) * quantity(margin, "margin", 1)
    low, high = np.broadcast_arrays(low, quantity(ampacity_a, "ampacity_a", 0))
    return low[()], high[()]


def loading_share(load_a: Numbers, fuse_a: Numbers) -> Floats:
    """Load as a share of the fuse rating (1); above CONTINUOUS_SHARE it should not last for hours.

    Raises ValueError if the load is negative or the fuse not above 0.

    Source: NFPA 70 210.20(A).
    """
    return np.asarray(quantity(load_a, "load_a", 0) / quantity(fuse_a, "fuse_a", 0, above=True))[()]
