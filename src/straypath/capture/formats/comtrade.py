"""COMTRADE: disturbance records, separate (.cfg, .dat) or combined (.cff), ASCII or binary.

Source: IEEE C37.111-2013 / IEC 60255-24:2013.
"""

from __future__ import annotations

import io
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.capture import Acquisition
from straypath.capture.formats.assemble import Column, to_capture
from straypath.capture.formats.base import Ask, Reader, are, several, translated
from straypath.capture.formats.comtrade_cfg import (
    TITLE,
    Record,
    looks_like_cfg,
    looks_like_combined,
    open_record,
    sibling,
)
from straypath.capture.formats.facts import Facts
from straypath.capture.formats.lazy import BlockSamples
from straypath.capture.formats.times import Times
from straypath.errors import DamagedFile, InputError, NeedsFact

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from straypath.capture.capture import Capture, Samples

_MISSING_ASCII = 99999.0
_NO_TIME = 0xFFFFFFFF
_MOST_STAMPS = 20_000_000  # more would take too much memory only to be checked
_MOST_MARKS = 1 << 28  # bytes of samples that are searched for marks of missing values
_BLOCK = 1 << 20
_TURNS = (1 << 16, 1 << 32)
_ROUNDING = 2.0  # steps of the stamps


def refusal(head: bytes, path: Path) -> str:
    """Return "" for a configuration, a combined file, or data beside a configuration."""
    if looks_like_cfg(head) or looks_like_combined(head):
        return ""
    beside = sibling(path, ".cfg") if path.suffix.lower() == ".dat" else None
    if beside and looks_like_cfg(beside.read_bytes()[:4096]):
        return ""
    return "does not count analog and digital channels in its second line"


def read(ask: Ask) -> Capture:
    """Read the analog channels of a COMTRADE record."""
    with ask.path.open("rb") as file:
        head = file.read(4096)
    with translated(ask.path, TITLE):
        record = open_record(ask.path, head)
        notes = _remarks(record)
        rate_hz, first, last = _section(ask, record, notes)
        if record.kind == "ASCII":
            stamps, values = _ascii(record)
        else:
            stamps, values = _binary(ask, record)
        if len(stamps) < (last or 1):
            raise DamagedFile(
                f"is cut short: {len(stamps)} of {last} samples are there",
                where=str(record.data),
                advice="Copy it again.",
            )
        rows = slice(first, last or len(stamps))
        columns = _columns(ask, record, [v[rows] for v in values], notes)
        times = _times(record, stamps[rows], notes)
    facts = Facts(rate_hz=rate_hz, acquisition=_acquisition(record), start=_start(record, first))
    return to_capture(
        ask,
        columns,
        facts,
        reader="comtrade",
        times=times,
        notes=notes,
        files=record.files(ask.path),
    )


def _section(ask: Ask, record: Record, notes: list[str]) -> tuple[float | None, int, int]:
    """Return (rate, first, last sample) of the only section, or of the one asked for."""
    rates = [(float(r), int(end)) for r, end in record.cfg.sample_rates]
    last = max((end for _, end in rates), default=0)
    if ask.dataset in (None, "1") and len(rates) <= 1:
        return (_rate(rates[0][0], notes) if rates else None), 0, last
    if ask.dataset is None and len({r for r, _ in rates}) == 1:
        return _rate(rates[0][0], notes), 0, last
    if ask.dataset is None:
        raise NeedsFact(
            f"has {len(rates)} sections at different rates",
            where=str(ask.path),
            advice='Name one (--dataset, dataset), such as "1".',
        )
    if ask.dataset not in [str(i + 1) for i in range(len(rates))]:
        raise InputError(
            f'has no section "{ask.dataset}"',
            where=str(ask.path),
            advice=f"It has {several(len(rates), 'section')}, counted from 1.",
        )
    number = int(ask.dataset) - 1
    first = rates[number - 1][1] if number else 0
    return _rate(rates[number][0], notes), first, rates[number][1]


def _rate(stated_hz: float, notes: list[str]) -> float | None:
    """Return the rate; None for zero, which leaves it to the time stamps, and for nonsense."""
    if stated_hz > 0:
        return stated_hz
    if stated_hz != 0:  # NaN as well
        notes.append(f"the configuration states a rate of {stated_hz:g} Hz, which is not used")
    return None


def _ascii(record: Record) -> tuple[NDArray[Any], list[NDArray[Any]]]:
    """Return time and analog columns of data written as text; 99999 and blanks are missing."""
    import polars as pl  # noqa: PLC0415 – takes long to import

    with record.data.open("rb") as file:
        file.seek(record.start)
        body = file.read(record.size).rstrip(b"\x1a\r\n \t")
    count = record.cfg.analog_count
    width = 2 + count + record.cfg.status_count
    with translated(record.data, TITLE, pl.exceptions.PolarsError, pl.exceptions.PanicException):
        frame = pl.read_csv(
            io.BytesIO(body),
            has_header=False,
            schema={f"c{i}": pl.Float64 for i in range(width)},
            columns=list(range(1, 2 + count)),
        )
    stamps = frame["c1"].fill_null(_NO_TIME).to_numpy()
    values = [frame[f"c{i}"] for i in range(2, 2 + count)]
    return stamps, [v.set(v == _MISSING_ASCII, None).to_numpy() for v in values]


