"""The job from Python, in the order of the work; `import greyscale` offers all of it.

Results are frozen dataclasses with NumPy arrays and plain numbers. A mistake in what is given
raises `BadInput` with one plain message. Where a reading, a layout, a picture or a correction is
wanted, its path serves as well. Each function imports what it needs when it is called.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from greyscale.base.errors import BadInput

if TYPE_CHECKING:
    import datetime

    from greyscale.aims.neutral import NeutralAim
    from greyscale.aims.tolerances import Tolerance
    from greyscale.aims.tone import ToneAim
    from greyscale.analysis.analyse import Analysis
    from greyscale.analysis.comparison import Comparison
    from greyscale.analysis.drying import Drying
    from greyscale.applying.apply import Applied
    from greyscale.charts.chart import Chart, Through
    from greyscale.charts.page import PageSize
    from greyscale.charts.patches import Plan
    from greyscale.charts.picture_tones import PictureTones
    from greyscale.checks.finding import CheckResult
    from greyscale.colorimetry.lights import Light
    from greyscale.correction.record import Correction
    from greyscale.correction.settings import Settings
    from greyscale.correction.verify import Verification
    from greyscale.readings.fields import Ramp, Units
    from greyscale.readings.layout import Layout
    from greyscale.readings.reading import Reading

__all__ = [
    "BadInput", "analyse", "apply", "chart", "check", "compare", "correct", "drying", "light",
    "read", "read_correction", "read_layout", "settings", "summary", "verify", "write_correction",
    "write_report",
]  # fmt: skip


def chart(
    stem: Path | str,
    *,
    tones: int | None = None,
    spacing: str | None = None,
    near_neutral: bool = False,
    after: Reading | Path | str | None = None,
    picture: PictureTones | Path | str | None = None,
    page: str | PageSize = "a4",
    dpi: int = 300,
    patch_mm: float | None = None,
    least_mm: float = 8.0,
    margin_mm: float = 10.0,
    repeats: int | None = None,
    shuffle: bool = True,
    seed: int = 1,
    bits: int = 8,
    date: datetime.date | None = None,
    through: Through | Path | str | None = None,
    code: bool = True,
    chosen: Plan | None = None,
) -> Chart:
    """Make a chart and write it as STEM.tif, STEM.pdf and STEM.txt, the layout.

    Parameters
    ----------
    stem
        Path without an ending.
    after
        A reading to follow up: patches go where it leaves most uncertain.
    tones, spacing, near_neutral, picture, page, dpi, patch_mm, least_mm, margin_mm, repeats
        As for `greyscale.charts.chart.make_chart`.
    shuffle, seed, bits, date, through, code, chosen
        As for `greyscale.charts.chart.make_chart`.
    """
    from greyscale.charts.chart import make_chart, write_chart

    if isinstance(through, str | Path):
        from greyscale.correction.charts import chart_through

        through = chart_through(through)
    made = make_chart(
        Path(stem).name,
        tones=tones,
        spacing=spacing,
        near_neutral=near_neutral,
        after=None if after is None else _reading(after),
        picture=_tones(picture),
        page=page,
        dpi=dpi,
        patch_mm=patch_mm,
        least_mm=least_mm,
        margin_mm=margin_mm,
        repeats=repeats,
        shuffle=shuffle,
        seed=seed,
        bits=bits,
        date=date,
        through=through,
        code=code,
        chosen=chosen,
    )
    write_chart(made, stem)
    return made


def read(
    path: Path | str,
    *,
    ramp: Ramp | None = None,
    condition: str | None = None,
    units: Units | None = None,
    layout: Layout | Path | str | None = None,
) -> Reading:
    """Read a reading: ISO 28178 text, CxF3 or CSV; see `greyscale.readings.formats.read`."""
    from greyscale.readings.formats import read as read_one

    known = None if layout is None else _layout(layout)
    return read_one(path, ramp=ramp, condition=condition, units=units, layout=known)


def read_layout(path: Path | str) -> Layout:
    """Read the layout of a chart: which device values each patch has, and its place."""
    from greyscale.readings.layout import read_layout as read_one

    return read_one(path)


def _reading(given: Reading | Path | str) -> Reading:
    from greyscale.readings.reading import Reading

    found = read(given) if isinstance(given, str | Path) else given
    if not isinstance(found, Reading):
        raise TypeError(f"a reading or its path is wanted, not {type(given).__name__}")
    return found


def _of_one_chart(
    given: Reading | Path | str | Sequence[Reading | Path | str],
) -> Reading:
    """One reading, or those of one chart in M1 and M2 as one."""
    from greyscale.analysis.brighteners import with_glow

    if isinstance(given, str | Path) or not isinstance(given, Sequence):
        return _reading(given)
    joined = with_glow(_readings(given))
    if len(joined) != 1:
        raise BadInput(
            f"an analysis is of one chart, read once or in M1 and M2; these are {len(joined)}: "
            "analyse each by itself"
        )
    return joined[0]


def _readings(given: Sequence[Reading | Path | str]) -> list[Reading]:
    return [_reading(one) for one in given]


def _layout(given: Layout | Path | str) -> Layout:
    return read_layout(given) if isinstance(given, str | Path) else given


def _tones(given: PictureTones | Path | str | None) -> PictureTones | None:
    if not isinstance(given, str | Path):
        return given
    from greyscale.charts.picture_tones import picture_tones

    return picture_tones(given)


def _lights(given: str | Light | Sequence[str | Light]) -> tuple[str | Light, ...]:
    """One light may stand for itself; a text is one light, not a sequence of letters."""
    return tuple(given) if isinstance(given, Sequence) and not isinstance(given, str) else (given,)


def check(reading: Reading | Path | str, layout: Layout | Path | str | None = None) -> CheckResult:
    """Say whether every patch was read, and each value stands under its own."""
    from greyscale.checks.checking import check as check_one

    return check_one(_reading(reading), None if layout is None else _layout(layout))


def drying(
    readings: Sequence[Reading | Path | str], hours: Sequence[float] | None = None
) -> Drying:
    """Follow the drying of one print through readings at different times, hours after printing."""
    from greyscale.analysis.drying import drying as follow

    return follow(_readings(readings), hours)


def analyse(
    reading: Reading | Path | str | Sequence[Reading | Path | str],
    *,
    aim: str | Path | ToneAim = "lstar",
    scaling: str = "linear",
    neutral: NeutralAim = "fading",
    lights: str | Light | Sequence[str | Light] = ("D50", "A", "F11"),
    observer: str | None = None,
    tolerance: str | Tolerance = "exhibition",
    picture: PictureTones | Path | str | None = None,
) -> Analysis:
    """See where a print departs from neutral and from its tone scale, and under which light.

    Parameters and errors are those of `greyscale.analysis.analyse.analyse`; readings of one chart
    in M1 and M2 may be given together, and one light as it is.
    """
    from greyscale.analysis.analyse import analyse as analyse_one

    return analyse_one(
        _of_one_chart(reading),
        aim=aim,
        scaling=scaling,
        neutral=neutral,
        lights=_lights(lights),
        observer=observer,
        tolerance=tolerance,
        picture=_tones(picture),
    )


def summary(analysis: Analysis) -> str:
    """Say an analysis in one paragraph."""
    from greyscale.reporting.analysis_words import summary as said

    return said(analysis)


def light(spec: str, glazing: str | None = None) -> Light:
    """Return a light by what names it: an illuminant, a temperature, a mixture, a lamp's file."""
    from greyscale.readings.lamps import find_light

    return find_light(spec, glazing)


