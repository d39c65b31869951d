"""`greyscale log print`: a finished print, or a chart that waits to be measured."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greyscale.cli.shared_options import (
    DbOption,
    InksOption,
    LayoutOption,
    PaperOption,
    PrinterOption,
    SettingsOption,
)
from greyscale.cli.voice import QuietOption, VerboseOption

if TYPE_CHECKING:
    from greyscale.readings.layout import Layout


def print_(
    image: Annotated[
        Path,
        typer.Argument(
            metavar="IMAGE",
            help="What went to the printer: a picture, or a chart beside its layout.",
        ),
    ],
    title: Annotated[
        str | None,
        typer.Option(
            metavar="TEXT", help="What the edition is called; by default the file's name."
        ),
    ] = None,
    copy: Annotated[
        str | None,
        typer.Option(metavar="N/M", help="Its number, as 4/25."),
    ] = None,
    correction: Annotated[
        str | None,
        typer.Option(
            metavar="CORRECTION",
            help="The correction that it was printed through: its folder, its entry, or none.",
        ),
    ] = None,
    batch: Annotated[
        str | None, typer.Option(metavar="TEXT", help="The batch of the paper.")
    ] = None,
    strip: Annotated[
        Path | None,
        typer.Option(metavar="READING", help="The reading of its control strip."),
    ] = None,
    layout: LayoutOption = None,
    note: Annotated[str | None, typer.Option(metavar="TEXT", help="A remark.")] = None,
    printer: PrinterOption = None,
    paper: PaperOption = None,
    inks: InksOption = None,
    settings: SettingsOption = None,
    at: Annotated[
        datetime | None,
        typer.Option(
            formats=["%Y-%m-%d", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M"],
            metavar="'YYYY-MM-DD [HH:MM]'",
            help="When it was printed; now by default.",
        ),
    ] = None,
    db: DbOption = None,
    quiet: QuietOption = False,
    verbose: VerboseOption = False,
) -> None:
    """Record a finished print, or a chart that dries.

    Says which copies of the edition there are, and, by the reading of its control strip, whether
    this one keeps the promise and matches the first. Of a chart, 'log status' then says when it is
    dry enough to be measured.

    Example: greyscale log print fog.tif --title Fog --copy 4/25
    """
    from dataclasses import replace

    from greyscale.base.errors import BadInput
    from greyscale.cli.recording import correction_entry, say
    from greyscale.records.add_reading import add_readings
    from greyscale.records.adding import Added, Stated, add_print, copy_of, with_names_of
    from greyscale.records.find import correction_called, entry_of
    from greyscale.records.print_log import open_log
    from greyscale.reporting.log_table import edition_facts

    numbered = None if copy is None else copy_of(copy)
    chart = _chart(image)
    added: list[Added] = []
    with open_log(db, write=True) as log, log.writing():
        sent = None if chart is None else chart.fields.get("CHART_THROUGH")
        if correction is None and sent is not None:
            named = correction_called(log, sent)
            if named is None:
                raise BadInput(
                    f"its layout says that the chart was sent through '{sent}', which is not in "
                    "this log; name its folder",
                    "--correction",
                )
            through = named
        else:
            through = correction_entry(log, correction or "none", added)
        told = Stated(printer=printer, paper=paper, inks=inks, settings=settings, moment=at)
        read = None
        if strip is not None:
            # When the strip was measured, its own file says.
            names = replace(told, moment=None)
            if through:
                names = with_names_of(entry_of(log, through), names)
            added += add_readings(log, strip, names, layout=layout, through=through)
            read = added[-1].id
        made = add_print(
            log,
            image,
            told,
            title=title or (image.stem if chart is None else chart.name),
            copy=numbered,
            correction=through or None,
            batch=batch,
            strip=read,
            note=note,
            chart=chart is not None,
        )
        facts = edition_facts(log, entry_of(log, made.id))
    say([*added, made])
    for name, text in facts:
        typer.echo(f"{name}: {text}.")


def _chart(image: Path) -> Layout | None:
    """The layout that lies beside a chart, if there is one: a page of several has its number."""
    from greyscale.base.errors import BadInput
    from greyscale.readings.layout import read_layout

    stem = image.stem.rstrip("0123456789").removesuffix("-")
    for name in (image.stem, stem):
        try:
            if name and (image.parent / f"{name}.txt").is_file():
                return read_layout(image.parent / f"{name}.txt")
        except BadInput:
            # A picture's text of the same name is no layout.
            continue
    return None
