"""Coherence levels against the values computed for the project, and the null law itself."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from external.published import Entry

from straypath.contents.pair.signals import pair_of
from straypath.contents.pair.significance import coherence_chance, coherence_level
from straypath.contents.pair.spectrum import band_chance, cross_spectra
from straypath.errors import InputError

DATA = Path(__file__).parents[2] / "data" / "signals_statistics.json"
ENTRIES = [Entry(**row) for row in json.loads(DATA.read_text(encoding="utf-8"))]


def of(prefix):
    found = [entry for entry in ENTRIES if entry.id.startswith(prefix)]
    assert found
    return [pytest.param(entry, id=f"{entry.label}-{entry.id}") for entry in found]


@pytest.mark.parametrize("entry", of("S9-msc-"))
def test_level(entry):
    (count,) = entry.given("K")
    entry.check([coherence_level(count, alpha) for alpha in (0.05, 0.01)])


@pytest.mark.parametrize("entry", of("S9-welch50-16") + of("S9-welch50-32"))
def test_independent_segments(entry):
    """Half the degrees of freedom of the mean; S9-welch50-8 has fewer segments than we ask for."""
    (count,) = entry.given("K")
    length = 4096
    noise = np.random.default_rng(1).standard_normal((2, length // 2 * (count + 1)))
    found = cross_spectra(pair_of(*noise, 1.0), 1.0, length)
    assert found.counts.sum() == count
    entry.check([1 / found.independent, 2 * found.independent])


def test_chance_undoes_level():
    for count in (2, 7.5, 100):
        assert coherence_chance(coherence_level(count, 0.02), count) == pytest.approx(0.02)
        assert coherence_level(count, 0.02, 40) == pytest.approx(coherence_level(count, 0.0005))


@pytest.mark.parametrize("given", [(1, 0.01, 1), (5, 0.0, 1), (5, 0.01, 0)])
def test_refuses_what_has_no_level(given):
    with pytest.raises(InputError, match="no coherence level"):
        coherence_level(*given)


def test_band_chance_is_uniform_between_unrelated_noises():
    """Independent: 400 pairs; a share p of them falls below p, within 3 binomial deviations."""
    rng = np.random.default_rng(7)
    chances = []
    for _ in range(400):
        spectra = cross_spectra(pair_of(*rng.standard_normal((2, 8_000)), 1.0), 1.0, 128)
        yy, xx, yx, independent = spectra.without(None)
        chances.append(band_chance((np.abs(yx) ** 2 / yy / xx)[10:40], independent))
    for p in (0.02, 0.1, 0.5):
        assert np.mean(np.array(chances) < p) == pytest.approx(
            p, abs=3 * np.sqrt(p * (1 - p) / 400)
        )
