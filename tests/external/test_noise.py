"""Noise, noise budgets and converters against the reference values."""

from __future__ import annotations

import numpy as np
import pytest
from external.published import Group
from scipy.integrate import quad

from straypath.errors import InputError
from straypath.physics import converter, noise
from straypath.physics.noise_budget import amplifier_budget, floor_budget


def johnson(entry):
    resistance, temperature, bands = entry.given("R", "T", "B")
    return noise.johnson_rms(resistance, bands, temperature_k=temperature)


def johnson_of_a_rounded_constant(entry):
    """The print uses k = 1.38e-23 J/K at 300 K; the same k·T with the exact k."""
    temperature = 300.0 * 1.38e-23 / noise.BOLTZMANN_J_PER_K
    return noise.johnson_rms(*entry.given("R", "B"), temperature_k=temperature)


def rc_limit(entry):
    resistance, capacitance = entry.given("R", "C")
    band = noise.noise_bandwidth_hz(noise.corner_hz(resistance, capacitance))
    return [band, noise.johnson_rms(resistance, band)]


def sloped(entry):
    rms = noise.sloped_rms(*entry.given("en", "fc"), 0.1, 10.0)
    return [rms, 6.6 * rms]


GAIN = 101.0


def budget(**given):
    inputs = {
        "source_ohm": 10e3,
        "ground_ohm": 1e3,
        "feedback_ohm": 100e3,
        "voltage_noise": 4e-9,
        "current_noise": 2.2e-15,
        "temperature_k": 300.0,
    }
    return amplifier_budget(**(inputs | given))


def amplifier(entry):
    names = ("R1", "R2", "RS", "en", "in", "T", "f3dB")
    r1, r2, rs, en, current, temperature, corner = entry.given(*names)
    made = budget(
        source_ohm=rs,
        ground_ohm=r1,
        feedback_ohm=r2,
        voltage_noise=en,
        current_noise=current,
        temperature_k=temperature,
    )
    rms = made.total * np.sqrt(noise.noise_bandwidth_hz(corner))
    return [made.total, rms, 6.6 * rms, made.total / (1.0 + r2 / r1)]


def cascade(kind, count):
    def ratio(entry):
        return noise.noise_bandwidth_hz(1.0, poles=entry.given(count)[0], kind=kind)

    return ratio


CHECKS = {
    "S5-jn-[0-9]*": johnson,
    "S5-jn-pub": johnson_of_a_rounded_constant,
    "S5-ktc-*": lambda entry: noise.ktc_rms(*entry.given("C")),
    "S5-rc-limit": rc_limit,
    "S5-delta12": lambda entry: converter.quantisation_rms(*entry.given("LSB")),
    "S5-snr-*": lambda entry: converter.ideal_snr_db(*entry.given("bits")),
    "S5-oversample": lambda entry: converter.oversampling_gain_db(*entry.given("ratio")),
    "S5-onef-ex": sloped,
    "S5-avg": lambda entry: 1.0 / noise.averaged_rms(1.0, *entry.given("n")),
    "S5-enbw-cas-*": cascade("cascade", "poles"),
    "S5-enbw-bw-*": cascade("butterworth", "order"),
    "S5-pp-[0-9]*": lambda entry: noise.share_outside(*entry.given("factor")),
    "S5-pp-N": lambda entry: noise.mean_peak_to_peak([100, 1_000, 10_000]),
    "S5-budget": amplifier,
    "S5-budget-parts": lambda entry: [part.density**2 for part in budget().parts],
    "S5-dbm": lambda entry: noise.thermal_dbm_per_hz(),
    "S7-jit-1*": lambda entry: converter.jitter_snr_db(*entry.given("tj", "f")),
    "S7-jit-trap": lambda entry: [
        converter.jitter_snr_db(10e-12, 10e6, over=over) for over in ("sine", "span")
    ],
    "S7-clock": lambda entry: 1e3 * converter.clock_error_hz(50.0, 25.0),
}
GROUP = Group("noise", CHECKS, {})


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


