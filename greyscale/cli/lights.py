"""`greyscale lights`: list the lights known, or describe some."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.base.errors import BadInput
from greyscale.cli import option


def lights(
    names: Annotated[
        list[str] | None,
        option.argument(
            "[LIGHT ...]",
            "Lights to describe; without any, all are listed.",
            autocompletion=option.completed("colorimetry.lights", "illuminant_names"),
        ),
    ] = None,
    glazing: Annotated[
        str | None, option.glazing("Describe them behind this glass or filter.")
    ] = None,
    glass: Annotated[
        tuple[Path, Path] | None,
        option.value(
            "BARE BEHIND",
            "Measure a glass by two readings of one white sheet, bare and through the glass; "
            "-o FILE.csv keeps it for --glazing.",
        ),
    ] = None,
    sheets: Annotated[
        tuple[Path, Path, Path, Path, Path] | None,
        option.value(
            "BRIGHT PLAIN BRIGHT-M1 BRIGHT-M2 PLAIN-M2",
            "Measure how far a hall's light makes brighteners glow: the spectra of a "
            "brightened and an unbrightened sheet seen there, and both sheets' readings; "
            "-o FILE.csv keeps the lamp for --light.",
        ),
    ] = None,
    json_file: option.Json = None,
    folder: Annotated[
        Path | None,
        option.value(
            "DIR|FILE.csv",
            "Draw the spectra into this folder; with --glass or --sheets, the file to write.",
            "-o",
        ),
    ] = None,
    replace: option.Replace = False,
) -> None:
    """List the lights known, or describe some: colour temperature, rendering, ultraviolet.

    Example: greyscale lights D50 LED-B3 70%D65+30%blackbody-2700K
    """
    from greyscale.cli.progress import tracked, working
    from greyscale.colorimetry.light_quality import light_quality
    from greyscale.colorimetry.lights import illuminant_names
    from greyscale.readings.lamps import find_light, glazing_names
    from greyscale.reporting.grounds import CONSERVATION, grounds_note
    from greyscale.reporting.light_table import (
        lights_rest_on,
        list_of_lights,
        remarks_by_light,
        table_of_lights,
    )
    from greyscale.reporting.terminal import terminal

    console = terminal()
    if glass is not None or sheets is not None:
        more = bool(names or glazing or json_file or (glass and sheets))
        _refuse_more("--sheets" if sheets else "--glass", folder, more)
        if glass is not None:
            _measure_glass(glass, folder)
        elif sheets is not None:
            _measure_lamp(sheets, folder)
        return
    if not names:
        console.print(list_of_lights(illuminant_names(), glazing_names()))
        return
    sources = [find_light(name, glazing) for name in names]
    qualities = [light_quality(source) for source in tracked(sources, "Judging the lights")]
    if json_file is not None:
        from greyscale.reporting.json_output import write_json
        from greyscale.reporting.light_table import lights_data

        write_json(lights_data(sources, qualities), json_file)
    if json_file != "-":
        console.print(table_of_lights(qualities))
        for remark in remarks_by_light(sources, qualities):
            console.print(f"- {remark}", markup=False)
        console.print(f"- {grounds_note(lights_rest_on(sources))}", markup=False)
        console.print(f"- This list {CONSERVATION}", markup=False)
    if folder is not None:
        from greyscale.reporting.figures.save import save_figure
        from greyscale.reporting.light_table import spectra_of_lights
        from greyscale.reporting.style import LIGHT

        with working("Drawing the spectra"):
            written = save_figure(spectra_of_lights(sources, LIGHT), folder / "lights")
        if json_file != "-":
            console.print(f"Spectra drawn in {written[0]}", markup=False)


def _refuse_more(option: str, target: Path | None, more: bool) -> None:
    from greyscale.cli.outputs import GLAZING_ENDING

    if more:
        raise BadInput(
            "measures one thing by itself; leave lights and all other options out", option
        )
    if target is not None and target.suffix.lower() != GLAZING_ENDING:
        raise BadInput(f"is written as one file; let its name end in {GLAZING_ENDING}", target)


def _measure_glass(glass: tuple[Path, Path], target: Path | None) -> None:
    """Measure a glass, show it, and write it where that is asked for."""
    from greyscale.readings.by_sheets import ASSUMES, glass_of, write_glass

    found = glass_of(*glass)
    shown = [*range(0, len(found.wavelengths), max(1, len(found.wavelengths) // 8))]
    for row in shown:
        typer.echo(f"{found.wavelengths[row]:5.0f} nm  {found.transmittance[row]:.3f}")
    typer.echo(f"- {ASSUMES}")
    typer.echo(f"- {found.remark}")
    if target is not None:
        write_glass(found, target)
        typer.echo(f"Written to {target}; use it as --glazing {target}")


def _measure_lamp(sheets: tuple[Path, Path, Path, Path, Path], target: Path | None) -> None:
    """Measure a lamp by two sheets, say what it excites, and write it where that is asked for."""
    from greyscale.base.rests_on import supports
    from greyscale.readings.by_sheets import lamp_by_sheets, write_lamp
    from greyscale.reporting.grounds import grounds_note

    found = lamp_by_sheets(*sheets)
    typer.echo(found.remark)
    typer.echo(f"- {grounds_note(supports('two-sheets', 'excitation'))}")
    if target is not None:
        write_lamp(found, target)
        typer.echo(f"Written to {target}; use it as --light {target}")
