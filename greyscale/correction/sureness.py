"""How surely a correction does what it promises: over a picture, by a proof, by all proofs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.certainty import LARGEST_LENGTH, MEAN_LENGTH
from greyscale.analysis.followed import TONE_OF_SHEET, sheets_apart
from greyscale.charts.picture_tones import PictureTones
from greyscale.colorimetry.arrays import Array, columns_at
from greyscale.colorimetry.cielab import delta_Ch, delta_E_2000, mean_over_lightness
from greyscale.correction.accidents import beyond_range
from greyscale.correction.expectation import (
    INDEPENDENT,
    UNLIKELY,
    Expectation,
    Limit,
    expectation,
)
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


def limit_of_largest(correction: Correction) -> tuple[Limit | None, float]:
    """The limit that the largest ΔCh expected lies in, if any; the largest outside of all limits.

    A chart may have no tone in a limit, as in the blend into black: a proof shows the latter then.
    """
    level, off = correction.curve.levels, delta_Ch(correction.curve.lab, correction.aim_lab)
    expected = np.hypot(off, LARGEST_LENGTH * sd_ab(correction.curve))
    expected[[0, -1]] = 0.0  # Black and paper are no tones.
    at, free = float(level[np.argmax(expected)]), expected.copy()
    for limit in correction.limits:
        free[(level >= limit.from_level) & (level <= limit.to_level)] = 0.0
    within = (one for one in correction.limits if one.from_level <= at <= one.to_level)
    return next(within, None), float(free.max())


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


# How far a print is from what a correction predicted.

TWO_SIDED_95 = 1.959964
"""Standard deviations that hold 95 % of a normal distribution."""

_TONES = INDEPENDENT / 3  # That err independently.
_MOST_NEEDED = 1e4  # Beyond it, nothing is stated as the uncertainty at all.


@dataclass(frozen=True)
class PredictionError:
    """How far the print is from what the correction predicted.

    Attributes
    ----------
    mean_delta_E00
        Mean over L* of the CIEDE2000 difference, paper left out.
    max_delta_E00, max_at_level
        The largest difference, and where.
    within_stated
        Share of the tones' L*, a* and b* that lie within the stated 95 % uncertainty, the
        repeatability of this reading counted in; 0 to 1.
    as_stated
        Whether that share is what chance would leave of the 95 % that should lie within.
    within_sheets
        The same share where what another sheet usually differs by is counted in as well.
    kept
        Whether that share, too, is what chance would leave, and the print lies no further off in
        all tones together, or in each by itself, than such a sheet would; from a ramp alone, no
        further from neutral either than was said of four sheets in five.
    spread
        How far the tones' L*, a* and b* lie from the prediction, in the standard deviations that
        the model, the noise of this reading and what sheets differ by make together (root mean
        square): about 1.
    needed
        How many times as large the model's would have to be to be right for this print.
    """

    mean_delta_E00: float
    max_delta_E00: float
    max_at_level: float
    within_stated: float
    as_stated: bool
    within_sheets: float
    kept: bool
    spread: float
    needed: float


def noise_of_means(after: Analysis) -> Array:
    """Return the standard deviation of each tone's measured L*, a*, b*, shape (n, 3)."""
    repeats = after.reading.repeatability
    noise = np.array([repeats.sd_L, repeats.sd_Ch, repeats.sd_Ch])
    return np.asarray(noise / np.sqrt(after.patches.counts)[:, np.newaxis])


def prediction_error(after: Analysis, correction: Correction) -> PredictionError:
    """Score a print, or some of its tones, against what the correction predicted of it."""
    patches, curve = after.patches, correction.curve
    predicted, sd = curve.predict(patches.level), columns_at(patches.level, curve.levels, curve.sd)
    delta_E00 = delta_E_2000(patches.lab, predicted)
    printed = np.arange(len(patches)) != patches.paper_index
    off, noise = (patches.lab - predicted)[printed], noise_of_means(after)[printed]
    # A correction whose uncertainty was stated larger by what was learnt is no less to learn from.
    model = sd[printed] / correction.widened
    worst = int(np.argmax(np.where(printed, delta_E00, -1.0)))
    own = np.hypot(sd[printed], noise)
    share = float(np.mean(np.abs(off) <= TWO_SIDED_95 * own))
    L, ab = sheets_apart(max(len(correction.evidence.sources), 1))
    sheets = np.array([L, ab, ab])
    within_sheets = float(np.mean(np.abs(off) <= TWO_SIDED_95 * np.hypot(own, sheets)))

    def spread(times: float) -> float:
        return _spread(off, np.hypot(times * model, noise), sheets)

    return PredictionError(
        mean_delta_E00=mean_over_lightness(delta_E00[printed], patches.lab[printed, 0]),
        max_delta_E00=float(delta_E00[worst]),
        max_at_level=float(patches.level[worst]),
        within_stated=share,
        as_stated=by_chance(share),
        within_sheets=within_sheets,
        kept=(
            by_chance(share) or (by_chance(within_sheets) and _as_sheets_differ(off, own, sheets))
        )
        and not beyond_range(after, correction),
        spread=spread(1.0),
        needed=_needed(spread),
    )


def by_chance(share: float) -> bool:
    """Whether chance would leave no more of the 95 % that should lie within."""
    from scipy.stats import binom

    return bool(binom.cdf(round(share * INDEPENDENT), INDEPENDENT, 0.95) >= UNLIKELY)


def _by_sheets(off: Array, own: Array, sheets: Array) -> tuple[Array, Array]:
    """How far tones lie off together and each besides, in what would be usual of another sheet.

    Parameters
    ----------
    off, own
        Shape (n, 3): how far the tones' L*, a*, b* lie off, and the standard deviation of each.
    sheets
        Shape (3,): what a tone of another sheet differs by.

    Returns
    -------
    Of the mean of all tones, shape (3,), and of each less that mean, shape (n, 3): in standard
    deviations.
    """
    together = sheets / TONE_OF_SHEET
    each = np.sqrt(own**2 + sheets**2 - together**2)
    moved = off.mean(axis=0)
    return moved / np.sqrt(together**2 + np.mean(each**2, axis=0) / _TONES), (off - moved) / each


def _as_sheets_differ(off: Array, own: Array, sheets: Array) -> bool:
    """Whether tones lie off as those of another sheet would: together, and each a little."""
    from scipy.stats import chi2

    together, each = _by_sheets(off, own, sheets)
    left = float(np.mean(np.abs(each) <= TWO_SIDED_95))
    return bool(chi2.sf(np.sum(together**2), 3) >= UNLIKELY) and by_chance(left)


def _spread(off: Array, own: Array, sheets: Array) -> float:
    """How far tones lie off, in what would be usual of another sheet (root mean square)."""
    together, each = _by_sheets(off, own, sheets)
    return float(np.sqrt(np.mean(together**2) / _TONES + np.mean(each**2)))


def _needed(spread: Callable[[float], float]) -> float:
    """How many times as large the model's uncertainty must be for a spread of 1."""
    from scipy.optimize import brentq

    if spread(0.0) <= 1.0:
        return 0.0
    most = 1.0
    while spread(most) > 1.0 and most < _MOST_NEEDED:
        most *= 2.0
    return most if spread(most) > 1.0 else float(brentq(lambda one: spread(one) - 1.0, 0.0, most))


# What the proofs of a printer have taught.

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
        Of each, `spread` and `needed` as in `PredictionError`.

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
