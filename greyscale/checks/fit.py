"""Does the reading follow its chart at all?"""

from __future__ import annotations

import numpy as np

from greyscale.checks.case import Case
from greyscale.checks.finding import Finding
from greyscale.checks.search import FEWEST, LEAST_RANGE, Explanation
from greyscale.checks.values import repeats
from greyscale.colorimetry.arrays import Array

WRONG_LAYOUT = "wrong layout"
UPSIDE_DOWN = "levels upside down"

_SCALE = 20.0  # Variance, over the believed one, from which on a reading does not fit its chart.
_ASIDE = 0.35  # Share of the patches, set aside, from which on the same is said.
_UNRELATED = 0.7  # Rank correlation of L* and level under which the two are not of one chart,
_FOLLOWING = 0.97  # and from which on they are.


def misfit(case: Case, explanation: Explanation) -> Finding | None:
    """Say what is wrong when even the best explanation leaves a reading that fits nowhere."""
    final = explanation.final
    measured = np.flatnonzero(explanation.rows >= 0)
    L = case.reading.lab[explanation.rows[measured], 0]
    level = case.device[measured].mean(axis=1)
    if len(measured) < FEWEST or np.ptp(level) < LEAST_RANGE:
        return None
    agreement = rank_correlation(L, level)
    if agreement < -_UNRELATED:
        return _upside_down(agreement)
    if final.scale < _SCALE and len(explanation.set_aside) < _ASIDE * len(case):
        return None
    if agreement > _FOLLOWING:
        return _scatter(explanation)
    return Finding(
        kind=WRONG_LAYOUT,
        where="the whole reading",
        probability=0.995 if agreement < _UNRELATED else 0.85,
        found="The values do not follow the chart's tones (rank correlation of L* and level "
        f"{agreement:.2f}), and turning, swapping or shifting strips does not mend it.",
        advice="This is probably the layout of another chart, or of another shuffle of this one: "
        "give the layout that was made with the printed chart, or read again.",
    )


def _upside_down(agreement: float) -> Finding:
    return Finding(
        kind=UPSIDE_DOWN,
        where="the whole reading",
        probability=0.995,
        found=f"L* falls as the level rises (rank correlation {agreement:.2f}): black stands where "
        "paper should.",
        advice="Check whether the device values are amounts of ink: level 0 is black, 1 is paper.",
    )


def _scatter(explanation: Explanation) -> Finding:
    final = explanation.final
    sd = float(np.median(np.sqrt(final.patch_misfit / 3)) * final.left_out[1].mean())
    return repeats.scatter(
        f"L* rises with level, but values scatter around any smooth curve by about ΔE {sd:.1f}."
    )


def rank_correlation(first: Array, second: Array) -> float:
    """Give Spearman's rank correlation of two arrays (n,); ties by order.

    Examples
    --------
    >>> rank_correlation(np.array([1.0, 2.0, 9.0]), np.array([3.0, 5.0, 6.0]))
    1.0
    """
    if len(first) < 2:
        return 1.0
    ranks = [np.argsort(np.argsort(values, kind="stable")) for values in (first, second)]
    return round(float(np.corrcoef(ranks[0], ranks[1])[0, 1]), 12)
