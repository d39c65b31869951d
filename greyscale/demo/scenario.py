"""The demo: a small print workshop readies a touring exhibition, from chart to report.

A further step is a function in `greyscale/demo/steps/` and a line in `STEPS`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from greyscale.demo.printer import demo_printer
from greyscale.demo.steps.comparing import COMPARE
from greyscale.demo.steps.correcting import CORRECT, NEXT_ROUND, SEND_PICTURE, TONE, VERIFY
from greyscale.demo.steps.measuring import (
    ANALYSE,
    CHECK,
    FOLLOW_DRYING,
    FOLLOW_UP_CHART,
    MAKE_CHART,
    PRINT_AND_MEASURE,
)
from greyscale.demo.workshop import Step, StepResult, Workshop

STORY = (
    "A small workshop prints photographs of lighthouses and harbours for a touring exhibition: "
    "black and white, six-ink printer, cotton rag. The printer and the instrument are simulated; "
    "everything else is done as it would be with yours."
)

PAPER = "cotton rag"

STEPS: tuple[Step, ...] = (
    MAKE_CHART,
    FOLLOW_DRYING,
    PRINT_AND_MEASURE,
    CHECK,
    ANALYSE,
    FOLLOW_UP_CHART,
    CORRECT,
    VERIFY,
    NEXT_ROUND,
    SEND_PICTURE,
    TONE,
    COMPARE,
)
"""The steps, in the order of the work."""


def run(
    folder: Path | str,
    *,
    steps: Sequence[Step] = STEPS,
    before: Callable[[int, Step], None] = lambda number, step: None,
    after: Callable[[Step, StepResult], None] = lambda step, told: None,
) -> tuple[StepResult, ...]:
    """Do the whole job in a folder.

    Parameters
    ----------
    folder
        Made if it is missing; files of an earlier run are replaced.
    steps
        Which steps to take, in order; later ones need what earlier ones wrote.
    before, after
        Called before each step with its number and the step, after it with what it told.

    Returns
    -------
    What each step told.

    Raises
    ------
    BadInput
        If the folder cannot be written.
    """
    workshop = Workshop(Path(folder), demo_printer(PAPER))
    tellings = []
    for number, step in enumerate(steps, start=1):
        before(number, step)
        told = step.run(workshop)
        after(step, told)
        tellings.append(told)
    return tuple(tellings)
