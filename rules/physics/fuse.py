"""Fuses: from which rating to which one suits its load and its wire."""

import numpy as np

from rules.physics.quantity import Floats, Numbers, quantity


def fuse_window(load_a: Numbers, ampacity_a: Numbers, margin: Numbers = 1.25) -> tuple[Floats, Floats]:
    """Lowest and highest fuse rating in A that both carry the load and protect the wire.

    Low is load x margin, high is what the wire may carry. Low above high: no fuse is right, use thicker wire.

    Raises ValueError if the load or ampacity is negative or the margin below 1.

    Source: NFPA 70 210.20(A) (low) and 240.4 (high).
    """
    low = quantity(load_a, "load_a", 0) * quantity(margin, "margin", 1)
    low, high = np.broadcast_arrays(low, quantity(ampacity_a, "ampacity_a", 0))
    return low[()], high[()]
