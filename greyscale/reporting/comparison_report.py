"""A comparison of papers: in sentences, as JSON, and as a report."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, partial
from itertools import islice

import numpy as np

from greyscale.analysis.comparison import ComparedPaper, Comparison, orders_by_share
from greyscale.base.plain_text import MISSING, day, fixed, joined, percent, rank_word, signed
from greyscale.base.rests_on import support_data
from greyscale.base.results import json_text
from greyscale.checks.finding import spoilt_data
from greyscale.checks.spoilt import spoilt_words
from greyscale.colorimetry.individuals import COUNT
from greyscale.reporting.figures.papers import (
    MOST_LIGHTS,
    MOST_PAPERS,
    papers_by_lights,
    papers_drift,
    papers_strips,
    seen_by_viewer,
)
from greyscale.reporting.json_output import Data, picked
from greyscale.reporting.next_step import TypedComparison, after_comparison
from greyscale.reporting.page import (
    CAUTIONS,
    Picture,
    Prose,
    Report,
    Rows,
    Section,
    Switch,
    Table,
    known_facts,
)
from greyscale.reporting.style import SIMULATED

_MOVES = 0.05
"""A score that is known so well is not spoken of."""

_NAMED = 12
"""A sentence names so many papers, and says how many more there are."""


def comparison_sentences(comparison: Comparison) -> tuple[str, ...]:
    """Say what the comparison found: the sentence that matters first."""
    best = [paper for paper in comparison.papers if paper.rank == 1]
    others = [paper for paper in comparison.papers if paper.rank > 1]
    several = len(comparison.lights) > 1
    how = "once each is corrected" if comparison.corrected else "as printed"
    sentences = (
        f"{how}, {_leader(best, others)}",
        *spoilt_words(comparison.spoilt),
        _the_other_way(comparison),
        _decided(comparison, best[0], others[0]) if others and several else "",
        *_ties(others),
        _by_share(comparison) if several else "",
        _survives(best, others),
        _glass(comparison, best, others),
        _by_brightener(comparison),
    )
    return tuple(sentence[0].upper() + sentence[1:] for sentence in sentences if sentence)


def score_in_words(comparison: Comparison) -> str:
    """State the score in one sentence."""
    share = comparison.worst_share
    viewer = "the light" if comparison.viewer == "light" else "the paper"
    mean = "the mean" if len(set(comparison.weights)) == 1 else "the weighted mean"
    return (
        f"The score is {percent(share)} of the mean ΔCh under the paper's worst light and "
        f"{percent(1 - share)} of {mean} over all lights, for a viewer adapted to {viewer}; lower "
        "is better. Papers are tied where the readings' noise, and what two sheets of one paper "
        "differ by, would part their scores by chance in more than one case in twenty."
    )


def _the_other_way(comparison: Comparison) -> str:
    """Say what the scores would be the other way: as printed, or corrected."""
    ordered = sorted(comparison.papers, key=lambda paper: (paper.other_score, paper.name))
    each = joined(
        [f"{fixed(paper.other_score)} for {paper.name}" for paper in ordered], most=_NAMED
    )
    if comparison.corrected:
        return f"As printed, before any correction, the scores are {each}."
    better = (
        "to know it from these readings, leave out --as-printed"
        if comparison.correctable
        else "charts with near-neutral patches would tell"
    )
    return (
        "That is not what corrected prints will do: a correction removes what all lights show "
        f"alike, and should leave about {each} (an estimate; {better})."
    )


def _leader(best: list[ComparedPaper], others: list[ComparedPaper]) -> str:
    names = _named(best)
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


def _named(papers: Sequence[ComparedPaper]) -> str:
    return joined([paper.name for paper in papers], most=_NAMED)


def _decided(comparison: Comparison, first: ComparedPaper, second: ComparedPaper) -> str:
    worst, means = [], []
    for paper in (first, second):
        seen = seen_by_viewer(comparison, paper)
        worst.append(float(seen[comparison.lights.index(paper.worst_light)]))
        means.append(float(np.average(seen, weights=comparison.weights)))
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


def _ties(others: list[ComparedPaper]) -> list[str]:
    sentences = []
    for rank in sorted({paper.rank for paper in others if paper.tied}):
        group = [paper for paper in others if paper.rank == rank]
        sentences.append(
            f"{_named(group)} are tied at rank {rank} "
            f"({fixed(group[0].score)} to {fixed(group[-1].score)})."
        )
    return sentences


def _by_share(comparison: Comparison) -> str:
    """Say how the order depends on the share of the worst light."""
    stretches = orders_by_share(comparison)
    if len(stretches) == 1:
        if len(set(stretches[0][2])) == 1:
            return "They stay tied whatever share the worst light has in the score."
        return "The order is the same whatever share the worst light has in the score."
    firsts: list[tuple[float, str]] = []
    for _, last, ranks in stretches:
        pairs = zip(comparison.papers, ranks, strict=True)
        name = _named([paper for paper, rank in pairs if rank == 1])
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

    Nothing where that hardly moves a score.
    """
    # Ranges take long: of many papers, only those are computed that the answer rests on.
    every = (paper for paper in (*best, *others) if paper.high - paper.low > _MOVES)
    wide = list(islice(every, 4))
    if not wide:
        return ""
    # The papers' ranges are taken one against the other: what is sure so is sure. A score lies in
    # its range.
    least = min((paper.score for paper in others), default=-np.inf)
    if all(paper.high < least for paper in best):
        worst = max(paper.high for paper in best)
        if all(worst < paper.low for paper in others):
            return "The best stays the best, whatever is still unknown about brighteners and lamps."
    ranges = joined([f"{paper.name} {fixed(paper.low)} to {fixed(paper.high)}" for paper in wide])
    what = "change which is best" if others else "part them"
    return (
        f"What is still unknown about brighteners and lamps could {what}: the scores may be "
        f"{ranges}."
    )


