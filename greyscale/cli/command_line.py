"""The command as it was given, for reports to say how they were made."""

from __future__ import annotations

import shlex
import sys


def command_line() -> str:
    """Give the running command as it can be pasted into a shell."""
    return shlex.join(["greyscale", *sys.argv[1:]])
