"""The comb of a long record, from 32 cycles upward.

The frequency comes from the orders that stand out, weighted by k²A²/S; then all orders are
taken at that frequency, or along the phase track where it wandered.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from straypath.contents.mains.blocks import fit_blocks, with_floor_of_whole
from straypath.contents.mains.fit import (
    SCATTER_CHANCE,
    SEEN,
    CombFit,
    PhasePath,
    Slots,
    chance_of,
    widen_by_scatter,
)
from straypath.contents.mains.phase_track import smooth, straight
from straypath.contents.records import Wander

if TYPE_CHECKING:
    from straypath.arrays import BoolArray, ComplexArray, FloatArray
    from straypath.contents.mains.blocks import Blocks
    from straypath.contents.mains.phase_track import Track
    from straypath.contents.reduction import Reduced

# Signal-to-noise ratio, in power, from which a phase can be unwrapped without slips.
UNWRAPS = 10.0
# An order joins the track once its phase is known to this many radians beforehand.
JOINS_RAD = 0.5
# Turns within a block below which a phasor loses less than 1e-5: (π 0.002)²/6.
NO_LOSS = 0.002
# Up to this many blocks the floor is better read from the whole record.
FEW_BLOCKS = 16
PIECES = 8
# A line beside an order, or one that comes and goes out of step, stands out of the floor too. It
# is no order of the comb unless its pieces agree at least this well (chance of such agreement).
LOCKED = 0.1
# Seven degrees of freedom exceed their expectation four times once in a thousand.
FAR_ASTRAY = 4.0
WANDER_SLOTS = 60
FEWEST_SLOTS = 4
# A supply's mean stays this close to where its spectrum was found.
STRAY_HZ = 0.2


def fit_long(reduced: Reduced, duration_s: float, f0_hz: float, orders: int) -> CombFit:
    """Fit the comb of a long record, starting from a frequency that the search found.

    Parameters
    ----------
    reduced : Reduced
    duration_s : float
        Length of the full record [s].
    f0_hz : float
        Within a fraction of 1/duration of the truth [Hz].
    orders : int
        Fit 1 … orders.

    The blocks are cut again while the table's frequency is so far off that what it leaks from
    order to order, A k δ τ, is not small beside their noise.
    """
    found_hz = f0_hz
    for _ in range(3):
        blocks = fit_blocks(reduced, duration_s, f0_hz, orders)
        fit = fit_phasors(blocks)
        if abs(fit.frequency_hz - found_hz) > STRAY_HZ + 2.0 / duration_s:
            # No comb holds this track: it ran away over a bare floor.
            return _held(fit_blocks(reduced, duration_s, found_hz, orders))
        leak_free_hz = 0.2 * len(blocks.times_s) * fit.frequency_u_hz
        if abs(fit.frequency_hz - f0_hz) < leak_free_hz:
            break
        f0_hz = fit.frequency_hz
    if len(blocks.times_s) <= FEW_BLOCKS and fit.wander is None:
        again = with_floor_of_whole(blocks, reduced, duration_s, fit.frequency_hz, fit.phasors)
        return fit_phasors(again)
    return fit


def _held(blocks: Blocks) -> CombFit:
    """Fit the amplitudes at the reference frequency, without any track."""
    still = straight(np.zeros(len(blocks.times_s)), 1.0, blocks.times_s)
    active = np.zeros(len(blocks.orders), dtype=bool)
    active[0] = True
    return _result(blocks, still, active)


def fit_phasors(blocks: Blocks) -> CombFit:
    """Fit mean frequency, wander and all orders to the phasors of the blocks.

    Gauss-Newton: the phase that each block still asks for is smoothed and added to the track,
    until the track stands still against its own noise. More orders join as it sharpens.
    """
    active, track = _improved(blocks, _first_track(blocks), np.inf, look=True)
    look = True
    for _ in range(8):
        joined, before = active, track
        active, track = _improved(blocks, before.phase_rad, before.variance, look=look)
        moved = float(np.ptp(track.phase_rad - before.phase_rad))
        still = moved * float(blocks.orders[active].max()) < 1e-6 + 0.1 * np.sqrt(track.variance)
        same = bool((joined == active).all())
        if still and same:
            break
        # A straight track is looked at for wander again only when more orders have joined.
        look = track.wanders or not same
    return _result(blocks, track, active)


def _improved(
    blocks: Blocks, phase: FloatArray, variance: float, *, look: bool
) -> tuple[BoolArray, Track]:
    """One step: the orders that spoke, and the track that they ask for."""
    turned = _turn_back(blocks, phase)
    active = _active(blocks, turned, variance)
    offset, offset_variance = _phase_offsets(blocks, turned, active)
    return active, (smooth if look else straight)(phase + offset, offset_variance, blocks.times_s)


def _first_track(blocks: Blocks) -> FloatArray:
    """A first phase from the strongest low order: unwrapped if clear enough, else a line."""
    power = np.mean(np.abs(blocks.phasors) ** 2, axis=0) / (2 * blocks.block_variance) - 1
    # The lowest of the strong ones: it slips least. In a bare floor the highest has to do.
    strong = np.flatnonzero((power >= 0.25 * power.max()) & (power > 0))
    k = int(strong[0]) if len(strong) else int(np.argmax(power))
    together = int(np.ceil(UNWRAPS / max(float(power[k]), 1e-9)))
    groups = len(blocks.times_s) // together
    if groups >= 4:
        z = _grouped(blocks.phasors[:, k], groups)
        t = _grouped(blocks.times_s, groups)
        # Where the line is off (a lamp before it is lit) its angle means nothing.
        lit = np.abs(z) > 0.3 * np.sqrt(np.mean(np.abs(z) ** 2))
        phase = np.unwrap(np.angle(z[lit])) / (k + 1)
        return np.asarray(np.interp(blocks.times_s, t[lit], phase))
    tries = np.linspace(-2.0, 2.0, 161) / blocks.duration_s
    turns = np.exp(-2j * np.pi * np.outer(tries, blocks.times_s))
    best = tries[np.argmax(np.abs(turns @ blocks.phasors[:, k]))] / (k + 1)
    return np.asarray(2 * np.pi * best * blocks.times_s)


def _grouped(rows: np.ndarray, groups: int) -> np.ndarray:
    """Means over `groups` equal stretches of rows; a remainder at the end is left out."""
    size = len(rows) // groups
    return np.asarray(rows[: groups * size].reshape(groups, size, *rows.shape[1:]).mean(axis=1))


def _turn_back(blocks: Blocks, phase: FloatArray) -> ComplexArray:
    """Phasors with the track taken out; also the loss inside a block that runs off the table.

    A block at frequency offset δ keeps sinc(k δ τ) of order k.
    """
    once = np.broadcast_to(np.exp(-1j * phase)[:, np.newaxis], blocks.phasors.shape)
    turned = blocks.phasors * np.cumprod(once, axis=1)
    off_hz = np.gradient(phase, blocks.times_s) / (2 * np.pi)
    part = off_hz * blocks.length_s
    if float(np.max(np.abs(part))) * blocks.orders[-1] < NO_LOSS:
        return np.asarray(turned)
    return np.asarray(turned / np.maximum(np.sinc(np.outer(part, blocks.orders)), 0.3))


def _active(blocks: Blocks, turned: ComplexArray, variance: float) -> BoolArray:
    """The orders that may speak on the phase: seen, and known well enough not to slip."""
    mean = turned.mean(axis=0)
    noise = blocks.floor / blocks.duration_s
    over = np.abs(mean) ** 2 / noise
    seen = chance_of(mean, noise, blocks.floor_dof) < SEEN
    if not seen.any():
        seen[np.argmax(over)] = True
    # At first nothing is known of the phase, and only orders up to the strongest may speak.
    limit = JOINS_RAD / np.sqrt(variance) if variance < np.inf else 1.0 + np.argmax(over * seen)
    joins = seen & (blocks.orders <= limit)
    if not joins.any():
        joins[np.flatnonzero(seen)[0]] = True
    return np.asarray(joins)


def _phase_offsets(
    blocks: Blocks, turned: ComplexArray, active: BoolArray
) -> tuple[FloatArray, float]:
    """Per block, the phase still to be added, and its variance: one Gauss-Newton step.

    Each order reads the same phase, with variance S/τ / k²A².
    """
    k = blocks.orders[active]
    mean = turned[:, active].mean(axis=0)
    variance = blocks.block_variance[active] * _stray(blocks, turned[:, active], active)
    information = float(np.sum(k**2 * np.abs(mean) ** 2 / variance))
    pull = (turned[:, active] * np.conj(mean)).imag @ (k / variance)
    return np.asarray(pull / information), 1.0 / information


def _stray(blocks: Blocks, turned: ComplexArray, active: BoolArray) -> FloatArray:
    """By what factor each order strays more from the common phase than its floor explains.

    Not everything at an order is locked to the mains: a load turns its harmonics as it changes,
    and they must not steer the track by their k². What all orders have in common is the track's
    own error and no fault of theirs.
    """
    pieces = min(PIECES, len(turned))
    groups = _grouped(turned, pieces)
    mean = groups.mean(axis=0)
    across = (groups * np.conj(mean / np.abs(mean))).imag
    scale = blocks.orders[active] ** 2 * np.abs(mean) ** 2
    reading = np.sum(across**2, axis=0) / ((pieces - 1) * pieces) / scale
    floor = blocks.floor[active] / blocks.duration_s / scale
    common = max(0.0, float(np.min(reading - floor)))
    excess = (reading - common) / floor
    return np.where(excess > FAR_ASTRAY, excess, 1.0)


def _result(blocks: Blocks, track: Track, active: BoolArray) -> CombFit:
    k, phase = blocks.orders, track.phase_rad
    centre_phase = float(np.interp(0.0, blocks.times_s, phase))
    turned = _turn_back(blocks, phase)
    # The track's own noise turns phasors against each other and shortens their mean.
    kept = np.exp(-0.5 * k**2 * track.variance) if track.wanders else np.ones_like(k)
    mean = turned.mean(axis=0) / kept
    local = blocks.floor / blocks.duration_s
    pieces = min(PIECES, len(turned))
    groups = _grouped(turned, pieces)
    spread = np.sum(np.abs(groups - groups.mean(axis=0)) ** 2, axis=0)
    scatter = spread / (2 * (pieces - 1) * pieces)
    variance, dof = widen_by_scatter(local, blocks.floor_dof, scatter, 2.0 * (pieces - 1))
    floor_dof = float(np.mean(blocks.floor_dof[active]))
    f_scale, f_dof = _frequency_scale(groups[:, active], k[active], local[active], floor_dof)
    return CombFit(
        frequency_hz=blocks.reference_hz + track.frequency_hz,
        frequency_u_hz=track.frequency_u_hz * (1.0 if track.wanders else float(np.sqrt(f_scale))),
        frequency_dof=f_dof,
        phasors=mean * np.exp(1j * k * centre_phase),
        variance=variance,
        dof=dof,
        turn_variance=track.centre_variance,
        seen=(chance_of(mean, local, blocks.floor_dof) < SEEN)
        & (chance_of(mean, variance, dof) < LOCKED),
        floor=blocks.floor,
        wander=_wander(blocks, phase) if track.wanders else None,
        path=_path(blocks, track, centre_phase) if track.wanders else None,
        slots=_slots(blocks, turned),
    )


def _slots(blocks: Blocks, turned: ComplexArray) -> Slots | None:
    """Up to 60 stretches of at least two blocks each; None where they make fewer than four."""
    together = max(2, -(-len(turned) // WANDER_SLOTS))
    count = len(turned) // together
    if count < FEWEST_SLOTS:
        return None
    phasors, times = _grouped(turned, count), _grouped(blocks.times_s, count)
    return Slots(times, phasors, blocks.block_variance / together)


def _path(blocks: Blocks, track: Track, centre_phase: float) -> PhasePath:
    """The track against the mean frequency, from its value at the record's centre."""
    steady = 2 * np.pi * track.frequency_hz * blocks.times_s
    return PhasePath(blocks.times_s, track.phase_rad - centre_phase - steady)


