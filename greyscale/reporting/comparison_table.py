"""A comparison of papers in the terminal."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.comparison import ComparedPaper, Comparison
from greyscale.reporting.comparison_words import comparison_sentences, score_in_words
from greyscale.reporting.conclusion import conclude
from greyscale.reporting.next_step import after_comparison
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.plain_table import PlainTable

MOST_LIGHTS = 6
"""So many lights have a column of their own in the terminal."""


def show_comparison(
    comparison: Comparison, console: Console, every: bool = False, written: Path | None = None
) -> None:
    """Print a comparison: the ranking, the other tables if they are wanted, what was found."""
    console.print(_ranking(comparison))
    console.print()
    if every:
        console.print(_papers(comparison))
        console.print()
        console.print(_by_light(comparison))
        console.print()
    conclude(
        console,
        comparison_sentences(comparison),
        after_comparison(comparison),
        remarks=(score_in_words(comparison), *comparison.remarks),
        rests_on=comparison.rests_on,
        written=written,
    )


def rank_word(paper: ComparedPaper) -> str:
    """Give a rank, with a sign where it is shared.

    A shared rank is written as 2=, as in a race.
    """
    return f"{paper.rank}=" if paper.tied else f"{paper.rank}"


def _plain(title: str) -> Table:
    return PlainTable(title=title, title_justify="left", box=None, padding=(0, 2, 0, 0))


def ranked_as(comparison: Comparison) -> str:
    """Say what is ranked."""
    return "corrected for these lights" if comparison.corrected else "as printed"


def other_heading(comparison: Comparison) -> str:
    """Give the heading of the scores the other way."""
    return "as printed" if comparison.corrected else "corrected, about"


def _ranking(comparison: Comparison) -> Table:
    table = _plain(f"Papers {ranked_as(comparison)}, best first")
    table.add_column("rank")
    table.add_column("paper", overflow="fold")
    for heading in ("score", other_heading(comparison), "worst light", "Dmax"):
        table.add_column(
            heading,
            justify="left" if heading == "worst light" else "right",
            no_wrap=heading != "worst light",
        )
    for paper in comparison.papers:
        table.add_row(
            rank_word(paper),
            Text(paper.name),
            f"{fixed(paper.score)} ± {fixed(2 * paper.sd)}",
            fixed(paper.other_score),
            Text(paper.worst_light),
            fixed(paper.dmax),
        )
    return table


def _papers(comparison: Comparison) -> Table:
    table = _plain("Paper white, and the tone scale")
    table.add_column("paper", overflow="fold")
    for heading in ("a* of paper", "b* of paper", "Δb* by UV", "L* range", "shadows from"):
        table.add_column(heading, justify="right")
    for paper in comparison.papers:
        L_a_b = paper.own.ramp.lab()[paper.own.ramp.paper_index]
        table.add_row(
            Text(paper.name),
            signed(L_a_b[1], 1),
            signed(L_a_b[2], 1),
            signed(paper.own.delta_b, 1),
            fixed(paper.L_range, 1),
            fixed(paper.shadow),
        )
    return table


def _by_light(comparison: Comparison) -> Table:
    table = _plain("Mean ΔCh under each light (the range where it is not known)")
    table.add_column("paper", overflow="fold")
    for light in comparison.lights[:MOST_LIGHTS]:
        table.add_column(Text(light, overflow="fold"), justify="right")
    for paper in comparison.papers:
        under = paper.under
        figures = (
            under.mean_delta_Ch if comparison.viewer == "light" else under.mean_delta_Ch_to_paper
        )
        cells = [
            with_range(float(figures[i]), float(under.brightener_low[i]),
                       float(under.brightener_high[i]), comparison.viewer == "light")
            for i in range(min(MOST_LIGHTS, len(comparison.lights)))
        ]  # fmt: skip
        table.add_row(Text(paper.name), *cells)
    return table


def with_range(value: float, low: float, high: float, known_for_viewer: bool = True) -> str:
    """Print a figure, and the range it may lie in where that is wider than a rounding.

    Examples
    --------
    >>> with_range(1.2, 1.2, 1.2), with_range(1.2, 1.1, 3.4)
    ('1.20', '1.20 (1.10–3.40)')
    """
    if not known_for_viewer or high - low < 0.05:
        return fixed(value)
    return f"{fixed(value)} ({fixed(min(low, value))}–{fixed(max(high, value))})"
