"""The mains comb against scipy's least squares of the full model, on invented records.

Independent route: scipy is given every sample, the right orders and a start beside the truth,
and minimises the sum of squares over f0, all amplitudes and phases, offset and slope at once.
In a white floor that is the maximum-likelihood answer; ours must lie within a fraction of its own
stated uncertainty of it, and state about the same uncertainty.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from calibration.simulate import amplitude_for, comb
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb

RATE_HZ = 4000.0
F0_HZ = 49.967
# ρ [dB] and phase at the centre [rad] of the orders that are there; all others are absent.
PRESENT = {1: (46.0, 0.4), 3: (36.0, -2.0), 5: (30.0, 1.1), 7: (26.0, 2.9)}
# Two estimates of one truth from one record differ by far less than either errs.
FRACTION = 1.0 / 3.0


def record(cycles: int, draw: int):
    """An invented record: comb, offset, slope and white floor of density 1 unit²/Hz."""
    rng = np.random.default_rng([cycles, draw])
    n = round(cycles * RATE_HZ / F0_HZ)
    duration = n / RATE_HZ
    amplitudes = {k: amplitude_for(rho, 1.0, duration) for k, (rho, _) in PRESENT.items()}
    x = comb(n, RATE_HZ, F0_HZ, amplitudes, {k: phase for k, (_, phase) in PRESENT.items()})
    drift = amplitudes[1] * (0.7 + 0.2 * np.linspace(-1.0, 1.0, n))
    return x + drift + np.sqrt(RATE_HZ / 2.0) * rng.standard_normal(n)


def by_scipy(x):
    """f0, amplitudes, phases; and their standard uncertainties from scipy's Jacobian."""
    n, orders = len(x), np.array(list(PRESENT))
    t = (np.arange(n) - (n - 1) / 2.0) / RATE_HZ
    duration, k = n / RATE_HZ, orders[:, None]

    def model(p):
        angle = 2.0 * np.pi * k * (F0_HZ + p[0] / duration) * t
        a, b = p[3 : 3 + len(orders)], p[3 + len(orders) :]
        return p[1] + p[2] * t / duration + a @ np.cos(angle) + b @ np.sin(angle)

    first = np.zeros(3 + 2 * len(orders))
    first[1] = x.mean()
    first[3:] = [a for part in (np.cos, np.sin) for a in projections(x, t, part)]
    scale = np.maximum(np.abs(first), 0.01 * x.std())
    scale[0] = 0.01
    done = least_squares(
        lambda p: model(p) - x, first, jac="3-point", x_scale=scale, xtol=1e-14, ftol=1e-14
    )
    variance = 2.0 * done.cost / (n - len(first))
    covariance = variance * np.linalg.inv(done.jac.T @ done.jac)
    z = done.x[3 : 3 + len(orders)] - 1j * done.x[3 + len(orders) :]
    u_z = np.sqrt(np.diag(covariance)[3 : 3 + len(orders)])
    return F0_HZ + done.x[0] / duration, np.sqrt(covariance[0, 0]) / duration, z, u_z


def projections(x, t, part):
    level = x - np.polyval(np.polyfit(t, x, 1), t)
    return [2.0 * np.mean(level * part(2.0 * np.pi * k * F0_HZ * t)) for k in PRESENT]


@pytest.mark.parametrize("cycles", [3, 10, 50])
@pytest.mark.parametrize("draw", range(4))
def test_same_answer_as_least_squares(cycles, draw):
    x = record(cycles, draw)
    f0, u_f0, z, u_z = by_scipy(x)
    ours = mains_comb(Channel("invented", x, "V"), RATE_HZ, mains=50.0)
    assert ours.present
    assert ours.frequency_hz.value == pytest.approx(f0, abs=FRACTION * u_f0)
    # Its floor is read beside each order, from few degrees of freedom in short records.
    assert 0.5 < ours.frequency_hz.u / u_f0 < 2.0
    lines = {line.order: line for line in ours.lines}
    for order, phasor, u in zip(PRESENT, z, u_z, strict=True):
        line = lines[order]
        assert line.detected
        assert np.sqrt(2.0) * line.rms.value == pytest.approx(abs(phasor), abs=FRACTION * u)
        off = np.angle(np.exp(1j * (line.phase_rad.value - np.angle(phasor))))
        assert abs(off) < FRACTION * u / abs(phasor)
        assert 0.4 < np.sqrt(2.0) * line.rms.u / u < 2.5
