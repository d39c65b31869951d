"""What a correction for the light it hangs in reaches, paper by paper, beside the best possible.

    python tests/benchmarks/bench_lights.py [--seeds N] [--lights A B] [-o FILE] [PAPER]

Chart, reading in M1 and M2, correction; judged is the print itself, without noise, under the light,
against the aim that follows from the true paper and black there. The best possible is solved on
the true printer, tone by tone, by bounded least squares. Random papers, from 31 on by default, have
another dot gain, ink balance and brightener each; nothing was tuned on them. Mean ΔCh, the worst
seed in brackets.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1])]

from support.lights_loop import Hall, best_worst, corrected  # noqa: E402

USUAL = ("cotton rag", "bright", *(f"random {number}" for number in range(31, 37)))
HEAD = (
    "paper", "other light", "for D50, in D50", "the same, in the other", "for the other, in it",
    "for both, the worse", "best possible",
)  # fmt: skip


def row(paper: str, other: str, noise: float, seeds: int) -> tuple[str, ...]:
    """A line of the table."""
    hall, one = Hall(paper), "D50"

    def means(lights: tuple[str, ...]) -> np.ndarray:
        found = (corrected(hall, lights, noise=noise, seed=seed) for seed in range(seeds))
        return np.array([hall.means(each, (one, other)) for each in found])

    def words(values: np.ndarray) -> str:
        return f"{values.mean():.2f} ({values.max():.2f})"

    for_one, for_other, for_both = (means(some) for some in ((), (other,), (one, other)))
    return (
        paper, other, words(for_one[:, 0]), words(for_one[:, 1]), words(for_other[:, 1]),
        words(for_both.max(axis=1)), f"{best_worst(hall, one, other):.2f}",
    )  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("papers", nargs="*", default=list(USUAL))
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--noise", type=float, default=0.12)
    parser.add_argument("--lights", nargs="+", default=["LED-B1", "LED-V1"])
    parser.add_argument("-o", dest="file", type=Path)
    asked = parser.parse_args()
    about = (__doc__ or "").split("\n\n", 2)
    lines = [
        f"# Corrections for the light\n\n{about[0]}\n\n{about[2].strip()} Noise {asked.noise} in "
        f"each of L*, a*, b*; {asked.seeds} seeds.\n",
        f"| {' | '.join(HEAD)} |",
        f"|---|---|{'--:|' * (len(HEAD) - 2)}",
    ]
    print("\n".join(lines), flush=True)
    for paper in asked.papers:
        for other in asked.lights:
            lines.append(f"| {' | '.join(row(paper, other, asked.noise, asked.seeds))} |")
            print(lines[-1], flush=True)
    if asked.file is not None:
        asked.file.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
