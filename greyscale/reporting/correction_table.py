"""A correction in the terminal: what is sent, then what will be removed and what cannot."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.correction.folder import Luts
from greyscale.correction.record import Correction
from greyscale.reporting.conclusion import conclude
from greyscale.reporting.correction_words import (
    correction_sentences,
    lut_sentences,
    trade_off_head,
    trade_off_rows,
)
from greyscale.reporting.next_step import after_correction
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.plain_table import plain_table

_LEVELS = 11


def show_correction(
    correction: Correction,
    luts: Luts,
    folder: Path,
    console: Console,
    every: bool = False,
    further: Sequence[str] = (),
) -> None:
    """Print a correction that was written to a folder.

    Parameters
    ----------
    console
        Where to print; it decides about colour (NO_COLOR, not a terminal: none).
    every
        The tables as well.
    further
        Sentences on what else was written.
    """
    console.print(heading(correction))
    console.print()
    if correction.lights:
        console.print(trade_off_table(correction))
        console.print()
    if every:
        console.print(expectation_table(correction))
        console.print()
        console.print(tones_table(correction))
        console.print()
    conclude(
        console,
        (*correction_sentences(correction), *further),
        after_correction(folder, correction.evidence.tone_alone),
        remarks=(*correction.remarks, *lut_sentences(luts)),
        rests_on=correction.rests_on,
        written=folder,
    )


def heading(correction: Correction) -> Text:
    """Give the name, and what it is for, as one line."""
    known = [correction.printer, correction.paper_name, correction.settings]
    details = [f"round {correction.round}", *(text for text in known if text)]
    if correction.follows:
        details.append(f"follows {correction.follows}")
    return Text.assemble((correction.name, "bold"), "  ", (", ".join(details), "dim"))


def expectation_table(correction: Correction) -> Table:
    """Give the errors now and as expected."""
    expected = correction.expectation
    where = f" under {correction.light}" if correction.lights else ""
    table = plain_table(f"Against the aim{where}", ("figure", "now", "expected"))
    rows = (
        ("mean ΔCh", expected.before_mean_delta_Ch, expected.after_mean_delta_Ch),
        ("largest ΔCh", expected.before_max_delta_Ch, expected.after_max_delta_Ch),
        ("mean ΔL*", expected.before_mean_delta_L, expected.after_mean_delta_L),
        ("largest ΔL*", expected.before_max_delta_L, expected.after_max_delta_L),
    )
    for name, before, after in rows:
        table.add_row(name, fixed(before), fixed(after))
    return table


def trade_off_table(correction: Correction) -> Table:
    """Give what each choice of lights would leave under all of them."""
    table = plain_table("Mean ΔCh expected, by light", trade_off_head(correction))
    for row in trade_off_rows(correction):
        table.add_row(*row)
    return table


def tones_table(correction: Correction) -> Table:
    """Give what is sent and predicted for even steps of level, from paper to black."""
    curve = correction.curve
    levels = np.linspace(1.0, 0.0, _LEVELS)
    sent = curve.apply(np.repeat(levels[:, np.newaxis], 3, axis=1))
    lab = curve.predict(levels)
    table = plain_table("Sent, and predicted", ("level", "R", "G", "B", "L*", "a*", "b*"), ())
    for level, rgb, tone in zip(levels, sent, lab, strict=True):
        table.add_row(
            fixed(level),
            *(fixed(value, 4) for value in rgb),
            fixed(tone[0], 1),
            signed(tone[1]),
            signed(tone[2]),
        )
    return table
