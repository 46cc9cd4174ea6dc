"""The catalogue of repetitive sources, and which of them agree with a measured rate."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from math import hypot, isfinite, log, sqrt
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from straypath.contents.records import Match
from straypath.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from straypath.quantity import Quantity

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

FARTHEST_SIGMAS: Final = 3.0
"""No match is claimed beyond this many standard uncertainties of rate and source together."""

TIME_BASE: Final = 100e-6
"""Limit of a recorder's clock error where nothing is said: common practice, no source."""

COARSEST: Final = 0.01
"""A rate known no better than this share of itself fits too many entries to claim an exact one."""

ALIAS_CHANCE: Final = 0.05
"""An alias is matched only to sources that would match an unrelated line's less often."""

_FIELDS: Final = frozenset(
    {"id", "name", "rate_hz", "band_hz", "step_hz", "mains_multiple", "tolerance", "looks"}
    | {"source", "from_memory", "tolerance_from_memory", "pulse_s", "pulses", "step_s"}
)


@dataclass(frozen=True)
class Source:
    """One repetitive source.

    Parameters
    ----------
    id, name : str
        The name is in plain words.
    looks : str
        What it looks like in a waveform or spectrum.
    source : str
        The standard that fixes the rate, or "common practice, no source".
    rates_hz : tuple of float
        Exact rates [Hz], a raster's included.
    bands_hz : tuple of (float, float)
        Bands that the rate lies in [Hz]; empty where the rates are exact.
    mains_multiples : tuple of int
        Rates as multiples of the mains frequency.
    tolerance : float
        Limit of the relative deviation of the exact rates.
    from_memory, tolerance_from_memory : bool
        Whether rate and source, or the tolerance alone, were not read from the standard itself.
    pulse_s : float or None
        Length of a pulse or slot [s].
    pulses : int or None
        How many a burst has at most.
    step_s : float or None
        Every interval is a whole multiple of it [s].
    """

    id: str
    name: str
    looks: str
    source: str
    rates_hz: tuple[float, ...] = ()
    bands_hz: tuple[tuple[float, float], ...] = ()
    mains_multiples: tuple[int, ...] = ()
    tolerance: float = 0.0
    from_memory: bool = False
    tolerance_from_memory: bool = False
    pulse_s: float | None = None
    pulses: int | None = None
    step_s: float | None = None


@cache
def catalogue() -> Mapping[str, Source]:
    """Return all sources by id, in the order of the file.

    Raises
    ------
    InputError
        When the file has been changed so that an entry cannot be used.
    """
    path = files("straypath.contents.families") / "catalogue.toml"
    return parse(path.read_text(encoding="utf-8"), where=path.name)


def parse(text: str, *, where: str = "catalogue") -> Mapping[str, Source]:
    """Return the sources in a text in the form of `catalogue.toml`, each entry checked.

    Parameters
    ----------
    text : str
    where : str
        Named in errors.

    Raises
    ------
    InputError
        Not TOML; an unknown, missing or wrong field; a rate that is not positive; an id twice.
    """
    try:
        entries = tomllib.loads(text).get("source", [])
    except tomllib.TOMLDecodeError as error:
        raise InputError(str(error), where=where, advice="Mend the TOML there.") from error
    found: dict[str, Source] = {}
    for position, entry in enumerate(entries, start=1):
        source = _source(entry, f"{where}, source {entry.get('id', position)!r}")
        if source.id in found:
            raise InputError(
                f"the id {source.id!r} stands twice", where=where, advice="Rename one of them."
            )
        found[source.id] = source
    return found


