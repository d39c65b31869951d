"""Whole commands, process and all, against an import in a process of its own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from greyscale.demo.printers import demo_printer
from greyscale.readings.formats import read
from greyscale.readings.iso28178 import write
from greyscale.readings.reading import Reading
from tests.benchmarks.ratios import process, ratio, report

COLOUR = process(["-c", "import colour"])


def reading(patches: int) -> Reading:
    device = np.repeat(np.linspace(0, 1, patches)[:, None], 3, axis=1)
    ids = [str(i) for i in range(patches)]
    return demo_printer().measure(ids, device, name="bench")


def test_help() -> None:
    found = ratio(process(["-m", "greyscale", "--help"]), process(["-c", "import typer"]), 15)
    report("greyscale --help, against import typer", found, 3)


def test_analyse(tmp_path: Path) -> None:
    path = tmp_path / "ramp.txt"
    write(reading(51), path)
    found = ratio(process(["-m", "greyscale", "analyse", str(path)]), COLOUR, 9)
    report("greyscale analyse, 51 spectral patches, 3 lights", found, 1.5)


def test_compare_500_papers() -> None:
    from greyscale.analysis.comparison import ComparisonOptions, compare

    lights = ("D50", "A", "F11", "D65", "D75", "FL2", "ID65")
    lights += tuple(f"LED-B{i}" for i in range(1, 6))
    own = reading(51)
    papers = [replace(own, name=f"paper {i}", source=f"{i}.txt") for i in range(500)]
    compare(papers[:2], ComparisonOptions(lights=lights))
    found = ratio(lambda: compare(papers, ComparisonOptions(lights=lights)), COLOUR, 3)
    report("compare 500 papers, 51 patches, 12 lights", found, 3)


@pytest.mark.parametrize("count", [500])
def test_reading_files_is_linear_in_their_number(count: int, tmp_path: Path) -> None:
    own = reading(51)
    paths = [tmp_path / f"{i}.txt" for i in range(count)]
    for path in paths:
        write(own, path)
    tenth = paths[: count // 10]
    read(paths[0])
    found = ratio(lambda: [read(path) for path in paths], lambda: [read(path) for path in tenth], 3)
    report(f"reading {count} files, against a tenth of them", found, 12)
