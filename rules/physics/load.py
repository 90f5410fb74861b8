"""Direct-current load of a station."""

import numpy as np

from rules.physics.quantity import Floats, Numbers, quantity


def average_current_a(
    amps_tx: Numbers,
    amps_rx: Numbers,
    amps_idle: Numbers,
    tx_share: Numbers,
    rx_share: Numbers,
    idle_share: Numbers,
) -> Floats:
    """Average current in A over a duty cycle; all arguments broadcast.

    I = tx_share x amps_tx + rx_share x amps_rx + idle_share x amps_idle.

    Parameters
    ----------
    amps_tx, amps_rx, amps_idle : current while transmitting, while receiving, and squelched, 0 or more
    tx_share, rx_share, idle_share : shares of time, 0 to 1, together 1

    Raises
    ------
    ValueError
        If a share is outside 0 to 1, the shares do not add up to 1, or a current is negative.

    Source: NCVEC T4A09.
    """
    tx, rx, idle = (
        quantity(share, name, 0, 1)
        for share, name in ((tx_share, "tx_share"), (rx_share, "rx_share"), (idle_share, "idle_share"))
    )
    total = np.asarray(tx + rx + idle)
    off = np.abs(total - 1.0) > 1e-6
    if np.any(off):
        raise ValueError(
            f"tx_share + rx_share + idle_share: {total[off].flat[0]:g} is not 1. Make them add up."
        )
    return np.asarray(
        tx * quantity(amps_tx, "amps_tx", 0)
        + rx * quantity(amps_rx, "amps_rx", 0)
        + idle * quantity(amps_idle, "amps_idle", 0)
    )[()]
