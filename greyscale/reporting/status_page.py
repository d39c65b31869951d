"""Where every print stands, as a report: what to do next, all of them over time, and in numbers."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from greyscale.aims.tolerances import DEFAULT_TOLERANCE, tolerance
from greyscale.analysis.what_next import NOTHING, WAIT
from greyscale.base.json_output import json_text
from greyscale.reporting.figures.overview import Overview, overview
from greyscale.reporting.numbers import MISSING, fixed
from greyscale.reporting.page import CAUTIONS, Picture, Report, Section, Table
from greyscale.reporting.report_folder import write_report
from greyscale.reporting.status_json import RESTS_ON, status_data
from greyscale.reporting.status_table import correction_words, promise_words
from greyscale.reporting.status_words import Status, age_words

KIND = "Every printer and paper at a glance"

MOST_DRAWN = 24
"""Panels of the figure: the most pressing prints."""


def write_status_report(
    rows: Sequence[Status],
    folder: Path | str,
    inputs: Sequence[Path | str],
    *,
    command: str = "",
) -> Path:
    """Write `report.html`, `status.json` and the figure as PNG and SVG; return the page's path.

    Raises
    ------
    BadInput
        If a file cannot be written, or would overwrite an input: the log.
    """
    data = json_text(status_data(rows))
    return write_report(folder, status_page(rows, command), inputs, {"status.json": data})


def status_page(rows: Sequence[Status], command: str = "") -> Report:
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
