"""Where every print stands, as JSON (schema "greyscale/status/1") and as a report."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from greyscale.aims.tolerances import DEFAULT_TOLERANCE, tolerance
from greyscale.analysis.what_next import NOTHING, WAIT, InForce, Measured
from greyscale.base.json_output import json_text
from greyscale.base.rests_on import support_data, supports
from greyscale.reporting.figures.over_time import Overview, overview
from greyscale.reporting.numbers import MISSING, fixed
from greyscale.reporting.page import CAUTIONS, Picture, Report, Section, Table
from greyscale.reporting.status_words import Status, age_words, correction_words, promise_words

# Where every print stands as JSON, schema "greyscale/status/1".

SCHEMA = "greyscale/status/1"

RESTS_ON = supports(
    "control-chart", "noticed", "sheets", "exhibition", "rechecks", "first-readings"
)
"""The constants behind what is said to be done next."""


def status_data(rows: Sequence[Status]) -> dict[str, Any]:
    """Return the rows as plain data, the most pressing first."""
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


KIND = "Every printer and paper at a glance"

MOST_DRAWN = 24
"""Panels of the figure: the most pressing prints."""


def status_report(rows: Sequence[Status], command: str = "") -> Report:
    """Make the report.

    Parameters
    ----------
    rows
        At least one, the most pressing first.
    """
    sections = [Section("What to do next", (_next(rows),))]
    drawn = [row for row in rows if len(row.standing.course) > 1][:MOST_DRAWN]
    if drawn:
        sections.append(Section("Over time", (_picture(drawn),)))
    sections.append(Section("In numbers", (_numbers(rows),)))
    lead = (lead_words(rows), promise_words(rows))
    return Report(
        KIND, rows[0].title if len(rows) == 1 else f"{len(rows)} papers and printers",
        tuple(words for words in lead if words), tuple(sections), (), CAUTIONS, command, RESTS_ON,
        texts={"status.json": json_text(status_data(rows))},
    )  # fmt: skip


def lead_words(rows: Sequence[Status]) -> str:
    """Say how many prints ask for something now."""
    asking = [row for row in rows if row.next.step not in (NOTHING, WAIT)]
    waiting = sum(row.next.step == WAIT for row in rows)
    if not asking and not waiting:
        return "Nothing is due."
    dries = f"; {waiting} {'dries' if waiting == 1 else 'dry'}" if waiting else ""
    if not asking:
        return f"Nothing is due{dries}."
    ask = "asks" if len(asking) == 1 else "ask"
    first = f"first {asking[0].title}: {asking[0].words}"
    return f"{len(asking)} of {len(rows)} {ask} for something now{dries}; {first}"


def _next(rows: Sequence[Status]) -> Table:
    cells = tuple((row.title, row.words, " && ".join(row.commands) or MISSING) for row in rows)
    return Table(
        ("print", "next", "command"), cells, "The most pressing first", frozenset({0, 1, 2})
    )


def _picture(rows: Sequence[Status]) -> Picture:
    limit = tolerance(DEFAULT_TOLERANCE).mean_delta_Ch
    named = [(row.title, row.standing.course) for row in rows]
    told = "; ".join(
        f"{row.title}: {len(row.standing.course)} readings, the latest "
        f"{fixed(row.standing.course[-1][1])}, {row.standing.drift.state}"
        for row in rows
    )
    return Picture(
        partial(overview, Overview(named, limit)),
        "overview",
        alt=f"Mean ΔCh over time. {told}.",
        caption="Mean ΔCh of the readings that compare with the latest, all to the same scale; the "
        f"grey band reaches to {fixed(limit)}, what the exhibition grade allows.",
    )


def _numbers(rows: Sequence[Status]) -> Table:
    head = (
        "print", "age", "mean ΔCh", "max ΔCh", "RMS ΔL*", "Dmax", "correction",
        "promises kept", "state",
    )  # fmt: skip
    return Table(head, tuple(map(_line, rows)), "", frozenset({0, 1, 6, 8}))


def _line(row: Status) -> tuple[str, ...]:
    one = row.standing
    figures = None if one.latest is None else one.latest.figures
    values = (
        (None,) * 4
        if figures is None
        else (figures.mean_delta_Ch, figures.max_delta_Ch, figures.rms_delta_L, figures.dmax)
    )
    return (
        row.title,
        MISSING if row.age is None else age_words(row.age),
        *(fixed(value) for value in values),
        correction_words(one.correction),
        f"{one.promises_kept} of {one.promises}" if one.promises else MISSING,
        one.drift.state,
    )
