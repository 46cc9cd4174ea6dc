"""What is said in which case."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest
from report.handmade import CASES, HUM, examination

from straypath.capture.capture import Acquisition
from straypath.contents.records import MainsComb, Wander
from straypath.contents.whole import Contents
from straypath.quantity import Quantity
from straypath.report import sentences
from straypath.wording import plain


def said(made):
    found = made.channels[0]
    text = plain(sentences.conclusion(found.contents, found.channel.unit))
    return text.replace("\u202f", " ").replace("\u00a0", " ")


def test_mains_that_is_sure():
    text = said(CASES["hum"]())
    assert text.startswith("A mains comb at 49.98700 Hz [49.98691, 49.98709] carries 41.331 mV [")
    assert (
        "of the record's mean square about its mean. It is 50 Hz mains, probability over 99 %. "
        "Odd orders stand out;" in text
    )


def test_mains_that_is_not_sure():
    assert (
        "It may be 50 Hz mains, probability 81 %; the record is too short or too noisy to be sure."
        in said(CASES["short"]())
    )


@pytest.mark.parametrize(
    ("low", "value", "high", "why"),
    [
        (54.9, 55.0, 55.1, "it lies between 50 and 60 Hz."),
        (43.0, 43.2, 43.4, "its frequency is off every grid."),
        (49.0, 55.0, 61.0, "the record is too short or too noisy to be sure."),
        (50.1, 50.2, 50.3, "the record is too short or too noisy to be sure."),
        (-np.inf, 55.0, np.inf, "the record is too short or too noisy to be sure."),
    ],
)
def test_a_narrow_frequency_off_the_grid_is_not_blamed_on_the_record(low, value, high, why):
    made = CASES["short"]()
    mains = replace(made.channels[0].mains, frequency_hz=Quantity(value, 0.1, low, high))
    text = plain(sentences.conclusion(Contents(mains), "V")).replace("\u202f", " ")
    assert f"It may be 50 Hz mains, probability 81 %; {why}" in text


def test_nothing_found_is_a_limit_never_a_reading():
    text = said(CASES["nothing found"]())
    assert text == "No mains comb is seen: all orders together are under 39 µV rms."


def test_nothing_to_be_read_says_why():
    found = Contents(MainsComb.not_read("Nothing moves.", 1e-3))
    assert plain(sentences.conclusion(found, "V")) == "Nothing moves."
    assert plain(sentences.brief(found, "V")) == "No reading"


def test_shorter_than_a_cycle():
    found = CASES["less than a cycle"]().channels[0].mains
    found = replace(found, nominal_hz=60.0, nominal_probability=0.834)
    assert plain(sentences.conclusion(Contents(found), "V")) == (
        "The record is shorter than one mains cycle: no reading. "
        "If it holds mains, it is 60\u202fHz with 83\u202f% probability."
    )


@pytest.mark.parametrize(
    ("lines", "ending"),
    [
        ({1: (0.1, 0)}, "Only order 1 is seen."),
        ({1: (0.1, 0), 3: (0.02, 0), 5: (0.01, 0)}, "Odd orders stand out; no even one is seen."),
        ({1: (0.1, 0), 2: (1e-3, 0), 3: (0.02, 0)}, "most even ones are not seen."),
        ({1: (1e-3, 0), 2: (0.1, 0), 3: (1e-3, 0), 4: (0.05, 0)}, "from a rectified supply."),
    ],
)
def test_what_the_orders_have_in_common(lines, ending):
    assert said(examination(lines)).endswith(ending)


def test_orders_not_seen_are_drawn_together():
    found = CASES["short"]().channels[0]
    text = plain(sentences.not_seen(found.mains, "V")).replace("\u202f", " ")
    assert text == "Orders 2 and 4–20 are not seen: each under 230 µV."


def test_wander_floor_and_tests():
    mains = CASES["hum"]().channels[0].mains
    moved = Wander((1.0, 2.0), (49.97, 50.01))
    assert plain(sentences.wander(moved)).startswith(
        "The mains frequency moved between 49.970 and 50.010\u202fHz"
    )
    assert plain(sentences.wander(None)) == ""
    assert plain(sentences.floor(mains, "V")) == (
        "The floor is 22\u202fµV/√Hz under order 1 and 22\u202fµV/√Hz under order 20."
    )
    assert plain(sentences.tests(mains)) == "20 orders tested, one false alarm in 1\u202f000."


def test_how_the_record_was_taken():
    made = CASES["hum"]().capture
    facts = Acquisition(coupling="ac", probe_ratio=10, input_ratio=1, bits=12, averages=1024)
    full = replace(made, start=datetime(2026, 3, 3, 14, 2), acquisition=facts)
    assert plain(sentences.taken(full)) == (
        "Started 2026-03-03 14:02:00, ac coupled, probe 10:1, input set to 1:1, 12 bits, "
        "1\u202f024 averages."
    )
    assert plain(sentences.taken(made)) == ""


@pytest.mark.parametrize(
    ("who", "text"),
    [
        ("nobody", "Nobody touching it."),
        ("the operator's left hand", "Touched by the operator's left hand."),
    ],
)
def test_who_touches_it(who, text):
    made = replace(CASES["hum"]().capture, acquisition=Acquisition(touching=who))
    assert plain(sentences.taken(made)) == text


def test_facts_are_those_that_there_are():
    moved = CASES["wanders"]().channels[0]
    assert len(sentences.facts(moved)) == 4
    assert len(sentences.facts(CASES["hum"]().channels[0])) == 3  # it did not wander
    assert sentences.facts(CASES["less than a cycle"]().channels[0]) == []


def test_questions_and_assumptions_are_said_once():
    made = CASES["many channels"]()
    asked = tuple(
        replace(found, soundness=replace(found.soundness, questions=("Who?", "What?")))
        for found in made.channels
    )
    assert sentences.questions(replace(made, channels=asked)) == ["Who?", "What?"]
    assert len(sentences.assumptions(made)) == 2
    assert sentences.shown_assumptions(made) == [
        "The floor is smooth over a few cycles of the mains."
    ]


def test_assumptions_become_sentences_said_once():
    notes = ("rate from  header", "rate from header", " ", "why?")
    assert sentences.assumed(notes) == ["Rate from header.", "Why?"]


def test_hum_is_invented_by_note_or_instrument():
    made = examination(HUM, notes=()).capture
    assert not sentences.invented(made)
    assert sentences.invented(replace(made, notes=("a header line says: Invented data",)))
    told = replace(made, acquisition=Acquisition(instrument="none (invented data)"))
    assert sentences.invented(told)
