"""The command as it was given, for reports to say how they were made."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys


def command_line() -> str:
    """Give the running command as it can be pasted into a shell of this system."""
    words = ["greyscale", *sys.argv[1:]]
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)
