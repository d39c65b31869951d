"""Which paper keeps its greys neutral under the lights it will hang in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot
from pathlib import Path

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, neutral_aim_name
from greyscale.aims.tolerances import WORST_SHARE, Score, score_papers
from greyscale.aims.tone import DEFAULT_SCALING, DEFAULT_TONE_AIM, ToneAim, tone_aim
from greyscale.analysis.brighteners import WITHOUT_UV, Print
from greyscale.analysis.certainty import ramp_freedom, student_quantile
from greyscale.analysis.followed import SHEETS_CH
from greyscale.analysis.tonality import distinct_shadow
from greyscale.analysis.under_lights import UnderLights, loss_words
from greyscale.base.errors import BadInput, not_known
from greyscale.base.rests_on import REGISTER, Support, supports
from greyscale.base.results import MeasuredAs, Presented, filled
from greyscale.checks.finding import SpoiltPatch
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import chroma, means_over_lightness
from greyscale.colorimetry.lights import REQUIRED_LIGHTS, Light
from greyscale.readings.lamps import find_lights

TIE = 2.0
"""Scores closer than this many standard deviations of their difference are tied, where the noise is
well known."""


FALSE_ORDERS = 0.05
"""How often papers that are alike in truth may be ranked apart."""


def apart_from(freedom: float, papers: int) -> float:
    """Return how many standard deviations of a difference tell papers apart, among so many.

    By Student's t, for as many independent numbers as the noise is known from, and Bonferroni over
    all pairs.

    Examples
    --------
    >>> round(apart_from(1e6, 2), 2), round(apart_from(8, 3), 2)
    (1.96, 3.02)
    """
    pairs = papers * (papers - 1) / 2
    return student_quantile(freedom, 1.0 - FALSE_ORDERS / (2.0 * pairs))


def rank(score: Array, sd: Array, names: Sequence[str], times: float = TIE) -> list[int]:
    """Rank papers; papers that cannot be told from the best of their group share its rank.

    Parameters
    ----------
    score, sd, names
        Of each paper: the score, its standard deviation, what breaks ties of order.
    times
        Scores closer than so many standard deviations of their difference are tied.

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
        if position == 1 or apart > times * hypot(sd[paper], sd[first]):
            first = paper
            ranks[paper] = position
        else:
            ranks[paper] = ranks[first]
    return ranks


VIEWERS = ("light", "paper")
"""Whom the ranking is for: a viewer adapted to the light, or to the paper in it."""


@dataclass(frozen=True, eq=False)
class ComparedPaper(MeasuredAs):
    """One paper in a comparison.

    Attributes
    ----------
    name, source
        What to call it, and its reading's file.
    own
        The print: ramp and brightener.
    under
        Its figures under the lights.
    rank
        From 1; tied papers share a rank.
    tied
        Whether it shares its rank.
    score, sd
        See `greyscale.aims.tolerances.Score`.
    worst_light
        The light that is worst for it.
    dmax
        Visual density of black.
    shadow
        The lowest level whose L* is one unit above black; None where there is none.
    weights, asked
        What the score is made with.
    behind_glass
        Least and largest score behind the credible glasses.
    other_score
        In a comparison of corrected prints the score as printed; else what should about stay after
        a correction for these lights.
    """

    name: str
    source: str
    own: Print
    under: UnderLights
    rank: int
    tied: bool
    score: float
    sd: float
    worst_light: str
    dmax: float
    shadow: float | None
    weights: tuple[float, ...]
    asked: ComparisonOptions
    other_score: float
    behind_glass: tuple[float, float] = (np.nan, np.nan)

    @property
    def low(self) -> float:
        """Least score over what is not known of brightener and lamps.

        For a viewer adapted to the light; of the other the range is not sought.
        """
        return self._score_of(self.under.brightener_low)

    @property
    def high(self) -> float:
        """Largest score, likewise."""
        return self._score_of(self.under.brightener_high)

    def _score_of(self, figures: Array) -> float:
        to_light = self.asked.viewer == "light"
        return _scores([figures], self.weights, self.asked)[0] if to_light else self.score

    @property
    def L_range(self) -> float:
        """L* of paper less L* of black, under D50."""
        L = self.own.ramp.lab()[:, 0]
        return float(L[self.own.ramp.paper_index] - L[self.own.ramp.black_index])


