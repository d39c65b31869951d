"""`greyscale preview`: a picture as it will print on this paper, under a chosen light."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from greyscale.base.errors import BadInput
from greyscale.cli import option, voice


def preview(
    reading: Annotated[
        Path, option.argument("READING", "Reading of the uncorrected ramp on the paper to be used.")
    ],
    image: Annotated[
        Path, option.argument("IMAGE", "The picture, before any correction: TIFF, PNG or JPEG.")
    ],
    out: Annotated[Path, option.value("OUT", "The preview, a PNG in sRGB.", "-o")],
    correction: Annotated[
        Path | None,
        option.value(
            "CORRECTION",
            "Show the print before and after this correction; without, as aimed and as it prints.",
        ),
    ] = None,
    light: Annotated[
        str | None,
        option.light(
            "The light it will hang in: a name, a mixture or a lamp's file. [default: the "
            "first that the correction was made for, else D50]"
        ),
    ] = None,
    exaggerate: Annotated[
        float, option.value("X", "Draw casts this many times as strong as they are.")
    ] = 1.0,
    casts: Annotated[
        bool, option.flag("--casts", "Add a map of the areas that lie in a cast.")
    ] = False,
    without_uv: Annotated[
        Path | None,
        option.value(
            "READING",
            "The same chart read without ultraviolet (M2): then it is known what the paper's "
            "brightener does under other lights.",
        ),
    ] = None,
    encoding: Annotated[
        str | None,
        option.value(
            "ENCODING", "How a picture without a profile is encoded, as for 'greyscale apply'."
        ),
    ] = None,
    aim: Annotated[
        str | None,
        option.aim(
            "Without a correction: tone aim, and encoding on the way to the printer: lstar, "
            "srgb, gamma-1.8, gamma-2.2. [default: lstar]"
        ),
    ] = None,
    neutral: Annotated[
        str | None,
        option.neutral(
            "Without a correction: neutral aim: fading, adapting, paper or absolute. "
            "[default: fading]"
        ),
    ] = None,
    layout: option.Layout = None,
    unchecked: option.Unchecked = False,
    replace: option.Replace = False,
) -> None:
    """Show a picture as it will print: paper, black and casts as they were measured.

    Example: greyscale preview cotton-rag.txt fog.tif --light A --casts -o fog-preview.png
    """
    from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM
    from greyscale.aims.tone import DEFAULT_TONE_AIM
    from greyscale.analysis.brighteners import WITH_UV, WITHOUT_UV, with_glow
    from greyscale.applying.preview import PreviewOptions, checked_exaggeration
    from greyscale.applying.preview import preview as simulate
    from greyscale.cli.outputs import taken
    from greyscale.correction.folder import read_correction
    from greyscale.readings.lamps import find_light
    from greyscale.reporting.preview_sheet import preview_report, preview_sheet, write_preview
    from greyscale.reporting.terminal import show_report, terminal

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
    measured = [path for path in (reading, without_uv) if path is not None]
    both, _ = taken(measured, layout, unchecked, by_layout=True)
    given, *apart = with_glow(both)
    if apart:
        raise BadInput(
            f"is not {WITHOUT_UV} of the chart that {reading} is in {WITH_UV}; give the two "
            "readings of one chart",
            without_uv,
        )
    with voice.progress("Reading the picture") as advance:
        shown = simulate(given, image, under, made, options, advance)
    with voice.working("Drawing the preview"):
        write_preview(preview_sheet(shown, factor, casts), out)
    show_report(preview_report(shown, factor, out), terminal())
