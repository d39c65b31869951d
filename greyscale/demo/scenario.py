"""The demo: a small print workshop readies a touring exhibition, from chart to report.

A further step is a function and a line in `STEPS`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, neutral_aim
from greyscale.analysis.analyse import analyse
from greyscale.analysis.comparison import ComparisonOptions
from greyscale.analysis.drying import drying
from greyscale.applying.apply import ApplyOptions, apply_correction
from greyscale.applying.preview import preview_of_picture
from greyscale.base.files import whole_file, write_whole
from greyscale.charts.chart import Chart, make_chart, write_chart
from greyscale.charts.picture_tones import picture_tones
from greyscale.checks.checking import check
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.display import lab_to_srgb
from greyscale.correction.charts import chart_through, choose_patches
from greyscale.correction.correct import correct, options
from greyscale.correction.corrected_papers import compare_papers
from greyscale.correction.folder import read_correction, whole_folder, write_files
from greyscale.correction.record import Correction
from greyscale.correction.verify import Verification, verify
from greyscale.demo.picture import lighthouse_picture
from greyscale.demo.printer import SimulatedPrinter, demo_printer
from greyscale.demo.workshop import (
    FIRST_PRINT,
    READING,
    Step,
    StepResult,
    Workshop,
    measured_at,
    strip_read_backwards,
)
from greyscale.readings.iso28178 import write
from greyscale.readings.lamps import find_light
from greyscale.readings.layout import Layout, read_layout
from greyscale.reporting.analysis_report import analysis_report
from greyscale.reporting.analysis_words import summary
from greyscale.reporting.comparison_report import comparison_report, comparison_sentences
from greyscale.reporting.correction_report import correction_report, correction_sentences
from greyscale.reporting.drying_report import drying_report, drying_sentences
from greyscale.reporting.html import write_report
from greyscale.reporting.made_report import apply_report
from greyscale.reporting.next_step import TypedComparison, after_correction, after_verification
from greyscale.reporting.verification_report import verification_report, verification_sentences

# The demo's charts: a starting chart, and one that follows up what it measured.

CHART, FOLLOW_UP = "chart", "follow-up"
FOLLOW_UP_READING = "follow-up-reading.txt"


def _write(workshop: Workshop, chart: Chart) -> tuple[str, ...]:
    """Write a chart under its name; give the files' names."""
    return tuple(path.name for path in write_chart(chart, workshop.path(chart.name)))


def _make_chart(workshop: Workshop) -> StepResult:
    chart = make_chart(CHART, near_neutral=True, date=FIRST_PRINT.date())
    return StepResult(
        f"{chart.summary[0]}. The patches beside the greys show how the printer answers when one "
        "channel changes: they are what the correction learns from.",
        commands=(f"greyscale chart -o {CHART} --near-neutral",),
        files=_write(workshop, chart),
    )


def _follow_up(workshop: Workshop) -> StepResult:
    first = workshop.read(READING)
    chart = make_chart(FOLLOW_UP, after=first, date=FIRST_PRINT.date())
    files = _write(workshop, chart)
    reading = workshop.print_and_measure(FOLLOW_UP, name="follow-up chart", seed=2, hours=48.0)
    workshop.write_reading(reading, FOLLOW_UP_READING)
    return StepResult(
        f"{chart.summary[0]}, printed and measured like the first. They go where the first "
        "reading leaves most uncertain:",
        details=chart.why,
        commands=(f"greyscale chart -o {FOLLOW_UP} --after {READING}",),
        files=(*files, FOLLOW_UP_READING),
    )


# The demo's printing and measuring: here the simulated printer and instrument stand in.

FIRST_READING = "first-reading.txt"
MISREAD_STRIP = "C"


def _print_and_measure(workshop: Workshop) -> StepResult:
    reading = workshop.print_and_measure(CHART, name="starting chart", seed=1, hours=24.0)
    workshop.write_reading(strip_read_backwards(reading, MISREAD_STRIP), FIRST_READING)
    return StepResult(
        "The chart goes to the printer without colour management, dries for a day and is measured "
        "strip by strip, spectra, M1. (In the demo the printer and the instrument are "
        f"simulated, and so is a slip of the hand: strip {MISREAD_STRIP} is drawn through from "
        "its wrong end, and nobody notices.)",
        files=(FIRST_READING,),
    )


