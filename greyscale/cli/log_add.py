"""`greyscale log add`: readings, corrections and notes for the print log."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from greyscale.cli.shared_options import (
    DbOption,
    InksOption,
    LayoutOption,
    PaperOption,
    PrinterOption,
    RampOption,
    SettingsOption,
    UncheckedOption,
)
from greyscale.cli.voice import QuietOption, VerboseOption


def add(
    files: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[FILE ...]", help="Readings, and folders of corrections."),
    ] = None,
    note: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="A note, about what is added or by itself."),
    ] = None,
    about: Annotated[
        int | None,
        typer.Option(metavar="ENTRY", help="The entry that the note is about."),
    ] = None,
    correction: Annotated[
        str | None,
        typer.Option(
            metavar="CORRECTION",
            help="The correction that the charts were printed through: its folder, its entry, or "
            "none.",
        ),
    ] = None,
    layout: LayoutOption = None,
    ramp: RampOption = None,
    printer: PrinterOption = None,
    paper: PaperOption = None,
    inks: InksOption = None,
    settings: SettingsOption = None,
    at: Annotated[
        datetime | None,
        typer.Option(
            formats=["%Y-%m-%d", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M"],
            metavar="'YYYY-MM-DD [HH:MM]'",
            help="When it was measured or noted, if the file does not say or is wrong.",
        ),
    ] = None,
    unchecked: UncheckedOption = False,
    db: DbOption = None,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """Add readings, corrections or a note. What is there already is completed by what you say.

    Example: greyscale log add cotton-rag.txt --note "after cleaning the heads"
    """
    from greyscale.base.errors import BadInput
    from greyscale.checks import refuse_if_misread
    from greyscale.cli.progress import tracked, working
    from greyscale.cli.recording import correction_entry, say
    from greyscale.readings.formats import read_all
    from greyscale.readings.layout import read_layout
    from greyscale.records.add_reading import add_readings
    from greyscale.records.adding import Stated, add_correction, add_note, is_correction
    from greyscale.records.alike import by_statement
    from greyscale.records.entries import READING
    from greyscale.records.find import entry_of
    from greyscale.records.print_log import open_log

    if not files and note is None:
        raise BadInput("there is nothing to add; name a reading, a correction's folder, or --note")
    corrections = [path for path in files or () if is_correction(path)]
    readings = [path for path in files or () if path not in corrections]
    chart = None if layout is None else read_layout(layout)
    refused = []
    for path in tracked(readings[:], "Checking"):
        try:
            for reading in read_all(path, ramp=ramp, layout=chart):
                if not unchecked:
                    refuse_if_misread(reading, chart)
        except BadInput as error:
            # One alone is refused as everywhere; of several the sound ones go in.
            if len(files or ()) == 1 or not path.exists():
                raise
            refused.append(error)
            readings.remove(path)
    told = Stated(printer=printer, paper=paper, inks=inks, settings=settings, moment=at)
    with working("Adding to the print log"), open_log(db, write=True) as log, log.writing():
        added = [add_correction(log, path, told) for path in corrections]
        through = None if correction is None else correction_entry(log, correction, added)
        for path in readings:
            added += add_readings(log, path, told, ramp=ramp, layout=layout, through=through)
        if note is not None:
            subject = added[-1].id if about is None and files else about
            added.append(add_note(log, note, told, about=subject))
        untold = by_statement(entry_of(log, one.id) for one in added if one.kind == READING)[1]
    say(added)
    if untold:
        typer.echo(
            "Not stated: whether the chart was printed through a correction. Trends leave it out "
            "until you say so: add it again with --correction none, or --correction FOLDER."
        )
    for refusal in refused:
        typer.echo(f"Not added: {refusal}", err=True)
    if refused:
        were = "was" if len(refused) == 1 else "were"
        typer.echo(f"{len(refused)} of {len(files or ())} files {were} not added.", err=True)
        raise typer.Exit(1)
