"""What is said of lines that are no orders of the mains."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from report.handmade import HUM, comb, examination, quantity
from report.handmade_contents import (
    CONTENTS_CASES,
    FOLDED,
    HALF_WAVE,
    LAMP,
    MOTOR,
    RATE,
    SHAFT,
    TIMER,
    USB,
    every_kind,
    family,
    holding,
    line,
    single,
)

from straypath.contents.families.aliases import telling_rate
from straypath.contents.families.catalogue import catalogue
from straypath.contents.records import BesideMains
from straypath.contents.whole import Contents
from straypath.report import family_words, sentences
from straypath.wording import plain

MAINS = comb(HUM, 49.987, RATE, 4.0, 22e-6)


def said(*families, mains=MAINS, most=family_words.MOST):
    """All that is said of families, as a plain text."""
    made = family_words.entries(Contents(mains, families), "V", RATE, most)
    return [tidy(*(part for e in made for part in (e.head, *e.more)))] if made else []


def tidy(*texts):
    joined = " ".join(plain(text) for text in texts)
    return joined.replace("\u202f", " ").replace("\u00a0", " ")


def one(made):
    return said(made)[0]


def test_a_clock_names_its_multiples():
    both = one(every_kind()[0])
    assert both.startswith("Clock at 1.0000000 kHz [")
    assert " rms in multiples 1 and 2. " in both
    higher = one(family("clock", 24.3, (line(48.6, 3e-5), line(72.9, 2e-5)), (2, 3)))
    assert "in multiples 2 and 3; its own rate is not seen." in higher
    alone = one(family("clock", 24.3, (line(48.6, 3e-5),), (2,)))
    assert "in multiple 2; its own rate is not seen." in alone


def test_a_carrier_names_its_sidebands_and_who_modulates_it():
    made = one(every_kind()[1])
    assert "rms with sidebands −1 and 1, 49.9871 Hz [" in made
    assert "apart: the mains frequency." in made
    other = one(replace(every_kind()[1], spacing_hz=quantity(49.7, 2e-4), matches=()))
    assert "the mains frequency" not in other
    unknown = replace(MAINS, frequency_hz=None)
    assert "the mains frequency" not in said(every_kind()[1], mains=unknown)[0]


def test_sidebands_of_a_clocks_line_stand_without_it():
    assert one(every_kind()[2]).startswith("Sidebands −1 and 1 of the line at 2.1000000 kHz [")
    single_side = family("carrier", 2100.0, (line(2130.0, 1e-5),), (1,), spacing_hz=None)
    assert one(single_side).startswith("Sideband 1 of the line at 2.1000000 kHz [")


def test_many_numbers_are_counted():
    odd = tuple(range(1, 22, 2))
    made = one(family("clock", 60.0, tuple(line(60.0 * k, 1e-4) for k in odd), odd))
    assert "rms in 11 odd multiples up to 21." in made
    mixed = (1, 3, 5, 7, 9, 11, 14)
    made = one(family("clock", 60.0, tuple(line(60.0 * k, 1e-4) for k in mixed), mixed))
    assert "rms in 7 multiples up to 14." in made
    sides = (-4, -3, -2, -1, 0, 1, 2, 3)
    lines = tuple(line(900.0 + 10 * k, 1e-4) for k in sides)
    assert "with 7 sidebands from −4 to 3." in one(family("carrier", 900.0, lines, sides))


def test_a_narrow_band_has_a_width_and_no_fold():
    made = one(every_kind()[6])
    assert "Narrow band at 640.0 Hz" in made
    assert made.endswith("width 3.0 Hz [2.5, 3.5].")


def test_exact_matches_come_first_with_sigmas_and_source():
    made = one(single(1000.0, 1e-3, (USB, TIMER, LAMP, MOTOR, SHAFT)))
    assert (
        "Its rate agrees with USB frame (under 0.1 sigmas; USB 2.0); "
        "or timer tick (0.31 sigmas; common practice, no source)." in made
    )
    assert "Also in the band of: pulse-width dimmed lamp; brushed motor; shaft" in made
    assert "and others" not in made


def test_bands_are_a_hint_of_at_most_three():
    made = one(single(31.0, 1e-3, (LAMP, MOTOR, SHAFT, replace(SHAFT, id="charger-bursts"))))
    assert "agrees" not in made
    assert re.search(r"In the band of: [^;]+; [^;]+; [^;]+; and others\.", made)


def test_many_exact_matches_are_counted():
    many = tuple(replace(USB, name=f"source {n}") for n in range(9))
    made = one(single(1000.0, 1e-3, many))
    assert "source 5" in made
    assert "source 6" not in made
    assert "; and 3 more." in made


def test_a_match_of_the_spacing_says_so():
    made = one(every_kind()[1])
    assert "Its spacing agrees with half-wave rectified load" in made
    assert "Its rate agrees" not in made


def test_a_folded_match_is_never_claimed_plainly():
    made = one(single(217.0, 1e-3, (FOLDED,)))
    assert "Folded, it would agree with time signal <60 kHz> (0.2 sigmas; ITU-R TF.768)." in made
    assert "Its rate agrees" not in made


# independent: which entries of the catalogue are bands stands in the catalogue itself
@pytest.mark.parametrize("match", [USB, TIMER, LAMP, SHAFT, MOTOR, HALF_WAVE])
def test_a_band_is_told_from_a_rate(match):
    assert family_words.is_band(match) is bool(catalogue()[match.id].bands_hz)


def test_folds_and_the_rate_that_tells():
    made = one(single(217.0, 1e-3))
    assert "If folded, truly at 4.783, 5.217 or 9.783 kHz; a record at " in made
    change = telling_rate(217.0, RATE, (4783.0, 5217.0, 9783.0))
    assert f"a record at {change.new_rate_hz:g} samples/s would tell." in made


def test_folds_are_said_of_three_families_only():
    text = said(*(single(100.0 + k * 31, 1e-3 / (k + 1)) for k in range(9)))[0]
    assert text.count("If folded") == 3


def test_nothing_folds_where_the_input_cuts_off():
    assert "fold" not in one(single(217.0, 1e-3, folds=False))


@pytest.mark.parametrize(
    ("beside", "text"),
    [
        (BesideMains(20, 0.26, 812.0, True), "260 mHz above order 20 of the mains: separate by 8"),
        (BesideMains(1, -1.38, 2517.0, True), "1.38 Hz below order 1 of the mains: separate by o"),
        (BesideMains(6, 0.002, 0.7, False), "Inseparable from order 6 of the mains: 2 mHz, 0.7 "),
        (BesideMains(0, 24.3, 9e4, True), ""),
        (BesideMains(4, 16.7, 3e4, True), ""),
        (None, ""),
    ],
)  # fmt: skip
def test_what_lies_beside_an_order(beside, text):
    made = one(single(299.9, 1e-3, beside=beside))
    assert text in made
    assert ("order" in made) is bool(text)


def test_a_band_wider_than_the_gap_is_not_compared_with_an_order():
    assert "order" not in one(every_kind()[7])


def test_conversion_products_are_marked():
    assert "It may be made by the converter out of a strong tone." in one(
        single(217.0, 1e-3, converted=True)
    )
    lines = (line(1e3, 1e-3), line(2e3, 1e-4, converted=True))
    assert "1 of its lines may be made by the converter" in one(family("clock", 1e3, lines, (1, 2)))


def test_twelve_families_then_a_count():
    made = CONTENTS_CASES["many families"]().channels[0].contents
    assert len(family_words.entries(made, "V", RATE)) == 12
    assert tidy(family_words.weaker(made, "V")) == "And 48 weaker ones, up to 15 µV rms."
    few = Contents(MAINS, made.families[:13])
    assert tidy(family_words.weaker(few, "V")) == "And 1 weaker one, up to 15 µV rms."
    assert family_words.weaker(Contents(MAINS), "V") == ()


def test_the_strongest_comes_first_in_whatever_order_they_are_given():
    text = said(single(100.0, 1e-5), single(200.0, 1e-3))[0]
    assert text.index("200.0") < text.index("100.0")


@pytest.mark.parametrize(
    ("rms", "text"),
    [
        (0.1, "A line at 1.2340000 kHz [1.2339996, 1.2340004] is stronger: 100.0 mV ["),
        (0.03, "A line at 1.2340000 kHz [1.2339996, 1.2340004] comes near it: 30.0 mV ["),
        (0.01, ""),
    ],
)
def test_the_conclusion_names_what_the_mains_do_not_dwarf(rms, text):
    made = holding(examination(HUM), families=(single(1234.0, rms),)).channels[0].contents
    conclusion = tidy(sentences.conclusion(made, "V"))
    assert text in conclusion
    assert ("line at" in conclusion) is bool(text)
    assert (tidy(sentences.brief(made, "V")).count("; line at") == 1) is bool(text)


def test_the_conclusion_says_when_it_may_be_the_mains_itself():
    made = single(299.9, 0.1, beside=BesideMains(6, 0.002, 0.7, False))
    conclusion = tidy(sentences.conclusion(Contents(MAINS, (made,)), "V"))
    assert conclusion.endswith("rms, inseparable from order 6 of the mains.")


def test_without_mains_the_strongest_line_stands_alone():
    made = CONTENTS_CASES["line without mains"]().channels[0].contents
    assert tidy(sentences.conclusion(made, "V")) == (
        "No mains comb is seen: all orders together are under 39 µV rms. "
        "A line at 810.2000 Hz [810.1996, 810.2004] carries 2.00 mV [1.96, 2.04] rms."
    )
