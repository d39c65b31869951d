"""A verification in the terminal: before, promised and after side by side, then the verdict."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.analyse import Analysis
from greyscale.correction.verify import Verification
from greyscale.reporting.conclusion import conclude
from greyscale.reporting.next_step import NextStep
from greyscale.reporting.numbers import MISSING, fixed
from greyscale.reporting.plain_table import plain_table
from greyscale.reporting.verification_words import verification_sentences

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
        written=written,
    )


def side_by_side(verification: Verification) -> Table:
    """Compare the three ramps line by line."""
    table = plain_table("Side by side", HEAD)
    for row in compared(verification):
        table.add_row(*row)
    return table


def tones_table(verification: Verification) -> Table:
    """Give the tones' ΔCh and ΔL* as predicted and as measured, from paper to black."""
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
