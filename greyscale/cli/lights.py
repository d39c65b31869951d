"""`greyscale lights`: list the lights known, or describe some."""

from __future__ import annotations

from dataclasses import replace as changed
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from greyscale.base.errors import BadInput
from greyscale.cli import option, voice

if TYPE_CHECKING:
    from greyscale.reporting.page import Report


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
    from greyscale.cli.outputs import Results
    from greyscale.colorimetry.light_quality import light_quality
    from greyscale.colorimetry.lights import illuminant_names
    from greyscale.readings.lamps import find_lights, glazing_names
    from greyscale.reporting.lights_report import (
        lights_data,
        lights_list,
        lights_report,
        spectra_of_lights,
    )
    from greyscale.reporting.style import LIGHT, save_figure
    from greyscale.reporting.terminal import show_report, terminal

    if glass is not None or sheets is not None:
        more = bool(names or glazing or json_file or (glass and sheets))
        _refuse_more("--sheets" if sheets else "--glass", folder, more)
        show_report(_measured(glass, sheets, folder), terminal(), every=True)
        return
    if not names and (glazing or json_file or folder):
        raise BadInput("--glazing, --json and -o go with lights; name the lights to describe")
    if not names:
        show_report(lights_list(illuminant_names(), glazing_names()), terminal(), every=True)
        return
    sources = find_lights(names, glazing)
    qualities = [light_quality(source) for source in voice.tracked(sources, "Judging the lights")]
    drawn: tuple[str, ...] = ()
    if folder is not None:
        with voice.working("Drawing the spectra"):
            written = save_figure(spectra_of_lights(sources, LIGHT), folder / "lights")
        drawn = (f"Spectra drawn in {written[0]}",)
    Results(json_file).give(
        lambda: lights_data(sources, qualities),
        lambda: changed(lights_report(sources, qualities), made=drawn),
        every=True,
    )


def _refuse_more(option: str, target: Path | None, more: bool) -> None:
    from greyscale.cli.outputs import GLAZING_ENDING

    if more:
        raise BadInput(
            "measures one thing by itself; leave lights and all other options out", option
        )
    if target is not None and target.suffix.lower() != GLAZING_ENDING:
        raise BadInput(f"is written as one file; let its name end in {GLAZING_ENDING}", target)


def _measured(
    glass: tuple[Path, Path] | None, sheets: tuple[Path, ...] | None, target: Path | None
) -> Report:
    """Measure a glass, or a lamp by two sheets, and write it where that is asked for."""
    from greyscale.readings import by_sheets
    from greyscale.reporting.lights_report import glass_report, lamp_report

    if glass is not None:
        pane = by_sheets.glass_of(*glass)
        if target is not None:
            by_sheets.write_glass(pane, target)
        return glass_report(pane, target)
    lamp = by_sheets.lamp_by_sheets(*(sheets or ()))
    if target is not None:
        by_sheets.write_lamp(lamp, target)
    return lamp_report(lamp, target)