def _source(entry: Mapping[str, Any], where: str) -> Source:
    for field in ("id", "name", "looks", "source"):
        if not isinstance(entry.get(field), str) or not entry[field].strip():
            raise InputError(f"{field} is missing", where=where, advice="Give it as a text.")
    if unknown := sorted(set(entry) - _FIELDS):
        raise InputError(
            f"{unknown[0]} is no field of a source",
            where=where,
            advice=f"Use {', '.join(sorted(_FIELDS))}.",
        )
    if sum(key in entry for key in ("rate_hz", "band_hz", "mains_multiple")) != 1:
        raise InputError(
            "it needs one kind of rate",
            where=where,
            advice="Give rate_hz, band_hz or mains_multiple, and only one of them.",
        )
    rates, bands = _rates_and_bands(entry, where)
    tolerance = entry.get("tolerance", 0.0)
    if rates and not (isinstance(tolerance, float) and 0.0 < tolerance < 0.5):
        raise InputError(
            "an exact rate needs its tolerance", where=where, advice="Give it as 1e-4 for 0.01 %."
        )
    return Source(
        id=entry["id"],
        name=entry["name"],
        looks=entry["looks"],
        source=entry["source"],
        rates_hz=rates,
        bands_hz=bands,
        mains_multiples=tuple(_listed(entry.get("mains_multiple", []))),
        tolerance=tolerance,
        from_memory=entry.get("from_memory", False),
        tolerance_from_memory=entry.get("tolerance_from_memory", False),
        pulse_s=entry.get("pulse_s"),
        pulses=entry.get("pulses"),
        step_s=entry.get("step_s"),
    )


def _rates_and_bands(
    entry: Mapping[str, Any], where: str
) -> tuple[tuple[float, ...], tuple[tuple[float, float], ...]]:
    """Return exact rates and bands [Hz]; a raster is written out as rates."""
    rates = _listed(entry.get("rate_hz", []))
    bands = entry.get("band_hz", [])
    bands = [bands] if bands and not isinstance(bands[0], list) else bands
    numbers = [*rates, *(edge for band in bands for edge in band)]
    numbers += _listed(entry.get("mains_multiple", []))
    positive = all(isinstance(n, int | float) and isfinite(n) and n > 0 for n in numbers)
    if not positive or not numbers or any(len(b) != 2 or b[0] >= b[1] for b in bands):
        raise InputError(
            "a rate or band is not usable",
            where=where,
            advice="Give positive numbers in Hz, a band as [low, high].",
        )
    if step := entry.get("step_hz"):
        low, high = bands[0]
        return tuple(float(low + i * step) for i in range(round((high - low) / step) + 1)), ()
    return tuple(map(float, rates)), tuple((float(low), float(high)) for low, high in bands)


def _listed(value: Any) -> list[Any]:
    return list(value) if isinstance(value, list) else [value]


# Matching -----------------------------------------------------------------------------------


def matches(
    rate: Quantity,
    mains_hz: Quantity | None,
    true_hz: Sequence[float] = (),
    *,
    least_hz: float = 0.0,
    time_base: float | None = None,
) -> tuple[Match, ...]:
    """Return all sources whose rate agrees with a measured one, the nearest first.

    sigmas = |f − r|/√(u² + (t·r)²/3 + (b·r)²/3): a stated limit ±t is a uniform distribution, of
    standard deviation t/√3, and so is the limit ±b of the record's own time base. Agreement:
    sigmas ≤ 3, and |f − r| ≤ 3u + (t + b)·r, since no source lies outside its limits.

    Parameters
    ----------
    rate : Quantity
        [Hz].
    mains_hz : Quantity or None
        Mean mains frequency over the record [Hz]; None leaves out what is tied to the mains.
        These have no tolerance, and the time base cancels.
    true_hz : sequence of float
        Frequencies that would fold onto the line [Hz].
    least_hz : float
        Resolution of the record, 1/T [Hz]: no claim below it.
    time_base : float or None
        b; None takes 100 ppm.

    Returns
    -------
    tuple of Match
        Exact rates by sigmas; then bands that hold the rate, the narrowest first by its share of
        the log axis, since a wide band says little; then sources that agree with an alias. Each
        source once. Bands are not matched to aliases, nor are rates so loose or so many that an
        alias of any line would agree in 5 %. Exact rates are claimed only when the rate is known
        to 1 % (u).

    Examples
    --------
    >>> from straypath.uncertainty import from_normal
    >>> [match.id for match in matches(from_normal(216.667, 1e-3), None)][:2]
    ['phone-frame', 'ripple-control']

    References
    ----------
    JCGM 100:2008, 4.3.7 (uniform distribution between limits).
    """
    if rate.value < max(least_hz, 1e-300):
        return ()
    base = TIME_BASE if time_base is None else time_base
    found: dict[str, tuple[tuple[bool, bool, float], Match]] = {}
    for key, match in _agreeing(rate, mains_hz, true_hz, base):
        if match.id not in found or key < found[match.id][0]:
            found[match.id] = (key, match)
    # Ties keep the order of the file.
    return tuple(match for _, match in sorted(found.values(), key=lambda pair: pair[0]))


