"""What was done to a picture that went through a correction."""

from __future__ import annotations

from greyscale.applying.apply import Applied
from greyscale.base.plain_text import as_typed
from greyscale.reporting.page import NextStep, Report


def apply_report(applied: Applied) -> Report:
    """Return where it is, what its values were and are, and what was decided."""
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
    size = f"{applied.width} × {applied.height} pixels, {kind}; {source}"
    typed, strip = None, []
    if applied.layout is not None:
        strip = [f"control strip: its layout is {applied.layout}"]
        typed = NextStep(
            "Type the strip's reading in", (as_typed("read", applied.layout, "-o", "READING.txt"),)
        )
    return Report(
        kind="Corrected picture",
        title=str(applied.path),
        sentences=(),
        sections=(),
        made=(size, print_path, *strip, *applied.remarks),
        next_step=typed,
    )
