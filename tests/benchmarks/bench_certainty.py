"""How honest a correction's uncertainty is, kind by kind of printer.

    python tests/benchmarks/bench_certainty.py [--tuned] [--printers N] [-o FILE]

For each kind, for charts with near-neutral patches and for ramps alone: the share of the corrected
print's true L*, a*, b* that lie within the stated 95 % band, and the expected mean ΔCh over the
true one, in the median over the printers. Each printer has one of the noises; the printers are
those kept out of tuning (odd seeds), or those tuned on.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[1])]

from support.kinds_of_printers import KINDS, NOISES  # noqa: E402

from greyscale.base.files import write_whole  # noqa: E402
from greyscale.charts.chart import make_chart  # noqa: E402
from greyscale.colorimetry.cielab import mean_over_lightness  # noqa: E402
from greyscale.correction.correct import correct  # noqa: E402
from greyscale.correction.record import Correction  # noqa: E402
from greyscale.readings.layout import Layout, split_place  # noqa: E402
from greyscale.readings.reading import Reading  # noqa: E402

Array = NDArray[np.float64]
LEVELS = np.arange(1, 255) / 255
JUDGED = LEVELS >= 0.03  # Below, the aim is blended into the printer's black.


@dataclass(frozen=True)
class Found:
    """Of one correction: the share held for L* and for a*, b*; mean ΔCh as promised, and true.

    `z` is the root mean square of the errors in stated standard deviations.
    """

    noise: str
    held_L: float
    held_ab: float
    z: float
    promised: float
    true: float

    @property
    def held(self) -> float:
        """Of all values."""
        return (self.held_L + 2 * self.held_ab) / 3


def places(layout: Layout) -> Array:
    """The places of a chart's patches on its page, in patches, shape (n, 2)."""
    assert layout.places is not None
    found = [place for name in layout.places if (place := split_place(name)) is not None]
    strips = list(dict.fromkeys(strip for strip, _ in found))
    return np.array([(strips.index(strip), number) for strip, number in found], dtype=float)


def reading_of(printer: object, layout: Layout, noise: str, seed: int, kind: str) -> Reading:
    """A printed chart, read with noise: another for each kind."""
    lab = printer.lab(layout.device)  # type: ignore[attr-defined]
    random = np.random.default_rng((seed, list(KINDS).index(kind)))
    measured = lab + NOISES[noise](random, lab, places(layout))
    return Reading("chart", "arrays", layout.ids, layout.device, measured, places=layout.places)


def found_of(printer: object, made: Correction, noise: str) -> Found:
    """Judge a correction by the printer itself."""
    curve = made.curve
    paper, black = printer.lab(np.array([[1.0] * 3, [0.0] * 3]))  # type: ignore[attr-defined]
    true = printer.lab(curve.apply(np.repeat(LEVELS[:, None], 3, axis=1)))  # type: ignore[attr-defined]
    sd = np.column_stack([np.interp(LEVELS, curve.levels, column) for column in curve.sd.T])
    z = ((true - curve.predict(LEVELS)) / sd)[JUDGED]
    # The fading aim, from the true paper and black (ISO 12647-2:2013; memory).
    L = black[0] + (paper[0] - black[0]) * LEVELS
    off = true[:, 1:] - (1 - 0.85 * (1 - LEVELS))[:, None] * paper[1:]
    held = np.abs(z) <= 1.959964
    return Found(
        noise=noise,
        held_L=float(held[:, 0].mean()),
        held_ab=float(held[:, 1:].mean()),
        z=float(np.sqrt(np.mean(z**2))),
        promised=made.expectation.after_mean_delta_Ch,
        true=mean_over_lightness(np.hypot(*off.T), L),
    )


def cases(tuned: bool, count: int) -> Iterator[tuple[str, int, str, bool]]:
    """Kind, seed, noise and whether there are near-neutral patches."""
    for kind in KINDS:
        for number in range(count):
            for near_neutral in (True, False):
                yield (
                    kind,
                    2 * number + (not tuned),
                    list(NOISES)[number % len(NOISES)],
                    near_neutral,
                )


def table(results: Sequence[tuple[str, bool, Found]]) -> str:
    """The results as Markdown: a line for each kind, each noise, and all together."""
    lines = [
        "| printers | chart | within 95 % band | of L* | of a*, b* | rms z | ΔCh promised / true |",
        "|---|---|--:|--:|--:|--:|--:|",
    ]
    groups = {kind: [(k, n, f) for k, n, f in results if k == kind] for kind in KINDS}
    groups |= {f"noise: {noise}": [r for r in results if r[2].noise == noise] for noise in NOISES}
    groups["all"] = list(results)
    for name, own in groups.items():
        for near_neutral, chart in ((True, "near-neutral"), (False, "ramp alone")):
            some = [f for _, n, f in own if n is near_neutral]
            if not some:
                continue
            held = np.mean([(f.held, f.held_L, f.held_ab) for f in some], axis=0)
            z = np.sqrt(np.mean([f.z**2 for f in some]))
            ratio = np.median([f.promised / f.true for f in some])
            figures = " | ".join(f"{value:.2f}" for value in (*held, z, ratio))
            lines.append(f"| {name} | {chart} | {figures} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tuned", action="store_true", help="the printers tuned on")
    parser.add_argument("--printers", type=int, default=5, help="of each kind")
    parser.add_argument("-o", dest="out", type=Path, help="a Markdown file; else it is printed")
    given = parser.parse_args()
    layouts = {own: make_chart("chart", near_neutral=own).layout for own in (True, False)}
    results = []
    for kind, seed, noise, near_neutral in cases(given.tuned, given.printers):
        printer = KINDS[kind](seed)
        made = correct([reading_of(printer, layouts[near_neutral], noise, seed, kind)])
        results.append((kind, near_neutral, found_of(printer, made, noise)))
        print(kind, seed, results[-1][-1], file=sys.stderr, flush=True)
    which = "tuned on" if given.tuned else "kept out of tuning"
    text = (
        "# Certainty, kind by kind of printer\n\n"
        f"{given.printers} simulated printers of each kind, {which}; each read with one of the "
        f"noises. One round, 16 bits.\n\n{table(results)}"
    )
    if given.out is None:
        print(text)
    else:
        write_whole(given.out, text)


if __name__ == "__main__":
    main()
