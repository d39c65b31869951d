"""How every result ends in the terminal: remarks, what it rests on, the verdict, what to do next.

The last lines are those that are still on the screen; so the verdict stands there, and a command
that can be copied.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from greyscale.base.rests_on import Support
from greyscale.reporting.grounds import grounds_note
from greyscale.reporting.next_step import NextStep


def conclude(
    console: Console,
    verdict: Sequence[str],
    step: NextStep | None = None,
    *,
    remarks: Iterable[str] = (),
    rests_on: Iterable[Support] = (),
    written: Path | None = None,
) -> None:
    """Print the end of a result.

    Parameters
    ----------
    verdict
        Sentences; the first is the one that matters.
    step
        What to do next, if anything.
    remarks
        What must be known of the reading or the result.
    rests_on
        What its figures rest on; only what is less than fact is named.
    written
        The report or the folder that was written.
    """
    lines = [*remarks, grounds_note(rests_on)]
    for line in filter(None, lines):
        console.print(Text(f"- {line}", style="dim"))
    if any(lines):
        console.print()
    first, *others = verdict
    console.print(Text(first, style="bold"))
    for sentence in others:
        console.print(Text(sentence))
    if written is not None:
        what = "The report is" if written.suffix else "Written to"
        console.print(Text(f"{what} {written}"), soft_wrap=True)
    if step is not None:
        console.print(Text(f"{step.words}{':' if step.commands else '.'}"))
        # Not broken into lines, so that they can be copied from a narrow terminal as well.
        for command in step.commands:
            console.print(Text(f"  {command}"), soft_wrap=True)
