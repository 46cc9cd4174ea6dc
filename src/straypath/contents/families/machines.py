"""Rates of rotating machines from their speed: formulas, since no standard fixes a rate."""

from __future__ import annotations


def commutation_hz(speed_rpm: float, pole_pairs: int) -> float:
    """Return the rate at which a six-step brushless motor commutates: n/60·p·6.

    Parameters
    ----------
    speed_rpm : float
        n [1/min].
    pole_pairs : int
        p.

    Examples
    --------
    >>> commutation_hz(3000.0, 4)
    1200.0
    """
    return speed_rpm / 60.0 * pole_pairs * 6.0


def brush_ripple_hz(speed_rpm: float, bars: int) -> float:
    """Return the rate of the current ripple of a brushed two-pole motor: n/60·z, twice for odd z.

    Parameters
    ----------
    speed_rpm : float
        n [1/min].
    bars : int
        z, bars of the commutator. With an odd number the two brushes switch in turn.

    Examples
    --------
    >>> brush_ripple_hz(6000.0, 5)
    1000.0
    """
    return speed_rpm / 60.0 * bars * (2.0 if bars % 2 else 1.0)


def slip_of(speed_rpm: float, mains_hz: float, pole_pairs: int) -> tuple[float, float]:
    """Return an induction motor's slip s = 1 − n·p/(60·f0) and its rotor frequency s·f0 [Hz].

    Shaft-rate lines, n/60, lie near an order of the mains divided by p, but not on it.

    Parameters
    ----------
    speed_rpm : float
        n [1/min].
    mains_hz : float
        f0 [Hz].
    pole_pairs : int
        p; two for a four-pole machine.
    """
    slip = 1.0 - speed_rpm * pole_pairs / (60.0 * mains_hz)
    return slip, slip * mains_hz
