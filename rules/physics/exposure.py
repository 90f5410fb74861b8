"""Radio-frequency exposure: limits, average power, distance to keep."""

import numpy as np

from rules.physics.quantity import Floats, Names, Numbers, one_of, quantity

TIERS = ("controlled", "uncontrolled")
"""Controlled: people who know and can leave (occupational). Uncontrolled: everybody else."""
GROUND_REFLECTION = 2.56
"""Power factor of a field 1.6 times as strong over ground. OET Bulletin 65 eq. 7."""
LIGHT_M_MHZ = 299.792458
_WINDOW_MIN = np.array([6.0, 30.0])
_LOW_MHZ, _HIGH_MHZ = 0.3, 100_000.0


def mpe_power_density_mw_cm2(frequency_mhz: Numbers, tier: Names) -> Floats:
    """Largest permitted plane-wave power density in mW/cm2; frequency and tier broadcast.

    Controlled: 100 to 3 MHz, 900/f^2 to 30, 1 to 300, f/300 to 1500, 5 above.
    Uncontrolled: 100 to 1.34 MHz, 180/f^2 to 30, 0.2 to 300, f/1500 to 1500, 1 above.
    At a band edge the lower band's row is used; the rows meet there except at 1.34 MHz.

    Parameters
    ----------
    frequency_mhz : 0.3 to 100,000
    tier : "controlled" or "uncontrolled"

    Raises
    ------
    ValueError
        If the frequency is outside the table or the tier unknown.

    Source: 47 CFR 1.1310(e)(1) Table 1.
    """
    f = quantity(frequency_mhz, "frequency_mhz", _LOW_MHZ, _HIGH_MHZ)
    controlled = np.select(
        [f <= 3, f <= 30, f <= 300, f <= 1500, f > 1500],
        [np.full(f.shape, 100.0), 900.0 / f**2, np.full(f.shape, 1.0), f / 300.0, np.full(f.shape, 5.0)],
        np.nan,
    )
    uncontrolled = np.select(
        [f <= 1.34, f <= 30, f <= 300, f <= 1500, f > 1500],
        [np.full(f.shape, 100.0), 180.0 / f**2, np.full(f.shape, 0.2), f / 1500.0, np.full(f.shape, 1.0)],
        np.nan,
    )
    return np.where(one_of(tier, "tier", TIERS) == 0, controlled, uncontrolled)[()]


def averaging_minutes(tier: Names) -> Floats:
    """Minutes over which exposure is averaged: 6 controlled, 30 uncontrolled.

    Source: 47 CFR 1.1310(e)(1) Table 1. Raises ValueError if the tier is unknown.
    """
    return np.asarray(_WINDOW_MIN[one_of(tier, "tier", TIERS)])[()]


def average_power_w(
    peak_w: Numbers, mode_factor: Numbers, on_min: Numbers, period_min: Numbers, tier: Names
) -> Floats:
    """Average power in W over the worst averaging window of a repeating transmission.

    The radio is keyed `on_min` of every `period_min`. A window of W minutes that opens with the key-down
    holds whole periods and one cut-off one: on = n x on_min + min(on_min, W - n x period).
    P = peak x mode_factor x on / W.

    Parameters
    ----------
    peak_w : peak envelope power, 0 or more
    mode_factor : average over peak while keyed, 0 to 1 (OET Bulletin 65 Supplement B Table 2)
    on_min, period_min : keyed time and cycle time, 0 <= on_min <= period_min
    tier : sets the window, 6 or 30 min

    Raises
    ------
    ValueError
        If an argument is outside its range or on_min is longer than period_min.

    Source: FCC OET Bulletin 65 Supplement B (97-01) pp. 13-14.
    """
    on, period = quantity(on_min, "on_min", 0), quantity(period_min, "period_min", 0, above=True)
    if np.any(on > period):
        raise ValueError("on_min: longer than period_min. Give the keyed part of one period.")
    window = averaging_minutes(tier)
    whole = np.floor(window / period)
    keyed = whole * on + np.minimum(on, window - whole * period)
    return np.asarray(
        quantity(peak_w, "peak_w", 0) * quantity(mode_factor, "mode_factor", 0, 1) * keyed / window
    )[()]


def safe_distance_m(
    eirp_average_w: Numbers, frequency_mhz: Numbers, tier: Names, ground_factor: Numbers = GROUND_REFLECTION
) -> Floats:
    """Distance in m beyond which the power density is within the limit, in the main beam.

    R = sqrt(ground_factor x EIRP / (4 pi S)), S the limit in W/m2.

    Parameters
    ----------
    eirp_average_w : time-averaged, 0 or more
    ground_factor : 1 free space, 2.56 ground reflection (OET 65 eq. 7), 4 full reflection (eq. 6)

    Notes
    -----
    Far field. Nearer than lambda / (2 pi), and close to a large antenna, it is only a guide. Within 0.2 m
    of the body the absorption limit applies instead.

    Raises
    ------
    ValueError
        If the power is negative, the factor is outside 1 to 4, or frequency or tier are not in the table.

    Source: FCC OET Bulletin 65 (97-01) eq. 3 to 7; 47 CFR 1.1310(e)(1) Table 1.
    """
    limit_w_m2 = 10.0 * mpe_power_density_mw_cm2(frequency_mhz, tier)
    reflected = quantity(ground_factor, "ground_factor", 1, 4) * quantity(eirp_average_w, "eirp_average_w", 0)
    return np.asarray(np.sqrt(reflected / (4.0 * np.pi * limit_w_m2)))[()]


def exemption_floor_m(frequency_mhz: Numbers) -> Floats:
    """Least distance in m at which the exemption table may be used: lambda / (2 pi).

    Source: 47 CFR 1.1307(b)(3)(i)(C). Raises ValueError outside 0.3 to 100,000 MHz.
    """
    frequency = quantity(frequency_mhz, "frequency_mhz", _LOW_MHZ, _HIGH_MHZ)
    return np.asarray(LIGHT_M_MHZ / frequency / (2.0 * np.pi))[()]


def _exemption_w_per_m2(frequency_mhz: Numbers) -> Floats:
    f = quantity(frequency_mhz, "frequency_mhz", _LOW_MHZ, _HIGH_MHZ)
    return np.select(
        [f <= 1.34, f <= 30, f <= 300, f <= 1500, f > 1500],
        [np.full(f.shape, 1920.0), 3450.0 / f**2, np.full(f.shape, 3.83), 0.0128 * f, np.full(f.shape, 19.2)],
        np.nan,
    )
