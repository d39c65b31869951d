"""How far the work on a paper has come, and what to do next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM
from greyscale.aims.tone import DEFAULT_TONE_AIM
from greyscale.analysis import what_next
from greyscale.analysis.brighteners import WITH_UV, WITHOUT_UV
from greyscale.analysis.what_next import Figures, InForce, Proof, Standing
from greyscale.base.errors import BadInput
from greyscale.base.plain_text import day, day_and_time
from greyscale.checks.finding import CheckResult
from greyscale.page.findings import (
    analysed,
    by_local_clock,
    checked,
    dry_after,
    read_at,
    usable,
    verified,
)
from greyscale.page.papers import Made, Measured, Paper, Sheet
from greyscale.readings.formats import CONDITIONS_BY_USE

_AT_ONCE = timedelta(days=1)
"""Readings of a sheet within this time are of one print, in several conditions."""

CHART, READING, REPAIR, CORRECT, PROOF, JUDGING, ROUND, NOTHING = (
    "chart", "reading", "repair", "correct", "proof", "judging", "round", "nothing",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class State:
    """Where a paper stands.

    Attributes
    ----------
    words
        In one short sentence.
    step
        What to do next: one of the names above.
    label
        The same in words, as a button has them.
    ready
        When the sheet that was printed can be measured.
    """

    words: str
    step: str
    label: str = ""
    sheet: Sheet | None = None
    measured: Measured | None = None
    made: Made | None = None
    ready: datetime | None = None


def ready_at(paper: Paper, sheet: Sheet) -> tuple[datetime, bool] | None:
    """When a printed sheet can be measured, and whether this paper's own drying says so.

    Returns
    -------
    None where nobody marked it as printed.
    """
    if sheet.printed is None:
        return None
    own = dry_after(paper.sheets)
    return sheet.printed + (own or what_next.USUAL_DRYING), own is not None


def state_of(paper: Paper) -> State:
    """Tell from a paper's files how far it has come."""
    if not paper.corrections:
        return _measuring(paper)
    made = paper.corrections[-1]
    title = made.correction.title
    proofs = (one for one in reversed(paper.sheets) if paper.correction_through(one) is made)
    sheet = next(proofs, None)
    if sheet is None:
        return State(f"“{title}” is made, and not proved yet.", PROOF, "Make a proof", made=made)
    waiting = _reading(paper, sheet, "The proof")
    if waiting is not None:
        return waiting
    measured = latest(sheet)
    return State("", NOTHING) if measured is None else _stands(paper, made, measured)


def first_readings(paper: Paper) -> tuple[Measured, ...]:
    """The readings that a first correction is made of: the last usable one of each sheet that went
    to the printer as it is, as far as they were measured alike; without sheets, the last there is.
    """
    of_sheets = [
        one for sheet in paper.sheets if not sheet.through and (one := latest(sheet)) is not None
    ]
    loose = [one for one in paper.loose if not one.reading.sent_through and usable(one, None)]
    found = of_sheets or _of_last_print(loose)[:1]
    return tuple(
        one
        for one in found
        if (one.reading.condition, one.reading.backing)
        == (found[0].reading.condition, found[0].reading.backing)
    )


def evidence(paper: Paper) -> tuple[Measured, ...]:
    """The readings that a first correction is made of, those without ultraviolet with them."""
    first = first_readings(paper)
    return (*first, *(other for one in first for other in without_uv(paper, one)))


def without_uv(paper: Paper, one: Measured) -> tuple[Measured, ...]:
    """The reading of the same print without ultraviolet, where that tells what glows in this."""
    if one.reading.condition != WITH_UV:
        return ()
    beside = _of_last_print(
        [other for other in _beside(paper, one) if abs(read_at(other) - read_at(one)) < _AT_ONCE]
    )
    return tuple(other for other in beside if other.reading.condition == WITHOUT_UV)


def _beside(paper: Paper, one: Measured) -> list[Measured]:
    """The usable readings of the sheet that one is of; of a loose one, those of its patches."""
    sheet = paper.sheet_of(one)
    if sheet is not None:
        return [other for other in sheet.readings if usable(other, sheet)]
    return [
        other for other in paper.loose
        if np.array_equal(other.reading.device, one.reading.device) and usable(other, None)
    ]  # fmt: skip


def latest(sheet: Sheet) -> Measured | None:
    """The last reading of a sheet that is not misread; of several conditions that used most."""
    found = _of_last_print([one for one in sheet.readings if usable(one, sheet)])
    return found[0] if found else None


def _of_last_print(readings: Sequence[Measured]) -> list[Measured]:
    """The last reading in each condition of what was read last, that condition first used most."""
    if not readings:
        return []
    last = read_at(readings[-1])
    by_condition = {
        one.reading.condition: one for one in readings if abs(last - read_at(one)) < _AT_ONCE
    }
    known = [one for one in CONDITIONS_BY_USE if one in by_condition]
    others = [one for one in by_condition if one not in known]
    return [by_condition[one] for one in (*known, *others)]


def _measuring(paper: Paper) -> State:
    if first_readings(paper):
        advice = _advice(paper, None)
        if advice.step in (what_next.NOTHING, what_next.RECHECK):
            return _until(advice, "It prints neutral as it is, and needs no correction")
        return State("Measured, and not corrected yet.", CORRECT, "Make the correction")
    if not paper.sheets:
        return State("Nothing has been printed yet.", CHART, "Make a chart")
    return _reading(paper, paper.sheets[-1], "The chart") or State("", NOTHING)


