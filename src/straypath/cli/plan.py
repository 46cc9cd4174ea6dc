"""The plan command: which recording answers a question, and which questions a recording answers."""

# Heavy libraries are imported where they are used, so that help comes at once.
# ruff: noqa: PLC0415

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import App, Group, Parameter

from straypath.cli.outcome import DONE, Outcome
from straypath.cli.terminal import show, write
from straypath.errors import InputError
from straypath.units import parse_density, parse_value

if TYPE_CHECKING:
    from straypath.contents.plan.records import Plan, Verdict

LEVEL_UNITS = ("V", "A", "Pa", "T", "N", "K", "C")
"""Units that a level may have; the floor then has the same per √Hz."""


@dataclass(frozen=True)
class PlanOutcome(Outcome):
    """The exit code, with the plan or the verdicts."""

    plan: Plan | None = None
    verdicts: tuple[Verdict, ...] = ()


plan = App(
    name="plan",
    help="""Say how to record so that a question is answered.

    Values are texts with their units: '20 ms', '2 mV', '10 nV/√Hz' (or nV/rtHz), '5 %'.
    """,
    usage="straypath plan QUESTION [values] [options]",
    sort_key=3,
    group_commands=Group("Questions"),
    group_arguments=Group("Values"),
    group_parameters=Group("Options"),
)
plan["--help"].help = "Show this help."

Json = Annotated[bool, Parameter(help="Write JSON for other programs instead of the page.")]
Floor = Annotated[
    str | None,
    Parameter(metavar="DENSITY", help="Noise density under the lines, such as '10 nV/√Hz'."),
]
Step = Annotated[
    str | None,
    Parameter(metavar="STEP", help="Step of the converter, where it is fixed, such as '1 mV'."),
]


@plan.command(name="tell-mains", sort_key=1, usage="straypath plan tell-mains [options]")
def tell_mains(
    *,
    duration: Annotated[
        str | None, Parameter(metavar="TIME", help="Length of the record, such as 20ms.")
    ] = None,
    level: Annotated[
        str | None, Parameter(metavar="LEVEL", help="Hum at the fundamental, rms, such as '1 mV'.")
    ] = None,
    floor: Floor = None,
    between: Annotated[
        tuple[str, str],
        Parameter(metavar="HZ HZ", help="The two mains frequencies; 50 Hz and 60 Hz when absent."),
    ] = ("50 Hz", "60 Hz"),
    wrong: Annotated[
        str,
        Parameter(metavar="SHARE", help="Wrong answers that are accepted; '1 %' when absent."),
    ] = "1 %",
    json: Json = False,
) -> Outcome:
    """Tell 50 Hz from 60 Hz mains in a short record.

    Give --duration to learn how strong the hum must be, or --level and --floor to learn how long
    the record must be, or all three to learn how often the answer would be wrong.
    """
    from straypath.contents.plan.tell_mains import plan_tell_mains

    unit = _unit(level, floor)
    inputs: dict[str, Any] = {
        "duration_s": _optional(duration, "s", "--duration"),
        "level_v": _optional(level, unit, "--level"),
        "floor_v_per_rthz": _density(floor, unit),
        "between_hz": [parse_value(f, "Hz", where="--between", bare=True) for f in between],
        "accepted_error": _share(wrong, "--wrong"),
    }
    made = plan_tell_mains(
        duration_s=inputs["duration_s"],
        level=inputs["level_v"],
        floor=inputs["floor_v_per_rthz"],
        between_hz=tuple(inputs["between_hz"]),
        error=inputs["accepted_error"],
        unit=unit,
    )
    return _present(made, "tell-mains", inputs, json=json)


