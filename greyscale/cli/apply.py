"""`greyscale apply`: pictures through a correction, ready to print."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from greyscale.base.errors import BadInput
from greyscale.cli import option, voice


def apply(
    correction: Annotated[Path, option.argument("CORRECTION", "The correction's folder.")],
    images: Annotated[
        list[Path],
        option.argument(
            "IMAGE [IMAGE ...]",
            "Pictures: TIFF (8 or 16 bits, or float), PNG or JPEG; grey or RGB.",
        ),
    ],
    out: Annotated[
        str,
        option.value(
            "OUT", "The corrected picture, in the format of its ending; a folder for several.", "-o"
        ),
    ],
    encoding: Annotated[
        str | None,
        option.value(
            "ENCODING",
            "How a picture without a profile is encoded: lstar, srgb, gamma-1.8, gamma-2.2, "
            "another gamma, or an ICC profile's file.",
        ),
    ] = None,
    space: Annotated[
        Path | None,
        option.value(
            "PROFILE",
            "ICC profile of the working space that the correction was made for, where its "
            "name is not enough.",
        ),
    ] = None,
    lut: Annotated[
        Literal["1d", "3d"],
        typer.Option(help="1d: the curve; 3d: the correction's 3D LUT, for pictures with colour."),
    ] = "1d",
    seed: Annotated[
        int, option.value("N", "Seed of the dither to 8 bits: same seed, same picture.", min=0)
    ] = 1,
    force: Annotated[
        bool, option.flag("--force", "Correct even a picture that has been corrected already.")
    ] = False,
    strip: Annotated[
        Literal["below", "above", "left", "right"] | None,
        typer.Option(
            help="Add a control strip of 9 to 12 tones on this side, and its layout, "
            "OUT-strip.txt: a reading of it proves this print."
        ),
    ] = None,
    replace: option.Replace = False,
) -> None:
    """Send pictures through a correction: what comes out prints as the aim says.

    Example: greyscale apply harbour-light fog.tif -o fog-cotton-rag.tif
    """
    from greyscale.applying.apply import ApplyOptions, apply_correction, targets
    from greyscale.base.files import keep_inputs
    from greyscale.correction.folder import correction_files, read_correction
    from greyscale.reporting.made_report import apply_report
    from greyscale.reporting.terminal import show_report, terminal

    files = targets(images, out)
    keep_inputs([*images, *correction_files(correction)], files)
    made = read_correction(correction)
    options = ApplyOptions(
        encoding=encoding, space=space, lut=lut, seed=seed, force=force, strip=strip
    )
    refused, console = 0, terminal()
    for place, (image, file) in enumerate(zip(images, files, strict=True)):
        try:
            with voice.progress(f"Correcting {image.name}") as advance:
                applied = apply_correction(made, correction, image, file, options, advance)
        except BadInput as error:
            # One alone is refused as everywhere; of several the others are corrected.
            if len(images) == 1:
                raise
            refused += 1
            typer.echo(f"Not corrected: {error}", err=True)
            continue
        if place > refused:
            console.print()
        show_report(apply_report(applied), console)
    if refused:
        were = "was" if refused == 1 else "were"
        typer.echo(f"{refused} of {len(images)} pictures {were} not corrected.", err=True)
        raise typer.Exit(1)
