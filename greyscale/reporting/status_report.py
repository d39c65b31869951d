"""Where every print stands: in words with what to do next, as JSON, and as a report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

from greyscale.aims.tolerances import DEFAULT_TOLERANCE, tolerance
from greyscale.analysis.what_next import (
    CORRECT,
    MEASURE,
    NOTHING,
    PRINT_CHART,
    PRINT_PROOF,
    PROVE,
    RECHECK,
    ROUND,
    SAY_HOW,
    STEPS,
    USUAL_DRYING,
    WAIT,
    InForce,
    Measured,
    Next,
    Printed,
    Standing,
    what_next,
)
from greyscale.base.plain_text import (
    MISSING,
    as_typed,
    day,
    day_and_time,
    fixed,
    joined,
    signed,
    time_words,
)
from greyscale.base.rests_on import support_data, supports
from greyscale.base.results import json_text
from greyscale.records.entries import safe_name
from greyscale.reporting.json_output import Data, picked
from greyscale.reporting.next_step import as_its_readings
from greyscale.reporting.page import CAUTIONS, NextStep, Picture, Points, Report, Section, Table


@dataclass(frozen=True)
class Status:
    """A row: where a print stands, and what to do next.

    Attributes
    ----------
    standing, next
        What is known, and what follows from it.
    age
        Of the last reading; None without one.
    words
        What to do next, as a sentence or two.
    commands
        That do it, one after the other; none where there is nothing to do on the computer.
    """

    standing: Standing
    next: Next
    age: timedelta | None
    words: str
    commands: tuple[str, ...]

    @property
    def title(self) -> str:
        """The paper, the printer and the settings, as far as they are stated."""
        one = self.standing
        names = [one.paper or "paper not stated", one.printer or "printer not stated"]
        return ", ".join([*names, *([one.settings] if one.settings else [])])


def statuses(
    standings: Sequence[Standing], now: datetime, db: Path | None = None
) -> tuple[Status, ...]:
    """Return the rows, the most pressing first.

    Parameters
    ----------
    now
        By the clock of the place.
    db
        The print log, where it isn't the usual one: commands name it.
    """
    rows = []
    for one, slug in zip(standings, _slugs(standings), strict=True):
        step = what_next(one, now)
        age = None if one.latest is None else max(now - one.latest.moment, timedelta())
        commands = _Commands(one, db, slug).of(step)
        rows.append(Status(one, step, age, _next_words(one, step, now), commands))
    return tuple(sorted(rows, key=lambda row: (STEPS.index(row.next.step), row.title)))


def age_words(age: timedelta) -> str:
    """Say how old a reading is.

    Examples
    --------
    >>> [age_words(timedelta(days=days)) for days in (0, 1, 13, 14, 200, 1100)]
    ['today', '1 day', '13 days', '2 weeks', '6 months', '3 years']
    """
    days = age.days
    for least, unit, name in ((730, 365.25, "year"), (61, 30.44, "month"), (14, 7.0, "week")):
        if days >= least:
            return f"{int(days / unit)} {name}s"
    return "today" if days < 1 else f"{days} day{'s' if days > 1 else ''}"


def _next_words(standing: Standing, step: Next, now: datetime) -> str:
    made, printed = standing.correction, standing.printed
    name = "" if made is None else f"'{made.name}'"
    reading = joined([f"'{one.name}'" for one in step.readings])
    if step.step in (WAIT, MEASURE) and printed is not None:
        return _drying_words(printed, step, now)
    if step.step == MEASURE and made is not None:
        way = as_its_readings(made.condition)
        return f"Measure the print of {reading} again {way}: whether it proves {name} is in doubt."
    if step.step == SAY_HOW and step.readings[0].says_proof:
        return f"Say through which correction {reading} was printed: through one, it says itself."
    if step.step == SAY_HOW:
        return f"Say how {reading} was printed: without a correction, or through which."
    drift = standing.drift
    since = "" if drift.since is None else f" since {day(drift.since)}"
    drifted = (
        f"The printer has drifted{since}: by ΔCh {fixed(drift.delta_Ch, 1)}, ΔL* "
        f"{signed(drift.delta_L, 1)} on average. "
    ) * step.because_of_drift
    if step.step == PRINT_CHART:
        first = "first chart" if not standing.uncorrected else "chart without correction"
        return f"{drifted}Print a {first}, let it dry and measure it."
    if step.step == CORRECT:
        anew = " anew" if made is not None else ""
        return f"{drifted}Make the correction{anew} from {reading}."
    if step.step == PRINT_PROOF:
        return f"Print a chart through {name}, let it dry and measure it: it is not proved yet."
    if step.step == PROVE:
        return f"Prove {name} with {reading}."
    if step.step == ROUND:
        return f"Make another round: {reading} misses its tolerance, and a round is worth it."
    return _look_again_words(standing, step)


def _drying_words(printed: Printed, step: Next, now: datetime) -> str:
    at = printed.dry_at
    when = f"{at:%H:%M}" if at.date() == now.date() else day_and_time(at)
    if printed.dry_after is None:
        hours = USUAL_DRYING.total_seconds() / 3600
        basis = f"{hours:.0f} h by common practice; 'greyscale drying --log' measures it"
    else:
        basis = f"this paper's own drying, {time_words(printed.dry_after.total_seconds() / 3600)}"
    if step.step == WAIT:
        return f"Wait until {when}, then measure '{printed.name}' ({basis})."
    return f"Measure '{printed.name}': dry since {when} ({basis})."


def _look_again_words(standing: Standing, step: Next) -> str:
    weeks = standing.recheck.weeks
    basis = "by the drift seen so far" if standing.recheck.known else "common practice"
    every = f"{weeks} week{'s' if weeks > 1 else ''} after the last reading, {basis}"
    made = standing.correction
    proof = None if made is None else made.proof
    missed = (
        "The proof misses its tolerance, but another round is not worth it. "
        if proof is not None and not proof.within_tolerance
        else ""
    )
    when = "" if step.not_before is None else day(step.not_before)
    if standing.drift.noticed and standing.drift.since is not None:
        why = "is good as it prints now" if made is None else f"'{made.name}' was made since"
        missed = f"It has drifted since {day(standing.drift.since)}, but {why}. {missed}"
    if step.step == RECHECK:
        through = "" if made is None else f" through '{made.name}'"
        return f"{missed}Re-check: print a chart{through} and measure it; due {when} ({every})."
    return f"{missed}Nothing to do until {when} ({every})."


@dataclass(frozen=True)
class _Commands:
    """The commands of a row; files come out of the log, wherever they were when they came in."""

    standing: Standing
    db: Path | None
    slug: str

    def of(self, step: Next) -> tuple[str, ...]:
        made = self.standing.correction
        printed = self.standing.printed
        through = "none" if printed is None or not printed.through else str(printed.through)
        taken_out = [self._out(reading.entry) for reading in step.readings]
        if step.step == MEASURE and not step.readings:
            return (self._log("add", "READING", "--correction", through, *self._names()),)
        if step.step == SAY_HOW:
            how = "FOLDER" if step.readings[0].says_proof else "none"
            return (*taken_out, self._log("add", *self._given(step), "--correction", how))
        if step.step == CORRECT:
            return (*taken_out, self._correct(step, self._names()))
        if step.step == PRINT_CHART or (step.step == RECHECK and made is None):
            return (as_typed("chart", "-o", f"chart-{self.slug}", "--near-neutral"),)
        if made is None or step.step not in (PRINT_PROOF, RECHECK, PROVE, ROUND, MEASURE):
            return ()
        taken_out.insert(0, self._out(made.entry))
        folder = _folder(made.entry)
        if step.step == MEASURE:
            needed = taken_out if step.readings[-1].layout is not None else taken_out[:1]
            again = ("PROOF-READING", *self._read_as(step.readings[-1]))
            return (*needed, self._logged("verify", *again, "--correction", folder))
        if step.step == PROVE:
            judged = self._logged("verify", *self._given(step), "--correction", folder)
            return (*taken_out, judged)
        if step.step == ROUND:
            return (*taken_out, self._correct(step, ("--previous", folder)))
        proof = f"proof-{self.slug}"
        return (*taken_out, as_typed("chart", "-o", proof, "--near-neutral", "--through", folder))

    def _correct(self, step: Next, options: Sequence[str]) -> str:
        made = self.standing.correction
        target = f"correction-{self.slug}" + ("" if made is None else f"-{made.entry + 1}")
        return self._logged("correct", *self._given(step), *options, "-o", target)

    def _given(self, step: Next) -> tuple[str, ...]:
        """The readings as they lie in their folders, and how they are read."""
        files = [f"{_folder(one.entry)}/{safe_name(one.file)}" for one in step.readings]
        return (*files, *self._read_as(step.readings[-1]))

    def _read_as(self, one: Measured) -> tuple[str, ...]:
        """The layout and ramp that a reading is read by, or another of the same chart."""
        found: tuple[str, ...] = ()
        if one.layout is not None:
            found += ("--layout", f"{_folder(one.entry)}/layout/{safe_name(one.layout)}")
        if one.ramp is not None:
            found += ("--ramp", one.ramp)
        return found

    def _out(self, entry: int) -> str:
        return self._log("show", str(entry), "-o", _folder(entry))

    def _log(self, *words: str) -> str:
        return as_typed("log", *words, *self._db())

    def _logged(self, *words: str) -> str:
        return as_typed(*words, "--log", *self._db())

    def _db(self) -> tuple[str, ...]:
        return () if self.db is None else ("--db", str(self.db))

    def _names(self) -> tuple[str, ...]:
        one = self.standing
        named = (("printer", one.printer), ("paper", one.paper), ("settings", one.settings))
        return tuple(word for what, name in named if name for word in (f"--{what}", name))


def _slugs(standings: Sequence[Standing]) -> list[str]:
    """What each row's files are called, no two alike: by paper, else by all that parts rows."""
    by_paper = [_slug(one.paper) for one in standings]
    by_all = [_slug(one.paper, one.printer, one.settings) for one in standings]
    found = [
        whole if by_paper.count(paper) > 1 else paper
        for paper, whole in zip(by_paper, by_all, strict=True)
    ]
    taken: set[str] = set()
    for row, name in enumerate(found):
        own, number = name, 2
        while own in taken or (own != name and own in found):
            own, number = f"{name}-{number}", number + 1
        taken.add(own)
        found[row] = own
    return found