def _glass(comparison: Comparison, best: list[ComparedPaper], others: list[ComparedPaper]) -> str:
    """Say whether the order rests on a glass that nobody measured; nothing without one."""
    if not comparison.glasses:
        return ""
    if others and comparison.survives_glass:
        return (
            f"The glass is a general curve; the order survives every credible glass "
            f"({comparison.glasses} others tried)."
        )
    ranges = joined(
        [f"{paper.name} {fixed(paper.behind_glass[0])} to {fixed(paper.behind_glass[1])}"
         for paper in (*best, *others)[:4]]
    )  # fmt: skip
    lost = ", and the order does not survive every credible glass" if others else ""
    return (
        f"The glass is a general curve{lost}: behind {comparison.glasses} others as credible the "
        f"scores are {ranges}. Measure yours (greyscale lights --glass)."
    )


def _by_brightener(comparison: Comparison) -> str:
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


def comparison_data(comparison: Comparison) -> Data:
    """Return a comparison as plain data, keys as they are documented."""
    return {
        "schema": "greyscale/comparison/1",
        "lights": list(comparison.lights),
        "papers": [_paper(comparison, paper) for paper in comparison.papers],
        "summary": " ".join(comparison_sentences(comparison)),
        "weights": dict(zip(comparison.lights, comparison.weights, strict=True)),
        "by_worst_share": [
            {
                "from": first,
                "to": last,
                "ranks": {
                    paper.name: rank for paper, rank in zip(comparison.papers, ranks, strict=True)
                },
            }
            for first, last, ranks in orders_by_share(comparison)
        ],
        **picked(
            comparison, "corrected", "worst_share", "viewer", "neutral", "scaling", "observer",
            "glasses",
        ),
        "aim": comparison.tone,
        "order_survives_glass": comparison.survives_glass if comparison.glasses else None,
        "spoilt": spoilt_data(comparison.spoilt),
        "remarks": list(comparison.remarks),
        "rests_on": support_data(comparison.rests_on),
    }  # fmt: skip


