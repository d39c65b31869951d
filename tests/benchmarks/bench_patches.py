"""What a correction reaches by how many patches, spread evenly or chosen; in one chart or two.

    python tests/benchmarks/bench_patches.py [--seeds N] [--tuning] [-o TABLE] [WAY ...]

Each chart is printed on a simulated printer, read with a noise of 0.15 (each printer and seed has
its own) and corrected from; the print through the correction is judged without noise
(`support.correction_loop`), as mean and largest ΔCh of the tones within reach, in the mean over
printers and seeds; and over those of the first row, with the standard error that the noise leaves.
What the correction expects is of all tones, those out of reach included: it is held against the
truth of these, in the median. The printers are those that were kept out of tuning; `--tuning` tries
the four others. Ways: `even N` spreads patches as the usual chart does, `chosen N` spends them
where they tell most beforehand, `chosen N+M` spends M more after N were read. `usual` is the usual
chart of 147.
"""

from __future__ import annotations

import argparse
import sys
from functools import cache
from pathlib import Path
from time import process_time

import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

from bench_certainty import found_of  # noqa: E402
from support.correction_loop import PRINTERS, Subject, chart, grey, judged, subject  # noqa: E402

from greyscale.charts.patches import (  # noqa: E402
    joined,
    near_neutral_levels,
    near_neutral_patches,
    starting_tones,
    usual_nudges,
    with_repeats,
)
from greyscale.correction.charts import measured_by  # noqa: E402
from greyscale.correction.correct import correct  # noqa: E402
from greyscale.correction.record import Correction  # noqa: E402
from greyscale.printer.design import design  # noqa: E402
from greyscale.readings.reading import Reading  # noqa: E402

Array = NDArray[np.float64]

TUNING = ("spectral, cotton rag", "TR 006", "black by mean ink", "random 1")
KEPT_OUT = (
    "TR 006, other curves", "hue reversal, by points", "kink, by points", "black late, tinted",
    "random 2", "random 5", "random 7",
)  # fmt: skip
WAYS = ("usual", "chosen 75", "chosen 75+30", "even 75", "chosen 147")


def even(count: int) -> Array:
    """So many patches in the proportions of the usual chart: ramp, hexagons, repeats."""
    tones = max(7, round(0.225 * count))
    repeats = max(2, round(0.08 * count))
    levels = max((count - tones - repeats) // 6, 1)
    between = near_neutral_levels(levels)
    beside = near_neutral_patches(between, usual_nudges(between))
    patches = joined([starting_tones(tones), beside])
    return with_repeats(patches, count - len(patches)).device


@cache
def chosen(count: int) -> Array:
    """So many patches where they tell most of a printer that nobody measured."""
    return design(count).patches.device


def read(who: Subject, device: Array, random: np.random.Generator) -> Reading:
    """Print and read, with noise."""
    lab = who.lab(device) + random.normal(0.0, 0.15, device.shape)
    ids = tuple(map(str, range(len(device))))
    return Reading("sheet", f"sheet {len(device)}", ids, device, lab)


def made(who: Subject, way: str, seed: tuple[int, int]) -> Correction:
    """Correct in one of the ways."""
    random = np.random.default_rng(seed)
    if way == "usual":
        return correct([read(who, chart(True), random)])
    how, number = way.split()
    first, _, more = number.partition("+")
    device = even(int(first)) if how == "even" else chosen(int(first))
    readings = [read(who, device, random)]
    correction = correct(readings)
    if more:
        further = design(int(more), measured_by(correction)).patches.device
        correction = correct([*readings, read(who, further, random)])
    return correction


def over(first: Array, each: Array) -> list[str]:
    """Mean and largest over those of the first way, with the standard error, as text.

    Shapes (seeds, printers, 2). The printers stay, their noise is drawn: the variance is that of
    the seeds, and in a ratio the squares of the relative errors add up.
    """
    (below, _), (above, _) = found = [
        (m := one.mean(axis=(0, 1)), one.var(axis=0, ddof=1).mean(axis=0) / one[..., 0].size / m**2)
        for one in (first, each)
    ]
    ratio, error = above / below, np.sqrt(sum(relative for _, relative in found))
    return [f"{r:.2f} ± {r * e:.2f}" for r, e in zip(ratio, error, strict=True)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("ways", nargs="*", default=list(WAYS))
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--tuning", action="store_true")
    parser.add_argument("-o", type=Path, metavar="TABLE")
    asked = parser.parse_args()
    names = TUNING if asked.tuning else KEPT_OUT
    rows = [
        "| patches | mean ΔCh | over the first | largest ΔCh | over the first "
        "| worst printer, mean | expected / true |"
    ]
    rows.append("|---|--:|--:|--:|--:|--:|--:|")
    print("\n".join(rows))
    first: Array | None = None
    for way in asked.ways:
        start, expected = process_time(), []
        each = np.empty((asked.seeds, len(names), 2))
        for seed, number in np.ndindex(each.shape[:2]):
            who = subject(names[number])
            correction = made(who, way, (seed, list(PRINTERS).index(names[number])))
            all_tones = found_of(who.printer, correction, "")
            expected.append(all_tones.promised / all_tones.true)
            found = judged(who, lambda levels, c=correction: c.curve.apply(grey(levels)))
            each[seed, number] = found.mean, found.largest
        ratio = ["1", "1"] if first is None else over(first, each)
        first = each if first is None else first
        mean, largest = each.mean(axis=(0, 1))
        of_printers = each[..., 0].mean(axis=0)
        worst = f"{of_printers.max():.2f} ({names[int(of_printers.argmax())]})"
        rows.append(
            f"| {way} | {mean:.3f} | {ratio[0]} | {largest:.2f} | {ratio[1]} | {worst} "
            f"| {np.median(expected):.2f} |"
        )
        print(rows[-1], f"{process_time() - start:.0f} s", flush=True)
    if asked.o is not None:
        about = " ".join((__doc__ or "").split("\n\n")[2].split())
        head = f"# Error by patches\n\n{about} {len(names)} printers, {asked.seeds} seeds each.\n"
        asked.o.write_text("\n".join([head, *rows, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
