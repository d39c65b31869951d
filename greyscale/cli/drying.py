"""`greyscale drying`: when a print is dry, and whether a reading can be trusted yet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from greyscale.base.errors import BadInput
from greyscale.cli import option, voice

if TYPE_CHECKING:
    from greyscale.readings.layout import Layout
    from greyscale.readings.reading import Reading


def drying(
    readings: Annotated[
        list[Path],
        option.argument(
            "READING READING",
            "Readings of one print at different times, or one file with a column HOURS.",
        ),
    ],
    hours: Annotated[
        str | None,
        option.value(
            "H,H,...",
            "Hours after printing, one for each reading in their order: 0.2,1,24. Without "
            "it: HOURS in the files, else when they were measured (CREATED).",
        ),
    ] = None,
    layout: option.Layout = None,
    ramp: option.Ramp = None,
    json_file: option.Json = None,
    folder: option.Report = None,
    pdf: option.Pdf = False,
    shown: option.Open = False,
    unchecked: option.Unchecked = False,
    replace: option.Replace = False,
    verbose: voice.Every = False,
    paper: option.Paper = None,
    printer: option.Printer = None,
    log: option.Log = False,
    db: option.Db = None,
) -> None:
    """See how a print dries: what changed, what is still to come, when it can be measured.

    Example: greyscale drying fresh.txt evening.txt next-day.txt --hours 0.2,6,24 -o drying
    """
    from greyscale.analysis.drying import drying as follow_drying
    from greyscale.cli.outputs import Results, chart_of, checked, command_line
    from greyscale.cli.recording import is_wanted, record_drying
    from greyscale.reporting.drying_report import drying_data, drying_report

    recording = is_wanted(log, db)
    results = Results(json_file, folder, pdf, shown)
    given = _readings(readings, ramp, chart_of(layout))
    if unchecked:
        given = [one.taken_as_it_is() for one in given]
    checks = checked(given, unchecked)
    times = None if hours is None else _numbers(hours)
    with voice.working("Following the drying"):
        result = follow_drying(given, times)
    results.give(
        lambda: drying_data(result),
        lambda: drying_report(result, command_line()).with_fact("Checks", checks),
        verbose,
    )
    if recording:
        last = given[-1]
        record_drying(
            db,
            result,
            printer=printer or last.printer,
            paper=paper or last.paper,
            quiet=results.as_json,
        )


def _readings(
    paths: list[Path], ramp: Literal["K", "CMY"] | None, chart: Layout | None
) -> list[Reading]:
    """Read every file; of several conditions in one the first in use, of several times each."""
    from greyscale.readings.formats import CONDITIONS_BY_USE, read_all

    found: list[Reading] = []
    for path in paths:
        inside = read_all(path, ramp=ramp, layout=chart)
        there = {reading.condition for reading in inside}
        condition = next((name for name in CONDITIONS_BY_USE if name in there), None)
        found += [reading for reading in inside if reading.condition == condition]
    return found


def _numbers(text: str) -> list[float]:
    try:
        # A minus as it is set in print may come along when a list is copied.
        return [float(part.replace("\N{MINUS SIGN}", "-")) for part in text.split(",")]
    except ValueError as error:
        raise BadInput(
            f"'{text}' is not a list of hours; write it as 0.2,1,24", "--hours"
        ) from error
