"""How far a mast must stand from power lines."""

import numpy as np

from rules.physics.quantity import Floats, Numbers, quantity

FOOT_M = 0.3048
FALL_MARGIN_M = 10 * FOOT_M
"""No part of a falling antenna may come within 10 ft of a power line. NCVEC T0B06."""


def fall_zone_m(mast_m: Numbers, antenna_m: Numbers = 0.0) -> Floats:
    """Least distance in m from the foot of a mast to a power line: mast + antenna above it + 10 ft.

    Flat ground, the mast pivots about its foot. Raises ValueError if a height is negative.

    Source: NCVEC T0B06 (the 10 ft); the height is added because a mast may fall any way.
    """
    height = quantity(mast_m, "mast_m", 0) + quantity(antenna_m, "antenna_m", 0)
    return np.asarray(height + FALL_MARGIN_M)[()]
