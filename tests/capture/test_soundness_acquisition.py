"""Judgements on how a record was taken, each with a neighbour that must not trigger it."""

from __future__ import annotations

import pytest
from capture.invented import check, clean, hum, ids, noise

PAIRS = {
    "peak-mode": [({"mode": "peak"}, "unsound"), ({"mode": "sample"}, None), ({}, None)],
    "screen-export": [({"mode": "screen"}, "caution"), ({"mode": "sample"}, None)],
    "averaged": [
        ({"mode": "average", "averages": 64, "trigger": "channel 2"}, "unsound"),
        ({"mode": "average", "averages": 64}, "caution"),
        ({"mode": "average"}, "caution"),
        ({"averages": 16}, "caution"),
        ({"mode": "average", "averages": 64, "trigger": "line"}, None),
        ({"mode": "average", "averages": 1}, None),
    ],
    "aperture": [
        ({"aperture_s": 0.02}, "unsound"),
        ({"aperture_s": 0.1}, "unsound"),
        ({"aperture_s": 0.008}, "note"),
        ({"aperture_s": 0.002}, None),
        ({"aperture_s": 0.0}, None),
    ],
    "probe-mismatch": [
        ({"probe_ratio": 10.0, "input_ratio": 1.0}, "unsound"),
        ({"probe_ratio": 10.0, "input_ratio": 10.0}, None),
        ({"probe_ratio": 10.0}, None),
    ],
    "probe-unknown": [
        ({"probe_ratio": 10.0}, "note"),
        ({"input_ratio": 10.0}, "note"),
        ({"probe_ratio": 10.0, "input_ratio": 10.0}, None),
        ({}, None),
    ],
    "ac-coupled": [({"coupling": "ac"}, "note"), ({"coupling": "dc"}, None), ({}, None)],
    "narrow-band": [
        ({"bandwidth_limit_hz": 500.0}, "note"),
        ({"bandwidth_limit_hz": 30.0}, "caution"),
        ({"bandwidth_limit_hz": 4000.0}, None),
    ],
    "aliasing": [
        ({"bandwidth_limit_hz": 20e6}, "caution"),
        ({"bandwidth_limit_hz": 4000.0}, None),
        ({}, None),
    ],
}
CASES = [(identity, *row) for identity, rows in PAIRS.items() for row in rows]


@pytest.mark.parametrize(("identity", "facts", "severity"), CASES)
def test_fact(identity, facts, severity):
    finding = check(clean(), **facts).find(identity)
    assert (finding.severity if finding else None) == severity


def test_every_judgement_has_both_sides():
    for identity, rows in PAIRS.items():
        assert None in {severity for _, severity in rows}, identity
        assert {severity for _, severity in rows} != {None}, identity


def spaced(text):
    return text.replace("\u202f", " ")


def test_the_aperture_says_how_much_is_lost():
    """Independent: S6-sinc-1-0.001 and S6-60in50 of the reference values, 60 and 16 dB."""
    text = spaced(check(clean(), aperture_s=0.02).find("aperture").text)
    assert text == (
        "Each sample integrates over 20 ms. That weakens 50 Hz by 60 dB and 60 Hz by 16 dB,"
        " the line being 0.1 % off."
    )


@pytest.mark.parametrize(
    ("probe", "told", "words"),
    [(10.0, 1.0, "10 times too small"), (1.0, 10.0, "10 times too large")],
)
def test_a_mismatch_says_which_way(probe, told, words):
    finding = check(clean(), probe_ratio=probe, input_ratio=told).find("probe-mismatch")
    assert words in finding.text


def test_ac_coupling_says_how_far_it_turns():
    """Common practice, no source: a 7 Hz corner is 8° at 50 Hz (atan 7/50 = 7.97°)."""
    assert "turns 50 Hz by 8°" in spaced(check(clean(), coupling="ac").find("ac-coupled").text)


def test_a_bandwidth_limit_under_half_the_rate_rules_folds_out():
    loud = hum() + 0.2 * noise()
    assert "aliasing" in ids(check(loud))
    assert "aliasing" not in ids(check(loud, bandwidth_limit_hz=4000.0))


def test_unit():
    assert "unit-unknown" in ids(check(clean(), channel={"unit": ""}))
    assert "unit-unknown" not in ids(check(clean()))


def test_what_nobody_said_is_asked():
    everything = {
        "probe_ratio": 10.0,
        "input_ratio": 10.0,
        "coupling": "dc",
        "mode": "sample",
        "trigger": "line",
        "bandwidth_limit_hz": 4000.0,
        "touching": "nobody",
        "aperture_s": 1e-6,
    }
    assert check(clean(), **everything).questions == ()
    assert len(check(clean()).questions) == 6
    for fact in everything:
        known = {k: v for k, v in everything.items() if k != fact}
        rate = 1000.0
        asked = check(clean(), rate, **known).questions
        assert len(asked) == (0 if fact.endswith("_ratio") else 1), fact


def test_no_question_about_a_probe_where_there_is_no_voltage():
    assert not any("probe" in q for q in check(clean(), channel={"unit": "m/s"}).questions)
