"""Where each printer, paper and settings stands: the facts that tell what to do next."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import isfinite
from typing import Any

from greyscale import __version__
from greyscale.analysis.followed import CHARACTERISTICS, LEAST_READINGS, VERDICTS, follow
from greyscale.analysis.what_next import (
    LONGEST_WEEKS,
    USUAL_WEEKS,
    Drift,
    Figures,
    History,
    InForce,
    Measured,
    Printed,
    Proof,
    Recheck,
    Standing,
    recheck,
)
from greyscale.base.errors import BadInput, name_key
from greyscale.records.entries import (
    DOUBTED,
    ReadingDetails,
    correction_of,
    doubts_of,
    reading_of,
)
from greyscale.records.print_log import PrintLog

# Readings in a few numbers, computed once and kept in the log: see `figures` in its tables.

KEYS = tuple(one.key for one in CHARACTERISTICS)
"""What a trend follows; beside it the density of black, `dmax`, and whether a print made through a
correction is what that promised, `kept`."""

COLUMNS = (*KEYS, "dmax", "kept")
_FIGURES = ("mean_delta_Ch", "max_delta_Ch", "rms_delta_L", "dmax")

OF_TODAY = "f.entry = r.entry AND f.version = ? AND f.through IS r.through"
"""SQL: the figures `f` of the reading `r` are of this program, with the aims that it has now."""

Numbers = dict[str, float | None]


def compute_figures(log: PrintLog, entries: Iterable[int]) -> dict[int, Numbers]:
    """Compute some readings' numbers, by `COLUMNS`, and keep them where the log can be written.

    A reading that has no ramp, or can no longer be read, has none.
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


def _figures(log: PrintLog, number: int) -> Numbers:
    # Whoever asks for figures that are there already waits for no analysis to be imported.
    from greyscale.correction.sureness import prediction_error
    from greyscale.records.find import dated_analyses, entry_of

    entry, kept = entry_of(log, number), None
    assert isinstance(entry.details, ReadingDetails)
    try:
        (one,) = dated_analyses(log, [entry])
        if entry.details.through is not None:
            made = correction_of(log, entry_of(log, entry.details.through))
            kept = float(prediction_error(one.analysis, made).kept)
    except BadInput:
        return dict.fromkeys(COLUMNS)
    patches = one.analysis.patches
    own = {each.key: float(each.value(one.analysis)) for each in CHARACTERISTICS}
    return {**own, "dmax": float(patches.density[patches.black_index]), "kept": kept}


# What the histories of a print's readings say over time, computed once and kept in the log.

_MOVED = ("mean_delta_a", "mean_delta_b", "mean_delta_L")


@dataclass(frozen=True)
class _Reading:
    """One reading with its figures, and what must be the same of any that it compares with."""

    measured: Measured
    condition: str | None
    alike: tuple[object, ...]
    values: Numbers


Readings = Sequence[_Reading]


def followed(histories: Sequence[Readings]) -> Readings:
    """The history that was read last, of those that are long enough to tell of a change.

    Each has readings that compare, the oldest first; the latest read comes last.
    """
    told = [history for history in histories if len(history) >= LEAST_READINGS] or histories
    return told[-1] if told else ()


def over_time(log: PrintLog, histories: Sequence[Readings]) -> tuple[Drift, Recheck]:
    """Say whether a print has drifted, and after how long to look again.

    What was found of the very same numbers before is taken from the log.
    """
    told = [
        [(one.measured.moment, *map(one.values.get, KEYS)) for one in history]
        for history in histories
    ]
    of = hashlib.sha256(repr((__version__, told)).encode()).hexdigest()
    row = log.connection.execute("SELECT * FROM courses WHERE of = ?", (of,)).fetchone()
    if row is not None and (kept := _kept(row)) is not None:
        return kept
    drift, again = _drift(followed(histories)), recheck([_history(one) for one in histories])
    values = (of, drift.verdict, drift.since and drift.since.isoformat(), drift.delta_Ch)
    # Where the log cannot be written, it is computed again when it is asked for again.
    with suppress(sqlite3.OperationalError), log.writing():
        log.connection.execute(
            "REPLACE INTO courses VALUES (?, ?, ?, ?, ?, ?, ?)",
            (*values, drift.delta_L, again.weeks, again.known),
        )
    return drift, again


