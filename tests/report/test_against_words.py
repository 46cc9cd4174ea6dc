"""A comparison with a reference in words, in its table and in the document."""

from __future__ import annotations

import pytest
from report.handmade_against import difference, transfer
from report.handmade_contents import CONTENTS_CASES

from straypath.contents.pair.reference import CAUTION
from straypath.quantity import UpperLimit
from straypath.report import against_words, html, machine
from straypath.wording import plain


def tidy(text):
    return plain(text).replace("\u202f", " ").replace("\u00a0", " ")


def channel(case="against a reference"):
    return CONTENTS_CASES[case]().channels[0]


def test_the_strongest_lines_stand_in_the_table():
    found = channel()
    made = against_words.rows(found.against, found.contents)
    assert made.titles["gain"] == "gain mV/A"
    assert [row[0].replace("\u202f", " ") for row in made.rows] == [
        "order 1", "1234 Hz", "order 5", "order 3", "order 7", "order 11",
    ]  # fmt: skip
    first, apart = made.rows[:2]
    assert first[1].strip() == "10.30"
    assert first[2].replace("\u00a0", " ") == "[10.26, 10.34]"
    assert apart[1].strip() == "< 310\u202f000"
    assert "".join(apart[2:5]).strip("\u2007") == ""
    assert apart[5] == "0.08"


def test_equal_units_have_none():
    found = channel()
    same = type(found.against)("a", transfer("1"))
    assert against_words.rows(same, found.contents).titles["gain"] == "gain"


def test_the_difference_in_words():
    assert tidy(against_words.difference(difference(), "V")) == (
        "−10.30 mV/A [−10.34, −10.26] of the reference, 200.0 µs [198.0, 202.0] later, is taken "
        "off: these 2 lines fall by 42.5 dB [41.9, 43.1], to 300 µV [280, 320] rms. One gain and "
        "one delay do not fit all of them, probability under 1 %."
    )


def test_a_residual_in_the_noise_is_a_bound():
    hidden = difference(rejection_db=None, total=UpperLimit(1e-6), misfit_p=None)
    said = tidy(against_words.difference(hidden, "V"))
    assert said.endswith("these 2 lines fall by at least 42.0 dB.")


@pytest.mark.parametrize("case", ["against a trigger", "trigger without a place"])
def test_a_trigger_has_no_caution_of_a_reference(case):
    said = " ".join(tidy(text) for text in against_words.said(channel(case).against, "V"))
    assert "Caution" not in said
    assert ("No phase against the mains" in said) == (case == "trigger without a place")


def test_the_caution_stands_in_page_notebook_and_document():
    made = CONTENTS_CASES["against a reference"]()
    said = [tidy(text) for text in against_words.said(made.channels[0].against, "V")]
    assert said[-1] == f"Caution. {CAUTION}"
    assert CAUTION in html.examination(made)
    document = machine.document(made)
    assert document["cautions"] == [CAUTION]
    assert document["channels"][0]["against"]["difference"]["delay_s"]["value"] == 2e-4
