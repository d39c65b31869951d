"""Options that several commands have, each declared once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from greyscale.cli import completion

JsonOption = Annotated[
    str | None,
    typer.Option(
        "--json",
        metavar="FILE|-",
        help="Write the numbers as JSON; - is standard output, and nothing else goes there.",
        show_default=False,
    ),
]

ReportOption = Annotated[
    Path | None,
    typer.Option(
        "-o",
        metavar="DIR",
        help="Write a report with figures into this folder.",
        show_default=False,
    ),
]

ReplaceOption = Annotated[
    bool,
    typer.Option("--replace", help="Write over what greyscale itself left there earlier."),
]
"""Read by `greyscale.cli.outputs`, which declares what a command writes."""

LayoutOption = Annotated[
    Path | None,
    typer.Option(
        metavar="LAYOUT",
        help="The .txt file that was made with the chart, for readings without device values.",
        show_default=False,
    ),
]

RampOption = Annotated[
    Literal["K", "CMY"] | None,
    typer.Option(
        help="Which ramp, where a file holds a black one and one of three colours.",
        show_default=False,
    ),
]

ToleranceOption = Annotated[
    str,
    typer.Option(
        autocompletion=completion.tolerances,
        metavar="GRADE",
        help="Grade to judge by: exhibition or contract-proof.",
    ),
]

NeutralOption = Annotated[
    str,
    typer.Option(
        autocompletion=completion.neutral_aims,
        metavar="NEUTRAL",
        help="Neutral aim: fading, adapting, paper or absolute.",
    ),
]

UncheckedOption = Annotated[
    bool,
    typer.Option(
        "--unchecked", help="Take readings as they are, even if they are certainly misread."
    ),
]