# The demo's check of a reading: a strip read backwards, found and put right.


def _check(workshop: Workshop) -> StepResult:
    layout = read_layout(workshop.path(f"{CHART}.txt"))
    result = check(workshop.read(FIRST_READING), layout)
    if result.repaired is None:
        raise RuntimeError("the check of the demo's first reading found nothing to repair")
    write(result.repaired, workshop.path(READING))
    return StepResult(
        "Every patch is compared with its neighbours in tone and its repeats elsewhere on the "
        "page. What is wrong, and can be put right without guessing a value, is put right:",
        details=tuple(
            f"{finding.kind}, {finding.where} ({finding.certainty}): {finding.found}"
            for finding in result.findings
        ),
        commands=(f"greyscale check {FIRST_READING} --layout {CHART}.txt --repaired {READING}",),
        files=(READING,),
    )


# The demo's drying: how long a print on this paper must lie before it can be measured.

RAMP = "drying-ramp"
TONES = 13
HOURS = (0.2, 0.7, 1.5, 3.0, 6.0, 24.0, 48.0)
DRYING = "drying"


def reading_at(hours: float) -> str:
    """Name the file of the reading so many hours after printing."""
    return f"{RAMP}-{hours:g}h.txt"


def _follow_drying(workshop: Workshop) -> StepResult:
    chart = make_chart(RAMP, tones=TONES, date=FIRST_PRINT.date(), code=False)
    charts = _write(workshop, chart)
    sheet = workshop.sheet(RAMP)
    for seed, hours in enumerate(HOURS, start=50):
        reading = workshop.print_and_measure(
            sheet, name=f"ramp after {hours:g} h", seed=seed, hours=hours, dried=hours
        )
        # The clock starts when the print leaves the printer, not with the first reading.
        workshop.write_reading(replace(reading, fields={"HOURS": f"{hours:g}"}), reading_at(hours))
    names = [reading_at(hours) for hours in HOURS]
    command = f"greyscale drying {' '.join(names)} -o {DRYING}"
    found = drying([workshop.read(name) for name in names])
    write_report(workshop.path(DRYING), drying_report(found, command))
    return StepResult(
        "Fresh ink is darker than dry ink. A small ramp, measured again and again for two days, "
        "says how long a print on this paper has to dry:",
        details=tuple(drying_sentences(found)),
        commands=(f"greyscale chart -o {RAMP} --tones {TONES} --no-code", command),
        files=(*charts, *names, f"{DRYING}/report.html"),
    )


# The look at the print.

ANALYSIS = "analysis"


def _analyse(workshop: Workshop) -> StepResult:
    command = f"greyscale analyse {READING} -o {ANALYSIS}"
    analysis = analyse(workshop.read(READING))
    write_report(workshop.path(ANALYSIS), analysis_report([analysis], command))
    return StepResult(summary(analysis), commands=(command,), files=(f"{ANALYSIS}/report.html",))


# The photograph of the exhibition that the demo's correction is sharpened for.

PICTURE = "lighthouse.tif"
WIDTH = 900
"""Pixels."""


def write_picture(workshop: Workshop) -> None:
    """Write the photograph into the job's folder: grey, 16 bits, without a profile."""
    import tifffile

    codes = np.round(lighthouse_picture(WIDTH) * 65535).astype(np.uint16)
    with whole_file(workshop.path(PICTURE)) as temporary:
        tifffile.imwrite(
            temporary,
            codes,
            photometric="minisblack",
            compression="deflate",
            metadata=None,
            # A photograph says nothing of what wrote it, and its corrected copy then neither.
            software=False,
        )


NAME = "Harbour light"
BOTH = (READING, FOLLOW_UP_READING)
FIRST, SECOND, TONED = "harbour-light", "harbour-light-2", "harbour-light-warm"
PROOF, SECOND_PROOF = "proof", "proof-2"
TONING = "yellow-brown"


def _reading_of(chart: str) -> str:
    return f"{chart}-reading.txt"


