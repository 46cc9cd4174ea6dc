"""Units of the International System with their prefixes: which there are, and reading them."""

from __future__ import annotations

import re
from math import isfinite
from typing import Final

from straypath.errors import InputError

PREFIXES: Final = {
    "f": 1e-15,
    "p": 1e-12,
    "n": 1e-9,
    "µ": 1e-6,
    "m": 1e-3,
    "": 1.0,
    "k": 1e3,
    "M": 1e6,
    "G": 1e9,
    "T": 1e12,
}
"""Prefix to factor, smallest first (SI Brochure, 9th edition, table 7)."""

PREFIXABLE: Final = frozenset(
    ["V", "A", "W", "Hz", "s", "Ω", "F", "H", "Pa", "m", "g", "T", "Wb", "C", "S", "N", "J", "K"]
)
"""Units that take a prefix in print; all others are printed as they are."""

_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\d.,].*)?", re.DOTALL)
_PER_ROOT_HERTZ = re.compile(r"\s*/\s*(?:√\s*Hz|√\(Hz\)|rtHz|sqrt\(Hz\)|sqrtHz)$")
_OHM = re.compile(
    r"(?:[oO]hms?|\u2126)$"
)  # keyboards lack the letter; the sign has two code points
_SPELLINGS = {"μ": "µ", "u": "µ"}  # Greek mu and the letter u both stand for micro


def parse_value(text: str, unit: str, *, where: str = "", bare: bool = False) -> float:
    """Return the value of a text such as "50 kHz" in the plain unit.

    Parameters
    ----------
    text : str
        Number, prefix and unit; spaces between are optional.
    unit : str
        The unit that is wanted, without prefix, such as "Hz".
    where : str
        What the value is for; it opens the message of an error.
    bare : bool
        Whether a number without any unit is taken to be in `unit`.

    Raises
    ------
    InputError
        Not a number, another unit, a prefix without a unit, or not finite.

    Examples
    --------
    >>> parse_value("50 kHz", "Hz")
    50000.0
    """
    example = _example(unit)
    match = _NUMBER.fullmatch(text.strip().replace("−", "-"))
    if match is None:
        raise InputError(f"'{text}' is not a number with a unit", where=where, advice=example)
    value, suffix = float(match[1]), (match[2] or "").strip()
    if suffix:
        value *= _factor(suffix, unit, text, where, example)
    elif not bare:
        raise InputError(f"'{text}' has no unit", where=where, advice=example)
    if not isfinite(value):
        raise InputError(f"'{text}' is too large", where=where, advice=example)
    return value


def _example(unit: str) -> str:
    if unit not in PREFIXABLE:
        return f"Write it like '5 {unit}'."
    return f"Write it like '50 {unit}' or '2.5 k{unit}'."


def parse_density(text: str, unit: str, *, where: str = "") -> float:
    """Return the value of a noise density such as "10 nV/√Hz" in the plain unit per √Hz.

    Parameters
    ----------
    text : str
        Number, prefix, unit and "/√Hz"; "/rtHz", "/sqrt(Hz)" and "/sqrtHz" mean the same.
    unit : str
        The unit that is wanted, without prefix, such as "V".
    where : str
        What the value is for; it opens the message of an error.

    Raises
    ------
    InputError
        No density, another unit, or a number that is none.

    Examples
    --------
    >>> parse_density("10 nV/√Hz", "V") == parse_density("10nV/rtHz", "V") == 1e-8
    True
    """
    example = f"Write it like '10 n{unit}/√Hz' or '10 n{unit}/rtHz'."
    head = _PER_ROOT_HERTZ.sub("", text.strip())
    if head == text.strip():
        raise InputError(f"'{text}' is not a noise density", where=where, advice=example)
    try:
        return parse_value(head, unit, where=where)
    except InputError as error:
        raise InputError(f"'{text}': {error.what}", where=where, advice=example) from error


def _factor(suffix: str, unit: str, text: str, where: str, example: str) -> float:
    """Return the factor of a prefixed unit; refuse anything that could mean two things."""
    if unit == "Ω":
        suffix = _OHM.sub("Ω", suffix)
    if suffix.endswith(unit):
        prefix = suffix.removesuffix(unit).strip()
        prefix = _SPELLINGS.get(prefix, prefix)
        if prefix in PREFIXES and (not prefix or unit in PREFIXABLE):
            return PREFIXES[prefix]
    if _SPELLINGS.get(suffix, suffix) in PREFIXES:
        what, advice = f"'{text}' has a prefix without a unit", f"Did you mean '{text}{unit}'?"
    elif suffix.lower().endswith(unit.lower()):
        what, advice = f"'{suffix}' is not a way to write {unit}", f"Mind capitals. {example}"
    else:
        what, advice = f"'{text}' is not in {unit}", example
    raise InputError(what, where=where, advice=advice)
