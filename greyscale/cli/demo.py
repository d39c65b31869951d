"""`greyscale demo`: the whole job on the simulated printer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from greyscale.cli import option, voice

if TYPE_CHECKING:
    from greyscale.demo.workshop import Step, StepResult


def demo(
    folder: Annotated[
        Path, option.value("DIR", "Folder for everything that is made.", "-o")
    ] = Path("greyscale-demo"),
    page: Annotated[
        bool, option.flag("--page", "Open the result in the browser, as 'greyscale page' does.")
    ] = False,
    replace: option.Replace = False,
) -> None:
    """Do the whole job on a simulated printer, step by step, with the command for each step.

    Example: greyscale demo -o try-it
    """
    from contextlib import ExitStack, chdir

    from rich.padding import Padding

    from greyscale.base.folders import whole_folder
    from greyscale.demo.scenario import STORY, run
    from greyscale.reporting.terminal import terminal

    console = terminal(markup=False)

    def before(number: int, step: Step) -> None:
        console.print(f"\n{number}  {step.title}", style="bold")
        at_work.enter_context(voice.working(step.title))

    def after(step: Step, told: StepResult) -> None:
        at_work.close()
        console.print(Padding(told.text, (0, 0, 0, 3)))
        for detail in told.details:
            console.print(Padding(f"- {detail}", (0, 0, 0, 3)))
        for command in told.commands:
            console.print(f"   $ {command}", style="cyan", soft_wrap=True)
        if told.files:
            console.print(Padding("→ " + ", ".join(told.files), (0, 0, 0, 3)), style="dim")

    console.print(STORY)
    console.print(f"\nEverything is written to {folder}; the commands are given as typed there.")
    # Where a person would type the commands, so that files are called as they are there.
    with whole_folder(folder) as fresh, chdir(fresh), ExitStack() as at_work:
        run(Path(), before=before, after=after)
    console.print(f"\nThe report: {folder / 'analysis' / 'report.html'}", soft_wrap=True)
    if page:
        from greyscale.cli.page import open_page

        open_page(folder)
