"""How a driver answers, in sentences."""

from __future__ import annotations

from greyscale.analysis.response import LIGHTNESS, STEPS, Response
from greyscale.reporting.numbers import fixed


def response_sentences(response: Response, *, corrected: bool = False) -> tuple[str, ...]:
    """Say what is out of the ordinary in how a driver answers; nothing where nothing is.

    Parameters
    ----------
    corrected
        Whether it is said of a correction, which acts upon it.
    """
    sentences = []
    if response.kind == LIGHTNESS:
        sentences.append(
            "This mode answers to lightness only: near-neutral patches change L*, and not a*, b*; "
            "set its tint in the driver."
        )
    if response.tone_step:
        sentences.append(
            f"This mode has only a few tones, about {fixed(response.tone_step, 1)} L* apart, and "
            "no curve makes more of them; try another mode of the driver."
        )
    elif response.kind == STEPS:
        sentences.append(
            "Near-neutral values snap and jump in this mode, so that its tint cannot be corrected; "
            "try another mode of the driver."
        )
    if response.darker_by > 0:
        then = "; the curve begins there" if corrected else ""
        sentences.append(
            f"Ink stops helping at level {fixed(response.darkest_level)}: level 0 prints "
            f"{fixed(response.darker_by, 1)} L* lighter{then}."
        )
    if response.blocked_below is not None:
        then = "; separation starts there" if corrected else ""
        below = "from there to" if response.darker_by > 0 else "below"
        sentences.append(
            f"All tones {below} level {fixed(response.blocked_below)} print as one black{then}."
        )
    return tuple(sentences)
