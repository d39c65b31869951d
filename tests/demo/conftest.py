"""One run of the demo, for all tests that look at what it makes."""

import os
import re
import shlex
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest


@dataclass(frozen=True)
class Job:
    """A run of `greyscale demo`: its folder, and what it printed."""

    folder: Path
    text: str

    @property
    def commands(self) -> list[list[str]]:
        return [shlex.split(line) for line in re.findall(r"^   \$ (.+)$", self.text, re.MULTILINE)]

    @property
    def files(self) -> list[str]:
        lines = re.findall(r"^   → (.+)$", self.text, re.MULTILINE)
        return [name.strip() for line in lines for name in line.split(", ")]


@pytest.fixture(scope="session")
def job(tmp_path_factory) -> Job:
    # From elsewhere: the demo needs the package and nothing else of the repository.
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    result = subprocess.run(
        [sys.executable, "-m", "greyscale", "demo", "-o", "made"],
        cwd=elsewhere,
        env={**os.environ, "COLUMNS": "2000", "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    return Job(elsewhere / "made", result.stdout)
