"""What was done to a picture that went through a correction, in a few lines."""

from __future__ import annotations

from collections.abc import Iterator

from greyscale.applying.apply import Applied
from greyscale.base.shell import as_typed


def apply_words(applied: Applied) -> Iterator[str]:
    """Give the lines: where it is, what its values were and are, what was decided."""
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
