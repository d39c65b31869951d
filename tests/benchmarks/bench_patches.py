"""What a correction reaches by how many patches, spread evenly or chosen; in one chart or two.

    python tests/benchmarks/bench_patches.py [--seeds N] [--tuning] [-o TABLE] [WAY ...]

Each chart is printed on a simulated printer, read with a noise of 0.15 and corrected from; the
print through the correction is judged without noise (`support.correction_loop`), as mean and
largest ΔCh of the tones within reach, in the mean over printers and seeds. What the correction
expects is of all tones, those out of reach included: it is held against the truth of these, in the
median. The printers are those that were kept out of tuning; `--tuning` tries the four others. Ways:
`even N` spreads patches as the usual chart does, `chosen N` spends them where they tell most
beforehand, `chosen N+M` spends M more after N were read. `usual` is the usual chart of 147.
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
from support.correction_loop import (  # noqa: E402
    Judged,
    Subject,
    chart,
    grey,
    judged,
    subject,
)

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
WAYS = (
    "usual", "even 24", "even 40", "even 75", "even 110",
    "chosen 24", "chosen 40", "chosen 75", "chosen 110", "chosen 147", "chosen 45+30",
    "chosen 75+30",
)  # fmt: skip


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


def made(who: Subject, way: str, seed: int) -> Correction:
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


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("ways", nargs="*", default=list(WAYS))
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--tuning", action="store_true")
    parser.add_argument("-o", type=Path, metavar="TABLE")
    asked = parser.parse_args()
    names = TUNING if asked.tuning else KEPT_OUT
    rows = ["| patches | mean ΔCh | largest ΔCh | worst printer, mean | expected / true |"]
    rows.append("|---|--:|--:|--:|--:|")
    print("\n".join(rows))
    for way in asked.ways:
        start, each, expected = process_time(), [], []
        for name in names:
            who = subject(name)
            found: list[Judged] = []
            for seed in range(asked.seeds):
                correction = made(who, way, seed)
                all_tones = found_of(who.printer, correction, "")
                expected.append(all_tones.promised / all_tones.true)
                found.append(
                    judged(who, lambda levels, c=correction: c.curve.apply(grey(levels)))  # type: ignore[misc]
                )
            each.append(
                [np.mean([one.mean for one in found]), np.mean([one.largest for one in found])]
            )
        mean, largest = np.mean(each, axis=0)
        worst = names[int(np.argmax([one[0] for one in each]))]
        rows.append(
            f"| {way} | {mean:.3f} | {largest:.2f} | {max(one[0] for one in each):.2f} ({worst}) "
            f"| {np.median(expected):.2f} |"
        )
        print(rows[-1], f"{process_time() - start:.0f} s", flush=True)
    if asked.o is not None:
        about = " ".join((__doc__ or "").split("\n\n")[2].split())
        head = f"# Error by patches\n\n{about} {len(names)} printers, {asked.seeds} seeds each.\n"
        asked.o.write_text("\n".join([head, *rows, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
