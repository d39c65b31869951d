"""Run the benchmarks and print one table: `python -m tests.benchmarks.table -o FILE`."""

from __future__ import annotations

import argparse
import os
import platform
import sys
from pathlib import Path

HERE = Path(__file__).parent


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("-o", dest="out", type=Path, help="a Markdown file; else it is printed")
    given = parser.parse_args()
    # As the program does itself: small matrices, and threads that wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    sys.path[:0] = [str(HERE.parent)]
    import pytest

    options = ["-o", "addopts=", "--import-mode=importlib", "-q", "-s", "-p", "no:cacheprovider"]
    ended = pytest.main([*options, *map(str, sorted(HERE.glob("bench_*.py")))])
    text = table()
    if given.out is None:
        print(text)
    else:
        from greyscale.base.files import write_whole

        write_whole(given.out, text)
    return int(ended)


def table() -> str:
    """Give what the run has found, as Markdown."""
    from greyscale import __version__
    from tests.benchmarks.growth import GROWTHS
    from tests.benchmarks.ratios import MEMORIES, RATIOS

    cores = len(os.sched_getaffinity(0))
    lines = [
        "# Benchmarks",
        "",
        f"greyscale {__version__}, Python {platform.python_version()}, {cores} cores. Each is "
        "timed in turn with something else in the same run, so that a busy machine slows both; "
        "seconds are processor time, the shortest of several. Growth: the exponent p of size^p, "
        "in time and in peak memory, the slope of the straight line through the logarithms of all "
        "sizes.",
        "",
        "| what | against | ratio, or growth | limit | seconds | peak memory |",
        "|---|---|--:|--:|--:|--:|",
    ]
    lines += [
        f"| {one.what} | {one.against} | {one.value:.2g} × | {one.limit:g} × | "
        f"{one.ours:.3g} : {one.theirs:.3g} | |"
        for one in RATIOS
    ]
    lines += [
        f"| {one.what} | a fixed limit | | | | {_bytes(one.peak)} (limit {_bytes(one.limit)}) |"
        for one in MEMORIES
    ]
    lines += [
        f"| {one.what}, {_count(one.sizes[0])} to {_count(one.sizes[-1])} {one.by} | "
        f"itself, {len(one.sizes)} sizes | p {one.of_time:.2f}; memory {one.of_memory:.2f} | "
        f"p {one.limit:g} | "
        f"{one.seconds[0]:.3g} to {one.seconds[-1]:.3g} | "
        f"{_bytes(one.peaks[0])} to {_bytes(one.peaks[-1])} |"
        for one in GROWTHS
    ]
    return "\n".join(lines) + "\n"


def _count(number: int) -> str:
    return f"{number:,}".replace(",", " ")


def _bytes(number: int) -> str:
    return f"{number / 2**20:.3g} MiB"


if __name__ == "__main__":
    sys.exit(main())
