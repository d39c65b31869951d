"""Options that several commands have, each declared once."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from greyscale.base.plain_text import as_typed
from greyscale.cli import completion

if TYPE_CHECKING:
    from greyscale.charts.picture_tones import PictureTones
    from greyscale.colorimetry.lights import Light


# What `--for-image` asks: which tones a picture has.


def counted_tones(image: Path | None) -> PictureTones | None:
    """Count a picture's tones, with a bar while it takes long; None where none is given."""
    if image is None:
        return None
    from greyscale.charts.picture_tones import picture_tones
    from greyscale.cli.progress import progress

    with progress("Counting tones") as advance:
        return picture_tones(image, advance)


# The options `--pdf` and `--open`, the same for every command that writes a report.

PdfOption = Annotated[bool, typer.Option("--pdf", help="Write the report as PDF as well.")]

OpenOption = Annotated[
    bool, typer.Option("--open", help="Open the report's page in the browser when it is written.")
]


def check_report(folder: Path | None, pdf: bool, shown: bool) -> None:
    """Refuse `--pdf` and `--open` before the work is done, if they cannot be followed after it.

    Raises
    ------
    BadInput
        If there is no folder to write to, or no package to write a PDF with.
    """
    if folder is None and (pdf or shown):
        from greyscale.base.errors import BadInput

        what, option = ("a PDF", "--pdf") if pdf else ("a page to open", "--open")
        raise BadInput(f"{what} needs a folder; add -o DIR", option)
    if pdf:
        from greyscale.reporting.pdf.document import need_writer

        need_writer()


def open_page(page: Path) -> None:
    """Open a page in the person's browser; say so where there is none."""
    import webbrowser

    if not webbrowser.open(page.resolve().as_uri()):
        typer.echo(f"greyscale: no browser was found; open {page} yourself", err=True)


# The command as it was given, for reports to say how they were made.


def command_line() -> str:
    """Return the running command as it can be pasted into a shell of this system."""
    return as_typed(*sys.argv[1:])


JsonOption = Annotated[
    str | None,
    typer.Option(
        "--json",
        metavar="FILE|-",
        help="Write the numbers as JSON; - is standard output, and nothing else goes there.",
    ),
]

ReportOption = Annotated[
    Path | None,
    typer.Option("-o", metavar="DIR", help="Write a report with figures into this folder."),
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
    ),
]

RampOption = Annotated[
    Literal["K", "CMY"] | None,
    typer.Option(help="Which ramp, where a file holds a black one and one of three colours."),
]

ToleranceOption = Annotated[
    str,
    typer.Option(
        autocompletion=completion.tolerances,
        metavar="GRADE",
        help="Grade to judge by: exhibition or contract-proof.",
    ),
]

WeightOption = Annotated[
    list[str] | None,
    typer.Option(
        "--weight",
        metavar="LIGHT=NUMBER",
        help="A light's weight in the score; 1 where none is given.",
    ),
]

GlazingOption = Annotated[
    str | None,
    typer.Option(
        autocompletion=completion.glazings,
        metavar="NAME|FILE",
        help="Look at the prints behind this glass.",
    ),
]


def weights_of(
    texts: Sequence[str] | None, glazing: str | None, lights: Sequence[Light]
) -> dict[str, float]:
    """Read each LIGHT=NUMBER; the light is called as it was typed, or as it is in the results.

    Raises
    ------
    BadInput
        For a text that is none.
    """
    from greyscale.base.errors import BadInput
    from greyscale.readings.lights import find_light

    called = {one.name.partition(" behind ")[0].upper(): one.name for one in lights}
    called |= {one.name.upper(): one.name for one in lights}
    weights = {}
    for text in texts or ():
        name, _, number = text.rpartition("=")
        try:
            value = float(number)
        except ValueError:
            value = float("nan")
        if not name or value != value:
            raise BadInput(f"'{text}' is not a weight for a light; write it as A=2", "--weight")
        weights[called.get(name.upper()) or find_light(name, glazing).name] = value
    return weights


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


# Options that several commands of the print log share.

LogOption = Annotated[
    bool, typer.Option("--log", help="Add it to the print log, see 'greyscale log'.")
]
DbOption = Annotated[
    Path | None,
    typer.Option(
        "--db",
        metavar="FILE",
        help="The print log's file; by default it is in your user data folder.",
    ),
]
PrinterOption = Annotated[str | None, typer.Option(metavar="TEXT", help="The printer.")]
PaperOption = Annotated[str | None, typer.Option(metavar="TEXT", help="The paper.")]
InksOption = Annotated[str | None, typer.Option(metavar="TEXT", help="The inks.")]
SettingsOption = Annotated[str | None, typer.Option(metavar="TEXT", help="The printer's settings.")]
SinceOption = Annotated[
    datetime | None,
    typer.Option(formats=["%Y-%m-%d"], metavar="YYYY-MM-DD", help="Nothing before this day."),
]
UntilOption = Annotated[
    datetime | None,
    typer.Option(formats=["%Y-%m-%d"], metavar="YYYY-MM-DD", help="Nothing after this day."),
]
