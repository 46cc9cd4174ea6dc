"""Supply standards: tables and formulas against the reference values."""

from __future__ import annotations

import numpy as np
import pytest
from external.published import Group

from straypath.contents.bounds import longest_coherent_s, window_gain
from straypath.errors import InputError
from straypath.physics import supply


def percent_of(standard):
    def limit(entry):
        return 100.0 * supply.harmonic_voltage_limit(entry.given("order")[0], standard)

    return limit


def labels_at(frequency_hz):
    def labels(entry):
        return [s.label for s in supply.LOW_VOLTAGE_SYSTEMS if s.frequency_hz == frequency_hz]

    return labels


def regions(entry):
    return {
        name: {"f": row.frequency_hz, "U": row.voltage_v} for name, row in supply.REGIONS.items()
    }


def bands(table):
    return lambda entry: [edge for band in table for edge in (band.low_hz, band.high_hz)]


def ieee519_voltage(entry):
    rows = [supply.ieee519_voltage_limit(v) for v in (1e3, 13.8e3, 115e3, 230e3)]
    return [[100.0 * row.individual, 100.0 * row.total] for row in rows]


def ieee519_current(entry):
    inside = (3, 11, 17, 23, 35)
    return [
        [100.0 * supply.ieee519_current_limit(order, ratio) for order in inside]
        + [100.0 * row.total_demand]
        for ratio, row in zip((10, 20, 50, 100, 1000), supply.IEEE519_CURRENT, strict=True)
    ]


def class_a(entry):
    return [supply.class_a_current_limit_a(h) for h in (2, 3, 4, 5, 6, 7, 9, 11, 13, 15)]


def off_tune(entry):
    """Bins 400 and 401 of a 200 ms window at order 40 of 50.1 Hz, and three bins together."""
    beside = 40 * entry.given("f0")[0] * 0.2 - np.array([400, 401, 399])
    gain = np.abs(window_gain(beside))
    return [gain[0], gain[1], np.sqrt(np.sum(gain**2))]


def class_a_frequency(entry):
    (low_50, high_50), (low_60, high_60) = (supply.MEASURED_RANGE_HZ[f] for f in (50.0, 60.0))
    return [supply.CLASS_A_FREQUENCY_UNCERTAINTY_HZ, low_50, high_50, low_60, high_60]


def railway(entry):
    return [supply.RAILWAY_HZ, supply.RAILWAY_OLD_HZ, 3 * supply.RAILWAY_HZ]


def millihertz(table):
    return lambda entry: [1e3 * value for value in table.values()]


def drifts(entry):
    return [[1e3 * d.low_hz_per_s, 1e3 * d.high_hz_per_s] for d in supply.DRIFTS]


def control(entry):
    return [1e3 * supply.CONTROL_INSENSITIVITY_HZ, 1e3 * supply.CONTROL_FULL_HZ]


def distortion(entry):
    return 100.0 * supply.TOTAL_DISTORTION_LIMIT


CHECKS = {
    "S2-iec60038-50": labels_at(50.0),
    "S2-iec60038-60": labels_at(60.0),
    "S2-iec60038-tol": lambda entry: supply.voltage_band_v(*entry.given("U")),
    "S2-regions": regions,
    "S2-en50160-f-sync": bands(supply.EN50160_SYNCHRONOUS),
    "S2-en50160-f-island": bands(supply.EN50160_ISLAND),
    "S2-en50160-h*": percent_of("EN 50160"),
    "S2-en50160-thd": distortion,
    "S2-iec2-h*": percent_of("IEC 61000-2-2"),
    "S2-iec2-thd": distortion,
    "S2-iec4-7-unsync": off_tune,
    "S2-iec4-30-u": class_a_frequency,
    "S2-ieee519-v": ieee519_voltage,
    "S2-ieee519-i": ieee519_current,
    "S2-iec3-2-A": class_a,
    "S2-rail": railway,
    "S2-air400": lambda entry: [supply.AIRCRAFT_HZ, *supply.AIRCRAFT_BAND_HZ],
    "S2-grid-std-na": millihertz(supply.TARGET_RMS_HZ),
    "S2-grid-range-eu": millihertz(supply.STANDARD_RANGE_HZ),
    "S2-grid-std-eu": millihertz(supply.TYPICAL_STD_HZ),
    "S2-grid-fcr": control,
    "S2-grid-slew": drifts,
    "S2-drift-T-*": lambda entry: longest_coherent_s(*entry.given("drift", "order")),
}
BINS = "bins and groups of a synchronised transform: the comb is fitted, not binned"
NOT_OURS = {
    "S2-iec4-7-window": BINS,
    "S2-iec4-7-sg": BINS,
    "S2-iec4-7-am": BINS,
    "S2-iec4-7-group": BINS,
    "S2-iec4-30-f": "frequency by counted cycles: ours is a fit over all orders",
    "S2-grid-coincidence": "a mains order against a fixed clock: comes with the line families",
}
GROUP = Group("supply_standard", CHECKS, NOT_OURS)


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    entry.check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


@pytest.mark.parametrize(
    ("limit", "orders"),
    [
        (lambda order: supply.harmonic_voltage_limit(order, "EN 50160"), (1, 26)),
        (supply.harmonic_voltage_limit, (0, 51)),
        (lambda order: supply.ieee519_current_limit(order, 10.0), (1, 4, 51)),
        (supply.class_a_current_limit_a, (1, 41)),
    ],
)
def test_what_a_standard_does_not_say_is_refused(limit, orders):
    for order in orders:
        with pytest.raises(InputError, match=r"gives no limit.*Ask for orders"):
            limit(order)


def test_formulas_hold_where_the_tables_end():
    """From memory: IEC 61000-2-2 at 27, 49 and 50; IEC 61000-3-2 at 39 and 40."""
    levels = [100 * supply.harmonic_voltage_limit(h) for h in (27, 49, 50)]
    assert levels == pytest.approx([0.2, 2.27 * 17 / 49 - 0.27, 0.3])
    assert supply.class_a_current_limit_a(39) == pytest.approx(0.15 * 15 / 39)
    assert supply.class_a_current_limit_a(40) == pytest.approx(0.046)
