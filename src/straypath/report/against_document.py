"""What a channel shows against a reference, as plain dicts and lists for the JSON document."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from straypath.report.beside_document import json_or_none

if TYPE_CHECKING:
    from straypath.contents.pair.against import Against
    from straypath.contents.pair.records import Difference, MainsPhases, Transfer


def against_reference(found: Against | None) -> dict[str, Any] | None:
    """Return transfer, phases and difference; null where there is no reference."""
    if found is None:
        return None
    return {
        "reference": found.reference,
        "transfer": _transfer(found.transfer) if found.transfer is not None else None,
        "phases": _phases(found.phases) if found.phases is not None else None,
        "difference": _difference(found.difference) if found.difference is not None else None,
        "undetermined": [{"what": part.what, "why": part.why} for part in found.undetermined],
    }


def _transfer(made: Transfer) -> dict[str, Any]:
    return {
        "unit": made.unit,
        "stretches": made.stretches,
        "stretch_s": made.stretch_s,
        "coherence_level": made.coherence_level,
        "false_alarm_rate": made.false_alarm_rate,
        "lines": [
            {
                "order": line.order,
                "frequency_hz": line.frequency_hz,
                "gain": json_or_none(line.gain),
                "phase_rad": json_or_none(line.phase_rad),
                "coherence": line.coherence,
                "p_value": line.p_value,
                "coherent": line.coherent,
            }
            for line in made.lines
        ],
    }


def _phases(made: MainsPhases) -> dict[str, Any]:
    return {
        "against": made.against,
        "why_not": made.why_not or None,
        "orders": [
            {"order": each.order, "phase_rad": each.phase_rad.as_json()} for each in made.orders
        ],
    }


def _difference(made: Difference) -> dict[str, Any]:
    return {
        "unit": made.unit,
        "gain": made.gain.as_json(),
        "delay_s": made.delay_s.as_json(),
        "residual_v": made.total.as_json(),
        "rejection_db": json_or_none(made.rejection_db),
        "at_least_db": made.at_least_db,
        "misfit_p": made.misfit_p,
        "lines": [
            {
                "order": line.order,
                "frequency_hz": line.frequency_hz,
                "before_v": line.before.as_json(),
                "residual_v": line.residual.as_json(),
                "rejection_db": json_or_none(line.rejection_db),
                "at_least_db": line.at_least_db,
            }
            for line in made.lines
        ],
    }
