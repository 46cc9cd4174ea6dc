"""How much of a narrow band is what bursts ring at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

if TYPE_CHECKING:
    from straypath.capture.capture import Channel
    from straypath.contents.records import Bursts

# So many bursts tell the spectrum of all of them.
MOST_LOOKED_AT = 50
# A burst is read so many widths to either side of its middle, so much at most.
WIDTHS, LONGEST = 1.0, 1 << 16
# The band reaches so many half-power widths to either side.
REACH = 2.0


def energy_in_band(
    channel: Channel, rate_hz: float, bursts: Bursts, middle_hz: float, width_hz: float
) -> float:
    """Return the energy that the bursts have in a band [unit² s].

    Σ E_i·|X_i(f)|² in the band/|X_i(f)|² in all, X_i the spectrum of the stretch around burst i.

    Parameters
    ----------
    channel : Channel
    rate_hz : float
        [Hz].
    bursts : Bursts
        Of this channel.
    middle_hz, width_hz : float
        Of the band [Hz].

    Validity: hum and steady lines under the bursts count as power outside the band.
    """
    chosen = sorted(bursts.found, key=lambda burst: -burst.energy)[:MOST_LOOKED_AT]
    within = total = 0.0
    for burst in chosen:
        half = min(LONGEST / 2, max(WIDTHS * burst.width_s * rate_hz, 4.0))
        middle = burst.time_s * rate_hz
        start, stop = max(0, int(middle - half)), min(len(channel), int(middle + half) + 1)
        part = channel.values(start, stop)
        power = np.abs(fft.rfft(part - part.mean())) ** 2
        f = fft.rfftfreq(len(part), 1.0 / rate_hz)
        reach = max(REACH * width_hz, rate_hz / len(part))
        band = np.abs(f - middle_hz) <= reach
        within += burst.energy * float(power[band].sum() / max(power.sum(), 1e-300))
        total += burst.energy
    everything = sum(burst.energy for burst in bursts.found)
    everything *= bursts.count / max(1, len(bursts.found))
    return within / total * everything if total > 0.0 else 0.0
