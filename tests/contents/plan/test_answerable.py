"""The reverse agrees with the plans, and with what a record can hold."""

from __future__ import annotations

import pytest

from straypath.contents.plan.answerable import FRAME_HZ, answerable
from straypath.contents.plan.frame import plan_frame
from straypath.contents.plan.hum import plan_hum
from straypath.contents.plan.separate import plan_separate
from straypath.contents.plan.tell_mains import plan_tell_mains
from straypath.errors import InputError

FLOOR = 1e-7


def asked(*args, **given):
    return {verdict.question: verdict for verdict in answerable(*args, **given)}


def with_converter(floor):
    """The floor of a record that leaves a tenth of its power to the converter, as planned."""
    return floor * 1.1**0.5


def test_planned_records_answer_their_question():
    level = 2e-6
    hum = plan_hum(level, FLOOR, 0.05)
    made = hum.recording
    told = asked(made.duration_s, made.rate_hz, floor=with_converter(FLOOR))["hum"]
    assert told.answerable
    assert told.least == pytest.approx(level, rel=0.05)
    assert told.least <= level
    short = asked(made.duration_s / 2, made.rate_hz, floor=FLOOR, hum_rms=level)["hum"]
    assert not short.answerable
    assert short.least > level

    frame = plan_frame(FRAME_HZ, level, FLOOR).recording
    seen = asked(frame.duration_s, frame.rate_hz, floor=with_converter(FLOOR))["frame"]
    assert seen.answerable
    assert level / 1.06 <= seen.least <= level

    tell = plan_tell_mains(level=level, floor=FLOOR)
    made = tell.recording
    floor = with_converter(FLOOR)
    verdict = asked(made.duration_s, made.rate_hz, floor=floor, hum_rms=level)["tell-mains"]
    assert verdict.answerable
    assert verdict.least == pytest.approx(tell.contrasts[-1].least_rms, rel=1e-3)
    half = asked(made.duration_s / 2, made.rate_hz, floor=FLOOR, hum_rms=level)["tell-mains"]
    assert not half.answerable

    apart = plan_separate(1000.0, 999.6).recording
    assert asked(apart.duration_s, apart.rate_hz, rates_hz=(1000.0, 999.6))["separate"].answerable
    assert not asked(4.9, apart.rate_hz, rates_hz=(1000.0, 999.6))["separate"].answerable


def test_a_clock_beside_the_mains():
    """The 20th order of 49.98 Hz: read right at 10 s, inseparable at 0.05 s."""
    ten = asked(10.0, 10e3, mains_hz=49.98)["separate"]
    assert ten.answerable
    assert ten.least_hz == pytest.approx(0.2)
    few = asked(0.05, 10e3, mains_hz=49.98)["separate"]
    assert not few.answerable
    assert few.why.startswith("Inseparable")
    same = asked(10.0, 10e3, mains_hz=50.0)["separate"]
    assert not same.answerable
    assert "same" in same.why
    # On 60 Hz the orders lie 20 Hz beside the clock.
    assert asked(0.2, 10e3, mains_hz=60.0)["separate"].answerable


def test_slow_and_short_records_say_why():
    for verdict in answerable(10.0, 100.0):
        assert not verdict.answerable
        assert "samples/s" in verdict.why
    for verdict in answerable(5e-3, 1e5, floor=FLOOR):
        assert not verdict.answerable
        assert "5\u202fms" in verdict.why or "Inseparable" in verdict.why


def test_known_mains_needs_no_telling():
    assert "known" in asked(1e-3, 1e5, mains_hz=50.0)["tell-mains"].why


def test_without_a_floor_there_is_no_least():
    for verdict in answerable(10.0, 10e3):
        assert verdict.answerable
        assert verdict.least is None


def test_the_floor_may_depend_on_frequency():
    sloped = asked(10.0, 10e3, floor=lambda f: FLOOR * 100.0 / f)
    flat = asked(10.0, 10e3, floor=FLOOR)
    assert sloped["hum"].least == pytest.approx(2.0 * flat["hum"].least)
    assert sloped["frame"].least == pytest.approx(100.0 / FRAME_HZ * flat["frame"].least)


def test_coarse_steps_set_the_least_hum():
    coarse = asked(10.0, 10e3, floor=FLOOR, step=1e-3)
    assert coarse["hum"].least == pytest.approx(1e-3 * (5.3 / 0.05) ** (2 / 3) / 2**0.5, rel=1e-3)
    assert "steps" in coarse["hum"].why
    assert "half a step" in coarse["frame"].why
    smooth = asked(10.0, 10e3, floor=FLOOR, step=1e-6)
    assert "floor" in smooth["hum"].why


def test_long_records_need_a_stronger_line():
    """Beyond four million samples the default search needs 5 dB more."""
    least = [asked(10.0, rate, floor=FLOOR)["frame"].least for rate in (1e5, 1e6)]
    assert least[1] / least[0] == pytest.approx(10**0.25)


@pytest.mark.parametrize("given", [(0.0, 1e3), (1.0, 0.0), (1.0, float("inf"))])
def test_refusals(given):
    with pytest.raises(InputError, match="not above zero"):
        answerable(*given)
