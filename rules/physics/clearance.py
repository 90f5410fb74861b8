"""How far a mast must stand from people and power lines."""

import numpy as np

from rules.physics.quantity import Floats, Numbers, quantity

FOOT_M = 0.3048
FALL_MARGIN_M = 10 * FOOT_M
"""No part of a falling antenna may come within 10 ft of a power line. NCVEC T0B06."""
_UP_TO_KV = np.array([50, 200, 350, 500, 750, 1000], dtype=np.float64)
_CLEARANCE_FT = np.array([10, 15, 20, 25, 35, 45], dtype=np.float64)


def fall_zone_m(mast_m: Numbers, antenna_m: Numbers = 0.0) -> Floats:
    """Least distance in m from the foot of a mast to a power line: mast + antenna above it + 10 ft.

    Flat ground, the mast pivots about its foot. Raises ValueError if a height is negative.

    Source: NCVEC T0B06 (the 10 ft); the height is added because a mast may fall any way.
    """
    height = quantity(mast_m, "mast_m", 0) + quantity(antenna_m, "antenna_m", 0)
    return np.asarray(height + FALL_MARGIN_M)[()]


def power_line_clearance_m(line_kv: Numbers) -> Floats:
    """Least clearance in m between equipment and a live line of `line_kv` (kilovolts).

    Returns NaN above 1000 kV: the utility sets it. Above 350 kV 29 CFR 1926.1409 presumes 50 ft instead
    of the table, which is stricter; a club that does not know the voltage keeps well beyond either.

    Raises ValueError if the voltage is not above 0.

    Source: 29 CFR 1926.1408 Table A.
    """
    kilovolts = quantity(line_kv, "line_kv", 0, above=True)
    row = np.searchsorted(_UP_TO_KV, kilovolts)
    known = (row < _UP_TO_KV.size) & ~np.isnan(kilovolts)
    feet = _CLEARANCE_FT[np.minimum(row, _UP_TO_KV.size - 1)]
    return np.where(known, feet * FOOT_M, np.nan)[()]
