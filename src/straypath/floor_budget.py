"""The measured floor beside what source and converter explain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straypath.physics.noise_budget import floor_budget

if TYPE_CHECKING:
    from typing import Any

    from straypath.contents.records import Floor
    from straypath.quantity import Quantity


@dataclass(frozen=True)
class BudgetItem:
    """What explains a part of the floor: its density [unit/√Hz] and share of the noise power."""

    name: str
    density: float
    share: float


@dataclass(frozen=True)
class FloorBudget:
    """How the floor compares with what is known of source and converter.

    Parameters
    ----------
    times : Quantity or None
        Floor over what all items explain together; None where `why_not` says why.
    frequency_hz : float
        Where they are compared [Hz].
    explained : float
        Density of all items together [unit/√Hz].
    items : tuple of BudgetItem
        Largest first.
    why_not : str
    assumptions : tuple of str
    """

    times: Quantity | None
    frequency_hz: float = 0.0
    explained: float = 0.0
    items: tuple[BudgetItem, ...] = ()
    why_not: str = ""
    assumptions: tuple[str, ...] = ()


def budget_of(
    floor: Floor | None,
    rate_hz: float,
    *,
    unit: str,
    source_ohm: float | None = None,
    bits: int | None = None,
    full_scale: tuple[float, float] | None = None,
    step: float | None = None,
) -> FloorBudget | None:
    """Compare a floor with the noise of source and converter.

    times = S/√(4kT·R_S + Δ²/(6 fs)), S the white level of the floor, or its quietest point where
    it has none. Δ is full scale/2^bits, else the step of the values where the bits are known.

    Parameters
    ----------
    floor : Floor or None
        As it was measured.
    rate_hz : float
        [Hz].
    unit : str
        Of the channel; the noise of a source is in volts.
    source_ohm : float or None
        R_S [Ω].
    bits : int or None
        Of the converter; without them a step may be that of the numbers in the file.
    full_scale : (float, float) or None
        Lowest and highest value of the converter [unit].
    step : float or None
        Distance of neighbouring values [unit].

    Returns None where nothing is known that could explain a floor.

    Validity: as `floor_budget`. The input's own resistance, capacitance and noise are not known
    and left out, so the source counts in full.

    Example
    -------
    >>> from straypath.contents.records import Floor
    >>> from straypath.quantity import Quantity
    >>> white = Quantity(26e-9, 1e-9, 24e-9, 28e-9)
    >>> made = budget_of(Floor((1e3,), (white,), white, None), 1e4, unit="V", source_ohm=10e3)
    >>> round(made.times.value, 1)
    2.0
    """
    known = _converter(bits, full_scale, step)
    if source_ohm is None and not known:
        return None
    if source_ohm is not None and unit != "V":
        in_what = f"in {unit}" if unit else "without a unit"
        return FloorBudget(None, why_not=f"The source's noise is in volts, the channel {in_what}.")
    if floor is None or not floor.density:
        return FloorBudget(None, why_not="No floor was read.")
    quietest = min(range(len(floor.density)), key=lambda i: floor.density[i].value)
    at_hz, measured = floor.frequency_hz[quietest], floor.white or floor.density[quietest]
    budget = floor_budget(at_hz, source_ohm=source_ohm, rate_hz=rate_hz, **known)
    explained = float(budget.total)
    items = [
        BudgetItem(_name(part.name), float(part.density), float(budget.share(part.name)))
        for part in budget.parts
    ]
    left_out = "The input's own resistance, capacitance and noise are left out of the noise budget."
    return FloorBudget(
        times=measured.scaled(1.0 / explained),
        frequency_hz=at_hz,
        explained=explained,
        items=tuple(sorted(items, key=lambda item: -item.share)),
        assumptions=(*budget.assumptions, *([left_out] if source_ohm is not None else [])),
    )


def _converter(
    bits: int | None, full_scale: tuple[float, float] | None, step: float | None
) -> dict[str, Any]:
    """Return what is known of the converter's step; a bare grid may be that of the file."""
    if bits is None or not 1 <= bits <= 64:
        return {}
    if full_scale is not None and full_scale[1] > full_scale[0]:
        return {"span": full_scale[1] - full_scale[0], "bits": bits}
    return {"step": step} if step else {}


def _name(part: str) -> str:
    """Return a part's name; without an input resistance there is only the source."""
    return "source" if part == "source and input resistance" else part
