"""Floor, bursts, offset and what could not be told, in words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from report.handmade import CASES, HUM, examination, quantity
from report.handmade_contents import (
    CONTENTS_CASES,
    LOCKED,
    OFFSET,
    STILL,
    bursts,
    everything,
    floor,
    holding,
)

from straypath.contents.records import Bursts, Floor, Undetermined
from straypath.quantity import UpperLimit
from straypath.report import sections
from straypath.wording import plain


def tidy(text):
    return plain(text).replace("\u202f", " ").replace("\u00a0", " ")


def titles(made):
    return [section.title for section in sections.sections(made.channels[0], 5000.0)]


def test_all_sections_stand_in_one_order():
    assert titles(everything()) == ["Other lines", "Floor, bursts and offset", "Could not be told"]


def test_what_was_not_looked_for_is_not_denied():
    assert titles(CASES["hum"]()) == []
    none = holding(examination(HUM), floor=floor())
    first = sections.sections(none.channels[0], 5000.0)[0]
    assert [tidy(p.text) for p in first.paragraphs] == ["None is seen."]


def test_white_level_and_corner():
    assert tidy(sections.floor(floor(), "V")) == (
        "White at 22.0 µV/√Hz [21.1, 22.9]; below a corner of 12 Hz [8, 16] it rises, "
        "its power as 1/f^1.00 [0.80, 1.20]."
    )


def test_a_corner_that_is_not_seen_has_a_limit():
    assert tidy(sections.floor(floor(corner=UpperLimit(1.7)), "V")).endswith(
        "No 1/f noise is seen: its corner is under 1.7 Hz."
    )


def test_a_floor_of_another_shape_has_two_ends():
    said = tidy(sections.floor(floor(shaped=False), "V"))
    assert said.startswith("No white level; 79.3 µV/√Hz [77.6, 81.0] at 1 Hz, 22.1 µV/√Hz")
    one = Floor((100.0,), (quantity(1e-6, 1e-8),), None, None)
    assert tidy(sections.floor(one, "")) == (
        "No white level; 0.000001000 /√Hz [0.000000980, 0.000001020] at 100 Hz."
    )
    assert tidy(sections.floor(Floor((), (), None, None), "V")) == "No white level."


def test_no_bursts_is_a_limit():
    assert tidy(sections.bursts(bursts(0), "V")) == (
        "None is seen: nothing departs by more than 30 mV."
    )


def test_bursts_that_keep_to_the_mains():
    said = tidy(sections.bursts(bursts(9, **LOCKED), "V"))
    assert said.startswith(
        "9 bursts depart by more than 30 mV. Typically 150 µs wide and 430 mV high; "
        "the largest reaches 570 mV at 3.778 s. "
    )
    assert said.endswith(
        "They are locked to the mains at 2 phases of each cycle, p under 0.001. "
        "Rayleigh test; sure."
    )
    once = replace(bursts(9, **LOCKED), per_cycle=1)
    assert "at 1 phase of each cycle" in tidy(sections.bursts(once, "V"))


def test_bursts_that_do_not():
    loose = bursts(9, locked_p=0.34, locked_test="no tie")
    assert tidy(sections.bursts(loose, "V")).endswith(
        "They are not tied to the mains, p = 0.34. No tie."
    )


@pytest.mark.parametrize(("count", "why"), [(1, "one is too few to tell"), (3, "not known")])
def test_bursts_of_which_no_tie_can_be_told(count, why):
    assert tidy(sections.bursts(bursts(count), "V")).endswith(f"{why}.")
    assert tidy(sections.bursts(Bursts((), count, 1.0), "V")).endswith(f"{why}.")


def test_times_count_from_the_start_of_the_record():
    made = holding(examination(HUM), bursts=bursts(1), offset=OFFSET)
    cut = replace(made.channels[0], stretch=(5000, 20_000))
    (section,) = [s for s in sections.sections(cut, 5000.0) if s.title.startswith("Floor")]
    text = " ".join(tidy(p.text) for p in section.paragraphs)
    assert "at 3 s" in text  # 2 s into a stretch that begins at 1 s
    assert "at 4.1 s" in text


def test_the_three_largest_steps_are_named():
    said = tidy(sections.offset(OFFSET, "V"))
    assert said.startswith("Mean 1.20 mV [1.00, 1.40], moving by −20 µV/s [−26, −14].")
    assert said.endswith(
        "It jumps by 2.00 mV [1.80, 2.20] at 1.2 s, −3.00 mV [−3.20, −2.80] at 2.5 s, "
        "4.00 mV [3.80, 4.20] at 3.1 s, and once more."
    )


def test_a_slope_that_may_be_none_is_not_claimed():
    assert tidy(sections.offset(STILL, "V")) == (
        "Mean 1.20 mV [1.00, 1.40]; no slope is sure: 1 µV/s [−5, 7]."
    )


def test_why_the_mains_are_not_read_is_said_once():
    made = CASES["less than a cycle"]()
    why = made.channels[0].mains.unread
    told = (Undetermined("the mains", why), Undetermined("the floor", "Too short."))
    (section,) = sections.sections(holding(made, undetermined=told).channels[0], 5000.0)
    assert [tidy(p.text) for p in section.paragraphs] == ["The floor. Too short."]


# the words of all cases hold no number that is none
@pytest.mark.parametrize("case", CONTENTS_CASES)
def test_no_case_prints_a_number_that_is_none(case):
    made = CONTENTS_CASES[case]()
    for section in sections.sections(made.channels[0], made.capture.rate_hz):
        for paragraph in section.paragraphs:
            assert " nan" not in tidy(paragraph.text).casefold()
            assert "unknown" not in tidy(paragraph.text)
