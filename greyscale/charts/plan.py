"""Which patches a chart holds: its tones, the near-neutral patches beside them, the repeats."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.charts.measured_ramp import MeasuredRamp, measured_ramp
from greyscale.charts.near_neutral import (
    MOST_PATCHES,
    near_neutral_levels,
    near_neutral_patches,
    nudges_for_response,
    tones_within,
    usual_nudges,
)
from greyscale.charts.patches import (
    DEFAULT_BITS,
    PatchList,
    Plan,
    greys,
    joined,
    levels_in_words,
    usual_repeats,
    whole_steps,
    with_repeats,
)
from greyscale.charts.picture_tones import PictureTones, picture_chart_tones
from greyscale.charts.tones import DEFAULT_SPACING, SPACINGS, spread, starting_tones
from greyscale.colorimetry.arrays import Array
from greyscale.readings.reading import Reading

# Which tones a follow-up chart holds, from what the starting chart measured.

TIE_LEVELS = (0.25, 0.5, 0.75)
"""Levels near which a tone of the first chart is printed again: they tie the sheets together."""

# Below these nothing more is wanted: a bend that could hide less between two measured tones than an
# instrument's noise, and a step of a*, b* smaller than anyone sees.
LEAST_BEND = 0.05
LEAST_DRIFT = 0.5

_LEAST_STEP = 1.9 / 255
"""A new tone lies two codes of 8 bits from any other."""

BEND, DRIFT, UNCERTAIN = "bend", "drift", "uncertain"
_LEAST = {BEND: LEAST_BEND, DRIFT: LEAST_DRIFT, UNCERTAIN: 0.0}


_SENTENCES = {
    BEND: (
        "where the curve bends: {levels} (between measured neighbours a sharp bend could be "
        "missed by up to {most:.2f})"
    ),
    DRIFT: (
        "where drift is fast: {levels} (a*, b* move by up to {most:.2f} between measured "
        "neighbours)"
    ),
    UNCERTAIN: (
        "where the fitted curve is least certain: {levels} (known to ±{most:.2f} there, 95 %)"
    ),
}

_NOTHING_LEFT = {
    BEND: (
        "none for a bend: the curve bends so gently that no more than "
        f"{LEAST_BEND} can be missed between measured neighbours"
    ),
    DRIFT: (
        f"none for drift: a*, b* move by less than {LEAST_DRIFT} between measured neighbours "
        "everywhere"
    ),
}


@dataclass(frozen=True)
class _Choice:
    """A level, what for, and how much it was wanted, in CIELAB units."""

    level: float
    reason: str
    size: float


def follow_up_tones(
    ramp: MeasuredRamp,
    count: int,
    bits: int = DEFAULT_BITS,
    weight: tuple[Array, Array] | None = None,
) -> Plan:
    """Choose the tones of a follow-up chart.

    Paper, black and three tones of the first chart tie the two sheets together. The rest is
    chosen one by one, in turn for each of three reasons: where the curve bends (a sharp bend
    between measured neighbours would be missed by most), where drift is fast (a*, b*
    move most between measured neighbours), where the fitted curve is least certain (its posterior
    standard deviation, those already chosen counted as measured). A reason that has nothing left
    to ask for leaves its turns to the last one. Nothing goes where the printer clips.

    Parameters
    ----------
    ramp
        What was measured.
    count
        How many tones.
    bits
        Levels are whole codes of so many bits.
    weight
        Levels and the weight of each, mean about 1: where a picture has its tones.

    Returns
    -------
    `count` patches by rising level, fewer if there are no more codes to choose.
    """
    ties = _ties(ramp, bits)
    choices = _choose(ramp, ties, count - len(ties), bits, weight)
    reasons = {level: "paper and black" if level in (0.0, 1.0) else "tie" for level in ties}
    reasons |= {choice.level: f"{choice.reason}: {_why(choice)}" for choice in choices}
    levels = sorted(reasons)
    patches = greys(levels, [reasons[level] for level in levels])
    return Plan(patches, _explanation(choices, ties, ramp))


def _choose(
    ramp: MeasuredRamp,
    ties: list[float],
    count: int,
    bits: int,
    weight: tuple[Array, Array] | None,
) -> list[_Choice]:
    candidates = np.arange(1, 255) / 255
    inside = (candidates > ramp.clipped_below) & (candidates < ramp.clipped_above)
    candidates = whole_steps(candidates[inside], bits)
    importance = np.ones(candidates.size)
    if weight is not None:
        importance = np.sqrt(np.interp(candidates, weight[0], weight[1]))
    chosen = list(ties)
    choices: list[_Choice] = []
    for turn in range(count):
        known = np.concatenate([ramp.levels, chosen])
        free = np.min(np.abs(candidates[:, np.newaxis] - known), axis=1) > _LEAST_STEP
        if not free.any():
            break
        wanted = _wanted(ramp, candidates, chosen)
        reason = (BEND, DRIFT, UNCERTAIN)[turn % 3]
        if wanted[reason][free].max() < _LEAST[reason]:
            reason = UNCERTAIN
        best = int(np.argmax(np.where(free, wanted[reason] * importance, -1.0)))
        choices.append(_Choice(float(candidates[best]), reason, float(wanted[reason][best])))
        chosen.append(choices[-1].level)
    return choices


def _ties(ramp: MeasuredRamp, bits: int) -> list[float]:
    inner = ramp.levels[(ramp.levels > 0.02) & (ramp.levels < 0.98)]
    ties = {float(inner[np.argmin(np.abs(inner - level))]) for level in TIE_LEVELS}
    return [float(x) for x in np.unique(whole_steps([0.0, *sorted(ties), 1.0], bits))]


def _wanted(ramp: MeasuredRamp, candidates: Array, chosen: list[float]) -> dict[str, Array]:
    """Return how much each candidate is wanted, (k,), by reason, in CIELAB units."""
    known = np.unique(np.concatenate([ramp.levels, chosen]))
    right = np.clip(np.searchsorted(known, candidates), 1, known.size - 1)
    low, high = known[right - 1], known[right]
    # Most wanted half way between the neighbours: 1 there, 0 at them.
    lever = 4 * np.maximum((candidates - low) * (high - candidates), 0.0) / (high - low) ** 2
    # A corner half way between points a step apart, at which the slope changes by t, is rounded
    # off by t · step / 8 when a smooth curve goes through the points.
    bend = ramp.turn(candidates) * (high - low) / 8 * lever
    # The step of a*, b* between the neighbours.
    drift = ramp.drift_speed(candidates) * (high - low) * lever
    return {BEND: bend, DRIFT: drift, UNCERTAIN: ramp.uncertainty(candidates, chosen)}


def _why(choice: _Choice) -> str:
    if choice.reason == BEND:
        return f"a sharp bend could be missed by {choice.size:.2f}"
    if choice.reason == DRIFT:
        return f"a*, b* move by {choice.size:.2f} between neighbours"
    return f"known only to ±{2 * choice.size:.2f}"


def _explanation(choices: list[_Choice], ties: list[float], ramp: MeasuredRamp) -> tuple[str, ...]:
    lines = []
    for reason, sentence in _SENTENCES.items():
        these = [choice for choice in choices if choice.reason == reason]
        if these:
            most = max(choice.size for choice in these) * (2 if reason == UNCERTAIN else 1)
            levels = levels_in_words([choice.level for choice in these])
            lines.append(f"{len(these)} {sentence.format(levels=levels, most=most)}")
        elif reason != UNCERTAIN:
            lines.append(_NOTHING_LEFT[reason])
    tied = levels_in_words(ties)
    lines.append(f"{len(ties)} measured before, to tie the two sheets together: {tied}")
    if ramp.clipped_below > 0:
        lines.append(f"none below {ramp.clipped_below:.2f}, where everything prints like black")
    if ramp.clipped_above < 1:
        lines.append(f"none above {ramp.clipped_above:.2f}, where everything prints like paper")
    return tuple(lines)


DEFAULT_TONES = 33
FOLLOW_UP_TONES = 24
_LEAST_CHOSEN_TONES = 6
_MOST_CHOSEN_TONES = 250
_LEAST_ELSEWHERE = 2


def plan_patches(
    *,
    tones: int | None = None,
    spacing: str | None = None,
    near_neutral: bool = False,
    after: Reading | None = None,
    picture: PictureTones | None = None,
    repeats: int | None = None,
    bits: int = DEFAULT_BITS,
    repeated: int = 0,
) -> Plan:
    """Choose the patches of a chart; arguments as `greyscale.charts.chart.make_chart`.

    Parameters
    ----------
    repeated
        So many of the usual repeats are in its code already.

    Returns
    -------
    The patches, repeats at the end, with the reasons in sentences.

    Raises
    ------
    BadInput
        For options that do not go together, a reading that cannot be followed up, and numbers
        that cannot be.
    """
    ramp = None if after is None else measured_ramp(after)
    plan = _tones(tones, spacing, ramp, picture, bits)
    patches, why = plan.patches, list(plan.why)
    if near_neutral:
        beside = _near_neutral(len(patches), ramp, picture, repeats, bits)
        patches = joined([patches, beside.patches])
        why += beside.why
    # Paper and black also lie elsewhere, to tell whether the page is even.
    usual = max(usual_repeats(len(patches)) - repeated, _LEAST_ELSEWHERE)
    again = usual if repeats is None else repeats
    patches = with_repeats(patches, again)
    return Plan(patches, tuple(why))


def tones_in_words(spacing: str | None, after: Reading | None, picture: PictureTones | None) -> str:
    """Say in a few words how a chart's tones were chosen, for its caption."""
    if after is None and picture is None:
        return SPACINGS[spacing or DEFAULT_SPACING]
    words = [] if after is None else [f"after {after.name}"]
    if picture is not None:
        words.append(f"for {Path(picture.source).name}")
    return " ".join(words)


