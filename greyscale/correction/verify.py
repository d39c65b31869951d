"""Did the correction work: a print made through it, beside the print before and the prediction."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NEUTRAL_AIMS
from greyscale.aims.tolerances import DEFAULT_TOLERANCE, Tolerance, score_papers
from greyscale.aims.tolerances import tolerance as grade
from greyscale.analysis.analyse import Analysis, analyse
from greyscale.analysis.certainty import CANNOT_BE_TOLD, PASS
from greyscale.analysis.followed import least_gains
from greyscale.analysis.trend import less_noise
from greyscale.base.errors import BadInput
from greyscale.base.libraries import on_one_thread
from greyscale.base.plain_text import decimals_beside
from greyscale.base.rests_on import Support, supports
from greyscale.base.results import MeasuredAs, Presented, filled
from greyscale.checks.finding import SpoiltPatch
from greyscale.checks.identity import proof_words
from greyscale.checks.spoilt import COMPUTED, without_spoilt
from greyscale.colorimetry.arrays import Array, columns_at, equal_channels
from greyscale.colorimetry.cielab import delta_E_2000, mean_over_lightness
from greyscale.colorimetry.lights import Light
from greyscale.correction.accidents import accidents_of
from greyscale.correction.correct import correct, options
from greyscale.correction.evidence import refuse_another_print
from greyscale.correction.expectation import INDEPENDENT, Expectation
from greyscale.correction.for_lights import as_seen
from greyscale.correction.record import Correction
from greyscale.correction.sureness import (
    PredictionError,
    noise_of_means,
    prediction_error,
)
from greyscale.correction.targets import aims_for, has_ends
from greyscale.readings.reading import AXIS_TOLERANCE, Reading

_LATER = "Whether another round is worth it can be told once that is settled."


@dataclass(frozen=True)
class InLight:
    """A print under one light, before and after.

    Attributes
    ----------
    name
        The light's name.
    counts
        Whether the correction was made for it.
    before_mean_delta_Ch, after_mean_delta_Ch, after_max_delta_Ch
        As measured.
    promised_mean_delta_Ch
        What the correction promised there; None for a light that it does not know.
    verdict, probability
        As for neutrality.
    """

    name: str
    counts: bool
    before_mean_delta_Ch: float
    promised_mean_delta_Ch: float | None
    after_mean_delta_Ch: float
    after_max_delta_Ch: float
    verdict: str
    probability: float


@dataclass(frozen=True, eq=False, repr=False)
class Verification(Presented):
    """A print made through a correction, judged.

    Attributes
    ----------
    correction, round
        The correction's name, and its place in the sequence of rounds.
    before
        The uncorrected ramp, as it was measured for the correction.
    predicted
        What the correction promised, at the tones of `after`.
    after
        The print made through it.
    predicted_sd
        Shape (n, 3): one standard deviation of the prediction of L*, a*, b* at those tones.
    promise
        What the correction promised of the print when it was made, unchanged.
    expected_mean_delta_Ch
        The mean ΔCh that this reading of such a print should show: its own noise is added to what
        was promised of the print.
    expected_max_delta_Ch
        The same of the largest ΔCh of these tones, black and paper left out: as many such readings
        show more of it as show less.
    delta_E00
        Shape (n,): CIEDE2000 of `after` from `predicted`, by falling level.
    prediction_error
        The same in a few numbers.
    within_tolerance
        Whether `after` keeps the grade it was judged by: in tone, and in tint in all lights that
        the correction is for. False where this proves nothing (`accidents`).
    light
        What the ramps are under: the correction's own light.
    lights
        The print under the correction's lights, and those asked for; none where D50 is all.
    tone_only
        Whether the correction was to correct the tone scale alone.
    next_round
        Whether another round is worth it.
    accidents
        What makes one doubt that this is the print asked for, as sentences.
    doubted
        What each of these is about: "proof" (the print that was made), "reading" (how it was
        measured) or "printer" (which may have changed, if the print is the one asked for).
    toning, neutral
        What the correction is toned to, if it is, and its neutral aim.
    spoilt
        Patches out of line with all the others, which were set aside.
    """

    correction: str
    round: int
    before: Analysis
    predicted: Analysis
    after: Analysis
    predicted_sd: Array
    promise: Expectation
    expected_mean_delta_Ch: float
    expected_max_delta_Ch: float
    delta_E00: Array
    prediction_error: PredictionError
    within_tolerance: bool
    next_round: NextRound
    accidents: tuple[str, ...]
    doubted: tuple[str, ...] = ()
    spoilt: tuple[SpoiltPatch, ...] = ()
    light: str = "D50"
    lights: tuple[InLight, ...] = ()
    toning: str | None = None
    neutral: str = DEFAULT_NEUTRAL_AIM
    tone_only: bool = False

    @property
    def rests_on(self) -> tuple[Support, ...]:
        """The standards, constants and data behind the figures."""
        return (*self.after.rests_on, *supports("answers", "proof", "accidents", "sheets"))

    @property
    def verdict(self) -> str:
        """Whether the print keeps its grade; "cannot be told" where this proves nothing."""
        return _unproved(self.after.verdict) if self.accidents else self.after.verdict


@on_one_thread
def verify(
    reading: Reading,
    correction: Correction,
    *,
    tolerance: str | Tolerance = DEFAULT_TOLERANCE,
    lights: Sequence[Light] = (),
    told: Callable[[Verification], None] = lambda found: None,
) -> Verification:
    """Judge a print made through a correction.

    Parameters
    ----------
    reading
        Of a chart that was printed through the correction; its device values are the chart's own.
    correction
        The correction. Its aims are what is judged by.
    tolerance
        The grade.
    lights
        Further lights to look at the print under; it is judged by the correction's own.
    told
        Called with the verdict before another round is solved, which takes longer than all else.

    Raises
    ------
    BadInput
        If the reading has no ramp, is of another printer, paper, condition or backing, or is
        itself what the correction was made from.
    """
    refuse_another_print(reading, correction)
    _refuse_evidence(reading, correction)
    # Once for all lights, so that the same tones are judged in each.
    reading, spoilt = without_spoilt(reading)
    after = analyse_proof(as_seen(reading, correction), correction, tolerance)
    own = {one.name: one.light for one in correction.lights}
    every = {**{one.name: one for one in lights}, **own}
    looks = {
        name: analyse_proof(
            as_seen(reading, correction, every[name]), correction, tolerance, light=name
        )
        for name in dict.fromkeys((*own, *every))
    }
    each = tuple(_in_light(correction, every[at], look, tolerance) for at, look in looks.items())
    further = [looks[one.name] for one in correction.own_lights[1:]]
    levels, curve = after.patches.level, correction.curve
    promised = _reading("predicted", equal_channels(levels), curve.predict(levels), correction)
    promised = replace(promised, fields={COMPUTED: "yes"})
    predicted = analyse_proof(promised, correction, tolerance)
    before = analyse_proof(uncorrected_reading(correction), correction, tolerance)
    sd = columns_at(levels, curve.levels, curve.sd)
    delta_E00 = delta_E_2000(after.patches.lab, curve.predict(levels))
    error = prediction_error(after, correction)
    odd = accidents_of(reading, after, correction, error.mean_delta_E00, error.as_stated)
    within = after.passes and all(one.verdict == "pass" for one in each if one.counts)
    if odd:
        each = tuple(replace(one, verdict=_unproved(one.verdict)) for one in each)
        after = replace(
            after,
            neutrality=replace(after.neutrality, verdict=_unproved(after.neutrality.verdict)),
            tone=replace(after.tone, verdict=_unproved(after.tone.verdict)),
        )
    found = filled(
        Verification,
        correction,
        correction=correction.name,
        before=before,
        predicted=predicted,
        after=after,
        predicted_sd=sd,
        promise=correction.expectation,
        expected_mean_delta_Ch=_expected_mean_delta_Ch(predicted, after, sd),
        expected_max_delta_Ch=_expected_max_delta_Ch(predicted, after, sd),
        delta_E00=delta_E00,
        prediction_error=error,
        within_tolerance=within and not odd,
        next_round=unsolved(after, _LATER),
        accidents=tuple(text for text, _ in odd),
        doubted=tuple(about for _, about in odd),
        spoilt=(*spoilt, *after.spoilt),
        lights=each,
    )
    # What is no proof is no evidence for another round either.
    if odd:
        return found
    told(found)
    return replace(found, next_round=next_round(reading, correction, after, further))


def _unproved(verdict: str) -> str:
    """A verdict where it is in doubt what was printed: that it passes proves nothing then."""
    return CANNOT_BE_TOLD if verdict == PASS else verdict


def _in_light(
    correction: Correction, light: Light, look: Analysis, tolerance: str | Tolerance
) -> InLight:
    known = next((one for one in correction.lights if one.name == light.name), None)
    uncorrected = uncorrected_reading(correction, light)
    before = analyse_proof(uncorrected, correction, tolerance, light=light.name).neutrality
    after = look.neutrality
    return InLight(
        name=light.name,
        counts=known is not None and known.weight > 0,
        before_mean_delta_Ch=before.mean_delta_Ch,
        promised_mean_delta_Ch=None if known is None else known.expectation.after_mean_delta_Ch,
        after_mean_delta_Ch=after.mean_delta_Ch,
        after_max_delta_Ch=after.max_delta_Ch,
        verdict=after.verdict,
        probability=after.probability,
    )


def _refuse_evidence(reading: Reading, correction: Correction) -> None:
    """Refuse what the correction was made from: that it fits proves nothing."""
    for source in correction.evidence.sources:
        if reading.sha256 is not None and source.sha256 == reading.sha256:
            was = f"printed through round {source.round}" if source.round else "printed without it"
            raise BadInput(
                f"is itself what '{correction.name}' was made from ({was}), and so cannot prove "
                "it; print a chart through it (greyscale chart -o proof --through CORRECTION) "
                "and measure that",
                reading.source,
            )


def uncorrected_reading(correction: Correction, light: Light | None = None) -> Reading:
    """Return the ramp as it was printed without any correction.

    From the readings of the first round; where they hold no ramp, the model's idea of it.

    Parameters
    ----------
    light
        What it is seen under; None is the correction's own light.
    """
    evidence = correction.evidence
    first = np.array([source.round == 0 for source in evidence.sources])[evidence.origin]
    rows = first & (np.ptp(evidence.device, axis=1) < AXIS_TOLERANCE)
    own = light or (correction.lights[0].light if correction.lights else None)
    lab = evidence.lab if own is None else evidence.lab_under(own, correction.observer)
    if rows.sum() >= 3:
        return _reading("before", evidence.device[rows], lab[rows], correction)
    levels = np.linspace(0.0, 1.0, 33)
    known = next((one for one in correction.lights if light and one.name == light.name), None)
    before = correction.before_lab if known is None else known.before_lab
    at = np.linspace(0.0, 1.0, len(before))
    lab = columns_at(levels, at, before)
    return _reading("before", equal_channels(levels), lab, correction)


def analyse_proof(
    reading: Reading,
    correction: Correction,
    tolerance: str | Tolerance = DEFAULT_TOLERANCE,
    *,
    light: str | None = None,
    lights: Sequence[str | Light] = (),
) -> Analysis:
    """Analyse a ramp that was printed through a correction, by the correction's own aims.

    Parameters
    ----------
    light
        Which of the correction's lights its values are for; None is its own.
    lights
        To look at it under besides, as `analyse` takes them.
    """
    level = reading.device[np.ptp(reading.device, axis=1) < AXIS_TOLERANCE].mean(axis=1)
    aim, scaling, neutral = aims_for(correction, level, light)
    limits = grade(tolerance)
    if not has_ends(level)[0]:
        # From which level on shadows are distinct from a black that is not there cannot be told.
        limits = replace(limits, shadow_level=1.0)
    found = analyse(
        reading, aim=aim, scaling=scaling, neutral=neutral, lights=lights, tolerance=limits
    )
    # That it is a proof is no news here.
    known = proof_words(reading)
    return replace(found, remarks=tuple(one for one in found.remarks if one not in known))


def _reading(name: str, device: Array, lab: Array, correction: Correction) -> Reading:
    return filled(
        Reading,
        filled(MeasuredAs, correction),
        name=name,
        source=correction.name,
        ids=tuple(str(number) for number in range(1, len(device) + 1)),
        device=device,
        lab=lab,
        observer=correction.observer,
    )


def _expected_spread(predicted: Analysis, after: Analysis, sd: Array) -> tuple[Array, Array]:
    """What a reading of such a print scatters by, per axis of a*, b*: variances, shape (n,) each.

    Of the prediction, whose errors neighbouring tones share, and of the noise of this reading.
    """
    patches = predicted.patches
    both = np.stack([sd[:, 1:], noise_of_means(after)[:, 1:]])
    spread = np.mean(both**2, axis=2)
    # The aim moves with the paper that is measured, by the share of its tint that it keeps.
    weight = NEUTRAL_AIMS.get(predicted.neutrality.aim)
    if weight is not None and all(has_ends(patches.level)):
        share = weight(patches.lab[:, 0], predicted.paper[:1], predicted.black[:1])
        spread = spread + share**2 * spread[:, [patches.paper_index]]
    return spread[0], spread[1]


def _expected_mean_delta_Ch(predicted: Analysis, after: Analysis, sd: Array) -> float:
    patches, tones = predicted.patches, after.patches.is_tone
    spread = np.add(*_expected_spread(predicted, after, sd))
    # The mean length of a vector of normally distributed a*, b* around 0 is sd · sqrt(π/2).
    expected = np.sqrt(patches.delta_Ch**2 + np.pi / 2 * spread)
    return mean_over_lightness(expected[tones], patches.lab[tones, 0])


def _expected_max_delta_Ch(predicted: Analysis, after: Analysis, sd: Array) -> float:
    """The median of the largest ΔCh of the tones: half of such readings show less.

    Each squared, in its variance, is noncentral chi-squared with two degrees of freedom.
    """
    from scipy.optimize import brentq
    from scipy.special import chndtr

    tones = after.patches.is_tone
    model, noise = (one[tones] for one in _expected_spread(predicted, after, sd))
    off, spread = predicted.patches.delta_Ch[tones], np.maximum(model + noise, 1e-12)
    # Noise is each tone's own; of the prediction's errors there are no more than some ten.
    alone = (noise + model * min(INDEPENDENT / 3 / tones.sum(), 1.0)) / spread

    def below(x: float) -> float:
        each = chndtr(x**2 / spread, 2.0, off**2 / spread)
        return float(alone @ np.log(np.maximum(each, 1e-300))) + float(np.log(2.0))

    most = float(off.max() + 10.0 * np.sqrt(spread.max()))
    return float(brentq(below, 0.0, most, xtol=1e-6))


# Whether another round is worth the paper: the gain to expect, against the noise.


@dataclass(frozen=True)
class NextRound:
    """What another round would bring: in the light of the correction, or in all of them together.

    Of several lights the mean ΔCh is their score (`greyscale.aims.tolerances.score_papers`), as
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


