"""What the tests of the commands share: an invented capture."""

from __future__ import annotations

import numpy as np
import pytest
from report.handmade import HUM, samples


@pytest.fixture(scope="session")
def hum(tmp_path_factory):
    """A capture of two channels, invented."""
    path = tmp_path_factory.mktemp("captures") / "two.csv"
    rate = 1000.0
    left = samples(HUM, 50.01, rate, 2.0, 1e-5)
    right = np.random.default_rng(5).normal(0, 1e-3, left.size)
    rows = "\n".join(f"{a:.7f},{b:.7f}" for a, b in zip(left, right, strict=True))
    path.write_text(
        f"# instrument: none (invented data)\n# sample rate: 1000 Hz\nleft (V),right (V)\n{rows}\n",
        encoding="utf-8",
    )
    return path