def _slug(*names: str | None) -> str:
    letters = "".join(
        sign if sign.isalnum() else "-" for sign in "-".join(map(str, filter(None, names)))
    )
    plain = "-".join(part for part in letters.casefold().split("-") if part)
    return plain[:60].rstrip("-") or "paper"


def _folder(entry: int) -> str:
    return f"entry-{entry}"


def promise_words(rows: Sequence[Status]) -> str:
    """Say how many promises were kept; "" where none was put to the proof.

    See `greyscale.correction.sureness.PredictionError`; an earlier program allowed for chance
    alone, and so of what was kept the same is true.
    """
    total = sum(row.standing.promises for row in rows)
    kept = sum(row.standing.promises_kept for row in rows)
    if not total:
        return ""
    short = [
        f"{row.title} ({row.standing.promises_kept} of {row.standing.promises})"
        for row in rows
        if row.standing.promises_kept < row.standing.promises
    ]
    meant = (
        f" ({'that print lies' if kept == 1 else 'those prints lie'} no further off than chance, "
        "and what sheets usually differ by, allow)"
        if kept
        else ""
    )
    missed = f"; not all for {'; '.join(short)}" if short and len(rows) > 1 else ""
    return f"{kept} of {total} promise{'s' if total > 1 else ''} kept{meant}{missed}."