def _kept(row: sqlite3.Row) -> tuple[Drift, Recheck] | None:
    """What a row says; None where that was never found of any history: the log is damaged there."""
    try:
        since = None if row["since"] is None else datetime.fromisoformat(row["since"])
        found = Drift(row["verdict"], since, float(row["delta_Ch"]), float(row["delta_L"]))
        again = Recheck(int(row["weeks"]), bool(row["known"]))
    except (TypeError, ValueError, OverflowError):
        return None
    sound = found.verdict in VERDICTS and isfinite(found.delta_Ch) and isfinite(found.delta_L)
    return (found, again) if sound and 0 <= again.weeks <= LONGEST_WEEKS else None


def _column(history: Readings, key: str) -> list[float]:
    return [float(one.values[key] or 0.0) for one in history]


def _history(history: Readings) -> History:
    import numpy as np

    moments = [one.measured.moment for one in history]
    days = [(moment - moments[0]).total_seconds() / 86400 for moment in moments]
    return History(np.array(days), np.column_stack([_column(history, key) for key in _MOVED]))


def _drift(history: Readings) -> Drift:
    import numpy as np

    if len(history) < LEAST_READINGS:
        return Drift()
    found = follow({key: _column(history, key) for key in KEYS})
    if found.since is None:
        return Drift(found.verdict)
    kept = np.array([i not in found.stands_out for i in range(len(history))])
    after = np.arange(len(history)) >= found.since
    moved = _history(history).moved
    # The latest itself may stand out: after a change there is always something.
    step = moved[after].mean(axis=0) - moved[kept & ~after].mean(axis=0)
    since = history[found.since].measured.moment
    return Drift(found.verdict, since, float(np.hypot(step[0], step[1])), float(step[2]))


LATEST = 40
"""So many readings of each print tell how it stands: about twice what makes limits firm."""

_BY_USE = {"M1": 0, "M0": 1, "M2": 2, "M3": 3}
"""The condition that is looked at first where one sheet was measured in several."""

_ONE = timedelta(weeks=USUAL_WEEKS)
"""Charts measured within this time are evidence for one correction: a starting chart, the chart
that follows it, a picture's."""

_MOST_JOINED = 4  # Where somebody measures every day, the latest tell enough.
_OF_PRINT = "e.printer IS ? AND e.paper IS ? AND e.settings IS ?"
_HAS = "EXISTS (SELECT 1 FROM entries e WHERE "
_NAMED = "(SELECT id, name, plain FROM {0} UNION ALL SELECT NULL, NULL, NULL) {0}"
# By name, then asked for: each is one look into the index, however many readings there are.
_PRINTS = (
    "SELECT printers.id, papers.id, settings.id, printers.name, papers.name, settings.name FROM "
    f"{' CROSS JOIN '.join(map(_NAMED.format, ('printers', 'papers', 'settings')))} "
    f"WHERE {_HAS} e.printer IS printers.id) "
    f"AND {_HAS} e.printer IS printers.id AND e.paper IS papers.id) "
    f"AND ({_HAS} e.printer IS printers.id AND e.paper IS papers.id AND e.settings IS settings.id "
    "AND e.kind IN ('reading', 'correction')) OR EXISTS (SELECT 1 FROM entries e JOIN prints p "
    "ON p.entry = e.id WHERE p.chart AND e.printer IS printers.id AND e.paper IS papers.id "
    "AND e.settings IS settings.id AND e.kind = 'print')) ORDER BY papers.plain, printers.plain"
)
_ALIKE = ("inks", "condition", "backing", "observer", "ramp", "through")
_FILES = ", ".join(
    f"(SELECT name FROM entry_files WHERE entry = e.id AND role = '{role}' LIMIT 1) AS {role}_file"
    for role in ("reading", "layout")
)
_READING = (
    f"SELECT e.id, e.name, e.moment, e.inks, {_FILES}, r.condition, r.backing, r.observer, r.ramp, "
    f"r.through, r.stated, f.entry AS figured, {', '.join(f'f.{key}' for key in COLUMNS)} "
    f"FROM entries e JOIN readings r ON r.entry = e.id LEFT JOIN figures f ON {OF_TODAY}"
)

