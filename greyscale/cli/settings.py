"""`greyscale settings`: which of the driver's settings to correct from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from greyscale.cli import option, voice


def settings(
    readings: Annotated[
        list[Path],
        option.argument(
            "READING READING",
            "A reading of each setting's strip, all on the same paper; see 'greyscale chart "
            "--settings'.",
        ),
    ],
    json_file: option.Json = None,
    folder: option.Report = None,
    pdf: option.Pdf = False,
    shown: option.Open = False,
    layout: option.Layout = None,
    unchecked: option.Unchecked = False,
    replace: option.Replace = False,
    verbose: voice.Every = False,
) -> None:
    """Choose the driver's media setting, ink limit or grey mode before correcting anything.

    Example: greyscale settings matt-1.txt matt-2.txt -o my-settings
    """
    from greyscale.cli.outputs import Results, command_line, taken
    from greyscale.correction.settings import choose_settings
    from greyscale.reporting.settings_report import settings_data, settings_report

    results = Results(json_file, folder, pdf, shown)
    given, checks = taken(readings, layout, unchecked)
    with voice.working("Trying what a correction would leave"):
        found = choose_settings(given)
    results.give(
        lambda: settings_data(found),
        lambda: settings_report(found, command_line()).with_fact("Checks", checks),
        verbose,
    )
