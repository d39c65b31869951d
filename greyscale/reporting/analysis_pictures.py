"""The pictures of an analysis, with what to read in them and what they show in words."""

from __future__ import annotations

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.metamerism import REFERENCE_LIGHT
from greyscale.reporting.cast_words import joined
from greyscale.reporting.figures.ab_path import ab_path, lights_drawn
from greyscale.reporting.figures.metamerism_by_light import metamerism_by_light
from greyscale.reporting.figures.neutral_drift import neutral_drift
from greyscale.reporting.figures.ramp_strip import EXAGGERATION, ramp_strip
from greyscale.reporting.figures.tone_curve import tone_curve
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.page import Picture


def strip_picture(analysis: Analysis, stem: str) -> Picture:
    """Picture the ramp as it measures beside the same ramp neutral."""
    hues = [cast.hue for cast in reversed(analysis.neutrality.casts)]
    return Picture(
        lambda look: ramp_strip(analysis, look),
        f"{stem}ramp",
        alt="Three strips of tones from black to paper: as they measure, neutral at the same "
        f"L*, and with the cast {EXAGGERATION} times as strong. From paper to black: "
        f"{joined(hues) or 'no cast'}.",
        caption="Simulated tones, from black to paper. Where the two upper strips part, the print "
        f"has a cast; the lowest strip shows it {EXAGGERATION} times as strong, so that its hue "
        "is plain on any screen.",
    )


def drift_picture(analysis: Analysis, stem: str) -> Picture:
    """Picture a*, b* and ΔCh over level."""
    neutrality = analysis.neutrality
    limit = neutrality.tolerance_max_delta_Ch
    return Picture(
        lambda look: neutral_drift(analysis, look),
        f"{stem}drift",
        alt=f"a*, b* and ΔCh over level. a* lies between {_span(neutrality.a_range)}, b* between "
        f"{_span(neutrality.b_range)}. ΔCh is largest, {fixed(neutrality.max_delta_Ch)}, at level "
        f"{fixed(neutrality.max_at_level)}. {_casts(analysis)}",
        caption=f"The shaded band is the most that the {neutrality.tolerance} grade allows, "
        f"{limit:g}. In a* and b* it holds for each alone; what counts is ΔCh, which takes both "
        "together. Paper and black are left out of ΔCh: their tint is the paper's and the ink's. "
        "Bars name the casts.",
    )


def path_picture(analysis: Analysis, stem: str) -> Picture:
    """Picture the ramp's path in the a*b* plane."""
    drawn = [light.name for light in lights_drawn(analysis)]
    others = [light for light in analysis.lights or () if light.name != REFERENCE_LIGHT]
    lights = f", and under {joined(drawn)}" if drawn else ""
    patches = analysis.patches
    paper, black = patches.lab[patches.paper_index], patches.lab[patches.black_index]
    also = ""
    if drawn:
        also = (
            " Each light has a plane of its own, with colours held against that light's white and "
            "the aim from the paper as it is under it; the thin line is the path under D50."
        )
    if len(drawn) < len(others):
        also += f" Of {len(others)} lights, those are drawn that change the greys most."
    return Picture(
        lambda look: ab_path(analysis, look),
        f"{stem}path",
        alt=f"The ramp's path in the a*b* plane under D50{lights}: from paper at a* "
        f"{signed(paper[1])}, b* {signed(paper[2])} to black at a* {signed(black[1])}, b* "
        f"{signed(black[2])}, beside the neutral aim.",
        caption="Seen from above, lightness left out: arrows lead from paper to black, each dot "
        "is filled with its tone. A neutral print stays within the shaded shape; loops mean that "
        f"highlights and shadows have different casts.{also}",
    )


def tone_picture(analysis: Analysis, stem: str) -> Picture:
    """Picture the tone curve and its error."""
    tone = analysis.tone
    reversals = (
        f" The scale reverses at {joined([fixed(level) for level in tone.reversals])}."
        if tone.reversals
        else ""
    )
    return Picture(
        lambda look: tone_curve(analysis, look),
        f"{stem}tone",
        alt=f"L* over level with the {tone.aim} aim, and the error ΔL* below: RMS "
        f"{fixed(tone.rms_delta_L)}, largest {fixed(tone.max_delta_L)} at level "
        f"{fixed(tone.max_at_level)}.{reversals}",
        caption="The aim is fitted between this print's own black and paper, so both ends of the "
        "error are 0."
        if tone.scaling == "linear"
        else "",
    )


def metamerism_picture(analysis: Analysis, stem: str) -> Picture:
    """Picture the metamerism index by light; the analysis must have lights besides D50."""
    others = [light for light in analysis.lights or () if light.name != REFERENCE_LIGHT]
    most = joined([f"{light.name} at most {fixed(light.max_metamerism_index)}" for light in others])
    return Picture(
        lambda look: metamerism_by_light(analysis, look),
        f"{stem}metamerism",
        alt=f"Metamerism index over level: {most}.",
        caption="How far each tone parts from a grey of flat spectrum that matches it under D50, "
        "once the light changes; 0 is a grey that stays neutral under this light.",
    )


def _span(limits: tuple[float, float]) -> str:
    return f"{signed(limits[0])} and {signed(limits[1])}"


def _casts(analysis: Analysis) -> str:
    casts = [
        f"{cast.hue} from level {fixed(cast.from_level)} to {fixed(cast.to_level)}"
        for cast in analysis.neutrality.casts
    ]
    return f"Casts: {joined(casts)}." if casts else "There is no cast."