def _solve(
    workshop: Workshop,
    readings: Sequence[str],
    folder: str,
    command: str,
    *,
    previous: str | None = None,
    name: str | None = None,
    toning: str | None = None,
    picture: str | None = None,
) -> Correction:
    """Do what `greyscale correct` does."""
    before = None if previous is None else read_correction(workshop.path(previous))
    given = [workshop.read(reading) for reading in readings]
    image = None if picture is None else workshop.path(picture)
    tones = None if image is None else replace(picture_tones(image), source=str(picture))
    correction = correct(given, options(before, name=name, toning=toning, picture=tones))
    preview = None if image is None else preview_of_picture(correction, given[0], image)
    step = after_correction(folder)
    with whole_folder(workshop.path(folder), map(workshop.path, readings)) as fresh:
        luts = write_files(correction, fresh)
        write_report(fresh, correction_report(correction, luts, command, tones, preview, step))
    return correction


def _prove(
    workshop: Workshop, folder: str, chart: str, *, near_neutral: bool, seed: int, hours: float
) -> tuple[Verification, tuple[str, ...], tuple[str, ...]]:
    """Print a chart through a correction, measure it, and judge it.

    Returns
    -------
    The judgement, the commands that do the same, the files written.
    """
    reading_name, report = _reading_of(chart), f"{chart}-report"
    made = make_chart(
        chart,
        near_neutral=near_neutral,
        through=chart_through(workshop.path(folder)),
        date=measured_at(hours - 24.0).date(),
    )
    charts = _write(workshop, made)
    reading = workshop.print_and_measure(chart, name=chart, seed=seed, hours=hours)
    workshop.write_reading(reading, reading_name)
    beside = " --near-neutral" if near_neutral else ""
    commands = (
        f"greyscale chart -o {chart}{beside} --through {folder}",
        f"greyscale verify {reading_name} --correction {folder} -o {report}",
    )
    verification = verify(workshop.read(reading_name), read_correction(workshop.path(folder)))
    step = after_verification(verification, folder)
    write_report(workshop.path(report), verification_report(verification, commands[1], step))
    return verification, commands, (*charts, reading_name, f"{report}/report.html")


def _correct(workshop: Workshop) -> StepResult:
    write_picture(workshop)
    command = f"greyscale correct {' '.join(BOTH)} --name '{NAME}' --for-image {PICTURE} -o {FIRST}"
    correction = _solve(workshop, BOTH, FIRST, command, name=NAME, picture=PICTURE)
    return StepResult(
        "Both readings together say what to send for each tone, most accurately for the tones of "
        "the photograph that is to be printed. The correction is written as a curve, as LUTs, "
        "and with everything needed to go on from it; its report shows the photograph before "
        "and after:",
        details=correction_sentences(correction),
        commands=(command,),
        files=(PICTURE, f"{FIRST}/correction.json", f"{FIRST}/report.html"),
    )


def _verify(workshop: Workshop) -> StepResult:
    verification, commands, files = _prove(
        workshop, FIRST, PROOF, near_neutral=True, seed=3, hours=72.0
    )
    return StepResult(
        "The same kind of chart is printed again, now through the correction, dried and measured:",
        details=verification_sentences(verification),
        commands=commands,
        files=files,
    )


def _next_round(workshop: Workshop) -> StepResult:
    command = f"greyscale correct {_reading_of(PROOF)} --previous {FIRST} -o {SECOND}"
    _solve(workshop, [_reading_of(PROOF)], SECOND, command, previous=FIRST)
    verification, commands, files = _prove(
        workshop, SECOND, SECOND_PROOF, near_neutral=False, seed=4, hours=96.0
    )
    return StepResult(
        "One more round, to show how it is done. The proof is evidence as well: with it the next "
        "round makes one new curve from the original, not a second on top of the first. A plain "
        "ramp, printed through that:",
        details=verification_sentences(verification),
        commands=(command, *commands),
        files=(f"{SECOND}/correction.json", *files),
    )


def _tone(workshop: Workshop) -> StepResult:
    command = (
        f"greyscale correct {' '.join(BOTH)} --name '{NAME}, warm' --toning {TONING} -o {TONED}"
    )
    correction = _solve(workshop, BOTH, TONED, command, name=f"{NAME}, warm", toning=TONING)
    return StepResult(
        f"For the last room the prints are to be {TONING}, on purpose. The readings are the "
        "same, only the aim differs:",
        details=correction_sentences(correction)[:1],
        commands=(command,),
        files=(f"{TONED}/correction.json", f"{TONED}/report.html"),
    )


