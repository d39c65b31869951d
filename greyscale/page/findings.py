"""What the readings of a folder say, asked of the same functions as the commands ask.

Each answer is kept for as long as the reading is the same object: `papers` reads a file anew only
when it has changed.
"""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, ParamSpec, TypeAlias, TypeVar, cast

from greyscale.aims.tone import TONE_AIMS, Encoding, named_encoding
from greyscale.analysis.analyse import Analysis
from greyscale.analysis.comparison import Comparison
from greyscale.analysis.neutrality import SHOWN, to_be_named
from greyscale.applying.preview import Preview, SmallPicture
from greyscale.base.errors import BadInput
from greyscale.charts.picture_tones import PictureTones
from greyscale.checks.finding import CheckResult
from greyscale.colorimetry.lights import Light
from greyscale.correction.record import Correction
from greyscale.correction.verify import Verification
from greyscale.page.choices import Choices
from greyscale.page.papers import Made, Measured, Sheet
from greyscale.readings.layout import Layout, split_place
from greyscale.readings.reading import Reading
from greyscale.reporting.analysis_words import hues_of, sentences, without_casts
from greyscale.reporting.style import swatches
from greyscale.reporting.verification_report import verification_sentences

PATIENCE = 0.5
"""Seconds that a page waits for a verdict before it is shown without."""

LEAST_TIMES = 3
"""So many readings of one print tell how it dries."""

LONGEST = 1000
"""Pixels of the longer side of a picture that is looked at."""


def problem_words(error: BadInput, folder: Path) -> str:
    """What is wrong, with files as they are called in the folder, and no option of a command."""
    said = str(error).replace(f"{folder}/", "").removesuffix(", or --replace to replace it")
    return said if error.source is not None else said[:1].upper() + said[1:]


P = ParamSpec("P")
T = TypeVar("T")


def _kept(most: int) -> Callable[[Callable[P, T]], Callable[P, T | BadInput]]:
    """Keep the latest answers of a function; where there is none, return why, not raise it."""

    def keeping(find: Callable[P, T]) -> Callable[P, T | BadInput]:
        def found(*given: P.args, **named: P.kwargs) -> T | BadInput:
            try:
                return find(*given, **named)
            except BadInput as error:
                return error

        return cast(Callable[P, T | BadInput], functools.lru_cache(most)(found))

    return keeping


@_kept(512)
def _checked(reading: Reading, layout: Layout | None) -> CheckResult:
    from greyscale.checks.checking import check

    return check(reading, layout)


def checked(measured: Measured, sheet: Sheet | None) -> CheckResult | BadInput:
    """What `greyscale check` finds in a reading, or why it cannot be checked."""
    return _checked(measured.reading, None if sheet is None else sheet.layout)


def usable(measured: Measured, sheet: Sheet | None) -> bool:
    """Whether the commands would take a reading: it is not certainly misread."""
    found = checked(measured, sheet)
    return isinstance(found, CheckResult) and not found.certain


@functools.lru_cache(64)
def _glowing(one: Reading, beside: tuple[Reading, ...]) -> Reading:
    from greyscale.analysis.brighteners import with_glow

    joined, *apart = with_glow((one, *beside))
    return one if apart else joined


def glowing(measured: Measured, beside: Sequence[Measured]) -> Measured:
    """A reading with what glows in it, as others of the same print tell."""
    others = tuple(one.reading for one in beside)
    return replace(measured, reading=_glowing(measured.reading, others)) if others else measured


Lights: TypeAlias = tuple[str | Light, ...]


@_kept(256)
def _analysed(
    reading: Reading, lights: Lights, aim: str, neutral: str, made: Correction | None
) -> Analysis:
    from greyscale.analysis.analyse import analyse
    from greyscale.correction.verify import analyse_proof

    if made is None:
        return analyse(reading, lights=lights, aim=aim, neutral=neutral)
    return analyse_proof(reading, made, lights=lights)


def analysed(
    measured: Measured, lights: Lights, aim: str, neutral: str, made: Made | None
) -> Analysis | BadInput:
    """What `greyscale analyse` finds; of a proof, by the aims of the correction it was sent
    through."""
    correction = None if made is None else made.correction
    return _analysed(measured.reading, lights, aim, neutral, correction)


@_kept(64)
def _settled(
    readings: tuple[Reading, ...], hours: tuple[float, ...]
) -> tuple[float, float, float] | None:
    from greyscale.analysis.drying import drying

    return drying(readings, hours).settled