def _reading(paper: Paper, sheet: Sheet, what: str) -> State | None:
    """What is to be done for a sheet's reading; None where it is there and usable."""
    if latest(sheet) is not None:
        return None
    if not sheet.readings:
        ready, own = ready_at(paper, sheet) or (None, False)
        words = "waits to be printed, dried and measured"
        if ready is not None and ready <= datetime.now():
            words = "is dry: measure it"
        elif ready is not None:
            from_today = ready.date() == datetime.now().date()
            at = f"{ready:%H:%M}" if from_today else day_and_time(ready)
            by = "this paper's own drying" if own else "a day's wait, as usual"
            words = f"is drying, and can be measured from {at}, by {by}"
        return State(
            f"{what} “{sheet.stem}” {words}.", READING, "Add its reading", sheet=sheet,
            ready=ready,
        )  # fmt: skip
    misread = sheet.readings[-1]
    found = checked(misread, sheet)
    if isinstance(found, CheckResult) and found.repaired is not None:
        return State("Certainly misread; it can be put right.", REPAIR, "Put it right",
                     sheet=sheet, measured=misread)  # fmt: skip
    return State("Certainly misread: measure it again.", READING, "Add another reading",
                 sheet=sheet, measured=misread)  # fmt: skip


def _stands(paper: Paper, made: Made, measured: Measured) -> State:
    """What the advice of the log is for a paper whose latest correction was proved."""
    found = verified(measured, made)
    if found is None:
        return State("The proof is being judged.", JUDGING, measured=measured, made=made)
    if isinstance(found, BadInput):
        sheet = paper.sheet_of(measured)
        return State("The proof cannot be judged.", READING, "Add another reading", sheet=sheet)
    correction = made.correction
    if found.accidents:
        return State(f"The proof of “{correction.title}” is in doubt.", READING,
                     "Add another reading", sheet=paper.sheet_of(measured), measured=measured,
                     made=made)  # fmt: skip
    proof = Proof(_known(measured), found.within_tolerance, found.next_round.worth_it, None)
    force = InForce(
        0, correction.name, correction.round, by_local_clock(correction.created), proof=proof
    )
    advice = _advice(paper, force)
    title = f"“{correction.title}”"
    if advice.step == what_next.ROUND:
        words = f"{title} is not within tolerance yet; another round is worth it."
        return State(words, ROUND, "Make the next round", measured=measured, made=made)
    if found.within_tolerance:
        return _until(advice, f"{title} is proved")
    return _until(advice, f"{title} is as near as another round would bring it")


def _until(advice: what_next.Next, words: str) -> State:
    """Say that all is well until the printer is to be looked at again."""
    if advice.step == what_next.RECHECK:
        return State(f"{words}; it is time to look again.", CHART, "Make a chart")
    due = "" if advice.not_before is None else f"; look again from {day(advice.not_before)} on"
    return State(f"{words}{due}.", NOTHING)


def _advice(paper: Paper, force: InForce | None) -> what_next.Next:
    uncorrected = tuple(_known(one) for one in first_readings(paper))
    latest = uncorrected[-1] if uncorrected else None
    standing = Standing(latest, uncorrected, force, paper=paper.name)
    return what_next.what_next(standing, datetime.now())


def _known(measured: Measured) -> what_next.Measured:
    """A reading as the advice asks for it."""
    found = analysed(measured, (), DEFAULT_TONE_AIM, DEFAULT_NEUTRAL_AIM, None)
    figures = None
    if not isinstance(found, BadInput):
        figures = Figures(
            found.neutrality.mean_delta_Ch,
            found.neutrality.max_delta_Ch,
            found.tone.rms_delta_L,
            float(found.patches.density.max()),
        )
    return what_next.Measured(0, measured.name, read_at(measured), measured.name, figures=figures)


# Which reading of a paper is shown: the one asked for, else the last that matters.


@dataclass(frozen=True, eq=False)
class Shown:
    """A reading, the sheet that it is of, and the correction that it was printed through."""

    measured: Measured
    sheet: Sheet | None
    made: Made | None


def shown_of(paper: Paper, name: str | None) -> Shown | None:
    """Choose the reading to show; None where there is none.

    The file of that name; else what the next step is about, the last reading of a sheet, or any.
    """
    asked = next((one for one in paper.readings if one.name == name), None)
    measured = asked or state_of(paper).measured or _last(paper)
    if measured is None:
        return None
    sheet = paper.sheet_of(measured)
    return Shown(measured, sheet, None if sheet is None else paper.correction_through(sheet))


def _last(paper: Paper) -> Measured | None:
    """The last reading of the latest correction's proof; else of the first sheets; else any."""
    through = [one for one in paper.sheets if one.through and one.readings]
    current = paper.corrections[-1] if paper.corrections else None
    own = [one for one in through if paper.correction_through(one) is current]
    sheets = own or [one for one in paper.sheets if not one.through and one.readings]
    if sheets:
        sheet = sheets[-1 if own else 0]
        return latest(sheet) or sheet.readings[-1]
    return next(iter(_of_last_print(paper.readings)), None)
