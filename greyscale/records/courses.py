"""What the courses of a print's readings say over time, computed once and kept in the log."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime

from greyscale import __version__
from greyscale.analysis.followed import LEAST_READINGS, follow
from greyscale.analysis.recheck import Course, Recheck, recheck
from greyscale.analysis.what_next import Drift
from greyscale.records.figures import KEYS, Figures
from greyscale.records.print_log import PrintLog

_MOVED = ("mean_delta_a", "mean_delta_b", "mean_delta_L")


@dataclass(frozen=True)
class Followed:
    """A reading of a course: when it was measured, and its numbers, by `COLUMNS`."""

    moment: datetime
    values: Figures


Readings = Sequence[Followed]


def followed(courses: Sequence[Readings]) -> Readings:
    """The course that was read last, of those that are long enough to tell of a change.

    Parameters
    ----------
    courses
        Of readings that compare; each the oldest first, and the latest read comes last.
    """
    told = [course for course in courses if len(course) >= LEAST_READINGS] or courses
    return told[-1] if told else ()


def over_time(log: PrintLog, courses: Sequence[Readings]) -> tuple[Drift, Recheck]:
    """Say whether a print has drifted, and after how long to look again.

    What was found of the very same numbers before is taken from the log.
    """
    of = _mark(courses)
    row = log.connection.execute("SELECT * FROM courses WHERE of = ?", (of,)).fetchone()
    if row is not None:
        since = None if row["since"] is None else datetime.fromisoformat(row["since"])
        found = Drift(row["verdict"], since, float(row["delta_Ch"]), float(row["delta_L"]))
        return found, Recheck(int(row["weeks"]), bool(row["known"]))
    drift, again = _drift(followed(courses)), recheck([_course(one) for one in courses])
    values = (of, drift.verdict, drift.since and drift.since.isoformat(), drift.delta_Ch)
    # Where the log cannot be written, it is computed again when it is asked for again.
    with suppress(sqlite3.OperationalError), log.writing():
        log.connection.execute(
            "INSERT OR IGNORE INTO courses VALUES (?, ?, ?, ?, ?, ?, ?)",
            (*values, drift.delta_L, again.weeks, again.known),
        )
    return drift, again


def _mark(courses: Sequence[Readings]) -> str:
    told = [[(one.moment, *map(one.values.get, KEYS)) for one in course] for course in courses]
    return hashlib.sha256(repr((__version__, told)).encode()).hexdigest()


def _column(course: Readings, key: str) -> list[float]:
    return [float(one.values[key] or 0.0) for one in course]


def _course(course: Readings) -> Course:
    import numpy as np

    days = [(one.moment - course[0].moment).total_seconds() / 86400 for one in course]
    return Course(np.array(days), np.column_stack([_column(course, key) for key in _MOVED]))


def _drift(course: Readings) -> Drift:
    import numpy as np

    if len(course) < LEAST_READINGS:
        return Drift()
    found = follow({key: _column(course, key) for key in KEYS})
    if found.since is None:
        return Drift(found.verdict)
    kept = np.array([i not in found.stands_out for i in range(len(course))])
    after = np.arange(len(course)) >= found.since
    moved = _course(course).moved
    # The latest itself may stand out: after a change there is always something.
    step = moved[after].mean(axis=0) - moved[kept & ~after].mean(axis=0)
    since = course[found.since].moment
    return Drift(found.verdict, since, float(np.hypot(step[0], step[1])), float(step[2]))
