"""A command of greyscale as it is typed, for people to copy."""

from __future__ import annotations

import os
import shlex
import subprocess
from pathlib import Path


def as_typed(*words: Path | str) -> str:
    """Return the command with these words as it can be pasted into a shell of this system."""
    line = ["greyscale", *map(str, words)]
    return subprocess.list2cmdline(line) if os.name == "nt" else shlex.join(line)
