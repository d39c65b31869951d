"""What other lights do to a print's neutrality, in words."""

from __future__ import annotations

from collections.abc import Sequence

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.casts import SECTOR, Cast
from greyscale.analysis.metamerism import REFERENCE_LIGHT, UnderLight
from greyscale.reporting.cast_words import hues_of, joined, main_casts, on_aim, place_of
from greyscale.reporting.numbers import MISSING, fixed

# A change of the peak is told from noise and worth a word beyond both of these.
CHANGE = 0.5
RATIO = 1.25

WHOLE_SCALE = 0.8


def light_figures(light: UnderLight) -> tuple[str, str, str]:
    """Return mean ΔCh, largest ΔCh and casts in a light; a range where no figure can be given."""
    if light.told:
        return fixed(light.mean_delta_Ch), fixed(light.max_delta_Ch), hues_of(light.casts)
    return f"{fixed(light.low)} to {fixed(light.high)}", MISSING, "cannot be told"


def light_words(analysis: Analysis) -> str | None:
    """Say what becomes of the ramp under the lights other than D50.

    Returns
    -------
    A clause as "is unchanged under F11, turns reddish in the shadows under A (peak ΔCh 2.1)";
    None where no other light was looked at.
    """
    if analysis.lights is None:
        return None
    by_phrase: dict[str, list[str]] = {}
    for light in analysis.lights:
        if light.name != REFERENCE_LIGHT:
            phrase, number = _change(analysis, light) if light.told else ("cannot be told", "")
            by_phrase.setdefault(phrase, []).append(light.name + number)
    return ", ".join(f"{p} under {joined(names)}" for p, names in by_phrase.items()) or None


def _change(analysis: Analysis, light: UnderLight) -> tuple[str, str]:
    """Say in a verb phrase what a light does, and in brackets how strongly."""
    before, after = main_casts(analysis.neutrality.casts), main_casts(light.casts)
    calm = on_aim(analysis.neutrality.aim)
    new = [cast for cast in after if not _kin_of(cast, analysis.neutrality.casts)]
    lost = [cast for cast in before if not _kin_of(cast, light.casts)]
    if new:
        return _turns(new)
    if not after:
        return f"{'looks' if before else 'stays'} {calm}", ""
    if lost:
        hues = joined(list(dict.fromkeys(cast.hue for cast in lost)))
        return f"loses the {hues} cast", ""
    peak = max(cast.peak_delta_Ch for cast in after)
    was = max(cast.peak_delta_Ch for cast in before)
    number = f" (peak ΔCh {peak:.1f})"
    if peak > was + CHANGE and peak > was * RATIO:
        return "gets stronger", number
    if peak < was - CHANGE and peak * RATIO < was:
        return "gets weaker", number
    return "is unchanged", ""


def _turns(new: Sequence[Cast]) -> tuple[str, str]:
    strongest = sorted(new, key=lambda cast: -cast.peak_delta_Ch)[:2]
    hues: dict[str, list[str]] = {}
    for cast in strongest:
        hues.setdefault(_where(cast), []).append(cast.hue)
    parts = [
        f"{joined(list(dict.fromkeys(names)))} {where}".strip() for where, names in hues.items()
    ]
    return f"turns {joined(parts)}", f" (peak ΔCh {strongest[0].peak_delta_Ch:.1f})"


def _where(cast: Cast) -> str:
    """Say where a cast lies; nothing of one that takes up nearly the whole scale."""
    return "" if cast.to_level - cast.from_level > WHOLE_SCALE else place_of(cast)


def _kin_of(cast: Cast, others: Sequence[Cast]) -> bool:
    """Say whether one of the others overlaps this cast and is of its hue, 45° to either side."""
    return any(
        cast.from_level <= other.to_level
        and other.from_level <= cast.to_level
        and abs((cast.hue_angle - other.hue_angle + 180.0) % 360.0 - 180.0) <= SECTOR
        for other in others
    )
