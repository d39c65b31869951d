"""The demo's sample measurements, as files: `python -m greyscale.demo.samples DIR`.

Two invented readings of starting charts, each with repeats and near-neutral patches, each in M1
(daylight with its ultraviolet) and M2 (without): 33 tones on cotton rag, which has no brightener,
and 65 tones on baryta, which has some.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from greyscale.charts.near_neutral import near_neutral_levels, near_neutral_patches
from greyscale.charts.patches import PatchList, joined
from greyscale.charts.tones import starting_tones
from greyscale.demo.printers import demo_printer
from greyscale.demo.workshop import Workshop
from greyscale.readings.iso28178 import write
from greyscale.readings.reading import Reading

COMMAND = "python -m greyscale.demo.samples sample_measurements"
SOURCE = f"invented, made by greyscale/demo; command: {COMMAND}"

_REPEATED_TONES = 6
_TIMES = 3
_HOURS = 24.0


@dataclass(frozen=True)
class Sample:
    """One sample chart: paper, tones of the ramp, levels with near-neutral patches, noise seed."""

    paper: str
    tones: int
    near_neutral: int
    seed: int

    @property
    def stem(self) -> str:
        """What its files are called, without condition and ending."""
        return f"{self.paper.replace(' ', '-')}-{self.tones}"


SAMPLES = (Sample("cotton rag", 33, 17, 33), Sample("baryta", 65, 17, 65))
CONDITIONS = ("M1", "M2")


def sample_chart(sample: Sample) -> PatchList:
    """Give a sample's patches: ramp, near-neutral patches, and some tones again, shuffled."""
    tones = starting_tones(sample.tones)
    near = near_neutral_patches(near_neutral_levels(sample.near_neutral))
    once = joined([tones, near])
    rows = np.linspace(0, sample.tones - 1, _REPEATED_TONES).round().astype(int)
    again = np.tile(rows, _TIMES - 1)
    order = np.random.default_rng(sample.seed).permutation(len(once) + again.size)
    return once.select(np.concatenate([np.arange(len(once)), again])[order].tolist())


def sample_reading(sample: Sample, condition: str) -> Reading:
    """Give a sample's reading in a condition, with the digits that an instrument's file has."""
    chart = sample_chart(sample)
    ids = [str(number) for number in range(1, len(chart) + 1)]
    reading = demo_printer(sample.paper).measure(
        ids,
        chart.device,
        name=f"{sample.paper}, {sample.tones} tones, {condition}",
        seed=sample.seed + CONDITIONS.index(condition),
        condition=condition,
        created=Workshop.measured_at(_HOURS),
    )
    assert reading.spectra is not None
    rounded = replace(reading, spectra=np.round(reading.spectra, 5), fields={"SOURCE": SOURCE})
    return replace(rounded, lab=np.round(rounded.lab_under("D50"), 3))


def write_samples(folder: Path | str) -> tuple[Path, ...]:
    """Write every sample in every condition; give the files' paths."""
    paths = []
    for sample in SAMPLES:
        for condition in CONDITIONS:
            path = Path(folder) / f"{sample.stem}-{condition.lower()}.txt"
            write(sample_reading(sample, condition), path)
            paths.append(path)
    return tuple(paths)


if __name__ == "__main__":
    for written in write_samples(sys.argv[1] if len(sys.argv) > 1 else "sample_measurements"):
        print(written)
