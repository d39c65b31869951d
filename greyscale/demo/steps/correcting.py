"""The demo's correction: solved from the readings, proved by a print, taken another round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from greyscale.applying.preview import preview_of_picture
from greyscale.charts.chart import make_chart, write_chart
from greyscale.charts.picture_tones import picture_tones
from greyscale.correction.apply_curve import chart_through
from greyscale.correction.correct import correct
from greyscale.correction.folder import read_correction, write_files
from greyscale.correction.record import Correction
from greyscale.correction.verify import Verification, verify
from greyscale.correction.whole_folder import whole_folder
from greyscale.correction.wishes import options
from greyscale.demo.steps.charting import FOLLOW_UP_READING
from greyscale.demo.steps.photograph import PICTURE, write_picture
from greyscale.demo.workshop import READING, Step, Told, Workshop, measured_at
from greyscale.readings.formats import read
from greyscale.reporting.correction_report import write_correction_report
from greyscale.reporting.correction_words import correction_sentences
from greyscale.reporting.verification_report import write_verification_report
from greyscale.reporting.verification_words import verification_sentences

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
    paths = [workshop.path(reading) for reading in readings]
    given = [read(path) for path in paths]
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
    with whole_folder(workshop.path(folder), paths) as fresh:
        luts = write_files(correction, fresh)
        write_correction_report(
            correction, luts, fresh, command=command, tones=tones, preview=preview
        )
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
    path = workshop.path(reading_name)
    verification = verify(read(path), read_correction(workshop.path(folder)))
    write_verification_report(verification, workshop.path(report), [path], command=commands[1])
    return verification, commands, (*charts, reading_name, f"{report}/report.html")


def _correct(workshop: Workshop) -> Told:
    write_picture(workshop)
    command = (
        f"greyscale correct {READING} {FOLLOW_UP_READING} --name '{NAME}' --for-image {PICTURE} "
        f"-o {FIRST}"
    )
    correction = _solve(
        workshop, [READING, FOLLOW_UP_READING], FIRST, command, name=NAME, picture=PICTURE
    )
    return Told(
        "Both readings together say what to send for each tone, most accurately for the tones of "
        "the photograph that is to be printed. The correction is written as a curve, as LUTs, "
        "and with everything needed to go on from it; its report shows the photograph before "
        "and after:",
        details=correction_sentences(correction),
        commands=(command,),
        files=(PICTURE, f"{FIRST}/correction.json", f"{FIRST}/report.html"),
    )


def _verify(workshop: Workshop) -> Told:
    verification, commands, files = _prove(
        workshop, FIRST, PROOF, near_neutral=True, seed=3, hours=72.0
    )
    return Told(
        "The same kind of chart is printed again, now through the correction, dried and measured:",
        details=verification_sentences(verification),
        commands=commands,
        files=files,
    )


def _next_round(workshop: Workshop) -> Told:
    command = f"greyscale correct {_reading_of(PROOF)} --previous {FIRST} -o {SECOND}"
    _solve(workshop, [_reading_of(PROOF)], SECOND, command, previous=FIRST)
    verification, commands, files = _prove(
        workshop, SECOND, SECOND_PROOF, near_neutral=False, seed=4, hours=96.0
    )
    return Told(
        "One more round, to show how it is done. The proof is evidence as well: with it the next "
        "round makes one new curve from the original, not a second on top of the first. A plain "
        "ramp, printed through that:",
        details=verification_sentences(verification),
        commands=(command, *commands),
        files=(f"{SECOND}/correction.json", *files),
    )


def _tone(workshop: Workshop) -> Told:
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
    return Told(
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
