"""`greyscale check`: was every patch read, and does each value stand under its own?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli.shared_options import JsonOption, RampOption, ReplaceOption
from greyscale.cli.voice import QuietOption, VerboseOption


def check(
    reading: Annotated[
        Path,
        typer.Argument(
            metavar="READING", help="Reading of a printed chart: ISO 28178 text, CxF3 or CSV."
        ),
    ],
    layout: Annotated[
        Path | None,
        typer.Option(
            metavar="LAYOUT",
            help="The .txt file that was made with the chart. Without it, the strips are those "
            "that the reading names.",
        ),
    ] = None,
    repaired: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Write the reading with mistakes of order, direction and shift put right, or "
            "completed from the layout, if there is anything of that. No value is guessed: what "
            "was not measured is left out.",
        ),
    ] = None,
    ramp: RampOption = None,
    json_file: JsonOption = None,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """Check a reading for misread strips and patches: where, how sure, what to do.

    Ends with 0 for a clean reading, with 1 if anything was found.

    Example: greyscale check cotton-rag.txt --layout cotton-rag-start.txt
    """
    from greyscale.base.files import keep_inputs
    from greyscale.checks import check as check_reading
    from greyscale.cli.progress import working
    from greyscale.readings import iso28178
    from greyscale.readings.assemble import FROM_LAYOUT
    from greyscale.readings.formats import read
    from greyscale.readings.layout import read_layout

    inputs = [path for path in (reading, layout) if path is not None]
    json_path = None if json_file in (None, "-") else json_file
    keep_inputs(inputs, [path for path in (repaired, json_path) if path is not None])
    chart = None if layout is None else read_layout(layout)
    with working("Checking the order and every value"):
        given = read(reading, ramp=ramp, layout=chart)
        result = check_reading(given, chart)
    # Put right, or completed from the layout: either way more than the file that was read.
    completed = given if FROM_LAYOUT in " ".join(given.remarks) else None
    whole = result.repaired or completed
    if repaired is not None and whole is not None:
        iso28178.write(whole, repaired)
    if json_file is not None:
        from greyscale.reporting.check_words import check_data
        from greyscale.reporting.json_output import write_json

        write_json(check_data(result), json_file)
    if json_file != "-":
        from rich.console import Console

        from greyscale.reporting.check_words import NOTHING_TO_REPAIR, show_check

        further = ""
        if repaired is not None and result.repaired is not None:
            further = f"The repaired reading is {repaired}"
        elif repaired is not None and completed is not None:
            further = f"The reading, with the layout's device values, is {repaired}"
        elif repaired is not None and not result.clean:
            further = NOTHING_TO_REPAIR
        written = repaired if result.repaired is not None else None
        show_check(result, Console(highlight=False), further, layout, written)
    if not result.clean:
        raise typer.Exit(1)
