"""Does the reading follow its chart at all?"""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.readings.checks.case import Case
from greyscale.readings.checks.finding import Finding
from greyscale.readings.checks.search import Explanation

WRONG_LAYOUT = "wrong layout"
SCATTER = "values scatter"

_SCALE = 20.0  # Variance, over the believed one, from which on a reading does not fit its chart.
_ASIDE = 0.35  # Share of the patches, set aside, from which on the same is said.
_UNRELATED = 0.7  # Rank correlation of L* and level under which the two are not of one chart,
_FOLLOWING = 0.97  # and from which on they are.


def misfit(case: Case, explanation: Explanation) -> Finding | None:
    """Say what is wrong when even the best explanation leaves a reading that fits nowhere."""
    final = explanation.final
    if final.scale < _SCALE and len(explanation.set_aside) < _ASIDE * len(case):
        return None
    measured = np.flatnonzero(case.rows >= 0)
    L = case.reading.lab[case.rows[measured], 0]
    agreement = rank_correlation(L, case.device[measured].mean(axis=1))
    if agreement > _FOLLOWING:
        sd = float(np.median(np.sqrt(final.patch_misfit / 3)) * final.left_out[1].mean())
        return Finding(
            kind=SCATTER,
            where="the whole reading",
            probability=0.9,
            found="L* rises with level, but single values scatter around any smooth curve by "
            f"about ΔE {sd:.1f}.",
            advice="Read the chart again, twice if it can be, with the instrument flat on the "
            "paper; a rough paper wants several readings of each patch.",
            misread=False,
        )
    reversed_ = agreement < -_FOLLOWING
    return Finding(
        kind=WRONG_LAYOUT,
        where="the whole reading",
        probability=0.995 if agreement < _UNRELATED else 0.85,
        found="L* falls as the level rises, and no order of the strips mends it."
        if reversed_
        else "The values do not follow the chart's tones (rank correlation of L* and level "
        f"{agreement:.2f}), and no strip turned, swapped or shifted mends it.",
        advice="Look whether the device values are amounts of ink instead of levels."
        if reversed_
        else "This is probably the layout of another chart, or of another shuffle of this one: "
        "give the layout that was made with the printed chart, or read again.",
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
