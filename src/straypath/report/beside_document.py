"""What a channel holds beside the mains, as plain dicts and lists for the JSON document."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING, Any

from straypath.report.family_words import folds_of, ranked

if TYPE_CHECKING:
    from straypath.contents.records import (
        BesideMains,
        Bursts,
        Course,
        Family,
        Floor,
        Line,
        Match,
        Offset,
    )
    from straypath.contents.whole import Contents
    from straypath.floor_budget import FloorBudget
    from straypath.quantity import Reading


def contents_beside_mains(contents: Contents, budget: FloorBudget | None) -> dict[str, Any]:
    """Return families, floor, bursts, offset, course and what could not be told; null: not read."""
    floor, bursts, offset = contents.floor, contents.bursts, contents.offset
    return {
        "families": [_family(family) for family in ranked(contents.families)],
        "floor": _floor(floor, budget) if floor is not None else None,
        "bursts": _bursts(bursts) if bursts is not None else None,
        "offset": _offset(offset) if offset is not None else None,
        "course": _course(contents.course) if contents.course is not None else None,
        "undetermined": [{"what": part.what, "why": part.why} for part in contents.undetermined],
    }


def json_or_none(value: Reading | None) -> dict[str, Any] | None:
    """Return a value with its uncertainty, or null where there is none."""
    return value.as_json() if value is not None else None


def _family(family: Family) -> dict[str, Any]:
    pairs = zip(family.orders, family.lines, strict=True)
    return {
        "rate_hz": family.rate_hz.as_json(),
        "kind": family.kind,
        "rms_v": family.rms.as_json(),
        "spacing_hz": json_or_none(family.spacing_hz),
        "beside": _beside(family.beside),
        "matches": [_match(match) for match in family.matches],
        "alias_of": list(folds_of(family)),
        "lines": [_line(order, line) for order, line in pairs],
    }


def _line(order: int, line: Line) -> dict[str, Any]:
    return {
        "order": order,
        "frequency_hz": line.frequency_hz.as_json(),
        "rms_v": line.rms.as_json(),
        "phase_rad": json_or_none(line.phase_rad),
        "width_hz": json_or_none(line.width_hz),
        "p_value": line.p_value,
        "floor_v_per_rthz": sqrt(line.floor),
        "beside": _beside(line.beside),
        "conversion_product": line.conversion_product,
    }


def _match(match: Match) -> dict[str, Any]:
    return {
        "id": match.id,
        "name": match.name,
        "source": match.source,
        "rate_hz": match.rate_hz,
        "sigmas": match.sigmas,
        "alias": match.alias,
    }


def _beside(beside: BesideMains | None) -> dict[str, Any] | None:
    if beside is None:
        return None
    return {
        "order": beside.order,
        "distance_hz": beside.distance_hz,
        "sigmas": beside.sigmas,
        "separate": beside.separate,
    }


def _floor(floor: Floor, budget: FloorBudget | None) -> dict[str, Any]:
    return {
        "white_v_per_rthz": json_or_none(floor.white),
        "corner_hz": json_or_none(floor.corner_hz),
        "slope": json_or_none(floor.slope),
        "points": [
            {"frequency_hz": at_hz, "density_v_per_rthz": density.as_json()}
            for at_hz, density in zip(floor.frequency_hz, floor.density, strict=True)
        ],
        "budget": _budget(budget) if budget is not None else None,
    }


def _budget(budget: FloorBudget) -> dict[str, Any]:
    return {
        "times": json_or_none(budget.times),
        "why_not": budget.why_not or None,
        "frequency_hz": budget.frequency_hz if budget.times is not None else None,
        "explained_v_per_rthz": budget.explained if budget.times is not None else None,
        "items": [
            {"name": item.name, "density_v_per_rthz": item.density, "share": item.share}
            for item in budget.items
        ],
    }


def _bursts(bursts: Bursts) -> dict[str, Any]:
    return {
        "count": bursts.count,
        "threshold_v": bursts.threshold,
        "locked": bursts.locked,
        "locked_p": bursts.locked_p,
        "per_cycle": bursts.per_cycle,
        "test": bursts.locked_test or None,
        "found": [
            {
                "time_s": burst.time_s,
                "width_s": burst.width_s,
                "peak_v": burst.peak,
                "energy_v2_s": burst.energy,
                "mains_phase_rad": burst.mains_phase_rad,
            }
            for burst in bursts.found
        ],
    }


def _offset(offset: Offset) -> dict[str, Any]:
    return {
        "mean_v": offset.mean.as_json(),
        "slope_v_per_s": offset.slope_per_s.as_json(),
        "steps": [{"time_s": at_s, "size_v": size.as_json()} for at_s, size in offset.steps],
    }


def _course(course: Course) -> dict[str, Any]:
    return {
        "times_s": list(course.times_s),
        "frequency_hz": list(course.mains_hz),
        "orders": list(course.orders),
        "rms_v": [list(levels) for levels in course.rms],
        "rms_u_v": list(course.rms_u),
        "floor_v_per_rthz": list(course.floor),
        "floor_relative_u": course.floor_u,
    }