def _paper(comparison: Comparison, paper: ComparedPaper) -> Data:
    return {
        **picked(
            paper, "name", "source", "rank", "tied", "score", "worst_light", "dmax", "L_range",
            "condition", "backing",
        ),
        "score_sd": paper.sd,
        "score_range": [paper.low, paper.high],
        "score_as_printed" if comparison.corrected else "score_corrected": paper.other_score,
        "score_behind_credible_glass": list(paper.behind_glass) if comparison.glasses else None,
        "by_light": {light: _under(paper, index) for index, light in enumerate(comparison.lights)},
        "distinct_shadow_level": paper.shadow,
        "brightener": paper.own.delta_b,
    }  # fmt: skip


def _under(paper: ComparedPaper, index: int) -> Data:
    under = paper.under
    alike = picked(
        under, "mean_delta_Ch", "max_delta_Ch", "mean_metamerism_index", "max_metamerism_index",
        "mean_delta_Ch_to_paper", "max_delta_Ch_to_paper", "L_range", "rms_delta_L",
        "paper_shift_by_brightener", "greys_shift_by_brightener",
    )  # fmt: skip
    return {
        **{name: values[index] for name, values in alike.items()},
        "paper_a": under.paper_ab[index, 0],
        "paper_b": under.paper_ab[index, 1],
        "mean_colour_inconstancy": under.mean_inconstancy[index],
        "max_colour_inconstancy": under.max_inconstancy[index],
        "mean_delta_Ch_sd": under.sd_mean_delta_Ch[index],
        "mean_delta_Ch_observers": [under.observers_low[index], under.observers_high[index]],
        "mean_delta_Ch_brightener": [under.brightener_low[index], under.brightener_high[index]],
    }


def comparison_report(
    comparison: Comparison,
    command: str = "",
    typed: TypedComparison = TypedComparison(),  # noqa: B008
) -> Report:
    """Make the report of a comparison."""
    sections = (
        Section("Papers and lights", (_heat(comparison), Prose(score_in_words(comparison)))),
        Section("Light by light", (_switch(comparison),)),
        Section("All papers under all lights", (*_drift(comparison), ranking(comparison))),
        Section("Brightener", _brightener(comparison)),
    )
    title = joined([paper.name for paper in comparison.papers])
    if len(comparison.papers) > 4:
        title = f"{len(comparison.papers)} papers"
    return Report(
        "Papers under gallery light",
        title, comparison_sentences(comparison), sections, _facts(comparison),
        (SIMULATED, _SEEN_UNDER, *CAUTIONS), command, comparison.rests_on,
        after_comparison(comparison, typed), tuple(paper.source for paper in comparison.papers),
        lambda: {"comparison.json": json_text(comparison_data(comparison))},
        remarks=(score_in_words(comparison), *comparison.remarks),
    )  # fmt: skip


def _ranked_as(comparison: Comparison) -> str:
    return "corrected for these lights" if comparison.corrected else "as printed"


def with_range(value: float, low: float, high: float) -> str:
    """Print a figure, and the range it may lie in where that is wider than a rounding.

    Examples
    --------
    >>> with_range(1.2, 1.2, 1.2), with_range(1.2, 1.1, 3.4)
    ('1.20', '1.20 (1.10–3.40)')
    """
    if high - low < 0.05:
        return fixed(value)
    return f"{fixed(value)} ({fixed(min(low, value))}–{fixed(max(high, value))})"


_SEEN_UNDER = (
    "Under each light a strip shows the print's CIELAB against that light's own white, for "
    "eyes adapted to that light; how bright or how warm the light itself is, it does not "
    "show."
)


