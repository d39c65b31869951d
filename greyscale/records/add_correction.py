"""How corrections come into the log: with their files, and which they follow."""

from __future__ import annotations

import os
from pathlib import Path

from greyscale.correction.as_json import correction_id
from greyscale.correction.folder import FIGURES, JSON, OWN, REPORT, REPORT_PDF, read_correction
from greyscale.correction.record import Correction
from greyscale.records.details import insert_details
from greyscale.records.entries import CORRECTION, STATED, CorrectionDetails, SourceReading
from greyscale.records.kept_files import attach
from greyscale.records.new_entry import Added, Told, complete, insert_entry, number_of, uid_of
from greyscale.records.print_log import PrintLog

KEPT = OWN - {REPORT, REPORT_PDF, FIGURES}
"""Of a correction's folder: what is needed to use it, and to go on from it."""


def is_correction(path: Path | str) -> bool:
    """Say whether a path is a correction's folder, or the `correction.json` in it."""
    given = Path(path)
    return given.name == JSON or os.path.isfile(given / JSON)


def add_correction(
    log: PrintLog, folder: Path | str, told: Told | None = None, *, previous: int | None = None
) -> Added:
    """Add a correction; one that is there already is completed by what is told.

    Parameters
    ----------
    folder
        The correction's folder, or its `correction.json`, which is enough to go on from it.
    told
        What goes before what the correction says.
    previous
        Entry of the correction that it follows; None looks for it by name and round.

    Raises
    ------
    BadInput
        If there is no correction, or it is damaged.
    """
    correction = read_correction(folder)
    given = Path(folder)
    paths = [given / name for name in sorted(KEPT)] if given.is_dir() else [given]
    contents = {path.name: path.read_bytes() for path in paths if path.is_file()}
    if not given.is_dir():
        contents = {JSON: contents[given.name]}
    uid = uid_of(CORRECTION, correction_id(correction))
    with log.writing():
        number = number_of(log, uid)
        if number is not None:
            changes = complete(log, number, told or Told())
            return Added(number, CORRECTION, correction.name, False, changes)
        number = _insert(log, uid, correction, told or Told(), previous)
        for name, content in contents.items():
            attach(log, number, "correction", name, content)
        link_corrections(log)
    return Added(number, CORRECTION, correction.name, True)


def _insert(
    log: PrintLog, uid: str, correction: Correction, told: Told, previous: int | None
) -> int:
    names = Told(
        printer=told.printer or correction.printer,
        paper=told.paper or correction.paper_name,
        inks=told.inks,
        settings=told.settings or correction.settings,
    )
    moment = (correction.created, STATED)
    number = insert_entry(log, uid, CORRECTION, correction.name, moment, names)
    sources = correction.evidence.sources
    details = CorrectionDetails(
        identifier=correction_id(correction),
        round=correction.round,
        follows_name=correction.follows,
        follows=previous,
        condition=correction.condition,
        backing=correction.backing,
        observer=correction.observer,
        aim=correction.aim,
        neutral=correction.neutral,
        toning=correction.toning,
        sources=tuple(SourceReading(one.name, one.round, one.sha256) for one in sources),
        promised_mean_delta_Ch=correction.expectation.after_mean_delta_Ch,
        promised_max_delta_Ch=correction.expectation.after_max_delta_Ch,
    )
    insert_details(log, number, details)
    return number


def link_corrections(log: PrintLog) -> None:
    """Find which correction follows which, where that was not told.

    The one before has the name that the later gives, the round before, and was made earlier;
    of several it is the last that was made.
    """
    log.connection.execute(
        """
        UPDATE corrections SET follows = (
            SELECT before.entry
            FROM corrections before
            JOIN entries b ON b.id = before.entry
            JOIN entries e ON e.id = corrections.entry
            WHERE b.name = corrections.follows_name
              AND before.round = corrections.round - 1
              AND b.moment <= e.moment
              AND b.printer IS e.printer AND b.paper IS e.paper
            ORDER BY b.moment DESC, b.id DESC
            LIMIT 1
        )
        WHERE follows IS NULL AND follows_name IS NOT NULL
        """
    )