_STRIPS = (
    "SELECT DISTINCT r.entry AS id, f.entry AS figured, f.kept FROM prints p "
    "JOIN entries e ON e.id = p.entry JOIN readings r ON r.entry = p.strip "
    f"AND r.through = p.correction LEFT JOIN figures f ON {OF_TODAY} WHERE {_OF_PRINT} "
    "AND e.kind = 'print' AND NOT p.chart"
)
"""SQL: the readings of the control strips of pictures, and whether they keep the promise."""


def standings(
    log: PrintLog,
    *,
    printer: str | None = None,
    paper: str | None = None,
    settings: str | None = None,
    watched: Callable[[Sequence[int]], Iterable[int]] = iter,
) -> tuple[Standing, ...]:
    """Where each printer, paper and settings stands of which there is a reading or correction.

    Parameters
    ----------
    printer, paper, settings
        Part of a name, whatever its case and spaces; None takes all.
    watched
        Gives the readings that must be analysed first one by one, as to show how far that is.

    Raises
    ------
    BadInput
        If the log is damaged.
    """
    rows = log.connection.execute(_PRINTS).fetchall()
    parts = [None if part is None else name_key(part) for part in (printer, paper, settings)]
    wanted = [
        (tuple(row)[:3], tuple(row)[3:])
        for row in rows
        if all(
            part is None or part in name_key(name or "")
            for part, name in zip(parts, tuple(row)[3:], strict=True)
        )
    ]
    try:
        latest = [_latest(log, key) for key, _ in wanted]
        strips = [
            log.connection.execute(_STRIPS, (__version__, *key)).fetchall() for key, _ in wanted
        ]
        found = (row for rows in (*latest, *strips) for row in rows)
        missing = list(dict.fromkeys(row["id"] for row in found if row["figured"] is None))
        fresh = compute_figures(log, watched(missing)) if missing else {}
        each = (
            _standing(
                log,
                key,
                names,
                [_reading(row, fresh) for row in rows],
                {row["id"]: fresh.get(row["id"], row)["kept"] for row in of_pictures},
            )
            for (key, names), rows, of_pictures in zip(wanted, latest, strips, strict=True)
        )
        # Of a chart that stated less than its reading nothing is left to wait for.
        return tuple(one for one in each if one.latest or one.correction or one.printed)
    except (IndexError, KeyError, TypeError, ValueError) as error:
        raise BadInput(
            "is damaged; import your last export into a new log, and keep this file", log.path
        ) from error


Key = tuple[object, ...]


def _latest(log: PrintLog, key: Key) -> list[sqlite3.Row]:
    """The latest readings of a print, and the latest of them without correction, if it is older."""
    ordered = f"WHERE {_OF_PRINT} AND e.kind = 'reading' ORDER BY e.moment DESC, e.id DESC"
    rows = log.connection.execute(f"{_READING} {ordered} LIMIT {LATEST}", (__version__, *key))
    found = rows.fetchall()
    if len(found) == LATEST and not any(row["stated"] and row["through"] is None for row in found):
        alone = ordered.replace("WHERE", "WHERE r.stated AND r.through IS NULL AND")
        rows = log.connection.execute(f"{_READING} {alone} LIMIT 1", (__version__, *key))
        found += rows.fetchall()
    return found


