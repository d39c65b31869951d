"""Neutral stretches and casts of a ramp, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.neutral import NEUTRAL_AIMS
from greyscale.analysis.certainty import FAIL
from greyscale.analysis.neutrality import (
    NOT_SHOWN,
    SHOWN,
    VISIBLE_DELTA_CH,
    Cast,
    hue_name,
    to_be_named,
)
from greyscale.colorimetry.arrays import Array, Mask
from greyscale.colorimetry.cielab import hue_angle
from greyscale.reporting.figures.labels import label
from greyscale.reporting.numbers import percent
from greyscale.reporting.page import Block, Points, Prose, Report, Section

if TYPE_CHECKING:
    from greyscale.analysis.analyse import Analysis
    from greyscale.analysis.neutrality import Cast
    from greyscale.analysis.picture import CastShare, PictureNeutrality
    from greyscale.applying.preview import Preview, Side
    from greyscale.correction.sureness import PictureSureness

NAMED_CASTS = 3
"""More casts than these are counted, not described."""

NARROW = 0.15
"""A cast that spans less of the scale, and is half as strong as the strongest, is a side issue."""

LEAST_STRETCH = 0.15
"""The neutral stretch next to paper is named when it takes up this much of the scale."""


def zone(level: float) -> str:
    """Name the part of the tone scale that a level belongs to: thirds of the scale.

    Examples
    --------
    >>> zone(0.9), zone(0.5), zone(0.1)
    ('highlights', 'mid-tones', 'shadows')
    """
    if level >= 2 / 3:
        return "highlights"
    return "mid-tones" if level >= 1 / 3 else "shadows"


def within(value: float) -> str:
    """Return a bound with one decimal, rounded up so that it holds, and not below 0.1.

    Examples
    --------
    >>> within(0.61)
    '0.7'
    """
    return f"{max(1, math.ceil(value * 10 - 1e-9)) / 10:.1f}"


def on_aim(aim: str) -> str:
    """Name a tone that shows no cast: neutral, or as toned as it is meant to be.

    Examples
    --------
    >>> on_aim("fading"), on_aim("warm")
    ('neutral', 'true to the aim')
    """
    return "neutral" if aim in NEUTRAL_AIMS else "true to the aim"


def joined(parts: Sequence[str], last: str = "and", most: int | None = None) -> str:
    """Join as a sentence does; of more than `most` parts, the first of them and how many more.

    Examples
    --------
    >>> joined(["A", "F11", "LED-B3"]), joined(["A", "F11", "LED-B3", "D50"], most=2)
    ('A, F11 and LED-B3', 'A, F11 and 2 more')
    """
    if most is not None and len(parts) > most:
        parts = [*parts[:most], f"{len(parts) - most} more"]
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"


def main_casts(casts: Sequence[Cast]) -> tuple[Cast, ...]:
    """Leave out casts that are not shown, or both narrow and weak beside the strongest.

    Examples
    --------
    >>> strong = Cast(0.2, 0.6, "greenish", 180.0, 3.0, 0.4)
    >>> main_casts([strong, Cast(0.62, 0.65, "bluish", 270.0, 1.2, 0.62)]) == (strong,)
    True
    """
    named = to_be_named(casts)
    strongest = max((cast.peak_delta_Ch for cast in named), default=0.0)
    return tuple(
        cast
        for cast in named
        if cast.peak_delta_Ch >= strongest / 2 or cast.to_level - cast.from_level >= NARROW
    )


def by_size(casts: Sequence[Cast]) -> list[Cast]:
    """Return casts by their peak, the strongest first."""
    return sorted(casts, key=lambda cast: -cast.peak_delta_Ch)


def hues_of(casts: Sequence[Cast]) -> str:
    """Name the hues of the casts, the strongest first; "none" where there is none.

    Examples
    --------
    >>> hues_of([Cast(0.1, 0.2, "bluish", 270.0, 1.2, 0.1), Cast(0.5, 0.6, "orange", 45.0, 2, 0.5)])
    'orange and bluish'
    """
    return joined(list(dict.fromkeys(cast.hue for cast in by_size(to_be_named(casts))))) or "none"


def place_of(cast: Cast) -> str:
    """Say in which part of the scale a cast lies.

    Examples
    --------
    >>> place_of(Cast(0.1, 0.25, "greenish", 180.0, 2.3, 0.15))
    'in the shadows'
    """
    low, high = zone(cast.from_level), zone(cast.to_level)
    return f"in the {low}" if low == high else f"from the {high} to the {low}"


def describe_cast(cast: Cast, whole: bool = False) -> str:
    """Say a cast's hue, where it is, and its peak.

    Parameters
    ----------
    cast
        The cast.
    whole
        Whether it takes up the whole ramp.

    Examples
    --------
    >>> describe_cast(Cast(0.1, 0.25, "greenish", 180.0, 2.3, 0.15))
    'greenish in the shadows between levels 0.10 and 0.25, peak ΔCh 2.3 at 0.15'
    """
    peak = f"peak ΔCh {cast.peak_delta_Ch:.1f} at {cast.peak_level:.2f}"
    if cast.from_level == cast.to_level:
        words = (
            f"{cast.hue} {place_of(cast)} at level {cast.peak_level:.2f}, "
            f"ΔCh {cast.peak_delta_Ch:.1f}"
        )
    elif whole:
        words = f"{cast.hue} throughout, {peak}"
    else:
        levels = f"between levels {cast.from_level:.2f} and {cast.to_level:.2f}"
        words = f"{cast.hue} {place_of(cast)} {levels}, {peak}"
    if cast.verdict == SHOWN:
        return words
    return f"perhaps {words} (probability {cast.probability:.2f})"


def neutrality_words(analysis: Analysis) -> str:
    """Say where the ramp is neutral and where it has which cast, from paper to black.

    Returns
    -------
    Clauses joined by semicolons, without the full stop; the first letter is a capital.
    """
    calm = on_aim(analysis.neutrality.aim)
    tones = analysis.patches.is_tone
    level, delta_Ch = analysis.patches.level[tones], analysis.patches.delta_Ch[tones]
    casts = sorted(to_be_named(analysis.neutrality.casts), key=lambda cast: -cast.to_level)
    if casts:
        clauses = _casts_and_rest(calm, level, delta_Ch, casts)
    else:
        clauses = [_without_casts(analysis, calm, level, delta_Ch)]
    text = "; ".join([*clauses, *_of_black(analysis)])
    return text[:1].upper() + text[1:]


def _casts_and_rest(calm: str, level: Array, delta_Ch: Array, casts: Sequence[Cast]) -> list[str]:
    """Say how far down from paper a ramp is neutral, its strongest casts, and what the rest is."""
    free = ~_in_casts(level, casts)
    above, rest = free & (level > casts[0].to_level), free
    neutral = above & (delta_Ch < VISIBLE_DELTA_CH)
    clauses = []
    if neutral.any() and (end := float(level[above].min())) <= 1 - LEAST_STRETCH:
        reaches = zone(end) if zone(end) != zone(casts[0].to_level) else f"level {end:.2f}"
        clauses.append(f"{calm} within {within(delta_Ch[neutral].max())} from paper to {reaches}")
        rest = free & ~above
    whole = len(casts) == 1 and not free.any()
    clauses += [describe_cast(cast, whole) for cast in by_size(casts)[:NAMED_CASTS]]
    if (weaker := len(casts) - NAMED_CASTS) > 0:
        clauses.append("and one weaker cast" if weaker == 1 else f"and {weaker} weaker casts")
    if rest.any():
        # Single tones that are no cast may be among them.
        most = delta_Ch[rest].max()
        clauses.append(
            f"elsewhere no cast that can be shown, up to ΔCh {most:.1f}"
            if most >= VISIBLE_DELTA_CH
            else f"{calm} within {within(most)} elsewhere"
        )
    return clauses


def _without_casts(analysis: Analysis, calm: str, level: Array, delta_Ch: Array) -> str:
    neutrality, small = analysis.neutrality, delta_Ch < VISIBLE_DELTA_CH
    if neutrality.verdict == FAIL and not small.all():
        worst = int(np.argmax(delta_Ch))
        return (
            f"not {calm}, at most by ΔCh {delta_Ch[worst]:.1f} at {level[worst]:.2f}, "
            "though no run of tones shares one hue"
        )
    sure = neutrality.no_cast_verdict == SHOWN
    words = "no cast that can be shown"
    if small.any():
        most = within(delta_Ch[small].max())
        words = f"{calm} within {most}" if sure else f"within ΔCh {most} of the aim"
        words += " from paper to black"
    how_sure = f"(no cast: {neutrality.no_cast_verdict}, probability {neutrality.no_cast:.2f})"
    return " ".join([words, *_odd_tones(analysis, level, delta_Ch), *([] if sure else [how_sure])])


def _in_casts(level: Array, casts: Sequence[Cast]) -> Mask:
    inside = np.zeros(level.shape, dtype=np.bool_)
    for cast in casts:
        inside |= (level >= cast.from_level) & (level <= cast.to_level)
    return inside


def _odd_tones(analysis: Analysis, level: Array, delta_Ch: Array) -> list[str]:
    """Say of tones that differ visibly, and are no cast, why they are none."""
    odd = np.flatnonzero(delta_Ch >= VISIBLE_DELTA_CH)
    if not odd.size:
        return []
    worst = odd[np.argmax(delta_Ch[odd])]
    sd = analysis.reading.repeatability.sd_Ch
    where = f"ΔCh {delta_Ch[worst]:.1f} at {level[worst]:.2f}"
    refuted = [one for one in analysis.neutrality.casts if one.verdict == NOT_SHOWN]
    if _in_casts(level[odd], refuted).any():
        return [f"but for differences that the reading's noise explains ({where})"]
    if delta_Ch[worst] <= 2 * sd:
        return [f"but for differences within the repeatability (sd {sd:.1f}; {where})"]
    if odd.size == 1:
        return [f"but for a single tone ({where}), which no repeat confirms"]
    return [f"but for {odd.size} single tones (most {where}), which no repeats confirm"]


def _of_black(analysis: Analysis) -> list[str]:
    delta_Ch = analysis.neutrality.black_delta_Ch
    if delta_Ch < VISIBLE_DELTA_CH or delta_Ch <= 2 * analysis.reading.repeatability.sd_Ch:
        return []
    patches = analysis.patches
    hue = hue_name(float(hue_angle(patches.delta_ab[patches.black_index])))
    return [f"black itself is {hue}, ΔCh {delta_Ch:.1f}"]


# Pictures in words: what casts mean for one, and a preview.

NOTICED_SCALING = 1.0
"""L* by which the scalings must differ in the mid-tones to be spoken of."""

LEAST_SHARE = 0.005
"""Casts that hold less of the picture are not named: they would show as 0 %."""


def picture_words(picture: PictureNeutrality) -> str:
    """Say how far the picture departs from its aims, and which share of it lies in each cast."""
    name = Path(picture.source).name
    means = (
        f"Over the tones of {name}, mean ΔCh is {picture.mean_delta_Ch:.2f} and L* is "
        f"{_lightness(picture.mean_delta_L)} on average"
    )
    seen = [cast for cast in picture.casts if cast.share >= LEAST_SHARE]
    if not seen:
        return f"{means}; none of it lies in a cast."
    parts = [
        f"{percent(cast.share)} of it in the {cast.hue} cast from {cast.from_level:.2f} to "
        f"{cast.to_level:.2f}"
        for cast in seen
    ]
    return f"{means}; {joined(parts)}."


def on_paper_words(picture: PictureNeutrality) -> tuple[str, ...]:
    """Say which share of a picture blocks or bleaches, and what scaling does to its mid-tones."""
    found = picture.on_paper
    if found is None:
        return ()
    sentences = []
    if found.blocked_below is not None and found.blocked_share >= LEAST_SHARE:
        sentences.append(
            f"{percent(found.blocked_share)} of the picture lies below level "
            f"{found.blocked_below:.2f}, which prints as one black."
        )
    if found.bleached_above is not None and found.bleached_share >= LEAST_SHARE:
        sentences.append(
            f"{percent(found.bleached_share)} of it lies above level {found.bleached_above:.2f}, "
            "which prints as bare paper."
        )
    linear, black_point = found.midtone_L["linear"], found.midtone_L["black-point"]
    if linear - black_point >= NOTICED_SCALING:
        sentences.append(
            f"Its mid-tones are aimed at L* {linear:.0f} on average by linear scaling, and at "
            f"{black_point:.0f} by black-point scaling."
        )
    return tuple(sentences)


def sureness_words(sureness: PictureSureness, source: str) -> str:
    """Say how surely a corrected print is known over a picture's tones, and what would help."""
    name = Path(source).name
    words = (
        f"Over the tones of {name}, a mean ΔCh of {sureness.delta_Ch:.2f} is to be expected, "
        "uncertainty included; a* and b* of the corrected print are known to "
        f"±{sureness.picture:.2f} (95 %), over the whole scale to ±{sureness.whole:.2f}; least "
        f"certainly at level {sureness.worst_level:.2f}, to ±{sureness.worst:.2f}."
    )
    if sureness.worth_a_chart:
        words += (
            " A chart with patches at this picture's tones (greyscale chart --for-image), given "
            "as a further reading, would make it surer there."
        )
    return words


