"""Invented comparisons with a reference, put in by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from report.handmade import quantity

from straypath.contents.pair.against import Against
from straypath.contents.pair.records import (
    Difference,
    LineRejection,
    LineTransfer,
    MainsPhases,
    OrderPhase,
    Transfer,
)
from straypath.contents.pair.reference import CAUTION
from straypath.contents.records import Undetermined
from straypath.quantity import UpperLimit

if TYPE_CHECKING:
    from straypath.inquiry import Examination

PHASES = MainsPhases(
    orders=(OrderPhase(1, quantity(-0.0628, 1e-4)), OrderPhase(5, quantity(2.9, 0.02))),
    against="the peak of the reference's fundamental",
    cautions=(CAUTION,),
    assumptions=("The reference follows the mains without a phase of its own.",),
)


def transfer(unit: str = "V/A") -> Transfer:
    """Return eight orders and a line that does not keep step."""
    orders = tuple(
        LineTransfer(
            order * 49.987,
            order,
            quantity(0.0103 / order, 2e-5),
            quantity(-0.06 * order, 2e-3),
            0.999,
            1e-12,
            coherent=True,
        )
        for order in (1, 3, 5, 7, 9, 11, 13)
    )
    apart = LineTransfer(1234.0, None, UpperLimit(310.0), None, 0.08, 0.2, coherent=False)
    silent = LineTransfer(99.974, 2, None, None, 0.02, 0.6, coherent=False)
    lost = Undetermined("transfer at 99.974 Hz", "channel x holds nothing at this line")
    return Transfer(
        (*orders, apart, silent), unit, 19, 0.2, 0.01, 0.38, (lost,),
        ("Both channels were sampled at the same instants.",),
    )  # fmt: skip


def difference(**changed: object) -> Difference:
    """Return a difference of two lines whose residual is seen."""
    line = LineRejection(
        49.987, 1, quantity(0.04, 1e-5), quantity(3e-4, 1e-5), quantity(42.5, 0.3), 42.0
    )
    made = Difference(
        "lines", quantity(-0.0103, 2e-5), quantity(2e-4, 1e-6), "V/A", quantity(3e-4, 1e-5),
        quantity(42.5, 0.3), 42.0, misfit_p=1e-4, lines=(line, replace(line, order=3)),
    )  # fmt: skip
    return replace(made, **changed)  # type: ignore[arg-type]


def compared(made: Examination, against: Against) -> Examination:
    """Return an examination with a comparison put into its first channel."""
    first = replace(made.channels[0], against=against)
    return replace(made, channels=(first, *made.channels[1:]))


def with_reference(made: Examination) -> Examination:
    """Return an examination that was compared with a channel."""
    table = transfer()
    return compared(
        made, Against("mains", table, PHASES, difference(), table.undetermined, (CAUTION,))
    )


def with_trigger(made: Examination) -> Examination:
    """Return an examination of a capture triggered on the mains."""
    phases = replace(PHASES, against="the trigger on the mains line", cautions=())
    return compared(made, Against(None, phases=phases))


def without_a_place(made: Examination) -> Examination:
    """Return an examination of a capture whose trigger may be anywhere."""
    why = "It is not known where in the record the trigger sits."
    return compared(made, Against(None, phases=MainsPhases((), "the trigger", why)))
