"""Options that several commands have, each declared once: `option.Layout` and so on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from greyscale.base.errors import BadInput

if TYPE_CHECKING:
    from greyscale.colorimetry.lights import Light


def value(metavar: str, text: str, *names: str, **more: Any) -> Any:
    """Declare an option that takes a value; without names it is called as its parameter is."""
    return typer.Option(*names, metavar=metavar, help=text, **more)


def flag(name: str, text: str) -> Any:
    """Declare an option that is there or not."""
    return typer.Option(name, help=text)


def argument(metavar: str, text: str, **more: Any) -> Any:
    """Declare what stands without the name of an option."""
    return typer.Argument(metavar=metavar, help=text, **more)


def day(text: str) -> Any:
    """Declare an option that names a day."""
    return value("YYYY-MM-DD", text, formats=["%Y-%m-%d"])


def moment(text: str) -> Any:
    """Declare an option that tells when something was."""
    formats = ["%Y-%m-%d", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M"]
    return value("'YYYY-MM-DD [HH:MM]'", text, formats=formats)


def completed(module: str, known: str) -> Callable[[str], list[str]]:
    """Return what completes a name for a shell, from a module's names, looked up only then."""

    def complete(incomplete: str) -> list[str]:
        found = vars(import_module(f"greyscale.{module}"))[known]
        names = found() if callable(found) else found
        return [name for name in names if name.lower().startswith(incomplete.lower())]

    return complete


# Options whose names a shell can complete, declared by what their words say.
light = partial(value, "LIGHT", autocompletion=completed("colorimetry.lights", "illuminant_names"))
aim = partial(value, "AIM", autocompletion=completed("aims.tone", "TONE_AIMS"))
scaling = partial(value, "SCALING", autocompletion=completed("aims.tone", "SCALINGS"))
neutral = partial(value, "NEUTRAL", autocompletion=completed("aims.neutral", "NEUTRAL_AIMS"))
toning = partial(value, "TONING", autocompletion=completed("aims.neutral", "presets"))
grade = partial(value, "GRADE", autocompletion=completed("aims.tolerances", "TOLERANCES"))
glazing = partial(value, "NAME|FILE", autocompletion=completed("readings.lamps", "glazing_names"))


# What goes in.

Layout = Annotated[
    Path | None,
    value("LAYOUT", "The .txt file that was made with the chart, for readings without device "
          "values."),
]  # fmt: skip
Ramp = Annotated[
    Literal["K", "CMY"] | None,
    typer.Option(help="Which ramp, where a file holds a black one and one of three colours."),
]
Unchecked = Annotated[
    bool, flag("--unchecked", "Take readings as they are, even if they are certainly misread.")
]
Printer = Annotated[str | None, value("TEXT", "The printer.")]
Paper = Annotated[str | None, value("TEXT", "The paper.")]
Inks = Annotated[str | None, value("TEXT", "The inks.")]
Settings = Annotated[str | None, value("TEXT", "The printer's settings.")]


# What it is judged by.

Tolerance = Annotated[str, grade("Grade to judge by: exhibition or contract-proof.")]
Neutral = Annotated[str, neutral("Neutral aim: fading, adapting, paper or absolute.")]
Glazing = Annotated[str | None, glazing("Look at the prints behind this glass.")]
Weight = Annotated[
    list[str] | None,
    value("LIGHT=NUMBER", "A light's weight in the score; 1 where none is given.", "--weight"),
]
Strict = Annotated[bool, flag("--strict", "Exit with code 1 when a print fails its tolerance.")]


def weights_of(
    texts: Sequence[str] | None, glass: str | None, lights: Sequence[Light]
) -> dict[str, float]:
    """Read each LIGHT=NUMBER; the light is called as it was typed, or as it is in the results.

    Raises
    ------
    BadInput
        For a text that is none.
    """
    from greyscale.readings.lamps import find_light

    called = {one.name.partition(" behind ")[0].upper(): one.name for one in lights}
    called |= {one.name.upper(): one.name for one in lights}
    weights = {}
    for text in texts or ():
        name, _, number = text.rpartition("=")
        try:
            weight = float(number)
        except ValueError:
            weight = float("nan")
        if not name or weight != weight:
            raise BadInput(f"'{text}' is not a weight for a light; write it as A=2", "--weight")
        weights[called.get(name.upper()) or find_light(name, glass).name] = weight
    return weights


# What comes out.

Json = Annotated[
    str | None,
    value("FILE|-", "Write the numbers as JSON; - is standard output, and nothing else goes there.",
          "--json"),
]  # fmt: skip
Report = Annotated[Path | None, value("DIR", "Write a report with figures into this folder.", "-o")]
Pdf = Annotated[bool, flag("--pdf", "Write the report as PDF as well.")]
Open = Annotated[bool, flag("--open", "Open the report's page in the browser when it is written.")]
Replace = Annotated[bool, flag("--replace", "Write over what greyscale itself left there earlier.")]
"""Read by `greyscale.cli.outputs`, which declares what a command writes."""


# The print log.

Log = Annotated[bool, flag("--log", "Add it to the print log, see 'greyscale log'.")]
Db = Annotated[
    Path | None,
    value("FILE", "The print log's file; by default it is in your user data folder.", "--db"),
]
Since = Annotated[datetime | None, day("Nothing before this day.")]
Until = Annotated[datetime | None, day("Nothing after this day.")]
