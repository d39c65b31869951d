"""`greyscale preview`: a picture as it will print on this paper, under a chosen light."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli import completion
from greyscale.cli.shared_options import LayoutOption, ReplaceOption, UncheckedOption
from greyscale.cli.voice import QuietOption, VerboseOption


def preview(
    reading: Annotated[
        Path,
        typer.Argument(
            metavar="READING", help="Reading of the uncorrected ramp on the paper to be used."
        ),
    ],
    image: Annotated[
        Path,
        typer.Argument(
            metavar="IMAGE", help="The picture, before any correction: TIFF, PNG or JPEG."
        ),
    ],
    out: Annotated[
        Path,
        typer.Option("-o", metavar="OUT", help="The preview, a PNG in sRGB."),
    ],
    correction: Annotated[
        Path | None,
        typer.Option(
            metavar="CORRECTION",
            help="Show the print before and after this correction; without, as aimed and as it "
            "prints.",
        ),
    ] = None,
    light: Annotated[
        str | None,
        typer.Option(
            autocompletion=completion.lights,
            metavar="LIGHT",
            help="The light it will hang in: a name, a mixture or a lamp's file. [default: the "
            "first that the correction was made for, else D50]",
        ),
    ] = None,
    exaggerate: Annotated[
        float, typer.Option(metavar="X", help="Draw casts so many times as strong as they are.")
    ] = 1.0,
    casts: Annotated[
        bool, typer.Option("--casts", help="Add a map of the areas that lie in a cast.")
    ] = False,
    without_uv: Annotated[
        Path | None,
        typer.Option(
            metavar="READING",
            help="The same chart read without ultraviolet (M2): then it is known what the paper's "
            "brightener does under other lights.",
        ),
    ] = None,
    encoding: Annotated[
        str | None,
        typer.Option(
            metavar="ENCODING",
            help="How a picture without a profile is encoded, as for 'greyscale apply'.",
        ),
    ] = None,
    aim: Annotated[
        str | None,
        typer.Option(
            metavar="AIM",
            help="Without a correction: tone aim, and encoding on the way to the printer: lstar, "
            "srgb, gamma-1.8, gamma-2.2. [default: lstar]",
        ),
    ] = None,
    neutral: Annotated[
        str | None,
        typer.Option(
            metavar="NEUTRAL",
            help="Without a correction: neutral aim: fading, adapting, paper or absolute. "
            "[default: fading]",
        ),
    ] = None,
    layout: LayoutOption = None,
    unchecked: UncheckedOption = False,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """Show a picture as it will print: paper, black and casts as they were measured.

    Example: greyscale preview cotton-rag.txt fog.tif --light A --casts -o fog-preview.png
    """
    from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM
    from greyscale.aims.tone import DEFAULT_TONE_AIM
    from greyscale.analysis.brighteners import WITH_UV, WITHOUT_UV, with_glow
    from greyscale.applying.preview import PreviewOptions, checked_exaggeration
    from greyscale.applying.preview import preview as simulate
    from greyscale.base.errors import BadInput
    from greyscale.base.files import keep_inputs
    from greyscale.cli.checking import chart_of, checked
    from greyscale.cli.progress import progress, working
    from greyscale.correction.folder import correction_files, read_correction
    from greyscale.readings.formats import read
    from greyscale.readings.lights import find_light
    from greyscale.reporting.preview_sheet import preview_sheet, write_preview
    from greyscale.reporting.preview_words import preview_lines

    measured = [path for path in (reading, without_uv) if path is not None]
    inputs = [*measured, image, *(correction_files(correction) if correction else ())]
    keep_inputs(inputs, [out])
    if out.suffix.lower() != ".png":
        raise BadInput("a preview is a PNG; let its name end in .png", out)
    if correction is not None and (aim or neutral):
        raise BadInput("the correction has its own aims; leave out --aim and --neutral")
    factor = checked_exaggeration(exaggerate)
    made = None if correction is None else read_correction(correction)
    if light is not None:
        under = find_light(light)
    else:
        under = made.lights[0].light if made and made.lights else find_light("D50")
    options = PreviewOptions(
        encoding=encoding, aim=aim or DEFAULT_TONE_AIM, neutral=neutral or DEFAULT_NEUTRAL_AIM
    )
    chart = chart_of(layout)
    both = [read(path, layout=chart) for path in measured]
    checked(both, unchecked, chart)
    given, *apart = with_glow(both)
    if apart:
        raise BadInput(
            f"is not {WITHOUT_UV} of the chart that {reading} is in {WITH_UV}; give the two "
            "readings of one chart",
            without_uv,
        )
    with progress("Reading the picture") as advance:
        shown = simulate(given, image, under, made, options, advance)
    with working("Drawing the preview"):
        write_preview(preview_sheet(shown, factor, casts), out)
    for line in preview_lines(shown, factor):
        typer.echo(line)
    typer.echo(f"The preview is {out}")
