"""Where every print stands in the terminal: a line each, and what to do next."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill

from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.what_next import NOTHING, InForce
from greyscale.reporting.numbers import MISSING, fixed
from greyscale.reporting.plain_table import plain_table
from greyscale.reporting.status_words import Status, age_words


def show_status(rows: Sequence[Status], console: Console) -> None:
    """Print the rows, the most pressing first, then what to do for each."""
    console.print(status_table(rows))
    console.print()
    for number, row in enumerate(rows, start=1):
        style = "" if row.next.step == NOTHING else "bold"
        lead = f"{number:<3}"
        words = fill(f"{lead}{row.words}", console.width, subsequent_indent=" " * len(lead))
        console.print(Text(words, style=style))
        for command in row.commands:
            # Whole, so that it can be copied: the terminal may break it, not the program.
            console.print(Text(f"   {command}"), soft_wrap=True)
    promises = promise_words(rows)
    if promises:
        console.print()
        console.print(Text(promises))


def promise_words(rows: Sequence[Status]) -> str:
    """Say how many promises were kept; "" where none was put to the proof.

    A promise is kept where the print's tones lie within the uncertainty that the correction
    stated as often as chance would have it.
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
    missed = f"; not all for {'; '.join(short)}" if short and len(rows) > 1 else ""
    return f"{kept} of {total} promise{'s' if total > 1 else ''} kept{missed}."


def status_table(rows: Sequence[Status]) -> Table:
    """Give a line for each printer, paper and settings."""
    table = plain_table(None, ("",), ())
    table.add_column("print", overflow="fold", min_width=18)
    for heading in ("age", "ΔCh", "max", "ΔL*", "Dmax"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("correction", overflow="fold")
    table.add_column("state")
    for number, row in enumerate(rows, start=1):
        one = row.standing
        figures = None if one.latest is None else one.latest.figures
        values = (
            (None,) * 4
            if figures is None
            else (figures.mean_delta_Ch, figures.max_delta_Ch, figures.rms_delta_L, figures.dmax)
        )
        table.add_row(
            str(number),
            row.title,
            MISSING if row.age is None else age_words(row.age),
            *(fixed(value) for value in values),
            correction_words(one.correction),
            one.drift.state,
        )
    return table


def correction_words(made: InForce | None) -> str:
    """Name the correction in force, and say how its proof came out."""
    if made is None:
        return "none"
    title = made.name if made.round == 1 else f"{made.name}, round {made.round}"
    if made.proof is None:
        return f"{title}: not proved"
    return f"{title}: {'proved' if made.proof.within_tolerance else 'proof misses'}"
