"""How surely a correction does what it promises: over a picture, and by what proofs have taught."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.analysis.certainty import MEAN_LENGTH
from greyscale.charts.picture_tones import PictureTones
from greyscale.colorimetry.arrays import Array, columns_at
from greyscale.colorimetry.cielab import delta_Ch
from greyscale.correction.expectation import INDEPENDENT, UNLIKELY, Expectation, expectation
from greyscale.correction.record import Correction, Curve
from greyscale.printer.answers import TONES
from greyscale.printer.solver import Solution

SURE_ENOUGH = 1.25
"""Less sure than over the whole scale by this factor, a picture is worth a chart of its own."""


@dataclass(frozen=True)
class PictureSureness:
    """ΔCh to be expected, and 95 % limits of a*, b* of the predicted print, in CIELAB units.

    Attributes
    ----------
    delta_Ch
        Mean ΔCh over the picture, by the shares of its tones, the uncertainty counted in.
    picture
        Mean of the limits over the picture.
    whole
        Mean over all tones.
    worst_level, worst
        The tone of the picture that is known least surely, and its limit; tones that hold less
        than a thousandth of the picture do not count.
    """

    delta_Ch: float
    picture: float
    whole: float
    worst_level: float
    worst: float

    @property
    def worth_a_chart(self) -> bool:
        """Whether patches at this picture's tones would make its print surer."""
        return self.picture > SURE_ENOUGH * self.whole


def sd_ab(curve: Curve) -> Array:
    """The standard deviation of a predicted print's a*, b*, both as one: shape (n,)."""
    sd: Array = np.sqrt(np.mean(curve.sd[:, 1:] ** 2, axis=1))
    return sd


def with_uncertainty(delta_Ch: Array, sd: Array) -> Array:
    """The ΔCh to be expected of tones that are predicted at this ΔCh, known to this sd."""
    expected: Array = np.hypot(delta_Ch, MEAN_LENGTH * sd)
    return expected


ERR_ALONE = (5, 10)
"""Of neighbouring tones it is not known how far their errors go together: at least so many parts of
the scale are taken to err each by itself, and at most; common practice, no source."""

_DRAWS = 1000


def largest_in_four_of_five(correction: Correction) -> tuple[list[float], list[float]]:
    """Between what the largest ΔCh, and |ΔL*|, of a print like those read lie in 4 cases of 5.

    Errors are drawn as the curve states them. Beyond the most of the range is one print in ten, if
    many parts of the scale err each by itself; below the least one, if few do.

    Returns
    -------
    Least and most, of ΔCh and of |ΔL*|.
    """
    tones = np.linspace(0.0, 1.0, TONES)[1:-1]
    curve = correction.curve
    off, sd = (
        columns_at(tones, curve.levels, one) for one in (curve.lab - correction.aim_lab, curve.sd)
    )
    random = np.random.default_rng(1)  # The same range for the same correction.
    ends = []
    for parts, share in zip(ERR_ALONE, (0.1, 0.9), strict=True):
        part = np.arange(len(tones)) * parts // len(tones)
        drawn = off + sd * random.normal(size=(_DRAWS, parts, 3))[:, part]
        largest = np.hypot(drawn[..., 1], drawn[..., 2]), np.abs(drawn[..., 0])
        ends.append([float(np.quantile(one.max(axis=1), share)) for one in largest])
    of_Ch, of_L = zip(*ends, strict=True)
    return list(of_Ch), list(of_L)


def picture_sureness(correction: Correction, tones: PictureTones) -> PictureSureness:
    """Weigh the uncertainty of a correction by the tones of a picture."""
    curve = correction.curve
    sd = sd_ab(curve)
    limit = 1.96 * sd
    at = np.interp(tones.levels, curve.levels, limit)
    shares: Array = tones.shares / tones.shares.sum()
    counted = np.where(shares >= 1e-3, at, 0.0)
    worst = int(np.argmax(counted))
    return PictureSureness(
        delta_Ch=tones.mean_of(
            curve.levels,
            with_uncertainty(delta_Ch(curve.lab, correction.aim_lab), sd),
        ),
        picture=float(shares @ at),
        whole=float(limit.mean()),
        worst_level=float(tones.levels[worst]),
        worst=float(counted[worst]),
    )


_AFTER = (
    "after_mean_delta_Ch",
    "after_max_delta_Ch",
    "after_mean_delta_L",
    "after_max_delta_L",
)

FEWEST_PROOFS = 2
"""One proof may be an accident."""


@dataclass(frozen=True)
class Learnt:
    """What the proofs of a printer have taught.

    Attributes
    ----------
    factor
        By how much the uncertainty is to be stated larger; 1 or more.
    proofs
        From how many proofs.
    """

    factor: float
    proofs: int


def learn(proofs: Sequence[tuple[float, float]]) -> Learnt | None:
    """Return by how much a printer's bands prove too narrow; None where they do not.

    The middle one of the proofs counts, so that an accident among them teaches nothing. Chance
    alone would make it as large as the mean of the squares of so many normal values may be.

    Parameters
    ----------
    proofs
        Of each, `spread` and `needed` as in `greyscale.correction.verify.PredictionError`.

    Examples
    --------
    >>> learn([(1.0, 1.0), (1.1, 1.2)]) is None, learn([(1.8, 2.3), (2.0, 2.5), (9.0, 11.0)])
    (True, Learnt(factor=2.5, proofs=3))
    """
    from scipy.stats import chi2

    if len(proofs) < FEWEST_PROOFS:
        return None
    freedom = INDEPENDENT * len(proofs)
    by_chance = float(np.sqrt(chi2.ppf(1.0 - UNLIKELY, freedom) / freedom))
    spread, needed = np.median(np.asarray(proofs), axis=0).tolist()
    return Learnt(max(needed, 1.0), len(proofs)) if spread > by_chance else None


def widen(correction: Correction, learnt: Learnt) -> Correction:
    """State the uncertainty of a correction larger, and what it promises accordingly."""
    curve = correction.curve
    wider = replace(curve, sd=curve.sd * learnt.factor)
    tones = np.linspace(0.0, 1.0, 256)

    def at(values: Array) -> Array:
        return columns_at(tones, curve.levels, values)

    def promised(
        known: Expectation, before: Array, aimed: Array, lab: Array, sd: Array
    ) -> Expectation:
        solution = Solution(tones, at(curve.rgb), lab, sd)
        found = expectation(before, before[:, 1:], aimed, solution, correction.limits)
        return replace(known, **{name: getattr(found, name) for name in _AFTER})

    lights = tuple(
        replace(
            one,
            sd=one.sd * learnt.factor,
            expectation=promised(
                one.expectation, one.before_lab, one.aim_lab, one.lab, one.sd * learnt.factor
            ),
        )
        for one in correction.lights
    )
    remark = (
        f"The uncertainty is stated {learnt.factor:.1f} times as large as the readings alone "
        f"suggest: {learnt.proofs} proofs of this printer lay that much further from what was "
        "promised, what sheets usually differ by left out."
    )
    return replace(
        correction,
        curve=wider,
        expectation=promised(
            correction.expectation,
            at(correction.before_lab),
            at(correction.aim_lab),
            at(curve.lab),
            at(wider.sd),
        ),
        lights=lights,
        widened=correction.widened * learnt.factor,
        remarks=(*correction.remarks, remark),
    )
