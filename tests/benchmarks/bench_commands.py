"""Whole commands, process and all, against an import or a bare script in a process of its own."""

from __future__ import annotations

from itertools import count
from pathlib import Path

from support.as_printed import compare

from greyscale.analysis.comparison import ComparisonOptions
from greyscale.readings.iso28178 import write
from tests.benchmarks.inputs import chart, papers, ramp
from tests.benchmarks.ratios import hold_ratio, process

IMPORT = "`import colour`"
COLOUR = process(["-c", "import colour"])

# As many figures as the report of an analysis has, each in as many forms, with nothing in them
# but a line.
BARE_FIGURES = """
from io import BytesIO
from matplotlib.figure import Figure
for _ in range(5):
    for kinds in (("png", "svg"), ("svg",)):
        figure = Figure(figsize=(7.5, 6), layout="constrained")
        for panel in figure.subplots(3, 1):
            panel.plot(range(51))
        for kind in kinds:
            figure.savefig(BytesIO(), format=kind, dpi=200)
"""


def greyscale(*arguments: object) -> list[str]:
    return ["-m", "greyscale", *map(str, arguments)]


def test_help() -> None:
    typer = process(["-c", "import typer"])
    hold_ratio("--help", process(greyscale("--help")), "`import typer`", typer, 3, 15)


def test_check(tmp_path: Path) -> None:
    write(chart(150), tmp_path / "chart.txt")
    work = process(greyscale("check", tmp_path / "chart.txt"))
    hold_ratio("check, 150 patches", work, IMPORT, COLOUR, 0.35)


def test_analyse(tmp_path: Path) -> None:
    write(ramp(51), tmp_path / "ramp.txt")
    work = process(greyscale("analyse", tmp_path / "ramp.txt"))
    hold_ratio("analyse, 51 patches, 3 lights", work, IMPORT, COLOUR, 0.6)


def test_html_report(tmp_path: Path) -> None:
    write(ramp(51), tmp_path / "ramp.txt")
    work = process(
        greyscale("analyse", tmp_path / "ramp.txt", "-o", tmp_path / "report", "--replace")
    )
    bare = process(["-c", BARE_FIGURES])
    hold_ratio("analyse with its HTML report", work, "as many bare figures", bare, 1, 5)
    hold_ratio("analyse with its HTML report", work, IMPORT, COLOUR, 1.6, 5)


def test_correct(tmp_path: Path) -> None:
    write(chart(150), tmp_path / "chart.txt")
    arguments = greyscale("correct", tmp_path / "chart.txt", "--lut-size", 33, "-o")
    number = count()

    def work() -> None:
        process([*arguments, str(tmp_path / str(next(number)))])()

    hold_ratio("correct with its report, 150 patches, 33-node LUT", work, IMPORT, COLOUR, 2, 5)


def test_demo(tmp_path: Path) -> None:
    work = process(greyscale("demo", "-o", tmp_path / "demo", "--replace"))
    hold_ratio("demo, the whole job", work, IMPORT, COLOUR, 25, 2)


def test_compare_500_files(tmp_path: Path) -> None:
    paths = [tmp_path / one.source for one in papers(500)]
    for one, path in zip(papers(500), paths, strict=True):
        write(one, path)
    work = process(greyscale("compare", *paths))
    hold_ratio("compare, 500 files, 3 lights", work, IMPORT, COLOUR, 2, 3)


def test_compare_100_files_with_all_figures(tmp_path: Path) -> None:
    paths = [tmp_path / one.source for one in papers(100)]
    for one, path in zip(papers(100), paths, strict=True):
        write(one, path)
    work = process(greyscale("compare", *paths, "--json", "-"))
    hold_ratio("compare, 100 files, 3 lights, as JSON", work, IMPORT, COLOUR, 1.5, 3)


def test_compare_500_papers_under_many_lights() -> None:
    lights = ("D50", "A", "F11", "D65", "D75", "FL2", "ID65")
    options = ComparisonOptions(lights=(*lights, *(f"LED-B{i}" for i in range(1, 6))))
    readings = papers(500)
    compare(readings[:2], options)
    what = "500 papers under 12 lights, without reading files"
    hold_ratio(what, lambda: compare(readings, options), IMPORT, COLOUR, 1, 3)