def _lightness(delta_L: float) -> str:
    """Say how far L* is off, or that it is not.

    Examples
    --------
    >>> _lightness(-0.31), _lightness(0.02)
    ('0.3 too dark', 'on its aim')
    """
    if abs(delta_L) < 0.05:
        return "on its aim"
    return f"{abs(delta_L):.1f} too {'light' if delta_L > 0 else 'dark'}"


# A preview.

NOT_THE_PRINT = (
    "Simulated: measured tones drawn in sRGB, perfect white as the screen's white, for eyes "
    "adapted to the light. A screen that is not calibrated shows other colours; judge the print "
    "itself."
)

_LONGEST_NAME = 60


def where_and_how(preview: Preview, exaggerate: float) -> str:
    """Say what print is shown, under which light, and whether casts are enlarged."""
    name = label(preview.print_name, _LONGEST_NAME)
    condition = f" ({preview.condition})" if preview.condition else ""
    parts = [f"On {name}{condition}, under {label(preview.light, _LONGEST_NAME)}"]
    if preview.correction is not None:
        parts.append(f"correction '{label(preview.correction, _LONGEST_NAME)}'")
    if exaggerate > 1:
        parts.append(f"casts drawn {exaggerate:g} times as strong as they are")
    return "; ".join(parts) + "."


