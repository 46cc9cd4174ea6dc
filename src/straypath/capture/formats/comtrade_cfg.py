"""The configuration of a COMTRADE record, and where its data are.

Source: IEEE C37.111-2013 / IEC 60255-24:2013, with the 1991 and 1999 editions it builds on.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.formats.base import optional
from straypath.capture.formats.text_faults import content
from straypath.errors import DamagedFile, InputError

if TYPE_CHECKING:
    from pathlib import Path

TITLE = "a COMTRADE record"
_SECOND_LINE = re.compile(r"\s*\d+\s*,\s*\d+\s*A\s*,\s*\d+\s*D\s*", re.IGNORECASE)
_SECTION = re.compile(
    rb"--- file type: *([A-Z]+)(?: +([A-Z0-9]+))?(?: *: *(\d+))? *---\r?\n", re.IGNORECASE
)
_ANALOG = {"BINARY": "<i2", "BINARY32": "<i4", "FLOAT32": "<f4"}


@dataclass(frozen=True)
class Record:
    """What a record is made of.

    Parameters
    ----------
    cfg : comtrade.Cfg
        The parsed configuration.
    described : Path
        File that holds the configuration.
    data : Path
        File that holds the samples.
    start, size : int
        Where in that file they lie [bytes].
    """

    cfg: Any
    described: Path
    data: Path
    start: int
    size: int

    def files(self, named: Path) -> tuple[Path, ...]:
        """Return the files that were read, the one that was named first."""
        return tuple(dict.fromkeys([named, self.described, self.data]))

    @property
    def kind(self) -> str:
        """ASCII, BINARY, BINARY32 or FLOAT32."""
        return str(self.cfg.ft).strip().upper()

    @property
    def row(self) -> np.dtype[Any]:
        """Layout of one binary sample: number, time, analog values, status words."""
        words = -(-self.cfg.status_count // 16)
        return np.dtype(
            [
                ("number", "<u4"),
                ("time", "<u4"),
                ("analog", _ANALOG[self.kind], (self.cfg.analog_count,)),
                ("status", "<u2", (words,)),
            ]
        )


def looks_like_cfg(head: bytes) -> bool:
    """Whether the second line counts channels the way a configuration does."""
    lines = head[:4096].decode("latin-1").splitlines()
    return len(lines) > 1 and bool(_SECOND_LINE.fullmatch(lines[1]))


def looks_like_combined(head: bytes) -> bool:
    """Whether the file begins with a section of the combined form."""
    return bool(_SECTION.match(head.lstrip(b"\xef\xbb\xbf\r\n ")))


def sibling(path: Path, suffix: str) -> Path | None:
    """Return the file of the same name with another ending, in any case of letters."""
    for ending in (suffix, suffix.upper(), suffix.capitalize()):
        other = path.with_suffix(ending)
        if other.is_file():
            return other
    return None


def open_record(path: Path, head: bytes) -> Record:
    """Return the record that a .cfg, .dat or .cff file belongs to."""
    if looks_like_combined(head):
        return _combined(path)
    cfg_path = path if looks_like_cfg(head) else sibling(path, ".cfg")
    data = sibling(path, ".dat") if cfg_path == path else path
    if cfg_path is None or data is None:
        raise InputError(
            "is the configuration of a COMTRADE record without its data",
            where=str(path),
            advice="Put the .dat file of the same name into the same folder.",
        )
    return Record(_parsed(cfg_path.read_bytes()), cfg_path, data, 0, data.stat().st_size)


def _combined(path: Path) -> Record:
    with content(path) as whole:
        marks = list(_SECTION.finditer(whole))
        bounds = [m.start() for m in marks[1:]] + [len(whole)]
        cfg = data = None
        for mark, end in zip(marks, bounds, strict=True):
            if mark[1].upper() == b"CFG":
                cfg = bytes(whole[mark.end() : end])
            elif mark[1].upper() == b"DAT":
                size = int(mark[3]) if mark[3] else end - mark.end()
                data = (mark.end(), min(size, len(whole) - mark.end()))
                break
    if cfg is None or data is None:
        raise DamagedFile(
            "lacks its configuration or its data", where=str(path), advice="Copy it again."
        )
    return Record(_parsed(cfg), path, path, *data)


def _parsed(text: bytes) -> Any:
    library = optional("comtrade", TITLE)
    try:
        decoded = text.decode("utf-8-sig")
    except UnicodeDecodeError:
        decoded = text.decode("latin-1")
    cfg = library.Cfg(ignore_warnings=True)
    cfg.read(decoded.replace("\r\n", "\n"))
    return cfg
