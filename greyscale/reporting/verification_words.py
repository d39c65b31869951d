"""A verification in sentences: did it work, was it foretold, does another round pay."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.analyse import Analysis
from greyscale.checks import spoilt_words
from greyscale.correction.verify import InLight, Verification
from greyscale.reporting.cast_words import joined
from greyscale.reporting.next_step import NextStep
from greyscale.reporting.numbers import MISSING, fixed, percent
from greyscale.reporting.terminal import conclude, plain_table

_WORKED = 0.5
"""Less than this share of the error left: the correction worked; below 1 it helped."""


def verification_sentences(verification: Verification) -> tuple[str, ...]:
    """Say the verdict first, then the tone scale, the prediction, the next round.

    A doubt about what was printed comes before all: nothing is proved until it is settled.
    """
    foretold = _prediction(verification)
    # That fewer values lie within the band than it says is a finding, and no remark.
    found = not verification.prediction_error.kept and not verification.oddities
    return (
        *verification.oddities,
        _outcome(verification),
        *((foretold,) if found else ()),
        _verdict(verification),
        *spoilt_words(verification.spoilt),
        *light_sentences(verification),
        _tone(verification),
        *(() if found else (foretold,)),
        verification.next_round.reason,
    )


def _outcome(verification: Verification) -> str:
    before, after = verification.before.neutrality, verification.after.neutrality
    numbers = (
        f"{_where(verification)}mean ΔCh {fixed(after.mean_delta_Ch)} measured, against "
        f"{fixed(before.mean_delta_Ch)} before; promised "
        f"{fixed(verification.promise.after_mean_delta_Ch)} for the print, "
        f"{fixed(verification.expected_mean_delta_Ch)} with this reading's noise. Largest "
        f"{fixed(after.max_delta_Ch)}, against {fixed(before.max_delta_Ch)} before; RMS ΔL* "
        f"{fixed(verification.after.tone.rms_delta_L)}, against "
        f"{fixed(verification.before.tone.rms_delta_L)} before"
    )
    if verification.tone_only:
        numbers = (
            f"RMS ΔL* {fixed(verification.after.tone.rms_delta_L)} measured, against "
            f"{fixed(verification.before.tone.rms_delta_L)} before; its tint was to stay: mean ΔCh "
            f"{fixed(after.mean_delta_Ch)}, {fixed(before.mean_delta_Ch)} before"
        )
    repeatability = verification.after.reading.repeatability.sd_Ch
    then, now = _error(verification, verification.before), _error(verification, verification.after)
    if now > then + repeatability:
        return f"The print is worse than before: {numbers}."
    if verification.oddities:
        return f"Until that is settled this proves nothing: {numbers}."
    if now < _WORKED * then:
        return f"The correction worked: {numbers}."
    if abs(now - then) <= repeatability:
        return f"The correction changed no more than the repeatability: {numbers}."
    return f"The correction helped in part: {numbers}."


def _error(verification: Verification, course: Analysis) -> float:
    """What the correction was to make less: tint and tone together, or tone alone."""
    tint = 0.0 if verification.tone_only else course.neutrality.mean_delta_Ch
    return float(np.hypot(tint, course.tone.rms_delta_L))


def _where(verification: Verification) -> str:
    return f"under {verification.light} " if verification.lights else ""


def light_sentences(verification: Verification) -> tuple[str, ...]:
    """Say how the print does in each light, those that the correction is for first."""
    if not verification.lights:
        return ()
    own = [one for one in verification.lights if one.counts]
    others = [one for one in verification.lights if not one.counts]
    said = [_in_light(one) for one in own]
    sentences = [f"In the light{'s' if len(own) > 1 else ''} that it was made for: "
                 f"{'; '.join(said)}."] if own else []  # fmt: skip
    if others:
        also = "; ".join(_in_light(one) for one in others)
        sentences.append(f"Looked at as well, not judged by: {also}.")
    return tuple(sentences)


def _in_light(one: InLight) -> str:
    promised = (
        ""
        if one.promised_mean_delta_Ch is None
        else f" ({fixed(one.promised_mean_delta_Ch)} promised)"
    )
    return (
        f"{one.name} mean ΔCh {fixed(one.after_mean_delta_Ch)}{promised}, "
        f"{fixed(one.before_mean_delta_Ch)} before, {one.verdict}"
    )


def _verdict(verification: Verification) -> str:
    after, tone = verification.after.neutrality, verification.after.tone
    allowed = (
        f"mean ΔCh {after.tolerance_mean_delta_Ch:g}, largest {after.tolerance_max_delta_Ch:g}; "
        f"mean ΔL* {tone.tolerance_mean_delta_L:g}, largest {tone.tolerance_max_delta_L:g}"
    )
    verdict = verification.after.verdict
    if verdict not in ("pass", "fail"):
        return (
            f"Whether it is within the {after.tolerance} tolerance ({allowed}) cannot be told from "
            f"this reading: it is with a probability of {percent(verification.after.probability)}."
        )
    if verdict == "pass":
        return f"It is within the {after.tolerance} tolerance ({allowed})."
    fails = [name for name, one in (("tint", after), ("tone", tone)) if one.verdict == "fail"]
    why = f": {joined(tone.faults)}" if "tone" in fails and tone.faults else ""
    where = joined([f"in {name}" for name in fails])
    return f"It is outside the {after.tolerance} tolerance ({allowed}) {where}{why}."


def _tone(verification: Verification) -> str:
    before, after = verification.before.tone, verification.after.tone
    return (
        f"L* departs from the {after.aim} aim by at most {fixed(after.max_delta_L)}, "
        f"{fixed(before.max_delta_L)} before."
    )


def _prediction(verification: Verification) -> str:
    error = verification.prediction_error
    sheets = (
        f"95 % should of the sheets read; of others, with what sheets of one print usually differ "
        f"by, {100 * error.within_sheets:.0f} % do"
    )
    broken = "more was promised than held" + (
        ", or another print was measured" if verification.oddities else ""
    )
    if error.as_stated:
        stated = "95 % should, as far as chance allows"
    else:
        stated = f"{sheets}: {'the promise is kept' if error.kept else broken}"
    return (
        f"The print lies {fixed(error.mean_delta_E00)} ΔE00 from the prediction on average, "
        f"{fixed(error.max_delta_E00)} at most (level {fixed(error.max_at_level)}); "
        f"{100 * error.within_stated:.0f} % of its values lie within the stated uncertainty "
        f"({stated})."
    )


# A verification in the terminal: before, promised and after side by side, then the verdict.

HEAD = ("figure", "before", "promised", "after")

LINES: tuple[tuple[str, Callable[[Analysis], str]], ...] = (
    ("mean ΔCh", lambda one: fixed(one.neutrality.mean_delta_Ch)),
    ("largest ΔCh", lambda one: fixed(one.neutrality.max_delta_Ch)),
    ("at level", lambda one: fixed(one.neutrality.max_at_level)),
    ("verdict", lambda one: one.verdict),
    ("ΔCh of black", lambda one: fixed(one.neutrality.black_delta_Ch)),
    ("RMS ΔL*", lambda one: fixed(one.tone.rms_delta_L)),
    ("largest ΔL*", lambda one: fixed(one.tone.max_delta_L)),
    ("reversals", lambda one: str(len(one.tone.reversals))),
    ("density range", lambda one: fixed(one.tone.density_range)),
    ("L* of paper", lambda one: fixed(float(one.paper[0]), 1)),
    ("L* of black", lambda one: fixed(float(one.black[0]), 1)),
)
"""What is compared, in the terminal and on the page."""


def compared(verification: Verification) -> tuple[tuple[str, str, str, str], ...]:
    """Return a row for each of `LINES`: before, promised, after.

    What the correction promised of ΔCh stands as it was made; the rest is of the predicted ramp.
    """
    promise = verification.promise
    promised = {
        "mean ΔCh": fixed(promise.after_mean_delta_Ch),
        "largest ΔCh": fixed(promise.after_max_delta_Ch),
        "at level": MISSING,
        "verdict": MISSING,
    }
    return tuple(
        (
            name,
            value(verification.before),
            promised.get(name, value(verification.predicted)),
            value(verification.after),
        )
        for name, value in LINES
    )


def show_verification(
    verification: Verification,
    console: Console,
    every: bool = False,
    step: NextStep | None = None,
    written: Path | None = None,
) -> None:
    """Print a verification.

    Parameters
    ----------
    console
        Where to print; it decides about colour (NO_COLOR, not a terminal: none).
    every
        The tables, with every tone.
    step, written
        What to do next, and the report that was written.
    """
    title = (verification.correction, "bold")
    console.print(Text.assemble(title, "  ", (f"round {verification.round}", "dim")))
    console.print()
    if every:
        console.print(side_by_side(verification))
        console.print()
        console.print(tones_table(verification))
        console.print()
    conclude(
        console,
        verification_sentences(verification),
        step,
        remarks=verification.after.remarks,
        rests_on=verification.rests_on,
        every=every,
        written=written,
    )


def side_by_side(verification: Verification) -> Table:
    """Compare the three ramps line by line."""
    table = plain_table("Side by side", HEAD)
    for row in compared(verification):
        table.add_row(*row)
    return table


def tones_table(verification: Verification) -> Table:
    """Return the tones' ΔCh and ΔL* as predicted and as measured, from paper to black."""
    after, predicted = verification.after.patches, verification.predicted.patches
    headings = ("level", "ΔCh predicted", "ΔCh", "ΔL* predicted", "ΔL*", "ΔE00 from prediction")
    table = plain_table("Tones", headings, ())
    for i in range(len(after)):
        table.add_row(
            fixed(after.level[i], 3),
            fixed(predicted.delta_Ch[i]),
            fixed(after.delta_Ch[i]),
            fixed(predicted.delta_L[i]),
            fixed(after.delta_L[i]),
            fixed(verification.delta_E00[i]),
        )
    return table
