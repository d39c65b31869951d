"""What readings say of a print's drying, in sentences."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from greyscale.analysis.drying import WITHIN, Drying, DryingSeries
from greyscale.reporting.cast_words import joined
from greyscale.reporting.next_step import after_drying
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.terminal import conclude, plain_table

_MINUTES_TO, _DAYS_FROM = 0.95, 47.5


def time_words(hours: float) -> str:
    """Return a time as a person says it.

    Examples
    --------
    >>> [time_words(hours) for hours in (0.1, 1.46, 24.0, 72.0)]
    ['6 min', '1.5 h', '24 h', '3 days']
    """
    if hours < _MINUTES_TO:
        return f"{60 * hours:.0f} min"
    if hours < _DAYS_FROM:
        return f"{hours:.1f}".removesuffix(".0") + " h" if hours < 10 else f"{hours:.0f} h"
    days = f"{hours / 24:.1f}".removesuffix(".0")
    return f"{days} days"


def range_words(low: float, high: float) -> str:
    """Return a range of times, as "1.3 h to 1.6 h"."""
    first, last = time_words(low), time_words(high)
    return first if first == last else f"{first} to {last}"


def span_words(series: DryingSeries) -> str:
    """Say over which time a print was read."""
    first, last = float(series.hours[0]), float(series.hours[-1])
    if first == 0.0:
        return f"in the {time_words(last)} {series.clock}"
    return f"from {time_words(first)} to {time_words(last)} {series.clock}"


DRY_MEANS = "Dry means dry to measure: framing, stacking and varnishing need longer."


def drying_sentences(drying: Drying) -> list[str]:
    """Say whether the last reading can be trusted, when the print was dry, and what changed."""
    sentences = [_verdict(drying), _settled(drying), _change(drying), _fit(drying), DRY_MEANS]
    return [sentence for sentence in sentences if sentence]


def at_last(drying: Drying) -> str:
    """Name the time of the last reading, as "24 h after printing"."""
    series = drying.series
    return f"{time_words(float(series.hours[-1]))} {series.clock}"


def _verdict(drying: Drying) -> str:
    worst = drying.to_come[np.argmax(drying.to_come[:, 1])]
    most = float(drying.to_come[:, 2].max())
    when = at_last(drying)
    if drying.trusted == "yes":
        return (
            f"Dry: the reading made {when} can be trusted; no tone is more than ΔE00 "
            f"{fixed(max(most, 0.01))} from its final state."
        )
    if drying.trusted == "no":
        return (
            f"Not dry: {when} the tone with most to go is still ΔE00 {fixed(worst[1], 1)} "
            f"({fixed(worst[0], 1)} to {fixed(worst[2], 1)}) from its final state."
        )
    return (
        f"Not yet known whether the print was dry {when}. {drying.why_unknown} "
        f"{again_words(drying)}"
    )


def again_words(drying: Drying) -> str:
    """Say which further reading would settle whether the print is dry."""
    if drying.read_again is None:
        return "Print again, and read it sooner."
    return f"Read it again {time_words(drying.read_again)} {drying.series.clock}."


def _settled(drying: Drying) -> str:
    clock, settled = drying.series.clock, drying.settled
    if settled is None:
        if drying.trusted == "not yet known":
            return ""
        if drying.trusted == "yes":
            return "These readings do not tell since when."
        return f"When it is dry is not yet known. {again_words(drying)}"
    low, middle, high = settled
    first = float(drying.series.hours[0])
    if high <= first + 1e-9:
        return f"It was dry by the first reading, {time_words(first)} {clock}."
    return (
        f"Every tone is within ΔE00 {WITHIN:g} of its final state from {time_words(middle)} "
        f"{clock} on ({range_words(low, high)})."
    )


def _change(drying: Drying) -> str:
    series = drying.series
    span = span_words(series)
    span = span[0].upper() + span[1:]
    if drying.terms == 0 and len(series.hours) > 2:
        return f"{span} nothing changed beyond the noise of the readings."
    most = int(np.argmax(drying.change_E00))
    L, a, b = drying.change[most]
    return (
        f"{span} the tones changed by up to ΔE00 "
        f"{fixed(float(drying.change_E00[most]), 1)}, most at level "
        f"{fixed(float(series.level[most]))}: L* {signed(L, 1)}, a* {signed(a, 1)}, "
        f"b* {signed(b, 1)}, density {signed(float(drying.change_density[most]))}."
    )


def _fit(drying: Drying) -> str:
    if not len(drying.time_constants):
        return ""
    constants = [
        f"{time_words(middle)} ({range_words(low, high)})"
        for low, middle, high in drying.time_constants.tolist()
    ]
    if len(constants) == 1:
        return f"The change dies away by about two thirds every {constants[0]}."
    return (
        "The change dies away in two ways at once, by about two thirds every "
        f"{joined(constants)}: a quick one and a slow one."
    )


# The drying of a print in the terminal.

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
        every=every,
        written=written,
    )


def tone_row(drying: Drying, index: int) -> tuple[str, ...]:
    """Return the cells of one tone: level, L* as last read, changes, what is still to come."""
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
