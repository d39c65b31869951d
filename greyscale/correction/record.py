"""The record of a correction: what it was made from, what was asked, what came of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from greyscale.base.presented import Presented
from greyscale.base.rests_on import REGISTER, Support, supports
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.correction.curve import CURVE_POINTS, Curve
from greyscale.correction.expectation import Expectation
from greyscale.correction.limits import Limit
from greyscale.printer.answers import Answers

if TYPE_CHECKING:
    from greyscale.charts.picture_tones import PictureTones
    from greyscale.printer.model import PrinterModel


@dataclass(frozen=True)
class Source:
    """One reading that went into the evidence.

    Attributes
    ----------
    name, source
        The reading's name, and its file's path as it was given.
    patches
        How many patches were measured, repeats included.
    round
        How many corrections lay between chart and printer: 0 for the uncorrected print, 1 for
        the first correction, and so on. (Corrections are never stacked: each is applied alone.)
    condition, backing, observer, instrument, printer, paper, settings, created
        As the reading tells, else None.
    sha256
        Of the reading's file, in hexadecimal digits; None where there was no file.
    """

    name: str
    source: str
    patches: int
    round: int
    condition: str | None = None
    backing: str | None = None
    observer: str = "2"
    instrument: str | None = None
    printer: str | None = None
    paper: str | None = None
    settings: str | None = None
    created: datetime | None = None
    sha256: str | None = None


@dataclass(frozen=True, eq=False)
class Evidence(Answers):
    """Everything measured of one printer and paper, and which reading told it.

    Attributes
    ----------
    origin
        Shape (n,): index into `sources`.
    sources
        The readings.
    """

    origin: Indices
    sources: tuple[Source, ...]


@dataclass(frozen=True, eq=False)
class Options:
    """What is asked of a correction.

    Attributes
    ----------
    name
        What to call it; None takes the first reading's name.
    aim, scaling
        Tone aim (a name, or a CSV path) and how it is scaled to the print's own range.
    neutral
        "fading", "adapting", "paper" or "absolute".
    toning
        A preset's name or the path of a CSV table; None for a neutral print.
    path
        Where the chart went in: "device", or the name of a working space.
    bits
        8 where chart and picture reach the printer as 8-bit values, else 16.
    previous
        The correction that the given readings were printed through; None for the first round.
    picture
        The tones of a picture to print with it, which then count more; or None.
    printer, paper, settings
        For the record; None takes what the readings tell.
    points
        Points of the curve, 1024 to 4096.
    tone_only
        Whether to send equal R, G, B, which rights the tone scale and leaves the tint.
    """

    name: str | None = None
    aim: str = "lstar"
    scaling: str = "linear"
    neutral: str = "fading"
    toning: str | None = None
    path: str = "device"
    bits: int = 16
    previous: Correction | None = None
    picture: PictureTones | None = None
    printer: str | None = None
    paper: str | None = None
    settings: str | None = None
    points: int = CURVE_POINTS
    tone_only: bool = False


@dataclass(frozen=True, eq=False, repr=False)
class Correction(Presented):
    """A solved per-tone compensation, with everything needed to write it and to go on from it.

    Attributes
    ----------
    name
        What it is called; travels into every file.
    created
        When it was made.
    round
        1 for a first correction, 2 for one that follows another, and so on. Its curve always
        starts from the uncorrected printer.
    follows
        Name of the correction it follows, or None.
    aim, scaling, neutral, toning, path, bits
        As asked (see `Options`).
    picture
        Path of the picture that it was sharpened for, or None.
    printer, paper_name, settings, condition, backing, observer
        As the options or the readings tell; else None.
    paper, black
        Shape (3,): CIELAB of bare paper and of the printer's black.
    curve
        What to send, and what is predicted.
    aim_lab
        Shape (N, 3): the aim as asked, at the curve's levels.
    target_lab
        Shape (N, 3): what was solved for: the aim, brought within the printer's reach.
    before_lab
        Shape (N, 3): the uncorrected ramp at the curve's levels, as the model has it.
    evidence
        Every reading so far, with what was sent.
    near_neutral
        Whether the printer's answer was measured off the grey axis, or supposed from a general
        prior (a ramp alone).
    expectation
        How much of the error should go.
    limits
        Where it can't.
    remarks
        What was decided on the way, as sentences to be shown.
    priority
        Shape (256,): how much each tone counts, see `priority`; None where all count alike.
    widened
        How many times as large the uncertainty is stated as the readings alone tell.
    model
        The printer as the evidence has it; None for a correction that was read from its files
        (`printer.model.fit` makes it again from the evidence).
    """

    name: str
    created: datetime
    round: int
    follows: str | None
    aim: str
    scaling: str
    neutral: str
    toning: str | None
    path: str
    bits: int
    picture: str | None
    printer: str | None
    paper_name: str | None
    settings: str | None
    condition: str | None
    backing: str | None
    observer: str
    paper: Array
    black: Array
    curve: Curve
    aim_lab: Array
    target_lab: Array
    before_lab: Array
    evidence: Evidence
    near_neutral: bool
    expectation: Expectation
    limits: tuple[Limit, ...] = ()
    remarks: tuple[str, ...] = ()
    priority: Array | None = None
    widened: float = 1.0
    model: PrinterModel | None = field(default=None, repr=False)

    @property
    def title(self) -> str:
        """The name with its round, as a chart's layout says what it was sent through."""
        return self.name if self.round == 1 else f"{self.name}, round {self.round}"

    @property
    def rests_on(self) -> tuple[Support, ...]:
        """The standards, constants and data behind the figures."""
        keys = ["cielab", "delta-Ch", "answers"]
        keys += [key for key in (self.neutral, "toning" if self.toning else "") if key in REGISTER]
        keys += ["sRGB-tone"] if self.aim == "srgb" else []
        return supports(*keys)
