"""How readings come into the log: with their file, and the layout that they were read by."""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import Path

from greyscale.base.errors import BadInput, same_name
from greyscale.base.results import filled
from greyscale.checks.identity import CODE_SAYS, sent_otherwise, through_of
from greyscale.readings.fields import Ramp
from greyscale.readings.formats import read_all
from greyscale.readings.layout import read_layout
from greyscale.readings.reading import Reading
from greyscale.readings.source_file import read_bytes
from greyscale.records.adding import (
    Added,
    Stated,
    complete,
    insert_entry,
    name_as,
    number_of,
    refuse_other_names,
    uid_of,
    with_names_of,
)
from greyscale.records.entries import (
    FILE,
    READING,
    STATED,
    TOLD,
    CorrectionDetails,
    Entry,
    ReadingDetails,
    attach,
)
from greyscale.records.find import correction_called, correction_titles, entry_of
from greyscale.records.print_log import PrintLog

WITHOUT = 0
"""Stands for no correction, where one could be named."""


def add_readings(
    log: PrintLog,
    path: Path | str,
    told: Stated | None = None,
    *,
    ramp: Ramp | None = None,
    layout: Path | None = None,
    through: int | None = None,
    unchecked: bool = False,
) -> tuple[Added, ...]:
    """Add every reading of a file; what is there already is completed by what is told.

    Parameters
    ----------
    path
        ISO 28178 text, CxF3 or CSV.
    told
        What goes before what the file says.
    ramp, layout
        As for `greyscale.readings.formats.read_all`; the layout's file is kept as well.
    through
        Entry of the correction that the chart was printed through; `WITHOUT` says that there was
        none, None leaves it to what the chart's layout says of it.
    unchecked
        Whether it is taken as it is, even if its sheet's own code says that there was one.

    Returns
    -------
    One for each reading: a file may hold several conditions.

    Raises
    ------
    BadInput
        If the file is no reading, or of another print than the correction.
    """
    content, told = read_bytes(path), told or Stated()
    plan = None if layout is None else read_bytes(layout)
    # A reading's name in every log: of its file and layout, and of what was taken of the file.
    digests = ["" if one is None else hashlib.sha256(one).hexdigest() for one in (content, plan)]
    readings = read_all(path, ramp=ramp, layout=None if layout is None else read_layout(layout))
    with log.writing():
        added = []
        for part, reading in enumerate(readings):
            sent = _through(log, reading, through, told)
            if sent == WITHOUT and not unchecked and sent_otherwise(reading):
                raise BadInput(
                    f"{CODE_SAYS} that it was sent through a correction; name that one "
                    "(--correction FOLDER). If instead patches at its end are missing, give the "
                    "chart's layout (--layout), which settles it; --unchecked takes it as it is",
                    reading.source,
                )
            # Where it tells its device values itself it may be there without the layout.
            uids = [uid_of(READING, digests[0], one, ramp or "", part) for one in (digests[1], "")]
            known = next(filter(None, (number_of(log, one) for one in uids)), None)
            changes: tuple[str, ...] = ()
            if known is not None:
                number = known
                changes = (*complete(log, number, told), *_set_through(log, number, sent))
            else:
                details = filled(
                    ReadingDetails,
                    reading,
                    part=part,
                    ramp=ramp,
                    patches=len(reading),
                    through=sent or None,
                    stated=sent is not None,
                )
                names = with_names_of(reading, told)
                names = with_names_of(entry_of(log, sent), names) if sent else names
                moment = _moment(reading, told)
                number = insert_entry(log, uids[0], reading.name, moment, names, details)
                attach(log, number, "reading", Path(path).name, content)
                if layout is not None and plan is not None:
                    attach(log, number, "layout", layout.name, plan)
            added.append(Added(number, READING, reading.name, known is None, changes))
            if sent:
                # A correction that names no print is that of the print made through it.
                name_as(log, sent, number)
    return tuple(added)


def _moment(reading: Reading, told: Stated) -> tuple[datetime, str]:
    if told.moment is not None:
        return told.moment, TOLD
    if reading.created is not None:
        return reading.created, STATED
    return datetime.fromtimestamp(Path(reading.source).stat().st_mtime), FILE


def _set_through(log: PrintLog, number: int, through: int | None) -> tuple[str, ...]:
    """Say of a reading that is there which correction it was printed through."""
    if through is None:
        return ()
    row = log.connection.execute(
        "SELECT through, stated FROM readings WHERE entry = ?", (number,)
    ).fetchone()
    if row["stated"] and (row["through"] or WITHOUT) == through:
        return ()
    if row["through"] is not None and through != WITHOUT:
        raise BadInput(
            f"entry {number} was printed through the correction of entry {row['through']}, as was "
            f"said when it was added, and so not through that of entry {through}; if the former is "
            "wrong, add the reading with '--correction none' first",
            log.path,
        )
    log.connection.execute(
        "UPDATE readings SET through = ?, stated = 1 WHERE entry = ?", (through or None, number)
    )
    if through == WITHOUT:
        return ("printed without correction",)
    return (f"printed through the correction of entry {through}",)


def _through(log: PrintLog, reading: Reading, told: int | None, names: Stated) -> int | None:
    """Return what a chart was printed through: as told, else as its layout says."""
    sent = reading.sent_through
    if told is None and sent is None:
        # What it says of itself, if it bears a code.
        sent = through_of(reading, correction_titles(log))
        if not sent:
            return None if sent is None else WITHOUT
    if told is None:
        return correction_called(log, str(sent), vars(with_names_of(reading, names)))
    if told == WITHOUT and sent is not None:
        raise BadInput(
            f"its chart was sent through the correction '{sent}', its layout says, not without "
            "one; name that correction",
            reading.source,
        )
    if told != WITHOUT:
        _refuse_another_print(reading, entry_of(log, told))
    return told


def _refuse_another_print(reading: Reading, correction: Entry) -> None:
    """Refuse a reading that tells of another printer, paper or correction than this."""
    refuse_other_names(reading, correction, reading.source)
    details, sent = correction.details, reading.sent_through
    if isinstance(details, CorrectionDetails) and sent is not None:
        own = correction.name + (f", round {details.round}" if details.round > 1 else "")
        if not same_name(sent, own):
            raise BadInput(
                f"its chart was sent through the correction '{sent}', its layout says, not through "
                f"'{own}' (entry {correction.id}); name that correction",
                reading.source,
            )
