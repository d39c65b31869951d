"""Readings in a few numbers, computed once and kept in the log: see `figures` in its tables."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from contextlib import suppress

from greyscale import __version__
from greyscale.analysis.followed import CHARACTERISTICS
from greyscale.base.errors import BadInput
from greyscale.records.print_log import PrintLog

KEYS = tuple(one.key for one in CHARACTERISTICS)
"""What a trend follows; beside it the density of black, `dmax`."""

COLUMNS = (*KEYS, "dmax")

OF_TODAY = "f.entry = r.entry AND f.version = ? AND f.through IS r.through"
"""SQL: the figures `f` of the reading `r` are of this program, with the aims that it has now."""

Figures = dict[str, float | None]


def compute_figures(log: PrintLog, entries: Iterable[int]) -> dict[int, Figures]:
    """Compute some readings' numbers, by `COLUMNS`, and keep them where the log can be written.

    A reading that has no ramp, or can no longer be read, has none.

    Parameters
    ----------
    entries
        Of readings.
    """
    found = {number: _figures(log, number) for number in entries}
    # Elsewhere they are computed again when they are asked for again.
    with suppress(sqlite3.OperationalError), log.writing():
        log.connection.executemany(
            f"REPLACE INTO figures (entry, version, through, {', '.join(COLUMNS)}) SELECT "
            f"entry, ?, through{', ?' * len(COLUMNS)} FROM readings WHERE entry = ?",
            [
                (__version__, *(figures[key] for key in COLUMNS), number)
                for number, figures in found.items()
            ],
        )
    return found


def _figures(log: PrintLog, number: int) -> Figures:
    # Whoever asks for figures that are there already waits for no analysis to be imported.
    from greyscale.records.analyses import dated_analyses
    from greyscale.records.find import entry_of

    try:
        (one,) = dated_analyses(log, [entry_of(log, number)])
    except BadInput:
        return dict.fromkeys(COLUMNS)
    patches = one.analysis.patches
    own = {each.key: float(each.value(one.analysis)) for each in CHARACTERISTICS}
    return {**own, "dmax": float(patches.density[patches.black_index])}
