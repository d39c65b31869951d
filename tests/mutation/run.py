"""Put small mistakes into the code, one at a time, and see whether the tests notice.

    python -m tests.mutation.run --room colorimetry --sample 100 --seed 1 --results FILE

It works on a copy of the project in a temporary folder. For each mistake of a random sample those
tests are run that run its lines, and the doctests of its file, for some seconds at most. What
survives is written to FILE, one JSON object a line, to be looked at: a mistake may change nothing
that matters. After adding tests, `--again FILE --tests PATH ...` tries the survivors anew.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import shutil
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import asdict
from itertools import count
from pathlib import Path
from random import Random

ROOT = Path(__file__).resolve().parents[2]
COPIED = ("greyscale", "tests", "sample_measurements", "reports", "pyproject.toml", "README.md",
          "DEVELOPERS.md")  # fmt: skip
TESTS = {
    "colorimetry": ("tests/colorimetry", "tests/published", "tests/metamorphic", "tests/analysis"),
    "analysis": ("tests/analysis", "tests/published", "tests/metamorphic", "tests/aims"),
    "correction": ("tests/correction", "tests/metamorphic", "tests/applying/test_encodings.py",
                   "tests/cli/test_correct.py", "tests/cli/test_settings.py",
                   "tests/reporting/test_correction_reports.py"),
    "checks": ("tests/checks", "tests/cli/test_read.py", "tests/printer/test_spoilt_patches.py"),
    "printer": ("tests/printer", "tests/correction", "tests/analysis/test_response.py"),
    "readings": ("tests/readings", "tests/metamorphic"),
}  # fmt: skip
"""Rooms, and the tests that are to notice mistakes in them."""


def main() -> int:
    # The modules of tests find each other as they do under pytest.
    sys.path.insert(0, str(ROOT / "tests"))
    from mutation.mutants import Mutant, mutants_of

    given = _arguments()
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with tempfile.TemporaryDirectory(prefix="mutation-") as name:
        root = Path(name)
        for one in COPIED:
            if (ROOT / one).is_dir():
                ignored = shutil.ignore_patterns("__pycache__", "*.pyc")
                shutil.copytree(ROOT / one, root / one, ignore=ignored)
            elif (ROOT / one).exists():
                shutil.copy(ROOT / one, root / one)
        if given.again:
            told = [json.loads(line) for line in given.again.read_text().splitlines()]
            fields = Mutant.__dataclass_fields__
            survivors = [
                Mutant(**{key: one[key] for key in fields})
                for one in told
                if one["result"] == "survived"
            ]
            chosen = [now for one in survivors if (now := one.found_again(root)) is not None]
            print(f"{len(survivors) - len(chosen)} are in code that is gone", flush=True)
        else:
            files = sorted((root / "greyscale" / given.room).rglob("*.py"))
            every = [one for file in files for one in mutants_of(root, file)]
            chosen = Random(given.seed).sample(every, min(given.sample, len(every)))
            print(f"{given.room}: {len(every)} mistakes known, {len(chosen)} tried", flush=True)
        results = _try(root, given, chosen)
    killed = sum(result != "survived" for result in results)
    low, high = interval(killed, len(results))
    print(f"{killed} of {len(results)} noticed: {killed / max(1, len(results)):.1%} "
          f"(95 %: {low:.1%} to {high:.1%})")  # fmt: skip
    return 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--room", choices=sorted(TESTS), default="colorimetry")
    parser.add_argument("--sample", type=int, default=100, help="how many mistakes")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=float, default=30.0, help="seconds of tests for each")
    parser.add_argument(
        "--results", type=Path, default=Path(tempfile.gettempdir()) / "mutation-results.jsonl"
    )
    parser.add_argument("--again", type=Path, help="results whose survivors are tried anew")
    parser.add_argument("--tests", nargs="*", default=[], help="with --again: by these tests")
    return parser.parse_args()


def _try(root: Path, given: argparse.Namespace, chosen: Sequence) -> list[str]:
    from mutation.covering import measure
    from mutation.trial import SURVIVED, prepare, run_tests

    covering = None
    if not given.again:
        covering = measure(root, TESTS[given.room], [f"greyscale/{given.room}"])
    prepare(root)
    results, numbers = [], count(1)
    with given.results.open("w", encoding="utf-8") as kept:
        for number, mutant in enumerate(chosen, start=1):
            path = root / mutant.file
            source = path.read_text(encoding="utf-8")
            tests = list(given.tests)
            if covering is not None:
                tests = covering.tests(mutant.file, mutant.line, mutant.end_line, given.most)
            mistaken = mutant.of(source)
            while True:
                _write(path, mistaken, next(numbers))
                result, by, seconds = run_tests([mutant.file, *tests], 4 * given.most + 60)
                _write(path, source, next(numbers))
                # A test that fails without the mistake too, by a busy machine, tells nothing.
                if by not in tests or run_tests([by], 4 * given.most)[0] == SURVIVED:
                    break
                tests.remove(by)
            results.append(result)
            told = {**asdict(mutant), "result": result, "by": by, "tests": len(tests),
                    "seconds": round(seconds, 1)}  # fmt: skip
            kept.write(json.dumps(told) + "\n")
            kept.flush()
            if result == "survived":
                print(f"{number}: {mutant.file}:{mutant.line}: {mutant.before!r} -> "
                      f"{mutant.after!r} ({len(tests)} tests)", flush=True)  # fmt: skip
    return results


def _write(path: Path, text: str, number: int) -> None:
    """Write a file with a time of its own, so that no compiled one is taken for it."""
    path.write_text(text, encoding="utf-8")
    moment = path.stat().st_mtime + 10 * number
    os.utime(path, (moment, moment))


def interval(killed: int, tried: int) -> tuple[float, float]:
    """Give the 95 % limits of a share, after Wilson (1927).

    Examples
    --------
    >>> [round(limit, 3) for limit in interval(90, 100)]
    [0.826, 0.945]
    """
    if not tried:
        return 0.0, 1.0
    z, share = 1.959964, killed / tried
    middle = share + z * z / (2 * tried)
    half = z * math.sqrt(share * (1 - share) / tried + z * z / (4 * tried * tried))
    return (middle - half) / (1 + z * z / tried), (middle + half) / (1 + z * z / tried)


if __name__ == "__main__":
    sys.exit(main())