# The demo's picture: how it prints as it is, and through the correction.

CORRECTED = "lighthouse-corrected.tif"
BEFORE_AFTER = "lighthouse-before-after.png"

_GAP = 12
_ENLARGED = 3.0


def printed(path: Path, printer: SimulatedPrinter) -> Array:
    """Return the CIELAB of a picture's print, every other pixel, shape (height, width, 3)."""
    import tifffile

    values = np.asarray(tifffile.imread(path), dtype=np.float64)[::2, ::2] / 65535.0
    if values.ndim == 2:
        values = np.repeat(values[..., np.newaxis], 3, axis=-1)
    return np.asarray(printer.lab(values.reshape(-1, 3)).reshape(values.shape))


def _write_pair(left: Array, right: Array, path: Path) -> None:
    """Write two prints side by side as they look on a calibrated screen; below, casts enlarged."""
    from PIL import Image

    rows = []
    for enlarged in (1.0, _ENLARGED):
        pair = [lab_to_srgb(cast_enlarged(lab, enlarged))[0] for lab in (left, right)]
        gap = np.ones((left.shape[0], _GAP, 3))
        rows.append(np.concatenate([pair[0], gap, pair[1]], axis=1))
    between = np.ones((_GAP, rows[0].shape[1], 3))
    sheet = np.concatenate([rows[0], between, rows[1]], axis=0)
    with whole_file(path) as temporary:
        Image.fromarray(np.round(sheet * 255).astype(np.uint8)).save(temporary, format="PNG")


def cast_enlarged(lab: Array, gain: float) -> Array:
    """Enlarge the distance of a print's a*, b* from the neutral aim; L* stays.

    Of lab, (..., 3), the lightest tone is taken for the paper, the darkest for black.
    """
    tones = lab.reshape(-1, 3)
    paper, black = tones[np.argmax(tones[:, 0])], tones[np.argmin(tones[:, 0])]
    aim = neutral_aim(DEFAULT_NEUTRAL_AIM, lab[..., 0], paper, black)
    return np.concatenate([lab[..., :1], aim + gain * (lab[..., 1:] - aim)], axis=-1)


def _send_picture(workshop: Workshop) -> StepResult:
    picture, corrected = workshop.path(PICTURE), workshop.path(CORRECTED)
    folder = workshop.path(FIRST)
    applied = apply_correction(
        read_correction(folder), folder, picture, corrected, ApplyOptions(encoding="lstar")
    )
    before, after = (printed(path, workshop.printer) for path in (picture, corrected))
    _write_pair(before, after, workshop.path(BEFORE_AFTER))
    return StepResult(
        "One photograph of the exhibition goes through the correction. "
        f"{BEFORE_AFTER} shows it as it printed at first and as it prints now; below, every cast "
        f"is made {_ENLARGED:g} times as strong, so that a screen shows it.",
        details=apply_report(applied).lead,
        commands=(f"greyscale apply {FIRST} {PICTURE} --encoding lstar -o {CORRECTED}",),
        files=(CORRECTED, BEFORE_AFTER),
    )


# The demo's choice of a paper: three of them under the lights of the halls to come.

PAPERS = ("cotton rag", "baryta", "unbleached cotton")
CONDITIONS = ("M1", "M2")
PAPER_CHART, PATCHES = "paper-chart", 48
REPORT = "papers"

COOL_LED = "cool-led.csv"
LIGHTS = (
    ("window daylight", "daylight-5500K"),
    ("halogen", "blackbody-3000K"),
    ("warm LED", "LED-B1"),
    ("cool LED with a blue peak, as measured in the hall", COOL_LED),
)
"""What hangs in the halls, and how it is called at the command line."""


def cool_led() -> tuple[Array, Array]:
    """Invent a cool white LED: a narrow blue peak, a broad yellow one; nm, relative power."""
    nm = np.arange(360.0, 781.0, 2.0)
    blue = np.exp(-0.5 * ((nm - 447) / np.where(nm < 447, 8.5, 10.5)) ** 2)
    yellow = 0.46 * np.exp(-0.5 * ((nm - 556) / np.where(nm < 556, 42.0, 62.0)) ** 2)
    return nm, blue + yellow