def _correction_words(made: InForce | None) -> str:
    if made is None:
        return "none"
    title = made.name if made.round == 1 else f"{made.name}, round {made.round}"
    if made.proof is None:
        return f"{title}: not proved"
    if made.proof.doubted:
        return f"{title}: proof in doubt"
    return f"{title}: {'proved' if made.proof.within_tolerance else 'proof misses'}"


FIGURES = ("mean_delta_Ch", "max_delta_Ch", "rms_delta_L", "dmax")

RESTS_ON = supports(
    "control-chart", "noticed", "sheets", "exhibition", "rechecks", "first-readings"
)
"""The constants behind what is said to be done next."""


def status_data(rows: Sequence[Status]) -> Data:
    """Return the rows as plain data, the most pressing first."""
    return {
        "schema": "greyscale/status/1",
        "rows": [_row(row) for row in rows],
        "promises": sum(row.standing.promises for row in rows),
        "promises_kept": sum(row.standing.promises_kept for row in rows),
        "rests_on": support_data(RESTS_ON),
    }


def _row(row: Status) -> Data:
    one, step = row.standing, row.next
    latest, drift = one.latest, one.drift
    figures = None if latest is None else latest.figures
    return {
        **picked(one, "printer", "paper", "settings", "promises", "promises_kept"),
        "reading": None if latest is None else _reading(latest),
        "age_days": None if row.age is None else row.age.total_seconds() / 86400,
        **(dict.fromkeys(FIGURES) if figures is None else picked(figures, *FIGURES)),
        "correction": None if one.correction is None else _correction(one.correction),
        "state": drift.state,
        "drift": {
            **picked(drift, "verdict", "delta_Ch", "delta_L"),
            "since": None if drift.since is None else drift.since.isoformat(),
        },
        "recheck_weeks": one.recheck.weeks,
        "recheck_from_drift": one.recheck.known,
        "step": step.step,
        "next": row.words,
        "command": " && ".join(row.commands) or None,
        "not_before": None if step.not_before is None else step.not_before.isoformat(),
    }


