"""Invented contents beside the mains, put in by hand: families, floor, bursts, offset."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

import numpy as np
from report.handmade import CASES, HUM, examination, quantity
from report.handmade_against import with_reference, with_trigger, without_a_place

from straypath.contents.families.aliases import folding_onto
from straypath.contents.plan.answerable import answerable
from straypath.contents.records import (
    BesideMains,
    Burst,
    Bursts,
    Course,
    Family,
    Floor,
    Line,
    Match,
    Offset,
    Undetermined,
)
from straypath.floor_budget import budget_of
from straypath.quantity import Quantity, UpperLimit

if TYPE_CHECKING:
    from straypath.inquiry import Examination

RATE = 5000.0

USB = Match("usb-frame", "USB frame", "USB 2.0", 1000.0, 0.04)
TIMER = Match("timer-tick", "timer tick", "common practice, no source", 1000.0, 0.31)
LAMP = Match("lamp-pulses", "pulse-width dimmed lamp", "common practice, no source", 100.0, 0.0)
SHAFT = Match("shaft", "shaft of a motor or fan: speed/60", "exact formula", 5.0, 0.0)
CHARGER = Match("charger-bursts", "bursts of a charger", "common practice, no source", 20.0, 0.0)
MOTOR = Match("brushed-motor", "brushed motor", "common practice, no source", 50.0, 0.0)
HALF_WAVE = Match("half-wave-load", "half-wave rectified load", "common practice", 50.0, 0.39)
FOLDED = Match("time-signal", "time signal <60 kHz>", "ITU-R TF.768", 60e3, 0.2, alias=True)


def line(
    hz: float,
    rms: float,
    *,
    beside: BesideMains | None = None,
    width: float | None = None,
    converted: bool = False,
    folds: bool = True,
) -> Line:
    """Return a line, or a narrow band where it has a width."""
    return Line(
        frequency_hz=quantity(hz, 2e-4 if width is None else width / 10),
        rms=quantity(rms, rms / 100),
        phase_rad=quantity(0.4, 0.01) if width is None else None,
        p_value=1e-12,
        floor=(rms / 300) ** 2,
        width_hz=quantity(width, width / 12) if width is not None else None,
        beside=beside,
        conversion_product=converted,
        true_hz=folding_onto(hz, RATE, 4 * RATE) if folds else (),
    )


def family(
    kind: str, rate_hz: float, lines: tuple[Line, ...], orders: tuple[int, ...], **more: object
) -> Family:
    """Return a family whose rms is that of its lines together."""
    rms = float(np.hypot.reduce([one.rms.value for one in lines]))
    more.setdefault("beside", lines[0].beside)
    rate = quantity(rate_hz, lines[0].frequency_hz.u)
    return Family(kind, rate, quantity(rms, rms / 100), lines, orders, **more)  # type: ignore[arg-type]


def single(hz: float, rms: float, matches: tuple[Match, ...] = (), **more: object) -> Family:
    """Return a family of one line."""
    return family("single", hz, (line(hz, rms, **more),), (1,), matches=matches)  # type: ignore[arg-type]


def every_kind(size: float = 1.0) -> tuple[Family, ...]:
    """Return one family of each kind, and each thing that can be said of one."""
    near = BesideMains(20, 0.26, 812.0, separate=True)
    same = BesideMains(6, 0.002, 0.7, separate=False)
    clock = tuple(line(1000.0 * k, 4e-4 / k * size, folds=False) for k in (1, 2))
    sides = tuple(
        line(1700.3 + k * 49.987, a * size) for k, a in ((-1, 3e-5), (0, 2e-4), (1, 3e-5))
    )
    loose = tuple(line(2100.0 + k * 30.0, 2e-5 * size) for k in (-1, 1))
    return (
        family("clock", 1000.0, clock, (1, 2), matches=(USB, TIMER, LAMP, MOTOR), beside=near),
        family(
            "carrier", 1700.3, sides, (-1, 0, 1),
            matches=(LAMP, HALF_WAVE, SHAFT), spacing_hz=quantity(49.9871, 2e-4),
        ),
        family("carrier", 2100.0, loose, (-1, 1), spacing_hz=quantity(30.0, 1e-3)),
        family("clock", 24.3, (line(48.6, 3e-5 * size), line(72.9, 2e-5 * size)), (2, 3)),
        single(217.0, 9e-5 * size, (FOLDED, SHAFT, CHARGER, LAMP, MOTOR), converted=True),
        single(299.924, 6e-5 * size, beside=same),
        family("narrow-band", 640.0, (line(640.0, 5e-5 * size, width=3.0),), (1,)),
        family(
            "narrow-band", 900.0, (line(900.0, 5e-6 * size, width=40.0, beside=same),), (1,)
        ),
    )  # fmt: skip


def floor(white: float = 22e-6, *, shaped: bool = True, corner: object = None) -> Floor:
    """Return a floor with a 1/f corner at 12 Hz, up to half the rate."""
    at = tuple(float(f) for f in np.geomspace(1.0, RATE / 2, 30))
    density = tuple(quantity(white * np.sqrt(1 + 12.0 / f), white / 25) for f in at)
    if not shaped:
        return Floor(at, density, None, None)
    limit = corner if corner is not None else quantity(12.0, 2.0)
    slope = quantity(1.0, 0.1) if isinstance(limit, Quantity) else None
    return Floor(at, density, quantity(white, white / 50), limit, slope)  # type: ignore[arg-type]


def bursts(count: int = 9, *, peak: float = 0.3, **more: object) -> Bursts:
    """Return bursts spread evenly over 4 s."""
    found = tuple(
        Burst(4.0 * (k + 0.5) / count, 1.5e-4, peak * (-1) ** k * (1 + k / count), 1e-6, 0.3)
        for k in range(min(count, 500))
    )
    return Bursts(found, count, peak / 10, **more)  # type: ignore[arg-type]


def course(size: float = 1.0) -> Course:
    """Return levels of which order 1 swells, order 3 keeps steady and the floor falls."""
    times = tuple(0.05 + 0.1 * k for k in range(40))
    return Course(
        times_s=times,
        orders=(1, 3),
        rms=(
            tuple(size * (0.04 + 0.01 * t) for t in times),
            tuple(size * (9e-4 + 1e-6 * (-1) ** k) for k in range(40)),
        ),
        rms_u=(size * 1e-5, size * 1e-5),
        floor=tuple(size * 22e-6 * (2.0 - t / 4) for t in times),
        floor_u=0.03,
    )


LOCKED = {"locked_p": 1e-9, "locked": True, "per_cycle": 2, "locked_test": "Rayleigh test; sure"}

OFFSET = Offset(
    mean=quantity(1.2e-3, 1e-4),
    slope_per_s=quantity(-2e-5, 3e-6),
    steps=tuple(
        (at, quantity(size, 1e-4))
        for at, size in ((0.5, 1e-3), (1.2, 2e-3), (2.5, -3e-3), (3.1, 4e-3))
    ),
)
STILL = replace(OFFSET, slope_per_s=quantity(1e-6, 3e-6), steps=())
UNSAID = (Undetermined("drift of the offset", "The record of 4 s is too short."),)


def scaled(offset: Offset, size: float) -> Offset:
    """Return an offset in another unit."""
    return Offset(
        offset.mean.scaled(size),
        offset.slope_per_s.scaled(size),
        tuple((at, jump.scaled(size)) for at, jump in offset.steps),
    )


def holding(made: Examination, **contents: object) -> Examination:
    """Return an examination whose channels hold more than the mains."""
    return replace(
        made,
        channels=tuple(
            replace(found, contents=replace(found.contents, **contents))  # type: ignore[arg-type]
            for found in made.channels
        ),
    )


def everything(size: float = 1.0, **more: object) -> Examination:
    """Return an examination with all that there is to say."""
    hum = {order: (rms * size, phase) for order, (rms, phase) in HUM.items()}
    return holding(
        examination(hum, density=22e-6 * size, **more),  # type: ignore[arg-type]
        families=every_kind(size),
        floor=floor(22e-6 * size),
        bursts=bursts(peak=0.3 * size, **LOCKED),
        offset=scaled(OFFSET, size),
        course=course(size),
        undetermined=UNSAID,
    )


def budgeted(made: Examination, **known: float) -> Examination:
    """Return an examination whose floor stands beside what is known of source and converter."""
    found = made.channels[0]
    budget = budget_of(found.contents.floor, RATE, unit=found.channel.unit, **known)
    return replace(made, channels=(replace(found, budget=budget),))


def unanswered(made: Examination) -> Examination:
    """Return an examination of a record that is too short for two of its questions."""
    answers = answerable(0.05, RATE, floor=22e-6, mains_hz=49.987)
    return replace(made, channels=(replace(made.channels[0], answers=answers),))


CONTENTS_CASES = {
    "everything": everything,
    "everything in counts": lambda: everything(1e6, unit=""),
    "everything in a long unit": lambda: everything(1e3, unit="ADC counts"),
    "strong line": lambda: holding(
        examination(HUM),
        families=(single(1234.0, 0.07, (USB,)),),
        floor=floor(shaped=False),
        bursts=bursts(0),
        offset=STILL,
    ),
    "line without mains": lambda: holding(
        examination({}, present=False),
        families=(single(810.2, 2e-3),),
        floor=floor(corner=UpperLimit(1.7)),
        bursts=bursts(1, locked_p=None),
    ),
    "many families": lambda: holding(
        examination(HUM, rate=RATE),
        families=tuple(single(103.0 + 37.0 * k, 2e-4 / (k + 1)) for k in range(60)),
        floor=floor(),
        bursts=bursts(1200, locked_p=0.34, locked_test="Rayleigh test; no tie"),
        offset=STILL,
    ),
    "lines far up": lambda: holding(
        examination(HUM, rate=200_000.0, seconds=1.0),
        families=(
            single(67_000.3, 2e-3),
            family("clock", 12e3, tuple(line(12e3 * k, 1e-3 / k) for k in (1, 2, 5)), (1, 2, 5)),
            family("narrow-band", 41e3, (line(41e3, 3e-4, width=900.0),), (1,)),
        ),
        floor=Floor(
            tuple(float(f) for f in np.geomspace(5, 1e5, 40)),
            tuple(quantity(22e-6 * np.sqrt(1 + 300 / f), 1e-6) for f in np.geomspace(5, 1e5, 40)),
            quantity(22e-6, 4e-7),
            quantity(300.0, 40.0),
            quantity(1.0, 0.05),
        ),
    ),
    "nothing but a floor": lambda: holding(
        examination({}, present=False),
        floor=Floor((100.0,), (quantity(22e-6, 5e-6),), None, None),
        bursts=Bursts((), 3, 0.02),
        course=Course((0.5, 1.5, 2.5, 3.5), floor=(2e-5, 2.1e-5, 1.9e-5, 2e-5), floor_u=0.05),
    ),
    "numbers without end": lambda: holding(
        examination(HUM),
        families=(
            replace(
                single(700.0, 1e-3, beside=BesideMains(14, 0.0, inf, separate=True)),
                rms=Quantity(1e-3, inf, -inf, inf),
            ),
        ),
        floor=Floor((), (), None, None),
    ),
    "against a reference": lambda: with_reference(
        holding(examination(HUM), families=(single(1234.0, 2e-3),), floor=floor())
    ),
    "against a trigger": lambda: with_trigger(holding(examination(HUM), floor=floor())),
    "noise budget": lambda: budgeted(
        holding(examination(HUM), floor=floor()), source_ohm=3e9, bits=12, step=1e-3
    ),
    "takes another record": lambda: unanswered(examination(HUM)),
    "trigger without a place": lambda: without_a_place(examination(HUM)),
}
"""What pages, documents and figures must say beside the mains."""

ALL_CASES = {**CASES, **CONTENTS_CASES}
