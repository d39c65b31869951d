"""Which tests run which lines, and how long each takes: measured once, over some tests."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

AT_IMPORT = ""
"""The context of lines that run when a file is imported."""


@dataclass(frozen=True)
class Covering:
    """What covers what.

    Attributes
    ----------
    by_line
        Tests by file and line.
    seconds
        How much processor time each test takes, in the order in which they were run.
    """

    by_line: dict[str, dict[int, frozenset[str]]]
    seconds: dict[str, float]

    def tests(self, file: str, first: int, last: int, most: float) -> list[str]:
        """Give the tests to run for a mistake in some lines, the likeliest and quickest first.

        Those that run a line come first; then the others of the same files of tests, which may
        share what those have set up. Then as many as take no more than `most` seconds together.
        """
        lines = self.by_line.get(file, {})
        hit = {test for line in range(first, last + 1) for test in lines.get(line, ())}
        if AT_IMPORT in hit:
            hit = {test for tests in lines.values() for test in tests}
        hit &= self.seconds.keys()
        files = {test.partition("::")[0] for test in hit}
        beside = {t for t in self.seconds if t.partition("::")[0] in files} - hit
        chosen, total = [], 0.0
        for test in [*sorted(hit, key=self.seconds.get), *sorted(beside, key=self.seconds.get)]:
            total += self.seconds[test]
            if total > most:
                break
            chosen.append(test)
        return chosen


def measure(root: Path, tests: Sequence[str], packages: Sequence[str]) -> Covering:
    """Run some tests once, and note what each of them runs of some packages."""
    kept, times = root / ".mutation-coverage", root / ".mutation-times.json"
    environment = {
        **os.environ, "PYTHONPATH": os.pathsep.join([str(root), str(root / "tests")]),
        "MUTATION_TIMES": str(times), "COVERAGE_CORE": "ctrace",
    }  # fmt: skip
    command = [sys.executable, "-m", "coverage", "run", f"--data-file={kept}",
               f"--source={','.join(packages)}", "-m", "pytest", "-q", "-o", "addopts=",
               "-m", "not exhaustive", "--import-mode=importlib", "-p", "mutation.covering",
               *tests]  # fmt: skip
    done = subprocess.run(command, cwd=root, env=environment, check=False)
    if done.returncode:
        raise SystemExit("the tests do not pass as they are: put that right first")
    return _read(root, kept, json.loads(times.read_text(encoding="utf-8")))


def _read(root: Path, kept: Path, seconds: dict[str, float]) -> Covering:
    import coverage

    data = coverage.CoverageData(str(kept))
    data.read()
    by_line: dict[str, dict[int, frozenset[str]]] = {}
    for file in data.measured_files():
        lines = data.contexts_by_lineno(file)
        name = Path(file).relative_to(root).as_posix()
        by_line[name] = {line: frozenset(tests) for line, tests in lines.items()}
    return Covering(by_line, seconds)


def processor_seconds() -> float:
    """Return what this process and those that it waited for have used, seconds."""
    return sum(os.times()[:4])


_taken: dict[str, float] = defaultdict(float)
_begun = 0.0


def pytest_runtest_logstart(nodeid: str) -> None:
    """Note which test runs from now on."""
    import coverage

    global _begun
    _begun = processor_seconds()
    current = coverage.Coverage.current()
    if current is not None:
        current.switch_context(nodeid)


def pytest_runtest_logfinish(nodeid: str) -> None:
    """Note how long it took."""
    _taken[nodeid] = processor_seconds() - _begun


def pytest_sessionfinish() -> None:
    """Write down how long each took."""
    Path(os.environ["MUTATION_TIMES"]).write_text(json.dumps(_taken), encoding="utf-8")
