"""HDF5: one data set, read in slices; attributes beside it and above it are facts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from straypath.capture.formats.assemble import Column
from straypath.capture.formats.base import ARRAYS_TAKE, Ask, Reader, as_text, optional, translated
from straypath.capture.formats.lazy import BlockSamples
from straypath.capture.formats.named import Stored, arrays_to_capture
from straypath.capture.formats.shapes import COMPLEX_NOTE, channel_name, check_numeric, layout
from straypath.wording import listed

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

    from straypath.capture.capture import Capture

_MARK = b"\x89HDF\r\n\x1a\n"
_TITLE = "an HDF5 file"
_LARGEST_BLOCK = 20  # power of two; blocks of any larger size are not looked for
_MOST_SETS = 10_000


def refusal(head: bytes, path: Path) -> str:
    """Return "" when the mark stands at the start or behind a user block."""
    if any(head[at:].startswith(_MARK) for at in (0, 512, 1024, 2048)):
        return ""
    with path.open("rb") as file:
        for at in (2**power for power in range(12, _LARGEST_BLOCK)):
            file.seek(at)
            if file.read(len(_MARK)) == _MARK:
                return ""
    return "does not carry the mark of HDF5"


def read(ask: Ask) -> Capture:
    """Read one data set of an HDF5 file."""
    return read_named(ask, "hdf5", _TITLE)


def read_named(ask: Ask, reader: str, title: str) -> Capture:
    """Read a file that is HDF5 inside, under the name of its own format."""
    h5py = optional("h5py", title)
    with translated(ask.path, title):
        with h5py.File(ask.path, "r") as file:
            found: dict[str, Any] = {}
            file.visititems(lambda name, item: _collect(found, name, item, h5py))
            texts = {n: _text(d) for n, d in found.items() if _is_text(d)}
            pairs = [(_last(n), t) for n, t in texts.items()]
            pairs += [(_last(n), d[()]) for n, d in found.items() if _is_value(d)]
            arrays = [_stored(ask, d, n, h5py) for n, d in found.items() if _is_array(d)]
            top = list(file.attrs.items())
            kinds = {n: _left_out(d) for n, d in found.items()}
        named = [f'the {kind} "{n}"' for n, kind in kinds.items() if kind][:4]
        but = f", only {listed(named)}" if named else ""
        notes: list[str] = []
        return arrays_to_capture(ask, arrays, [*top, *pairs], reader=reader, notes=notes, but=but)


def _collect(found: dict[str, Any], name: str, item: Any, h5py: Any) -> None:
    """Keep data sets; what MATLAB hides under #refs# belongs to cells and objects."""
    if isinstance(item, h5py.Dataset) and "#" not in name and len(found) < _MOST_SETS:
        found[name] = item


def _last(name: str) -> str:
    return name.rpartition("/")[2]


def _is_text(data: Any) -> bool:
    """Whether a data set is a text: a string, or the numbers of characters that MAT stores."""
    if data.shape is None or data.size > 10_000:
        return False
    return _matlab_class(data) == "char" or (data.dtype.kind in "OS" and data.size == 1)


def _text(data: Any) -> str:
    if _matlab_class(data) == "char":
        return "".join(chr(int(c)) for c in np.ravel(data[()]))
    return as_text(np.asarray(data[()]).reshape(-1)[0])


def _matlab_class(data: Any) -> str:
    return as_text(data.attrs["MATLAB_class"]) if "MATLAB_class" in data.attrs else ""


def _left_out(data: Any) -> str:
    """Return what a data set is in words when it is never read, else nothing."""
    if _is_array(data) or data.shape is None or _is_text(data) or _is_value(data):
        return ""
    words = {"cell": "cell array", "logical": "logical array"}
    return words.get(_matlab_class(data), f"data set of {data.dtype}")


def _is_value(data: Any) -> bool:
    return data.shape is not None and data.size == 1 and data.dtype.kind in "iuf"


def _is_array(data: Any) -> bool:
    if data.shape is None or data.size < 2 or _is_text(data) or "MATLAB_empty" in data.attrs:
        return False
    if _matlab_class(data) in ("cell", "logical"):
        return False
    return bool(data.dtype.names) or data.dtype.kind in "iufc"


def _stored(ask: Ask, data: Any, name: str, h5py: Any) -> Stored:
    """Describe one data set; it is opened anew for every slice, so nothing stays open."""
    shape, dtype = tuple(int(s) for s in data.shape), data.dtype
    pairs = list(data.attrs.items())
    group = data.parent
    while group.name != "/":
        pairs += group.attrs.items()
        group = group.parent

    def part(index: Any, field: str | None) -> NDArray[Any]:
        with h5py.File(ask.path, "r") as file:
            block = file[name][index]
            return np.asarray(block if field is None else block[field])

    def columns(notes: list[str]) -> list[Column]:
        return _columns(ask, _last(name), shape, dtype, part=part, notes=notes)

    return Stored(name, shape, columns, lambda: part((), None), pairs)


def _columns(
    ask: Ask,
    name: str,
    shape: tuple[int, ...],
    dtype: np.dtype[Any],
    *,
    part: Callable[[Any, str | None], NDArray[Any]],
    notes: list[str],
) -> list[Column]:
    """Return the channels of a data set, each a reader of its own slices."""
    long = [i for i, size in enumerate(shape) if size > 1]
    axis, count = layout(ask, tuple(shape[i] for i in long), notes)
    time, across = long[axis], long[1 - axis] if len(long) > 1 else None
    fields = [f for f in dtype.names if dtype[f].kind in "iuf"] if dtype.names else [None]
    if not dtype.names:
        check_numeric(ask, dtype)

    def samples(channel: int, field: str | None, of: str) -> BlockSamples:
        def fetch(start: int, stop: int) -> NDArray[Any]:
            index: list[Any] = [0] * len(shape)
            index[time] = slice(start, stop)
            if across is not None:
                index[across] = channel
            block = part(tuple(index), field)
            return np.asarray(getattr(block, of) if of else block)

        kind = dtype[field] if field else dtype
        kind = np.dtype(f"f{kind.itemsize // 2}") if of else kind
        return BlockSamples(ask.path, _TITLE, shape[time], kind, fetch)

    result = []
    for channel in range(count):
        plain = channel_name(name, channel + 1, count)
        for field in fields:
            title = plain if field is None else field if count == 1 else f"{plain} {field}"
            if dtype.kind == "c":
                notes.append(COMPLEX_NOTE)
                result.append(Column(f"{title} I", samples(channel, field, "real")))
                result.append(Column(f"{title} Q", samples(channel, field, "imag")))
            else:
                result.append(Column(title, samples(channel, field, "")))
    return result


READER = Reader("hdf5", _TITLE, refusal, read, takes=ARRAYS_TAKE)
