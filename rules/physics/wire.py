"""Copper wire: geometry, resistance, voltage drop."""

import numpy as np

from rules.physics.quantity import Floats, Numbers, quantity

COPPER_OHM_MM2_PER_M = 0.017241
"""Annealed copper (100 % IACS) at 20 C. NBS Handbook 100; IEC 60028."""
COPPER_PER_K = 0.00393
"""Temperature coefficient of annealed copper at 20 C. IEC 60287-1-1 Table 1."""


def copper_temperature_ratio(to_c: Numbers, from_c: Numbers = 20.0) -> Floats:
    """Resistance of copper at `to_c` over its resistance at `from_c`; both in C, broadcast together.

    R(T) = R20 (1 + 0.00393 (T - 20)). Linear; good between -60 and 200 C.

    Source: IEC 60287-1-1 Table 1. Raises ValueError outside -60 to 200 C.
    """
    warm = quantity(to_c, "to_c", -60, 200)
    cold = quantity(from_c, "from_c", -60, 200)
    return np.asarray((1.0 + COPPER_PER_K * (warm - 20.0)) / (1.0 + COPPER_PER_K * (cold - 20.0)))[()]


def copper_resistance_ohm_per_m(
    area_mm2: Numbers, temperature_c: Numbers = 20.0, lay_factor: Numbers = 1.0
) -> Floats:
    """Direct-current resistance of one copper conductor in ohm/m.

    R = lay_factor x 0.017241 / A x (1 + 0.00393 (T - 20)).

    Parameters
    ----------
    area_mm2 : copper area, above 0
    temperature_c : conductor temperature, -60 to 200
    lay_factor : extra length of the strands, 1 to 1.2; 1 is a solid wire, and the stranded column of the
        wire table lies 1.018 to 1.026 above the solid one

    Notes
    -----
    Uncoated annealed copper at its full area. Flexible metric cable may lawfully be up to 16 % worse
    (IEC 60228 class 5 limits), tinned or copper-clad wire worse still.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Source: NBS Handbook 100 (resistivity); IEC 60287-1-1 Table 1 (coefficient).
    """
    area = quantity(area_mm2, "area_mm2", 0, above=True)
    lay = quantity(lay_factor, "lay_factor", 1, 1.2)
    return np.asarray(lay * COPPER_OHM_MM2_PER_M / area * copper_temperature_ratio(temperature_c))[()]


def lead_resistance_ohm(
    area_mm2: Numbers, length_m: Numbers, temperature_c: Numbers = 20.0, lay_factor: Numbers = 1.0
) -> Floats:
    """Resistance of a two-wire lead in ohm, there and back.

    `length_m` is one way, so 2 x length of copper carries the current.

    Raises ValueError if the length is negative or another argument is outside its range.

    Source: as copper_resistance_ohm_per_m.
    """
    length = quantity(length_m, "length_m", 0)
    return np.asarray(2.0 * length * copper_resistance_ohm_per_m(area_mm2, temperature_c, lay_factor))[()]


def voltage_drop_v(
    current_a: Numbers,
    area_mm2: Numbers,
    length_m: Numbers,
    temperature_c: Numbers = 20.0,
    lay_factor: Numbers = 1.0,
) -> Floats:
    """Voltage lost in a two-wire lead in V: I x R, there and back; `length_m` is one way.

    Contacts and fuse are not in it. Steady direct current; the wire is at `temperature_c` throughout.

    Raises ValueError if the current is negative or another argument is outside its range.

    Source: two-conductor drop as in the worked examples of NFPA 70; resistance as above.
    """
    current = quantity(current_a, "current_a", 0)
    return np.asarray(current * lead_resistance_ohm(area_mm2, length_m, temperature_c, lay_factor))[()]


def _look_up(awg: Floats, gauges: tuple[int, ...], amps: tuple[int, ...]) -> Floats:
    found = np.full(awg.shape, np.nan)
    for gauge, limit in zip(gauges, amps, strict=True):
        found = np.where(awg == gauge, float(limit), found)
    return found