@dataclass(frozen=True, eq=False, repr=False)
class Comparison(Presented):
    """Papers compared under lights, best first.

    Attributes
    ----------
    lights
        The lights' names.
    weights
        The lights' weights in the score.
    papers
        By rank, then score, then name.
    neutral, tone, scaling, observer, viewer, worst_share
        What was asked for.
    remarks
        What one should know before relying on it, as sentences.
    rests_on
        The standards, constants and data behind the figures.
    corrected
        Whether the prints are as they should be after each paper's best correction for the lights,
        and not as printed.
    correctable
        Whether all papers were read so that they can be compared corrected.
    spoilt
        Patches of the readings out of line with all their others, which were set aside.
    glasses
        How many other credible glasses the comparison was repeated behind; 0 where no general
        curve of a glass was taken.
    survives_glass
        Whether the order of the papers that are told apart is the same behind all of them.
    """

    lights: tuple[str, ...]
    weights: tuple[float, ...]
    papers: tuple[ComparedPaper, ...]
    neutral: str
    tone: str
    scaling: str
    observer: str
    viewer: str
    worst_share: float
    remarks: tuple[str, ...]
    rests_on: tuple[Support, ...]
    corrected: bool = False
    correctable: bool = False
    spoilt: tuple[SpoiltPatch, ...] = ()
    glasses: int = 0
    survives_glass: bool = True


@dataclass(frozen=True)
class ComparisonOptions:
    """How papers are compared.

    Attributes
    ----------
    lights
        By name or as they are.
    weights
        A light's weight on average, by its name; 1 where not named.
    neutral, aim, scaling
        The aims, as in an analysis.
    observer
        "2" or "10", for all figures but the range of individual observers.
    viewer
        One of `VIEWERS`.
    worst_share
        Share of the worst light in the score, 0 to 1.
    """

    lights: tuple[str | Light, ...] = REQUIRED_LIGHTS
    weights: Mapping[str, float] | None = None
    neutral: str = DEFAULT_NEUTRAL_AIM
    aim: str | Path | ToneAim = DEFAULT_TONE_AIM
    scaling: str = DEFAULT_SCALING
    observer: str = "2"
    viewer: str = "light"
    worst_share: float = WORST_SHARE


def compare_prints(
    prints: Sequence[Print],
    asked: ComparisonOptions,
    progress: Callable[[Sequence[Print]], Iterable[Print]] = iter,
    *,
    corrected: Sequence[Print] = (),
) -> Comparison:
    """Compare prints, of two papers or more.

    Parameters
    ----------
    asked
        Lights, aims, viewer, weights.
    progress
        Wraps the loop over papers, as a progress bar does.
    corrected
        The same papers' prints through a correction, in the same order; they are ranked then.

    Raises
    ------
    BadInput
        If there are fewer than two papers, they were not measured alike, or an option is not
        known.
    """
    lights = find_lights(asked.lights)
    if asked.viewer not in VIEWERS:
        raise not_known("viewer", asked.viewer, VIEWERS)
    weights = light_weights(lights, asked.weights, asked.worst_share)
    neutral = neutral_aim_name(asked.neutral)
    tone = tone_aim(asked.aim)
    _check_alike(prints)

    def look(own: Print, through: Sequence[Light] = lights) -> UnderLights:
        return UnderLights(own, through, asked.neutral, tone, asked.scaling, asked.observer)

    under = [look(own) for own in progress(prints)]
    spoilt = tuple(patch for own in prints for patch in own.ramp.spoilt)
    if corrected:
        others = _scores([_figures(one, asked) for one in under], weights, asked)
        prints, under = corrected, [look(own) for own in corrected]
    else:
        others = _scores([_stays(one, weights) for one in under], weights, asked)
    papers = _ranked(prints, under, lights, weights, asked, others)
    glasses = _glasses(lights)
    behind = np.array(
        [_scores([_figures(look(own, one), asked) for own in prints], weights, asked)
         for one in glasses]
    )  # fmt: skip
    if glasses:
        papers = tuple(
            replace(paper, behind_glass=(float(scores.min()), float(scores.max())))
            for paper in papers
            for scores in (behind[:, [own is paper.own for own in prints].index(True)],)
        )
    return filled(
        Comparison,
        asked,
        lights=tuple(one.name for one in lights),
        weights=weights,
        papers=papers,
        tone=tone.name,
        remarks=tuple(_remarks(prints, lights)),
        rests_on=_supports(prints, lights, neutral, bool(corrected)),
        corrected=bool(corrected),
        correctable=bool(corrected),
        spoilt=spoilt,
        glasses=len(glasses),
        survives_glass=_keeps_order(papers, prints, behind),
    )


