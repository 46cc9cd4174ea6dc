"""The examination for other programs: one JSON document, built from the same records as the page.

Keys carry their unit. A channel in another unit than volts says so in `unit`; its numbers are then
in that unit, under the same keys. Same input, same bytes; what is not a finite number is null.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from importlib.metadata import version
from math import isfinite
from typing import TYPE_CHECKING, Any, Final

from straypath.report.against_document import against_reference
from straypath.report.beside_document import contents_beside_mains, json_or_none
from straypath.report.cautions import cautions
from straypath.report.plan_document import answers
from straypath.report.sentences import assumptions, floor_density, invented

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from straypath.contents.records import MainsComb, MainsLine
    from straypath.inquiry import ChannelContents, Examination

SCHEMA: Final = "straypath-examine/1"


def document(examination: Examination) -> dict[str, Any]:
    """Return the document of one examination as plain dicts, lists, texts and numbers."""
    capture = examination.capture
    return {
        "schema": SCHEMA,
        "tool": {"name": "straypath", "version": version("straypath")},
        "inputs": [_input(path) for path in capture.files if path.is_file()],
        "assumptions": assumptions(examination),
        "cautions": _cautions(examination),
        "capture": {
            "samples": capture.samples,
            "rate_hz": capture.rate_hz,
            "duration_s": capture.duration_s,
            "start": capture.start.isoformat() if capture.start else None,
            "format": capture.format,
            "invented": invented(capture),
            "acquisition": {
                key: value
                for key, value in asdict(capture.acquisition).items()
                if value not in (None, "")
            },
        },
        "channels": [_channel(found) for found in examination.channels],
    }


def text(documents: Iterable[dict[str, Any]], *, several: bool = False) -> str:
    """Return the JSON text: one document, or a list of them when several files were asked for."""
    made = [_finite(document) for document in documents]
    whole = made if several else made[0]
    return json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _input(path: Path) -> dict[str, str]:
    """Return name and checksum of a file, read in pieces."""
    with path.open("rb") as file:
        return {"name": path.name, "sha256": hashlib.file_digest(file, "sha256").hexdigest()}


def _cautions(examination: Examination) -> list[str]:
    """Return what goes with a reference; examine proposes neither a trial nor a remedy."""
    marks = (found.against for found in examination.channels)
    said = (text for mark in marks if mark is not None for text in mark.cautions)
    return [*cautions(acts=False), *dict.fromkeys(said)]


def _channel(found: ChannelContents) -> dict[str, Any]:
    return {
        "name": found.channel.name,
        "unit": found.channel.unit,
        "soundness": found.soundness.as_json(),
        "mains": _mains(found.mains),
        **contents_beside_mains(found.contents, found.budget),
        "against": against_reference(found.against),
        "answers": answers(found.answers),
    }


def _mains(mains: MainsComb) -> dict[str, Any]:
    moved = mains.wander
    return {
        "present": mains.present,
        "p_value": mains.p_value,
        "false_alarm_rate": mains.false_alarm_rate,
        "unread": mains.unread or None,
        "nominal_hz": mains.nominal_hz,
        "nominal_probability": mains.nominal_probability,
        "frequency_hz": json_or_none(mains.frequency_hz),
        "rms_v": json_or_none(mains.rms),
        "share": mains.share,
        "lines": [_line(line) for line in mains.lines],
        "wander": None
        if moved is None
        else {"times_s": list(moved.times_s), "frequency_hz": list(moved.frequency_hz)},
    }


def _line(line: MainsLine) -> dict[str, Any]:
    return {
        "order": line.order,
        "frequency_hz": line.frequency_hz.as_json(),
        "rms_v": line.rms.as_json(),
        "phase_rad": json_or_none(line.phase_rad),
        "detected": line.detected,
        "floor_v_per_rthz": floor_density(line),
    }


def _finite(value: Any) -> Any:
    """Return a document in which every number that is not finite has become null."""
    if isinstance(value, dict):
        return {key: _finite(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(part) for part in value]
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return value
    if isinstance(value, int):
        return value
    if hasattr(value, "item"):
        value = value.item()  # a numpy number
        return _finite(value)
    return value if isfinite(value) else None