def compare(
    readings: Sequence[Reading | Correction | Path | str],
    *,
    as_printed: bool = False,
    lights: str | Light | Sequence[str | Light] = ("D50", "A", "F11"),
    weights: Mapping[str, float] | None = None,
    neutral: str = "fading",
    aim: str | Path | ToneAim = "lstar",
    scaling: str = "linear",
    observer: str = "2",
    viewer: str = "light",
    worst_share: float = 0.5,
) -> Comparison:
    """Compare papers under the lights that the prints will hang in.

    Parameters
    ----------
    readings
        Of two papers or more; M1 and M2 of one chart count as one paper. Corrections, or their
        folders, stand for the evidence in them.
    as_printed
        Whether to compare the prints as they are even where all can be corrected.
    lights, weights, neutral, aim, scaling, observer, viewer, worst_share
        As in `greyscale.analysis.comparison.ComparisonOptions`.
    """
    from greyscale.analysis.comparison import ComparisonOptions
    from greyscale.correction.corrected_papers import compare_papers
    from greyscale.correction.record import Correction
    from greyscale.readings.reading import Reading

    options = ComparisonOptions(
        lights=_lights(lights),
        weights=weights,
        neutral=neutral,
        aim=aim,
        scaling=scaling,
        observer=observer,
        viewer=viewer,
        worst_share=worst_share,
    )
    given = [
        one
        if isinstance(one, Correction)
        else read_correction(one)
        if not isinstance(one, Reading) and Path(one).is_dir()
        else _reading(one)
        for one in readings
    ]
    return compare_papers(given, options, as_printed=as_printed)


