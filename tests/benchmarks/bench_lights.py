"""What a correction for the light it hangs in reaches, paper by paper, beside the best possible.

    python tests/benchmarks/bench_lights.py [--seeds N] [--noise SD] [--lights A B] [PAPER ...]

Chart, reading in M1 and M2, correction; judged is the print itself, without noise, under the light,
against the aim that follows from the true paper and black there. The best possible is solved on
the true printer, tone by tone, by bounded least squares. Per paper: the mean ΔCh of the correction
for D50 under D50 and each light; of that for each light alone, in it; of that for both, the worse,
and the best possible.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1])]

from support.lights_loop import PAPERS, Hall, best_worst, corrected  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("papers", nargs="*", default=list(PAPERS))
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--noise", type=float, default=0.12)
    parser.add_argument("--lights", nargs=2, default=["D50", "LED-B1"])
    asked = parser.parse_args()
    one, other = asked.lights
    print(
        f"noise {asked.noise} in each of L*, a*, b*; mean ΔCh, mean of {asked.seeds} seeds (worst)"
    )
    for paper in asked.papers:
        hall = Hall(paper)
        best = best_worst(hall, one, other)

        def line(lights: tuple[str, ...], hall: Hall = hall) -> np.ndarray:
            found = [
                hall.means(corrected(hall, lights, noise=asked.noise, seed=seed), (one, other))
                for seed in range(asked.seeds)
            ]
            return np.array(found)

        for lights in ((), (one,), (other,), (one, other)):
            means = line(lights)
            print(
                f"{paper:18} for {'+'.join(lights) or 'D50, as ever':18}"
                f" {one} {means[:, 0].mean():.2f} ({means[:, 0].max():.2f})"
                f" {other} {means[:, 1].mean():.2f} ({means[:, 1].max():.2f})"
                f" worse {means.max(axis=1).mean():.2f} ({means.max():.2f})",
                flush=True,
            )
        print(f"{paper:18} the worse of both at best {best:.2f}")


if __name__ == "__main__":
    main()
