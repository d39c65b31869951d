"""How the commands' work grows with patches, papers, lights and pixels."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from support.as_printed import compare

from greyscale.analysis.analyse import analyse
from greyscale.analysis.comparison import ComparisonOptions
from greyscale.applying.apply import ApplyOptions, apply_correction
from greyscale.checks.checking import check
from greyscale.colorimetry.lights import illuminant_names
from greyscale.correction.correct import correct
from greyscale.correction.folder import read_correction
from greyscale.correction.record import Options
from greyscale.readings.formats import read
from greyscale.readings.iso28178 import write
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.comparison_report import comparison_data
from greyscale.reporting.html import write_report
from tests.benchmarks.growth import hold_growth
from tests.benchmarks.inputs import chart, correction_folder, papers, picture, ramp
from tests.benchmarks.ratios import peak_memory

Work = Callable[[], object]


def test_reading_a_file_by_patches(tmp_path: Path) -> None:
    def work(patches: int) -> Work:
        path = tmp_path / f"{patches}.txt"
        write(ramp(patches), path)
        return lambda: read(path)

    hold_growth("read an ISO 28178 file", "patches", work, (100, 400, 1600), 1.2)


def test_check_by_patches() -> None:
    def work(patches: int) -> Work:
        reading = chart(patches)
        return lambda: check(reading)

    hold_growth("check", "patches", work, (1000, 2000, 5000, 10_000), 1.3, 1)


def test_analyse_by_patches() -> None:
    def work(patches: int) -> Work:
        reading = ramp(patches)
        return lambda: analyse(reading)

    hold_growth("analyse", "patches", work, (100, 400, 1600, 10_000), 1.3)


def test_report_by_patches(tmp_path: Path) -> None:
    def work(patches: int) -> Work:
        analysis = analyse(ramp(patches))
        return lambda: write_report(tmp_path / str(patches), analysis_report([analysis]))

    hold_growth("HTML report of an analysis", "patches", work, (50, 200, 800), 1.1, 1)


def test_compare_by_papers() -> None:
    def work(count: int) -> Work:
        readings = papers(count)
        return lambda: comparison_data(compare(readings))

    hold_growth("compare, as JSON", "papers", work, (25, 100, 400), 1.1)


def test_compare_by_lights() -> None:
    readings, names = papers(25), illuminant_names()

    def work(count: int) -> Work:
        options = ComparisonOptions(lights=names[:count])
        return lambda: comparison_data(compare(readings, options))

    hold_growth("compare, as JSON", "lights", work, (3, 12, 48), 1.1)


def test_correct_by_patches() -> None:
    def work(patches: int) -> Work:
        readings = [chart(patches)]
        return lambda: correct(readings, Options())

    hold_growth("correct", "patches", work, (150, 500, 2000, 10_000), 1.3, 1)


def test_apply_by_pixels(tmp_path: Path) -> None:
    folder = correction_folder(tmp_path / "correction")
    correction = read_correction(folder)
    target = tmp_path / "out.tif"

    def source(pixels: int) -> Path:
        path = tmp_path / f"{pixels}.tif"
        return path if path.exists() else picture(path, 2000, pixels // 2000)

    def work(pixels: int) -> Work:
        path, options = source(pixels), ApplyOptions(encoding="lstar")
        return lambda: apply_correction(correction, folder, path, target, options)

    def peak(pixels: int) -> int:
        arguments = (
            "apply",
            folder,
            source(pixels),
            "-o",
            target,
            "--encoding",
            "lstar",
            "--replace",
        )
        return peak_memory(["-m", "greyscale", *map(str, arguments)])

    sizes = (1_000_000, 4_000_000, 16_000_000, 64_000_000)
    hold_growth("apply", "pixels", work, sizes, 1.1, 2, peak)
