"""What goes into the print log by `--log` and is said of it, and what is said of a damaged one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import typer

from greyscale.base.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greyscale.analysis.drying import Drying
    from greyscale.correction.record import Correction
    from greyscale.correction.verify import Verification
    from greyscale.records.adding import Added
    from greyscale.records.print_log import PrintLog

Ramp = Literal["K", "CMY"] | None


def is_wanted(log: bool, db: Path | None) -> bool:
    """Say whether anything is to be recorded; a log's file without `--log` is a slip."""
    if db is not None and not log:
        raise BadInput("it says which print log to use; add --log to write to it", "--db")
    return log


def record_readings(
    db: Path | None, paths: Sequence[Path], ramp: Ramp, layout: Path | None, *, quiet: bool
) -> None:
    """Add readings to the print log."""
    from greyscale.records.add_reading import add_readings
    from greyscale.records.print_log import open_log

    with open_log(db, write=True) as log:
        added = [one for path in paths for one in add_readings(log, path, ramp=ramp, layout=layout)]
    say(added, quiet=quiet)


def as_learnt(db: Path | None, correction: Correction) -> Correction:
    """State a correction's uncertainty as large as its printer's proofs in the log have taught."""
    from greyscale.base.outputs import default_log
    from greyscale.correction.sureness import widen
    from greyscale.records.adding import learnt_of
    from greyscale.records.print_log import open_log

    if correction.printer is None or not (default_log() if db is None else db).exists():
        return correction
    with open_log(db) as log:
        learnt = learnt_of(log, correction.printer)
    return correction if learnt is None else widen(correction, learnt)


def record_correction(
    db: Path | None,
    folder: Path,
    readings: Sequence[Path],
    previous: Path | None,
    *,
    ramp: Ramp,
    layout: Path | None,
    printer: str | None,
    paper: str | None,
    settings: str | None,
) -> None:
    """Add a correction to the print log, with the readings it is of and the one it follows."""
    from greyscale.records.add_reading import WITHOUT, add_readings
    from greyscale.records.adding import Stated, add_correction
    from greyscale.records.print_log import open_log

    told = Stated(printer=printer, paper=paper, settings=settings)
    with open_log(db, write=True) as log, log.writing():
        before = None if previous is None else add_correction(log, previous)
        number = None if before is None else before.id
        # What a first correction is made of was printed without one, by what `correct` asks for.
        used = [
            one
            for path in readings
            for one in add_readings(
                log,
                path,
                told,
                ramp=ramp,
                layout=layout,
                through=number or WITHOUT,
                unchecked=True,
            )
        ]
        made = add_correction(log, folder, told, previous=number)
    say([*([] if before is None else [before]), *used, made])


def record_verification(
    db: Path | None,
    reading: Path,
    correction: Path,
    verification: Verification,
    *,
    ramp: Ramp,
    layout: Path | None,
    quiet: bool,
) -> None:
    """Add a verification to the print log, with the reading and the correction that it is of."""
    from greyscale.records.add_reading import add_readings
    from greyscale.records.adding import add_correction, add_verification
    from greyscale.records.print_log import open_log
    from greyscale.reporting.verification_report import verification_data

    with open_log(db, write=True) as log, log.writing():
        made = add_correction(log, correction)
        prints = add_readings(log, reading, ramp=ramp, layout=layout, through=made.id)
        found = add_verification(
            log,
            verification,
            verification_data(verification),
            reading=_measured(log, prints, verification.after.reading.condition),
            correction=made.id,
        )
    say([made, *prints, found], quiet=quiet)


def record_drying(
    db: Path | None, drying: Drying, *, printer: str | None, paper: str | None, quiet: bool
) -> None:
    """Add to the print log after how long a paper is dry, if that was found."""
    from greyscale.records.adding import Stated, add_drying
    from greyscale.records.print_log import open_log

    if paper is None:
        raise BadInput("say which paper it is, for the print log", "--paper")
    if drying.settled is None:
        typer.echo("Not added: how long it takes to dry is not known yet.", err=True)
        return
    with open_log(db, write=True) as log:
        added = add_drying(log, drying, Stated(printer=printer, paper=paper))
    say([added] if added else [], quiet=quiet)


def correction_entry(log: PrintLog, given: str, added: list[Added]) -> int:
    """Return the entry of a correction, by its number or its folder; "none" is none.

    A folder that is new is added, and put to what was added so far.
    """
    from greyscale.records.add_reading import WITHOUT
    from greyscale.records.adding import add_correction
    from greyscale.records.entries import CORRECTION
    from greyscale.records.find import UNKNOWN, entry_of

    if given == UNKNOWN:
        return WITHOUT
    if not (given.isascii() and given.isdigit()):
        made = add_correction(log, Path(given))
        added.append(made)
        return made.id
    entry = entry_of(log, int(given))
    if entry.kind != CORRECTION:
        raise BadInput(
            f"entry {entry.id} is a {entry.kind}; give the entry of a correction, or its folder",
            "--correction",
        )
    return entry.id


def _measured(log: PrintLog, prints: Sequence[Added], condition: str | None) -> int:
    """Return the entry of a file's reading in this condition: the one that was judged."""
    from greyscale.records.entries import ReadingDetails
    from greyscale.records.find import entry_of

    for one in prints:
        details = entry_of(log, one.id).details
        if isinstance(details, ReadingDetails) and details.condition == condition:
            return one.id
    return prints[0].id


def say(added: Sequence[Added], *, quiet: bool = False) -> None:
    """Say what is in the print log now."""
    from greyscale.reporting.log_report import added_words

    for one in () if quiet else added:
        typer.echo(added_words(one))


def name_damages(damages: Sequence[object], what: str) -> None:
    """Name each damaged entry on the error stream, and end with exit code 1; none: go on."""
    if not damages:
        return
    for damage in damages:
        typer.echo(f"greyscale: {damage}", err=True)
    number = "1 entry is" if len(damages) == 1 else f"{len(damages)} entries are"
    typer.echo(f"greyscale: {number} {what}", err=True)
    raise typer.Exit(1)
