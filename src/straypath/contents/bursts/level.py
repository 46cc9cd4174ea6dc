"""The level of a channel: offset, slope and sudden steps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from straypath.contents.bursts.thresholds import upper_limit
from straypath.contents.records import Offset, Undetermined
from straypath.uncertainty import from_normal

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.arrays import FloatArray
    from straypath.capture.capture import Channel
    from straypath.contents.bursts.envelope import Envelope

FEWEST_SAMPLES = 32
# Numbers of batches whose scatter tells how slow the noise is.
BATCHES = (8, 16, 32, 64, 128)
# Up to here the samples themselves are the course.
SHORT = 8_192
# Exponents of scatter against number of batches: white noise, and a random walk.
WHITE, WALK = 1.0, -1.0
# Steps are looked for between the medians of so many blocks before and after.
SPANS = (5, 11, 21)
STEP_BLOCKS = 512
FEWEST_BLOCKS = 48
# A block of three cycles of 50 Hz under its taper is free of hum.
HUM_FREE_S = 0.06
STEP_RATE = 1e-3
# Of single precision, in which rows are read.
ROUNDING = 2e-6


def level(channel: Channel, env: Envelope) -> Offset | Undetermined:
    """Read a channel's mean, slope and steps, with uncertainties that count slow noise.

    The record is cut into K = 8, 16 … 128 batches, each a mean under a Hann taper; their scatter
    about a straight line goes as s² ∝ K^h, with h = 1 in white noise, 0 in 1/f noise, -1 in a
    random walk. The line s²(K) taken down to one batch is u² of the mean; taken to two it gives
    that of the slope. t with 6 degrees, those of the 8 batches.

    Parameters
    ----------
    channel : Channel
    env : Envelope
        Of its raw samples.

    Validity: a random walk has no level, and 1/f noise slower than four records is not covered.
    Hum is off where a batch holds three cycles; below, it widens the intervals.

    Example
    -------
    >>> import numpy as np
    >>> from straypath.capture.capture import Channel
    >>> from straypath.contents.bursts.envelope import envelope
    >>> x = 0.2 + 0.01 * np.random.default_rng(1).standard_normal(100_000)
    >>> offset = level(Channel("lead", x, "V"), envelope(x, 1e3))
    >>> round(offset.mean.value, 3), offset.mean.low < 0.2 < offset.mean.high
    (0.2, True)

    References
    ----------
    Law, Simulation Modeling and Analysis: the method of batch means (from memory).
    """
    if env.samples < FEWEST_SAMPLES:
        return Undetermined("offset", f"{env.samples} samples are too few to tell its noise.")
    short = env.samples <= SHORT
    track = (env.read(channel.raw, 0, env.samples) if short else env.track).astype(np.float64)
    rows = len(track)
    duration_s = rows * (1 if short else env.row) / env.rate_hz
    steps = _steps(track, duration_s)
    flat = track.copy()
    for at, size, _ in steps:
        flat[round(at * rows) :] -= size
    mean, mean_u, slope, slope_u = _line(flat)
    # A step's part of the mean over the record.
    mean += sum(size * (1.0 - at) for at, size, _ in steps)
    dof = BATCHES[0] - 2.0
    scale = abs(channel.scale)
    sign = -1.0 if channel.scale < 0 else 1.0
    return Offset(
        mean=from_normal(mean * channel.scale + channel.offset, mean_u * scale, dof),
        slope_per_s=from_normal(
            slope * channel.scale / duration_s, slope_u * scale / duration_s, dof
        ),
        steps=tuple(
            (at * duration_s, from_normal(size * sign, u).scaled(scale)) for at, size, u in steps
        ),
    )


def tapered_means(track: FloatArray, count: int) -> FloatArray:
    """Return means of `count` equal batches under a Hann taper, which keeps hum out.

    What does not fill a batch is left out at both ends alike.
    """
    size = len(track) // count
    first = (len(track) - size * count) // 2
    taper = np.hanning(size + 2)[1:-1]
    rows = track[first : first + size * count].reshape(count, size)
    return np.asarray(rows @ (taper / taper.sum()))


def _line(track: FloatArray) -> tuple[float, float, float, float]:
    """Mean, its standard uncertainty, slope per length of the record, and its uncertainty."""
    counts = [k for k in BATCHES if len(track) >= 2 * k or k == BATCHES[0]]
    fits = [_straight(tapered_means(track, k)) for k in counts]
    mean = fits[-1][0]
    slope = fits[-1][1] * len(track) / (len(track) // counts[-1] * counts[-1])
    scatter = np.array([max(f[2], np.finfo(float).tiny) for f in fits])
    k, weight = np.log(counts), np.array(counts) - 2.0
    centre, level = np.average(k, weights=weight), np.average(np.log(scatter), weights=weight)
    spread = float(np.sum(weight * (k - centre) ** 2))
    exponent = WHITE
    if len(counts) > 1:
        exponent = float(np.sum(weight * (k - centre) * np.log(scatter))) / spread
        # The logarithm of a variance has variance 2/dof; neighbours in K share most of theirs.
        unsure = float(np.sqrt(2.0 * len(counts) / spread))
        exponent = float(np.clip(exponent, WALK, WHITE)) if exponent < WHITE - unsure else WHITE
    one, two = (float(np.exp(level + exponent * (np.log(n) - centre))) for n in (1, 2))
    # In white noise the least-squares slope has 12 times the variance of the mean; the difference
    # of two halves, 16.
    return mean, float(np.sqrt(one)), slope, float(np.sqrt(12.0 / 16.0 * 8.0 * two))


def _straight(means: FloatArray) -> tuple[float, float, float]:
    """Mean, slope per length of all batches, and scatter (variance) about the line."""
    count = len(means)
    place = (np.arange(count) + 0.5) / count - 0.5
    slope = float(place @ means) / float(place @ place)
    left = means - means.mean() - slope * place
    return float(means.mean()), slope, float(left @ left) / (count - 2)


def _steps(track: FloatArray, duration_s: float) -> list[tuple[float, float, float]]:
    """Steps of level: place in the record 0 … 1, size and its standard uncertainty.

    d_w[i] = median of w blocks after block i - median of w before; a step stands out of all
    other d_w of the same record, which drift and slow noise raise alike.
    """
    count = int(min(STEP_BLOCKS, len(track), max(duration_s / HUM_FREE_S, 128)))
    if count < FEWEST_BLOCKS:
        return []
    blocks = tapered_means(track, count)
    least = ROUNDING * float(np.max(np.abs(blocks)))
    found: list[tuple[int, float, float, float]] = []
    for span in SPANS:
        if count < 8 * span:
            continue
        contrast, at = _contrasts(blocks, span)
        middle = float(np.median(contrast))
        chance = STEP_RATE / (2 * len(SPANS) * len(contrast))
        # Neighbours share their blocks: every `span`-th one is new.
        high = upper_limit(contrast, 1, chance, per_value=span)
        low = -upper_limit(-contrast, 1, chance, per_value=span)
        high, low = max(high, middle + least), min(low, middle - least)
        sigma = float(stats.median_abs_deviation(contrast, scale="normal"))
        for i in np.flatnonzero((contrast > high) | (contrast < low)):
            size = float(contrast[i] - middle)
            over = size / (high - middle if size > 0 else low - middle)
            found.append((int(at[i]), size, sigma, over))
    size_in_rows = len(track) // count
    first = (len(track) - size_in_rows * count) // 2
    return [
        ((first + at * size_in_rows) / len(track), size, sigma)
        for at, size, sigma in _strongest(found, blocks)
    ]


def _contrasts(blocks: FloatArray, span: int) -> tuple[FloatArray, NDArray[np.intp]]:
    medians = np.median(np.lib.stride_tricks.sliding_window_view(blocks, span), axis=1)
    contrast = medians[span + 1 :] - medians[: -span - 1]
    return np.asarray(contrast), np.arange(len(contrast)) + span


def _strongest(
    found: list[tuple[int, float, float, float]], blocks: FloatArray
) -> list[tuple[float, float, float]]:
    """The clearest contrasts, none within the longest span of a clearer one; place in blocks."""
    chosen: list[tuple[int, float, float, float]] = []
    for one in sorted(found, key=lambda f: -f[3]):
        if all(abs(one[0] - other[0]) > SPANS[-1] for other in chosen):
            chosen.append(one)
    return [(_place(blocks, at, size), size, sigma) for at, size, sigma, _ in sorted(chosen)]


def _place(blocks: FloatArray, at: int, size: float) -> float:
    """Where, in blocks from the first, the level passes from one median to the other."""
    first = max(0, at - SPANS[-1])
    y = (blocks[first : at + SPANS[-1] + 1] - np.median(blocks[max(0, at - SPANS[-1]) : at])) / size
    # y goes from 0 to 1; its sum about one half is least where the last block before it ends.
    k = min(int(np.argmin(np.cumsum(y - 0.5))), len(y) - 2)
    # The two blocks there tell by their level in which of them it fell, and where.
    inside = float(np.clip(2.0 - y[k] - y[k + 1], 0.0, 2.0))
    return first + k + inside
