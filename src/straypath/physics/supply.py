"""What standards say about the mains: nominal systems, frequency, harmonic voltages and currents.

Tables are frozen and carry their source. A limit is not a typical level: where a standard says
nothing about an order, the functions refuse instead of guessing.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from straypath.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

VoltageStandard = Literal["EN 50160", "IEC 61000-2-2"]
Region = Literal["Continental Europe", "Nordic", "Great Britain", "Ireland"]


@dataclass(frozen=True)
class LowVoltageSystem:
    """A nominal supply system.

    Parameters
    ----------
    label : str
        As the standard prints it.
    frequency_hz : float
        [Hz].
    to_neutral_v, between_lines_v : float or None
        Nominal rms voltages [V]; None where the system has no neutral.
    """

    label: str
    frequency_hz: float
    to_neutral_v: float | None
    between_lines_v: float


# IEC 60038:2009, table 1.
LOW_VOLTAGE_SYSTEMS = (
    LowVoltageSystem("230/400", 50.0, 230.0, 400.0),
    LowVoltageSystem("400/690", 50.0, 400.0, 690.0),
    LowVoltageSystem("1000 (3-wire)", 50.0, None, 1000.0),
    LowVoltageSystem("120/208", 60.0, 120.0, 208.0),
    LowVoltageSystem("240 (3-wire)", 60.0, None, 240.0),
    LowVoltageSystem("230/400", 60.0, 230.0, 400.0),
    LowVoltageSystem("277/480", 60.0, 277.0, 480.0),
    LowVoltageSystem("480 (3-wire)", 60.0, None, 480.0),
    LowVoltageSystem("347/600", 60.0, 347.0, 600.0),
    LowVoltageSystem("600 (3-wire)", 60.0, None, 600.0),
    LowVoltageSystem("120/240 single-phase 3-wire", 60.0, 120.0, 240.0),
)

# IEC 60038:2009: at the supply terminals, under normal operating conditions.
VOLTAGE_TOLERANCE = 0.10


@dataclass(frozen=True)
class RegionalSupply:
    """Nominal frequency [Hz] and range of nominal single-phase voltages [V] of a region."""

    frequency_hz: float
    voltage_v: tuple[float, float]


# From memory, after lists of countries.
REGIONS: Mapping[str, RegionalSupply] = MappingProxyType(
    {
        "Europe, UK, most of Asia, Africa, Australia": RegionalSupply(50.0, (220.0, 240.0)),
        "USA, Canada, Mexico, Taiwan, north of South America": RegionalSupply(60.0, (110.0, 127.0)),
        "Japan east (Tokyo)": RegionalSupply(50.0, (100.0, 100.0)),
        "Japan west (Osaka)": RegionalSupply(60.0, (100.0, 100.0)),
        "Brazil": RegionalSupply(60.0, (127.0, 220.0)),
        "Korea, Philippines, Saudi Arabia": RegionalSupply(60.0, (220.0, 230.0)),
    }
)


def voltage_band_v(nominal_v: float) -> tuple[float, float]:
    """Return lowest and highest voltage at the supply terminals [V]: nominal ± 10 %.

    Parameters
    ----------
    nominal_v : float
        [V].

    References
    ----------
    IEC 60038:2009.
    """
    return nominal_v * (1.0 - VOLTAGE_TOLERANCE), nominal_v * (1.0 + VOLTAGE_TOLERANCE)


# ── frequency ────────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class FrequencyBand:
    """A band [Hz] in which 10 s means of the frequency stay for a share of a period."""

    low_hz: float
    high_hz: float
    share: float
    period: Literal["week", "year"]


# EN 50160, power frequency, for a nominal 50 Hz. The period of the 100 % bands is our reading.
EN50160_SYNCHRONOUS = (
    FrequencyBand(49.5, 50.5, 0.995, "year"),
    FrequencyBand(47.0, 52.0, 1.0, "year"),
)
EN50160_ISLAND = (
    FrequencyBand(49.0, 51.0, 0.95, "week"),
    FrequencyBand(42.5, 57.5, 1.0, "week"),
)

# IEC 61000-4-30, class A: ranges in which the frequency is to be measured, and how well.
MEASURED_RANGE_HZ: Mapping[float, tuple[float, float]] = MappingProxyType(
    {50.0: (42.5, 57.5), 60.0: (51.0, 69.0)}
)
CLASS_A_FREQUENCY_UNCERTAINTY_HZ = 0.010

# IEC 60850 / EN 50163: 16.7 Hz is the agreed name of the older 16 2/3 Hz. Nets with a regulation
# of their own really run at 16.7 Hz.
RAILWAY_HZ = 16.7
RAILWAY_OLD_HZ = 50.0 / 3.0

# MIL-STD-704, constant-frequency aircraft supply, steady state; from memory.
AIRCRAFT_HZ = 400.0
AIRCRAFT_BAND_HZ = (393.0, 407.0)

# Commission Regulation (EU) 2017/1485, annex III, table 1: standard frequency range, ± Hz.
STANDARD_RANGE_HZ: Mapping[str, float] = MappingProxyType(
    {"Continental Europe": 0.050, "Nordic": 0.100, "Great Britain": 0.200, "Ireland": 0.200}
)

# Same regulation, annex V, Continental Europe: where frequency control may begin to act, and
# where its reserve is fully used, ± Hz.
CONTROL_INSENSITIVITY_HZ = 0.010
CONTROL_FULL_HZ = 0.200

# NERC BAL-001: target for the rms of one-minute mean errors. A target, not a measurement.
TARGET_RMS_HZ: Mapping[str, float] = MappingProxyType(
    {"Eastern": 0.0180, "Western": 0.0228, "Texas": 0.030, "Quebec": 0.021}
)

# Measured standard deviations: Rydin Gorjão et al., Nature Communications 11, 2020; Schäfer et
# al., Nature Energy 3, 2018; the numbers from memory, good to a factor of 1.5.
TYPICAL_STD_HZ: Mapping[str, float] = MappingProxyType(
    {"Continental Europe": 0.020, "Nordic": 0.040, "Great Britain": 0.065}
)


@dataclass(frozen=True)
class Drift:
    """How fast the mains frequency moves: lowest and highest usual rate [Hz/s]."""

    low_hz_per_s: float
    high_hz_per_s: float


# Common practice, no source; good to a factor of three.
DRIFTS = (
    Drift(0.0005, 0.005),  # quiet, from second to second
    Drift(0.0002, 0.001),  # ramp at the top of the hour
    Drift(0.020, 0.100),  # large loss of generation
)


# ── harmonic voltages ────────────────────────────────────────────────────────────────────────

# EN 50160:2010, low voltage, ratio to the fundamental: 10-minute means, 95 % of a week.
# Later amendments raise orders 15 and 21 (from memory: to 1.0 % and 0.75 %).
_EN50160_ODD = MappingProxyType(
    {3: 0.05, 5: 0.06, 7: 0.05, 9: 0.015, 11: 0.035, 13: 0.03, 15: 0.005, 17: 0.02, 19: 0.015}
    | {21: 0.005, 23: 0.015, 25: 0.015}
)

# IEC 61000-2-2:2002, table 1, ratio to the fundamental. Orders 15 and 21 from memory; the
# formulas for higher orders depend on the edition.
_IEC2_2_FIXED = MappingProxyType(
    {2: 0.02, 3: 0.05, 4: 0.01, 5: 0.06, 6: 0.005, 7: 0.05, 8: 0.005, 9: 0.015, 11: 0.035}
    | {13: 0.03, 15: 0.004, 21: 0.003}
)

# EN 50160:2010 (to order 40) and IEC 61000-2-2:2002 alike.
TOTAL_DISTORTION_LIMIT = 0.08


def harmonic_voltage_limit(order: int, standard: VoltageStandard = "IEC 61000-2-2") -> float:
    """Return the highest harmonic voltage that a public low-voltage supply should show.

    IEC 61000-2-2 gives compatibility levels: fixed values up to order 15, then
    2.27 %·17/h − 0.27 % for odd orders that are no multiple of three, 0.25 %·10/h + 0.25 % for
    even ones, 0.2 % for odd multiples of three above 21. EN 50160 gives a table.

    Parameters
    ----------
    order : int
        Harmonic order h, from 2.
    standard : {"IEC 61000-2-2", "EN 50160"}

    Returns
    -------
    float
        Rms over the fundamental's rms.

    Raises
    ------
    InputError
        Beyond the standard: orders above 50 (IEC 61000-2-2) or above 25 (EN 50160).

    Examples
    --------
    >>> harmonic_voltage_limit(5)
    0.06

    References
    ----------
    IEC 61000-2-2:2002, table 1; EN 50160:2010, table of harmonic voltages.
    """
    last = 25 if standard == "EN 50160" else 50
    if not 2 <= order <= last:
        raise _beyond(standard, order, 2, last)
    if standard == "EN 50160":
        return _EN50160_ODD[order] if order % 2 else {2: 0.02, 4: 0.01}.get(order, 0.005)
    if order in _IEC2_2_FIXED:
        return _IEC2_2_FIXED[order]
    if order % 2 == 0:
        return 0.0025 * 10.0 / order + 0.0025
    return 0.002 if order % 3 == 0 else 0.0227 * 17.0 / order - 0.0027


@dataclass(frozen=True)
class VoltageDistortionLimit:
    """Limits of one voltage class: up to this voltage [V], single orders, total (ratios)."""

    up_to_v: float
    individual: float
    total: float


# IEEE Std 519-2014 and 519-2022, table 1.
IEEE519_VOLTAGE = (
    VoltageDistortionLimit(1e3, 0.05, 0.08),
    VoltageDistortionLimit(69e3, 0.03, 0.05),
    VoltageDistortionLimit(161e3, 0.015, 0.025),
    VoltageDistortionLimit(float("inf"), 0.01, 0.015),
)


def ieee519_voltage_limit(bus_v: float) -> VoltageDistortionLimit:
    """Return the harmonic voltage limits at a point of common coupling.

    Parameters
    ----------
    bus_v : float
        Nominal rms voltage between lines [V].

    References
    ----------
    IEEE Std 519-2014 and 519-2022, table 1.
    """
    return next(row for row in IEEE519_VOLTAGE if bus_v <= row.up_to_v)


# ── harmonic currents ────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class CurrentDistortionLimit:
    """One row: short-circuit ratio below this; limits by band of orders; total demand (ratios)."""

    below_ratio: float
    bands: tuple[float, ...]
    total_demand: float


# IEEE Std 519-2014 and 519-2022, table 2, 120 V to 69 kV, ratio to the maximum demand current.
IEEE519_BANDS_END = (10, 16, 22, 34, 50)
IEEE519_CURRENT = (
    CurrentDistortionLimit(20.0, (0.04, 0.02, 0.015, 0.006, 0.003), 0.05),
    CurrentDistortionLimit(50.0, (0.07, 0.035, 0.025, 0.01, 0.005), 0.08),
    CurrentDistortionLimit(100.0, (0.10, 0.045, 0.04, 0.015, 0.007), 0.12),
    CurrentDistortionLimit(1000.0, (0.12, 0.055, 0.05, 0.02, 0.01), 0.15),
    CurrentDistortionLimit(float("inf"), (0.15, 0.07, 0.06, 0.025, 0.014), 0.20),
)


def ieee519_current_limit(order: int, short_circuit_ratio: float) -> float:
    """Return the limit of one odd harmonic of a customer's current, over the demand current.

    Parameters
    ----------
    order : int
        Odd, 3 … 49. Even orders are limited further, differently in each edition: refused.
    short_circuit_ratio : float
        Short-circuit current over maximum demand current.

    Raises
    ------
    InputError
        For orders that the table does not cover.

    References
    ----------
    IEEE Std 519-2014 and 519-2022, table 2 (120 V to 69 kV).
    """
    if not 3 <= order <= 50 or order % 2 == 0:
        raise _beyond("IEEE 519 (odd orders)", order, 3, 49)
    row = next(row for row in IEEE519_CURRENT if short_circuit_ratio < row.below_ratio)
    band = next(i for i, last in enumerate(IEEE519_BANDS_END) if order <= last)
    return row.bands[band]


# IEC 61000-3-2, table 1 [A].
_CLASS_A = MappingProxyType(
    {2: 1.08, 3: 2.30, 4: 0.43, 5: 1.14, 6: 0.30, 7: 0.77, 9: 0.40, 11: 0.33, 13: 0.21}
)


def class_a_current_limit_a(order: int) -> float:
    """Return the largest harmonic current of class A equipment [A].

    A table up to order 13; then 0.15 A·15/h for odd and, from 8, 0.23 A·8/h for even orders.

    Parameters
    ----------
    order : int
        2 … 40.

    Raises
    ------
    InputError
        Beyond order 40.

    Notes
    -----
    Valid for equipment up to 16 A per phase on 220/380 V to 240/415 V; absolute, whatever the
    load's own current.

    References
    ----------
    IEC 61000-3-2, table 1.
    """
    if not 2 <= order <= 40:
        raise _beyond("IEC 61000-3-2 class A", order, 2, 40)
    if order in _CLASS_A:
        return _CLASS_A[order]
    return 0.15 * 15.0 / order if order % 2 else 0.23 * 8.0 / order


def _beyond(standard: str, order: int, first: int, last: int) -> InputError:
    return InputError(
        f"{standard} gives no limit for order {order}",
        advice=f"Ask for orders {first} to {last}.",
    )
