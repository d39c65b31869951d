"""`greyscale log`: the print log; its commands, in the order of use."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace as changed
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from greyscale.base.errors import BadInput
from greyscale.cli import option, voice
from greyscale.cli.contents import Commands
from greyscale.cli.recording import correction_entry, name_damages, say

if TYPE_CHECKING:
    from greyscale.readings.layout import Layout
    from greyscale.records.entries import Entry
    from greyscale.records.print_log import PrintLog

NAMES = (
    "add", "list", "show", "print", "status", "trend",
    "export", "import", "gather", "check", "rescue",
)  # fmt: skip


class _LogCommands(TyperGroup):
    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.commands: Any = Commands(dict.fromkeys(NAMES), "greyscale.cli.log")

    def list_commands(self, ctx: Any) -> list[str]:
        return list(self.commands)


log = typer.Typer(
    name="log",
    cls=_LogCommands,
    help="Keep a print log: readings, corrections, prints; see whether a printer has changed.",
    short_help="Keep a print log; see whether a printer has changed.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def add(
    files: Annotated[
        list[Path] | None, option.argument("[FILE ...]", "Readings, and folders of corrections.")
    ] = None,
    note: Annotated[
        str | None, option.value("TEXT", "A note, about what is added or by itself.")
    ] = None,
    about: Annotated[int | None, option.value("ENTRY", "The entry that the note is about.")] = None,
    correction: Annotated[
        str | None,
        option.value(
            "CORRECTION",
            "The correction that the charts were printed through: its folder, its entry, or none.",
        ),
    ] = None,
    layout: option.Layout = None,
    ramp: option.Ramp = None,
    printer: option.Printer = None,
    paper: option.Paper = None,
    inks: option.Inks = None,
    settings: option.Settings = None,
    at: Annotated[
        datetime | None,
        option.moment("When it was measured or noted, if the file does not say or is wrong."),
    ] = None,
    unchecked: option.Unchecked = False,
    db: option.Db = None,
) -> None:
    """Add readings, corrections or a note. What is there already is completed by what you say.

    Example: greyscale log add cotton-rag.txt --note "after cleaning the heads"
    """
    from greyscale.checks.checking import refuse_if_misread
    from greyscale.cli.outputs import chart_of
    from greyscale.readings.formats import read_all
    from greyscale.records.add_reading import add_readings
    from greyscale.records.adding import Stated, add_correction, add_note, is_correction
    from greyscale.records.entries import READING
    from greyscale.records.find import by_statement, entry_of
    from greyscale.records.print_log import open_log

    if not files and note is None:
        raise BadInput("there is nothing to add; name a reading, a correction's folder, or --note")
    corrections = [path for path in files or () if is_correction(path)]
    readings = [path for path in files or () if path not in corrections]
    chart = chart_of(layout)
    refused = []
    for path in voice.tracked(readings[:], "Checking"):
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
    with voice.working("Adding to the print log"), open_log(db, write=True) as log, log.writing():
        added = [add_correction(log, path, told) for path in corrections]
        through = None if correction is None else correction_entry(log, correction, added)
        for path in readings:
            added += add_readings(
                log, path, told, ramp=ramp, layout=layout, through=through, unchecked=unchecked
            )
        if note is not None:
            subject = added[-1].id if about is None and files else about
            added.append(add_note(log, note, told, about=subject))
        untold = by_statement(entry_of(log, one.id) for one in added if one.kind == READING)[1]
    say(added)
    if untold:
        typer.echo(
            "Not stated: whether the chart was printed through a correction. Trends leave it out "
            "until you say so: add it again with --correction FOLDER, or none where there was none."
        )
    for refusal in refused:
        typer.echo(f"Not added: {refusal}", err=True)
    if refused:
        were = "was" if len(refused) == 1 else "were"
        typer.echo(f"{len(refused)} of {len(files or ())} files {were} not added.", err=True)
        raise typer.Exit(1)


def list_(
    kind: Annotated[
        str | None,
        option.value("KIND", "reading, correction, verification, print, drying or note."),
    ] = None,
    prints: Annotated[bool, option.flag("--prints", "Prints alone, as --kind print.")] = False,
    printer: option.Printer = None,
    paper: option.Paper = None,
    inks: option.Inks = None,
    settings: option.Settings = None,
    since: option.Since = None,
    until: option.Until = None,
    text: Annotated[
        str | None, option.value("TEXT", "Part of a name, a note or a file's name.")
    ] = None,
    json_file: option.Json = None,
    db: option.Db = None,
    replace: option.Replace = False,
) -> None:
    """List what is in the print log.

    The oldest comes first. Part of a name is enough.

    Example: greyscale log list --kind reading --paper cotton --since 2025-03-01
    """
    from greyscale.cli.outputs import Results
    from greyscale.records.find import Wanted, count, find
    from greyscale.records.print_log import open_log
    from greyscale.reporting.log_report import list_report, log_data

    wanted = Wanted(
        kind="print" if prints else kind,
        printer=printer,
        paper=paper,
        inks=inks,
        settings=settings,
        since=since and since.date(),
        until=until and until.date(),
        text=text,
    )
    with open_log(db) as log, log.at_one_time():
        entries, total = find(log, wanted), count(log)

    Results(json_file).give(
        lambda: log_data(entries), lambda: list_report(entries, total), every=True
    )


def show(
    number: Annotated[int, option.argument("ENTRY", "Its number in the list.")],
    json_file: option.Json = None,
    folder: Annotated[
        Path | None,
        option.value("DIR", "Write its files into this folder, as they were added.", "-o"),
    ] = None,
    db: option.Db = None,
    replace: option.Replace = False,
) -> None:
    """Show one entry, and get its files back.

    Example: greyscale log show 3 -o from-the-log
    """
    from greyscale.cli.outputs import Results
    from greyscale.records.entries import write_files
    from greyscale.records.find import entry_of
    from greyscale.records.print_log import open_log
    from greyscale.reporting.log_report import entry_report, log_entry_data

    results = Results(json_file)
    with open_log(db) as log:
        entry = entry_of(log, number)
        written = () if folder is None else write_files(log, entry, folder)
        facts = () if results.as_json else _facts(log, entry)
    results.give(
        lambda: log_entry_data(entry),
        lambda: entry_report(entry, facts, [str(path) for path in written]),
        every=True,
    )


def _facts(log: PrintLog, entry: Entry) -> tuple[tuple[str, str], ...]:
    """Return what the entry says when it is looked at now, and which entries belong to it."""
    from greyscale.analysis.analyse import analyse
    from greyscale.records.entries import CORRECTION, PRINT, READING, correction_of, reading_of
    from greyscale.records.find import links_of
    from greyscale.reporting.analysis_words import summary
    from greyscale.reporting.correction_report import correction_sentences
    from greyscale.reporting.log_report import edition_facts

    found = [
        (name, ", ".join(f"entry {number}" for number in numbers))
        for name, numbers in links_of(log, entry)
    ]
    if entry.kind == PRINT:
        found += edition_facts(log, entry)
    if entry.kind == READING:
        found.append(("In short", summary(analyse(reading_of(log, entry)))))
    if entry.kind == CORRECTION:
        found.append(("In short", " ".join(correction_sentences(correction_of(log, entry)))))
    return tuple(found)


def print_(
    image: Annotated[
        Path,
        option.argument(
            "IMAGE", "What went to the printer: a picture, or a chart beside its layout."
        ),
    ],
    title: Annotated[
        str | None, option.value("TEXT", "What the edition is called; by default the file's name.")
    ] = None,
    copy: Annotated[str | None, option.value("N/M", "Its number, as 4/25.")] = None,
    correction: Annotated[
        str | None,
        option.value(
            "CORRECTION",
            "The correction that it was printed through: its folder, its entry, or none. "
            "[default: what the picture, the chart or the strip says of itself]",
        ),
    ] = None,
    batch: Annotated[str | None, option.value("TEXT", "The batch of the paper.")] = None,
    strip: Annotated[
        Path | None, option.value("READING", "The reading of its control strip.")
    ] = None,
    layout: option.Layout = None,
    note: Annotated[str | None, option.value("TEXT", "A remark.")] = None,
    printer: option.Printer = None,
    paper: option.Paper = None,
    inks: option.Inks = None,
    settings: option.Settings = None,
    at: Annotated[datetime | None, option.moment("When it was printed; now by default.")] = None,
    db: option.Db = None,
) -> None:
    """Record a finished print, or a chart that is drying.

    Says which copies of the edition there are, and, by the reading of its control strip, whether
    this one keeps the promise and matches the first. For a chart, 'log status' then says when it
    is dry enough to be measured.

    Example: greyscale log print fog.tif --title Fog --copy 4/25
    """
    from greyscale.records.add_reading import add_readings
    from greyscale.records.adding import Added, Stated, add_print, copy_of, with_names_of
    from greyscale.records.find import correction_of_picture, entry_of
    from greyscale.records.print_log import open_log
    from greyscale.reporting.log_report import edition_facts

    numbered = None if copy is None else copy_of(copy)
    chart = _chart(image)
    added: list[Added] = []
    with open_log(db, write=True) as log, log.writing():
        told = Stated(printer=printer, paper=paper, inks=inks, settings=settings, moment=at)
        if correction is not None:
            through = correction_entry(log, correction, added)
        else:
            through = correction_of_picture(log, image) or _as_its_layout_says(
                log, chart, strip, layout, vars(told)
            )
        read = None
        if strip is not None:
            # When the strip was measured, its own file says.
            names = changed(told, moment=None)
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
            uncorrected=correction is not None and not through,
        )
        entry = entry_of(log, made.id)
        facts = edition_facts(log, entry)
    say([*added, made])
    untold = [what for what in ("printer", "paper") if getattr(entry, what) is None]
    if chart is not None and untold:
        typer.echo(
            f"Not stated: {' and '.join(untold)}. 'log status' has this chart in a row of its own "
            f"until it is measured; say so with {' and '.join(f'--{what}' for what in untold)}."
        )
    for name, text in facts:
        typer.echo(f"{name}: {text.removesuffix('.')}.")


def _as_its_layout_says(
    log: PrintLog,
    chart: Layout | None,
    strip: Path | None,
    layout: Path | None,
    named: Mapping[str, object],
) -> int:
    """The correction that a chart, or a strip, says it was sent through; 0 where it says none."""
    from greyscale.readings.formats import read
    from greyscale.readings.layout import read_layout
    from greyscale.records.find import correction_called

    sent = None if chart is None else chart.fields.get("CHART_THROUGH")
    if strip is not None:
        plan = None if layout is None else read_layout(layout)
        sent = read(strip, layout=plan).sent_through
    if sent is None:
        return 0
    found = correction_called(log, sent, named)
    if found is None:
        raise BadInput(
            f"its layout says that it was sent through '{sent}', which is not in this log, or is "
            "there for several prints; name its folder or its entry",
            "--correction",
        )
    return found


def _chart(image: Path) -> Layout | None:
    """The layout that lies beside a chart, if there is one: a page of several has its number."""
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


def status(
    printer: option.Printer = None,
    paper: option.Paper = None,
    settings: option.Settings = None,
    json_file: option.Json = None,
    folder: option.Report = None,
    shown: option.Open = False,
    replace: option.Replace = False,
    verbose: voice.Every = False,
    db: option.Db = None,
) -> None:
    """See every printer and paper at a glance, and what to do next.

    For each: the last reading, the correction in force and its proof, whether the printer drifts.
    Part of a name is enough.

    Example: greyscale log status --paper cotton
    """
    from greyscale.cli.outputs import Results, command_line
    from greyscale.records.print_log import open_log
    from greyscale.records.standings import standings
    from greyscale.reporting.status_report import status_data, status_report, statuses

    with open_log(db) as log:
        watched = partial(voice.tracked, what="Analysing")
        found = standings(log, printer=printer, paper=paper, settings=settings, watched=watched)
        if not found:
            raise BadInput(
                "holds no reading or correction as asked for; 'greyscale log list' shows what is "
                "there",
                log.path,
            )
    rows = statuses(found, datetime.now(), db)

    Results(json_file, folder, shown=shown).give(
        lambda: status_data(rows), lambda: status_report(rows, command_line()), verbose
    )


def trend(
    printer: option.Printer = None,
    paper: option.Paper = None,
    inks: option.Inks = None,
    settings: option.Settings = None,
    condition: Annotated[str | None, option.value("M0..M3", "The condition.")] = None,
    backing: Annotated[str | None, option.value("TEXT", "The backing.")] = None,
    observer: Annotated[str | None, option.value("2|10", "The observer.")] = None,
    ramp: Annotated[str | None, option.value("K|CMY", "The ramp.")] = None,
    correction: Annotated[
        str | None,
        option.value(
            "ENTRY|none", "Prints made through the correction of this entry, or without any."
        ),
    ] = None,
    since: option.Since = None,
    until: option.Until = None,
    leave_out: Annotated[
        list[int] | None,
        option.value("ENTRY", "A reading to leave out, as a misread one; repeat it for more."),
    ] = None,
    baseline: Annotated[
        int | None,
        option.value(
            "N", "Take the control limits from the first N readings; from all by default."
        ),
    ] = None,
    tolerance: option.Tolerance = "exhibition",
    json_file: option.Json = None,
    folder: option.Report = None,
    pdf: option.Pdf = False,
    shown: option.Open = False,
    replace: option.Replace = False,
    verbose: voice.Every = False,
    db: option.Db = None,
) -> None:
    """See whether a printer has changed.

    Follows one printer and paper over time, and says whether a new correction is worth it. Readings
    are compared only if they were printed and measured alike; the options choose among them.

    Example: greyscale log trend --paper "cotton rag" --condition M1 -o over-time
    """
    from greyscale.analysis.trend import trend as follow
    from greyscale.cli.outputs import Results, command_line
    from greyscale.records.entries import NOTE, READING
    from greyscale.records.find import (
        Wanted,
        by_statement,
        dated_analyses,
        find,
        has,
        notes_about,
        one_group,
    )
    from greyscale.records.print_log import open_log
    from greyscale.reporting.log_report import untold_words
    from greyscale.reporting.trend_report import shown_trend, trend_data, trend_report

    results = Results(json_file, folder, pdf, shown)
    days = Wanted(since=since and since.date(), until=until and until.date())
    wanted = changed(days, kind=READING, printer=printer, paper=paper, inks=inks, settings=settings)
    asked = {"condition": condition, "backing": backing, "observer": observer, "ramp": ramp}
    with open_log(db) as log:
        kept = [one for one in find(log, wanted) if one.id not in (leave_out or ())]
        told, untold = by_statement(kept)
        if untold and not told:
            raise BadInput(untold_words(untold), log.path)
        alike = [one for one in told if has(one, **asked, correction=correction)]
        group = one_group(alike, log.path)
        watched = partial(voice.tracked, what="Analysing")
        analyses = dated_analyses(log, group, tolerance=tolerance, watched=watched)
        notes = notes_about(find(log, changed(days, kind=NOTE)), group)
        found = shown_trend(follow(analyses, baseline), group, _through(log, group), notes)
        if untold:
            found = changed(found, remarks=(*found.remarks, untold_words(untold)))
    results.give(
        lambda: trend_data(found), lambda: trend_report(found, command_line(), db), verbose
    )


def _through(log: PrintLog, group: Sequence[Entry]) -> str | None:
    """Name the correction that all were printed through."""
    from greyscale.records.entries import ReadingDetails
    from greyscale.records.find import entry_of

    details = group[0].details
    if not isinstance(details, ReadingDetails) or details.through is None:
        return None
    return entry_of(log, details.through).name


def export(
    target: Annotated[
        Path,
        option.value(
            "FILE.json|DIR",
            "One JSON file with everything in it; or a folder: JSON, and the files as they "
            "were added.",
            "-o",
        ),
    ],
    db: option.Db = None,
    replace: option.Replace = False,
) -> None:
    """Write the whole print log in open formats.

    An entry that is damaged is left out and named; the exit code is 1 then.

    Example: greyscale log export -o print-log.json
    """
    from greyscale.records.exchange import export_folder, export_json
    from greyscale.records.print_log import open_log

    with voice.working("Writing the print log"), open_log(db) as log:
        write = export_json if target.suffix.lower() == ".json" else export_folder
        count, damages = write(log, target)
    typer.echo(f"{count} {'entry' if count == 1 else 'entries'} written to {target}")
    name_damages(damages, "left out")


def import_(
    source: Annotated[Path, option.argument("FILE.json|DIR", "As 'log export' wrote it.")],
    db: option.Db = None,
) -> None:
    """Add what an exported log holds; what is there already stays.

    Example: greyscale log import print-log.json --db studio-log.sqlite3
    """
    from greyscale.records.exchange import import_log
    from greyscale.records.print_log import open_log

    with voice.working("Adding to the print log"), open_log(db, write=True) as log:
        done = import_log(log, source)
    new = f"{done.added} {'entry' if done.added == 1 else 'entries'} added"
    typer.echo(f"{new}, {done.known} in the print log already.")


def gather(
    folder: Annotated[Path, option.argument("FOLDER", "As 'greyscale page' keeps it.")],
    db: Annotated[
        Path | None,
        option.value("FILE", "The print log's file; by default it is in FOLDER.", "--db"),
    ] = None,
) -> None:
    """Rebuild a folder's print log from the files in it.

    Each folder in it is a paper. What the log holds already stays. Files that cannot be read, or
    are misread, are named.

    Example: greyscale log gather . --db studio-log.sqlite3
    """
    from greyscale.base.plain_text import as_typed
    from greyscale.page.gather import gather as gather_all
    from greyscale.page.gather import passed_over, refuse_empty
    from greyscale.page.papers import LOG
    from greyscale.records.print_log import open_log

    target = folder / LOG if db is None else db
    if not folder.is_dir():
        raise BadInput("is not a folder; give the one that 'greyscale page' is served from", folder)
    refuse_empty(folder)
    with voice.working("Reading and judging what lies there"), open_log(target, write=True) as log:
        done = gather_all(log, folder)
    for path, why in passed_over(folder):
        typer.echo(f"greyscale: passed over: {path}: {why}", err=True)
    new = sum(one.new for one in done)
    typer.echo(f"{new} added, {len(done) - new} there already: {target}. See all at a glance:")
    typer.echo(f"  {as_typed('log', 'status', '--db', target)}")


def check(db: option.Db = None) -> None:
    """Find what is damaged, entry by entry; name the backups.

    Damaged entries are named; the exit code is 1 then. The backups, three at most, lie beside the
    log. One is made when something is added and the last is a week old, and before an older
    log's tables are changed. Each is a print log: go back by copying it to the log's place.

    Example: greyscale log check --verbose
    """
    from greyscale.records.exchange import look_through
    from greyscale.records.print_log import backups_of, open_log

    with voice.working("Looking at every entry"), open_log(db) as log, log.at_one_time():
        sound, damages = look_through(log)
    typer.echo(f"{len(sound)} {'entry is' if len(sound) == 1 else 'entries are'} sound.")
    for backup in backups_of(log.path):
        state = "damaged" if backup.entries is None else f"sound, {backup.entries} entries"
        typer.echo(f"Backup of {backup.made:%Y-%m-%d}, {state}: {backup.path}")
    name_damages(damages, "damaged; 'greyscale log rescue -o NEW.sqlite3' saves all others")


def rescue(
    target: Annotated[Path, option.value("NEW.sqlite3", "The new print log.", "-o")],
    db: option.Db = None,
) -> None:
    """Save what is sound in a damaged log to a new one.

    What is lost is named; the exit code is 1 then. The damaged log stays as it is.

    Example: greyscale log rescue -o rescued.sqlite3
    """
    from greyscale.records.exchange import rescue as save
    from greyscale.records.print_log import open_log

    with voice.working("Saving what is sound"), open_log(db, damaged=True) as log:
        count, damages = save(log, target)
    typer.echo(f"{count} {'entry' if count == 1 else 'entries'} saved in {target}")
    name_damages(damages, "lost")
