"""The statistical promises, with 300 draws a cell; `make calibrate` makes the same with 2,000.

Seeds are fixed. The bounds are those of the design; what is added to them is what 300 draws can
miss by chance: two standard deviations, 8 % on a root mean square and 2.5 % on a coverage of 95 %.
"""

from __future__ import annotations

import pytest

from calibration import backgrounds, estimation, nominal, presence, wander
from calibration.simulate import BROWN, PINK, WHITE

DRAWS = 300
RATIO = 1.10 * 1.08


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
    for what in row.errors:
        assert row.ratio(what) <= RATIO, row
        assert low - 0.025 <= row.coverage(what) <= high + 0.025, row


@pytest.mark.parametrize(
    "cell", [presence.Cell(t, f) for t in (0.2, 2.0) for f in (WHITE, PINK, BROWN)], ids=str
)
def test_bare_floors_raise_the_alarm_as_often_as_said(cell):
    """Half to twice nominal; 300 draws of a rate of 10 % miss by a third (two sd)."""
    row = presence.run(cell, DRAWS)
    assert 0.5 / 1.35 <= row.over_nominal(0.1) <= 2.0 * 1.35, row


@pytest.mark.parametrize(
    "cell", [nominal.Cell(t, w, 40.0) for t in (10, 20, 40) for w in nominal.WAVES], ids=str
)
def test_claims_of_50_or_60_hz_are_right(cell):
    """95 % of claims; 60 draws miss by 5.6 % (two standard deviations)."""
    assert nominal.run(cell, 60).right_share >= 0.95 - 0.056


# Where a strong line that is no mains order stands beside a short record's comb (hum of another
# supply under the speech, the lamp's 100 Hz), the floor is read too high and the interval is up to
# six times as wide as it could be. It still holds the truth.
WIDER = {
    ("pocketsphinx_librivox_0870", 50.0, 10),
    ("bsnb_sync_light_1", 46.7, 10),
    ("bsnb_sync_light_1", 46.7, 50),
    ("bsnb_sync_light_1", 61.3, 10),
}


@pytest.mark.parametrize("cell", backgrounds.cells(cycles=(10, 50)), ids=str)
def test_intervals_hold_in_real_backgrounds(cell):
    row = backgrounds.run(cell, 100)
    # 100 draws of 90 %: two standard deviations are 6 %.
    assert row.coverage >= 0.84, row
    wider = (cell.recording, cell.f0_hz, cell.cycles) in WIDER
    assert row.width <= (8.0 if wider else 2.0), row


def test_wandering_supply_keeps_its_high_orders():
    row = wander.run(20.0, 20)
    assert row.followed == 1.0
    assert all(abs(bias) < 0.01 for bias in row.bias.values()), row