def _compare(workshop: Workshop) -> StepResult:
    nm, power = cool_led()
    rows = "\n".join(f"{w:.0f},{p:.5f}" for w, p in zip(nm, power, strict=True))
    write_whole(workshop.path(COOL_LED), f"wavelength (nm),relative power\n{rows}\n")
    chart = make_chart(
        PAPER_CHART, chosen=choose_patches(PATCHES), code=False, date=measured_at(6.0).date()
    )
    files = _measure_papers(workshop, chart.layout)
    # The lamp's file is read from the folder, and called by its own name like the others.
    lights = tuple(
        find_light(str(workshop.path(name)) if name == COOL_LED else name) for _, name in LIGHTS
    )
    readings = [workshop.read(name) for name in files]
    comparison = compare_papers(readings, ComparisonOptions(lights=lights))
    options = [word for _, name in LIGHTS for word in ("--light", name)]
    command = f"greyscale compare {' '.join([*files, *options])} -o {REPORT}"
    typed = TypedComparison(tuple(options), tuple(files))
    write_report(workshop.path(REPORT), comparison_report(comparison, command, typed))
    return StepResult(
        f"A small chart, {PATCHES} patches where they tell most, is printed on each paper and read "
        "in M1 and in M2. " + " ".join(comparison_sentences(comparison)),
        details=tuple(f"{name}: {hall}" for hall, name in LIGHTS),
        commands=(f"greyscale chart -o {PAPER_CHART} --patches {PATCHES}", command),
        files=(COOL_LED, *_write(workshop, chart), *files, f"{REPORT}/report.html"),
    )


def _measure_papers(workshop: Workshop, chart: Layout) -> tuple[str, ...]:
    """Print the chart on each paper, and read it in M1 and M2."""
    files = []
    for order, paper in enumerate(PAPERS):
        for condition in CONDITIONS:
            reading = demo_printer(paper).measure(
                chart.ids,
                chart.device,
                places=chart.places,
                name=f"{paper}, {condition}",
                condition=condition,
                seed=20 + order,
                created=measured_at(30.0),
            )
            name = f"{paper.replace(' ', '-')}-{condition.lower()}.txt"
            workshop.write_reading(reading, name)
            files.append(name)
    return tuple(files)


# The whole job.

STORY = (
    "A small workshop prints photographs of lighthouses and harbours for a touring exhibition: "
    "black and white, six-ink printer, cotton rag. The printer and the instrument are simulated; "
    "everything else is done as it would be with yours."
)

PAPER = "cotton rag"

STEPS: tuple[Step, ...] = (
    Step("Make a chart of greys to print", _make_chart),
    Step("How long must a print dry?", _follow_drying),
    Step("Print it, let it dry, measure it", _print_and_measure),
    Step("Check the reading before believing it", _check),
    Step("See where the print departs from neutral", _analyse),
    Step("Follow up: more patches where they tell most", _follow_up),
    Step("Correct it", _correct),
    Step("Print through the correction: did it work?", _verify),
    Step("Another round", _next_round),
    Step("Send a photograph through it", _send_picture),
    Step("A toned variant", _tone),
    Step("Choose a paper for the halls' light", _compare),
)
"""The steps, in the order of the work."""


def run(
    folder: Path | str,
    *,
    steps: Sequence[Step] = STEPS,
    before: Callable[[int, Step], None] = lambda number, step: None,
    after: Callable[[Step, StepResult], None] = lambda step, told: None,
) -> tuple[StepResult, ...]:
    """Do the whole job in a folder.

    Parameters
    ----------
    folder
        Made if it is missing; files of an earlier run are replaced.
    steps
        Which steps to take, in order; later ones need what earlier ones wrote.
    before, after
        Called before each step with its number and the step, after it with what it told.

    Returns
    -------
    What each step told.

    Raises
    ------
    BadInput
        If the folder cannot be written.
    """
    workshop = Workshop(Path(folder), demo_printer(PAPER))
    tellings = []
    for number, step in enumerate(steps, start=1):
        before(number, step)
        told = step.run(workshop)
        after(step, told)
        tellings.append(told)
    return tuple(tellings)
