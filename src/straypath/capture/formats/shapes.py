"""Which arrays of a file are the samples, and which axis of an array is time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from straypath.capture.formats.assemble import Column
from straypath.capture.formats.base import named_list, several
from straypath.errors import DamagedFile, InputError, NeedsFact

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from straypath.capture.formats.base import Ask

_NO_ARRAY = "Save the samples as a plain array of two or more numbers."
_SAMPLE_NAMES = ("samples", "data", "signal", "waveform", "values")


def choose(ask: Ask, names: list[str], but: str = "") -> str:
    """Return the array to read: the one asked for, the only one, or the one named as samples.

    `but` says what there is instead, such as ", only the structure "s"".
    """
    if ask.dataset is not None:
        wanted = ask.dataset.strip("/")
        if wanted in names:
            return wanted
        raise InputError(
            f'holds no array of numbers named "{ask.dataset}"',
            where=str(ask.path),
            advice=f"There are: {named_list(names)}." if names else _NO_ARRAY,
        )
    if not names:
        raise DamagedFile(f"holds no array of numbers{but}", where=str(ask.path), advice=_NO_ARRAY)
    if len(names) == 1:
        return names[0]
    usual = [n for n in names if n.rpartition("/")[2].lower() in _SAMPLE_NAMES]
    if len(usual) == 1:
        return usual[0]
    raise NeedsFact(
        f"holds {len(names)} arrays ({named_list(names)})",
        where=str(ask.path),
        advice=f'Name one (--dataset, dataset), such as "{names[0]}".',
    )


def layout(ask: Ask, shape: tuple[int, ...], notes: list[str]) -> tuple[int, int]:
    """Return (axis of time, number of channels) of an array with one or two axes.

    The longer axis is time, unless the number of channels is given.
    """
    if len(shape) == 1:
        if ask.interleaved not in (None, 1):
            raise InputError(
                f"holds {shape[0]} numbers in one row, not {ask.interleaved} channels",
                where=str(ask.path),
                advice="Leave their number (--interleaved, interleaved) out.",
            )
        return 0, 1
    if len(shape) != 2:
        raise InputError(
            f"holds an array with {len(shape)} axes",
            where=str(ask.path),
            advice="Expected are samples, or channels by samples.",
        )
    if ask.interleaved is not None:
        if ask.interleaved not in shape:
            wanted = several(ask.interleaved, "channel")
            raise InputError(
                f"holds {shape[0]} by {shape[1]} numbers, not {wanted}",
                where=str(ask.path),
                advice="Give one of the two (--interleaved, interleaved), or leave it out.",
            )
        axis = 0 if shape[1] == ask.interleaved else 1
    else:
        axis = 0 if shape[0] >= shape[1] else 1
        if max(shape) < 10 * min(shape):
            notes.append(f"the longer axis is taken as time: {several(shape[1 - axis], 'channel')}")
    return axis, shape[1 - axis]


def array_columns(ask: Ask, name: str, array: NDArray[Any], notes: list[str]) -> list[Column]:
    """Return the channels of an array as views of it.

    The fields of a structured array are channels; a complex channel becomes two, I and Q.
    """
    if array.dtype.names:
        return [
            column
            for field in array.dtype.names
            for column in _field_columns(ask, field, array[field], notes)
        ]
    check_numeric(ask, array.dtype)
    if array.ndim > 2:
        array = array.squeeze()
    if array.ndim == 0:
        array = array.reshape(1)
    axis, count = layout(ask, array.shape, notes)
    parts = [array]
    if array.ndim == 2:
        parts = [array[:, i] if axis == 0 else array[i] for i in range(count)]
    return [
        column
        for number, part in enumerate(parts, 1)
        for column in _one_or_two(channel_name(name, number, count), part, notes)
    ]


def _field_columns(ask: Ask, name: str, array: NDArray[Any], notes: list[str]) -> list[Column]:
    if array.dtype.kind in "iufc":
        return array_columns(ask, name, array, notes)
    if array.dtype.kind in "mM" and array.ndim == 1:  # serves as the time alone
        return [Column(name, frozen(array))]
    notes.append(f'field "{name}" ({array.dtype}) is left out')
    return []


def check_numeric(ask: Ask, dtype: np.dtype[Any]) -> None:
    """Refuse an array of anything but numbers."""
    if dtype.kind not in "iufc":
        raise InputError(
            f"holds an array of {dtype}, not of numbers",
            where=str(ask.path),
            advice="Save the samples as integers or floats.",
        )


def channel_name(name: str, number: int, count: int) -> str:
    """Return the name of one channel of an array."""
    return name if count == 1 else f"{name} {number}".strip() if name else f"channel {number}"


def _one_or_two(name: str, part: NDArray[Any], notes: list[str]) -> list[Column]:
    if part.dtype.kind != "c":
        return [Column(name, frozen(part))]
    notes.append(COMPLEX_NOTE)
    return [
        Column(f"{name} I".strip(), frozen(part.real)),
        Column(f"{name} Q".strip(), frozen(part.imag)),
    ]


COMPLEX_NOTE = "complex samples are read as two channels, I (real) and Q (imaginary)"


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Return a view of the array that cannot be written to."""
    view = array.view()
    view.flags.writeable = False
    return view
