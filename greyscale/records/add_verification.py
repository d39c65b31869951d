"""How a verification comes into the log."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from greyscale.base.json_output import plain
from greyscale.correction.verify import Verification, prediction_error
from greyscale.correction.widening import Learnt, learn
from greyscale.records.details import insert_details
from greyscale.records.entries import CLOCK, VERIFICATION, VerificationDetails
from greyscale.records.find import entry_of
from greyscale.records.new_entry import Added, Told, insert_entry, number_of, uid_of
from greyscale.records.plain_name import plain_name
from greyscale.records.print_log import PrintLog
from greyscale.records.take_out import correction_of


def learnt_of(log: PrintLog, printer: str) -> Learnt | None:
    """What the scored proofs of a printer, on all papers, say of its corrections' uncertainty."""
    rows = log.connection.execute(
        # The same reading may have been judged by several grades.
        "SELECT max(v.spread), max(v.needed) FROM verifications v "
        "JOIN entries e ON e.id = v.correction "
        "JOIN printers p ON p.id = e.printer WHERE v.spread + v.needed IS NOT NULL AND p.plain = ? "
        "GROUP BY v.reading, v.correction",
        (plain_name(printer),),
    ).fetchall()
    return learn([(float(row[0]), float(row[1])) for row in rows])


def add_verification(
    log: PrintLog,
    verification: Verification,
    result: Mapping[str, Any],
    *,
    reading: int,
    correction: int,
) -> Added:
    """Add what was found of a correction's print. The same again is the same entry.

    The print is scored against the promise that the correction had when it came into the log.

    Parameters
    ----------
    verification
        What was found.
    result
        The same as plain data, schema "greyscale/verification/1".
    reading, correction
        Entries of the print and of the correction.
    """
    after = verification.after.neutrality
    with log.writing():
        print_entry, made = entry_of(log, reading), entry_of(log, correction)
        uid = uid_of(VERIFICATION, print_entry.uid, made.uid, after.tolerance)
        name = f"{made.name}, round {verification.round}"
        number = number_of(log, uid)
        if number is not None:
            return Added(number, VERIFICATION, name, False)
        names = Told(print_entry.printer, print_entry.paper, print_entry.inks, print_entry.settings)
        number = insert_entry(log, uid, VERIFICATION, name, (datetime.now(), CLOCK), names)
        # Against what the log keeps, whatever has become of the correction's folder since.
        score = prediction_error(verification.after, correction_of(log, made))
        details = VerificationDetails(
            reading=reading,
            correction=correction,
            tolerance=after.tolerance,
            within_tolerance=verification.within_tolerance,
            mean_delta_Ch=after.mean_delta_Ch,
            max_delta_Ch=after.max_delta_Ch,
            result=json.dumps(plain(result), ensure_ascii=False),
            within_stated=score.within_stated,
            kept=score.as_stated,
            spread=score.spread,
            needed=score.needed,
        )
        insert_details(log, number, details)
    return Added(number, VERIFICATION, name, True)