def _glasses(lights: Sequence[Light]) -> list[tuple[Light, ...]]:
    """The same lights behind each other credible glass; none where no glass is supposed."""
    count = max((len(one.credible) for one in lights), default=0)
    return [tuple(one.credible[i] if one.credible else one for one in lights) for i in range(count)]


def _keeps_order(papers: Sequence[ComparedPaper], prints: Sequence[Print], behind: Array) -> bool:
    """Whether papers of unlike rank keep their order behind each glass, shape (glasses, papers)."""
    if not len(behind):
        return True
    row = {id(own): i for i, own in enumerate(prints)}
    return all(
        bool((behind[:, row[id(one.own)]] < behind[:, row[id(other.own)]]).all())
        for one in papers
        for other in papers
        if one.rank < other.rank
    )


def _figures(under: UnderLights, asked: ComparisonOptions | Comparison) -> Array:
    return under.mean_delta_Ch if asked.viewer == "light" else under.mean_delta_Ch_to_paper


def _scores(
    figures: Sequence[Array], weights: Sequence[float], asked: ComparisonOptions
) -> list[float]:
    table = np.stack(figures)
    found = score_papers(table, np.zeros_like(table), weights, asked.worst_share).score
    return [float(score) for score in found]


def _stays(under: UnderLights, weights: Sequence[float]) -> Array:
    """Estimate the mean ΔCh that a correction leaves under each light, shape (k,).

    It moves a tone in all lights nearly alike, so that what stays is how far each light's
    departure is from the mean of them all.
    """
    off, tones = under.drifts, under.own.ramp.is_tone
    off = off - np.average(off, axis=0, weights=weights)
    return means_over_lightness(chroma(off)[:, tones], under.lab[:, tones, 0])


def _supports(
    prints: Sequence[Print], lights: Sequence[Light], neutral: str, corrected: bool
) -> tuple[Support, ...]:
    keys = [
        "cielab",
        "weights",
        "cie-tables",
        "delta-Ch",
        "density",
        "distinct",
        "metamerism-index",
    ]
    keys += ["answers", "solving"] if corrected else []
    keys += ["inconstancy", "excitation", "observers", "viewers", "ranking", "sheets"]
    keys += [neutral] if neutral in REGISTER else []
    keys += [] if all(one.known for one in prints) else ["emission", "brightened-paper"]
    keys += [] if all(one.ramp.repeatability.known for one in prints) else ["repeatability"]
    keys += [key for one in lights for key in one.rests_on]
    keys += ["glazing-family"] if _glasses(lights) else []
    return supports(*keys)


def light_weights(
    lights: Sequence[Light], named: Mapping[str, float] | None, worst_share: float
) -> tuple[float, ...]:
    """Return each light's weight in a score, 1 where none is named.

    Raises
    ------
    BadInput
        For a share of the worst light that is none, a light that is not there, or weights that
        make no mean.
    """
    if not 0 <= worst_share <= 1:
        raise BadInput(f"the share of the worst light is {worst_share:g}; give 0 to 1")
    given = {name.upper(): value for name, value in (named or {}).items()}
    names = {one.name.upper() for one in lights}
    strangers = [name for name in given if name not in names]
    if strangers:
        raise BadInput(
            f"a weight is given for '{strangers[0]}', which is not among the lights: "
            f"{', '.join(one.name for one in lights)}"
        )
    weights = tuple(float(given.get(one.name.upper(), 1.0)) for one in lights)
    if not (min(weights) >= 0 and max(weights) <= 1e6 and sum(weights) > 0):
        raise BadInput("the weights of the lights are numbers from 0 to a million, not all zero")
    return weights


def _check_alike(prints: Sequence[Print]) -> None:
    if len(prints) < 2:
        raise BadInput("a comparison needs readings of at least two papers")
    first = prints[0].ramp.reading
    for own in prints[1:]:
        reading = own.ramp.reading
        for what in ("condition", "backing"):
            ours, theirs = getattr(reading, what), getattr(first, what)
            if ours != theirs:
                raise BadInput(
                    f"was measured with {what} {ours or 'not stated'}, and {first.source} with "
                    f"{theirs or 'not stated'}; papers are ranked only when measured alike",
                    reading.source,
                )


