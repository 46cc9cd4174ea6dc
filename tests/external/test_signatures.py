"""What loads make of the mains, order by order, against the reference values."""

from __future__ import annotations

import numpy as np
import pytest
from external.published import Group

from straypath.physics import noise, waveforms

ODD = np.array([1, 3, 5, 7, 9, 11])
SCREEN = "arithmetic of a screen, checked as such in test_trade_arithmetic"


def even_order(shape):
    return lambda entry: abs(shape(2 * entry.given("k")[0]))


def dimmed(entry):
    return np.abs(waveforms.dimmer(ODD, np.radians(*entry.given("alpha"))))


def dimmer_distortion(entry):
    """Rms over the line's, and what is not fundamental over the fundamental."""
    rms = waveforms.dimmer_rms(np.pi / 2)
    first = abs(waveforms.dimmer(1, np.pi / 2))
    return [rms, np.sqrt(rms**2 / first**2 - 1.0)]


def pulses(entry):
    width = np.radians(entry.given("width")[0])
    return waveforms.capacitor_input([3, 5, 7, 9, 11, 13], width)


SUMMED = 200_000


def summed_twelve_pulse():
    """Σ 1/n² over n = 12k ± 1, k up to 200,000: where the entry's sum for twelve pulses ends."""
    k = 12.0 * np.arange(1, SUMMED + 1)
    return np.sum((k - 1.0) ** -2 + (k + 1.0) ** -2)


def distortions(entry):
    """The entry's second value is a sum that was cut short; see the test of what it leaves out."""
    six, two = (waveforms.bridge_distortion(p) for p in (6, 2))
    return [six, np.sqrt(summed_twelve_pulse()), two]


def lamp(entry):
    """The lowest order that a rectified wave has, times the mains frequency."""
    lowest = next(n for n in range(1, 9) if abs(waveforms.full_wave(n)) > 0)
    return [lowest * f0 for f0 in (50.0, 60.0)]


def path(corner_hz):
    def weight(entry):
        order = entry.given("order")[0]
        return waveforms.path_weight(order, 50.0, differentiates_below_hz=corner_hz)

    return weight


def electric_against_magnetic(entry):
    weight = waveforms.path_weight([3, 5, 7], 50.0)
    return [weight * [0.03, 0.04, 0.03], weight * [0.81, 0.606, 0.37]]


def rounded(entry):
    """The entry multiplies percentages rounded to whole numbers: 81, 61 and 37."""
    voltage, current = electric_against_magnetic(entry)
    return [voltage, np.where(np.arange(3) == 1, 5 * 0.606, current)]


CHECKS = {
    "S3-fw-[0-9]*": even_order(waveforms.full_wave),
    "S3-fw-ratio": lambda entry: abs(waveforms.full_wave(4) / waveforms.full_wave(2)),
    "S3-hw-dc": lambda entry: np.abs(waveforms.half_wave([0, 1])),
    "S3-hw-[0-9]*": even_order(waveforms.half_wave),
    "S3-hw-ripple": lambda entry: waveforms.HALF_WAVE_RIPPLE_FACTOR,
    "S3-ripple-cap": lambda entry: waveforms.reservoir_ripple(*entry.given("I", "f0", "C")),
    "S3-dim-30": dimmed,
    "S3-dim-60": dimmed,
    "S3-dim-90": dimmed,
    "S3-dim-1[25]0": dimmed,
    "S3-dim-90-closed": lambda entry: np.abs(waveforms.dimmer([1, 3, 5, 7], np.pi / 2)),
    "S3-dim-90-rms": dimmer_distortion,
    "S3-sixpulse-orders": lambda entry: waveforms.bridge_current(*entry.given("orders")),
    "S3-sixpulse-thd": distortions,
    "S3-sixpulse-dc": lambda entry: waveforms.bridge_ripple([6, 12]),
    "S3-sixpulse-i1": lambda entry: waveforms.SIX_PULSE_FUNDAMENTAL,
    "S3-cappulse-[34]*": pulses,
    "S3-cappulse-60": pulses,
    "S3-cappulse-90": pulses,
    "S3-cappulse-60-thd": lambda entry: waveforms.capacitor_input_distortion(np.pi / 3),
    "S3-smps-published": lambda entry: list(waveforms.COMPUTER_SUPPLY_CURRENT.values()),
    "S3-flicker": lamp,
    "S3-weight-E": path(np.inf),
    "S3-weight-E-corner": lambda entry: noise.corner_hz([10e6, 1e6], [15e-12, 20e-12]),
    "S3-weight-H": path(np.inf),
    "S3-weight-R": path(0.0),
    "S3-sep-E-H": rounded,
}
NOT_OURS = {
    "S3-magnetising": "a handbook's range, from memory; nothing here computes it",
    "S3-pickup-E-ex": "a divider: comes with the network of the forward model",
    **{f"S3-div10-{what}": SCREEN for what in ("16.67", "50", "60", "100", "120", "360", "cycles")},
}
GROUP = Group("signatures", CHECKS, NOT_OURS)


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


