"""Whether another round of correction is worth the paper: the gain to expect, against the noise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.comparison import score_papers
from greyscale.analysis.followed import least_gains
from greyscale.analysis.neutrality import mean_over_lightness
from greyscale.analysis.trend import less_noise
from greyscale.base.errors import BadInput
from greyscale.correction.correct import options
from greyscale.correction.record import Correction
from greyscale.readings.reading import Reading


@dataclass(frozen=True)
class NextRound:
    """What another round would bring: in the light of the correction, or in all of them together.

    Of several lights the mean ΔCh is their score (`greyscale.analysis.comparison.score_papers`), as
    the correction was solved for, and the largest is that of any.

    Attributes
    ----------
    worth_it
        Whether some gain is larger than the repeatability, than sheets vary by, and than what is
        noticed (`greyscale.analysis.followed.least_gains`).
    expected_mean_delta_Ch, expected_max_delta_Ch, expected_mean_delta_L
        What the next correction, solved from this reading as well, is expected to leave; None
        where it could not be solved, or need not be to know that it isn't worth it.
    gain_mean_delta_Ch, gain_max_delta_Ch, gain_mean_delta_L
        How much less that is than now; negative where nothing is to be gained.
    repeatability
        Standard deviation of one measurement, per axis of a*, b*.
    reason
        Why, as one plain sentence.
    """

    worth_it: bool
    expected_mean_delta_Ch: float | None
    expected_max_delta_Ch: float | None
    expected_mean_delta_L: float | None
    gain_mean_delta_Ch: float | None
    gain_max_delta_Ch: float | None
    gain_mean_delta_L: float | None
    repeatability: float
    reason: str


def unsolved(after: Analysis) -> NextRound:
    """What is said of another round where it is in doubt what was printed."""
    repeatability = after.reading.repeatability.sd_Ch
    reason = "Whether another round is worth it can be told once that is settled."
    return NextRound(False, None, None, None, None, None, None, repeatability, reason)


def next_round(
    reading: Reading, correction: Correction, after: Analysis, others: Sequence[Analysis] = ()
) -> NextRound:
    """Solve the next correction for what it promises, and ask whether that gain is worth it.

    Parameters
    ----------
    reading
        The print made through `correction`.
    correction
        The correction it was made through.
    after
        The reading against the correction's aims, in its first light.
    others
        The same in its further lights, in their order.
    """
    from greyscale.correction.correct import correct

    repeats = after.reading.repeatability
    each = [_without_noise(one) for one in (after, *others)]
    now_Ch, now_max = _of_all(correction, [one[:2] for one in each])
    now_L = each[0][2]
    mean = "mean ΔCh" if not others else f"score of the mean ΔCh in its {len(each)} lights"
    least = least_gains(repeats.sd_Ch, repeats.sd_L)
    # No correction leaves less than nothing: where so little is left, nothing can be worth it.
    if now_Ch <= least[0] and now_max <= least[1] and now_L <= least[2]:
        reason = (
            f"Another round is not worth it: the {mean} is {now_Ch:.2f} without the noise of the "
            f"reading, and a gain is noticed from {least[0]:.2f} on."
        )
        return NextRound(False, None, None, None, None, None, None, repeats.sd_Ch, reason)
    try:
        following = correct([reading], options(correction))
    except BadInput as error:
        reason = f"Another round cannot be solved: {error}."
        return NextRound(False, None, None, None, None, None, None, repeats.sd_Ch, reason)
    expected = following.expectation
    promised = [one.expectation for one in following.own_lights] or [expected]
    then_Ch, then_max = _of_all(
        correction, [(one.after_mean_delta_Ch, one.after_max_delta_Ch) for one in promised]
    )
    gain_Ch = now_Ch - then_Ch
    gain_max = now_max - then_max
    gain_L = now_L - expected.after_mean_delta_L
    gains = (
        (mean, gain_Ch, now_Ch, then_Ch, least[0]),
        ("mean ΔL*", gain_L, now_L, expected.after_mean_delta_L, least[2]),
        ("largest ΔCh", gain_max, now_max, then_max, least[1]),
    )
    worth = [gain for gain in gains if gain[1] > gain[4]]
    return NextRound(
        worth_it=bool(worth),
        expected_mean_delta_Ch=then_Ch,
        expected_max_delta_Ch=then_max,
        expected_mean_delta_L=expected.after_mean_delta_L,
        gain_mean_delta_Ch=gain_Ch,
        gain_max_delta_Ch=gain_max,
        gain_mean_delta_L=gain_L,
        repeatability=repeats.sd_Ch,
        reason=_reason(worth[0] if worth else gains[0], bool(worth)),
    )


def _of_all(correction: Correction, figures: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The mean and largest ΔCh of one light, or of all of a correction's lights together."""
    if len(figures) == 1:
        return figures[0]
    means, largest = zip(*figures, strict=True)
    weights = [one.weight for one in correction.own_lights]
    score = score_papers([means], np.zeros((1, len(means))), weights, correction.worst_share).score
    return float(score[0]), max(largest)


def _without_noise(after: Analysis) -> tuple[float, float, float]:
    """Return mean ΔCh, max ΔCh and mean ΔL* of the print, the part of noise taken out.

    Noise adds to an error in quadrature. For a mean ΔCh it is the mean length of a vector whose
    two parts have the standard deviation sd (sd · sqrt(π/2)), for a mean |ΔL*| sd · sqrt(2/π).
    """
    patches, repeats = after.patches, after.reading.repeatability
    tones = patches.is_tone
    share = float(np.mean(1 / np.sqrt(patches.counts[tones])))
    noise_Ch = repeats.sd_Ch * share * np.sqrt(np.pi / 2)
    noise_L = repeats.sd_L * share * np.sqrt(2 / np.pi)
    mean_L = mean_over_lightness(np.abs(patches.delta_L[tones]), patches.lab[tones, 0])
    return (
        less_noise(after.neutrality.mean_delta_Ch, noise_Ch),
        less_noise(after.neutrality.max_delta_Ch, noise_Ch),
        less_noise(mean_L, noise_L),
    )


def _reason(gain: tuple[str, float, float, float, float], worth_it: bool) -> str:
    name, by, now, then, noise = gain
    now_words = f"the {name}, {now:.2f} without the noise of the reading,"
    if worth_it:
        return (
            f"Another round is worth it: {now_words} should come down to {then:.2f}; that gain "
            f"of {by:.2f} would be seen, and is more than chance ({noise:.2f} asked for)."
        )
    if then >= now:
        return f"Another round is not worth it: {now_words} would not come down."
    return (
        f"Another round is not worth it: {now_words} would come down to {then:.2f}; that gain of "
        f"{by:.2f} is too small to be seen and told from chance ({noise:.2f} asked for)."
    )