@dataclass(frozen=True)
class _Exact:
    """All exact rates as arrays: position of the source, rate, standard uncertainty, limit [Hz]."""

    sources: tuple[Source, ...]
    owner: Ints
    rate: Floats
    u: Floats
    limit: Floats


@cache
def _fixed(base: float) -> _Exact:
    sources = tuple(catalogue().values())
    rows = [
        (i, rate, rate * hypot(source.tolerance, base) / sqrt(3.0), source.tolerance + base)
        for i, source in enumerate(sources)
        for rate in source.rates_hz
    ]
    owner, rate, u, relative = np.array(rows, dtype=np.float64).T
    return _Exact(sources, owner.astype(np.int64), rate, u, rate * relative)


def _exact(mains_hz: Quantity | None, base: float) -> _Exact:
    """Return the exact rates, with those that are tied to the mains where these are known."""
    fixed = _fixed(base)
    if mains_hz is None:
        return fixed
    rows = [(i, m) for i, source in enumerate(fixed.sources) for m in source.mains_multiples]
    owner, multiple = np.array(rows, dtype=np.int64).T
    return _Exact(
        sources=fixed.sources,
        owner=np.concatenate([fixed.owner, owner]),
        rate=np.concatenate([fixed.rate, multiple * mains_hz.value]),
        u=np.concatenate([fixed.u, multiple * mains_hz.u]),
        limit=np.concatenate([fixed.limit, FARTHEST_SIGMAS * multiple * mains_hz.u]),
    )


def _agreeing(
    rate: Quantity, mains_hz: Quantity | None, true_hz: Sequence[float], base: float
) -> Iterator[tuple[tuple[bool, bool, float], Match]]:
    """Yield every agreement with its rank: alias, band, then sigmas or share of the log axis."""
    if rate.u <= COARSEST * rate.value:
        exact = _exact(mains_hz, base)
        shown = np.array([rate.value, *true_hz])[:, np.newaxis]
        away = np.abs(shown - exact.rate)
        # A few parts in 10^15 are rounding, not distance.
        sigmas = away / np.maximum(np.hypot(rate.u, exact.u), 1e-15 * exact.rate)
        agrees = sigmas <= FARTHEST_SIGMAS
        agrees &= away <= FARTHEST_SIGMAS * rate.u + exact.limit + 1e-15 * exact.rate
        agrees[1:] &= _alias_tells(exact, rate, true_hz)[exact.owner]
        for i, j in zip(*np.nonzero(agrees), strict=True):
            source, z = exact.sources[exact.owner[j]], float(sigmas[i, j])
            alias, centre = bool(i > 0), float(exact.rate[j])
            yield (alias, False, z), Match(source.id, source.name, source.source, centre, z, alias)
    for source in catalogue().values():
        for low, high in source.bands_hz:
            if low <= rate.value <= high:
                edge = low if rate.value - low <= high - rate.value else high
                match = Match(source.id, source.name, source.source, edge, 0.0)
                yield (False, True, log(high / low)), match


def _alias_tells(exact: _Exact, rate: Quantity, true_hz: Sequence[float]) -> NDArray[np.bool_]:
    """Whether each source would agree with an alias of an unrelated line in under 5 %.

    Candidates lie a gap apart on average; a rate r known to ±w agrees with one of them by chance
    in 2w/gap, and a source has all its rates within their range.
    """
    if not true_hz:
        return np.zeros(len(exact.sources), dtype=np.bool_)
    highest = max(true_hz)
    gap = (highest - rate.value) / len(true_hz)
    width = FARTHEST_SIGMAS * np.hypot(rate.u, exact.u)
    p = np.where(exact.rate <= highest + gap, np.minimum(1.0, 2.0 * width / gap), 0.0)
    return np.asarray(np.bincount(exact.owner, p, len(exact.sources)) <= ALIAS_CHANCE)
