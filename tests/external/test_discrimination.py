"""Telling 50 from 60 Hz: what a plan promises, against the reference values and against draws.

The entries are those of the group 'short record', which also hold `contents.fisher.separation`.
"""

from __future__ import annotations

import json

import numpy as np
import pytest
from external.published import DATA, Entry

from straypath.contents.plan.tell_mains import plan_tell_mains

ROWS = json.loads((DATA / "signals_short_record.json").read_text(encoding="utf-8"))
ENTRIES = [Entry(**row) for row in ROWS if row["id"].startswith("S7-disc-")]


def contrasts(entry):
    return plan_tell_mains(duration_s=entry.given("T")[0] * 1e-3).contrasts


def left_over(entry):
    return [part for c in contrasts(entry)[:2] for part in (c.worst, c.mean)]


def needed_db(entry):
    return contrasts(entry)[1].rho_db


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda e: f"{e.label}-{e.id}")
def test_reference(entry):
    entry.check(needed_db(entry) if "snr" in entry.id else left_over(entry))


def test_there_are_both_kinds():
    assert sum("snr" in entry.id for entry in ENTRIES) == 5
    assert len(ENTRIES) == 16


def projector(frequency_hz, t, terms):
    angle = 2 * np.pi * frequency_hz * t
    columns = [np.cos(angle), np.sin(angle), *(t**power for power in range(terms))]
    basis = np.linalg.qr(np.stack(columns, axis=1))[0]
    return basis @ basis.T


@pytest.mark.parametrize("terms", [0, 1, 2])
@pytest.mark.parametrize("duration_s", [0.015, 0.02, 0.03])
def test_wrong_answers_are_as_rare_as_planned(duration_s, terms):
    """Independent: the nearer of two least-squares fits, 20,000 draws at the phase that hides best.

    The plan's error is that of two points; a whole plane of rivals lies near in the shortest
    records, so a factor of two is allowed to both sides.
    """
    plan = plan_tell_mains(duration_s=duration_s, floor=1e-3)
    n = 200
    rate = n / duration_s
    t = (np.arange(n) - (n - 1) / 2) / rate
    true, rival = (projector(f, t, terms) for f in plan.between_hz)
    amplitude = np.sqrt(2.0) * plan.contrasts[terms].least_rms
    phases = np.linspace(0.0, np.pi, 181)
    waves = amplitude * np.cos(2 * np.pi * 50.0 * t + phases[:, np.newaxis])
    hidden = waves[np.argmin(np.linalg.norm(waves - waves @ rival, axis=1))]
    rng = np.random.default_rng(1)
    # With the tenth of the noise power that a plan leaves to the converter.
    noise = rng.normal(0.0, 1e-3 * np.sqrt(1.1 * rate / 2), (20_000, n))
    records = hidden + noise
    fits = [np.sum((records @ p) ** 2, axis=1) for p in (true, rival)]
    wrong = np.mean(fits[1] > fits[0])
    assert 0.005 <= wrong <= 0.02