@plan.command(sort_key=2, usage="straypath plan hum --level LEVEL --floor DENSITY [options]")
def hum(
    *,
    level: Annotated[str, Parameter(metavar="LEVEL", help="Hum in one line, rms, such as '2 mV'.")],
    floor: Annotated[
        str, Parameter(metavar="DENSITY", help="Noise density under it, such as '10 nV/√Hz'.")
    ],
    within: Annotated[
        str,
        Parameter(metavar="SHARE", help="How far the reading may be off; '5 %' when absent."),
    ] = "5 %",
    mains: Annotated[
        str, Parameter(metavar="HZ", help="Mains frequency; 50 Hz when absent.")
    ] = "50 Hz",
    order: Annotated[
        int, Parameter(metavar="NUMBER", help="Which order of the mains; 1 when absent.")
    ] = 1,
    step: Step = None,
    breathing: Annotated[
        str,
        Parameter(
            metavar="DB", help="How hum changes between captures (standard deviation); '1.5 dB'."
        ),
    ] = "1.5 dB",
    json: Json = False,
) -> Outcome:
    """Measure so much hum under a floor, within so many per cent.

    Says how long and how finely to record for one capture, and how many captures the usual level
    of the place takes.
    """
    from straypath.contents.plan.hum import plan_hum

    unit = _unit(level, floor)
    inputs: dict[str, Any] = {
        "level_v": parse_value(level, unit, where="--level"),
        "floor_v_per_rthz": parse_density(floor, unit, where="--floor"),
        "within": _share(within, "--within"),
        "mains_hz": parse_value(mains, "Hz", where="--mains", bare=True),
        "order": order,
        "step_v": _optional(step, unit, "--step"),
        "breathing_db": parse_value(breathing, "dB", where="--breathing"),
    }
    made = plan_hum(
        inputs["level_v"],
        inputs["floor_v_per_rthz"],
        inputs["within"],
        mains_hz=inputs["mains_hz"],
        order=order,
        step=inputs["step_v"],
        breathing_db=inputs["breathing_db"],
        unit=unit,
    )
    return _present(made, "hum", inputs, json=json)


@plan.command(sort_key=3, usage="straypath plan separate FIRST SECOND [options]")
def separate(
    first: str,
    second: str,
    /,
    *,
    level: Annotated[
        str | None, Parameter(metavar="LEVEL", help="Rms of the first line, such as '1 mV'.")
    ] = None,
    other: Annotated[
        str | None,
        Parameter(metavar="LEVEL", help="Rms of the second line; that of the first when absent."),
    ] = None,
    floor: Floor = None,
    sigmas: Annotated[
        float,
        Parameter(metavar="NUMBER", help="Standard uncertainties between them; 5 when absent."),
    ] = 5.0,
    json: Json = False,
) -> Outcome:
    """Tell two rates apart, such as a clock's from a mains order's.

    Without --level and --floor only the distance counts; with them also whether the weaker line
    is seen and how well both rates are known.

    Parameters
    ----------
    first
        A rate, such as '1 kHz'.
    second
        The other, such as '999.6 Hz'.
    """
    from straypath.contents.plan.separate import plan_separate

    unit = _unit(level, floor)
    one = _optional(level, unit, "--level")
    two = _optional(other, unit, "--other") if other else one
    if other and one is None:
        raise InputError("--other needs --level", advice="Give the first line's level too.")
    inputs: dict[str, Any] = {
        "rates_hz": [parse_value(rate, "Hz", where="plan separate") for rate in (first, second)],
        "levels_v": [one, two] if one is not None else None,
        "floor_v_per_rthz": _density(floor, unit),
        "sigmas": sigmas,
    }
    made = plan_separate(
        *inputs["rates_hz"],
        levels=(one, two) if one is not None and two is not None else None,
        floor=inputs["floor_v_per_rthz"],
        sigmas=sigmas,
        unit=unit,
    )
    return _present(made, "separate", inputs, json=json)


@plan.command(sort_key=4, usage="straypath plan frame RATE --level LEVEL --floor DENSITY [options]")
def frame(
    rate: str,
    /,
    *,
    level: Annotated[
        str,
        Parameter(metavar="LEVEL", help="Rms of its strongest line; with --width, pulse height."),
    ],
    floor: Annotated[
        str, Parameter(metavar="DENSITY", help="Noise density under it, such as '10 nV/√Hz'.")
    ],
    width: Annotated[
        str | None, Parameter(metavar="TIME", help="Width of its pulses, such as '577 µs'.")
    ] = None,
    step: Step = None,
    json: Json = False,
) -> Outcome:
    """See something that repeats, such as a phone's frames.

    Says how long to record until the line at that rate is seen nine times in ten, at one false
    alarm in 1000 records.

    Parameters
    ----------
    rate
        How often it repeats, such as '217 Hz'.
    """
    from straypath.contents.plan.frame import plan_frame

    unit = _unit(level, floor)
    inputs: dict[str, Any] = {
        "frame_hz": parse_value(rate, "Hz", where="plan frame"),
        "level_v": parse_value(level, unit, where="--level"),
        "floor_v_per_rthz": parse_density(floor, unit, where="--floor"),
        "width_s": _optional(width, "s", "--width"),
        "step_v": _optional(step, unit, "--step"),
    }
    made = plan_frame(
        inputs["frame_hz"],
        inputs["level_v"],
        inputs["floor_v_per_rthz"],
        width_s=inputs["width_s"],
        step=inputs["step_v"],
        unit=unit,
    )
    return _present(made, "frame", inputs, json=json)


