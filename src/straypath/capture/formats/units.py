"""Units as people write them in headers, and the SI unit and factor behind each."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from straypath.errors import InputError
from straypath.units import PREFIXES

if TYPE_CHECKING:
    from collections.abc import Mapping

# What people write for micro when µ is not at hand, and for kilo when they shout.
_PREFIXES: Mapping[str, float] = {**PREFIXES, "u": 1e-6, "\u03bc": 1e-6, "K": 1e3}

# Symbols that take a prefix.
_SYMBOLS: Mapping[str, str] = {
    **{s: s for s in "VAFHWTNCSJgms"},
    "\u2126": "Ω",
    "Ω": "Ω",
    "Ohm": "Ω",
    "ohm": "Ω",
    "Hz": "Hz",
    "Pa": "Pa",
    "bar": "bar",
    "lx": "lx",
    "lm": "lm",
    "mol": "mol",
    "Gal": "Gal",
    "Wb": "Wb",
    "eV": "eV",
    "l": "L",
    "VA": "VA",
    "S/s": "Hz",
    "Sa/s": "Hz",
    "SPS": "Hz",
    "sps": "Hz",
    "sec": "s",
    "V/m": "V/m",
    "A/m": "A/m",
    "m/s": "m/s",
    "m/s²": "m/s²",
    "m/s2": "m/s²",
    "Vrms": "V",
    "Arms": "A",
}

# Units that stand alone: (unit, factor).
_WHOLE: Mapping[str, tuple[str, float]] = {
    "°C": ("°C", 1.0),
    "degC": ("°C", 1.0),
    "K": ("K", 1.0),
    "%": ("%", 1.0),
    "dB": ("dB", 1.0),
    "dBV": ("dBV", 1.0),
    "dBm": ("dBm", 1.0),
    "mmHg": ("mmHg", 1.0),
    "ppm": ("ppm", 1.0),
    "pH": ("pH", 1.0),
    "°": ("°", 1.0),
    "rad": ("rad", 1.0),
    "count": ("counts", 1.0),
    "counts": ("counts", 1.0),
    "min": ("s", 60.0),
    "h": ("s", 3600.0),
    "1/s": ("Hz", 1.0),
    "samples/s": ("Hz", 1.0),
    "bit": ("bit", 1.0),
    "bits": ("bit", 1.0),
}

# Spelled-out and lower-case forms; compared in lower case, after everything above.
_WORDS: Mapping[str, str] = {
    "v": "V",
    "mv": "mV",
    "uv": "µV",
    "µv": "µV",
    "μv": "µV",
    "nv": "nV",
    "kv": "kV",
    "a": "A",
    "ma": "mA",
    "ua": "µA",
    "na": "nA",
    "pa": "Pa",
    "hz": "Hz",
    "khz": "kHz",
    "mhz": "MHz",
    "ksps": "kSPS",
    "msps": "MSPS",
    "ks/s": "kS/s",
    "ms/s": "MS/s",
    "samples per second": "S/s",
    "hertz": "Hz",
    "volt": "V",
    "volts": "V",
    "millivolt": "mV",
    "millivolts": "mV",
    "microvolt": "µV",
    "microvolts": "µV",
    "amp": "A",
    "amps": "A",
    "ampere": "A",
    "amperes": "A",
    "milliamps": "mA",
    "ohms": "Ω",
    "second": "s",
    "seconds": "s",
    "msec": "ms",
    "millisecond": "ms",
    "milliseconds": "ms",
    "usec": "µs",
    "µsec": "µs",
    "microsecond": "µs",
    "microseconds": "µs",
    "nanoseconds": "ns",
    "minute": "min",
    "minutes": "min",
    "hour": "h",
    "hours": "h",
    "percent": "%",
    "celsius": "°C",
}

_NUMBER = re.compile(r"\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$")


def parse_unit(text: str) -> tuple[str, float] | None:
    """Return (SI unit, factor to it) of a unit as written, or None when it is not one.

    >>> parse_unit("mV")
    ('V', 0.001)
    >>> parse_unit("banana") is None
    True
    """
    text = text.strip()
    if text in _WHOLE:
        return _WHOLE[text]
    if text in _SYMBOLS:
        return _SYMBOLS[text], 1.0
    if text[:1] in _PREFIXES and text[1:] in _SYMBOLS:
        return _SYMBOLS[text[1:]], _PREFIXES[text[0]]
    word = _WORDS.get(text.lower())
    return parse_unit(word) if word else None


def parse_number(text: str) -> tuple[float, str] | None:
    """Return (number, what follows it) of "1.5 kHz", or None when it does not begin with one.

    "1,000" is not read: it is a thousand to one person and one to another.
    """
    match = _NUMBER.match(text)
    if not match or re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", match[1]):
        return None
    value = float(match[1].replace(",", "."))
    return (value, match[2]) if abs(value) < float("inf") else None


def split_unit(name: str) -> tuple[str, str]:
    """Return (name, unit as written) of a column title that carries its unit.

    Understood are "Voltage (mV)", "Voltage [mV]", "U / mV", "voltage in mV" and
    "voltage_mv"; a bracket that holds no known unit stays part of the name.
    """
    name = name.strip().strip('"').strip()
    for pattern in (
        r"(.*?)\s*[(\[{<]\s*([^)\]}>]+?)\s*[)\]}>]$",
        r"(.+?)\s*/\s*(\S+)$",
        r"(.+?)\s+in\s+(\S+)$",
        r"(.+?)_([A-Za-zµ]+)$",
        r"(.+?)\s*,\s*(\S+)$",
    ):
        match = re.match(pattern, name)
        if match and parse_unit(match[2]):
            return match[1].strip(), match[2]
    return name, ""


def user_unit(text: str) -> tuple[str, float]:
    """Return (SI unit, factor) of a unit that the user gave; quotients such as "mV/s" count.

    A file may name any unit and keeps it. What a person types is checked, for a slip would
    leave the numbers unscaled without a word.
    """
    text = text.strip()
    known = parse_unit(text) or _quotient(text)
    if known is None:
        raise InputError(
            f"'{text[:24]}' is not a unit that is known here",
            where="unit",
            advice="Give one such as V, mV, A, Pa, T, m/s², °C, %, lx or counts, or leave it out.",
        )
    return known


def _quotient(text: str) -> tuple[str, float] | None:
    above, _, below = text.partition("/")
    over, under = parse_unit(above), parse_unit(below)
    if over is None or under is None:
        return None
    return f"{over[0]}/{under[0]}", over[1] / under[1]
