"""The program's help as a table of contents: commands in the order of the work, part by part."""

from __future__ import annotations

from typing import Any

from typer.core import TyperGroup

PARTS = (
    ("To begin", ("demo", "page")),
    ("Print and measure", ("chart", "read", "check", "drying")),
    ("Judge", ("analyse", "lights", "compare")),
    ("Correct and prove", ("correct", "verify", "apply", "preview")),
    ("Keep the record", ("log",)),
)
"""All commands, in the order of the work."""


class Contents(TyperGroup):
    """The program with its commands, and a help that lists them by parts, options last."""

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the commands part by part, then the options."""
        width = max(len(name) for _, names in PARTS for name in names)
        for part, names in PARTS:
            with formatter.section(part):
                formatter.write_dl([(name.ljust(width), self._line(ctx, name)) for name in names])
        records = [record for one in self.get_params(ctx) if (record := one.get_help_record(ctx))]
        with formatter.section("Options"):
            formatter.write_dl(records)

    def _line(self, ctx: Any, name: str) -> str:
        command = self.get_command(ctx, name)
        return "" if command is None else command.short_help or ""

    def list_commands(self, ctx: Any) -> list[str]:
        """Give the commands' names in the order of the work."""
        return [name for _, names in PARTS for name in names]