def side_words(side: Side, expected: float | None = None) -> str:
    """Say how far one side departs from neutral over the picture, as measured, not as drawn.

    Parameters
    ----------
    expected
        The mean ΔCh to be expected, where it was counted from the whole picture.
    """
    found = side.neutrality
    mean = found.mean_delta_Ch if expected is None else expected
    return (
        f"over this picture, mean ΔCh {mean:.2f}, {percent(found.share_in_casts)} of it in a cast"
    )


def cast_share_words(cast: Cast, share: CastShare) -> str:
    """Say a cast's hue, where it is, and how much of the picture lies in it."""
    part = percent(share.share) if share.share >= LEAST_SHARE else "hardly any"
    return f"{part} of the picture: {describe_cast(cast)}"


def preview_report(preview: Preview, exaggerate: float, file: Path) -> Report:
    """Return what a preview shows: each side as measured, with the casts that the picture lies in.

    Parameters
    ----------
    file
        Where it was drawn.
    """
    blocks: list[Block] = []
    for side in preview.sides:
        blocks.append(Prose(f"{side.name}: {side_words(side)}", at_once=True))
        casts = zip(side.tones.casts, side.neutrality.casts, strict=True)
        if words := tuple(cast_share_words(cast, share) for cast, share in casts):
            blocks.append(Points(words, at_once=True))
    return Report(
        "Preview",
        where_and_how(preview, exaggerate),
        (),
        (Section("", tuple(blocks)),),
        cautions=(NOT_THE_PRINT,),
        remarks=(*preview.expected, *preview.remarks),
        made=(f"The preview is {file}",),
    )
