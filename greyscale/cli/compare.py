"""`greyscale compare`: which paper keeps its greys neutral under the lights it will hang in."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greyscale.cli import completion
from greyscale.cli.shared_options import (
    GlazingOption,
    JsonOption,
    LayoutOption,
    NeutralOption,
    OpenOption,
    PdfOption,
    ReplaceOption,
    ReportOption,
    UncheckedOption,
    WeightOption,
    check_report,
    open_page,
    weights_of,
)
from greyscale.cli.voice import EveryOption, QuietOption

if TYPE_CHECKING:
    from greyscale.correction.record import Correction
    from greyscale.readings.layout import Layout
    from greyscale.readings.reading import Reading


def compare(
    readings: Annotated[
        list[Path],
        typer.Argument(
            metavar="READING READING",
            help="Readings on the papers, with near-neutral patches where corrected prints are to "
            "be compared; M1 and M2 of one chart count as one paper. Or correction folders.",
        ),
    ],
    light: Annotated[
        list[str] | None,
        typer.Option(
            autocompletion=completion.lights,
            metavar="LIGHT",
            help="A light to compare under: a name, a mixture or a lamp's file; repeat it for "
            "more. Without any: D50, A, F11.",
        ),
    ] = None,
    weight: WeightOption = None,
    glazing: GlazingOption = None,
    viewer: Annotated[
        str, typer.Option(metavar="light|paper", help="What the viewer's eyes are adapted to.")
    ] = "light",
    worst_share: Annotated[
        float, typer.Option(metavar="0..1", help="Share of the worst light in the score.")
    ] = 0.5,
    as_printed: Annotated[
        bool,
        typer.Option(
            "--as-printed",
            help="Compare the prints as they are, not what remains after each paper's best "
            "correction for the lights.",
        ),
    ] = False,
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
    from greyscale.base.files import keep_inputs
    from greyscale.cli.checking import chart_of, checked
    from greyscale.cli.progress import tracked, working
    from greyscale.colorimetry.lights import REQUIRED_LIGHTS
    from greyscale.correction.corrected_papers import compare_papers
    from greyscale.readings.lights import find_light
    from greyscale.readings.reading import Reading
    from greyscale.reporting.comparison_words import show_comparison

    check_report(folder, pdf, shown)
    lights = tuple(find_light(name, glazing) for name in light or REQUIRED_LIGHTS)
    options = ComparisonOptions(
        lights=lights,
        weights=weights_of(weight, glazing, lights),
        neutral=neutral,
        aim=aim,
        observer=observer,
        viewer=viewer,
        worst_share=worst_share,
    )
    chart = chart_of(layout)
    given = [one for path in tracked(readings, "Reading") for one in _given(path, chart)]
    read = [one for one in given if isinstance(one, Reading)]
    checks = checked(read, unchecked)
    comparison = compare_papers(
        given,
        options,
        as_printed=as_printed,
        progress=lambda prints: tracked(prints, "Comparing"),
    )
    if json_file is not None:
        from greyscale.reporting.comparison_report import comparison_data
        from greyscale.reporting.json_output import write_json

        if json_file != "-":
            keep_inputs(readings, [json_file])
        write_json(comparison_data(comparison), json_file)
    words = [word for name in light or REQUIRED_LIGHTS for word in ("--light", name)]
    words += [word for text in weight or () for word in ("--weight", text)]
    words += ["--glazing", glazing] if glazing else []
    words += ["--aim", aim] if aim != "lstar" else []
    words += ["--unchecked"] if unchecked else []
    from greyscale.reporting.next_step import TypedComparison

    typed = TypedComparison(tuple(words), tuple(map(str, readings)), layout)
    page = None
    if folder is not None:
        from greyscale.cli.shared_options import command_line
        from greyscale.reporting.comparison_report import comparison_report
        from greyscale.reporting.report_folder import write_report

        with working("Drawing the report"):
            report = comparison_report(comparison, command_line(), typed)
            report = report.with_fact("Checks", checks)
            page = write_report(folder, report, pdf=pdf)
    if json_file != "-":
        show_comparison(comparison, Console(highlight=False), verbose, page, typed)
    if page is not None and shown:
        open_page(page)


def _given(path: Path, chart: Layout | None) -> Sequence[Reading | Correction]:
    """The readings in a file, or a folder's correction."""
    if path.is_dir():
        from greyscale.correction.folder import read_correction

        return [read_correction(path)]
    from greyscale.readings.formats import read_all

    return read_all(path, layout=chart)
