"""The examples of the README and of the pages beside it run, and print what they show."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import shutil
from pathlib import Path

import pytest

from straypath.cli import main
from straypath.demo import example

ROOT = Path(__file__).parents[1]
PAGES = ("README.md", "docs/examine.md")
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


def blocks(kind):
    found = []
    for page in PAGES:
        text = (ROOT / page).read_text(encoding="utf-8")
        for place, (written, block) in enumerate(BLOCK.findall(text)):
            if written == kind:
                found.append(pytest.param(block, id=f"{page}-{place}"))
    return found


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """A folder that holds the example under the names that the pages use."""
    with example() as path:
        for name in ("invented-geophone.csv", "pump.csv"):
            shutil.copy(path, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def printed(call):
    written = io.StringIO()
    with contextlib.redirect_stdout(written):
        call()
    return written.getvalue()


@pytest.mark.parametrize("block", blocks("python"))
def test_python_blocks_run_and_print_what_they_say(block, bench):
    out = printed(lambda: exec(compile(block, "README", "exec"), {}))  # noqa: S102
    promised = re.findall(r"# prints (.*)$", block, re.MULTILINE)
    assert out.splitlines()[: len(promised)] == promised


@pytest.mark.parametrize("block", blocks("console"))
def test_console_blocks_print_what_they_show(block, bench):
    for step in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
        command, _, shown = step.partition("\n")
        words = shlex.split(command)
        assert words.pop(0) == "straypath"
        if ">" in words:
            words, (_, target) = words[:-2], words[-2:]
            (bench / target).write_text(printed(lambda w=words: main(w)), encoding="utf-8")
            continue
        out = printed(lambda w=words: main(w))
        assert "straypath: " not in out
        assert out.strip() == shown.strip()


def test_there_is_something_to_run():
    assert len(blocks("python")) >= 2
    assert len(blocks("console")) >= 3


def test_pictures_of_the_readme_are_there_and_are_pictures():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    names = re.findall(r"\]\((docs/images/[^)]+)\)|srcset=\"([^\"]+)\"|src=\"([^\"]+)\"", text)
    paths = [ROOT / name for found in names for name in found if name]
    assert paths
    for path in paths:
        assert path.read_bytes().startswith(b"\x89PNG\r\n\x1a\n"), path
        assert "nvented" in text
