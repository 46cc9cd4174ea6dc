"""The catalogue: its file, and what it claims about a rate."""

from __future__ import annotations

import pytest
from contents.families.invented_lines import MAINS

from straypath.contents.families.aliases import folding_onto
from straypath.contents.families.catalogue import (
    FARTHEST_SIGMAS,
    TIME_BASE,
    catalogue,
    matches,
    parse,
)
from straypath.errors import InputError
from straypath.uncertainty import from_normal

GOOD = """
[[source]]
id = "tick"
name = "invented tick"
rate_hz = 10.0
tolerance = 1e-4
looks = "ticks"
source = "common practice, no source"
"""


def ids(*args, **more):
    return [match.id for match in matches(*args, **more)]


def test_every_source_says_where_it_is_from():
    for source in catalogue().values():
        assert source.source, source.id
        assert source.looks, source.id
        assert bool(source.rates_hz) + bool(source.bands_hz) + bool(source.mains_multiples) == 1


def test_a_claimed_standard_is_not_common_practice():
    """Common practice needs no note of memory; a standard that nobody opened does."""
    flagged = [source for source in catalogue().values() if source.from_memory]
    assert len(flagged) > 10
    assert sum("common practice" in source.source for source in flagged) <= 3


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('name = "invented tick"\n', "", "name is missing.*Give it as a text"),
        ("rate_hz = 10.0", "rate_hz = -1.0", "not usable.*positive"),
        ("rate_hz = 10.0", "rate_hz = []", "not usable"),
        ("rate_hz = 10.0", "band_hz = [3.0, 2.0]", "not usable"),
        ("rate_hz = 10.0\n", "", "one kind of rate"),
        ("tolerance = 1e-4\n", "", "needs its tolerance"),
        ("looks =", "colour = 1\nlooks =", "colour is no field"),
        ("[[source]]", "[[source]", "Mend the TOML"),
        ("", GOOD, "'tick' stands twice"),
    ],
)
def test_a_wrong_entry_is_refused(old, new, message):
    text = GOOD.replace(old, new) if old else GOOD + new
    with pytest.raises(InputError, match=message):
        parse(text, where="file")


def test_a_good_entry_is_read():
    assert parse(GOOD)["tick"].rates_hz == (10.0,)


def test_217_hz_has_two_names():
    found = matches(from_normal(216.668, 1e-3), MAINS)
    assert [match.id for match in found[:2]] == ["ripple-control", "phone-frame"]
    assert all(match.sigmas < 1.0 for match in found[:2])
    # Beyond the phone's limits and those of the time base only the loose tone is left.
    assert "phone-frame" not in ids(from_normal(216.75, 1e-3), MAINS)
    assert "ripple-control" in ids(from_normal(216.75, 1e-3), MAINS)


def test_nothing_is_claimed_beyond_the_uncertainty():
    for rate in (999.0, 1000.4, 1000.7, 216.6, 8003.0):
        for u in (1e-3, 0.05, 0.3):
            for match in matches(from_normal(rate, u), MAINS):
                source = catalogue()[match.id]
                assert match.sigmas <= FARTHEST_SIGMAS
                if source.bands_hz:
                    assert any(low <= rate <= high for low, high in source.bands_hz)
                elif source.rates_hz:
                    limit = (source.tolerance + TIME_BASE) * match.rate_hz
                    assert abs(rate - match.rate_hz) <= 3 * u + limit + 1e-9


def test_a_hard_limit_is_no_standard_deviation():
    """USB frames keep 1 kHz within 0.05 %: 1000.7 Hz is 2.4 of its sigmas away, and outside."""
    assert "usb-frame" in ids(from_normal(1000.5, 1e-3), None)
    assert "usb-frame" not in ids(from_normal(1000.7, 1e-3), None)


def test_the_time_base_counts():
    off = from_normal(1.0e6 * (1 + 80e-6) * 13.56, 1.0)
    crystal = from_normal(32768.0 * (1 + 150e-6), 1e-3)
    assert "contactless-card" in ids(off, None)
    assert "watch-crystal" in ids(crystal, None)
    assert "watch-crystal" not in ids(crystal, None, time_base=1e-6)


def test_what_is_tied_to_the_mains_follows_them():
    found = ids(from_normal(99.96, 1e-3), MAINS)
    assert "rectifier-ripple" in found
    assert "cordless-frame" not in found
    assert "cordless-frame" in ids(from_normal(100.0, 1e-3), MAINS)
    assert "rectifier-ripple" not in ids(from_normal(100.0, 1e-3), MAINS)
    assert "rectifier-ripple" not in ids(from_normal(99.96, 1e-3), None)


def test_bands_follow_exact_rates_and_the_narrowest_leads():
    found = matches(from_normal(1000.0, 1e-3), None)
    kinds = [bool(catalogue()[match.id].bands_hz) for match in found]
    assert kinds == sorted(kinds)
    widths = [
        min(high / low for low, high in catalogue()[match.id].bands_hz if low <= 1000.0 <= high)
        for match in found
        if catalogue()[match.id].bands_hz
    ]
    assert len(widths) > 2
    assert widths == sorted(widths)


def test_aliases_come_last_and_say_so():
    """A phone frame sampled at 100 Hz shows as 16.67 Hz, which is also a railway supply."""
    line = from_normal(16.6667, 1e-4)
    found = matches(line, None, folding_onto(16.6667, 100.0))
    assert found[0].id == "railway-supply-third"
    phone = next(match for match in found if match.id == "phone-frame")
    assert phone.alias
    flags = [match.alias for match in found]
    assert flags == sorted(flags)
    assert not any(match.alias for match in matches(line, None))


def test_loose_sources_are_not_matched_to_aliases():
    """Some alias of any line falls into a converter's band, or near a broadcast raster."""
    f = 12345.678
    found = [m for m in matches(from_normal(f, 1e-3), None, folding_onto(f, 100e3)) if m.alias]
    assert not {"mains-adapter", "shop-gate", "medium-wave-9k"} & {match.id for match in found}


def test_each_source_is_named_once():
    found = ids(from_normal(100.0, 1e-3), MAINS, folding_onto(100.0, 1000.0))
    assert len(found) == len(set(found))


def test_below_the_resolution_nothing_is_claimed():
    assert ids(from_normal(16.67, 0.01), None)
    assert ids(from_normal(16.67, 0.01), None, least_hz=20.0) == []


def test_a_coarse_rate_claims_no_exact_source():
    coarse = ids(from_normal(1000.0, 20.0), MAINS)
    assert coarse
    assert all(catalogue()[name].bands_hz for name in coarse)
