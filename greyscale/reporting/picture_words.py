"""Pictures in words: what casts mean for one, a preview, and what a correction did to it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from greyscale.reporting.cast_words import describe_cast, joined
from greyscale.reporting.figures.labels import label
from greyscale.reporting.numbers import percent

if TYPE_CHECKING:
    # An analysis without a picture waits for no picture code to be imported.
    from greyscale.analysis.neutrality import Cast
    from greyscale.analysis.picture import CastShare, PictureNeutrality
    from greyscale.applying.preview import Preview, Side
    from greyscale.correction.sureness import PictureSureness

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


# A preview, and what was done to a picture that went through a correction.

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


def preview_lines(preview: Preview, exaggerate: float) -> Iterator[str]:
    """Yield what the terminal says of a preview."""
    yield where_and_how(preview, exaggerate)
    for side in preview.sides:
        yield f"  {side.name}: {side_words(side)}"
        for cast, share in zip(side.tones.casts, side.neutrality.casts, strict=True):
            yield f"    {cast_share_words(cast, share)}"
    yield from (*preview.expected, *preview.remarks)
