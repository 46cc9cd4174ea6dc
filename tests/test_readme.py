"""README and docs: every example runs and prints what the page shows, every picture is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import write_docs

ROOT = Path(__file__).parents[1]
PAGES = ("README.md", "docs/examine.md", "docs/plan.md")
PNG = b"\x89PNG\r\n\x1a\n"


@pytest.mark.parametrize("name", PAGES)
def test_pages_show_what_the_program_says(name, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    page = (ROOT / name).read_text(encoding="utf-8")
    with write_docs.example_folder():
        now = write_docs.renewed(page)
    assert now == page, "the page lags behind: run tools/write_docs.py and read the difference"


def test_there_is_something_to_run():
    text = "".join((ROOT / name).read_text(encoding="utf-8") for name in PAGES)
    assert len(write_docs.HELP.findall(text)) == 3
    assert len(write_docs.CONSOLE.findall(text)) >= 3
    assert len(write_docs.PYTHON.findall(text)) >= 3
    assert text.count("# prints ") >= 4


def test_a_page_that_lags_behind_is_noticed():
    with write_docs.example_folder():
        assert write_docs.renewed("```python\nprint(2)\n# prints 1\n```") == (
            "```python\nprint(2)\n# prints 2\n```"
        )
        assert "\n2" not in write_docs.renewed("```console\n$ straypath --version\n2\n```")


def test_only_the_program_itself_is_run():
    with pytest.raises(ValueError, match="rm"):
        write_docs.run("rm -r /")


def test_pictures_are_there_and_said_to_be_invented():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    names = re.findall(r'src(?:set)?="([^"]+)"', text)
    assert len(names) == 2
    for name in names:
        assert (ROOT / name).read_bytes().startswith(PNG)
    assert "The recording is invented" in text
