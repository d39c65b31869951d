"""How far the work on a paper has come, and what to do next."""

from __future__ import annotations

from dataclasses import dataclass

from greyscale.base.errors import BadInput
from greyscale.checks.finding import CheckResult
from greyscale.page.findings import checked, usable, verified
from greyscale.page.papers import Made, Measured, Paper, Sheet

CHART, READING, REPAIR, CORRECT, PROOF, ROUND, NOTHING = (
    "chart", "reading", "repair", "correct", "proof", "round", "nothing",
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
    sheet, measured, made
        What that is about.
    """

    words: str
    step: str
    label: str = ""
    sheet: Sheet | None = None
    measured: Measured | None = None
    made: Made | None = None


def state_of(paper: Paper) -> State:
    """Tell from a paper's files how far it has come."""
    if not paper.corrections:
        return _measuring(paper)
    made = paper.corrections[-1]
    title = made.correction.title
    sheet = next((one for one in reversed(paper.sheets) if _is_through(paper, one, made)), None)
    if sheet is None:
        return State(f"“{title}” is made, and not proved yet.", PROOF, "Make a proof", made=made)
    waiting = _reading(sheet, "The proof")
    if waiting is not None:
        return waiting
    return _judged(sheet, latest(sheet), made)


def first_readings(paper: Paper) -> tuple[Measured, ...]:
    """The readings that a first correction is made of: the last usable one of each sheet that went
    to the printer as it is, as far as they were measured alike; without sheets, the last there is.
    """
    of_sheets = [
        one for sheet in paper.sheets if not sheet.through and (one := latest(sheet)) is not None
    ]
    loose = [one for one in paper.loose if not one.reading.sent_through and usable(one, None)]
    found = of_sheets or loose[-1:]
    return tuple(
        one
        for one in found
        if (one.reading.condition, one.reading.backing)
        == (found[0].reading.condition, found[0].reading.backing)
    )


def latest(sheet: Sheet) -> Measured | None:
    """The last reading of a sheet that is not misread."""
    return next((one for one in reversed(sheet.readings) if usable(one, sheet)), None)


def _measuring(paper: Paper) -> State:
    if first_readings(paper):
        return State("Measured, and not corrected yet.", CORRECT, "Make the correction")
    if not paper.sheets:
        return State("Nothing has been printed yet.", CHART, "Make a chart")
    return _reading(paper.sheets[-1], "The chart") or State("", NOTHING)


def _reading(sheet: Sheet, what: str) -> State | None:
    """What is to be done for a sheet's reading; None where it is there and usable."""
    if latest(sheet) is not None:
        return None
    if not sheet.readings:
        return State(
            f"{what} “{sheet.stem}” waits to be printed, dried and measured.",
            READING,
            "Add its reading",
            sheet=sheet,
        )
    misread = sheet.readings[-1]
    found = checked(misread, sheet)
    if isinstance(found, CheckResult) and found.repaired is not None:
        return State("Certainly misread; it can be put right.", REPAIR, "Put it right",
                     sheet=sheet, measured=misread)  # fmt: skip
    return State("Certainly misread: measure it again.", READING, "Add another reading",
                 sheet=sheet, measured=misread)  # fmt: skip


def _is_through(paper: Paper, sheet: Sheet, made: Made) -> bool:
    return paper.correction_through(sheet) is made


def _judged(sheet: Sheet, measured: Measured | None, made: Made) -> State:
    if measured is None:
        return State("", NOTHING)
    found = verified(measured, made)
    if found is None:
        return State("The proof is being judged.", NOTHING)
    if isinstance(found, BadInput):
        return State("The proof cannot be judged.", READING, "Add another reading", sheet=sheet)
    if found.next_round.worth_it:
        words = "Proved, and another round would pay." if found.within_tolerance else (
            "Not within tolerance yet; another round would pay."
        )  # fmt: skip
        return State(words, ROUND, "Make the next round", sheet, measured, made)
    if found.within_tolerance:
        return State(f"“{made.correction.title}” is proved.", NOTHING)
    return State("As near as this printer comes: another round would not pay.", NOTHING)
