"""One channel against a reference: what is compared, and what is said where nothing can be."""

from __future__ import annotations

import numpy as np
import pytest
from contents.pair.invented_pairs import F0_HZ, RATE_HZ, holds, holds_angle, times, tones

from straypath import inquiry
from straypath.capture.capture import Acquisition, Capture, Channel
from straypath.contents.pair.reference import CAUTION
from straypath.errors import InputError

DELAY_S, GAIN, TONE_HZ = 2e-4, 0.005, 217.2


def pair(seconds=5.0, *, y_noise=1e-4):
    """An invented channel that follows an invented adapter, with a tone of its own."""
    noise = np.random.default_rng(3).standard_normal((2, int(seconds * RATE_HZ)))
    t = times(seconds)
    mains = {1: 4 * np.exp(0.3j), 3: 0.2 * np.exp(0.1j)}
    later = {k: GAIN * z * np.exp(-2j * np.pi * k * F0_HZ * DELAY_S) for k, z in mains.items()}
    y = tones(t, later) + 0.005 * np.cos(2 * np.pi * TONE_HZ * t) + y_noise * noise[0]
    x = tones(t, mains) + 1e-3 * noise[1]
    return Capture((Channel("probe", y, "V"), Channel("adapter", x, "V")), RATE_HZ)


@pytest.fixture(scope="module")
def examined():
    return inquiry.examine(pair(), reference="adapter")


def test_lines_phases_and_difference(examined):
    against = examined.channels[0].against
    assert (against.reference, against.cautions) == ("adapter", (CAUTION,))
    lines = {line.order or round(line.frequency_hz, 1): line for line in against.transfer.lines}
    assert set(lines) == {1, 3, TONE_HZ}
    for order in (1, 3):  # independent: what was put in
        assert holds(lines[order].gain, GAIN)
        assert holds_angle(lines[order].phase_rad, -2 * np.pi * order * F0_HZ * DELAY_S)
    assert not lines[TONE_HZ].coherent
    psi = {each.order: each.phase_rad for each in against.phases.orders}
    assert holds_angle(psi[3], 0.1 - 3 * 0.3 - 2 * np.pi * 3 * F0_HZ * DELAY_S)
    assert holds(against.difference.gain, GAIN)
    assert holds(against.difference.delay_s, DELAY_S)
    assert against.difference.at_least_db > 40


def test_the_reference_is_not_compared_with_itself(examined):
    assert examined.channels[1].against is None


def test_a_reference_that_is_not_shown(examined):
    found = inquiry.examine(pair(), channels=["probe"], reference=2)
    assert [each.channel.name for each in found.channels] == ["probe"]
    assert found.channels[0].against == examined.channels[0].against


@pytest.mark.parametrize(
    ("channels", "reference", "said"),
    [(None, "nix", "there is no channel 'nix'"), (["adapter"], "2", "no other channel")],
)
def test_a_wrong_reference(channels, reference, said):
    with pytest.raises(InputError, match=said):
        inquiry.examine(pair(0.5), channels=channels, reference=reference)


def test_a_record_too_short_to_compare_says_so():
    against = inquiry.examine(pair(0.1), reference="adapter").channels[0].against
    assert against.transfer is against.difference is None
    assert "less than two stretches" in against.undetermined[0].why
    assert against.cautions == (CAUTION,)


def test_channels_of_noise_have_nothing_to_compare():
    noise = np.random.default_rng(8).standard_normal((2, 8000))
    capture = Capture((Channel("a", noise[0]), Channel("b", noise[1])), RATE_HZ)
    (lost,) = inquiry.examine(capture, reference="b").channels[0].against.undetermined
    assert lost.why == "Neither channel shows the mains, and this one no other line."


def triggered(word):
    capture = pair()
    return Capture(capture.channels[:1], RATE_HZ, acquisition=Acquisition(trigger=word))


def test_a_trigger_on_the_mains_without_a_place_says_what_is_missing():
    against = inquiry.examine(triggered("line")).channels[0].against
    assert against.reference is None
    assert against.phases.orders == ()
    assert "not known where in the record the trigger sits" in against.phases.why_not


def test_phases_at_a_trigger():
    """Independent: the phase that was put in, moved from the centre to the trigger."""
    at_s = 2.4
    found = inquiry.examine(triggered(""), trigger_at_s=at_s).channels[0]
    psi = {each.order: each.phase_rad for each in found.against.phases.orders}
    moved = at_s - (5.0 * RATE_HZ - 1) / 2 / RATE_HZ
    assert holds_angle(psi[1], 0.3 + 2 * np.pi * F0_HZ * (moved - DELAY_S))


def test_no_reference_nothing_to_compare():
    assert inquiry.examine(triggered("free")).channels[0].against is None
