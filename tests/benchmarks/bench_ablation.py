"""What each term of the printer's model is worth: corrections made without it, printer by printer.

    python tests/benchmarks/bench_ablation.py [--seeds N] [--noise SD] [-o FILE] [KIND ...]

For each term left out, over all kinds of printers: mean ΔCh, largest ΔCh and largest |ΔL*| of the
tones that can be had, after one round; the worst printer's; the tones that lie within the stated
95 %; and processor time, over that of the whole model in the same run. Once from charts with
near-neutral patches, and once from a ramp alone.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from time import process_time
from unittest.mock import patch

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

from support.correction_loop import PRINTERS, judged_rounds, rounds  # noqa: E402
from support.correction_loop import subject as subject_of  # noqa: E402

from greyscale.printer import gaussian_process, model  # noqa: E402
from greyscale.printer.covariance import PARAMETERS  # noqa: E402

_NONE = np.log(1e-6)


@contextmanager
def _whole() -> Iterator[None]:
    yield


@contextmanager
def _without_onsets() -> Iterator[None]:
    with patch.object(model, "MOST_ONSETS", 0):
        yield


@contextmanager
def _without_search() -> Iterator[None]:
    with patch.object(gaussian_process, "_REACH", 1e-9):
        yield


@contextmanager
def _without_screening() -> Iterator[None]:
    with patch.object(model, "_MOST_SCREENINGS", 0):
        yield


def _without(*names: str) -> Callable[[], object]:
    """Leave out functions: their sizes are held at next to nothing."""
    rows = [PARAMETERS.index(name) for name in names]

    @contextmanager
    def way() -> Iterator[None]:
        tables = (
            (gaussian_process.BEFOREHAND, _NONE),
            (gaussian_process._DOWN, 1e-9),
            (gaussian_process._UP, 1e-9),
        )
        kept = [table[rows].copy() for table, _ in tables]
        for table, value in tables:
            table[rows] = value
        try:
            yield
        finally:
            for (table, _), values in zip(tables, kept, strict=True):
                table[rows] = values

    return way


WAYS: dict[str, Callable[[], object]] = {
    "the whole model": _whole,
    "without onsets": _without_onsets,
    "without a search of parameters": _without_search,
    "without screening": _without_screening,
    "without stretches": _without("stretch_black", "stretch_paper"),
    "without bends": _without("bend"),
    "without creases": _without("crease"),
    "without channels of their own": _without("red", "green", "blue"),
    "without slopes that change": _without("slope"),
}


def measured(
    kinds: Sequence[str], seeds: int, noise: float, near_neutral: bool
) -> tuple[np.ndarray, float]:
    """Results by printer, shape (kinds, 4), each the mean over the seeds, and processor seconds."""
    table, seconds = [], 0.0
    for kind in kinds:
        who, found = subject_of(kind), []
        for seed in range(seeds):
            start = process_time()
            made = rounds(who, near_neutral=near_neutral, noise=noise, seed=seed, count=1)
            seconds += process_time() - start
            found += judged_rounds(who, made)
        table.append(np.mean([(r.mean, r.largest, r.tone, r.held) for r in found], axis=0))
    return np.array(table), seconds


def lines(kinds: Sequence[str], seeds: int, noise: float) -> Iterator[str]:
    """The table, line by line."""
    for near_neutral in (True, False):
        yield f"\n## {'Near-neutral patches' if near_neutral else 'A ramp alone'}\n"
        yield (
            "| model | mean ΔCh | largest ΔCh | largest ΔL* | worst printer | within 95 % | time |"
        )
        yield "|---|---|---|---|---|---|---|"
        whole = 0.0
        for name, way in WAYS.items():
            with ExitStack() as stack:
                stack.enter_context(way())  # type: ignore[arg-type]
                table, seconds = measured(kinds, seeds, noise, near_neutral)
            whole = whole or seconds
            mean, worst = table.mean(axis=0), table.max(axis=0)
            yield (
                f"| {name} | " + " | ".join(f"{value:.2f}" for value in mean[:3])
                + " | " + "/".join(f"{value:.2f}" for value in worst[:3])
                + f" | {100 * mean[3]:.0f} % | {seconds / whole:.2f} x |"
            )  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", default=list(PRINTERS))
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--noise", type=float, default=0.15)
    parser.add_argument("-o", "--output", type=Path)
    asked = parser.parse_args()
    head = (
        "# What each term of the printer's model is worth\n\n"
        f"Made by `tests/benchmarks/bench_ablation.py`: {len(asked.kinds)} kinds of printers, "
        f"{asked.seeds} seeds each, noise {asked.noise:g} in each of L*, a*, b*, one round. Worst "
        "printer: the largest mean ΔCh, largest ΔCh and largest ΔL* of any kind. Time: of the "
        "whole model's."
    )
    text = [head]
    print(head)
    for line in lines(asked.kinds, asked.seeds, asked.noise):
        print(line, flush=True)
        text.append(line)
    if asked.output is not None:
        asked.output.write_text("\n".join(text) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
