"""A folder with everything on a comparison: page, figures, JSON."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from greyscale.analysis.comparison import ComparedPaper, Comparison, orders_by_share
from greyscale.base.json_output import json_text
from greyscale.base.rests_on import support_data
from greyscale.checks.spoilt import spoilt_data
from greyscale.colorimetry.individuals import COUNT
from greyscale.reporting.cast_words import joined
from greyscale.reporting.comparison_words import (
    comparison_sentences,
    other_heading,
    rank_word,
    ranked_as,
    score_in_words,
    with_range,
)
from greyscale.reporting.figures.papers import (
    MOST_LIGHTS,
    MOST_PAPERS,
    papers_by_lights,
    papers_drift,
    papers_strips,
)
from greyscale.reporting.next_step import TypedComparison, after_comparison
from greyscale.reporting.numbers import day, fixed, signed
from greyscale.reporting.page import CAUTIONS, Picture, Prose, Report, Section, Switch, Table
from greyscale.reporting.swatches import SIMULATED

# A comparison of papers as JSON.

COMPARISON_SCHEMA = "greyscale/comparison/1"


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """Return a comparison as plain data, keys as they are documented."""
    return {
        "schema": COMPARISON_SCHEMA,
        "corrected": comparison.corrected,
        "lights": list(comparison.lights),
        "papers": [_paper(comparison, paper) for paper in comparison.papers],
        "summary": " ".join(comparison_sentences(comparison)),
        "weights": dict(zip(comparison.lights, comparison.weights, strict=True)),
        "worst_share": comparison.worst_share,
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
        "viewer": comparison.viewer,
        "neutral": comparison.neutral,
        "aim": comparison.tone,
        "scaling": comparison.scaling,
        "observer": comparison.observer,
        "glasses": comparison.glasses,
        "order_survives_glass": comparison.survives_glass if comparison.glasses else None,
        "spoilt": spoilt_data(comparison.spoilt),
        "remarks": list(comparison.remarks),
        "rests_on": support_data(comparison.rests_on),
    }


def _paper(comparison: Comparison, paper: ComparedPaper) -> dict[str, Any]:
    return {
        "name": paper.name,
        "source": paper.source,
        "rank": paper.rank,
        "tied": paper.tied,
        "score": paper.score,
        "score_sd": paper.sd,
        "score_range": [paper.low, paper.high],
        "score_as_printed" if comparison.corrected else "score_corrected": paper.other_score,
        "score_behind_credible_glass": list(paper.behind_glass) if comparison.glasses else None,
        "worst_light": paper.worst_light,
        "by_light": {light: _under(paper, index) for index, light in enumerate(comparison.lights)},
        "dmax": paper.dmax,
        "distinct_shadow_level": paper.shadow,
        "L_range": paper.L_range,
        "brightener": paper.own.delta_b,
        "condition": paper.condition,
        "backing": paper.backing,
    }


def _under(paper: ComparedPaper, index: int) -> dict[str, Any]:
    under = paper.under
    return {
        "mean_delta_Ch": under.mean_delta_Ch[index],
        "max_delta_Ch": under.max_delta_Ch[index],
        "paper_a": under.paper_ab[index, 0],
        "paper_b": under.paper_ab[index, 1],
        "max_metamerism_index": under.max_metamerism_index[index],
        "mean_metamerism_index": under.mean_metamerism_index[index],
        "mean_delta_Ch_to_paper": under.mean_delta_Ch_to_paper[index],
        "max_delta_Ch_to_paper": under.max_delta_Ch_to_paper[index],
        "mean_colour_inconstancy": under.mean_inconstancy[index],
        "max_colour_inconstancy": under.max_inconstancy[index],
        "L_range": under.L_range[index],
        "rms_delta_L": under.rms_delta_L[index],
        "mean_delta_Ch_sd": under.sd_mean_delta_Ch[index],
        "mean_delta_Ch_observers": [under.observers_low[index], under.observers_high[index]],
        "mean_delta_Ch_brightener": [under.brightener_low[index], under.brightener_high[index]],
        "paper_shift_by_brightener": under.paper_shift_by_brightener[index],
        "greys_shift_by_brightener": under.greys_shift_by_brightener[index],
    }


# The report of a comparison: its words, pictures and numbers, in reading order.

KIND = "Papers under gallery light"


def comparison_report(
    comparison: Comparison,
    command: str = "",
    typed: TypedComparison = TypedComparison(),  # noqa: B008
) -> Report:
    """Make the report of a comparison.

    Parameters
    ----------
    typed
        How it was asked for, for the next step.
    """
    first, *others = comparison_sentences(comparison)
    sections = (
        Section("Papers and lights", (_heat(comparison), Prose(score_in_words(comparison)))),
        Section("Light by light", (_switch(comparison),)),
        Section("All papers under all lights", (*_drift(comparison), _ranking(comparison))),
        Section("Brightener", _brightener(comparison)),
    )
    title = joined([paper.name for paper in comparison.papers])
    if len(comparison.papers) > 4:
        title = f"{len(comparison.papers)} papers"
    return Report(
        KIND,
        title,
        (first, " ".join(others)) if others else (first,),
        sections,
        _facts(comparison),
        (SIMULATED, _SEEN_UNDER, *CAUTIONS),
        command,
        comparison.rests_on,
        after_comparison(comparison, typed),
        tuple(paper.source for paper in comparison.papers),
        {"comparison.json": json_text(comparison_data(comparison))},
    )


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
        tuple(
            (
                light,
                (
                    Picture(
                        partial(papers_strips, (comparison, index)),
                        f"strips-{index + 1}",
                        alt=f"The ramps of the papers as strips under {light}, best paper first.",
                        caption=f"Simulated: each ramp, {ranked_as(comparison)}, as it is seen "
                        f"under {light}.",
                    ),
                    Picture(
                        partial(papers_drift, (comparison, (index,))),
                        f"drift-{index + 1}",
                        alt=f"Δa* and Δb* of each paper from the neutral aim, over level, under "
                        f"{light}.",
                        caption=f"{ranked_as(comparison).capitalize()}. {_FROM_AIM}",
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
                caption=f"{which} {ranked_as(comparison)}, under {shown}. {_FROM_AIM}",
            )
        )
    return pictures


def _ranking(comparison: Comparison) -> Table:
    rows = tuple(
        (
            paper.name,
            rank_word(paper),
            fixed(paper.score),
            fixed(2 * paper.sd),
            fixed(paper.other_score),
            paper.worst_light,
            fixed(paper.dmax),
            fixed(paper.L_range, 1),
            fixed(paper.shadow),
            fixed(float(paper.under.rms_delta_L[0])),
        )
        for paper in comparison.papers
    )
    head = (
        "paper", "rank", "score", "± 2 sd", other_heading(comparison), "worst light", "Dmax",
        "L* range", "shadows from level", "RMS ΔL*",
    )  # fmt: skip
    caption = f"Papers {ranked_as(comparison)}, best first"
    return Table(head, rows, caption, frozenset({0, 1, 5}))


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
    return (
        ("Papers", joined([paper.name for paper in comparison.papers])),
        ("Condition", first.condition or "not stated"),
        ("Backing", first.backing or "not stated"),
        *((("Instrument", joined(instruments)),) if instruments else ()),
        *((("Measured", joined(measured)),) if measured else ()),
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
        *((("Remark" if i == 0 else ""), text) for i, text in enumerate(comparison.remarks)),
    )
