"""Rates of the catalogue against the reference values of repetitive sources."""

from __future__ import annotations

from dataclasses import replace

import pytest
from external.published import Group

from straypath.contents.families.beside import beside_mains
from straypath.contents.families.catalogue import catalogue
from straypath.contents.families.machines import brush_ripple_hz, commutation_hz, slip_of
from straypath.uncertainty import from_normal


def rates(name, unit=1.0):
    return [rate / unit for rate in catalogue()[name].rates_hz]


def rate(name, unit=1.0):
    (only,) = rates(name, unit)
    return only


def bands(name, unit=1.0):
    return [[low / unit, high / unit] for low, high in catalogue()[name].bands_hz]


def band(name, unit=1.0):
    (only,) = bands(name, unit)
    return only


def spans_ms(name):
    low, high = band(name)
    return [1e3 / high, 1e3 / low]


def link_pulse(entry):
    low, high = spans_ms("ethernet-link-pulse")
    middle = (low + high) / 2
    return [middle, [low, high], 1e3 / middle]


def fast_link_pulse(entry):
    source = catalogue()["ethernet-fast-link-pulse"]
    spacing_s = 1.0 / source.rates_hz[0]
    return [1e6 * spacing_s, source.pulses, 1e3 * (source.pulses - 1) * spacing_s]


def raster(entry):
    nine, ten = rates("medium-wave-9k", 1e3), rates("medium-wave-10k", 1e3)
    return [nine[1] - nine[0], nine[0], nine[-1], len(nine), ten[1] - ten[0], ten[0], ten[-1]]


def time_signals(entry):
    """The entry holds five digits of 66 2/3 kHz: ours is rounded to them."""
    names = ("60k", "77k5", "40k", "68k5", "66k7")
    return [round(rate(f"time-signal-{name}", 1e3), 3) for name in names]


def contactless(entry):
    source = catalogue()["contactless-card"]
    centre = source.rates_hz[0] / 1e6
    return [centre, centre * (1 - source.tolerance), centre * (1 + source.tolerance)]


def ism(entry):
    return [[(low + high) / 2, (high - low) / 2] for low, high in bands("ism-band", 1e6)]


def refresh(entry):
    """The rate in the catalogue next to each that is asked for."""
    known = rates("display-refresh") + rates("display-refresh-1001")
    return [min(known, key=lambda r: abs(r - wanted)) for wanted in entry.expected["value"]]


def pauses(entry):
    return [rate("phone-multiframe"), *rates("phone-pauses"), rate("phone-frame")]


def line_rates(entry):
    return [rate("line-rate-625"), rate("line-rate-525"), *rates("line-rate-digital")]


def converters(entry):
    return [band(name, 1e3) for name in ("mains-adapter", "bridge-converter", "board-converter")]


COMMON = {
    "GSM": rate("phone-frame"),
    "DECT": rate("cordless-frame"),
    "USB_FS": rate("usb-frame"),
    "USB_HS": rate("usb-microframe"),
    "BT": rate("bluetooth-slot"),
    "beacon": rate("wifi-beacon"),
    "NTSC_frame": rates("display-refresh-1001")[2],
    "disp60": 60.0,
    "NLP": 62.5,
}


def coincidences(entry):
    def at(hz, nominal):
        found = beside_mains(from_normal(hz, 1e-6), from_normal(nominal, 0.0), 100.0)
        return [found.order, found.distance_hz]

    return [at(COMMON[name], nominal) for name in entry.expected["value"] for nominal in (50, 60)]


def held(entry):
    """Return the entry in a form that `check` compares: nested tables flat, bands to all digits."""
    if entry.tolerance["kind"] == "range":
        return replace(entry, tolerance={"kind": "rel", "value": 1e-9})
    if entry.id == "S4-coincide":
        pairs = [by[nominal] for by in entry.expected["value"].values() for nominal in ("50", "60")]
        return replace(entry, expected={"value": pairs})
    return entry


