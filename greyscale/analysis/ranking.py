"""Which of some papers is best, and which cannot be told apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike

WORST_SHARE = 0.5
"""How much of the score the worst light makes; the rest is the mean over the lights."""

TIE = 2.0
"""Scores closer than this many standard deviations of their difference are tied."""


@dataclass(frozen=True, eq=False)
class Score:
    """What papers score, lower being better; arrays of shape (papers,).

    Attributes
    ----------
    score
        `worst_share` times the worst light's figure, plus the rest times the weighted mean.
    sd
        Standard deviation of the score from the readings' repeatability.
    worst_light
        Index of the light that is worst for each paper.
    """

    score: Array
    sd: Array
    worst_light: Array


def score_papers(
    figures: ArrayLike, sd: ArrayLike, weights: ArrayLike, worst_share: float = WORST_SHARE
) -> Score:
    """Score papers by a figure of theirs under each light.

    Parameters
    ----------
    figures, sd
        Shape (papers, lights): the figure, as mean ΔCh, and its standard deviation.
    weights
        Shape (lights,): the lights' weights in the mean; a light of weight 0 cannot be the worst.
    worst_share
        Share of the worst light, 0 to 1.

    Examples
    --------
    >>> score_papers([[1.0, 3.0]], [[0.0, 0.0]], [1.0, 1.0]).score.tolist()
    [2.5]
    """
    values, deviations = np.asarray(figures, dtype=float), np.asarray(sd, dtype=float)
    share = np.asarray(weights, dtype=float) / np.sum(weights)
    worst = np.argmax(np.where(share > 0, values, -np.inf), axis=1)
    rows = np.arange(len(values))
    # The same patches are looked at under every light, so the deviations of the lights go
    # together, and add up as they stand.
    return Score(
        worst_share * values[rows, worst] + (1 - worst_share) * values @ share,
        worst_share * deviations[rows, worst] + (1 - worst_share) * deviations @ share,
        worst,
    )


def rank(score: Array, sd: Array, names: Sequence[str]) -> list[int]:
    """Rank papers; papers that cannot be told from the best of their group share its rank.

    Returns
    -------
    Each paper's rank from 1, in the order of `score`; the order of the papers changes nothing.

    Examples
    --------
    >>> rank(np.array([0.5, 2.0, 0.6]), np.array([0.1, 0.1, 0.1]), ["a", "b", "c"])
    [1, 3, 1]
    """
    order = sorted(range(len(score)), key=lambda i: (score[i], names[i]))
    ranks = [0] * len(score)
    first = order[0]
    for position, paper in enumerate(order, start=1):
        apart = score[paper] - score[first]
        if position == 1 or apart > TIE * float(np.hypot(sd[paper], sd[first])):
            first = paper
            ranks[paper] = position
        else:
            ranks[paper] = ranks[first]
    return ranks
