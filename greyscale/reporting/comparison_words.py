"""A comparison of papers in sentences: which is best, what decided it, what cannot be told."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.comparison import ComparedPaper, Comparison, orders_by_share
from greyscale.checks import spoilt_words
from greyscale.reporting.cast_words import joined
from greyscale.reporting.next_step import TypedComparison, after_comparison
from greyscale.reporting.numbers import fixed, percent, signed
from greyscale.reporting.terminal import PlainTable, conclude

_MOVES = 0.05
"""A score that is known so well is not spoken of."""


def comparison_sentences(comparison: Comparison) -> tuple[str, ...]:
    """Say what the comparison found: the sentence that matters first."""
    papers = comparison.papers
    best = [paper for paper in papers if paper.rank == 1]
    others = [paper for paper in papers if paper.rank > 1]
    sentences = [_leader(best, others)]
    sentences[0] = f"{_how(comparison)}, {sentences[0]}"
    sentences.extend(spoilt_words(comparison.spoilt))
    sentences.append(_the_other_way(comparison))
    if others and len(comparison.lights) > 1:
        sentences.append(_decided(comparison, best[0], others[0]))
    sentences.extend(_ties(others))
    if len(comparison.lights) > 1:
        sentences.append(_by_share(comparison))
    survives = _survives(best, others)
    if survives:
        sentences.append(survives)
    glass = _glass(comparison, best, others)
    if glass:
        sentences.append(glass)
    stated = _brightener(comparison)
    if stated:
        sentences.append(stated)
    return tuple(sentence[0].upper() + sentence[1:] for sentence in sentences)


def score_in_words(comparison: Comparison) -> str:
    """State the score in one sentence."""
    share = comparison.worst_share
    viewer = "the light" if comparison.viewer == "light" else "the paper"
    mean = "the mean" if len(set(comparison.weights)) == 1 else "the weighted mean"
    return (
        f"The score is {percent(share)} of the mean ΔCh under the paper's worst light and "
        f"{percent(1 - share)} of {mean} over all lights, for a viewer adapted to {viewer}; lower "
        "is better. Scores that the readings' noise, and what two sheets of one paper differ by, "
        "would part by chance in more than one case of twenty are ties."
    )


def _how(comparison: Comparison) -> str:
    return "once each is corrected" if comparison.corrected else "as printed"


def _the_other_way(comparison: Comparison) -> str:
    """Say what the scores would be the other way: as printed, or corrected."""
    ordered = sorted(comparison.papers, key=lambda paper: (paper.other_score, paper.name))
    each = joined([f"{fixed(paper.other_score)} for {paper.name}" for paper in ordered])
    if comparison.corrected:
        return f"As printed, before any correction, the scores are {each}."
    better = (
        "to know it from these readings, leave out --as-printed"
        if comparison.correctable
        else "charts with near-neutral patches would tell"
    )
    return (
        "That is not what corrected prints will do: a correction takes out what all lights show "
        f"alike, and should leave about {each} (an estimate; {better})."
    )


def _leader(best: list[ComparedPaper], others: list[ComparedPaper]) -> str:
    names = joined([paper.name for paper in best])
    if not others:
        return (
            f"{names} cannot be told apart: their scores, {fixed(best[0].score)} to "
            f"{fixed(best[-1].score)}, differ by no more than the readings and the sheets of one "
            "paper do."
        )
    keeps = "keeps its greys" if len(best) == 1 else "keep their greys"
    together = "" if len(best) == 1 else ", and cannot be told apart"
    scores = fixed(best[0].score)
    if len(best) > 1:
        scores = f"{scores} to {fixed(best[-1].score)}"
    return (
        f"{names} {keeps} the most neutral under these lights (score {scores} against "
        f"{fixed(others[0].score)} for {others[0].name}){together}."
    )


def _decided(comparison: Comparison, first: ComparedPaper, second: ComparedPaper) -> str:
    worst = [_figure(comparison, paper, paper.worst_light) for paper in (first, second)]
    means = [_mean(comparison, paper) for paper in (first, second)]
    by_worst = comparison.worst_share * (worst[1] - worst[0])
    by_mean = (1 - comparison.worst_share) * (means[1] - means[0])
    if by_worst >= by_mean:
        return (
            f"The worst light decided it: mean ΔCh {fixed(worst[0])} for {first.name} under "
            f"{first.worst_light}, {fixed(worst[1])} for {second.name} under "
            f"{second.worst_light}."
        )
    return (
        f"The mean over the lights decided it: ΔCh {fixed(means[0])} for {first.name}, "
        f"{fixed(means[1])} for {second.name}."
    )


def _figure(comparison: Comparison, paper: ComparedPaper, light: str) -> float:
    to_light = comparison.viewer == "light"
    under = paper.under
    figures = under.mean_delta_Ch if to_light else under.mean_delta_Ch_to_paper
    return float(figures[comparison.lights.index(light)])


def _mean(comparison: Comparison, paper: ComparedPaper) -> float:
    total = sum(comparison.weights)
    return (
        sum(
            weight * _figure(comparison, paper, light)
            for light, weight in zip(comparison.lights, comparison.weights, strict=True)
        )
        / total
    )


def _ties(others: list[ComparedPaper]) -> list[str]:
    sentences = []
    for rank in sorted({paper.rank for paper in others if paper.tied}):
        group = [paper for paper in others if paper.rank == rank]
        sentences.append(
            f"{joined([paper.name for paper in group])} are tied at rank {rank} "
            f"({fixed(group[0].score)} to {fixed(group[-1].score)})."
        )
    return sentences


def _by_share(comparison: Comparison) -> str:
    """Say how the order depends on the share of the worst light."""
    stretches = orders_by_share(comparison)
    if len(stretches) == 1:
        if len(set(stretches[0][2])) == 1:
            return "No share of the worst light in the score would part them."
        return "The order is the same whatever share the worst light has in the score."
    firsts: list[tuple[float, str]] = []
    for _, last, ranks in stretches:
        pairs = zip(comparison.papers, ranks, strict=True)
        name = joined([paper.name for paper, rank in pairs if rank == 1])
        if firsts and firsts[-1][1] == name:
            firsts.pop()
        firsts.append((last, name))
    if len(firsts) == 1:
        come = "comes" if firsts[0][1] in {paper.name for paper in comparison.papers} else "come"
        return (
            f"Whatever share the worst light has in the score, {firsts[0][1]} {come} first; the "
            "order of the others changes."
        )
    told = [f"{name} up to {percent(last)}" for last, name in firsts[:-1]]
    return (
        f"Which comes first depends on the share of the worst light in the score: {joined(told)}, "
        f"then {firsts[-1][1]}."
    )


def _survives(best: list[ComparedPaper], others: list[ComparedPaper]) -> str:
    """Say whether the best stay the best, whatever is not known of brighteners and lamps.

    Nothing where that hardly moves a score, or all are tied.
    """
    if not others:
        return ""
    wide = [paper for paper in (*best, *others) if paper.high - paper.low > _MOVES]
    if not wide:
        return ""
    # The papers' ranges are taken one against the other: what is sure so is sure.
    rival = min(others, key=lambda paper: paper.low)
    worst = max(paper.high for paper in best)
    if worst < rival.low:
        return "The best stays the best whatever is not known of brighteners and lamps."
    ranges = joined(
        [f"{paper.name} {fixed(paper.low)} to {fixed(paper.high)}" for paper in wide[:4]]
    )
    return (
        "What is not known of brighteners and lamps could change which is best: the scores may be "
        f"{ranges}."
    )


def _glass(comparison: Comparison, best: list[ComparedPaper], others: list[ComparedPaper]) -> str:
    """Say whether the order rests on a glass that nobody measured; nothing without one."""
    if not comparison.glasses or not others:
        return ""
    if comparison.survives_glass:
        return (
            f"The glass is a general curve; the order survives every credible glass "
            f"({comparison.glasses} others tried)."
        )
    ranges = joined(
        [f"{paper.name} {fixed(paper.behind_glass[0])} to {fixed(paper.behind_glass[1])}"
         for paper in (*best, *others)[:4]]
    )  # fmt: skip
    return (
        f"The glass is a general curve, and the order does not survive every credible glass: the "
        f"scores may be {ranges}. Measure yours (greyscale lights --glass)."
    )


def _brightener(comparison: Comparison) -> str:
    """Name the paper whose brightener moves it most between lights, if any moves by 1 or more."""
    moved = [
        (float(shift), paper, light)
        for paper in comparison.papers
        if paper.own.known
        for shift, light in zip(
            paper.under.paper_shift_by_brightener, comparison.lights, strict=True
        )
    ]
    if not moved:
        return ""
    shift, paper, light = max(moved, key=lambda entry: entry[0])
    if shift < 1.0:
        return "No paper's brightener moves it visibly between these lights."
    return (
        f"The brightener of {paper.name} alone moves its bare paper by ΔCh {fixed(shift, 1)} "
        f"between D50 and {light}."
    )


# A comparison of papers in the terminal.

MOST_LIGHTS = 6
"""So many lights have a column of their own in the terminal."""


def show_comparison(
    comparison: Comparison,
    console: Console,
    every: bool = False,
    written: Path | None = None,
    typed: TypedComparison = TypedComparison(),  # noqa: B008
) -> None:
    """Print a comparison: the ranking, the other tables if they are wanted, what was found.

    Parameters
    ----------
    typed
        How it was asked for, for the next step.
    """
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
        after_comparison(comparison, typed),
        remarks=(score_in_words(comparison), *comparison.remarks),
        rests_on=comparison.rests_on,
        every=every,
        written=written,
    )


def rank_word(paper: ComparedPaper) -> str:
    """Return a rank, with a sign where it is shared.

    A shared rank is written as 2=, as in a race.
    """
    return f"{paper.rank}=" if paper.tied else f"{paper.rank}"


def _plain(title: str) -> Table:
    return PlainTable(title=title, title_justify="left", box=None, padding=(0, 2, 0, 0))


def ranked_as(comparison: Comparison) -> str:
    """Say what is ranked."""
    return "corrected for these lights" if comparison.corrected else "as printed"


def other_heading(comparison: Comparison) -> str:
    """Return the heading of the scores the other way."""
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