def _tones(
    count: int | None,
    spacing: str | None,
    ramp: MeasuredRamp | None,
    picture: PictureTones | None,
    bits: int,
) -> Plan:
    usual = DEFAULT_TONES if ramp is None else FOLLOW_UP_TONES
    wanted = usual if count is None else count
    if ramp is None and picture is None:
        chosen = spacing or DEFAULT_SPACING
        why = f"{wanted} tones {SPACINGS[chosen]}, paper and black among them"
        return Plan(starting_tones(wanted, chosen, bits), (why,))
    if spacing is not None:
        raise BadInput(
            "the spacing belongs to a starting chart; a chart after a reading or for a picture "
            "finds its own. Leave it out"
        )
    if not _LEAST_CHOSEN_TONES <= wanted <= _MOST_CHOSEN_TONES:
        raise BadInput(
            f"{wanted} tones are not possible; a chart after a reading or for a picture has "
            f"{_LEAST_CHOSEN_TONES} to {_MOST_CHOSEN_TONES}"
        )
    if ramp is not None:
        weight = None if picture is None else (picture.levels, picture.weight)
        plan = follow_up_tones(ramp, wanted, bits, weight)
        more = () if picture is None else ("all weighted by where the picture has its tones",)
        return Plan(plan.patches, (*plan.why, *more))
    assert picture is not None
    return picture_chart_tones(picture, wanted, bits)