def dry_after(sheets: Sequence[Sheet]) -> timedelta | None:
    """How long this paper's prints dry, as `greyscale drying` finds it in the latest sheet that was
    marked as printed and measured at three times or more; the far end of what is credible.
    """
    for sheet in reversed(sheets):
        aged = [
            (one.reading, (read_at(one) - sheet.printed).total_seconds() / 3600)
            for one in sheet.readings
            if sheet.printed is not None and read_at(one) > sheet.printed and usable(one, sheet)
        ]
        if len(aged) >= LEAST_TIMES:
            settled = _settled(*(tuple(part) for part in zip(*aged, strict=True)))
            if isinstance(settled, tuple):
                return timedelta(hours=settled[2])
    return None


def read_at(measured: Measured) -> datetime:
    """When a reading was made, by the clock of the place: as it says, else by its file."""
    moment = measured.reading.created
    if moment is None:
        return datetime.fromtimestamp(measured.path.stat().st_mtime)
    return by_local_clock(moment)


def by_local_clock(moment: datetime) -> datetime:
    """A moment by the clock of the place."""
    return moment if moment.tzinfo is None else moment.astimezone().replace(tzinfo=None)


_fitting = threading.Lock()


@functools.lru_cache(8)
def _known(readings: tuple[Reading, ...]) -> Correction:
    from greyscale.correction.correct import correct

    return correct(readings)


@functools.lru_cache(8)
def _tones(picture: Path, state: object) -> PictureTones:
    from greyscale.charts.picture_tones import picture_tones

    return picture_tones(picture)


def _state(picture: Path) -> object:
    """What changes when a file does."""
    found = picture.stat()
    return found.st_mtime_ns, found.st_size


@_kept(64)
def _foretold(
    readings: tuple[Reading, ...], choices: Choices, picture: Path | None, state: object
) -> Correction:
    from greyscale.correction.correct import correct
    from greyscale.correction.record import Options
    from greyscale.readings.lamps import find_light

    weighted = choices.weighted
    with _fitting:
        known = _known(readings)
    asked = Options(
        aim=choices.aim,
        neutral=choices.neutral,
        toning=choices.toning or None,
        lights=tuple(find_light(name) for name, _ in weighted),
        weights=dict(weighted) or None,
        picture=None if picture is None else _tones(picture, state),
    )
    return correct(readings, asked, known.model)


def foretold(
    readings: tuple[Reading, ...], choices: Choices, folder: Path | None = None
) -> Correction | BadInput:
    """What `greyscale correct` would promise by some choices; of one printer quickly after the
    first time, and whatever light it is looked at under.

    The picture that they name, if any, lies in `folder`.
    """
    picture = folder / choices.picture if folder is not None and choices.picture else None
    state = None if picture is None else _state(picture)
    return _foretold(readings, replace(choices, light="", encoding=""), picture, state)


@functools.lru_cache(4)
def _small(
    path: Path, state: object, encoding: str, stated: str | None, longest: int, advance: None
) -> SmallPicture:
    from greyscale.applying.preview import small_picture

    return small_picture(path, named_encoding(encoding), stated, longest, advance)


@_kept(8)
def _seen(
    reading: Reading, correction: Correction | None, picture: Path, state: object, light: str,
    encoding: str | None,
) -> Preview:  # fmt: skip
    from greyscale.applying.preview import PreviewOptions, preview, small_picture
    from greyscale.readings.lamps import find_light

    def made_small(path: Path, wanted: Encoding, *how: Any) -> SmallPicture:
        # Of an aim by name it is the same whatever the correction.
        if TONE_AIMS.get(wanted.name) is None:
            return small_picture(path, wanted, *how)
        return _small(path, state, wanted.name, *how)

    options = PreviewOptions(encoding=encoding, longest=LONGEST)
    light_seen = find_light(light)
    return preview(reading, picture, light_seen, correction, options, made_small=made_small)


def seen(
    measured: Measured, correction: Correction | None, picture: Path, light: str, encoding: str
) -> Preview | BadInput:
    """What `greyscale preview` shows, or why it cannot."""
    return _seen(measured.reading, correction, picture, _state(picture), light, encoding or None)


_ENCODED = "srgb for a picture from a camera or the web, lstar if it was made for this"


def why_not_seen(error: BadInput, folder: Path) -> str:
    """Why a picture is not shown; what is an option of the command is a field here."""
    said, asks, _ = problem_words(error, folder).partition("; give --encoding")
    return f"{said}. Choose its encoding below: {_ENCODED}." if asks else said


