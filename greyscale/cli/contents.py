"""The program's help as a table of contents: commands in the order of the work, part by part."""

from __future__ import annotations

import inspect
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, nullcontext
from importlib import import_module
from pathlib import Path
from typing import Any

import typer
from typer.completion import install_callback, show_callback
from typer.core import TyperCommand, TyperGroup
from typer.main import get_command, get_group

from greyscale.base.errors import BadInput, did_you_mean
from greyscale.cli import voice
from greyscale.cli.outputs import declared

# The help of one command: what it does, an example to copy, arguments by their names.

EXAMPLE = "Example: "
"""How the paragraph of a command's docstring begins that gives an example."""


class HelpPage(TyperCommand):
    """A command whose help is written for those who print, and that declares what it writes."""

    def __init__(self, *told: Any, params: list[Any], **settings: Any) -> None:
        own = {one.name for one in params}
        further = [one for one in voice.OPTIONS if one.name not in own]
        super().__init__(*told, params=[*params, *further], **settings)

    def invoke(self, ctx: Any) -> Any:
        """Do the command's work, its inputs guarded and its outputs asked for before."""
        with declared(ctx):
            return super().invoke(ctx)

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """Name the arguments in the usage line, without signs for the kind of each."""
        return ["[OPTIONS]", *(_name(one) for one in self._arguments(ctx))]

    def format_help_text(self, ctx: Any, formatter: Any) -> None:
        """Write what the command does; the example stands on a line of its own, to be copied."""
        for paragraph in inspect.cleandoc(self.help or "").split("\n\n"):
            if paragraph.startswith(EXAMPLE):
                with formatter.section(EXAMPLE.rstrip(": ")):
                    command = paragraph.removeprefix(EXAMPLE)
                    formatter.write(f"{'':{formatter.current_indent}}{command}\n")
            else:
                formatter.write_paragraph()
                with formatter.indentation():
                    formatter.write_text(paragraph)

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write arguments by name, then options."""
        arguments = [(_name(one), one.help or "") for one in self._arguments(ctx)]
        if arguments:
            with formatter.section("Arguments"):
                formatter.write_dl(arguments)
        options = [
            record
            for one in self.get_params(ctx)
            if one.param_type_name == "option" and (record := one.get_help_record(ctx))
        ]
        with formatter.section("Options"):
            formatter.write_dl(options)

    def _arguments(self, ctx: Any) -> list[Any]:
        return [one for one in self.get_params(ctx) if one.param_type_name == "argument"]


def _name(argument: Any) -> str:
    name = str(argument.metavar or argument.name.upper())
    return f"{name} ..." if argument.nargs != 1 and "..." not in name else name


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


@contextmanager
def _whole_settings() -> Iterator[None]:
    """Let what Typer writes of a person's settings be written whole, what they name before them."""
    from greyscale.base.files import write_whole

    texts: dict[Path, str] = {}
    plain = Path.write_text
    Path.write_text = lambda path, text, **_: texts.update({path: text}) or 0  # type: ignore
    try:
        yield
    except SystemExit:
        for path, text in reversed(texts.items()):
            mode = path.stat().st_mode if path.exists() else None
            write_whole(path, text)
            if mode is not None:
                path.chmod(mode)
        raise
    finally:
        Path.write_text = plain  # type: ignore[method-assign]


COMPLETION = {"--install-completion": install_callback, "--show-completion": show_callback}
"""What gives a shell the completion of names: by itself for the shell that it runs in."""

SHELLS = ("bash", "zsh", "fish", "powershell", "pwsh")


class Commands(Mapping[str, Any]):
    """Commands by name, each imported and built when it is asked for: a run needs one of them.

    Parameters
    ----------
    lines
        What each does; None takes its own words.
    module
        Where they all are; None has a module of its name for each.
    """

    def __init__(self, lines: Mapping[str, str | None], module: str | None = None) -> None:
        self._lines, self._module = lines, module

    def __getitem__(self, name: str) -> Any:
        line = self._lines[name]
        module = vars(import_module(self._module or f"greyscale.cli.{name}"))
        # Where a builtin has the name, the function has a line below it.
        made = module.get(name) or module[f"{name}_"]
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
        with _whole_settings() if option in COMPLETION else nullcontext():
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
        """Return the commands' names in the order of the work."""
        return list(self.commands)
