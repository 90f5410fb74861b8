"""Feed lines: loss, and what reaches the air."""

import numpy as np

from rules.physics.quantity import Floats, Numbers, quantity

HUNDRED_FEET_M = 30.48
DIPOLE_DBI = 2.15
"""Gain of a half-wave dipole over an isotropic radiator. NCVEC E9A12; 47 CFR 1.1307(b)(3)(i)(C)."""
_CONNECTOR_MHZ = np.array([30.0, 150.0, 450.0, 850.0])
_CONNECTOR_DB = np.array([0.02, 0.25, 0.5, 0.6])


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


def connector_loss_db(frequency_mhz: Numbers, connectors: Numbers = 1.0) -> Floats:
    """Planning allowance in dB for `connectors` coax connections.

    Straight lines between 0.02 dB at 30 MHz, 0.25 at 150, 0.5 at 450 and 0.6 at 850 MHz; held below 30 MHz,
    NaN above 850 MHz. A clean, tight connector loses far less; a poor one any amount.

    Raises ValueError if the frequency is not above 0 or the count negative.

    Source: land-mobile repeater training guide (150, 450, 850 MHz); mailing-list worst case (30 MHz).
    """
    frequency = quantity(frequency_mhz, "frequency_mhz", 0, above=True)
    each = np.interp(frequency, _CONNECTOR_MHZ, _CONNECTOR_DB, right=np.nan)
    return np.asarray(each * quantity(connectors, "connectors", 0))[()]


def power_at_antenna_w(power_w: Numbers, loss_db: Numbers) -> Floats:
    """Power in W left after `loss_db`: P x 10^(-loss / 10). Raises ValueError if either is negative.

    Source: definition of the decibel; NCVEC E9A02.
    """
    lost = quantity(loss_db, "loss_db", 0)
    return np.asarray(quantity(power_w, "power_w", 0) * 10.0 ** (-lost / 10.0))[()]


def share_lost(loss_db: Numbers) -> Floats:
    """Share of the power (0 to 1) that `loss_db` turns into heat. Source: NCVEC G5B10."""
    return np.asarray(1.0 - power_at_antenna_w(1.0, loss_db))[()]


def power_change_db(before_w: Numbers, after_w: Numbers) -> Floats:
    """Change of power in dB, positive for more: 10 log10(after / before). Both above 0.

    Source: NCVEC T5B09.
    """
    before = quantity(before_w, "before_w", 0, above=True)
    return np.asarray(10.0 * np.log10(quantity(after_w, "after_w", 0, above=True) / before))[()]


def swr_of_resistance(line_ohm: Numbers, load_ohm: Numbers) -> Floats:
    """Standing-wave ratio of a purely resistive load: the larger resistance over the smaller. Both above 0.

    Source: NCVEC G9A09.
    """
    line = quantity(line_ohm, "line_ohm", 0, above=True)
    load = quantity(load_ohm, "load_ohm", 0, above=True)
    return np.asarray(np.maximum(line, load) / np.minimum(line, load))[()]


def erp_w(power_w: Numbers, gain_dbd: Numbers, loss_db: Numbers) -> Floats:
    """Effective radiated power in W, against a half-wave dipole; gain in dBd, all losses in `loss_db`.

    Source: NCVEC E9A02, E9A06.
    """
    return np.asarray(power_at_antenna_w(power_w, loss_db) * 10.0 ** (quantity(gain_dbd, "gain_dbd") / 10.0))[
        ()
    ]


def eirp_w(power_w: Numbers, gain_dbi: Numbers, loss_db: Numbers) -> Floats:
    """Effective radiated power in W, against an isotropic radiator; gain in dBi, all losses in `loss_db`.

    Source: NCVEC E9A07.
    """
    return np.asarray(power_at_antenna_w(power_w, loss_db) * 10.0 ** (quantity(gain_dbi, "gain_dbi") / 10.0))[
        ()
    ]


def dbi_from_dbd(gain_dbd: Numbers) -> Floats:
    """Gain over isotropic in dBi from gain over a dipole in dBd: + 2.15. Source: NCVEC E9A12."""
    return np.asarray(quantity(gain_dbd, "gain_dbd") + DIPOLE_DBI)[()]


def dbd_from_dbi(gain_dbi: Numbers) -> Floats:
    """Gain over a dipole in dBd from gain over isotropic in dBi: - 2.15. Source: NCVEC E9A12."""
    return np.asarray(quantity(gain_dbi, "gain_dbi") - DIPOLE_DBI)[()]
