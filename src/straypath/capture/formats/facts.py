"""Facts of the recording that stand in headers and attributes as plain key and value.

The vocabulary is one table of ordinary words of the trade; a key that is not in it is left
alone. A value that cannot be understood is left alone too: nothing is guessed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from straypath.capture.capture import Acquisition
from straypath.capture.formats.base import as_text
from straypath.capture.formats.units import parse_number, parse_unit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

# fact: the words that announce it (lower case, words parted by one space).
VOCABULARY: Mapping[str, str] = {
    "rate_hz": "fs|rate|sample rate|samplerate|sampling rate|sample frequency|"
    "sampling frequency|scan rate|data rate|samples per second",
    "interval_s": "dt|interval|sample interval|sampling interval|sample period|sampling period|"
    "time step|timestep|time per sample|time increment|delta t|sample time",
    "start": "start|start time|started|recorded|recorded at|date|date time|datetime|"
    "start date|date and time|recording time|recording date|timestamp|created",
    "clock": "time|time of day|clock",
    "coupling": "coupling|input coupling|channel coupling",
    "probe_ratio": "probe|probe ratio|probe attenuation|probe factor|attenuation",
    "input_ratio": "input ratio|probe setting|input probe setting|input set to|channel ratio",
    "bandwidth_limit_hz": "bandwidth|bandwidth limit|bw limit|band limit|bandwidth limit hz",
    "mode": "mode|acquisition|acquisition mode|sampling mode",
    "averages": "averages|number of averages|average count|averaging count|averaged sweeps",
    "trigger": "trigger|trigger source|triggered on|trigger input",
    "aperture_s": "aperture|integration time|aperture time|gate time",
    "bits": "bits|bit depth|adc bits|resolution|adc resolution|resolution bits|bits per sample",
    "instrument": "instrument|model|device|recorder|logger|meter|digitizer|digitiser|"
    "instrument model",
    "touching": "touching|who touches|touched by|hands",
    "unit": "unit|units|amplitude unit|data unit",
    "scale": "scale|scale factor|volts per count|volts per step|value per count|lsb",
    "offset": "offset",
}
_FACT_OF = {word: fact for fact, words in VOCABULARY.items() for word in words.split("|")}

_MODES = {
    "sample": "sample normal sampling real-time realtime",
    "peak": "peak peak-detect peakdetect envelope min/max",
    "average": "average averaging averaged mean",
    "screen": "screen display decimated",
}
_MODE_OF = {word: mode for mode, words in _MODES.items() for word in words.split()}


@dataclass(frozen=True)
class Facts:
    """What the header says; None and "" mean that it says nothing.

    Parameters
    ----------
    rate_hz, interval_s : float or None
        [Hz], [s].
    start : datetime or None
    unit : str
        As written.
    scale, offset : float or None
        [unit per raw step], [unit].
    acquisition : Acquisition
    notes : tuple of str
        What was assumed while reading the values.
    """

    rate_hz: float | None = None
    interval_s: float | None = None
    start: datetime | None = None
    unit: str = ""
    scale: float | None = None
    offset: float | None = None
    acquisition: Acquisition = field(default_factory=Acquisition)
    notes: tuple[str, ...] = ()

    @property
    def stated_rate_hz(self) -> float | None:
        """The rate, or one over the interval [Hz]."""
        if self.rate_hz:
            return self.rate_hz
        return 1.0 / self.interval_s if self.interval_s else None


def fact_of(key: str) -> tuple[str, str]:
    """Return (fact, unit in the key) that a header key announces; ("", "") when it is none."""
    key = key.strip().strip("\"'#%;:").strip()
    bracket = re.match(r"(.*?)\s*[(\[]([^)\]]*)[)\]]\s*$", key)
    key, unit = (bracket[1], bracket[2]) if bracket else (key, "")
    words = re.sub(r"[^0-9a-zà-ÿ]+", " ", key.lower()).strip()
    if words in _FACT_OF:
        return _FACT_OF[words], unit
    stem, _, last = words.rpartition(" ")
    if stem in _FACT_OF and parse_unit(last):
        # The unit as it was spelled: "rate MHz" is not "rate mHz".
        return _FACT_OF[stem], key.rstrip()[-len(last) :]
    return "", ""


def gather(pairs: Iterable[tuple[str, Any]]) -> Facts:
    """Return the facts among key/value pairs; the first understood mention of each counts."""
    found: dict[str, Any] = {}
    notes: list[str] = []
    for key, raw in pairs:
        fact, unit = fact_of(key)
        if not fact or fact in found:
            continue
        value = _understood(fact, as_text(raw).strip("\"'"), unit, notes)
        if value is not None:
            found[fact] = value
    return _as_facts(found, notes)


def _as_facts(found: dict[str, Any], notes: list[str]) -> Facts:
    start, clock = found.pop("start", ""), found.pop("clock", "")
    own = {
        k: found.pop(k) for k in ("rate_hz", "interval_s", "unit", "scale", "offset") if k in found
    }
    return Facts(
        **own,
        start=moment(f"{start} {clock}") or moment(start),
        acquisition=replace(Acquisition(), **found),
        notes=tuple(notes),
    )


def moment(text: str) -> datetime | None:
    """Return the date and time that a text states (ISO 8601, or day.month.year), or None."""
    text = text.strip().replace("/", "-") if re.match(r"\s*\d{4}/", text) else text.strip()
    text = re.sub(r"(\d:\d\d:\d\d),(\d)", r"\1.\2", text)
    dotted = re.match(r"(\d{1,2})\.(\d{1,2})\.(\d{4})\b(.*)", text)
    if dotted:
        text = f"{dotted[3]}-{int(dotted[2]):02d}-{int(dotted[1]):02d}{dotted[4]}"
    if not re.match(r"\d{4}-\d", text):
        return None  # a bare number is no date, though ISO 8601 would allow it
    try:
        return datetime.fromisoformat(" ".join(text.split()))
    except ValueError:
        return None


def _understood(fact: str, text: str, unit: str, notes: list[str]) -> Any:
    """Return the value of one fact, or None when the text does not give it."""
    if not text:
        return None
    if fact in _IN_UNIT:
        return _in_unit(fact, text, unit, notes)
    return _READ.get(fact, str)(text)


_IN_UNIT = {"rate_hz": "Hz", "interval_s": "s", "bandwidth_limit_hz": "Hz", "aperture_s": "s"}


def _in_unit(fact: str, text: str, unit: str, notes: list[str]) -> float | None:
    number = parse_number(text)
    if not number:
        return None
    value, written = number[0], number[1].strip("()[] ") or unit
    if not written:
        notes.append(f'"{fact.rpartition("_")[0]}" {text} is taken in {_IN_UNIT[fact]}')
        written = _IN_UNIT[fact]
    known = parse_unit(written)
    if not known or known[0] != _IN_UNIT[fact] or value <= 0:
        return None
    return value * known[1]


def _ratio(text: str) -> float | None:
    """Return 10 for "10", "10:1", "x10", "10x", "1/10"."""
    match = re.fullmatch(r"[x×]?\s*(\d+(?:\.\d+)?)\s*(?:[x×]|:\s*1)?", text.lower())
    divided = re.fullmatch(r"1\s*[:/]\s*(\d+(?:\.\d+)?)", text)
    number = match or divided
    return float(number[1]) or None if number else None


def _coupling(text: str) -> str | None:
    words = set(re.split(r"\W+", text.lower())) & {"ac", "dc"}
    return words.pop() if len(words) == 1 else None


def _mode(text: str) -> str | None:
    return _MODE_OF.get(text.lower().split()[0].strip(",;")) or _MODE_OF.get(text.lower())


def _count(text: str) -> int | None:
    match = re.match(r"(\d{1,9})(?:\s*-?\s*bits?)?\s*$", text.lower())
    return int(match[1]) or None if match else None


def _trigger(text: str) -> str:
    text = text.lower()
    return "line" if re.search(r"\b(line|mains)\b", text) else text


def _number(text: str) -> float | None:
    number = parse_number(text)
    return number[0] if number else None


def _scale(text: str) -> float | None:
    number = parse_number(text)
    return number[0] or None if number and not number[1] else None


_READ: dict[str, Callable[[str], Any]] = {
    "coupling": _coupling,
    "probe_ratio": _ratio,
    "input_ratio": _ratio,
    "mode": _mode,
    "averages": _count,
    "trigger": _trigger,
    "bits": _count,
    "scale": _scale,
    "offset": _number,
}
