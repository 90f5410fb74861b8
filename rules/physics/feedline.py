"""Feed lines: loss, and what reaches the air."""

import numpy as np

from rules.physics.quantity import Floats, Numbers, quantity

HUNDRED_FEET_M = 30.48


def matched_loss_db(k1: Numbers, k2: Numbers, frequency_mhz: Numbers, length_m: Numbers) -> Floats:
    """Loss in dB of a matched line: (k1 sqrt(f) + k2 f) per 100 ft.

    k1 is conductor loss and k2 dielectric loss, both in dB per 100 ft with f in MHz. New, dry cable at
    20 C; age and water add to it. Fits the printed tables within about 0.5 dB per 100 m from 1 MHz to 1 GHz.

    Raises ValueError if an argument is negative or the frequency not above 0.

    Source: two-term matched-loss model of open RF calculators.
    """
    frequency = quantity(frequency_mhz, "frequency_mhz", 0, above=True)
    per_100_ft = quantity(k1, "k1", 0) * np.sqrt(frequency) + quantity(k2, "k2", 0) * frequency
    return np.asarray(per_100_ft * quantity(length_m, "length_m", 0) / HUNDRED_FEET_M)[()]


def loss_with_swr_db(matched_db: Numbers, swr: Numbers) -> Floats:
    """Loss in dB of a line whose load, at the antenna, makes standing-wave ratio `swr`.

    rho = (S - 1) / (S + 1), a = 10^(ML / 10), loss = 10 log10((a^2 - rho^2) / (a (1 - rho^2))).
    The ratio is that at the antenna; measured at the radio it looks better than it is. Averaged over the
    line's length, which is good unless the line is much shorter than a wavelength.

    Raises ValueError if the matched loss is negative or the ratio below 1.

    Source: mismatched-line loss formula of the amateur handbooks.
    """
    ratio = quantity(swr, "swr", 1)
    rho2 = ((ratio - 1.0) / (ratio + 1.0)) ** 2
    a = 10.0 ** (quantity(matched_db, "matched_db", 0) / 10.0)
    return np.asarray(10.0 * np.log10((a**2 - rho2) / (a * (1.0 - rho2))))[()]


def power_at_antenna_w(power_w: Numbers, loss_db: Numbers) -> Floats:
    """Power in W left after `loss_db`: P x 10^(-loss / 10). Raises ValueError if either is negative.

    Source: definition of the decibel; NCVEC E9A02.
    """
    lost = quantity(loss_db, "loss_db", 0)
    return np.asarray(quantity(power_w, "power_w", 0) * 10.0 ** (-lost / 10.0))[()]


def eirp_w(power_w: Numbers, gain_dbi: Numbers, loss_db: Numbers) -> Floats:
    """Effective radiated power in W, against an isotropic radiator; gain in dBi, all losses in `loss_db`.

    Source: NCVEC E9A07.
    """
    return np.asarray(power_at_antenna_w(power_w, loss_db) * 10.0 ** (quantity(gain_dbi, "gain_dbi") / 10.0))[
        ()
    ]
