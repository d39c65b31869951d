"""`greyscale compare`: which paper keeps its greys neutral under the lights it will hang in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli import completion
from greyscale.cli.report_options import OpenOption, PdfOption, check_report, open_page
from greyscale.cli.shared_options import (
    JsonOption,
    LayoutOption,
    NeutralOption,
    ReplaceOption,
    ReportOption,
    UncheckedOption,
)
from greyscale.cli.voice import EveryOption, QuietOption


def compare(
    readings: Annotated[
        list[Path],
        typer.Argument(
            metavar="READING READING",
            help="Readings of ramps on the papers; M1 and M2 of one chart count as one paper.",
            show_default=False,
        ),
    ],
    light: Annotated[
        list[str] | None,
        typer.Option(
            autocompletion=completion.lights,
            metavar="LIGHT",
            help="A light to compare under: a name, a mixture or a lamp's file; repeat it for "
            "more. Without any: D50, A, F11.",
            show_default=False,
        ),
    ] = None,
    weight: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LIGHT=NUMBER",
            help="A light's weight in the score; 1 where none is given.",
            show_default=False,
        ),
    ] = None,
    glazing: Annotated[
        str | None,
        typer.Option(
            autocompletion=completion.glazings,
            metavar="NAME|FILE",
            help="Look at the prints behind this glass.",
            show_default=False,
        ),
    ] = None,
    viewer: Annotated[
        str, typer.Option(metavar="light|paper", help="What the viewer's eyes are adapted to.")
    ] = "light",
    worst_share: Annotated[
        float, typer.Option(metavar="0..1", help="Share of the worst light in the score.")
    ] = 0.5,
    neutral: NeutralOption = "fading",
    aim: Annotated[
        str,
        typer.Option(
            autocompletion=completion.tone_aims,
            metavar="AIM",
            help="Tone aim, as for 'greyscale analyse'.",
        ),
    ] = "lstar",
    observer: Annotated[str, typer.Option(metavar="2|10", help="Observer.")] = "2",
    json_file: JsonOption = None,
    folder: ReportOption = None,
    pdf: PdfOption = False,
    shown: OpenOption = False,
    layout: LayoutOption = None,
    unchecked: UncheckedOption = False,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: EveryOption = False,
) -> None:
    """Compare papers under the lights that the prints will hang in.

    Example: greyscale compare cotton-rag.txt baryta.txt --light A --light LED-B3 -o papers
    """
    from rich.console import Console

    from greyscale.analysis.comparison import ComparisonOptions
    from greyscale.analysis.comparison import compare as compare_papers
    from greyscale.base.files import keep_inputs
    from greyscale.cli.checking import chart_of, checked
    from greyscale.cli.progress import tracked, working
    from greyscale.colorimetry.lights import REQUIRED_LIGHTS
    from greyscale.readings.formats import read_all
    from greyscale.readings.lights import find_light
    from greyscale.reporting.comparison_table import show_comparison

    check_report(folder, pdf, shown)
    lights = tuple(find_light(name, glazing) for name in light or REQUIRED_LIGHTS)
    options = ComparisonOptions(
        lights=lights,
        weights=dict(_weight(text, glazing) for text in weight or ()),
        neutral=neutral,
        aim=aim,
        observer=observer,
        viewer=viewer,
        worst_share=worst_share,
    )
    chart = chart_of(layout)
    read = [one for path in tracked(readings, "Reading") for one in read_all(path, layout=chart)]
    checks = checked(tracked(read, "Checking"), unchecked)
    comparison = compare_papers(read, options, lambda prints: tracked(prints, "Comparing"))
    if json_file is not None:
        from greyscale.reporting.comparison_json import comparison_data
        from greyscale.reporting.json_output import write_json

        if json_file != "-":
            keep_inputs(readings, [json_file])
        write_json(comparison_data(comparison), json_file)
    page = None
    if folder is not None:
        from greyscale.cli.command_line import command_line
        from greyscale.reporting.comparison_report import write_comparison_report

        with working("Drawing the report"):
            page = write_comparison_report(
                comparison, folder, command=command_line(), checks=checks, pdf=pdf
            )
    if json_file != "-":
        show_comparison(comparison, Console(highlight=False), verbose, page)
    if page is not None and shown:
        open_page(page)


def _weight(text: str, glazing: str | None) -> tuple[str, float]:
    """Read LIGHT=NUMBER; the light is called as it is in the results."""
    from greyscale.base.errors import BadInput
    from greyscale.readings.lights import find_light

    name, _, number = text.rpartition("=")
    try:
        value = float(number)
    except ValueError:
        value = float("nan")
    if not name or value != value:
        raise BadInput(f"'{text}' is no weight of a light; write it as A=2", "--weight")
    return find_light(name, glazing).name, value
