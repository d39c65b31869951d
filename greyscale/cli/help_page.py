"""The help of one command: what it does, an example to copy, arguments by their names."""

from __future__ import annotations

import inspect
from typing import Any

from typer.core import TyperCommand

from greyscale.cli.outputs import declared

EXAMPLE = "Example: "
"""How the paragraph of a command's docstring begins that gives an example."""


class HelpPage(TyperCommand):
    """A command whose help is written for those who print, and that declares what it writes."""

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
