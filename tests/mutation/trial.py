"""Tests run against a mistake, in a copy of this process, which has imported the libraries."""

from __future__ import annotations

import io
import math
import os
import resource
import select
import signal
import sys
import time
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout, suppress
from pathlib import Path

LIBRARIES = (
    "numpy", "scipy.interpolate", "scipy.optimize", "scipy.linalg", "scipy.spatial", "colour",
    "matplotlib.pyplot", "PIL.Image", "tifffile", "imagecodecs", "PyOpenColorIO", "jinja2",
    "typer", "rich", "hypothesis", "pytest", "coloraide", "colorspacious", "colour_cxf",
)  # fmt: skip

SURVIVED, KILLED, HUNG = "survived", "killed", "hung"


def prepare(root: Path) -> None:
    """Import what every test needs, and nothing of the project."""
    import importlib

    for name in LIBRARIES:
        importlib.import_module(name)
    assert not any(name.partition(".")[0] == "greyscale" for name in sys.modules)
    sys.path[:0] = [str(root), str(root / "tests")]
    os.environ["PYTHONPATH"] = os.pathsep.join(sys.path[:2])
    os.chdir(root)


class _FirstFailure:
    """Notes the test that fails first."""

    name = ""

    def pytest_runtest_logreport(self, report) -> None:
        if report.failed and not self.name:
            self.name = report.nodeid

    def pytest_collectreport(self, report) -> None:
        if report.failed and not self.name:
            self.name = report.nodeid


def run_tests(arguments: Sequence[str], seconds: float) -> tuple[str, str, float]:
    """Run tests until one fails; give what happened, which test failed, and how long it took.

    They hang after so many seconds of processor time, or when they have waited 20 times as long.
    """
    start = time.monotonic()
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.setsid()
        os.close(reading)
        resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(seconds), math.ceil(seconds)))
        _in_child(arguments, writing)
    os.close(writing)
    done, _, _ = select.select([reading], [], [], 20 * seconds)
    told = os.read(reading, 4096).decode() if done else ""
    with suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    _, how = os.waitpid(child, 0)
    os.close(reading)
    # A process that ends without a word was ended by the mistake.
    ended = SURVIVED if told == SURVIVED else KILLED
    beyond = os.WIFSIGNALED(how) and os.WTERMSIG(how) in (signal.SIGXCPU, signal.SIGKILL)
    result = HUNG if not done or (beyond and not told) else ended
    return result, "" if told == SURVIVED else told, time.monotonic() - start


def _in_child(arguments: Sequence[str], writing: int) -> None:
    import pytest

    first = _FirstFailure()
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        code = pytest.main(
            ["-x", "-q", "-o", "addopts=", "--import-mode=importlib", "-p", "no:cacheprovider",
             "--doctest-modules", *arguments],
            plugins=[first],
        )  # fmt: skip
    # What no test and no doctest runs is noticed by none.
    unnoticed = code in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED)
    os.write(writing, (SURVIVED if unnoticed else first.name or f"exit code {code}").encode())
    os._exit(0)
