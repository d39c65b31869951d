"""What a correction reaches, printer by printer, beside the plain thin-plate way.

    python tests/benchmarks/bench_correction.py [--seeds N] [--noise SD] [--bits 8|16] [KIND ...]

For each kind of printer one line per way: after one round and after two, mean ΔCh / largest ΔCh /
largest |ΔL*| of the tones that can be had, as the mean over the seeds; in brackets the worst seed.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from time import process_time

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

from support.correction_loop import (  # noqa: E402
    PRINTERS,
    Judged,
    Subject,
    grey,
    judged,
    judged_rounds,
    rounds,
)
from support.correction_loop import subject as subject_of  # noqa: E402
from thin_plate import thin_plate_rounds  # noqa: E402

Way = Callable[[Subject, int], list[Judged]]


def ways(noise: float, bits: int) -> dict[str, Way]:
    """Give the ways to correct, by name."""

    def near_neutral(who: Subject, seed: int) -> list[Judged]:
        made = rounds(who, near_neutral=True, noise=noise, seed=seed, bits=bits)
        return judged_rounds(who, made, bits)

    def ramp(who: Subject, seed: int) -> list[Judged]:
        made = rounds(who, near_neutral=False, noise=noise, seed=seed, bits=bits)
        return judged_rounds(who, made, bits)

    def plain(who: Subject, seed: int) -> list[Judged]:
        made = thin_plate_rounds(who, noise=noise, seed=seed, bits=bits)
        return [judged(who, send, None, bits) for send in made]

    return {"near-neutral": near_neutral, "thin plate": plain, "ramp alone": ramp}


def line(found: Sequence[Sequence[Judged]]) -> str:
    """Give one way's results, round by round."""
    parts = []
    for results in zip(*found, strict=True):
        table = np.array([(r.mean, r.largest, r.tone, r.beyond_least) for r in results])
        mean, worst = table.mean(axis=0), table.max(axis=0)
        held = np.mean([r.held for r in results])
        step = max(r.step for r in results)
        parts.append(
            "/".join(f"{value:.2f}" for value in mean[:3])
            + " (" + "/".join(f"{value:.2f}" for value in worst[:3]) + ")"
            + f" +{mean[3]:.2f} {100 * held:3.0f} % {step:.2f}"
        )  # fmt: skip
    return "  |  ".join(parts)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", default=list(PRINTERS))
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--noise", type=float, default=0.15)
    parser.add_argument("--bits", type=int, default=16)
    asked = parser.parse_args()
    print(f"noise {asked.noise} in each of L*, a*, b*; {asked.bits} bits; {asked.seeds} seeds")
    print(
        "after one round | after two: mean ΔCh/max ΔCh/max ΔL* (worst seed) +ΔCh beyond the least "
        "where out of reach, tones within the stated 95 %, largest step over its neighbours"
    )
    for kind in asked.kinds:
        who = subject_of(kind)
        before = judged(who, grey)
        share = 100 * who.reachable.mean()
        print(
            f"\n{kind}: {share:.0f} % of the tones within reach; uncorrected "
            f"{before.mean:.2f}/{before.largest:.2f}/{before.tone:.2f}"
        )
        for name, way in ways(asked.noise, asked.bits).items():
            start = process_time()
            found = [way(who, seed) for seed in range(asked.seeds)]
            seconds = (process_time() - start) / asked.seeds
            print(f"  {name:13} {line(found)}  [{seconds:.1f} s]", flush=True)


if __name__ == "__main__":
    main()