def settings(readings: Sequence[Reading | Path | str]) -> Settings:
    """Rank a driver's settings by a small chart of each, printed on the same paper.

    Parameters
    ----------
    readings
        One of each setting; `greyscale chart --settings N` makes the strips.
    """
    from greyscale.correction.settings import choose_settings

    return choose_settings([_reading(one) for one in readings])


def correct(
    readings: Reading | Path | str | Sequence[Reading | Path | str],
    *,
    previous: Correction | Path | str | None = None,
    name: str | None = None,
    aim: str | None = None,
    scaling: str | None = None,
    neutral: str | None = None,
    toning: str | None = None,
    path: str | None = None,
    bits: int | None = None,
    picture: PictureTones | Path | str | None = None,
    printer: str | None = None,
    paper: str | None = None,
    settings: str | None = None,
    points: int | None = None,
    tone_only: bool | None = None,
    lights: str | Light | Sequence[str | Light] | None = None,
    weights: Mapping[str, float] | None = None,
    worst_share: float | None = None,
    observer: str | None = None,
) -> Correction:
    """Solve the correction of a printer on a paper.

    Parameters
    ----------
    readings
        One or more, joined as evidence; M1 and M2 of one chart tell its brightener.
    previous
        The correction that they were printed through, for a next round.
    name, aim, scaling, neutral, toning, path, bits, picture, printer, paper, settings, points,
    tone_only, lights, weights, worst_share, observer
        As in `greyscale.correction.record.Options`, whose `space` is `path` here; None takes what
        the previous correction has, else the default there.
    """
    from greyscale.correction.correct import correct as solve
    from greyscale.correction.correct import options
    from greyscale.readings.lamps import find_lights
    from greyscale.readings.reading import Reading

    given = [readings] if isinstance(readings, Reading | str | Path) else readings
    asked = options(
        None if previous is None else _correction(previous),
        name=name,
        aim=aim,
        scaling=scaling,
        neutral=neutral,
        toning=toning,
        space=path,
        bits=bits,
        picture=_tones(picture),
        printer=printer,
        paper=paper,
        settings=settings,
        points=points,
        tone_only=tone_only,
        lights=None if lights is None else find_lights(_lights(lights)),
        weights=weights,
        worst_share=worst_share,
        observer=observer,
    )
    return solve(_readings(given), asked)


def write_correction(correction: Correction, folder: Path | str, *, pdf: bool = False) -> Path:
    """Write a correction's folder: curve, LUTs, JSON, figures, report; whole or not at all.

    Returns
    -------
    The folder.
    """
    from greyscale.correction.folder import whole_folder, write_files
    from greyscale.reporting.correction_report import correction_report
    from greyscale.reporting.html import write_report as files

    with whole_folder(folder, [source.source for source in correction.evidence.sources]) as fresh:
        luts = write_files(correction, fresh)
        files(fresh, correction_report(correction, luts), pdf=pdf)
    return Path(folder)


def read_correction(folder: Path | str) -> Correction:
    """Read a correction from its folder."""
    from greyscale.correction.folder import read_correction as read_one

    return read_one(folder)


def _correction(given: Correction | Path | str) -> Correction:
    return read_correction(given) if isinstance(given, str | Path) else given


def verify(
    reading: Reading | Path | str,
    correction: Correction | Path | str,
    *,
    tolerance: str | Tolerance = "exhibition",
    lights: str | Light | Sequence[str | Light] = (),
) -> Verification:
    """Judge a print made through a correction, which is given itself or by its folder.

    It is judged in the lights that the correction is for; `lights` are further ones to look under.
    """
    from greyscale.correction.verify import verify as judge
    from greyscale.readings.lamps import find_lights

    made = _correction(correction)
    further = find_lights(_lights(lights))
    return judge(_reading(reading), made, tolerance=tolerance, lights=further)


def apply(
    correction: Path | str,
    picture: Path | str,
    target: Path | str,
    *,
    encoding: str | None = None,
    space: Path | str | None = None,
    lut: str = "1d",
    seed: int = 1,
    force: bool = False,
    strip: str | None = None,
) -> Applied:
    """Send a picture through a correction into a new file.

    Parameters
    ----------
    correction
        Its folder.
    picture, target
        TIFF, PNG or JPEG.
    encoding, space, lut, seed, force, strip
        As in `greyscale.applying.apply.ApplyOptions`.
    """
    from greyscale.applying.apply import ApplyOptions, apply_correction

    folder = Path(correction)
    options = ApplyOptions(
        encoding=encoding,
        space=None if space is None else Path(space),
        lut=lut,
        seed=seed,
        force=force,
        strip=strip,
    )
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
        For what has no report.
    """
    from greyscale.reporting.html import write_report as files
    from greyscale.reporting.presenting import report

    return files(folder, report(result), pdf=pdf)
