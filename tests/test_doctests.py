"""The examples in all docstrings and in the docs hold."""

from __future__ import annotations

import doctest
import pkgutil
from importlib import import_module
from pathlib import Path

import pytest

import straypath

DOCS = Path(__file__).parents[1] / "docs"
PAGES = sorted(page for page in DOCS.glob("*.md") if ">>> " in page.read_text(encoding="utf-8"))


def with_examples() -> list[str]:
    """Name every module of the package that shows an example."""
    found = []
    for module in pkgutil.walk_packages(straypath.__path__, "straypath."):
        spec = module.module_finder.find_spec(module.name, None)
        if ">>> " in Path(spec.origin).read_text(encoding="utf-8"):
            found.append(module.name)
    return ["straypath", *found]


MODULES = with_examples()


def test_there_are_examples():
    assert {"straypath.notebook", "straypath.contents.bounds", "straypath.units"} <= set(MODULES)
    assert "soundness.md" in [page.name for page in PAGES]


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings(name):
    outcome = doctest.testmod(import_module(name))
    assert outcome.attempted > 0
    assert outcome.failed == 0


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_examples_in_the_docs(page):
    outcome = doctest.testfile(str(page), module_relative=False, encoding="utf-8")
    assert outcome.attempted > 0
    assert outcome.failed == 0
