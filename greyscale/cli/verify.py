"""`greyscale verify`: whether a correction worked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greyscale.cli import option, voice

if TYPE_CHECKING:
    from greyscale.correction.verify import Verification


def verify(
    reading: Annotated[
        Path,
        option.argument(
            "READING",
            "Reading of a chart that was printed through the correction, with the chart's own "
            "device values.",
        ),
    ],
    correction: Annotated[Path, option.value("CORRECTION", "The correction's folder.")],
    tolerance: option.Tolerance = "exhibition",
    light: Annotated[
        list[str] | None,
        option.light(
            "A further light to look at the print under; repeat it for more. It is judged by "
            "the lights that the correction was made for."
        ),
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
    """Prove a correction: the print made through it beside the print before and the prediction.

    Example: greyscale verify proof-reading.txt --correction harbour-light -o proof-report
    """
    from contextlib import ExitStack

    from greyscale.cli.outputs import Results, command_line, taken
    from greyscale.cli.recording import is_wanted, record_verification
    from greyscale.correction.folder import correction_files, read_correction
    from greyscale.correction.verify import verify as judge
    from greyscale.readings.lamps import find_light
    from greyscale.reporting.next_step import after_verification
    from greyscale.reporting.verification_report import (
        verification_data,
        verification_report,
        verification_sentences,
    )

    recording = is_wanted(log, db)
    results = Results(json_file, folder, pdf, shown)
    made = read_correction(correction)
    (given,), checks = taken([reading], layout, unchecked, ramp=ramp, by_layout=True)
    lights = [find_light(one) for one in light or ()]
    with ExitStack() as at_work:
        at_work.enter_context(voice.working("Comparing the print with what was promised"))

        def told(found: Verification) -> None:
            """Say the verdict while another round is solved."""
            at_work.close()
            verdict, _, _ = verification_sentences(found)[0].partition(":")
            at_work.enter_context(voice.working(f"{verdict}; is another round worth it?"))

        found = judge(given, made, tolerance=tolerance, lights=lights, told=told)
    step = after_verification(found, correction, layout)
    results.give(
        lambda: verification_data(found),
        lambda: verification_report(found, command_line(), step).with_fact("Checks", checks),
        verbose,
        correction_files(correction),
    )
    if recording:
        record_verification(
            db, reading, correction, found, ramp=ramp, layout=layout, quiet=results.as_json
        )
    if strict and not found.within_tolerance:
        raise typer.Exit(1)
