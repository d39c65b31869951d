"""One curve for the lights that a print will hang in: what to send, and what that leaves in each.

A tone has three values to send and, under k lights, 2k values of a*, b* to meet, and L* under the
first. What cannot be met under all is shared out by least squares, each light by a share; the
shares are sought that leave the least score, as papers are scored in a comparison.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.aims.tolerances import score_papers
from greyscale.analysis.brighteners import otherwise_passing
from greyscale.analysis.certainty import MEAN_LENGTH
from greyscale.analysis.comparison import light_weights
from greyscale.base.errors import BadInput, not_known
from greyscale.base.results import filled
from greyscale.colorimetry.arrays import Array, equal_channels
from greyscale.colorimetry.cielab import means_over_lightness
from greyscale.colorimetry.fluorescence import credible_excitation
from greyscale.colorimetry.lights import Light, light
from greyscale.colorimetry.observers import OBSERVERS
from greyscale.correction.evidence import with_same_glow
from greyscale.correction.expectation import (
    Expectation,
    Limit,
    expectation,
    find_limits,
)
from greyscale.correction.record import Correction, Evidence, ForLight, Options, TradeOff
from greyscale.correction.targets import Aims
from greyscale.printer.answers import TONES
from greyscale.printer.model import PrinterModel, fit, refit
from greyscale.printer.solver import TONE_WEIGHT, Solution, View, begins_at, solve
from greyscale.readings.reading import Reading, is_bare, is_full

_LEVELS = np.linspace(0.0, 1.0, TONES)
_TONES = slice(1, -1)
_LEAST_SHARE = 1e-3
_DAMPING = 1e-3
"""Of the mean curvature: where many values print alike, as in a blocked shadow, none runs away."""

_NEAR_THE_WEIGHTS = 2e-3
"""Score that shares e times as far apart as the weights are worth: decides where many are best."""


@dataclass(frozen=True, eq=False)
class Seen:
    """A printer and its aims as they look under one light; None is D50 as read."""

    light: Light | None
    weight: float
    model: PrinterModel
    paper_lab: Array
    black_lab: Array
    aimed: Array
    before: Array
    aim_before: Array

    def expected(self, rgb: Array, limits: Sequence[Limit] = ()) -> Expectation:
        """What is to be expected here of values sent, shape (256, 3)."""
        solution = Solution(_LEVELS, rgb, self.model.lab(rgb), self.model.stated(rgb))
        return expectation(self.before, self.aim_before, self.aimed, solution, limits)


def seen(
    one: Light | None, weight: float, model: PrinterModel, aims: Aims, starts_at: float = 0.0
) -> Seen:
    """Look at a printer, whose model is for this light, with its aims there.

    Parameters
    ----------
    starts_at
        The level that prints its black.
    """
    paper, black = model.lab([[1.0, 1.0, 1.0], [starts_at] * 3])
    before = model.lab(equal_channels(_LEVELS))
    aimed = aims.lab(_LEVELS, paper, black)
    return Seen(
        one, weight, model, paper, black, aimed, before, aims.ab_at(before, paper, black)
    )  # fmt: skip


def model_under(
    evidence: Evidence,
    model: PrinterModel,
    aims: Aims,
    one: Light,
    observer: str,
    *,
    share: float = 1.0,
    excites: float | None = None,
) -> PrinterModel:
    """The model of a printer as seen under a light; see `Evidence.lab_under`."""
    lab = evidence.lab_under(one, observer, share=share, excites=excites)
    if np.allclose(lab, evidence.lab, atol=1e-9):
        return model
    ends = is_bare(evidence.device), is_full(evidence.device)
    paper, black = (np.average(lab[rows], axis=0, weights=evidence.counts[rows]) for rows in ends)
    return refit(model, lab, aims.centre(paper, black))


def own_model(correction: Correction) -> PrinterModel:
    """The printer as the correction sees it, under its own light; fitted again if need be."""
    evidence = correction.evidence.told
    known = correction.model or fit(evidence)
    if not correction.lights:
        return known
    return model_under(
        evidence, known, Aims.kept(correction), correction.lights[0].light, correction.observer
    )


def as_seen(reading: Reading, correction: Correction, one: Light | None = None) -> Reading:
    """Return a reading with its CIELAB under a light, by default the correction's own.

    What its brightener adds is as measured for the correction, unless it was measured itself.

    Raises
    ------
    BadInput
        For a reading without spectra, where the light is not D50.
    """
    own = one or (correction.lights[0].light if correction.lights else None)
    if own is None:
        return reading
    if not reading.spectral:
        raise BadInput(
            f"holds no spectra, and the print is judged under {own.name}; measure again with an "
            "instrument that gives spectra",
            reading.source,
        )
    (glowing,) = with_same_glow([reading], correction)
    return glowing.under(own, correction.observer)


def asked_lights(asked: Options) -> list[tuple[Light, float]]:
    """The lights asked for, with their weights; D50 follows, to be looked at, if it isn't among.

    Raises
    ------
    BadInput
        For weights, a share or an observer that cannot be used.
    """
    if asked.observer not in OBSERVERS:
        raise not_known("observer", asked.observer, OBSERVERS)
    found = list(zip(asked.lights, light_weights(asked.lights, asked.weights, asked.worst_share),
                     strict=True))  # fmt: skip
    if found[0][1] <= 0:
        raise BadInput(
            f"the first light, {found[0][0].name}, has the weight 0, and L* is solved under it; "
            "give first a light that counts"
        )
    if all(one.name != "D50" for one, _ in found):
        found.append((light("D50"), 0.0))
    return found


@dataclass(frozen=True, eq=False)
class Served:
    """A solution for several lights: of the first, and what is left under each."""

    first: Seen
    solution: Solution
    limits: tuple[Limit, ...]
    lights: tuple[ForLight, ...]
    trade_offs: tuple[TradeOff, ...]


@dataclass(frozen=True, eq=False)
class _Sought:
    """One curve for several looks at a printer; those with a weight above zero count."""

    looks: tuple[Seen, ...]
    asked: Options
    cautious: bool
    starts_at: float
    priority: Array | None

    @property
    def own(self) -> list[Seen]:
        return [look for look in self.looks if look.weight > 0]

    def solved(
        self, some: Sequence[Seen], shares: Sequence[float] = (1.0,), near: Array | None = None
    ) -> Solution:
        return solve(
            some[0].model,
            some[0].aimed,
            cautious=self.cautious,
            priority=self.priority,
            tone_only=self.asked.tone_only,
            starts_at=self.starts_at,
            weight=shares[0],
            beside=[
                View(look.model, look.aimed, share)
                for look, share in zip(some[1:], shares[1:], strict=True)
            ],
            near=near,
        )

    def left(self, names: Sequence[Seen], solution: Solution) -> TradeOff:
        each = [look.expected(solution.rgb) for look in self.looks]
        return TradeOff(
            tuple(look.light.name for look in names if look.light is not None),
            tuple(one.after_mean_delta_Ch for one in each),
            tuple(one.after_max_delta_Ch for one in each),
            _score([one.after_mean_delta_Ch for one in each], self.looks, self.asked.worst_share),
        )

    def best(self, alone: Solution) -> Solution:
        """The curve that leaves the least score under all lights that count.

        Parameters
        ----------
        alone
            The curve for the first of them alone: the search begins there, and ends no worse.
        """
        own = self.own
        if len(own) == 1 or self.asked.tone_only:
            return alone
        weights = np.array([look.weight for look in own])
        first = self.solved(own, list(weights / weights.sum()), alone.rgb)
        shares = balanced(own, first.rgb, weights, self.asked.worst_share)
        return min(
            (alone, first, self.solved(own, shares, first.rgb)),
            key=lambda made: self.left(own, made).score,
        )


def _sought(
    evidence: Evidence, model: PrinterModel, aims: Aims, asked: Options, priority: Array | None
) -> _Sought:
    shadow = evidence.response
    start = begins_at(model, shadow.darkest_level, shadow.blocked_below)
    looks = [seen(None, 1.0, model, aims, start)]
    if asked.lights:
        looks = [
            seen(one, weight, model_under(evidence, model, aims, one, asked.observer), aims, start)
            for one, weight in asked_lights(asked)
        ]
    return _Sought(tuple(looks), asked, not evidence.near_neutral, start, priority)


def best_curve(evidence: Evidence, model: PrinterModel, aims: Aims, asked: Options) -> Solution:
    """Solve one curve for the lights that are asked for, and tell nothing of what it leaves."""
    sought = _sought(evidence, model, aims, asked, None)
    return sought.best(sought.solved(sought.own[:1]))


def serve(
    evidence: Evidence,
    model: PrinterModel,
    aims: Aims,
    asked: Options,
    priority: Array | None,
) -> Served:
    """Solve one curve for the lights that are asked for, and for each alone, to compare.

    Where none is asked for, it is for D50, from CIELAB as it was read.

    Parameters
    ----------
    evidence, model
        The printer, as fitted under D50.
    priority
        Shape (256,): how much each tone counts, or None.
    """
    sought = _sought(evidence, model, aims, asked, priority)
    looks, own = sought.looks, sought.own
    solution = sought.solved(own[:1])
    limits = _limits(solution, own[0], asked.tone_only)
    if not asked.lights:
        return Served(own[0], solution, limits, (), ())
    if asked.tone_only:
        # Equal R, G, B leave the tint that they leave, whatever the light they are solved for.
        told = [sought.left(own, solution)]
    else:
        others = [look for look in looks if look not in own]
        alone = {id(look): sought.solved([look]) for look in looks if look is not own[0]}
        alone[id(own[0])] = solution
        told = [sought.left([look], alone[id(look)]) for look in (*others, *own)]
    if len(own) > 1 and not asked.tone_only:
        solution = sought.best(solution)
        told.append(sought.left(own, solution))
    found = tuple(_found(evidence, model, aims, look, solution, limits, asked) for look in looks)
    return Served(own[0], solution, limits, found, tuple(told))


def _limits(solution: Solution, look: Seen, tone_only: bool) -> tuple[Limit, ...]:
    """Where the aim is out of reach; of tone alone, where its L* is: the tint is not asked for."""
    aimed = look.aimed
    if tone_only:
        aimed = np.column_stack([aimed[:, 0], solution.lab[:, 1:]])
    return find_limits(_LEVELS, solution.lab, aimed)


def _score(means: Sequence[float], looks: Sequence[Seen], worst_share: float) -> float:
    weights = [look.weight for look in looks]
    return float(score_papers([means], [[0.0] * len(means)], weights, worst_share).score[0])


def _found(
    evidence: Evidence,
    model: PrinterModel,
    aims: Aims,
    look: Seen,
    solution: Solution,
    limits: tuple[Limit, ...],
    asked: Options,
) -> ForLight:
    assert look.light is not None
    expected = look.expected(solution.rgb, limits)
    means = [expected.after_mean_delta_Ch]
    excited = dict.fromkeys(credible_excitation(look.light))
    others = [
        model_under(supposed, model, aims, look.light, asked.observer, share=share, excites=excites)
        for share, supposed in _credible_glows(evidence)
        for excites in excited
    ]
    others += [
        model_under(evidence, model, aims, glass, asked.observer) for glass in look.light.credible
    ]
    for other in others:
        there = seen(look.light, look.weight, other, aims, float(solution.rgb[0, 0]))
        means.append(there.expected(solution.rgb).after_mean_delta_Ch)
    return filled(
        ForLight,
        look,
        aim_lab=look.aimed,
        before_lab=look.before,
        lab=look.model.lab(solution.rgb),
        sd=look.model.stated(solution.rgb),
        expectation=expected,
        low=min(means),
        high=max(means),
    )


def _credible_glows(evidence: Evidence) -> list[tuple[float, Evidence]]:
    """Evidence by what may glow, and how much of that does; none where nothing glows."""
    if evidence.glow is None:
        return []
    if evidence.glow_known:
        return [(1.0, evidence)]
    others = (replace(evidence, glow=one) for one in otherwise_passing(evidence.glow))
    return [*((share, evidence) for share in (0.0, 1.0, 2.0)), *((2.0, one) for one in others)]


def balanced(looks: Sequence[Seen], rgb: Array, weights: Array, worst_share: float) -> list[float]:
    """The shares of the lights in the least squares that leave the least score, with sum 1.

    Parameters
    ----------
    looks
        k lights, the first decides about L*.
    rgb
        Shape (256, 3): values near those sought; around them the printer is taken as linear.
    weights, worst_share
        What the score is made of.
    """
    from scipy.optimize import minimize

    sent = rgb[_TONES]
    slopes = np.stack([look.model.jacobian(sent) for look in looks])
    off = np.stack([look.model.lab(sent) - look.aimed[_TONES] for look in looks])
    noise = np.stack(
        [np.sqrt(np.mean(look.model.uncertainty(sent)[:, 1:] ** 2, axis=1)) for look in looks]
    )
    L = np.stack([look.aimed[_TONES, 0] for look in looks])
    tone, tone_off = TONE_WEIGHT**2 * slopes[0, :, 0], off[0, :, 0]
    colour, colour_off = slopes[:, :, 1:], off[:, :, 1:]
    by_tone = np.einsum("ni,nj->nij", tone, slopes[0, :, 0])
    by_light = np.einsum("knri,knrj->knij", colour, colour)
    damping = _DAMPING * np.trace(by_light.mean(axis=0), axis1=1, axis2=2) / 3
    start = np.log(weights)
    middle = start[:-1] - start[-1]

    def shares_of(log_shares: Array) -> Array:
        shares = np.exp(np.append(log_shares, 0.0))
        return np.asarray(np.maximum(shares / shares.sum(), _LEAST_SHARE))

    def score(log_shares: Array) -> float:
        shares = shares_of(log_shares)
        curvature = by_tone + np.einsum("k,knij->nij", shares, by_light)
        curvature = curvature + damping[:, np.newaxis, np.newaxis] * np.eye(3)
        gradient = tone * tone_off[:, np.newaxis] + np.einsum(
            "k,knri,knr->ni", shares, colour, colour_off
        )
        step = -np.linalg.solve(curvature, gradient[..., np.newaxis])[..., 0]
        rest = colour_off + np.einsum("knri,ni->knr", colour, step)
        size = np.hypot(np.linalg.norm(rest, axis=-1), MEAN_LENGTH * noise)
        means = means_over_lightness(size, L)
        total = _score(list(means), looks, worst_share)
        return total + _NEAR_THE_WEIGHTS * float(np.sum((log_shares - middle) ** 2))

    found = minimize(
        score,
        middle,
        method="Nelder-Mead",
        options={
            "initial_simplex": middle + np.vstack([np.zeros_like(middle), np.eye(middle.size)]),
            "xatol": 0.01,
            "fatol": 1e-4,
            "maxiter": 200,
        },
    )
    return [float(share) for share in shares_of(np.asarray(found.x))]
