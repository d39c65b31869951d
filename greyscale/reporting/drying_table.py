"""The drying of a print in the terminal."""

from __future__ import annotations

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.drying import Drying
from greyscale.colorimetry.arrays import Indices
from greyscale.reporting.drying_words import drying_sentences, span_words
from greyscale.reporting.grounds import grounds_note
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.plain_table import plain_table

HEAD = ("level", "L*", "ΔL*", "Δa*", "Δb*", "Δdensity", "ΔE00 so far", "ΔE00 to come")
"""Headings of the table of tones."""

_FEW = 9


def show_drying(drying: Drying, console: Console, *, every: bool = False) -> None:
    """Print the verdict, then how the tones changed; nine tones of many, unless all are wanted."""
    console.print(Text(" ".join(drying_sentences(drying))))
    console.print()
    console.print(_tones(drying, every))
    for remark in drying.series.remarks:
        console.print(Text(f"- {remark}", style="dim"))
    console.print(Text(f"- {grounds_note(drying.rests_on)}", style="dim"))


def shown_tones(drying: Drying, most: int = _FEW) -> Indices:
    """Give the indices of so many tones, evenly spread from paper to black."""
    count = len(drying.series.level)
    return np.unique(np.linspace(0, count - 1, min(most, count)).round().astype(np.intp))


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


def _tones(drying: Drying, every: bool) -> Table:
    title = f"Change {span_words(drying.series)}, {len(drying.series.hours)} readings"
    table = plain_table(title, HEAD, words=())
    rows = range(len(drying.series.level)) if every else shown_tones(drying)
    for index in rows:
        table.add_row(*tone_row(drying, int(index)))
    return table
