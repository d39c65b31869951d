"""Pictures in words: a preview, and what was done to a picture that went through a correction."""

from __future__ import annotations

from collections.abc import Iterator

from greyscale.analysis.casts import Cast
from greyscale.analysis.picture import CastShare
from greyscale.applying.apply import Applied
from greyscale.applying.preview import Preview, Side
from greyscale.base.plain_text import as_typed
from greyscale.reporting.cast_words import describe_cast
from greyscale.reporting.figures.labels import label
from greyscale.reporting.numbers import percent
from greyscale.reporting.picture_words import LEAST_SHARE

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


def side_words(side: Side) -> str:
    """Say how far one side departs from neutral over the picture, as measured, not as drawn."""
    found = side.neutrality
    return (
        f"over this picture, mean ΔCh {found.mean_delta_Ch:.2f}, "
        f"{percent(found.share_in_casts)} of it in a cast"
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


def apply_words(applied: Applied) -> Iterator[str]:
    """Yield the lines: where it is, what its values were and are, what was decided."""
    kind = "floating point" if applied.bits == 32 else f"{applied.bits} bits"
    if applied.unchanged and applied.source == applied.encoding:
        source = f"taken as {applied.encoding}, which the correction expects"
    elif applied.unchanged:
        source = f"'{applied.source}' is {applied.encoding} already, as the correction expects"
    else:
        source = f"converted from {applied.source} to {applied.encoding}, then corrected"
    print_path = (
        "no profile: print it without colour management, as the chart was"
        if applied.profile is None
        else f"profile '{applied.profile}': print it through the profile the chart went through"
    )
    yield f"{applied.path}"
    yield f"  {applied.width} × {applied.height} pixels, {kind}; {source}"
    yield f"  {print_path}"
    if applied.layout is not None:
        command = as_typed("read", applied.layout, "-o", "READING.txt")
        yield f"  control strip: its layout is {applied.layout}; to type its reading in: {command}"
    for remark in applied.remarks:
        yield f"  {remark}"