def _reading(row: sqlite3.Row, fresh: dict[int, dict[str, float | None]]) -> _Reading:
    values = fresh.get(row["id"]) or {key: row[key] for key in COLUMNS}
    known = values["mean_delta_Ch"] is not None
    return _Reading(
        measured=Measured(
            figures=Figures(*(float(values[key] or 0.0) for key in _FIGURES)) if known else None,
            **_how(row),
        ),
        condition=row["condition"],
        alike=tuple(row[name] for name in _ALIKE),
        values=values if known else {},
    )


def _how(row: sqlite3.Row) -> dict[str, Any]:
    """What the same columns tell of a reading, whatever it is asked for."""
    return {
        "entry": row["id"],
        "name": row["name"],
        "moment": datetime.fromisoformat(row["moment"]),
        "file": row["reading_file"] or row["name"],
        "layout": row["layout_file"],
        "ramp": row["ramp"],
        "through": row["through"],
        "stated": bool(row["stated"]),
    }


def _standing(
    log: PrintLog,
    key: Key,
    names: Sequence[str | None],
    readings: list[_Reading],
    strips: Mapping[int, float | None],
) -> Standing:
    readings = sorted(
        readings,
        key=lambda one: (
            one.measured.moment,
            -_BY_USE.get(one.condition or "", 9),
            one.measured.entry,
        ),
    )
    histories = _histories(readings)
    drift, again = over_time(log, histories)
    scored = log.connection.execute(
        f"SELECT v.reading, v.kept, {DOUBTED} AS doubted "
        "FROM (SELECT v.reading, max(v.kept) AS kept, v.result "
        f"FROM verifications v JOIN entries e ON e.id = v.entry WHERE {_OF_PRINT} "
        "AND e.kind = 'verification' GROUP BY v.reading, v.correction) v WHERE v.kept IS NOT NULL",
        key,
    ).fetchall()
    # What proves nothing neither keeps a promise nor breaks it.
    promises = [bool(row["kept"]) for row in scored if not doubts_of(row["doubted"])]
    judged = {row["reading"] for row in scored}
    promises += [
        bool(kept) for one, kept in strips.items() if kept is not None and one not in judged
    ]
    printer, paper, settings = names
    latest = readings[-1].measured if readings else None
    if latest is not None and not latest.stated:
        latest = replace(latest, says_proof=_says_proof(log, latest.entry))
    return Standing(
        printer=printer,
        paper=paper,
        settings=settings,
        latest=latest,
        uncorrected=_joined(readings),
        correction=_in_force(
            log, key, [one for one in readings if one.measured.entry not in strips]
        ),
        drift=drift,
        history=tuple(
            (one.measured.moment, float(one.values["mean_delta_Ch"] or 0.0))
            for one in followed(histories)
        ),
        recheck=again,
        printed=_printed(log, key),
        promises=len(promises),
        promises_kept=sum(promises),
    )


def _says_proof(log: PrintLog, number: int) -> bool:
    """Whether a reading says itself that it is of a proof; no, if it can no longer be read."""
    from greyscale.checks.identity import proof_words
    from greyscale.records.find import entry_of

    with suppress(BadInput):
        return bool(proof_words(reading_of(log, entry_of(log, number))))
    return False


def _joined(readings: Readings) -> tuple[Measured, ...]:
    """The latest uncorrected readings that were measured alike and belong to one time."""
    found = [one for one in readings if one.measured.stated and one.measured.through is None]
    joined = [
        one.measured
        for one in found
        if one.alike == found[-1].alike and found[-1].measured.moment - one.measured.moment < _ONE
    ]
    return tuple(joined[-_MOST_JOINED:])


