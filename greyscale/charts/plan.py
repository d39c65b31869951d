"""Which patches a chart holds: its tones, the near-neutral patches beside them, the repeats."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.charts.after import follow_up_tones
from greyscale.charts.measured_ramp import MeasuredRamp, measured_ramp
from greyscale.charts.near_neutral import (
    MOST_PATCHES,
    near_neutral_levels,
    near_neutral_patches,
    nudges_for_response,
    tones_within,
    usual_nudges,
)
from greyscale.charts.order import usual_repeats, with_repeats
from greyscale.charts.patches import DEFAULT_BITS, PatchList, Plan, joined
from greyscale.charts.picture_tones import PictureTones, picture_chart_tones
from greyscale.charts.tones import DEFAULT_SPACING, SPACINGS, spread, starting_tones
from greyscale.colorimetry.arrays import Array
from greyscale.readings.reading import Reading

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