CHECKS = {
    "S4-usb-fs": lambda entry: [rate("usb-frame"), catalogue()["usb-frame"].tolerance],
    "S4-usb-hs": lambda entry: rate("usb-microframe"),
    "S4-gsm": lambda entry: rate("phone-frame"),
    "S4-gsm-slot": lambda entry: 1e3 * catalogue()["phone-frame"].pulse_s,
    "S4-gsm-dtx": pauses,
    "S4-ripple-control": lambda entry: rates("ripple-control"),
    "S4-dect": lambda entry: [rate("cordless-frame"), 1e3 * catalogue()["cordless-frame"].pulse_s],
    "S4-lte": lambda entry: rates("lte-frame"),
    "S4-wifi": lambda entry: [1e3 / rate("wifi-beacon"), rate("wifi-beacon")],
    "S4-bt": lambda entry: [1e6 * catalogue()["bluetooth-slot"].pulse_s, rate("bluetooth-slot")],
    "S4-ble": lambda entry: [
        1e3 * catalogue()["bluetooth-le-connection"].step_s,
        spans_ms("bluetooth-le-connection"),
        spans_ms("bluetooth-le-advertising"),
    ],
    "S4-eth-nlp": link_pulse,
    "S4-eth-flp": fast_link_pulse,
    "S4-eth-100": lambda entry: rates("ethernet-100", 1e6),
    "S4-am": raster,
    "S4-time": time_signals,
    "S4-nfc": contactless,
    "S4-rfid-lf": lambda entry: rates("low-frequency-tag", 1e3),
    "S4-ism": ism,
    "S4-smps": converters,
    "S4-burst": lambda entry: band("charger-bursts", 1e3),
    "S4-cfl": lambda entry: band("lamp-ballast", 1e3),
    "S4-hob": lambda entry: band("induction-hob", 1e3),
    "S4-led": lambda entry: [band("lamp-pulses", 1e3), band("backlight-pulses", 1e3)],
    "S4-qi": lambda entry: band("inductive-charging", 1e3),
    "S4-vfd": lambda entry: band("motor-drive", 1e3),
    "S4-refresh": refresh,
    "S4-hsync": line_rates,
    "S4-hdmi": lambda entry: rates("pixel-clock", 1e6),
    "S4-bldc": lambda entry: commutation_hz(*entry.given("rpm", "pole_pairs")),
    "S4-brush": lambda entry: brush_ripple_hz(*entry.given("rpm", "bars")),
    "S4-slip": lambda entry: slip_of(*entry.given("rpm"), 50.0, 2),
    "S4-coincide": coincidences,
}
RECEIVER = "bands, bandwidths and time constants of a measuring receiver, not of a source"
NOT_OURS = {"S4-cispr-bands": RECEIVER, "S4-cispr-rbw": RECEIVER, "S4-cispr-qp": RECEIVER}
GROUP = Group("sources", CHECKS, NOT_OURS)


@pytest.mark.parametrize(("check", "entry"), GROUP.parameters)
def test_reference(check, entry):
    held(entry).check(check(entry))


def test_every_entry_is_answered():
    GROUP.assert_covered()


def test_memory_is_admitted_where_the_reference_admits_it():
    """Entries that are from memory there must be flagged here."""
    named = {
        "S4-lte": "lte-frame",
        "S4-ble": "bluetooth-le-connection",
        "S4-eth-100": "ethernet-100",
        "S4-rfid-lf": "low-frequency-tag",
        "S4-qi": "inductive-charging",
        "S4-refresh": "display-refresh",
        "S4-hsync": "line-rate-625",
        "S4-hdmi": "pixel-clock",
    }
    for entry in GROUP.entries:
        if entry.id in named:
            assert entry.status == "published, from memory"
            assert catalogue()[named[entry.id]].from_memory


def test_an_even_number_of_bars_does_not_double():
    assert brush_ripple_hz(6000.0, 6) == 600.0