@pytest.mark.parametrize("kind", ["cascade", "butterworth"])
@pytest.mark.parametrize("poles", [1, 2, 5])
def test_noise_bandwidth_against_quadrature(kind, poles):
    """Independent: the response integrated by scipy."""

    def power(f):
        if kind == "butterworth":
            return 1.0 / (1.0 + f ** (2 * poles))
        return (1.0 + (2.0 ** (1.0 / poles) - 1.0) * f * f) ** -poles

    area = quad(power, 0.0, np.inf)[0]
    assert noise.noise_bandwidth_hz(1.0, poles=poles, kind=kind) == pytest.approx(area, rel=1e-7)


def test_rounding_against_draws():
    """Independent: numpy rounds a noisy record; the error's spectrum by scipy's transform."""
    rng, rate, step = np.random.default_rng(3), 10e3, 0.25
    record = rng.normal(0.0, 1.0, 1 << 18)
    error = step * np.round(record / step) - record
    assert np.std(error) == pytest.approx(float(converter.quantisation_rms(step)), rel=0.01)
    power = 2.0 * np.abs(np.fft.rfft(error)) ** 2 / (rate * error.size)
    expected = float(converter.quantisation_density(step, rate))
    halves = np.sqrt([np.mean(half) for half in np.array_split(power[1:], 2)])
    assert halves == pytest.approx([expected, expected], rel=0.02)
    assert converter.step_of(5.0, 8) == 5.0 / 256


def test_floor_integrates_to_ktc():
    """Independent: equipartition. Whatever the resistances, C holds kT/C and no more."""
    capacitance = 30e-12

    for source in (50e3, 1e6, np.inf):
        corner = float(noise.corner_hz(1.0 / (1.0 / source + 1e-6), capacitance))

        def power(angle, source=source, corner=corner):
            f = corner * np.tan(angle)
            made = floor_budget(f, source_ohm=source, input_ohm=1e6, input_f=capacitance)
            return float(made.total) ** 2 * corner / np.cos(angle) ** 2

        whole = quad(power, 0.0, np.pi / 2)[0]
        assert np.sqrt(whole) == pytest.approx(float(noise.ktc_rms(capacitance)), rel=1e-7)


def test_floor_names_its_parts():
    """Independent: each part by hand at one frequency."""
    f, rs, c, step, rate = 1e4, 1e5, 1e-10, 1e-3, 2e4
    made = floor_budget(
        [f], source_ohm=rs, input_f=c, step=step, rate_hz=rate, voltage_noise=5e-9,
        current_noise=1e-12, temperature_k=290.0,
    )  # fmt: skip
    z = 1.0 / (1.0 / rs + 2j * np.pi * f * c)
    expected = {
        "source and input resistance": np.sqrt(4 * 1.380649e-23 * 290.0 * z.real),
        "amplifier current": 1e-12 * abs(z),
        "amplifier voltage": 5e-9,
        "converter": step / np.sqrt(12.0) / np.sqrt(rate / 2.0),
    }
    assert {part.name: float(part.density[0]) for part in made.parts} == pytest.approx(expected)
    whole = np.sqrt(sum(e**2 for e in expected.values()))
    assert made.total == pytest.approx([whole])
    assert made.times(3.1 * whole) == pytest.approx([3.1])
    assert sum(made.share(name) for name in expected) == pytest.approx([1.0])
    assert made.assumptions[0] == "Source and input at 290 K."
    assert floor_budget([f], span=5.0, bits=12, rate_hz=rate).total == pytest.approx(
        5.0 / 4096 / np.sqrt(6 * rate)
    )
    assert floor_budget([f], source_ohm=0.0, input_ohm=1e6).total == 0.0
    # An open input holds no resistance: all of the current's noise falls on C.
    opened = floor_budget([f], source_ohm=np.inf, input_f=c, current_noise=1e-12)
    assert opened.total == pytest.approx([1e-12 / (2 * np.pi * f * c)])


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({}, "nothing to make a noise budget from"),
        ({"step": 1e-3}, "needs the rate"),
        ({"source_ohm": np.inf}, "no noise density"),
    ],
)
def test_a_budget_without_facts_is_refused(given, says):
    with pytest.raises(InputError, match=says):
        floor_budget([50.0], **given)