def _ranked(
    prints: Sequence[Print],
    under: Sequence[UnderLights],
    lights: Sequence[Light],
    weights: tuple[float, ...],
    asked: ComparisonOptions,
    others: Sequence[float],
) -> tuple[ComparedPaper, ...]:
    figures = [_figures(one, asked) for one in under]
    score = score_papers(
        np.stack(figures),
        np.stack([one.sd_mean_delta_Ch for one in under]),
        weights,
        asked.worst_share,
    )
    names = [f"{own.name}\0{own.ramp.reading.source}" for own in prints]
    ranks = _ranks(score, prints, names)
    papers = [
        filled(
            ComparedPaper,
            own.ramp.reading,
            name=own.name,
            own=own,
            under=one,
            rank=ranks[i],
            tied=ranks.count(ranks[i]) > 1,
            score=float(score.score[i]),
            sd=float(score.sd[i]),
            worst_light=lights[int(score.worst_light[i])].name,
            dmax=float(own.ramp.reading.density[own.ramp.black_index]),
            shadow=distinct_shadow(own.ramp),
            weights=weights,
            asked=asked,
            other_score=others[i],
        )
        for i, (own, one) in enumerate(zip(prints, under, strict=True))
    ]
    return tuple(sorted(papers, key=lambda paper: (paper.rank, paper.score, paper.name)))


def _ranks(score: Score, prints: Sequence[Print], names: Sequence[str]) -> list[int]:
    freedom = min(ramp_freedom(own.ramp) for own in prints)
    # A shift of a sheet in a* and b* goes by half its variance along a paper's cast.
    sd = np.hypot(score.sd, SHEETS_CH / np.sqrt(2.0))
    return rank(score.score, sd, names, apart_from(freedom, len(prints)))


def orders_by_share(comparison: Comparison) -> tuple[tuple[float, float, tuple[int, ...]], ...]:
    """Return how the papers rank by the share that the worst light has in the score.

    Returns
    -------
    Stretches of shares, from 0 to 1 in twentieths, in which the ranks stay the same: the first and
    the last share, and the rank of each of `comparison.papers`.
    """
    papers = comparison.papers
    figures = np.stack([_figures(one.under, comparison) for one in papers])
    sd = np.stack([one.under.sd_mean_delta_Ch for one in papers])
    prints, names = [one.own for one in papers], [one.name for one in papers]
    found: list[tuple[float, float, tuple[int, ...]]] = []
    for share in np.linspace(0.0, 1.0, 21).round(2).tolist():
        score = score_papers(figures, sd, comparison.weights, share)
        ranks = tuple(_ranks(score, prints, names))
        if found and found[-1][2] == ranks:
            found[-1] = (found[-1][0], share, ranks)
        else:
            found.append((share, share, ranks))
    return tuple(found)


def _remarks(prints: Sequence[Print], lights: Sequence[Light]) -> list[str]:
    remarks = []
    for own in prints:
        reading = own.ramp.reading
        said = loss_words(reading.spectra, reading.wavelengths, lights, reading.observer)
        remarks += [f"{own.name}: {sentence}" for sentence in said]
    guessed = [own for own in prints if not own.known]
    without_uv = [own.name for own in guessed if own.ramp.reading.condition == WITHOUT_UV]
    said_of = (
        (
            [own.name for own in guessed if own.ramp.reading.condition != WITHOUT_UV],
            "Read in one condition only ({}): what a brightener does under other lights lies "
            "somewhere in the range given; read the chart in M1 and M2 to know it.",
        ),
        (
            without_uv,
            "Read without ultraviolet ({}): the range given allows for the strongest brightener; "
            "read the chart in M1 as well to know it.",
        ),
        (
            [one.name for one in lights if one.begins > 360],
            "The ultraviolet of {} is not fully known; what is known is counted, and the range "
            "allows for as much as D50 has, or daylight of its temperature.",
        ),
        (
            [own.name for own in prints if not own.ramp.repeatability.known],
            "Nothing was measured twice ({}): how its tones scatter along the ramp stands for the "
            "repeatability when papers are called tied.",
        ),
    )
    remarks += [sentence.format(some(names)) for names, sentence in said_of if names]
    return [*remarks, *(f"{one.name}: {remark}" for one in lights for remark in one.remarks)]


def some(names: Sequence[str]) -> str:
    """Return some names, as within brackets; of many, the first and how many more."""
    return (
        ", ".join(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more"
    )
