"""The floor beside what source and converter explain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from report.handmade import quantity

from straypath.capture.capture import Acquisition, Capture, Channel
from straypath.contents.records import Floor
from straypath.errors import InputError
from straypath.floor_budget import budget_of
from straypath.inquiry import examine, source_resistance
from straypath.report import machine
from straypath.report.sections import budget
from straypath.wording import plain

FLOOR = Floor((10.0, 1e3), (quantity(90e-9, 1e-9), quantity(40e-9, 1e-9)), None, None)
WHITE = replace(FLOOR, white=quantity(39e-9, 5e-10))


def tidy(text):
    return plain(text).replace("\u202f", " ").replace("\u00a0", " ")


def test_source_alone():
    """Independent: 4kTR of 10 kΩ at 300 K by hand, k of the SI (exact) = 1.380649e-23 J/K."""
    made = budget_of(WHITE, 1e5, unit="V", source_ohm=10e3)
    assert made.explained == pytest.approx(np.sqrt(4 * 1.380649e-23 * 300 * 10e3), rel=1e-9)
    assert made.times.value == pytest.approx(39e-9 / made.explained)
    assert [item.name for item in made.items] == ["source"]
    assert tidy(budget(made, "V")) == (
        "The floor is 3.03 [2.95, 3.11] × what the source (13 nV/√Hz) explains."
    )


def test_converter_by_its_span():
    """Independent: a step of 2 V/2^12 is Δ/√(6 fs) (Bennett), by hand."""
    made = budget_of(FLOOR, 1e5, unit="A", bits=12, full_scale=(-1.0, 1.0))
    assert made.explained == pytest.approx(2 / 4096 / np.sqrt(6e5))
    assert made.frequency_hz == 1e3  # the quietest point, for there is no white level
    assert made.times.high < 1
    assert "smaller than stated" in tidy(budget(made, "A"))


def test_both_add_in_power():
    made = budget_of(WHITE, 1e5, unit="V", source_ohm=10e3, bits=16, step=1e-5)
    assert made.explained == pytest.approx(np.hypot(*(item.density for item in made.items)))
    assert sum(item.share for item in made.items) == pytest.approx(1.0)
    assert made.items[0].share >= made.items[1].share


def test_a_grid_in_a_file_is_no_converter():
    assert budget_of(WHITE, 1e5, unit="V", step=1e-5) is None


@pytest.mark.parametrize(
    ("floor", "unit", "said"),
    [(None, "V", "No floor was read"), (WHITE, "A", "the channel in A"), (WHITE, "", "no unit")],
)
def test_says_why_there_is_none(floor, unit, said):
    made = budget_of(floor, 1e5, unit=unit, source_ohm=1e4)
    said = said.replace("no unit", "without a unit")
    assert made.times is None
    assert said in made.why_not
    assert said in tidy(budget(made, unit))


@pytest.mark.parametrize("text", ["0 Ω", "-5 Ω", "10k", "5 V", "much", 0, float("nan"), -1.0])
def test_what_is_no_source(text):
    with pytest.raises(InputError, match=r"^source: "):
        source_resistance(text)


def johnson(seed=2):
    """An invented record: three times the noise of 1 MΩ, in the steps of 16 bits."""
    rate, density = 10_000.0, 3 * np.sqrt(4 * 1.380649e-23 * 300 * 1e6)
    x = np.random.default_rng(seed).normal(0, density * np.sqrt(rate / 2), 100_000)
    facts = Acquisition(bits=16)
    return Capture((Channel("a", x, "V", full_scale=(-0.01, 0.01)),), rate, acquisition=facts)


def test_a_record_of_thrice_the_noise():
    found = examine(johnson(), source="1 Mohm")
    times = found.channels[0].budget.times
    assert times.value == pytest.approx(3.0, rel=0.05)  # independent: what was put in
    document = machine.document(found)
    assert document["channels"][0]["floor"]["budget"]["times"] == times.as_json()
    assert any("left out of the noise budget" in said for said in document["assumptions"])
