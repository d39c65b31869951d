"""`greyscale check`: was every patch read, and does each value stand under its own?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli import option, voice


def check(
    reading: Annotated[
        Path, option.argument("READING", "Reading of a printed chart: ISO 28178 text, CxF3 or CSV.")
    ],
    layout: Annotated[
        Path | None,
        option.value(
            "LAYOUT",
            "The .txt file that was made with the chart. Without it, the strips are those "
            "that the reading names.",
        ),
    ] = None,
    repaired: Annotated[
        Path | None,
        option.value(
            "FILE",
            "Write the reading with mistakes of order, direction and shift put right, or "
            "completed from the layout, if there is anything to put right. No value is "
            "guessed: what was not measured is left out.",
        ),
    ] = None,
    ramp: option.Ramp = None,
    json_file: option.Json = None,
    replace: option.Replace = False,
) -> None:
    """Check a reading for misread strips and patches: where, how sure, what to do.

    The exit code is 0 for a clean reading, 1 if anything was found.

    Example: greyscale check cotton-rag.txt --layout cotton-rag-start.txt
    """
    from greyscale.checks.checking import check as check_reading
    from greyscale.cli.outputs import Results, chart_of
    from greyscale.readings import iso28178
    from greyscale.readings.assemble import FROM_LAYOUT
    from greyscale.readings.formats import read
    from greyscale.reporting.check_report import NOTHING_TO_REPAIR, check_data, check_report

    chart = chart_of(layout)
    with voice.working("Checking the order and every value"):
        given = read(reading, ramp=ramp, layout=chart)
        result = check_reading(given, chart)
    # Put right, or completed from the layout: either way more than the file that was read.
    completed = given if FROM_LAYOUT in " ".join(given.remarks) else None
    whole = result.repaired or completed
    if repaired is not None and whole is not None:
        iso28178.write(whole, repaired)
    further = ""
    if repaired is not None and result.repaired is not None:
        further = f"The repaired reading is {repaired}"
    elif repaired is not None and completed is not None:
        further = f"The reading, with the layout's device values, is {repaired}"
    elif repaired is not None and not result.clean:
        further = NOTHING_TO_REPAIR
    written = repaired if result.repaired is not None else None
    Results(json_file).give(
        lambda: check_data(result), lambda: check_report(result, further, layout, written)
    )
    if not result.clean:
        raise typer.Exit(1)
