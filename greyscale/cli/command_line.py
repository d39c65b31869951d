"""The command as it was given, for reports to say how they were made."""

from __future__ import annotations

import sys

from greyscale.base.shell import as_typed


def command_line() -> str:
    """Give the running command as it can be pasted into a shell of this system."""
    return as_typed(*sys.argv[1:])
