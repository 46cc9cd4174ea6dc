"""MAT: version 5 through scipy, version 7.3 as the HDF5 file that it is. Objects are left out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from straypath.capture.formats.base import Ask, Reader, named_list, translated
from straypath.capture.formats.hdf5 import read_named
from straypath.capture.formats.named import Stored, arrays_to_capture
from straypath.capture.formats.shapes import array_columns

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from straypath.capture.capture import Capture
    from straypath.capture.formats.assemble import Column

_TITLE = "a MAT file"
_NUMBERS = frozenset(
    ["double", "single", *(f"{sign}int{bits}" for sign in ("", "u") for bits in (8, 16, 32, 64))]
)


def refusal(head: bytes, _path: Path) -> str:
    """Return "" for version 5 or 7.3, by the version and byte-order field at byte 124."""
    return "" if _version(head) in (5, 7) else "does not carry the mark of MAT 5 or 7.3"


def _version(head: bytes) -> int:
    field = head[124:128]
    order = {b"IM": "little", b"MI": "big"}.get(field[2:])
    if order is None:
        return 0
    number = int.from_bytes(field[:2], "little" if order == "little" else "big")
    return {0x0100: 5, 0x0200: 7}.get(number, 0)


def read(ask: Ask) -> Capture:
    """Read one variable of a MAT file; single values and texts beside it are facts."""
    with ask.path.open("rb") as file:
        head = file.read(128)
    if _version(head) == 7:
        return read_named(ask, "mat", _TITLE)
    from scipy.io import loadmat, whosmat  # noqa: PLC0415 – takes long to import

    def load(name: str) -> NDArray[Any]:
        array: NDArray[Any] = loadmat(ask.path, variable_names=[name])[name]
        return array

    def stored(name: str, shape: tuple[int, ...]) -> Stored:
        def columns(notes: list[str]) -> list[Column]:
            return array_columns(ask, name, load(name), notes)

        return Stored(name, shape, columns, lambda: load(name))

    with translated(ask.path, _TITLE):
        inside = whosmat(ask.path)
        single = [n for n, shape, kind in inside if _is_single(shape, kind)]
        pairs = [(n, load(n)) for n in single]
        arrays = [stored(n, s) for n, s, kind in inside if kind in _NUMBERS and n not in single]
        others = [n for n, _, kind in inside if kind not in {*_NUMBERS, "char", "logical"}]
        notes = [f"left out, being no plain arrays: {named_list(others)}"] if others else []
        return arrays_to_capture(ask, arrays, pairs, reader="mat", notes=notes)


def _is_single(shape: tuple[int, ...], kind: str) -> bool:
    """Whether a variable is one number or one line of text."""
    if kind == "char":
        return shape[0] == 1
    return kind in _NUMBERS and all(length == 1 for length in shape)


READER = Reader("mat", _TITLE, refusal, read)
