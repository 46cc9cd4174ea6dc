"""Records hold Python's own numbers, which print and compare alike everywhere."""

from __future__ import annotations

from dataclasses import fields, is_dataclass

import numpy as np
import pytest

from calibration.simulate import TYPICAL, comb
from straypath.capture.capture import Channel
from straypath.contents.comb import mains_comb

RATE_HZ = 2_000.0
PHASES = {order: 0.3 * order for order in TYPICAL}


def leaves(record):
    """Every value in a record, however deep."""
    if is_dataclass(record):
        for field in fields(record):
            yield from leaves(getattr(record, field.name))
    elif isinstance(record, tuple):
        for part in record:
            yield from leaves(part)
    else:
        yield record


@pytest.mark.parametrize("duration_s", [0.012, 0.1, 5.0])
@pytest.mark.parametrize("level", [0.0, 1.0])
def test_no_number_of_numpy_is_left(duration_s, level):
    n = int(duration_s * RATE_HZ)
    walk = 0.02 * np.sin(np.arange(n) / n * 9)  # slow enough to be followed in 5 s
    noise = 1e-3 * np.random.default_rng(1).standard_normal(n)
    x = level * comb(n, RATE_HZ, 49.97, TYPICAL, PHASES, track_hz=walk) + noise
    found = mains_comb(Channel("invented", x, "V", scale=-2.0), RATE_HZ)
    assert found.present == (level > 0 and duration_s >= 0.1)
    kinds = {type(leaf) for leaf in leaves(found)}
    assert kinds <= {bool, int, float, str, type(None)}
