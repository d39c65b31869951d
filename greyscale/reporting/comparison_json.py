"""A comparison of papers as JSON."""

from __future__ import annotations

from typing import Any

from greyscale.analysis.comparison import ComparedPaper, Comparison, orders_by_share
from greyscale.base.rests_on import support_data
from greyscale.checks.spoilt import spoilt_data
from greyscale.reporting.comparison_words import comparison_sentences

COMPARISON_SCHEMA = "greyscale/comparison/1"


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """Give a comparison as plain data, keys as they are documented."""
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
