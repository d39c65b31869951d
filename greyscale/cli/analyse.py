"""`greyscale analyse`: what a measured grey ramp says."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli import option, voice


def analyse(
    readings: Annotated[
        list[Path],
        option.argument("READING", "Readings of printed charts: ISO 28178 text, CxF3 or CSV."),
    ],
    aim: Annotated[
        str,
        option.aim(
            "Tone aim: lstar, srgb, gamma-1.8, gamma-2.2, density, or a CSV table of level and L*."
        ),
    ] = "lstar",
    scaling: Annotated[
        str,
        option.scaling(
            "How the tone aim is fitted to the print's black and paper: linear, black-point, none."
        ),
    ] = "linear",
    neutral: option.Neutral = "fading",
    tolerance: option.Tolerance = "exhibition",
    light: Annotated[
        list[str] | None,
        option.light(
            "A further light besides D50, A and F11: a name or a lamp's file; repeat it for more."
        ),
    ] = None,
    observer: Annotated[
        str | None, option.value("2|10", "Observer; the reading's own by default.")
    ] = None,
    for_image: Annotated[
        Path | None,
        option.value("IMAGE", "Say what it means for this picture (TIFF, PNG or JPEG)."),
    ] = None,
    layout: option.Layout = None,
    ramp: option.Ramp = None,
    json_file: option.Json = None,
    folder: option.Report = None,
    pdf: option.Pdf = False,
    shown: option.Open = False,
    strict: option.Strict = False,
    unchecked: option.Unchecked = False,
    replace: option.Replace = False,
    verbose: voice.Every = False,
    log: option.Log = False,
    db: option.Db = None,
) -> None:
    """See where a print departs from neutral and from its tone scale, under which light.

    Example: greyscale analyse cotton-rag.txt --light LED-B3 -o report
    """
    from greyscale.analysis.analyse import analyse as analyse_reading
    from greyscale.analysis.brighteners import with_glow
    from greyscale.cli.outputs import Results, command_line, counted_tones, taken
    from greyscale.cli.recording import is_wanted, record_readings
    from greyscale.colorimetry.lights import REQUIRED_LIGHTS
    from greyscale.reporting.analysis_report import analysis_report
    from greyscale.reporting.json_output import analyses_data
    from greyscale.reporting.next_step import after_analysis

    recording = is_wanted(log, db)
    results = Results(json_file, folder, pdf, shown)
    picture = counted_tones(for_image)
    given, checks = taken(readings, layout, unchecked, ramp=ramp)
    analyses = [
        analyse_reading(
            reading,
            aim=aim,
            scaling=scaling,
            neutral=neutral,
            lights=[*REQUIRED_LIGHTS, *(light or ())],
            observer=observer,
            tolerance=tolerance,
            picture=picture,
        )
        for reading in voice.tracked(with_glow(given), "Analysing")
    ]
    step = after_analysis(analyses, layout)

    results.give(
        lambda: analyses_data(analyses),
        lambda: analysis_report(analyses, command_line(), step).with_fact("Checks", checks),
        verbose,
    )
    if recording:
        record_readings(db, readings, ramp, layout, quiet=results.as_json)
    if strict and not all(one.passes for one in analyses):
        raise typer.Exit(1)
