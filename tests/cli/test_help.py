"""Help: every command has prose, every option has help, and nothing heavy is loaded for it."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from straypath.cli import main
from straypath.cli.commands import app

COMMANDS = ("examine", "demo", "plan")
HEAVY = ("numpy", "scipy", "polars", "matplotlib", "h5py", "pyarrow", "numba")


def help_of(capsys, *arguments):
    assert main([*arguments, "--help"]) == 0
    text = capsys.readouterr().out
    return "\n".join(line.rstrip() for line in text.strip().splitlines())


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_and_option_has_words(capsys, command):
    text = help_of(capsys, command)
    usage, prose = text.split("\n\n")[:2]
    assert usage.startswith(f"straypath {command}")
    assert prose.endswith(".")
    for option in re.findall(r"^  (--\S+)(?: [A-Z]+)?(.*)$", text, re.MULTILINE):
        assert option[1].strip(), option
    assert max(len(line) for line in text.splitlines()) <= 80


def test_the_list_of_commands_is_whole(capsys):
    text = help_of(capsys)
    assert tuple(re.findall(r"^  ([a-z]+) ", text, re.MULTILINE)) == COMMANDS
    assert {name for name in app if not name.startswith("-")} == set(COMMANDS)


@pytest.mark.parametrize("arguments", [["--help"], ["examine", "--help"], ["--version"], []])
def test_help_loads_no_numerical_library(arguments):
    code = (
        "import sys; from straypath.cli import main; main(sys.argv[1:]); "
        f"sys.exit(3 if any(m in sys.modules for m in {HEAVY!r}) else 0)"
    )
    command = [sys.executable, "-c", code, *arguments]
    done = subprocess.run(command, check=False, capture_output=True, text=True)  # noqa: S603
    assert done.returncode == 0
    assert "straypath" in done.stdout or arguments == ["--version"]