def _histories(readings: Readings) -> list[list[_Reading]]:
    """Sort readings with figures by what makes them comparable; the latest read comes last."""
    found: dict[tuple[object, ...], list[_Reading]] = {}
    for one in readings:
        if one.values and one.measured.stated:
            found.setdefault(one.alike, []).append(one)
    return sorted(found.values(), key=lambda history: history[-1].measured.moment)


def _printed(log: PrintLog, key: Key) -> Printed | None:
    """The chart that was printed last, if nothing was measured since.

    What was not stated when it was printed, its reading may state.
    """
    row = log.connection.execute(
        "SELECT e.id, e.name, e.moment, p.correction FROM prints p JOIN entries e "
        f"ON e.id = p.entry WHERE p.chart AND {_OF_PRINT} AND e.kind = 'print' "
        "ORDER BY e.moment DESC, e.id DESC LIMIT 1",
        key,
    ).fetchone()
    if row is None:
        return None
    moment = datetime.fromisoformat(row["moment"])
    if log.connection.execute(
        "SELECT 1 FROM entries WHERE kind = 'reading' AND moment > ?4 AND (?1 IS NULL OR printer "
        "IS ?1) AND (?2 IS NULL OR paper IS ?2) AND (?3 IS NULL OR settings IS ?3) LIMIT 1",
        (*key, row["moment"]),
    ).fetchone():
        return None
    # Paper and inks make how it dries, far more than printer and settings do.
    dry = log.connection.execute(
        "SELECT d.high FROM dryings d JOIN entries e ON e.id = d.entry WHERE e.paper IS ? "
        "ORDER BY e.printer IS ? DESC, e.moment DESC, e.id DESC LIMIT 1",
        (key[1], key[0]),
    ).fetchone()
    hours = None if dry is None else timedelta(hours=float(dry["high"]))
    return Printed(row["id"], row["name"], moment, row["correction"], hours)


def _in_force(log: PrintLog, key: Key, readings: Readings) -> InForce | None:
    """Return the latest correction, with its latest proof."""
    row = log.connection.execute(
        "SELECT e.id, e.name, e.moment, c.round, c.condition, c.promised_mean_delta_Ch "
        "FROM entries e "
        f"JOIN corrections c ON c.entry = e.id WHERE {_OF_PRINT} AND e.kind = 'correction' "
        "ORDER BY e.moment DESC, e.id DESC LIMIT 1",
        key,
    ).fetchone()
    if row is None:
        return None
    proof = _proof(log, row["id"])
    unproved = [one.measured for one in readings if one.measured.through == row["id"]]
    return InForce(
        entry=row["id"],
        name=row["name"],
        round=row["round"],
        moment=datetime.fromisoformat(row["moment"]),
        condition=row["condition"],
        expected_mean_delta_Ch=row["promised_mean_delta_Ch"],
        proof=proof,
        unproved=unproved[-1] if unproved and proof is None else None,
    )


def _proof(log: PrintLog, correction: int) -> Proof | None:
    row = log.connection.execute(
        f"SELECT e.id, e.name, e.moment, {_FILES}, r.ramp, r.through, r.stated, "
        "v.within_tolerance, v.kept, "
        f"{DOUBTED} AS doubted, CASE WHEN json_valid(v.result) "
        "THEN json_extract(v.result, '$.next_round.worth_it') END AS worth_it "
        "FROM verifications v JOIN entries e ON e.id = v.reading "
        "JOIN readings r ON r.entry = v.reading "
        "WHERE v.correction = ? ORDER BY e.moment DESC, v.entry DESC LIMIT 1",
        (correction,),
    ).fetchone()
    if row is None:
        return None
    doubted = doubts_of(row["doubted"])
    return Proof(
        Measured(**_how(row)),
        within_tolerance=bool(row["within_tolerance"]) and not doubted,
        worth_another_round=bool(row["worth_it"]),
        kept=None if row["kept"] is None or doubted else bool(row["kept"]),
        doubted=doubted,
    )