def unsolved(after: Analysis, reason: str) -> NextRound:
    """What is said of another round that was not solved."""
    sd = after.reading.repeatability.sd_Ch
    return NextRound(False, None, None, None, None, None, None, sd, reason)


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
    repeats = after.reading.repeatability
    each = [_without_noise(one) for one in (after, *others)]
    now_Ch, now_max = _of_all(correction, [one[:2] for one in each])
    now_L = each[0][2]
    mean = "mean ΔCh" if not others else f"score of the mean ΔCh in its {len(each)} lights"
    least = least_gains(repeats.sd_Ch, repeats.sd_L)
    now = [("mean ΔL*", now_L, least[2])]
    if not correction.tone_only:
        now = [(mean, now_Ch, least[0]), *now, ("largest ΔCh", now_max, least[1])]
    # No correction leaves less than nothing: where so little is left, nothing can be worth it.
    if all(left <= noticed for _, left, noticed in now):
        name, left, noticed = now[0]
        decimals = decimals_beside(left, noticed, 2)
        return unsolved(
            after,
            f"Another round is not worth it: the {name} is {left:.{decimals}f} without the noise "
            f"of the reading, and a gain is noticed from {noticed:.{decimals}f} on.",
        )
    try:
        following = correct([reading], options(correction, tone_only=correction.tone_only))
    except BadInput as error:
        return unsolved(after, f"Another round cannot be solved: {error}.")
    expected = following.expectation
    promised = [one.expectation for one in following.own_lights] or [expected]
    then_Ch, then_max = _of_all(
        correction, [(one.after_mean_delta_Ch, one.after_max_delta_Ch) for one in promised]
    )
    then_L = expected.after_mean_delta_L
    then = {mean: then_Ch, "mean ΔL*": then_L, "largest ΔCh": then_max}
    worth = [one for one in now if one[1] - then[one[0]] > one[2]]
    told = (worth or now)[0]
    return NextRound(
        worth_it=bool(worth),
        expected_mean_delta_Ch=then_Ch,
        expected_max_delta_Ch=then_max,
        expected_mean_delta_L=then_L,
        gain_mean_delta_Ch=now_Ch - then_Ch,
        gain_max_delta_Ch=now_max - then_max,
        gain_mean_delta_L=now_L - then_L,
        repeatability=repeats.sd_Ch,
        reason=_reason(*told, then[told[0]], bool(worth)),
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


def _reason(name: str, now: float, noise: float, then: float, worth_it: bool) -> str:
    by = now - then
    gained, asked = (f"{one:.{decimals_beside(by, noise, 2)}f}" for one in (by, noise))
    now_words = f"the {name}, {now:.2f} without the noise of the reading,"
    if worth_it:
        return (
            f"Another round is worth it: {now_words} should come down to {then:.2f}; that gain "
            f"of {gained} would be seen, and is more than chance ({asked} asked for)."
        )
    if then >= now:
        return f"Another round is not worth it: {now_words} would not come down."
    return (
        f"Another round is not worth it: {now_words} would come down to {then:.2f}; that gain of "
        f"{gained} is too small to be seen and told from chance ({asked} asked for)."
    )