def _heat(comparison: Comparison) -> Picture:
    best, worst = comparison.papers[0], comparison.papers[-1]
    return Picture(
        partial(papers_by_lights, comparison),
        "papers-by-lights",
        alt=(
            f"Table of mean ΔCh of {len(comparison.papers)} papers under "
            f"{joined(comparison.lights)}. Best is {best.name} with a score of "
            f"{fixed(best.score)}, last {worst.name} with {fixed(worst.score)}."
        ),
        caption="Mean ΔCh from the neutral aim, paper and black left out. The darker, the "
        "farther from neutral. A rank with = is shared.",
    )


def _switch(comparison: Comparison) -> Switch:
    return Switch(
        "Light",
        lambda: (
            (
                light,
                (
                    Picture(
                        partial(papers_strips, (comparison, index)),
                        f"strips-{index + 1}",
                        alt=f"The ramps of the papers as strips under {light}, best paper first.",
                        caption=f"Simulated: each ramp, {_ranked_as(comparison)}, as it is seen "
                        f"under {light}.",
                    ),
                    Picture(
                        partial(papers_drift, (comparison, (index,))),
                        f"drift-{index + 1}",
                        alt=f"Δa* and Δb* of each paper from the neutral aim, over level, under "
                        f"{light}.",
                        caption=f"{_ranked_as(comparison).capitalize()}. {_FROM_AIM}",
                    ),
                    _light_table(comparison, index),
                ),
            )
            for index, light in enumerate(comparison.lights)
        ),
    )


def _light_table(comparison: Comparison, index: int) -> Table:
    rows = []
    for paper in comparison.papers:
        under = paper.under
        rows.append(
            (
                paper.name,
                with_range(
                    float(under.mean_delta_Ch[index]),
                    float(under.brightener_low[index]),
                    float(under.brightener_high[index]),
                ),
                fixed(float(under.max_delta_Ch[index])),
                f"{fixed(float(under.observers_low[index]))}–"
                f"{fixed(float(under.observers_high[index]))}",
                fixed(float(under.mean_delta_Ch_to_paper[index])),
                f"{signed(float(under.paper_ab[index, 0]), 1)}, "
                f"{signed(float(under.paper_ab[index, 1]), 1)}",
                fixed(float(under.mean_metamerism_index[index])),
                fixed(float(under.max_metamerism_index[index])),
                fixed(float(under.max_inconstancy[index])),
            )
        )
    head = (
        "paper", "mean ΔCh", "max ΔCh", "95 % of viewers", "adapted to paper", "paper a*, b*",
        "mean index", "max index", "max inconstancy",
    )  # fmt: skip
    caption = (
        "95 % of viewers: within these, 95 % of people aged 20 to 70 see the mean ΔCh "
        "(individual observers after Asano, Fairchild and Blondé 2016)"
    )
    return Table(head, tuple(rows), caption, frozenset({0}))


_FROM_AIM = (
    "Neutral is the dashed line at 0. Above it a tone is reddish (Δa*) or yellowish (Δb*), below "
    "it greenish or bluish."
)


def _drift(comparison: Comparison) -> list[Picture]:
    """Picture all papers under all lights, as many lights at a time as go side by side."""
    lights = range(len(comparison.lights))
    which = "The first papers" if len(comparison.papers) > MOST_PAPERS else "The papers"
    pictures = []
    for first in lights[::MOST_LIGHTS]:
        some = tuple(lights[first : first + MOST_LIGHTS])
        shown = joined([comparison.lights[light] for light in some])
        pictures.append(
            Picture(
                partial(papers_drift, (comparison, some)),
                f"drift-from-{first + 1}" if first else "drift",
                alt=f"Small panels of Δa* and Δb* from the neutral aim over level, a row for each "
                f"paper and a column for each light: {shown}.",
                caption=f"{which} {_ranked_as(comparison)}, under {shown}. {_FROM_AIM}",
            )
        )
    return pictures