def _binary(ask: Ask, record: Record) -> tuple[NDArray[Any], list[NDArray[Any]]]:
    if record.kind not in ("BINARY", "BINARY32", "FLOAT32"):
        raise DamagedFile(
            f'names the unknown data type "{record.kind}"',
            where=str(ask.path),
            advice="Known are ASCII, BINARY, BINARY32 and FLOAT32: export it as one of them.",
        )
    row = record.row
    mapped = np.memmap(record.data, row, "r", record.start, (record.size // row.itemsize,))
    return mapped["time"], [mapped["analog"][:, i] for i in range(record.cfg.analog_count)]


def _columns(
    ask: Ask, record: Record, values: list[NDArray[Any]], notes: list[str]
) -> list[Column]:
    columns = []
    for channel, raw in zip(record.cfg.analog_channels, values, strict=True):
        raw.flags.writeable = False
        columns.append(
            Column(
                channel.name.strip(),
                _with_holes(ask, raw, channel.cmin, notes),
                channel.uu.strip(),
                float(channel.a),
                float(channel.b),
                (float(channel.cmin), float(channel.cmax)) if channel.cmin < channel.cmax else None,
            )
        )
    return columns


def _with_holes(ask: Ask, raw: NDArray[Any], lowest: float, notes: list[str]) -> Samples:
    """Return the samples with marked missing values as NaN; unmarked ones stay as they are.

    The lowest integer marks a missing value, unless the channel says that it is a value.
    """
    if raw.dtype.kind != "i" or lowest <= np.iinfo(raw.dtype).min:
        return raw
    mark = np.iinfo(raw.dtype).min
    if raw.nbytes > _MOST_MARKS:
        notes.append("the record is too long to be searched for marks of missing values")
        return raw
    missing = sum(
        int(np.count_nonzero(raw[i : i + _BLOCK] == mark)) for i in range(0, len(raw), _BLOCK)
    )
    if not missing:
        return raw
    notes.append(f"{several(missing, 'sample')} {are(missing)} marked as missing: read as NaN")
    wide = np.dtype("f4" if raw.dtype.itemsize == 2 else "f8")

    def fetch(start: int, stop: int) -> NDArray[Any]:
        part = raw[start:stop]
        return np.where(part == mark, np.nan, part).astype(wide)

    return BlockSamples(ask.path, TITLE, len(raw), wide, fetch)


def _times(record: Record, stamps: NDArray[Any], notes: list[str]) -> Times | None:
    """Return the stamps in seconds; None when the record has none or too many to check."""
    if len(stamps) < 2 or len(stamps) > _MOST_STAMPS:
        notes.extend(["the time stamps are too many to be checked"] if len(stamps) > 2 else [])
        return None
    seconds = np.asarray(stamps, dtype=np.float64)
    if np.any(seconds == _NO_TIME) or not np.any(seconds):
        return None
    step = float(record.cfg.time_base) * float(record.cfg.timemult)
    return Times(_unwound(seconds, notes) * step, step) if step > 0 else None


def _unwound(stamps: NDArray[np.float64], notes: list[str]) -> NDArray[np.float64]:
    """Return stamps that go on where a counter of 16 or 32 bits began anew."""
    steps = np.diff(stamps)
    falls = steps[steps < 0]
    for turn in _TURNS:
        if len(falls) and np.all(np.abs(falls + turn - np.median(steps)) <= _ROUNDING):
            notes.append(f"the time stamps begin anew at {turn}: they are carried on")
            return np.asarray(stamps + turn * np.concatenate([[0], np.cumsum(steps < 0)]))
    return stamps


def _acquisition(record: Record) -> Acquisition:
    names = (record.cfg.station_name.strip(), record.cfg.rec_dev_id.strip())
    bits = 16 if record.kind == "BINARY" else None
    return replace(Acquisition(), instrument=" ".join(n for n in names if n), bits=bits)


def _start(record: Record, first: int) -> Any:
    known = record.cfg.start_timestamp
    return known if first == 0 and known.year > 1900 else None


def _remarks(record: Record) -> list[str]:
    notes = []
    if record.cfg.status_count:
        number = record.cfg.status_count
        notes.append(f"{several(number, 'status channel')} {are(number)} left out")
    sides = {c.pors.strip().upper() for c in record.cfg.analog_channels if c.primary != c.secondary}
    if sides <= {"P", "S"} and len(sides) == 1:
        side = "primary" if sides == {"P"} else "secondary"
        notes.append(f"values are those of the {side} side of the instrument transformers")
    return notes


READER = Reader("comtrade", TITLE, refusal, read, takes=frozenset(["dataset"]))
