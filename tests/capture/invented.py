"""Invented records for the soundness tests, and one short way to check them."""

from __future__ import annotations

import numpy as np

from straypath.capture.capture import Acquisition, Capture, Channel
from straypath.capture.soundness import check_soundness

RATE = 10_000.0
SAMPLES = 20_000


def time(samples=SAMPLES, rate=RATE):
    return np.arange(samples) / rate


def noise(samples=SAMPLES, seed=1):
    return np.random.default_rng(seed).standard_normal(samples)


def hum(samples=SAMPLES, rate=RATE, frequency=50.0, phase=0.3):
    return np.sin(2 * np.pi * frequency * time(samples, rate) + phase)


def clean(samples=SAMPLES, rate=RATE):
    """16-bit hum over noise that falls towards half the rate: nothing is wrong with it."""
    dull = np.convolve(noise(samples + 8), np.ones(9) / 9, mode="valid")
    return codes(10_000 * hum(samples, rate) + 30 * dull)


def codes(x, dtype=np.int16):
    return np.round(x).astype(dtype)


def captured(raw, rate=RATE, *, stamps=None, channel=None, **facts):
    wave = Channel("out", np.asarray(raw), **{"unit": "V", **(channel or {})})
    return Capture((wave,), rate, stamps=stamps, acquisition=Acquisition(**facts))


def check(raw, rate=RATE, mains_hz=None, **given):
    capture = captured(raw, rate, **given)
    return check_soundness(capture, capture.channels[0], mains_hz=mains_hz)


def ids(said):
    return {finding.id for finding in said.findings}
