"""How far from its aims a print may be, in tint and in tone: the grades, as data; and the score of
what is left under several lights."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.base.errors import not_known
from greyscale.colorimetry.arrays import Array, ArrayLike


@dataclass(frozen=True)
class Tolerance:
    """One grade: limits on the tint and on the tone of a grey ramp.

    Attributes
    ----------
    name
        What the grade is called in options and results.
    mean_delta_Ch, max_delta_Ch
        The largest mean (over L*) and the largest single ΔCh that still pass.
    origin
        Where these come from.
    mean_delta_L, max_delta_L
        The largest mean (over L*) and the largest single departure from the tone aim, L* units,
        that still pass; common practice, no source.
    shadow_level
        The level from which on tones must be told from black, at the latest; common practice, no
        source. That L* never falls as level rises is asked for by every grade.
    """

    name: str
    mean_delta_Ch: float
    max_delta_Ch: float
    origin: str
    mean_delta_L: float = 2.0
    max_delta_L: float = 4.0
    shadow_level: float = 0.06

    def verdict(self, mean_delta_Ch: float, max_delta_Ch: float) -> str:
        """Say "pass" or "fail" of a tint; a value on the limit passes.

        Examples
        --------
        >>> tolerance("contract-proof").verdict(2.0, 3.5)
        'pass'
        """
        within = mean_delta_Ch <= self.mean_delta_Ch and max_delta_Ch <= self.max_delta_Ch
        return "pass" if within else "fail"


DEFAULT_TOLERANCE = "exhibition"

TOLERANCES = {
    grade.name: grade
    for grade in (
        # ISO 12647-7:2016, grey patches of a contract proof; memory.
        Tolerance(
            "contract-proof",
            2.0,
            3.5,
            "ISO 12647-7:2016, grey patches of a contract proof; from memory",
            mean_delta_L=2.5,
            max_delta_L=5.0,
            shadow_level=0.10,
        ),
        # Common practice, no source: about what side-by-side viewing on one wall forgives.
        Tolerance("exhibition", 0.75, 1.5, "common practice, no source"),
    )
}

FORMER_NAMES = {"proof": "contract-proof"}
"""Names that grades had: still taken, but not listed, as a proof is also that of a correction."""


def tolerance(grade: str | Tolerance) -> Tolerance:
    """Return a grade by its name, or as it is.

    Raises
    ------
    BadInput
        Naming the grades there are.

    Examples
    --------
    >>> tolerance("exhibition").max_delta_Ch
    1.5
    """
    if isinstance(grade, Tolerance):
        return grade
    grade = FORMER_NAMES.get(grade, grade)
    if grade not in TOLERANCES:
        raise not_known("tolerance", grade, TOLERANCES)
    return TOLERANCES[grade]


WORST_SHARE = 0.5
"""How much of the score the worst light makes; the rest is the mean over the lights."""


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
        Shape (lights,): the lights' weights on average; a light of weight 0 cannot be the worst.
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
