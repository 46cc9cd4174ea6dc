"""Each judgement on values: a record that brings it about, and a close neighbour that must not.

All records are invented.
"""

from __future__ import annotations

import numpy as np
import pytest
from capture.invented import SAMPLES, check, clean, codes, hum, ids, noise, time

SQUARE = np.sign(hum(frequency=53.0))
PULSES = (np.abs((time() * 53) % 1 - 0.5) < 0.05) * 1.0
CHARGING = 1 - np.exp(-20 * ((time() * 50) % 1))


def with_value(x, start, stop, value):
    x = np.array(x)
    x[start:stop] = value
    return x


def overloaded():
    """A sine that a 16-bit converter could not hold."""
    return np.clip(codes(40_000 * hum(), np.int32), -32768, 32767).astype(np.int16)


def alternating(depth):
    """Highest and lowest value in turn, as a peak record keeps them."""
    wide = np.abs(noise(SAMPLES))
    wide[1::2] *= -1
    return 3 * hum() + depth * wide


PAIRS = {
    # id: {what: (record, whether it is found, facts of the channel)}
    "clipping": [
        ("sine cut at 0.9", np.clip(hum(), -0.9, 0.9), True, {}),
        ("sine cut at 0.9 on one side", np.minimum(hum(), 0.9), True, {}),
        ("sine that is whole", hum(), False, {}),
        ("12-bit sine cut by 1 %", np.clip(codes(2000 * hum()), -1980, 1980), True, {}),
        ("12-bit sine that is whole", codes(2000 * hum()), False, {}),
        ("16-bit sine at full scale", codes(32767 * hum(phase=0.0)), False, {}),
        ("synchronous sine at full scale", hum(phase=np.pi / 2), False, {"full_scale": (-1, 1)}),
        (
            "synchronous sine with two equal tops",
            hum(phase=np.pi / 2 - np.pi / 200).astype(np.float32),
            False,
            {"full_scale": (-1, 1)},
        ),
        (
            "sine sampled so fast that float32 makes tops flat",
            hum(400_000, 1e7, phase=0.0).astype(np.float32),
            False,
            {},
        ),
        ("sine of 8 bits", codes(100 * hum()), False, {}),
        ("sine of 4 bits", codes(7 * hum()), False, {}),
        ("noise cut at 3 sigma", np.clip(noise(), -3, 3), True, {}),
        ("noise in 12 bits cut at 3 sigma", np.clip(codes(300 * noise()), -900, 900), True, {}),
        ("noise in 12 bits", codes(300 * noise()), False, {}),
        ("noise over one step", codes(noise()), False, {}),
        ("noise with even odds", np.random.default_rng(2).integers(-9, 10, SAMPLES), False, {}),
        ("square at full scale", codes(32767 * SQUARE), True, {}),
        ("square elsewhere", codes(20_000 * SQUARE), False, {}),
        ("noisy square", SQUARE + 0.01 * noise(), False, {}),
        ("triangle", np.abs((time() * 50) % 1 - 0.5), False, {}),
        ("capacitor that charges, in codes", codes(2000 * CHARGING), False, {}),
        ("rectified sine", np.abs(hum()), False, {}),
        ("sine in held samples", np.repeat(hum(4000), 5), False, {}),
        ("a normalised peak", with_value(clean(), 70, 71, 32767), False, {}),
    ],
    "flat-tops": [
        ("trapezoid", np.clip(3 * hum(), -1, 1), True, {}),
        ("trapezoid that is rounded", np.tanh(1.5 * hum()), False, {}),
    ],
    "constant": [
        ("silence", np.zeros(SAMPLES), True, {}),
        ("silence with one click", with_value(np.zeros(SAMPLES), 9, 10, 1.0), False, {}),
    ],
    "no-samples": [
        ("nothing", np.zeros(0), True, {}),
        ("only NaN", np.full(50, np.nan), True, {}),
        ("one number", np.ones(1), False, {}),
    ],
    "missing": [
        ("NaN in one place", with_value(hum(), 700, 720, np.nan), True, {}),
        ("infinite once", with_value(hum(), 700, 701, -np.inf), True, {}),
        ("zero in one place", with_value(hum(), 700, 720, 0.0), False, {}),
    ],
    "stuck": [
        ("a value that hangs", with_value(clean(), 5060, 5160, clean()[5060]), True, {}),
        ("zeros for lost samples", with_value(3 + hum(), 5060, 5160, 0.0), True, {}),
        ("a slow 8-bit sine", codes(100 * hum(frequency=1.0)), False, {}),
        ("a square", 20_000 * SQUARE, False, {}),
        ("pulses from a quiet base", 100 * PULSES, False, {}),
        ("a phase-cut current", np.where((time() * 100) % 1 > 0.15, hum(), 0.0), False, {}),
        ("noise over 0.8 steps", codes(0.8 * noise(500_000)), False, {}),
        ("a clipped sine", np.clip(hum(), -0.9, 0.9), False, {}),
    ],
    "repeated-samples": [
        ("noise held five times", np.repeat(noise(4000), 5), True, {}),
        ("a sine held twice", np.repeat(hum(8000), 2), True, {}),
        ("a sine once", hum(), False, {}),
        ("a synchronous square", SQUARE, False, {}),
    ],
    "peak-mode": [
        ("highest and lowest in turn", alternating(1.0), True, {}),
        ("noise", noise(), False, {}),
        ("a tone near half the rate", hum(frequency=4990.0), False, {}),
        ("a ramp", time(), False, {}),
    ],
    "outlier": [
        ("one sample at three times the peak", with_value(clean(), 700, 701, 30_000), False, {}),
        ("one huge sample", with_value(0.1 * noise(), 700, 701, 9.0), True, {}),
        ("a filler for 'missing'", with_value(hum(), 70, 72, -9999.0), True, {}),
        ("noise", noise(), False, {}),
        ("a burst of ten", with_value(0.1 * noise(), 700, 710, 9.0), False, {}),
        ("pulses", PULSES + 0.01 * noise(), False, {}),
    ],
    "few-codes": [
        ("hum over three codes", codes(1.2 * hum()), True, {}),
        ("hum over three codes, as floats", 0.005 * codes(1.2 * hum()), True, {}),
        ("noise under half a step", codes(0.3 * noise()), True, {}),
        ("noise over one step: hum shows through", codes(noise()), False, {}),
        ("hum over many codes", codes(100 * hum()), False, {}),
    ],
    "coarse-steps": [
        ("hum over 40 codes without noise", codes(20 * hum()), True, {}),
        ("hum over 40 codes with noise", codes(20 * hum() + 0.8 * noise()), False, {}),
        ("hum over 2,000 codes without noise", codes(1000 * hum()), False, {}),
        ("hum on no grid", hum(), False, {}),
    ],
    "drift": [
        ("a ramp under hum", 0.1 * hum() + 3 * time(), True, {}),
        ("a step under hum", 0.1 * hum() + 2.0 * (time() > 1.1), True, {}),
        ("a slight ramp under hum", hum() + 0.5 * time(), False, {}),
        ("hum alone", hum(), False, {}),
        ("rare pulses", (np.abs(time() % 1 - 0.4) < 0.01) + 0.01 * noise(), False, {}),
    ],
    "aliasing": [
        ("a tone near half the rate", hum(frequency=4700.0) + 0.01 * noise(), True, {}),
        ("a floor that no filter bends", hum() + 0.2 * noise(), True, {}),
        ("a floor that falls", clean(), False, {}),
        ("the converter's own flat floor", codes(20 * hum() + 0.5 * noise()), False, {}),
        ("clean hum", hum(), False, {}),
    ],
}
CASES = [
    pytest.param(identity, record, found, facts, id=f"{identity}: {what}")
    for identity, rows in PAIRS.items()
    for what, record, found, facts in rows
]


