"""The drying of a print in the terminal."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table

from greyscale.analysis.drying import Drying
from greyscale.reporting.conclusion import conclude
from greyscale.reporting.drying_words import drying_sentences, span_words
from greyscale.reporting.next_step import after_drying
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.plain_table import plain_table

HEAD = ("level", "L*", "ΔL*", "Δa*", "Δb*", "Δdensity", "ΔE00 so far", "ΔE00 to come")
"""Headings of the table of tones."""


def show_drying(
    drying: Drying, console: Console, *, every: bool = False, written: Path | None = None
) -> None:
    """Print how the tones changed, if that is wanted, and then the verdict."""
    if every:
        console.print(_tones(drying))
        console.print()
    conclude(
        console,
        drying_sentences(drying),
        after_drying(drying),
        remarks=drying.series.remarks,
        rests_on=drying.rests_on,
        written=written,
    )


def tone_row(drying: Drying, index: int) -> tuple[str, ...]:
    """Give the cells of one tone: level, L* as last read, changes, what is still to come."""
    series = drying.series
    L, a, b = drying.change[index]
    low, middle, high = drying.to_come[index]
    return (
        fixed(float(series.level[index]), 3),
        fixed(float(series.lab[-1, index, 0]), 1),
        signed(L),
        signed(a),
        signed(b),
        signed(float(drying.change_density[index]), 3),
        fixed(float(drying.change_E00[index])),
        f"{fixed(middle)} ({fixed(low)} to {fixed(high)})",
    )


def _tones(drying: Drying) -> Table:
    title = f"Change {span_words(drying.series)}, {len(drying.series.hours)} readings"
    table = plain_table(title, HEAD, words=())
    for index in range(len(drying.series.level)):
        table.add_row(*tone_row(drying, index))
    return table
