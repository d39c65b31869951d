"""The job from Python, in the order of the work; `import greyscale` offers all of it.

Results are frozen dataclasses with NumPy arrays and plain numbers. A mistake in what is given
raises `BadInput` with one plain message. Each function imports what it needs when it is called.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from greyscale.base.errors import BadInput

if TYPE_CHECKING:
    from greyscale.analysis.analyse import Analysis
    from greyscale.analysis.comparison import Comparison
    from greyscale.analysis.drying import Drying
    from greyscale.applying.apply import Applied
    from greyscale.charts.chart import Chart
    from greyscale.checks import CheckResult
    from greyscale.colorimetry.lights import Light
    from greyscale.correction.record import Correction
    from greyscale.correction.verify import Verification
    from greyscale.readings.layout import Layout
    from greyscale.readings.reading import Reading

__all__ = [
    "BadInput", "analyse", "apply", "chart", "check", "compare", "correct", "drying", "light",
    "read", "read_correction", "summary", "verify", "write_correction", "write_report",
]  # fmt: skip


def chart(stem: Path | str, **wishes: Any) -> Chart:
    """Make a chart and write it as STEM.tif, STEM.pdf and STEM.txt, the layout.

    Parameters
    ----------
    stem
        Path without an ending.
    wishes
        Keywords of `greyscale.charts.chart.make_chart`: `tones`, `near_neutral`, `page`, ...
    """
    from greyscale.charts.chart import make_chart, write_chart

    made = make_chart(Path(stem).name, **wishes)
    write_chart(made, stem)
    return made


def read(path: Path | str, **how: Any) -> Reading:
    """Read a reading: ISO 28178 text, CxF3 or CSV; see `greyscale.readings.formats.read`."""
    from greyscale.readings.formats import read as read_one

    return read_one(path, **how)


def check(reading: Reading, layout: Layout | None = None) -> CheckResult:
    """Say whether every patch was read, and each value stands under its own."""
    from greyscale.checks import check as check_one

    return check_one(reading, layout)


def drying(readings: Sequence[Reading], hours: Sequence[float] | None = None) -> Drying:
    """Follow the drying of one print through readings at different times, hours after printing."""
    from greyscale.analysis.drying import drying as follow

    return follow(readings, hours)


def analyse(reading: Reading, **wishes: Any) -> Analysis:
    """See where a print departs from neutral and from its tone scale, and under which light.

    Parameters
    ----------
    reading
        With a grey ramp.
    wishes
        Keywords of `greyscale.analysis.analyse.analyse`: `aim`, `neutral`, `lights`,
        `tolerance`, ...
    """
    from greyscale.analysis.analyse import analyse as analyse_one

    return analyse_one(reading, **wishes)


def summary(analysis: Analysis) -> str:
    """Say an analysis in one paragraph."""
    from greyscale.reporting.words import summary as said

    return said(analysis)


def light(spec: str, glazing: str | None = None) -> Light:
    """Give a light by what names it: an illuminant, a temperature, a mixture, a lamp's file."""
    from greyscale.readings.lights import find_light

    return find_light(spec, glazing)


def compare(readings: Sequence[Reading], **wishes: Any) -> Comparison:
    """Compare papers under the lights that the prints will hang in.

    Parameters
    ----------
    readings
        Of two papers or more; M1 and M2 of one chart count as one paper.
    wishes
        Fields of `greyscale.analysis.comparison.ComparisonOptions`: `lights`, `weights`, ...
    """
    from greyscale.analysis.comparison import ComparisonOptions
    from greyscale.analysis.comparison import compare as compare_papers

    if "lights" in wishes:
        wishes["lights"] = tuple(wishes["lights"])
    return compare_papers(readings, ComparisonOptions(**wishes))


def correct(
    readings: Reading | Sequence[Reading], previous: Correction | None = None, **wishes: Any
) -> Correction:
    """Solve the correction of a printer on a paper.

    Parameters
    ----------
    readings
        One or more, joined as evidence.
    previous
        The correction that they were printed through, for a next round.
    wishes
        Fields of `greyscale.correction.record.Options`: `name`, `aim`, `toning`, ...
    """
    from greyscale.correction.correct import correct as solve
    from greyscale.correction.wishes import options
    from greyscale.readings.reading import Reading

    given = [readings] if isinstance(readings, Reading) else list(readings)
    return solve(given, options(previous, **wishes))


def write_correction(correction: Correction, folder: Path | str, *, pdf: bool = False) -> Path:
    """Write a correction's folder: curve, LUTs, JSON, figures, report; whole or not at all.

    Returns
    -------
    The folder.
    """
    from greyscale.correction.folder import write_files
    from greyscale.correction.whole_folder import whole_folder
    from greyscale.reporting.correction_report import write_correction_report

    with whole_folder(folder, [source.source for source in correction.evidence.sources]) as fresh:
        luts = write_files(correction, fresh)
        write_correction_report(correction, luts, fresh, pdf=pdf)
    return Path(folder)


def read_correction(folder: Path | str) -> Correction:
    """Read a correction from its folder."""
    from greyscale.correction.folder import read_correction as read_one

    return read_one(folder)


def verify(reading: Reading, correction: Correction | Path | str, **wishes: Any) -> Verification:
    """Judge a print made through a correction, which is given itself or by its folder."""
    from greyscale.correction.verify import verify as judge

    made = read_correction(correction) if isinstance(correction, str | Path) else correction
    return judge(reading, made, **wishes)


def apply(
    correction: Path | str, picture: Path | str, target: Path | str, **wishes: Any
) -> Applied:
    """Send a picture through a correction into a new file.

    Parameters
    ----------
    correction
        Its folder.
    picture, target
        TIFF, PNG or JPEG.
    wishes
        Fields of `greyscale.applying.apply.ApplyOptions`: `encoding`, `lut`, ...
    """
    from greyscale.applying.apply import ApplyOptions, apply_correction

    folder = Path(correction)
    options = ApplyOptions(**wishes)
    return apply_correction(read_correction(folder), folder, Path(picture), Path(target), options)


def write_report(
    result: Analysis | Sequence[Analysis] | Comparison | Drying | Verification,
    folder: Path | str,
    *,
    pdf: bool = False,
) -> Path:
    """Write the report of a result: page, figures, numbers; a PDF if asked for.

    Returns
    -------
    The page's path.

    Raises
    ------
    TypeError
        For what has no report. A correction's is in its folder, see `write_correction`.
    """
    from greyscale.analysis.analyse import Analysis
    from greyscale.analysis.comparison import Comparison
    from greyscale.analysis.drying import Drying
    from greyscale.correction.verify import Verification
    from greyscale.reporting.analysis_report import write_analysis_report
    from greyscale.reporting.comparison_report import write_comparison_report
    from greyscale.reporting.drying_report import write_drying_report
    from greyscale.reporting.verification_report import write_verification_report

    match result:
        case Analysis():
            return write_analysis_report([result], folder, pdf=pdf)
        case Comparison():
            return write_comparison_report(result, folder, pdf=pdf)
        case Drying():
            return write_drying_report(result, folder, pdf=pdf)
        case Verification():
            source = result.after.reading.source
            return write_verification_report(result, Path(folder), [source], pdf=pdf)
        case [Analysis(), *_]:
            return write_analysis_report(result, folder, pdf=pdf)
        case _:
            raise TypeError(f"there is no report of {type(result).__name__}")
