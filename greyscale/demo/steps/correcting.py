"""The demo's correction: solved from the readings, proved by a print, taken another round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, neutral_aim
from greyscale.applying.apply import ApplyOptions, apply_correction
from greyscale.applying.preview import preview_of_picture
from greyscale.base.files import whole_file
from greyscale.charts.chart import make_chart, write_chart
from greyscale.charts.picture_tones import picture_tones
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.display import lab_to_srgb
from greyscale.correction.charts import chart_through
from greyscale.correction.correct import correct, options
from greyscale.correction.folder import read_correction, whole_folder, write_files
from greyscale.correction.record import Correction
from greyscale.correction.verify import Verification, verify
from greyscale.demo.picture import lighthouse_picture
from greyscale.demo.printer import SimulatedPrinter
from greyscale.demo.steps.measuring import FOLLOW_UP_READING
from greyscale.demo.workshop import READING, Step, StepResult, Workshop, measured_at
from greyscale.reporting.apply_report import apply_report
from greyscale.reporting.correction_report import correction_report, correction_sentences
from greyscale.reporting.html import write_report
from greyscale.reporting.next_step import after_correction, after_verification
from greyscale.reporting.verification_report import verification_report, verification_sentences

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
    wanted = options(
        before,
        name=name,
        toning=toning,
        picture=tones,
    )
    correction = correct(given, wanted)
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
    charts = [path.name for path in write_chart(made, workshop.path(chart))]
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
    command = (
        f"greyscale correct {READING} {FOLLOW_UP_READING} --name '{NAME}' --for-image {PICTURE} "
        f"-o {FIRST}"
    )
    correction = _solve(
        workshop, [READING, FOLLOW_UP_READING], FIRST, command, name=NAME, picture=PICTURE
    )
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
        f"greyscale correct {READING} {FOLLOW_UP_READING} --name '{NAME}, warm' "
        f"--toning {TONING} -o {TONED}"
    )
    correction = _solve(
        workshop,
        [READING, FOLLOW_UP_READING],
        TONED,
        command,
        name=f"{NAME}, warm",
        toning=TONING,
    )
    return StepResult(
        f"For the last room the prints are to be {TONING}, on purpose. The readings are the "
        "same, only the aim differs:",
        details=correction_sentences(correction)[:1],
        commands=(command,),
        files=(f"{TONED}/correction.json", f"{TONED}/report.html"),
    )


CORRECT = Step("Correct it", _correct)
VERIFY = Step("Print through the correction: did it work?", _verify)
NEXT_ROUND = Step("Another round", _next_round)
TONE = Step("A toned variant", _tone)


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

    Parameters
    ----------
    lab
        Shape (..., 3); its lightest tone is taken for the paper, its darkest for black.
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


SEND_PICTURE = Step("Send a photograph through it", _send_picture)
