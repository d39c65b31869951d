"""The program's help as a table of contents: commands in the order of the work, part by part."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib import import_module
from typing import Any

import typer
from typer.completion import install_callback, show_callback
from typer.core import TyperGroup
from typer.main import get_command, get_group

from greyscale.base.errors import BadInput
from greyscale.base.nearest import did_you_mean
from greyscale.cli.help_page import HelpPage

PARTS = (
    (
        "To begin",
        {
            "demo": "Do the whole job on a simulated printer, step by step.",
            "page": "Do the whole job in the browser, on this machine.",
        },
    ),
    (
        "Print and measure",
        {
            "chart": "Make a chart of grey tones to print and measure.",
            "read": "Type a reading in, patch by patch.",
            "check": "Find what was misread: strips, patches, single values.",
            "drying": "See how a print dries, and when it can be measured.",
        },
    ),
    (
        "Judge",
        {
            "analyse": "See where a print departs from neutral, and under which light.",
            "settings": "Choose the driver's settings before correcting anything.",
            "lights": "List the lights known, or describe some.",
            "compare": "Compare papers under the lights that the prints will hang in.",
        },
    ),
    (
        "Correct and prove",
        {
            "correct": "Make a correction from measured charts.",
            "verify": "Prove a correction: the print before, predicted, after.",
            "apply": "Send pictures through a correction.",
            "preview": "See a picture as it will print, under a chosen light.",
        },
    ),
    ("Keep the record", {"log": "Keep a print log; see whether a printer has changed."}),
)
"""All commands, in the order of the work, with what each does; a module of each name has it."""


COMPLETION = {"--install-completion": install_callback, "--show-completion": show_callback}
"""What gives a shell the completion of names: by itself for the shell that it runs in."""

SHELLS = ("bash", "zsh", "fish", "powershell", "pwsh")


class Commands(Mapping[str, Any]):
    """Commands by name, each imported and built when it is asked for: a run needs one of them.

    Parameters
    ----------
    lines
        What each does; None takes its own words.
    modules
        How their modules are called before the name.
    """

    def __init__(self, lines: Mapping[str, str | None], modules: str = "greyscale.cli.") -> None:
        self._lines, self._modules = lines, modules

    def __getitem__(self, name: str) -> Any:
        line = self._lines[name]
        module = import_module(f"{self._modules}{name}")
        # Where a builtin has the name, the function has a line below it.
        made = vars(module).get(name) or vars(module)[f"{name}_"]
        if isinstance(made, typer.Typer):
            return get_group(made)
        alone = typer.Typer(
            rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False
        )
        alone.command(name, cls=HelpPage, short_help=line)(made)
        return get_command(alone)

    def __iter__(self) -> Iterator[str]:
        return iter(self._lines)

    def __len__(self) -> int:
        return len(self._lines)


class Contents(TyperGroup):
    """The program with its commands, and a help that lists them by parts, options last."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.commands: Any = Commands({n: line for _, part in PARTS for n, line in part.items()})

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the commands part by part, then the options."""
        width = max(map(len, self.commands))
        for part, lines in PARTS:
            with formatter.section(part):
                formatter.write_dl([(name.ljust(width), line) for name, line in lines.items()])
        records = [record for one in self.get_params(ctx) if (record := one.get_help_record(ctx))]
        records = [
            (f"{names} [SHELL]", f"{says.split(' for ')[0]} for this shell, or the one named.")
            if names in COMPLETION
            else (names, says)
            for names, says in records
        ]
        with formatter.section("Options"):
            formatter.write_dl(records)

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Parse a command line; a shell may be named where completion is installed or shown."""
        # Also as `--install-completion=zsh`.
        option, _, shell = "=".join(args).partition("=")
        if option in COMPLETION and shell:
            if shell not in SHELLS:
                meant = did_you_mean(shell, SHELLS)
                raise BadInput(
                    f"there is no completion for the shell '{shell}'; {meant}take one of "
                    f"{', '.join(SHELLS)}",
                    option,
                )
            COMPLETION[option](ctx, self.params[0], shell)
        return list(super().parse_args(ctx, args))

    def list_commands(self, ctx: Any) -> list[str]:
        """Give the commands' names in the order of the work."""
        return list(self.commands)