def ranking(comparison: Comparison) -> Table:
    """The papers, best first, with what counts beside the score."""

    def row(paper: ComparedPaper) -> tuple[str, ...]:
        return (
            paper.name,
            rank_word(paper.rank, paper.tied),
            with_range(paper.score, paper.low, paper.high),
            fixed(2 * paper.sd),
            fixed(paper.other_score),
            paper.worst_light,
            fixed(paper.dmax),
            fixed(paper.shadow),
            fixed(float(paper.under.rms_delta_L[0])),
            ", ".join(signed(float(value), 1) for value in paper.under.paper_ab[0]),
            signed(paper.own.delta_b, 1) if paper.own.known else MISSING,
        )

    other_way = "as printed" if comparison.corrected else "corrected, about"
    head = (
        "paper", "rank", "score", "± 2 sd", other_way, "worst light", "Dmax",
        "shadows from level", "RMS ΔL*", "paper a*, b*", "Δb* by UV",
    )  # fmt: skip
    first = comparison.lights[0]
    caption = f"Papers {_ranked_as(comparison)}, best first; tone and bare paper under {first}"
    rows = Rows(comparison.papers, cache(row))
    return Table(head, rows, caption, frozenset({0, 1, 5}), at_once=True)


def _brightener(comparison: Comparison) -> tuple[Prose | Table, ...]:
    known = [paper for paper in comparison.papers if paper.own.known]
    explained = Prose(
        "A brightener turns ultraviolet into blue light, so a brightened paper is bluer the more "
        "ultraviolet there is in the light. The figure is Δb* of the bare paper, M1 (with "
        "ultraviolet) against M2 (without), under D50; the columns say how far the brightener "
        "alone moves paper and greys between D50 and a light."
    )
    if not known:
        return (
            explained,
            Prose(
                "No paper was read in both M1 and M2, so no figure is known. Where a mean ΔCh is "
                "given with a range, the range is what a brightener may make of it."
            ),
        )
    rows = tuple(
        (
            paper.name,
            signed(paper.own.delta_b, 1),
            *(
                f"{fixed(float(on_paper), 1)} / {fixed(float(on_greys), 1)}"
                for on_paper, on_greys in zip(
                    paper.under.paper_shift_by_brightener,
                    paper.under.greys_shift_by_brightener,
                    strict=True,
                )
            ),
        )
        for paper in known
    )
    head = ("paper", "Δb* by UV", *comparison.lights)
    caption = "ΔCh that the brightener alone adds to the shift from D50: paper / mean of the greys"
    return explained, Table(head, rows, caption, frozenset({0}))


def _facts(comparison: Comparison) -> tuple[tuple[str, str], ...]:
    first = comparison.papers[0]
    tones = sorted({len(paper.own.ramp.level) for paper in comparison.papers})
    repeats = [paper.own.ramp.repeatability for paper in comparison.papers]
    known = [one.sd_Ch for one in repeats if one.known]
    readings = [paper.own.ramp.reading for paper in comparison.papers]
    instruments = list(dict.fromkeys(one.instrument for one in readings if one.instrument))
    measured = list(dict.fromkeys(day(one.created) for one in readings if one.created))
    rows = (
        ("Papers", joined([paper.name for paper in comparison.papers])),
        ("Condition", first.condition or "not stated"),
        ("Backing", first.backing or "not stated"),
        ("Instrument", joined(instruments)),
        ("Measured", joined(measured)),
        ("Tones", f"{tones[0]} to {tones[-1]} on each ramp" if len(tones) > 1 else f"{tones[0]}"),
        ("Lights", joined(comparison.lights)),
        ("Neutral aim", f"{comparison.neutral}, with paper and black as under each light"),
        ("Tone aim", f"{comparison.tone}, scaled {comparison.scaling}"),
        (
            "Observer",
            f"{comparison.observer}°; the range of viewers is that of {COUNT} individual observers",
        ),
        (
            "Repeats",
            f"standard deviation {fixed(float(np.mean(known)))} in a*, b* (mean of "
            f"{len(known)} readings)"
            if known
            else "nothing was measured twice; 0.15 assumed",
        ),
    )
    return known_facts(rows, comparison.remarks)
