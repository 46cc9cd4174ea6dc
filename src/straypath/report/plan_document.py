"""A plan for other programs: one JSON document, built from the same records as the page.

Keys carry their unit. Levels in another unit than volts say so in `unit`; their numbers are then
in that unit, under the same keys.
"""

from __future__ import annotations

from importlib.metadata import version
from typing import TYPE_CHECKING, Any, Final

from straypath.contents.plan.records import FramePlan, HumPlan, SeparatePlan, TellMainsPlan

if TYPE_CHECKING:
    from collections.abc import Mapping

    from straypath.contents.plan.records import Plan, Verdict

SCHEMA: Final = "straypath-plan/1"


def document(plan: Plan, question: str, inputs: Mapping[str, Any]) -> dict[str, Any]:
    """Return the document of a plan as plain dicts, lists, texts and numbers."""
    made = plan.recording
    return {
        **_head(question, inputs, plan.unit),
        "assumptions": list(plan.assumptions),
        "cautions": list(plan.cautions),
        "recording": {
            "duration_s": made.duration_s,
            "rate_hz": made.rate_hz,
            "step_v": made.step,
            "span_v": made.span,
            "bits": made.bits,
            "repeats": made.repeats,
        },
        "answer": _answer(plan),
    }


def reverse_document(
    verdicts: tuple[Verdict, ...],
    inputs: Mapping[str, Any],
    unit: str,
    assumptions: tuple[str, ...],
) -> dict[str, Any]:
    """Return the document of what a recording can answer."""
    return {
        **_head("record", inputs, unit),
        "assumptions": list(assumptions),
        "cautions": [],
        "questions": answers(verdicts),
    }


def answers(verdicts: tuple[Verdict, ...]) -> list[dict[str, Any]]:
    """Return what a recording can answer."""
    return [
        {
            "question": verdict.question,
            "asked": verdict.asked,
            "answerable": verdict.answerable,
            "why": verdict.why,
            "least_v": verdict.least,
            "least_hz": verdict.least_hz,
        }
        for verdict in verdicts
    ]


def _head(question: str, inputs: Mapping[str, Any], unit: str) -> dict[str, Any]:
    return {
        "schema": SCHEMA,
        "tool": {"name": "straypath", "version": version("straypath")},
        "inputs": {key: value for key, value in inputs.items() if value is not None},
        "question": question,
        "unit": unit,
    }


def _answer(plan: Plan) -> dict[str, Any]:
    if isinstance(plan, TellMainsPlan):
        return {
            "between_hz": list(plan.between_hz),
            "accepted_error": plan.error,
            "enough_s": plan.enough_s,
            "contrasts": [
                {
                    "unknown": contrast.unknown,
                    "worst": contrast.worst,
                    "mean": contrast.mean,
                    "rho_db": contrast.rho_db,
                    "least_v": contrast.least_rms,
                    "error": contrast.error,
                }
                for contrast in plan.contrasts
            ],
        }
    if isinstance(plan, HumPlan):
        return {
            "frequency_hz": plan.frequency_hz,
            "coverage": plan.coverage,
            "share": plan.share,
            "rho_db": plan.rho_db,
            "breathing_db": plan.breathing_db,
            "usual_repeats": plan.usual_repeats,
        }
    if isinstance(plan, SeparatePlan):
        return {
            "rates_hz": list(plan.rates_hz),
            "resolved_s": plan.resolved_s,
            "seen_s": plan.seen_s,
            "sigmas_s": plan.sigmas_s,
            "sigmas": plan.reached,
        }
    if isinstance(plan, FramePlan):
        return {
            "frame_hz": plan.frame_hz,
            "line_v": plan.line,
            "threshold_db": plan.threshold_db,
            "false_alarm": plan.false_alarm,
            "probability": plan.probability,
            "u_hz": plan.u_hz,
        }
    raise TypeError(plan)
