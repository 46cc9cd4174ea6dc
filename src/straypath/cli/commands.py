"""The commands, with their options and their help."""

# Heavy libraries are imported where they are used, so that help comes at once.
# ruff: noqa: PLC0415

from __future__ import annotations

import sys
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import App, Group, Parameter

from straypath.cli.helping import Helping
from straypath.cli.outcome import DONE, WRONG, Outcome
from straypath.cli.plan import plan
from straypath.cli.progress import Bar
from straypath.cli.terminal import show, write, write_error
from straypath.errors import InputError, StraypathError
from straypath.report.picture import check_target, drawing
from straypath.units import parse_value

if TYPE_CHECKING:
    from straypath.inquiry import Examination

app = App(
    name="straypath",
    help="""Examines captures from an electronics bench.

    Give it a recording; it says what is in it, and how sure that is.
    """,
    usage="straypath COMMAND …",
    version=lambda: version("straypath"),
    version_flags=["--version"],
    help_formatter=Helping(),
    help_format="plaintext",
    group_arguments=Group("Files"),
    group_parameters=Group("Options"),
    group_commands=Group("Commands"),
    result_action="return_value",
    suppress_keyboard_interrupt=False,
    default_parameter=Parameter(negative="", show_default=False),
)
app["--help"].help = "Show this help."
app["--version"].help = "Show the version."
app.command(plan)

FigurePath = Annotated[
    Path | None,
    Parameter(metavar="PICTURE", help="Draw it: a file that ends in .png, .svg or .pdf."),
]
Dark = Annotated[bool, Parameter(help="Draw light ink on dark paper.")]
Unit = Annotated[
    str | None, Parameter(metavar="UNIT", help="Unit of the numbers in the file, such as mV.")
]
Rate = Annotated[
    str | None,
    Parameter(
        metavar="RATE",
        help="Sample rate for a file that does not say: 50 kHz, '1 MHz' or plain hertz.",
    ),
]
Mains = Annotated[
    str,
    Parameter(
        metavar="HZ",
        help="Mains frequency to expect: auto (the default), 50, 60 or any other such as 16.7.",
    ),
]
Quick = Annotated[
    bool, Parameter(help="Sooner done: search long records less finely for other lines.")
]
Deep = Annotated[bool, Parameter(help="Take longer: find the weakest other lines in long records.")]
Reference = Annotated[
    str | None,
    Parameter(
        metavar="NAME",
        help="Compare the other channels with this one. A mains reference comes only from a sealed"
        " safety-isolating adapter with an ac output.",
    ),
]
TriggerAt = Annotated[
    str | None,
    Parameter(
        metavar="TIME",
        help="When the trigger on the mains line fired, from the first sample: '5 ms'.",
    ),
]
Source = Annotated[
    str | None,
    Parameter(
        metavar="RESISTANCE",
        help="Resistance of the source, such as '10 kΩ' (or kohm): how much of the floor it and"
        " the converter explain.",
    ),
]
Channels = Annotated[
    list[str] | None,
    Parameter(
        metavar="NAME",
        consume_multiple=False,
        help="Examine only this channel, by name or by number from 1. May be repeated.",
    ),
]
NumberType = Annotated[
    str | None,
    Parameter(metavar="TYPE", help="Type of one number in a raw binary file, such as int16."),
]
Json = Annotated[bool, Parameter(help="Write JSON for other programs instead of the page.")]


