"""The examples in the docstrings of the limits, the standards and the propagation hold."""

from __future__ import annotations

import doctest

import pytest

from straypath import uncertainty
from straypath.contents import bounds, fisher, sine
from straypath.physics import supply


@pytest.mark.parametrize(
    "module", [bounds, fisher, sine, supply, uncertainty], ids=lambda m: m.__name__
)
def test_examples(module):
    outcome = doctest.testmod(module)
    assert outcome.attempted > 0
    assert outcome.failed == 0
