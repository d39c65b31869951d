"""`greyscale log trend`: has a printer changed?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from greyscale.cli.shared_options import (
    DbOption,
    InksOption,
    JsonOption,
    PaperOption,
    PrinterOption,
    ReplaceOption,
    ReportOption,
    SettingsOption,
    SinceOption,
    ToleranceOption,
    UntilOption,
)
from greyscale.cli.voice import EveryOption, QuietOption

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greyscale.records.entries import Entry
    from greyscale.records.print_log import PrintLog


def trend(
    printer: PrinterOption = None,
    paper: PaperOption = None,
    inks: InksOption = None,
    settings: SettingsOption = None,
    condition: Annotated[str | None, typer.Option(metavar="M0..M3", help="The condition.")] = None,
    backing: Annotated[str | None, typer.Option(metavar="TEXT", help="The backing.")] = None,
    observer: Annotated[str | None, typer.Option(metavar="2|10", help="The observer.")] = None,
    ramp: Annotated[str | None, typer.Option(metavar="K|CMY", help="The ramp.")] = None,
    correction: Annotated[
        str | None,
        typer.Option(
            metavar="ENTRY|none",
            help="Prints made through the correction of this entry, or without any.",
        ),
    ] = None,
    since: SinceOption = None,
    until: UntilOption = None,
    leave_out: Annotated[
        list[int] | None,
        typer.Option(
            metavar="ENTRY", help="A reading to leave out, as a misread one; repeat it for more."
        ),
    ] = None,
    baseline: Annotated[
        int | None,
        typer.Option(
            metavar="N",
            help="Take the control limits from the first N readings; from all by default.",
        ),
    ] = None,
    tolerance: ToleranceOption = "exhibition",
    json_file: JsonOption = None,
    folder: ReportOption = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="Write the report as a PDF as well.")] = False,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: EveryOption = False,
    db: DbOption = None,
) -> None:
    """See whether a printer has changed.

    Follows one printer and paper over time, and says whether a new correction is worth it. Readings
    are compared only if they were printed and measured alike; the options choose among them.

    Example: greyscale log trend --paper "cotton rag" --condition M1 -o over-time
    """
    from dataclasses import replace as changed
    from functools import partial

    from greyscale.analysis.trend import trend as follow
    from greyscale.base.errors import BadInput
    from greyscale.base.files import keep_inputs
    from greyscale.cli.progress import working
    from greyscale.records.alike import by_statement, dated_analyses, has, notes_about, one_group
    from greyscale.records.entries import NOTE, READING
    from greyscale.records.find import Wanted, find
    from greyscale.records.print_log import open_log
    from greyscale.reporting.log_table import untold_words
    from greyscale.reporting.trend_words import shown_trend

    days = Wanted(since=since.date() if since else None, until=until.date() if until else None)
    with open_log(db) as log:
        outputs = [path for path in (folder, json_file) if path is not None and path != "-"]
        keep_inputs([log.path], outputs)
        wanted = changed(
            days, kind=READING, printer=printer, paper=paper, inks=inks, settings=settings
        )
        alike = partial(
            has,
            condition=condition,
            backing=backing,
            observer=observer,
            ramp=ramp,
            through=correction,
        )
        found = [one for one in find(log, wanted) if one.id not in (leave_out or ())]
        told, untold = by_statement(found)
        if untold and not told:
            raise BadInput(untold_words(untold), log.path)
        group = one_group([one for one in told if alike(one)], log.path)
        analyses = dated_analyses(log, group, tolerance=tolerance, watched=_watched)
        notes = notes_about(find(log, changed(days, kind=NOTE)), group)
        shown = shown_trend(follow(analyses, baseline), group, _through(log, group), notes)
        if untold:
            shown = changed(shown, remarks=(*shown.remarks, untold_words(untold)))
    page = None
    if folder is not None:
        from greyscale.cli.shared_options import command_line
        from greyscale.reporting.report_folder import write_report
        from greyscale.reporting.trend_report import trend_report

        with working("Drawing the report"):
            report = trend_report(shown, command_line())
            page = write_report(folder, report, inputs=[log.path], pdf=pdf)
    if json_file is not None:
        from greyscale.reporting.json_output import write_json
        from greyscale.reporting.trend_report import trend_data

        write_json(trend_data(shown), json_file)
    if json_file != "-":
        from rich.console import Console

        from greyscale.reporting.trend_words import show_trend

        show_trend(shown, Console(highlight=False), every=verbose, written=page)


def _watched(entries: Sequence[Entry]) -> Iterator[Entry]:
    from greyscale.cli.progress import tracked

    return tracked(entries, "Analysing")


def _through(log: PrintLog, group: Sequence[Entry]) -> str | None:
    """Name the correction that all were printed through."""
    from greyscale.records.entries import ReadingDetails
    from greyscale.records.find import entry_of

    details = group[0].details
    if not isinstance(details, ReadingDetails) or details.through is None:
        return None
    return entry_of(log, details.through).name