@app.command(sort_key=1, usage="straypath examine FILE… [options]")
def examine(
    *files: Path,
    channel: Channels = None,
    mains: Mains = "auto",
    quick: Quick = False,
    deep: Deep = False,
    reference: Reference = None,
    trigger_at: TriggerAt = None,
    source: Source = None,
    json: Json = False,
    figure: FigurePath = None,
    dark: Dark = False,
    rate: Rate = None,
    unit: Unit = None,
    dtype: NumberType = None,
    interleaved: Annotated[
        int | None,
        Parameter(
            metavar="COUNT",
            help="How many channels a raw binary file interleaves, or an array holds.",
        ),
    ] = None,
    dataset: Annotated[
        str | None,
        Parameter(
            metavar="NAME",
            help="Which array of a file with several, or which section with its own rate.",
        ),
    ] = None,
    format: Annotated[  # noqa: A002 – the word a person would use
        str | None,
        Parameter(metavar="NAME", help="Which reader to use, when the content must not decide."),
    ] = None,
) -> Outcome:
    """Say what is in a recording: mains, other lines, noise floor, bursts and offset.

    Reads each FILE, checks whether the record is sound, and looks for lines at whole multiples of
    the mains frequency, then for everything else. Every value comes with its 95 % interval; what
    is not seen comes with the limit that it stays under. The files are never written to.

    Parameters
    ----------
    files
        Recordings: delimited text, sound, arrays, measurement files or raw binary.
    """
    if not files:
        raise InputError("examine needs a FILE", advice="Try 'straypath examine --help'.")
    if figure is not None:
        check_target(figure, files)
    facts = {
        "rate_hz": parse_value(rate, "Hz", where="--rate", bare=True) if rate is not None else None,
        "unit": unit,
        "dtype": dtype,
        "interleaved": interleaved,
        "dataset": dataset,
        "format": format,
    }
    how = {
        "channels": channel,
        "mains": mains,
        "depth": _depth(quick=quick, deep=deep),
        "reference": reference,
        "trigger_at_s": _reference_time(reference, trigger_at),
        "source": source,
    }
    found, failed = _examine_all(files, facts, how)
    _present(found, figure=figure, dark=dark, json=json, several=len(files) > 1)
    return Outcome(WRONG if failed else DONE, tuple(found))


@app.command(sort_key=2, usage="straypath demo [options]")
def demo(*, json: Json = False, figure: FigurePath = None, dark: Dark = False) -> Outcome:
    """Examine the included example.

    The recording is invented: a geophone amplifier beside a pump. No bench and no instrument
    produced it. Use it to see what a result looks like.
    """
    from straypath.demo import example

    if figure is not None:
        check_target(figure)
    with example() as path:
        found, failed = _examine_all((path,), {}, {"mains": "auto"})
        _present(found, figure=figure, dark=dark, json=json, several=False)
    return Outcome(WRONG if failed else DONE, tuple(found))


def _depth(*, quick: bool, deep: bool) -> str:
    """Return how thoroughly to search."""
    if quick and deep:
        raise InputError("--quick and --deep contradict each other", advice="Give one of them.")
    return "quick" if quick else "deep" if deep else "usual"


def _reference_time(reference: str | None, trigger_at: str | None) -> float | None:
    """Return when the trigger fired [s]."""
    if trigger_at is None:
        return None
    if reference is not None:
        raise InputError(
            "--reference and --trigger-at contradict each other", advice="Give one of them."
        )
    return parse_value(trigger_at, "s", where="--trigger-at")


def _examine_all(
    files: tuple[Path, ...], facts: dict[str, Any], how: dict[str, Any]
) -> tuple[list[Examination], bool]:
    """Examine each file; one that cannot be read does not keep the others back."""
    from straypath.capture import read
    from straypath.inquiry import examine as examine_capture
    from straypath.inquiry import mains_frequency, source_resistance

    mains_frequency(how["mains"])
    source_resistance(how.get("source"))
    found, failed = [], False
    with Bar() as bar:
        for place, path in enumerate(files):
            bar.file(path.name, place, len(files))
            try:
                capture = read(path, **facts)
                found.append(examine_capture(capture, progress=bar, **how))
            except StraypathError as error:
                if len(files) == 1:
                    raise
                failed = True
                write_error(error.line)
    return found, failed


def _present(
    found: list[Examination], *, figure: Path | None, dark: bool, json: bool, several: bool
) -> None:
    if json:
        from straypath.report import machine

        if found or several:
            write(machine.text((machine.document(e) for e in found), several=several))
    elif found:
        from straypath.cli.page import page

        show(page(found))
    if figure is not None and found:
        check_target(figure, [file for e in found for file in e.capture.files])
        made = drawing()
        sys.stdout.flush()
        made.save(made.draw(found, dark=dark), figure)