def _near_neutral(
    tones: int,
    ramp: MeasuredRamp | None,
    picture: PictureTones | None,
    repeats: int | None,
    bits: int,
) -> Plan:
    """Choose as many near-neutral patches as the chart's usual size leaves room for."""
    again = (
        usual_repeats(MOST_PATCHES - usual_repeats(MOST_PATCHES)) if repeats is None else repeats
    )
    count = tones_within(MOST_PATCHES - tones - again)
    if picture is None:
        levels = near_neutral_levels(count, between=ramp is not None)
    else:
        levels = spread(count + 2, picture.density, picture.levels)[1:-1]
    nudges = usual_nudges(levels)
    sized = "by 0.16 of full scale at two tones, 0.08 at the next two, less near paper"
    if ramp is not None:
        levels = np.unique(np.clip(levels, ramp.clipped_below, ramp.clipped_above))
        nudges = _nudges(levels, ramp)
        if ramp.response.size:
            sized = "by as much as the measured answer asks for"
    patches = near_neutral_patches(levels, nudges, bits)
    return Plan(patches, (_near_neutral_in_words(patches, levels, sized),))


def _near_neutral_in_words(patches: PatchList, levels: Array, sized: str) -> str:
    return (
        f"{len(patches)} near-neutral patches round {len(levels)} tones from "
        f"{levels[0]:.2f} to {levels[-1]:.2f}: at every other tone one channel at a time, in "
        f"between two against each other, moved {sized}"
    )


def _nudges(levels: Array, ramp: MeasuredRamp) -> Array:
    if ramp.response.size == 0:
        return usual_nudges(levels)
    return nudges_for_response(levels, ramp.near_neutral_levels, ramp.response)
