"""`greyscale read`: a reading typed in, patch by patch."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from greyscale.cli import option

if TYPE_CHECKING:
    from greyscale.checks.typing_in import Kind
    from greyscale.colorimetry.arrays import Array
    from greyscale.readings.layout import Layout

BACK, SKIP, STOP = "b", "s", "q"


def read(
    layout: Annotated[
        Path, option.argument("LAYOUT", "The .txt file that was made with the chart.")
    ],
    target: Annotated[
        Path,
        option.value(
            "READING",
            "Where the reading goes; saved after each patch. One begun earlier is continued.",
            "-o",
        ),
    ],
    values: Annotated[
        Literal["lab", "lightness", "density"],
        typer.Option(
            help="What you type: L* a* b*; L* alone; or visual density alone, not zeroed on paper. "
            "Alone they tell the tone scale but no tint."
        ),
    ] = "lab",
    printer: option.Printer = None,
    paper: option.Paper = None,
    settings: option.Settings = None,
    condition: Annotated[
        Literal["M0", "M1", "M2", "M3"] | None,
        typer.Option(help="The measuring condition (ISO 13655)."),
    ] = None,
    backing: Annotated[str | None, option.value("TEXT", "white, black or self.")] = None,
    instrument: Annotated[str | None, option.value("TEXT", "What you measure with.")] = None,
    replace: option.Replace = False,
) -> None:
    """Type a reading in, patch by patch: for instruments that export nothing.

    You are asked for L* a* b* of each patch, or with --values for its tone alone, down one strip
    and up the next. An unlikely value is asked for again at once. b goes back, s leaves a patch for
    later, q stops; the same command continues.

    Example: greyscale read cotton-rag-start.txt -o cotton-rag.txt --condition M1
    """
    from datetime import datetime

    from greyscale.base.plain_text import as_typed
    from greyscale.checks.typing_in import KINDS, by_hand, go_on, typed_reading
    from greyscale.readings import iso28178
    from greyscale.readings.formats import read as read_file
    from greyscale.readings.layout import read_layout

    chart = read_layout(layout)
    begun = read_file(target) if target.exists() and not replace else None
    kind = KINDS[values]
    typed = {} if begun is None else go_on(begun, chart, kind.alone)
    told = {
        "printer": printer, "paper": paper, "settings": settings, "condition": condition,
        "backing": backing, "instrument": instrument, "created": datetime.now(),
    }  # fmt: skip
    order = by_hand(chart)
    open_patches = [index for index in order if index not in typed]
    if not open_patches:
        typer.echo(f"All {len(chart)} patches are in {target} already; --replace starts again.")
        return
    typer.echo(
        f"{len(chart)} patches, {len(open_patches)} to go. Type {kind.what}; "
        f"{BACK} goes back, {SKIP} leaves a patch for later, {STOP} stops."
    )
    if isinstance(sys.stdin, io.TextIOWrapper):
        # What comes in another encoding is asked for again, as all that is no number.
        sys.stdin.reconfigure(errors="replace")
    at = 0
    while at < len(open_patches):
        index = open_patches[at]
        answer = _asked(chart, typed, index, kind)
        if isinstance(answer, str):
            if answer == STOP:
                break
            at = max(at - 1, 0) if answer == BACK else at + 1
            continue
        typed[index] = answer
        iso28178.write(typed_reading(chart, typed, begun, told, kind.alone), target)
        at += 1
    left = len(chart) - len(typed)
    if not typed:
        typer.echo("Nothing was typed in; nothing is written.")
    elif left:
        typer.echo(
            f"{len(typed)} of {len(chart)} patches are in {target}; the same command continues."
        )
    else:
        typer.echo(f"The reading is {target}. Check it:")
        typer.echo(f"  {as_typed('check', target, '--layout', layout)}")


def _asked(chart: Layout, typed: dict[int, Array], index: int, kind: Kind) -> Array | str:
    """Ask for a patch until the value can be, or is confirmed."""
    from greyscale.checks.typing_in import doubt, in_words

    what = in_words(chart, index)
    doubted: Array | None = None
    while True:
        answer = _line(f"{chart.places[index]:>5}  {what}: ")
        if answer in (BACK, SKIP, STOP):
            return answer
        if doubted is not None and not answer:
            return doubted
        lab = kind.lab(answer)
        if isinstance(lab, str):
            typer.echo(f"       {lab}")
            continue
        reason = doubt(chart, typed, index, lab)
        if reason is None or (doubted is not None and bool((lab == doubted).all())):
            return lab
        typer.echo(f"       {reason}: again? (Enter keeps it)")
        doubted = lab


def _line(prompt: str) -> str:
    """One line of what is typed; the end of all typing stops."""
    try:
        typer.echo(prompt, nl=False)
        return input().strip().casefold()
    except EOFError:
        typer.echo()
        return STOP