@_kept(32)
def compared(
    readings: tuple[tuple[str, Reading], ...],
    lights: tuple[str, ...],
    as_printed: bool,
    weights: tuple[tuple[str, float], ...] = (),
) -> Comparison:
    """What `greyscale compare` finds, each reading called by its paper's name; or why it cannot."""
    from greyscale.analysis.comparison import ComparisonOptions
    from greyscale.correction.corrected_papers import compare_papers
    from greyscale.readings.lamps import find_light

    named = [replace(one, name=name, paper=name) for name, one in readings]
    options = ComparisonOptions(
        lights=tuple(find_light(one) for one in lights), weights=dict(weights) or None
    )
    return compare_papers(named, options, as_printed=as_printed)


_judges = ThreadPoolExecutor(1, thread_name_prefix="judging")


@functools.lru_cache(64)
def _judging(reading: Reading, correction: Correction) -> Future[Verification]:
    from greyscale.correction.verify import verify

    return _judges.submit(verify, reading, correction)


def verified(
    measured: Measured, made: Made, patience: float = PATIENCE
) -> Verification | BadInput | None:
    """What `greyscale verify` finds; None while it is not known yet, after so many seconds.

    Whether another round pays may take some to find out.
    """
    try:
        return _judging(measured.reading, made.correction).result(patience)
    except BadInput as error:
        return error
    except TimeoutError:
        return None


# The one short sentence that stands first, and the sentences with the numbers after it.

_SIDES = {"pass": "within", "fail": "outside"}
_PERHAPS = "perhaps within"


@dataclass(frozen=True)
class Verdict:
    """What matters, and what is behind it."""

    first: str
    after: tuple[str, ...]


def of_analysis(analysis: Analysis) -> Verdict:
    """Whether a print is neutral, and would do."""
    neutrality = analysis.neutrality
    named, why = to_be_named(neutrality.casts), ""
    if named:
        sure = [cast for cast in named if cast.verdict == SHOWN]
        casts = sure or named
        what = f"{hues_of(casts)} cast{'s' if len(casts) > 1 else ''}"
        what = what if sure else f"perhaps {what}"
    else:
        what, _, why = without_casts(analysis).partition(": ")
    side = _SIDES.get(analysis.verdict, _PERHAPS)
    which = ""
    if neutrality.verdict == "pass" and analysis.tone.verdict == "fail":
        which = " in tone"
    first = f"{what[:1].upper()}{what[1:]}: {side} the {neutrality.tolerance} tolerance{which}."
    behind = [f"{why[:1].upper()}{why[1:]}."] if why else []
    return Verdict(first, (*behind, *sentences(analysis), *analysis.remarks))


def of_verification(verification: Verification) -> Verdict:
    """Whether a correction worked; a doubt about what was printed comes before all."""
    said = verification_sentences(verification)
    if verification.accidents:
        return Verdict(said[0], said[1:])
    first, _, numbers = said[0].partition(": ")
    after = verification.after
    graded = f"{first}: {_SIDES.get(after.verdict, _PERHAPS)} the {after.neutrality.tolerance}"
    return Verdict(f"{graded} tolerance.", (f"{numbers[:1].upper()}{numbers[1:]}", *said[1:]))


def misread(check: CheckResult) -> Verdict:
    """What is certainly wrong with a reading."""
    first = check.findings[0]
    more = f", and {len(check.findings) - 1} more" if len(check.findings) > 1 else ""
    return Verdict(f"Certainly misread: {first.kind}, {first.where}{more}.", check.remarks)


# A sheet as it lies before one, with what the checks found drawn in its place.


@dataclass(frozen=True)
class Square:
    """A patch: its column and row on the sheet, its measured colour, and whether it was found."""

    column: int
    row: int
    colour: str
    found: bool
    place: str


@dataclass(frozen=True)
class SheetMap:
    """All patches of a sheet, strip by strip from the top."""

    squares: tuple[Square, ...]
    strips: tuple[str, ...]
    columns: int


def sheet_map(reading: Reading, sheet: Sheet | None, check: CheckResult) -> SheetMap | None:
    """Draw where the findings lie; None where nobody knows where the patches are."""
    places = dict(zip(reading.ids, reading.places or (), strict=False))
    if sheet is not None:
        places |= dict(zip(sheet.layout.ids, sheet.layout.places, strict=True))
    found = {name for finding in check.findings for name in (*finding.ids, *finding.lost)}
    read = {
        name: (*place, swatch.colour)
        for name, swatch in zip(reading.ids, swatches(reading.lab), strict=True)
        if (place := split_place(places.get(name, "")))
    }
    if not read:
        return None
    strips = sorted({strip for strip, _, _ in read.values()}, key=lambda one: (len(one), one))
    squares = tuple(
        Square(number - 1, strips.index(strip), colour, name in found, f"{strip}{number}")
        for name, (strip, number, colour) in read.items()
    )
    return SheetMap(squares, tuple(strips), 1 + max(one.column for one in squares))
