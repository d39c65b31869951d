"""The demo's sample measurements, as files: `python -m greyscale.demo.samples DIR`.

Two invented readings of starting charts, each with repeats and near-neutral patches, each in M1
(daylight with its ultraviolet) and M2 (without): 33 tones on cotton rag, which has no brightener,
and 65 tones on baryta, which has some.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

from greyscale.charts.chart import make_chart
from greyscale.demo.printer import demo_printer
from greyscale.demo.workshop import as_exported, measured_at
from greyscale.readings.iso28178 import write
from greyscale.readings.reading import Reading

COMMAND = "python -m greyscale.demo.samples sample_measurements"
SOURCE = f"invented, made by greyscale/demo; command: {COMMAND}"

_HOURS = 24.0


@dataclass(frozen=True)
class Sample:
    """One sample chart: paper, tones of the ramp, seed of its places and of the noise."""

    paper: str
    tones: int
    seed: int

    @property
    def stem(self) -> str:
        """What its files are called, without condition and ending."""
        return f"{self.paper.replace(' ', '-')}-{self.tones}"


SAMPLES = (Sample("cotton rag", 33, seed=33), Sample("baryta", 65, seed=65))
CONDITIONS = ("M1", "M2")


def sample_reading(sample: Sample, condition: str) -> Reading:
    """Return a sample's reading in a condition."""
    chart = make_chart(
        sample.stem, tones=sample.tones, near_neutral=True, seed=sample.seed, code=False
    ).layout
    reading = demo_printer(sample.paper).measure(
        chart.ids,
        chart.device,
        places=chart.places,
        name=f"{sample.paper}, {sample.tones} tones, {condition}",
        seed=sample.seed + CONDITIONS.index(condition),
        condition=condition,
        created=measured_at(_HOURS),
    )
    return as_exported(replace(reading, fields={"SOURCE": SOURCE}))


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
