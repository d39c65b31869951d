"""A comparison of papers in the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.comparison import ComparedPaper, Comparison
from greyscale.reporting.comparison_words import comparison_sentences, score_in_words
from greyscale.reporting.grounds import grounds_note
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.plain_table import PlainTable

MOST_LIGHTS = 6
"""So many lights have a column of their own in the terminal."""


def show_comparison(comparison: Comparison, console: Console) -> None:
    """Print a comparison: sentences, ranking, figures under each light, remarks."""
    console.print(Text(" ".join(comparison_sentences(comparison))))
    console.print()
    console.print(_ranking(comparison))
    console.print()
    console.print(_by_light(comparison))
    console.print()
    console.print(Text(score_in_words(comparison), style="dim"))
    for remark in comparison.remarks:
        console.print(Text(f"- {remark}", style="dim"))
    console.print(Text(f"- {grounds_note(comparison.rests_on)}", style="dim"))


def rank_word(paper: ComparedPaper) -> str:
    """Give a rank, with a sign where it is shared.

    A shared rank is written as 2=, as in a race.
    """
    return f"{paper.rank}=" if paper.tied else f"{paper.rank}"


def _plain(title: str) -> Table:
    return PlainTable(title=title, title_justify="left", box=None, padding=(0, 2, 0, 0))


def _ranking(comparison: Comparison) -> Table:
    table = _plain("Papers, best first")
    table.add_column("rank")
    table.add_column("paper", overflow="fold")
    for heading in ("score", "worst light", "a*, b* of paper", "Δb* by UV", "Dmax", "L* range",
                    "RMS ΔL*"):  # fmt: skip
        table.add_column(heading, justify="left" if heading == "worst light" else "right")
    for paper in comparison.papers:
        L_a_b = paper.own.ramp.lab()[paper.own.ramp.paper_index]
        table.add_row(
            rank_word(paper),
            Text(paper.name),
            f"{fixed(paper.score)} ± {fixed(2 * paper.sd)}",
            Text(paper.worst_light),
            f"{signed(L_a_b[1], 1)}, {signed(L_a_b[2], 1)}",
            signed(paper.own.delta_b, 1),
            fixed(paper.dmax),
            fixed(paper.L_range, 1),
            fixed(float(paper.under.rms_delta_L[0])),
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
