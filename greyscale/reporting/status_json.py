"""Where every print stands as JSON, schema "greyscale/status/1"."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from greyscale.analysis.what_next import InForce, Measured
from greyscale.base.rests_on import support_data, supports
from greyscale.reporting.status_words import Status

SCHEMA = "greyscale/status/1"

RESTS_ON = supports("control-chart", "noticed", "exhibition", "rechecks", "first-readings")
"""The constants behind what is said to be done next."""


def status_data(rows: Sequence[Status]) -> dict[str, Any]:
    """Give the rows as plain data, the most pressing first."""
    return {
        "schema": SCHEMA,
        "rows": [_row(row) for row in rows],
        "promises": sum(row.standing.promises for row in rows),
        "promises_kept": sum(row.standing.promises_kept for row in rows),
        "rests_on": support_data(RESTS_ON),
    }


def _row(row: Status) -> dict[str, Any]:
    one, step = row.standing, row.next
    latest, drift = one.latest, one.drift
    figures = None if latest is None else latest.figures
    return {
        "printer": one.printer,
        "paper": one.paper,
        "settings": one.settings,
        "reading": None if latest is None else _reading(latest),
        "age_days": None if row.age is None else row.age.total_seconds() / 86400,
        "mean_delta_Ch": None if figures is None else figures.mean_delta_Ch,
        "max_delta_Ch": None if figures is None else figures.max_delta_Ch,
        "rms_delta_L": None if figures is None else figures.rms_delta_L,
        "dmax": None if figures is None else figures.dmax,
        "correction": None if one.correction is None else _correction(one.correction),
        "promises_kept": one.promises_kept,
        "promises": one.promises,
        "state": drift.state,
        "drift": {
            "verdict": drift.verdict,
            "since": None if drift.since is None else drift.since.isoformat(),
            "delta_Ch": drift.delta_Ch,
            "delta_L": drift.delta_L,
        },
        "recheck_weeks": one.recheck.weeks,
        "recheck_from_drift": one.recheck.known,
        "step": step.step,
        "next": row.words,
        "command": " && ".join(row.commands) or None,
        "not_before": None if step.not_before is None else step.not_before.isoformat(),
    }


def _reading(one: Measured) -> dict[str, Any]:
    return {
        "entry": one.entry,
        "name": one.name,
        "moment": one.moment.isoformat(),
        "through": one.through,
    }


def _correction(one: InForce) -> dict[str, Any]:
    proof = one.proof
    return {
        "entry": one.entry,
        "name": one.name,
        "round": one.round,
        "moment": one.moment.isoformat(),
        "promised_mean_delta_Ch": one.expected_mean_delta_Ch,
        "proof": None
        if proof is None
        else {
            "reading": _reading(proof.reading),
            "within_tolerance": proof.within_tolerance,
            "worth_another_round": proof.worth_another_round,
            "promise_kept": proof.kept,
        },
    }
