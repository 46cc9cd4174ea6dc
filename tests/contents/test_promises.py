"""The statistical promises, with fewer draws a cell than `make calibrate` makes.

Promised are errors of at most 1.10 times the Cramér–Rao bound, intervals of which 93 to 97 % hold
(90 to 99 % under five cycles), and false alarms at half to twice the stated rate. Seeds are fixed.
What is added to a bound is what so many draws can miss by chance: two standard deviations, for 300
draws 8 % on a root mean square and 2.5 % on a coverage of 95 %.
"""

from __future__ import annotations

from math import sqrt

import pytest

from calibration import backgrounds, estimation, nominal, presence, wander
from calibration.simulate import BROWN, PINK, WHITE

DRAWS = 300
RATIO = 1.10 * 1.08


def most_missed(measured: float, draws: int) -> float:
    """Return how many combs may be missed: the measured part, and two standard deviations of it.

    regression: no theory says how many must be seen; the parts were counted when this was written.
    """
    return draws * measured + 2.0 * sqrt(draws * measured * (1.0 - measured))


def missed_before(cell) -> float:
    """Return the part that was missed: at 20 dB some; at 50 dB, and at five cycles, none."""
    if cell.rho_db > 20.0:
        return 0.0
    if cell.cycles == 2:
        return 0.13 if cell.floor is WHITE else 0.40
    return {(100, WHITE): 0.010, (100, PINK): 0.043}.get((cell.cycles, cell.floor), 0.0)


@pytest.mark.parametrize(
    "cell",
    [
        estimation.Cell(cycles, floor, rho_db, harmonics)
        for cycles in (2, 5, 20, 100)
        for floor in (WHITE, PINK)
        for rho_db, harmonics in ((20.0, False), (50.0, True))
    ]
    + [estimation.Cell(1000, WHITE, 60.0, True)],
    ids=str,
)
def test_errors_reach_the_bound_and_intervals_hold(cell):
    row = estimation.run(cell, DRAWS)
    low, high = (0.90, 0.99) if cell.cycles < 5 else (0.93, 0.97)
    assert row.missed <= most_missed(missed_before(cell), row.draws), row
    for what in row.errors:
        assert row.ratio(what) <= RATIO, row
        assert low - 0.025 <= row.coverage(what) <= high + 0.025, row


@pytest.mark.parametrize(
    "cell", [presence.Cell(t, f) for t in (0.2, 2.0) for f in (WHITE, PINK, BROWN)], ids=str
)
def test_bare_floors_raise_the_alarm_as_often_as_said_at_1_in_10(cell):
    """Half to twice nominal; 300 draws of a rate of 10 % miss by a third (two sd).

    At 1 in 10 only: 300 draws say nothing of 1 in 1,000, which `make calibrate` counts.
    """
    row = presence.run(cell, DRAWS)
    assert 0.5 / 1.35 <= row.over_nominal(0.1) <= 2.0 * 1.35, row


# Least part of the records for which the estimator must dare a claim. Half a cycle of 50 Hz often
# leaves both open, and to say so is right; a whole one at 40 dB hardly ever does.
DARED = {10: 0.02, 20: 0.9, 40: 0.9}


@pytest.mark.parametrize(
    "cell", [nominal.Cell(t, w, 40.0) for t in DARED for w in nominal.WAVES], ids=str
)
def test_claims_of_50_or_60_hz_are_made_and_right(cell):
    """95 % of the claims, less two standard deviations of so many."""
    row = nominal.run(cell, 60)
    assert row.claims >= DARED[cell.duration_ms] * row.draws, row
    assert row.right_share >= 0.95 - 2.0 * sqrt(0.95 * 0.05 / row.claims), row


# Where a strong line that is no mains order stands beside a short record's comb (hum of another
# supply under the speech, the lamp's 100 Hz), the floor is read too high and the interval is up to
# six times as wide as it could be. It still holds the truth.
WIDER = {
    ("pocketsphinx_librivox_0870", 50.0, 10),
    ("bsnb_sync_light_1", 46.7, 10),
    ("bsnb_sync_light_1", 46.7, 50),
    ("bsnb_sync_light_1", 61.3, 10),
}


# Missed of ten cycles in speech, which is itself a comb near 120 Hz and lies over hum of another
# supply at 50 Hz. Elsewhere none was.
MISSED_IN_SPEECH = {
    ("pocketsphinx_librivox_0870", 50.0, 10): 0.35,
    ("pocketsphinx_librivox_0870", 120.0, 10): 0.12,
    ("pocketsphinx_librivox_0870", 120.0, 50): 0.01,
}


@pytest.mark.parametrize("cell", backgrounds.cells(cycles=(10, 50)), ids=str)
def test_intervals_hold_in_real_backgrounds(cell):
    row = backgrounds.run(cell, 100)
    before = MISSED_IN_SPEECH.get((cell.recording, cell.f0_hz, cell.cycles), 0.0)
    assert row.missed <= most_missed(before, row.draws), row
    # 100 draws of 90 %: two standard deviations are 6 %.
    assert row.coverage >= 0.84, row
    wider = (cell.recording, cell.f0_hz, cell.cycles) in WIDER
    assert row.width <= (8.0 if wider else 2.0), row


def test_wandering_supply_keeps_its_high_orders():
    row = wander.run(20.0, 20)
    assert row.missed == 0
    assert row.followed == 1.0
    assert all(abs(bias) < 0.01 for bias in row.bias.values()), row