def _frequency_scale(
    groups: ComplexArray, orders: FloatArray, local: FloatArray, floor_dof: float
) -> tuple[float, float]:
    """How much larger the variance of the frequency is than the floor explains, and its dof.

    Only what lies across a phasor turns it: a line that swells keeps its frequency. The pieces of
    all orders count with their weight in the frequency, k²A²/S.
    """
    pieces = len(groups)
    mean = groups.mean(axis=0)
    across = (groups * np.conj(mean / np.abs(mean))).imag
    scatter = np.sum(across**2, axis=0) / ((pieces - 1) * pieces)
    weights = orders**2 * np.abs(mean) ** 2 / local
    ratio = float(np.sum(weights * scatter / local) / np.sum(weights))
    if ratio > stats.f.ppf(1 - SCATTER_CHANCE, pieces - 1, floor_dof):
        return ratio, float(pieces - 1)
    return 1.0, floor_dof


def _wander(blocks: Blocks, phase: FloatArray) -> Wander:
    """Mean frequency in up to 60 slots."""
    slots = min(WANDER_SLOTS, len(phase) - 1)
    edges = np.linspace(0, len(phase) - 1, slots + 1).round().astype(int)
    t = blocks.times_s
    f = np.diff(phase[edges]) / np.diff(t[edges]) / (2 * np.pi) + blocks.reference_hz
    middle = (t[edges[1:]] + t[edges[:-1]]) / 2 - t[0] + blocks.length_s / 2
    return Wander(tuple(map(float, middle)), tuple(map(float, f)))
