"""`greyscale lights`: list the lights known, or describe some."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli import completion
from greyscale.cli.shared_options import JsonOption, ReplaceOption
from greyscale.cli.voice import QuietOption, VerboseOption


def lights(
    names: Annotated[
        list[str] | None,
        typer.Argument(
            autocompletion=completion.lights,
            metavar="[LIGHT ...]",
            help="Lights to describe; without any, all are listed.",
        ),
    ] = None,
    glazing: Annotated[
        str | None,
        typer.Option(
            autocompletion=completion.glazings,
            metavar="NAME|FILE",
            help="Describe them behind this glass or filter.",
        ),
    ] = None,
    json_file: JsonOption = None,
    folder: Annotated[
        Path | None, typer.Option("-o", metavar="DIR", help="Draw the spectra into this folder.")
    ] = None,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """List the lights known, or describe some: colour temperature, rendering, ultraviolet.

    Example: greyscale lights D50 LED-B3 70%D65+30%blackbody-2700K
    """
    from rich.console import Console

    from greyscale.cli.progress import tracked, working
    from greyscale.colorimetry.light_quality import light_quality
    from greyscale.colorimetry.lights import illuminant_names
    from greyscale.readings.lights import find_light, glazing_names
    from greyscale.reporting.grounds import CONSERVATION, grounds_note
    from greyscale.reporting.light_table import (
        light_remarks,
        lights_rest_on,
        list_of_lights,
        table_of_lights,
    )

    console = Console()
    if not names:
        console.print(list_of_lights(illuminant_names(), glazing_names()))
        return
    sources = [find_light(name, glazing) for name in names]
    qualities = [light_quality(source) for source in tracked(sources, "Judging the lights")]
    if json_file is not None:
        from greyscale.reporting.json_output import write_json
        from greyscale.reporting.light_json import lights_data

        write_json(lights_data(sources, qualities), json_file)
    if json_file != "-":
        console.print(table_of_lights(qualities))
        for source, quality in zip(sources, qualities, strict=True):
            for remark in light_remarks(source, quality):
                console.print(f"- {remark}", markup=False)
        console.print(f"- {grounds_note(lights_rest_on(sources))}", markup=False)
        console.print(f"- This list {CONSERVATION}", markup=False)
    if folder is not None:
        from greyscale.reporting.figures.save import save_figure
        from greyscale.reporting.figures.spectra import spectra_of_lights
        from greyscale.reporting.style import LIGHT

        with working("Drawing the spectra"):
            written = save_figure(spectra_of_lights(sources, LIGHT), folder / "lights")
        if json_file != "-":
            console.print(f"Spectra drawn in {written[0]}", markup=False)