@pytest.mark.parametrize(("identity", "record", "found", "facts"), CASES)
def test_finding(identity, record, found, facts):
    said = check(record, channel=facts)
    assert (identity in ids(said)) is found, [f.text for f in said.findings]


def test_every_judgement_has_both_sides():
    for identity, rows in PAIRS.items():
        assert {found for _, _, found, _ in rows} == {True, False}, identity


def test_nothing_is_wrong_with_a_clean_record():
    assert ids(check(clean())) == set()


def test_clipping_is_certain_at_the_end_of_the_range_only():
    cut = overloaded()
    said = check(cut)
    assert said.find("clipping").severity == "unsound"
    assert said.clipped_share == pytest.approx(np.mean(np.abs(cut.astype(int)) >= 32767), abs=1e-12)
    assert not said.sound
    elsewhere = check(np.clip(codes(20_000 * hum()), -15_000, 15_000) + np.int16(3))
    assert elsewhere.find("clipping").severity == "caution"


@pytest.mark.parametrize(
    ("record", "channel", "bits"),
    [
        (np.clip(codes(2500 * hum() + 2000), 0, 4095) + np.int16(7), {}, 12),
        (np.clip(codes(3000 * hum()), -2048, 2047), {}, None),
        (np.clip(1.2 * hum(), -1, 1), {"full_scale": (-1.0, 1.0)}, None),
        (
            np.clip(codes(150 * hum()), -100, 100),
            {"scale": -0.01, "offset": 0.5, "full_scale": (-0.5, 1.5)},
            None,
        ),
    ],
    ids=["bits", "binary range", "full scale", "full scale, inverted"],
)
def test_the_end_of_the_range_is_known_in_several_ways(record, channel, bits):
    said = check(record, channel=channel, bits=bits)
    assert said.find("clipping").severity == "unsound"


def test_an_unsigned_zero_may_be_the_floor():
    said = check(np.clip(codes(100 * hum() + 60), 0, None).astype(np.uint16))
    assert said.find("clipping").severity == "caution"
    assert "zero" in said.find("clipping").text


def test_a_hanging_reading_is_cut_out_of_the_stretch():
    record = with_value(clean(), 5060, 5160, clean()[5060])
    assert check(record).stretch == (5160, SAMPLES)
    assert "10 ms" in check(record).find("stuck").text.replace("\u202f", " ")


def test_words_carry_the_numbers():
    said = check(with_value(hum(), 700, 720, np.nan))
    text = said.find("missing").text.replace("\u202f", " ")
    assert text == "20 samples are missing, once. The longest hole lasts 2 ms."
    text = check(codes(1.2 * hum()), channel={"scale": 0.005}).find("few-codes").text
    assert "2 steps of 5 mV" in text.replace("\u202f", " ")
    text = check(np.repeat(noise(4000), 5)).find("repeated-samples").text
    assert "2000 Hz" in text


def test_worst_findings_come_first():
    said = check(overloaded(), 300.0, coupling="ac", averages=16)
    order = ["unsound", "caution", "note"]
    ranks = [order.index(finding.severity) for finding in said.findings]
    assert set(ranks) == {0, 1, 2}
    assert ranks == sorted(ranks)
