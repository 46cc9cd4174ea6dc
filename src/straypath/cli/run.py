"""Running a command line: from the arguments to an exit code, with every error on one line."""

from __future__ import annotations

import errno
import os
import sys
from typing import TYPE_CHECKING

from cyclopts import CycloptsError

from straypath.cli.commands import app
from straypath.cli.outcome import DONE, WRONG, Outcome
from straypath.cli.terminal import check_open, not_written, stop_writing, write_error
from straypath.errors import StraypathError

if TYPE_CHECKING:
    from collections.abc import Sequence


_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EBADF)


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command line and return its exit code: 0 done, 2 wrong use or bad input."""
    return run(argv).code


def run(argv: Sequence[str] | None = None) -> Outcome:
    """Run a command line and return its outcome, for programs that want the records."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    try:
        check_open()
        outcome = _call(arguments)
        sys.stdout.flush()
    except StraypathError as error:
        write_error(error.line)
        return Outcome(WRONG)
    except BrokenPipeError:  # the reader of our output has seen enough
        stop_writing()
        return Outcome(DONE)
    except OSError as error:  # what the library for help has written goes out only here
        stop_writing()
        write_error(not_written(error).line)
        return Outcome(WRONG)
    except KeyboardInterrupt:
        write_error("stopped")
        return Outcome(WRONG)
    return outcome


def _call(arguments: list[str]) -> Outcome:
    try:
        returned = app(arguments, exit_on_error=False, print_error=False)
    except StraypathError as error:
        write_error(error.line)
        return Outcome(WRONG)
    except CycloptsError as error:
        write_error(_usage_line(error))
        return Outcome(WRONG)
    except MemoryError:
        write_error("not enough memory. Choose one --channel, or export a shorter record.")
        return Outcome(WRONG)
    except (BrokenPipeError, KeyboardInterrupt):
        raise
    except Exception as error:
        if isinstance(error, OSError) and error.errno in _NO_ROOM:
            raise
        if os.environ.get("STRAYPATH_TRACEBACK"):
            raise
        fault = f"{type(error).__name__}: {error}"
        write_error(
            f"a fault in straypath itself ({fault}). Please report it with the output of the "
            "same command after setting STRAYPATH_TRACEBACK=1."
        )
        return Outcome(WRONG)
    return returned if isinstance(returned, Outcome) else Outcome(DONE)


def _usage_line(error: CycloptsError) -> str:
    """Return what is wrong with the arguments, and where the help is."""
    what = " ".join(str(error).split()).replace("?.", "?").rstrip(".")
    stop = "" if what.endswith("?") else "."
    chain = " ".join(error.command_chain or ())
    return f"{what}{stop} Try 'straypath {f'{chain} ' if chain else ''}--help'."
