"""One channel against a reference channel, or against a trigger on the mains line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straypath.contents.pair.difference import difference_over_lines
from straypath.contents.pair.records import Difference, MainsPhases, Transfer
from straypath.contents.pair.reference import CAUTION, phases_against_reference
from straypath.contents.pair.transfer import line_transfer
from straypath.contents.records import Undetermined
from straypath.errors import InputError

if TYPE_CHECKING:
    from straypath.capture.capture import Channel
    from straypath.contents.whole import Contents

WHAT = "comparison with the reference"
MOST_LINES = 24
"""The strongest lines beside the mains that are compared."""

MOST_ORDER = 40


@dataclass(frozen=True)
class Against:
    """What a channel shows against a reference.

    Parameters
    ----------
    reference : str or None
        Name of the reference channel; None where a trigger on the mains is the reference.
    transfer : Transfer or None
    phases : MainsPhases or None
        Phases of the mains orders.
    difference : Difference or None
    undetermined : tuple of Undetermined
        What could not be told, with the reason.
    cautions : tuple of str
        To be shown wherever this is shown.
    """

    reference: str | None
    transfer: Transfer | None = None
    phases: MainsPhases | None = None
    difference: Difference | None = None
    undetermined: tuple[Undetermined, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def assumptions(self) -> tuple[str, ...]:
        """All that was taken for granted."""
        parts = (self.transfer, self.phases, self.difference)
        return tuple(text for part in parts if part is not None for text in part.assumptions)


def against_reference(
    y: Channel, reference: Channel, rate_hz: float, held: Contents, held_by_reference: Contents
) -> Against:
    """Compare a channel with a reference: transfer, phases of the mains orders, difference.

    Parameters
    ----------
    y, reference : Channel
        Two channels of one capture, over the same stretch.
    rate_hz : float
        [Hz].
    held, held_by_reference : Contents
        Of both. Compared are the mains orders seen in either, and the strongest lines of y.

    A record that cannot be compared says why in `undetermined`; it is no error.

    Validity: as `line_transfer`, `phases_against_reference` and `difference_over_lines`.
    """
    mains_hz = mains_of(held_by_reference, held)
    seen = _orders(held) if mains_hz is not None else []
    orders = sorted({*seen, *_orders(held_by_reference)})
    other_hz = _lines(held)
    cautions = (CAUTION,)
    if not orders and not other_hz:
        why = "Neither channel shows the mains, and this one no other line."
        return Against(reference.name, undetermined=(Undetermined(WHAT, why),), cautions=cautions)
    try:
        transfer = line_transfer(
            y, reference, rate_hz, mains_hz=mains_hz, orders=orders, other_hz=other_hz
        )
        difference = difference_over_lines(
            y, reference, rate_hz, mains_hz=mains_hz, orders=orders, other_hz=other_hz
        )
        phases = None
        if mains_hz is not None:
            phases = phases_against_reference(
                y, reference, rate_hz, mains_hz=mains_hz, orders=seen or orders
            )
    except InputError as error:
        why = f"{error.what[:1].upper()}{error.what[1:]}. {error.advice}".strip()
        return Against(reference.name, undetermined=(Undetermined(WHAT, why),), cautions=cautions)
    lost = transfer.undetermined
    if isinstance(difference, Undetermined):
        lost += (difference,)
    return Against(
        reference.name,
        transfer,
        phases,
        difference if isinstance(difference, Difference) else None,
        lost,
        cautions,
    )


def mains_of(*held: Contents) -> float | None:
    """Return the mains frequency of the first channel that shows mains [Hz]."""
    for contents in held:
        if contents.mains.present and contents.mains.frequency_hz is not None:
            return contents.mains.frequency_hz.value
    return None


def _orders(held: Contents) -> list[int]:
    return [line.order for line in held.mains.detected if line.order <= MOST_ORDER]


def _lines(held: Contents) -> list[float]:
    """Frequencies of the strongest lines; a band has no phase to compare."""
    lines = [line for family in held.families for line in family.lines if line.width_hz is None]
    strongest = sorted(lines, key=lambda line: -line.rms.value)[:MOST_LINES]
    return [line.frequency_hz.value for line in strongest]