@plan.command(sort_key=5, usage="straypath plan record --duration TIME --rate RATE [options]")
def record(
    *,
    duration: Annotated[str, Parameter(metavar="TIME", help="Its length, such as 20ms.")],
    rate: Annotated[str, Parameter(metavar="RATE", help="Its sample rate, such as '10 kHz'.")],
    floor: Floor = None,
    step: Step = None,
    mains: Annotated[
        str | None, Parameter(metavar="HZ", help="Mains frequency, where it is known.")
    ] = None,
    json: Json = False,
) -> Outcome:
    """The reverse: say which questions a recording can answer.

    Tell the mains, measure hum, separate a 1 kHz clock from the mains order beside it, see a
    phone's frames: each with yes or no, and why.
    """
    from math import hypot

    from straypath.cli.plan_page import reverse_page
    from straypath.contents.plan.answerable import answerable
    from straypath.contents.plan.rules import rounding_density
    from straypath.report import machine, plan_document

    unit = _unit(step, floor)
    inputs: dict[str, Any] = {
        "duration_s": parse_value(duration, "s", where="--duration"),
        "rate_hz": parse_value(rate, "Hz", where="--rate", bare=True),
        "floor_v_per_rthz": _density(floor, unit),
        "step_v": _optional(step, unit, "--step"),
        "mains_hz": _optional(mains, "Hz", "--mains", bare=True),
    }
    _above_zero(inputs)
    rounding = rounding_density(inputs["step_v"], inputs["rate_hz"] or 1.0)
    verdicts = answerable(
        inputs["duration_s"] or 0.0,
        inputs["rate_hz"] or 0.0,
        floor=hypot(inputs["floor_v_per_rthz"] or 0.0, rounding) or None,
        unit=unit,
        step=inputs["step_v"],
        mains_hz=inputs["mains_hz"],
    )
    assumptions: tuple[str, ...] = (
        "The floor is the same under all lines.",
        "Noise above half the rate is filtered off ahead of the converter.",
    )
    if mains is None:
        assumptions += ("Mains is taken to lie 20 mHz off 50 Hz.",)
    if json:
        write(machine.text([plan_document.reverse_document(verdicts, inputs, unit, assumptions)]))
    else:
        show(reverse_page(verdicts, assumptions))
    return PlanOutcome(DONE, verdicts=verdicts)


def _unit(*texts: str | None) -> str:
    """Return the unit that a level, or else a density, is given in; volts when it is none."""
    for text in texts:
        head = (text or "").partition("/")[0].strip()
        for unit in LEVEL_UNITS:
            if head.endswith(unit):
                return unit
    return "V"


def _optional(text: str | None, unit: str, where: str, *, bare: bool = False) -> float | None:
    return parse_value(text, unit, where=where, bare=bare) if text is not None else None


def _density(text: str | None, unit: str) -> float | None:
    return parse_density(text, unit, where="--floor") if text is not None else None


def _share(text: str, where: str) -> float:
    return parse_value(text, "%", where=where) / 100.0


def _above_zero(inputs: dict[str, Any]) -> None:
    from straypath.contents.plan.rules import positive

    for name, value in inputs.items():
        positive(f"--{name.partition('_')[0]}", value)


def _present(made: Plan, question: str, inputs: dict[str, Any], *, json: bool) -> Outcome:
    if json:
        from straypath.report import machine, plan_document

        write(machine.text([plan_document.document(made, question, inputs)]))
    else:
        from straypath.cli.plan_page import plan_page

        show(plan_page(made))
    return PlanOutcome(DONE, plan=made)