THETA = 2.0 * np.pi * np.arange(1 << 16) / (1 << 16)


def transformed(wave, orders):
    """Phasors of a sampled period by numpy's transform."""
    bins = np.fft.rfft(wave)[list(orders)] / len(wave)
    return np.where(np.array(orders) == 0, bins, 2.0 * bins)


LINE = np.sin(THETA)
ORDERS = range(16)


def cut(alpha, edge):
    into = THETA % np.pi
    return LINE * (into > alpha if edge == "leading" else into < np.pi - alpha)


@pytest.mark.parametrize(
    ("shape", "wave"),
    [
        (waveforms.full_wave, np.abs(LINE)),
        (waveforms.half_wave, np.maximum(LINE, 0.0)),
        (lambda n: waveforms.dimmer(n, 1.1), cut(1.1, "leading")),
        (lambda n: waveforms.dimmer(n, 1.1, "trailing"), cut(1.1, "trailing")),
    ],
    ids=["full wave", "half wave", "dimmer, leading", "dimmer, trailing"],
)
def test_shapes_against_a_transform(shape, wave):
    """Independent: the wave itself, sampled; with phase."""
    assert shape(np.arange(16)) == pytest.approx(transformed(wave, ORDERS), abs=1e-4)


@pytest.mark.parametrize("width", [0.6, np.pi / 3, 1.4])
def test_pulses_against_a_transform(width):
    """Independent: half cosines on both crests, sampled; with sign, about the crest."""
    # Here phase runs from a crest, so that the phasors are real.
    crest = np.floor(THETA / np.pi + 0.5)
    about = THETA - np.pi * crest
    pulse = np.where(np.abs(about) < width / 2, np.cos(np.pi * about / width), 0.0)
    wave = pulse * np.where(crest % 2 == 0, 1.0, -1.0)
    seen = transformed(wave, range(1, 14))
    assert np.abs(seen.imag).max() < 1e-3
    assert waveforms.capacitor_input(np.arange(1, 14), width) == pytest.approx(
        seen.real / seen.real[0], abs=1e-3
    )
    distortion = np.sqrt(2 * np.mean(wave**2) / abs(seen[0]) ** 2 - 1.0)
    assert waveforms.capacitor_input_distortion(width) == pytest.approx(distortion, rel=1e-3)


def test_bridges_against_a_transform():
    """Independent: the six-step current of one line, the crests of six sines, a sawtooth."""
    stepped = np.sign(np.cos(THETA)) * (np.abs(np.cos(THETA)) > 0.5)
    seen = np.abs(transformed(stepped, range(1, 20)))
    expected = waveforms.bridge_current(np.arange(1, 20))
    assert seen / seen[0] == pytest.approx(expected, abs=2e-3)
    assert seen[0] / np.sqrt(2) == pytest.approx(waveforms.SIX_PULSE_FUNDAMENTAL, rel=1e-3)
    crests = np.max([np.cos(THETA - k * np.pi / 3) for k in range(6)], axis=0)
    ripple = np.abs(transformed(crests, range(2, 30))) / np.mean(crests)
    assert waveforms.bridge_ripple(np.arange(2, 30)) == pytest.approx(ripple, abs=1e-6)
    saw = (THETA / np.pi) % 1.0
    sawn = np.abs(transformed(saw, range(1, 12)))
    assert waveforms.reservoir_orders(np.arange(1, 12)) == pytest.approx(sawn, abs=1e-4)


def test_twelve_pulses_with_the_rest_of_the_sum():
    """Independent: the sum, and 2/(144·K) for all terms beyond K."""
    whole = summed_twelve_pulse() + 2.0 / (144.0 * (SUMMED + 0.5))
    assert waveforms.bridge_distortion(12) == pytest.approx(np.sqrt(whole), rel=1e-10)


def test_edges_differ_by_phase_alone():
    """Independent: the note of the dimmer entries, orders from 3 on."""
    alpha, n = 0.7, np.arange(3, 20, 2)
    lead, trail = waveforms.dimmer(n, alpha), waveforms.dimmer(n, alpha, "trailing")
    assert np.abs(lead) == pytest.approx(np.abs(trail))
    assert np.abs(lead) == pytest.approx(np.abs(waveforms.dimmer(n, np.pi - alpha)))
    assert np.abs(np.angle(lead / trail)).max() > 0.5


def test_weight_turns_flat_at_the_corner():
    """Independent: into one pole at f_c, order n weighs |j·n·x/(1 + j·n·x)| over the first."""
    n, x = np.array([1, 2, 7, 40]), 50.0 / 1061.0
    passed = np.abs(1j * n * x / (1 + 1j * n * x))
    weight = waveforms.path_weight(n, 50.0, differentiates_below_hz=1061.0)
    assert weight == pytest.approx(passed / passed[0])
