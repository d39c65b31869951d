"""What was made to be printed, a chart or a corrected picture, and what to do with it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from greyscale.base.plain_text import as_typed
from greyscale.reporting.page import NextStep, Points, Report, Section

if TYPE_CHECKING:
    from greyscale.applying.apply import Applied
    from greyscale.charts.chart import Chart, SettingsStrips

# Common practice, no source: application and driver each offer to manage colour, and either one
# left on changes the device values.
TO_PRINT = (
    NextStep(
        "Print the TIFF at 100 %, with colour management off in the application and in the driver, "
        "with the paper setting and quality that the pictures will have."
    ),
    NextStep("If pictures go through a driver's grey mode or a working space, print it that way."),
)
THROUGH = NextStep("Do not apply the correction to it: it is in the TIFF already.")
TO_DRY = NextStep(
    "Let it dry, for a day if you can wait (greyscale drying tells when it is ready)."
)


def chart_report(
    chart: Chart,
    files: Sequence[Path],
    through: Path | str = "CORRECTION",
    remarks: Sequence[str] = (),
) -> Report:
    """Return what was made, why its patches lie where they do, and what to do with it.

    Parameters
    ----------
    files
        Its files, as `greyscale.charts.chart.write_chart` gives them.
    """
    counts, placement = chart.summary
    tiffs, pdf, layout = files[:-2], files[-2], files[-1]
    check = as_typed("check", "READING", "--layout", layout)
    steps = [*TO_PRINT, TO_DRY, NextStep("Measure each strip from left to right, then:", (check,))]
    if chart.through is not None:
        verify = as_typed("verify", "READING", "--correction", through)
        steps.insert(len(TO_PRINT), THROUGH)
        steps.append(NextStep("Prove the correction by that reading:", (verify,)))
    return Report(
        kind="Chart",
        title=f"{chart.name}: {counts}.",
        about=f"{placement}.",
        sentences=(),
        made=(
            f"To print: {', '.join(map(str, tiffs))}",
            f"To keep: {pdf}, and the layout {layout}",
        ),
        sections=(
            Section("Where the patches are", (Points(tuple(chart.why), at_once=True),)),
            _next(steps),
        ),
        remarks=tuple(remarks),
    )


def _next(steps: Sequence[NextStep]) -> Section:
    return Section("Next", (Points(tuple(steps), at_once=True),), is_next=True)


def strips_report(
    made: SettingsStrips, tiffs: Sequence[Path], pdf: Path, layouts: Sequence[Path]
) -> Report:
    """Return how the strips of a driver's settings are printed and read."""
    each = [
        f"Setting {k + 1}, strips {made.strips(k)}: {tiff}, and its layout {layout}"
        for k, (tiff, layout) in enumerate(zip(tiffs, layouts, strict=True))
    ]
    compare = as_typed("settings", *(f"READING-{k + 1}" for k in range(len(tiffs))))
    return Report(
        kind="Chart",
        title=f"{made.name}: {len(made.layouts[0].ids)} patches for each of {len(tiffs)} settings, "
        "on one sheet.",
        sentences=(),
        made=(*each, f"To keep: {pdf}, which shows what each setting prints"),
        sections=(
            _next(
                [
                    NextStep(
                        "Print each TIFF with its own setting of the driver, at 100 %, with colour "
                        "management off. Feed the same sheet again for each, the same side up and "
                        "the same edge first."
                    ),
                    NextStep(
                        "Let it dry, and measure each setting's strips into a reading of its own; "
                        "then:",
                        (compare,),
                    ),
                ]
            ),
        ),
    )


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