def _reading(one: Measured) -> Data:
    return {**picked(one, "entry", "name", "through"), "moment": one.moment.isoformat()}


def _correction(one: InForce) -> Data:
    proof = one.proof
    return {
        **picked(one, "entry", "name", "round"),
        "moment": one.moment.isoformat(),
        "promised_mean_delta_Ch": one.expected_mean_delta_Ch,
        "proof": None
        if proof is None
        else {
            "reading": _reading(proof.reading),
            **picked(proof, "within_tolerance", "worth_another_round", "doubted"),
            "promise_kept": proof.kept,
        },
    }


MOST_DRAWN = 24
"""Panels of the figure: the most pressing prints."""


def status_report(rows: Sequence[Status], command: str = "") -> Report:
    """Make the report of rows, at least one, the most pressing first."""
    named = len(rows) > 1
    steps = tuple(
        NextStep(f"{row.title}: {row.words}" if named else row.words, row.commands) for row in rows
    )
    sections = [
        Section("What to do next", (Points(steps, at_once=True),), is_next=True),
        Section("Where each print stands", (_numbers(rows),)),
    ]
    drawn = [row for row in rows if len(row.standing.history) > 1][:MOST_DRAWN]
    if drawn:
        sections.append(Section("Over time", (_picture(drawn),)))
    lead = (_lead_words(rows), promise_words(rows))
    return Report(
        "Every printer and paper at a glance",
        rows[0].title if len(rows) == 1 else f"{len(rows)} papers and printers",
        tuple(words for words in lead if words), tuple(sections), (), CAUTIONS, command, RESTS_ON,
        texts=lambda: {"status.json": json_text(status_data(rows))}, named=False,
    )  # fmt: skip


def _lead_words(rows: Sequence[Status]) -> str:
    asking = [row for row in rows if row.next.step not in (NOTHING, WAIT)]
    waiting = sum(row.next.step == WAIT for row in rows)
    if not asking and not waiting:
        return "Nothing is due."
    dries = f"; {waiting} {'is' if waiting == 1 else 'are'} drying" if waiting else ""
    if not asking:
        return f"Nothing is due{dries}."
    if len(rows) == 1:
        return f"{rows[0].title} asks for something now."
    ask = "asks" if len(asking) == 1 else "ask"
    return f"{len(asking)} of {len(rows)} {ask} for something now{dries}."


def _picture(rows: Sequence[Status]) -> Picture:
    # Who asks at the terminal waits for no figure's imports.
    from greyscale.reporting.figures.over_time import overview

    limit = tolerance(DEFAULT_TOLERANCE).mean_delta_Ch
    named = [(row.title, row.standing.history) for row in rows]
    told = "; ".join(
        f"{row.title}: {len(row.standing.history)} readings, the latest "
        f"{fixed(row.standing.history[-1][1])}, {row.standing.drift.state}"
        for row in rows
    )
    return Picture(
        partial(overview, (named, limit)),
        "overview",
        alt=f"Mean ΔCh over time. {told}.",
        caption="Mean ΔCh of the readings that compare with the latest, all to the same scale; the "
        f"grey band reaches to {fixed(limit)}, what the exhibition grade allows.",
    )


def _numbers(rows: Sequence[Status]) -> Table:
    head = (
        "print", "age", "mean ΔCh", "max ΔCh", "RMS ΔL*", "Dmax", "correction",
        "promises kept", "state",
    )  # fmt: skip
    cells = tuple(
        (
            row.title,
            MISSING if row.age is None else age_words(row.age),
            *(fixed(getattr(one.latest and one.latest.figures, name, None)) for name in FIGURES),
            _correction_words(one.correction),
            f"{one.promises_kept} of {one.promises}" if one.promises else MISSING,
            one.drift.state,
        )
        for row, one in ((row, row.standing) for row in rows)
    )
    return Table(head, cells, "", frozenset({0, 1, 6, 8}), at_once=True)
