"""Invented records with combs put in by hand, so that presentation is tested without estimators."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from straypath.capture.capture import Capture, Channel
from straypath.capture.soundness import Finding, Soundness
from straypath.contents.comb import SHORTER_THAN_A_CYCLE
from straypath.contents.records import MainsComb, MainsLine, Wander
from straypath.contents.whole import Contents
from straypath.inquiry import ChannelContents, Examination
from straypath.quantity import Quantity, UpperLimit

Lines = dict[int, tuple[float, float]]
"""Order to (rms in the unit, phase at the centre in rad)."""

HUM: Lines = {
    1: (41.3e-3, 1.97), 2: (19e-6, 0.4), 3: (0.86e-3, 2.41), 5: (1.12e-3, -0.62), 6: (12e-6, 1.0),
    7: (0.61e-3, 0.35), 9: (0.15e-3, -2.0), 11: (0.33e-3, 1.2), 13: (0.19e-3, 0.1),
    15: (41e-6, 2.2), 17: (90e-6, -1.1), 19: (51e-6, 0.7),
}  # fmt: skip


def quantity(value: float, u: float) -> Quantity:
    """Return a quantity with the normal 95 % interval."""
    return Quantity(value, u, value - 1.96 * u, value + 1.96 * u)


def samples(
    lines: Lines, f0: float, rate: float, seconds: float, density: float, *, drift: float = 0.0
) -> np.ndarray:
    """Return hum and white noise of a density [unit/√Hz] with a slow drift [unit]."""
    rng = np.random.default_rng(7)
    n = round(rate * seconds)
    t = (np.arange(n) - (n - 1) / 2) / rate
    x = rng.normal(0, density * np.sqrt(rate / 2), n) + drift * np.sin(2.2 * t / seconds * 3)
    for order, (rms, phase) in lines.items():
        x += np.sqrt(2) * rms * np.cos(2 * np.pi * order * f0 * t + phase)
    return x


def comb(
    lines: Lines,
    f0: float,
    rate: float,
    seconds: float,
    density: float,
    *,
    orders: int = 20,
    present: bool = True,
    wander: Wander | None = None,
    probability: float = 0.999,
) -> MainsComb:
    """Return the record that an estimator should give for such samples."""
    u = density / np.sqrt(2 * seconds)
    uf = u / max((lines.get(1) or (1.0, 0))[0], 4 * u) / seconds
    frequency = quantity(f0, uf)
    orders = min(orders, int(rate / 2 / f0 * 0.98))
    made = []
    for order in range(1, orders + 1):
        seen = order in lines and lines[order][0] > 3.5 * u
        rms, phase = lines.get(order, (0.0, 0.0))
        made.append(
            MainsLine(
                order,
                frequency.scaled(order),
                quantity(rms, u) if seen else UpperLimit(2.6 * u),
                quantity(phase, u / rms) if seen else None,
                seen,
                density**2,
            )
        )
    power = sum(rms**2 for rms, _ in lines.values())
    total = power + density**2 * rate / 2
    readable = seconds * f0 >= 1.0
    return MainsComb(
        present=present and readable,
        false_alarm_rate=1e-3,
        p_value=1e-12 if present else 0.4,
        nominal_hz=round(f0 / 10) * 10.0,
        nominal_probability=probability,
        frequency_hz=frequency if present and readable else None,
        rms=(quantity(np.sqrt(power), u) if present else UpperLimit(5 * u)) if readable else None,
        share=power / total if present and readable else 0.0,
        lines=tuple(made) if readable else (),
        wander=wander,
        assumptions=("the floor is smooth over a few cycles of the mains",) if readable else (),
        unread="" if readable else SHORTER_THAN_A_CYCLE,
    )


def capture(
    *channels: Channel, rate: float = 5000.0, name: str = "start.csv", **more: object
) -> Capture:
    """Return a capture marked as invented."""
    more.setdefault("notes", ("invented data",))
    return Capture(channels, rate, path=Path(name), format="text", **more)  # type: ignore[arg-type]


def soundness(*findings: Finding, stretch: tuple[int, int], questions: tuple[str, ...] = ()):
    """Return what the check should say about a record that nothing else is known of."""
    return Soundness(
        findings=findings,
        codes_used=7900,
        codes_available=65536,
        step=1e-5,
        range_used=0.4,
        clipped_share=0.0,
        missing_share=0.0,
        mean=0.0,
        rms_about_mean=0.04,
        low=-0.06,
        high=0.06,
        stretch=stretch,
        questions=questions,
    )


FOLD = Finding(
    "alias",
    "caution",
    "Anything above 2.5 kHz would fold back into this record.",
    "A record at 8 000 samples/s would tell.",
)


def examination(
    lines: Lines,
    *,
    f0: float = 49.987,
    rate: float = 5000.0,
    seconds: float = 4.0,
    density: float = 22e-6,
    unit: str = "V",
    names: tuple[str, ...] = ("electrode",),
    findings: tuple[Finding, ...] = (),
    questions: tuple[str, ...] = (),
    file: str = "start.csv",
    notes: tuple[str, ...] = ("invented data",),
    drift: float = 0.0,
    **more: object,
) -> Examination:
    """Return an examination whose comb is what was put in."""
    raw = samples(lines, f0, rate, seconds, density, drift=drift)
    made = comb(lines, f0, rate, seconds, density, **more)  # type: ignore[arg-type]
    said = soundness(*findings, stretch=(0, len(raw)), questions=questions)
    channels = tuple(Channel(name, raw, unit) for name in names)
    return Examination(
        capture(*channels, rate=rate, name=file, notes=notes),
        tuple(ChannelContents(c, said, Contents(made), (0, len(raw))) for c in channels),
    )


CASES = {
    "hum": lambda: examination(HUM, findings=(FOLD,), drift=8e-3),
    "nothing found": lambda: examination({}, present=False),
    "short": lambda: examination(
        {1: (41.3e-3, 0.3), 3: (2e-3, 1.0)}, seconds=0.03, rate=1e4, probability=0.81
    ),
    "less than a cycle": lambda: examination(
        {1: (0.1, 0.0)}, seconds=0.012, rate=5e4, probability=0.6
    ),
    "60 Hz": lambda: examination(
        {1: (1.2, 0.0), 2: (0.3, 1.0), 3: (0.2, 1.0), 4: (0.12, 0.0)},
        f0=60.004, density=1e-5, orders=40,
    ),
    "counts": lambda: examination({1: (412.0, 0.0), 3: (30.0, 1.0)}, unit="", density=0.8),
    "long unit": lambda: examination({1: (4e4, 0.0)}, unit="ADC counts", density=2.0),
    "small current": lambda: examination(
        {1: (2.1e-9, 0.0), 5: (0.8e-9, 0.3)}, unit="A", density=2e-10, rate=2000.0, seconds=20.0
    ),
    "many channels": lambda: examination(
        HUM, names=tuple(f"in {n}" for n in range(1, 11)), seconds=0.6
    ),
    "wanders": lambda: examination(
        HUM, seconds=20.0, rate=2000.0,
        wander=Wander((2.0, 6.0, 10.0, 14.0, 18.0), (49.972, 49.981, 49.99, 50.003, 49.989)),
        findings=(
            Finding("clipping", "unsound", "3 % of the samples are clipped.", "Widen the range."),
            Finding("gaps", "note", "A long name " * 14, "And what to do about it."),
        ),
        questions=("Was the averaging triggered on the mains?",),
    ),
}  # fmt: skip
"""What figures and pages must cope with."""
