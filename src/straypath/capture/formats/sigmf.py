"""SigMF: a JSON file of facts beside a file of samples, which is memory-mapped.

Source: the Signal Metadata Format Specification, version 1.2.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.capture import Acquisition, Gap, Stamps
from straypath.capture.formats.assemble import to_capture
from straypath.capture.formats.base import Ask, Reader, are, several, translated
from straypath.capture.formats.facts import Facts, moment
from straypath.capture.formats.shapes import COMPLEX_NOTE, array_columns
from straypath.errors import DamagedFile, InputError

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from straypath.capture.capture import Capture
    from straypath.capture.formats.assemble import Column

_TITLE = "a SigMF recording"
_META, _DATA = ".sigmf-meta", ".sigmf-data"
_TYPE = re.compile(r"([rc])([fiu])(8|16|32|64)(?:_(le|be))?")


def refusal(head: bytes, path: Path) -> str:
    """Return "" for the JSON of facts, and for samples that have such a file beside them."""
    if head.lstrip()[:1] == b"{" and b'"core:' in head:
        return ""
    if path.suffix == _DATA and path.with_suffix(_META).is_file():
        return ""
    return "is no JSON with core: keys, nor has it such a file beside it"


def read(ask: Ask) -> Capture:
    """Read a SigMF recording through either of its two files."""
    meta_path = ask.path.with_suffix(_META) if ask.path.suffix == _DATA else ask.path
    with translated(meta_path, _TITLE):
        meta = json.loads(meta_path.read_bytes())
        about, captures = _described(meta, meta_path)
        data_path = _data_path(meta_path, about)
        dtype = _dtype(ask, str(about.get("core:datatype", "")))
        channels = _whole(about, "core:num_channels", 1, meta_path)
        skip = _whole(captures[0], "core:header_bytes", 0, meta_path)
        tail = _whole(about, "core:trailing_bytes", 0, meta_path)
        size = data_path.stat().st_size - skip - tail
        frames, left_over = divmod(size, dtype.itemsize * channels)
        if left_over or frames < 1:
            raise DamagedFile(
                f"has {size} bytes of samples, no whole number of {channels} x {dtype.name}",
                where=str(data_path),
                advice="Copy it again.",
            )
        if any(c.get("core:header_bytes") for c in captures[1:]):
            raise InputError(
                "has headers between its samples",
                where=str(data_path),
                advice="Save each segment as a recording of its own.",
            )
        mapped = np.memmap(data_path, dtype, "r", skip, (frames, channels))
        facts = _facts(about, captures[0], meta_path)
        stamps = _stamps(captures, facts.rate_hz)
    notes: list[str] = []
    columns = [
        column
        for c in range(channels)
        for column in _channel(ask, f"channel {c + 1}", mapped[:, c], notes)
    ]
    if meta.get("annotations"):
        number = len(meta["annotations"])
        notes.append(f"{several(number, 'annotation')} {are(number)} left aside")
    files = dict.fromkeys([ask.path, meta_path, data_path])
    return to_capture(
        ask, columns, facts, reader="sigmf", stamps=stamps, notes=notes, files=tuple(files)
    )


def _channel(ask: Ask, name: str, array: NDArray[Any], notes: list[str]) -> list[Column]:
    """Return one channel, or two of complex samples; numpy knows no complex integers."""
    columns = array_columns(replace(ask, interleaved=None), name, array, notes)
    if array.dtype.names:
        notes.append(COMPLEX_NOTE)
        return [replace(column, name=f"{name} {column.name}") for column in columns]
    return columns


def _data_path(meta_path: Path, about: dict[str, Any]) -> Path:
    """Return where the samples are, which is always in the folder of the facts."""
    named = about.get("core:dataset")
    path = meta_path.with_name(str(named)) if named else meta_path.with_suffix(_DATA)
    if not path.is_file():
        raise InputError(
            "has no file of samples beside it",
            where=str(meta_path),
            advice=f"Put {path.name} into the same folder.",
        )
    return path


def _dtype(ask: Ask, text: str) -> np.dtype[Any]:
    match = _TYPE.fullmatch(text)
    if not match:
        raise DamagedFile(
            f'names the unknown sample type "{text}"',
            where=str(ask.path),
            advice="Known are types such as ri16_le, rf32_le and cf32_le: correct core:datatype.",
        )
    order = ">" if match[4] == "be" else "<"
    number = np.dtype(f"{order}{match[2]}{int(match[3]) // 8}")
    if match[1] == "r":
        return number
    if number.kind == "f":
        return np.dtype(f"{order}c{2 * number.itemsize}")
    return np.dtype([("I", number), ("Q", number)])


def _described(meta: Any, path: Path) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return what holds for the whole recording, and its segments."""
    about = meta.get("global")
    captures = meta.get("captures") or [{}]
    if not isinstance(about, dict):
        raise _wrong("global", "an object", path)
    if not isinstance(captures, list) or not all(isinstance(c, dict) for c in captures):
        raise _wrong("captures", "a list of objects", path)
    return about, captures


def _wrong(key: str, wanted: str, path: Path) -> DamagedFile:
    return DamagedFile(
        f'is a SigMF recording whose "{key}" is not {wanted}',
        where=str(path),
        advice="Correct it, or write the recording again.",
    )


def _whole(about: dict[str, Any], key: str, least: int, path: Path) -> int:
    """Return a whole number; the least one when it is not there."""
    value = about.get(key, least)
    if not isinstance(value, int) or value < least:
        raise _wrong(key, f"a whole number from {least} on", path)
    return value


def _facts(about: dict[str, Any], first: dict[str, Any], path: Path) -> Facts:
    rate = about.get("core:sample_rate") or 0
    if not isinstance(rate, int | float):
        raise _wrong("core:sample_rate", "a number", path)
    return Facts(
        rate_hz=float(rate) if rate > 0 else None,
        start=moment(str(first.get("core:datetime", ""))),
        acquisition=Acquisition(instrument=str(about.get("core:hw", ""))),
    )


def _stamps(captures: list[dict[str, Any]], rate_hz: float | None) -> Stamps | None:
    """Return the holes between segments, where the recording counts them."""
    if not rate_hz or not all("core:global_index" in c for c in captures):
        return None
    marks = [(int(c["core:sample_start"]), int(c["core:global_index"])) for c in captures]
    gaps = [
        Gap(start, ((index - before[1]) - (start - before[0])) / rate_hz)
        for before, (start, index) in pairwise(marks)
    ]
    return Stamps(gaps=tuple(g for g in gaps if g.missing_s > 0))


READER = Reader("sigmf", _TITLE, refusal, read)
