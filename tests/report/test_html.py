"""The HTML for notebooks: well-formed, escaped, self-contained."""

from __future__ import annotations

from dataclasses import replace
from html.parser import HTMLParser

import pytest
from report.handmade import CASES, HUM, examination
from report.handmade_contents import ALL_CASES

from straypath.cli import terminal
from straypath.cli.page import page
from straypath.report import html
from straypath.report.sections import sections
from straypath.wording import plain


class Balanced(HTMLParser):
    """Fails on a tag that is not closed."""

    def __init__(self):
        super().__init__()
        self.open, self.words = [], []

    def handle_starttag(self, tag, attrs):
        self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


@pytest.mark.parametrize("case", ALL_CASES)
def test_is_well_formed_and_says_the_conclusion(case):
    page = Balanced()
    page.feed(html.examination(ALL_CASES[case]()))
    page.close()
    assert page.open == []
    assert "mains c" in "".join(page.words)


def test_says_all_that_the_page_says():
    text = html.examination(CASES["wanders"]())
    for said in (
        "The mains frequency moved between",
        "orders tested, one false alarm in",
        "Was the averaging triggered on the mains?",
        "The floor is smooth over a few cycles of the mains.",
    ):
        assert said in text
    assert "Invented data." not in text  # the title bears the mark


@pytest.mark.parametrize("case", ALL_CASES)
def test_page_and_notebook_say_each_paragraph(case, capsys):
    made = ALL_CASES[case]()
    terminal.show(page([made]))
    shown = Balanced()
    shown.feed(html.examination(made))
    texts = squeezed(capsys.readouterr().out), squeezed("".join(shown.words))
    for found in made.channels:
        for section in sections(found, made.capture.rate_hz):
            for said in (section.title, *(plain(p.text) for p in section.paragraphs)):
                assert all(squeezed(said) in text for text in texts)


def squeezed(text):
    """A text without spaces of any kind."""
    return "".join(text.split())


def test_names_are_escaped():
    made = examination(HUM, names=("<script>alert(1)</script>",), file="<b>&.csv")
    text = html.examination(made) + html.capture(made.capture)
    assert "<script" not in text
    assert "&lt;b&gt;&amp;.csv" in text


def test_loads_nothing_from_elsewhere():
    text = html.examination(CASES["hum"]())
    assert "http" not in text
    assert "src=" not in text
    assert len(text) < 15_000


def test_real_data_bear_no_mark():
    made = examination(HUM, notes=())
    assert "Invented" not in html.examination(made)
    assert "Invented" in html.examination(
        replace(made, capture=replace(made.capture, notes=("invented data",)))
    )
