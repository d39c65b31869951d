"""The record of a correction: what it was made from, what was asked, what came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.tolerances import WORST_SHARE, score_papers
from greyscale.aims.tone import TONE_AIMS, Encoding, named_encoding
from greyscale.analysis.response import LIGHTNESS, NOT_KNOWN, STEPS, Response, response
from greyscale.base.errors import BadInput
from greyscale.base.rests_on import REGISTER, Support, supports
from greyscale.base.results import MeasuredAs, Presented, PrintFacts, PrintNames, with_rows
from greyscale.checks.finding import SpoiltPatch
from greyscale.colorimetry.arrays import Array, ArrayLike, Indices, columns_at
from greyscale.colorimetry.cielab import luminance
from greyscale.colorimetry.fluorescence import print_to_lab
from greyscale.colorimetry.lights import Light
from greyscale.correction.expectation import Expectation, Limit
from greyscale.printer.answers import Answers
from greyscale.readings.layout import split_place
from greyscale.readings.reading import AXIS_TOLERANCE

if TYPE_CHECKING:
    from greyscale.charts.picture_tones import PictureTones
    from greyscale.printer.model import PrinterModel


CURVE_POINTS = 2041
"""Points of a solved curve: 8 · 255 + 1, so that each 8-bit code value lies on one."""

STEPS_DOUBT = 0.1
"""Share of a step between the tones of a driver that knows few, by which more a print must be
expected to be nearer its aims: where each step begins is known only to between two tones of the
chart. Of simulated drivers of 12 and 20 values what came of it scattered by 0.06."""


@dataclass(frozen=True, eq=False)
class Curve:
    """R, G, B to send for each level, and how the tone is expected to print.

    Attributes
    ----------
    levels
        Shape (N,): rising from 0 (black) to 1 (paper white), evenly spaced; N from 1024 to 4096.
    rgb
        Shape (N, 3): values for the printer, 0 to 1. The last is 1, 1, 1: bare paper.
    lab
        Shape (N, 3): predicted CIELAB of the print.
    sd
        Shape (N, 3): one standard deviation of the prediction of L*, a*, b*.
    """

    levels: Array
    rgb: Array
    lab: Array
    sd: Array

    def __len__(self) -> int:
        return self.levels.size

    def apply(self, device: ArrayLike) -> Array:
        """Send device values through the curve, channel by channel, as the 1D LUT does.

        Parameters
        ----------
        device
            Shape (..., 3): R, G, B from 0 to 1, on the grey axis or off it. Values outside are
            held at the ends.

        Returns
        -------
        Array of shape (..., 3), linear between the points of the curve.
        """
        values = np.asarray(device, dtype=np.float64)
        channels = [np.interp(values[..., c], self.levels, self.rgb[:, c]) for c in range(3)]
        return np.stack(channels, axis=-1)

    def predict(self, level: ArrayLike) -> Array:
        """Return the predicted CIELAB of levels of any shape, shape (..., 3)."""
        return columns_at(level, self.levels, self.lab)


@dataclass(frozen=True)
class Source(PrintFacts):
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
    observer
        As the reading tells.
    sha256
        Of the reading's file, in hexadecimal digits; None where there was no file.
    glow_source, glow_sha256
        The file of the reading in M2 that goes with it, if there is one.
    as_it_is
        Whether nothing of it is to be set aside.
    """

    name: str
    source: str
    patches: int
    round: int
    observer: str = "2"
    sha256: str | None = None
    glow_source: str | None = None
    glow_sha256: str | None = None
    as_it_is: bool = False


PAGE_REACH = 12.0
"""Patches over which what wanders over a page (drying, feed, warmth) falls to 1/e: about a page, so
that as much is allowed for an offset of the whole page, which no page shows, as for what it shows;
common practice, no source."""

_PLACES = 10  # Places of one tone that are looked at: more tell no more of how alike they are.


def _alike_on_page(names: Sequence[Sequence[str]]) -> tuple[Array, Array]:
    """How alike the means of n tones are by where they stand, (n, n), and by how many places, (n,).

    All 0 where they do not tell: a place that none has, or that two have, as on several pages.
    """
    nothing = np.zeros((len(names), len(names))), np.zeros(len(names))
    every = [split_place(name) for own in names for name in own]
    at = [place for place in every if place is not None]
    if len(set(at)) < len(every) or len(every) < 2 or not all(names):
        return nothing
    strips = sorted({strip for strip, _ in at}, key=lambda strip: (len(strip), strip))
    number = {strip: i for i, strip in enumerate(strips)}
    kept = [
        np.array([(number[place[0]], place[1]) for place in map(split_place, own) if place])[
            np.unique(np.linspace(0, len(own) - 1, min(len(own), _PLACES)).astype(int))
        ]
        for own in names
    ]
    sizes = np.array([len(own) for own in kept])
    places = np.concatenate(kept)
    starts = np.cumsum(sizes) - sizes
    alike = np.empty_like(nothing[0])
    for row, own in enumerate(kept):
        apart = np.linalg.norm(own[:, np.newaxis] - places, axis=-1)
        alike[row] = np.add.reduceat(np.exp(-apart / PAGE_REACH).mean(axis=0), starts) / sizes
    return alike, sizes.astype(np.float64)


@dataclass(frozen=True, eq=False)
class Evidence(Answers):
    """Everything measured of one printer and paper, and which reading told it.

    Attributes
    ----------
    origin
        Shape (n,): index into `sources`.
    sources
        The readings.
    spectra, wavelengths
        Shapes (n, m) and (m,): mean reflectance factors, nm; None where not all readings have
        them, with the same wavelengths.
    glow
        Shape (n, m): how much of `spectra` a brightener adds under D50; None where nothing does.
    glow_known
        Whether `glow` was measured (M1 and M2), and not supposed.
    places
        Of each measurement, where on its page it stands, as "A1"; of repeats, all their places.
        None where no place is known.
    """

    origin: Indices
    sources: tuple[Source, ...]
    spectra: Array | None = None
    wavelengths: Array | None = None
    glow: Array | None = None
    glow_known: bool = True
    places: tuple[str, ...] | None = None

    @property
    def as_it_is(self) -> bool:
        """Whether the person wanted one of the readings taken as it is."""
        return any(source.as_it_is for source in self.sources)

    @cached_property
    def over_the_page(self) -> Array | None:
        """See `Answers.over_the_page`."""
        if self.places is None:
            return None
        found = np.zeros((len(self), len(self)))
        # By as much less than they vary do repeats differ, and by as much of what they could.
        differ, could = 0.0, 0.0
        for sheet in np.unique(self.origin):
            rows = np.flatnonzero(self.origin == sheet)
            alike, kept = _alike_on_page([self.places[row].split() for row in rows])
            found[np.ix_(rows, rows)] = alike
            differ += float(kept @ (1.0 - np.diag(alike)))
            could += float(np.sum(np.maximum(kept - 1.0, 0.0)))
        # Repeats differ by what is not alike in their places, and show so much less of it.
        shown = differ / could if self.known and could else 1.0
        on_page = np.diag(found) > 0
        return found / shown - np.diag(on_page / self.counts)

    @cached_property
    def response(self) -> Response:
        """How the driver answers, as far as all that was measured tells."""
        found = response(self.device, self.lab, self.counts, self.sd_L, self.sd_ab)
        if self.tone_alone and found.kind == LIGHTNESS:
            # Nobody measured a*, b*.
            return replace(found, kind=NOT_KNOWN, answer=None, foretold=None)
        return found

    @property
    def tone_alone(self) -> bool:
        """Whether L* alone was measured: every a* and b* is 0, which no print's is."""
        return not self.lab[:, 1:].any()

    @property
    def told(self) -> Evidence:
        """What a model is to be made of: the grey axis alone where no tint can be corrected.

        What snaps, or is made grey, beside the axis tells nothing of what lies between.
        """
        along = self.response.kind in (STEPS, LIGHTNESS) or self.tone_alone
        return self.on_axis if along else self

    @property
    def on_axis(self) -> Evidence:
        """What was measured on the grey axis alone."""
        rows = np.flatnonzero(np.ptp(self.device, axis=1) < AXIS_TOLERANCE)
        each = ("device", "lab", "counts", "origin", "spectra", "glow", "places")
        return with_rows(self, rows, *each)

    def lab_under(
        self, light: Light, observer: str, *, share: float = 1.0, excites: float | None = None
    ) -> Array:
        """The CIELAB of all measurements under a light, shape (n, 3).

        Parameters
        ----------
        share
            How much of `glow` there is.
        excites
            How much the light excites the brightener, relative to D50; None takes what is known.

        Raises
        ------
        BadInput
            Without spectra.
        """
        if self.spectra is None or self.wavelengths is None:
            raise BadInput(
                "the readings hold no spectra, or spectra of unlike wavelengths, so nothing can "
                "be solved for other lights than D50; leave the lights out, or measure all charts "
                "again with spectra",
                self.sources[0].source,
            )
        return print_to_lab(
            self.spectra, self.glow, self.wavelengths, light, observer, share=share, excites=excites
        )


@dataclass(frozen=True, eq=False)
class Options(PrintNames):
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
    space
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
        Whether to send equal R, G, B, which corrects the tone scale and leaves the tint.
    lights
        The lights to be neutral under, L* by the first; none are D50.
    weights, worst_share
        As in a comparison: a light's weight by its name, 1 where not named, and the share of the
        worst light in the score that is minimised.
    observer
        "2" or "10", for these lights.
    """

    name: str | None = None
    aim: str = "lstar"
    scaling: str = "linear"
    neutral: str = "fading"
    toning: str | None = None
    space: str = "device"
    bits: int = 16
    previous: Correction | None = None
    picture: PictureTones | None = None
    points: int = CURVE_POINTS
    tone_only: bool = False
    lights: tuple[Light, ...] = ()
    weights: Mapping[str, float] | None = None
    worst_share: float = WORST_SHARE
    observer: str = "2"


@dataclass(frozen=True, eq=False)
class ForLight:
    """What a correction does under one light, at 256 evenly spaced levels.

    Attributes
    ----------
    light
        The light.
    weight
        As asked; 0 where it is only looked at.
    paper_lab, black_lab
        Shape (3,): CIELAB there, as of all that follows.
    aim_lab, before_lab, lab, sd
        Shape (256, 3): the aim, the uncorrected ramp, what is predicted, and one standard
        deviation of that.
    expectation
        The errors before and after, in that light.
    low, high
        Least and largest mean ΔCh expected after, over what is not known of brightener, lamp and
        glass.
    """

    light: Light
    weight: float
    paper_lab: Array
    black_lab: Array
    aim_lab: Array
    before_lab: Array
    lab: Array
    sd: Array
    expectation: Expectation
    low: float
    high: float

    @property
    def name(self) -> str:
        """The light's name."""
        return self.light.name


@dataclass(frozen=True)
class TradeOff:
    """What one choice of lights to solve for leaves under all of them.

    Attributes
    ----------
    solved_for
        The lights' names.
    mean_delta_Ch, max_delta_Ch
        What is expected under each of the correction's lights, in their order.
    score
        `worst_share` of the worst light's mean ΔCh and the rest of the weighted mean.
    """

    solved_for: tuple[str, ...]
    mean_delta_Ch: tuple[float, ...]
    max_delta_Ch: tuple[float, ...]
    score: float


@dataclass(frozen=True, eq=False, repr=False)
class Correction(Presented, PrintNames, MeasuredAs):
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
    aim, scaling, neutral, toning, space, bits
        As asked (see `Options`).
    picture
        Path of the picture that it was sharpened for, or None.
    observer
        As the options or the readings tell; else None.
    paper_lab, black_lab
        Shape (3,): CIELAB of bare paper and of the printer's black, under the correction's light:
        D50, or the first that it was asked for. So is all CIELAB that follows.
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
    spoilt
        Patches out of line with all the others, which were set aside.
    priority
        Shape (256,): how much each tone counts, see `priority`; None where all count alike.
    widened
        How many times as large the uncertainty is stated as the readings alone tell.
    model
        The printer as the evidence has it, under D50; None for a correction that was read from its
        files (`printer.model.fit` makes it again from the evidence).
    lights
        The lights that it was asked for, the first of them the correction's own, and D50; none
        where it is for D50 alone.
    worst_share
        The share of the worst light in the score that was made least.
    trade_offs
        What solving for D50 alone, for each light alone and for all of them would leave.
    """

    name: str
    created: datetime
    round: int
    follows: str | None
    aim: str
    scaling: str
    neutral: str
    toning: str | None
    space: str
    bits: int
    picture: str | None
    observer: str
    paper_lab: Array
    black_lab: Array
    curve: Curve
    aim_lab: Array
    target_lab: Array
    before_lab: Array
    evidence: Evidence
    near_neutral: bool
    expectation: Expectation
    limits: tuple[Limit, ...] = ()
    remarks: tuple[str, ...] = ()
    spoilt: tuple[SpoiltPatch, ...] = ()
    priority: Array | None = None
    widened: float = 1.0
    model: PrinterModel | None = field(default=None, repr=False)
    lights: tuple[ForLight, ...] = ()
    worst_share: float = WORST_SHARE
    trade_offs: tuple[TradeOff, ...] = ()

    @property
    def own_lights(self) -> tuple[ForLight, ...]:
        """The lights that it was asked for."""
        return tuple(one for one in self.lights if one.weight > 0)

    @property
    def encoding(self) -> str:
        """The name of `picture_encoding`."""
        return self.aim

    @property
    def picture_encoding(self) -> Encoding:
        """How the pictures are encoded that go through it, all its LUTs alike: as its tone aim.

        Of an aim by name it is the aim itself. A table, or density, is taken as it is kept here,
        fitted to the print, and the fitting undone: black and paper of the print stand for black
        and white of the picture.
        """
        if TONE_AIMS.get(self.aim) is not None:
            return named_encoding(self.aim)
        levels, L, scaling = self.curve.levels, self.aim_lab[:, 0], self.scaling

        def unfitted(values: Array) -> Array:
            aim_L = np.interp(values, levels, L)
            if scaling == "black-point":
                Y, black, paper = luminance(aim_L), luminance(L[0]), luminance(L[-1])
                return np.asarray(np.clip((Y - black) / (paper - black), 0.0, 1.0))
            return luminance(np.clip((aim_L - L[0]) / (L[-1] - L[0]), 0.0, 1.0) * 100.0, 1.0)

        return Encoding(self.aim, unfitted)

    @property
    def light(self) -> str:
        """The name of the light that its CIELAB is under."""
        return self.lights[0].name if self.lights else "D50"

    @property
    def tone_only(self) -> bool:
        """Whether it sends equal R, G, B: it corrects the tone scale and leaves the tint."""
        return bool(np.ptp(self.curve.rgb, axis=1).max() == 0.0)

    @property
    def helps(self) -> bool:
        """Whether the print is expected to come nearer its aims than it is, tint and tone."""
        # Steps are foretold of the tones alone, whatever the lights.
        if not self.own_lights or self.evidence.response.tone_step:
            doubt = STEPS_DOUBT * self.evidence.response.tone_step
            return self.expectation.after + doubt < self.expectation.before
        both = [one.expectation for one in self.own_lights]
        before = [one.before_mean_delta_Ch for one in both]
        after = [one.after_mean_delta_Ch for one in both]
        weights = [one.weight for one in self.own_lights]
        figures = [[*before], [*after]]
        score = score_papers(figures, np.zeros((2, len(both))), weights, self.worst_share).score
        return bool(score[1] < score[0]) or both[0].after_mean_delta_L < both[0].before_mean_delta_L

    @property
    def title(self) -> str:
        """The name with its round, as a chart's layout says what it was sent through."""
        return self.name if self.round == 1 else f"{self.name}, round {self.round}"

    @property
    def rests_on(self) -> tuple[Support, ...]:
        """The standards, constants and data behind the figures."""
        keys = ["cielab", "delta-Ch", "exhibition", "visible-cast", "answers", "sheets", "solving"]
        keys += ["least-answer"] if self.near_neutral else []
        keys += [] if self.evidence.known else ["repeatability"]
        keys += [key for key in (self.neutral, "toning" if self.toning else "") if key in REGISTER]
        keys += ["sRGB-tone"] if self.aim == "srgb" else []
        if self.evidence.spectra is not None:
            keys += ["weights", "cie-tables"]
        if self.lights:
            keys += ["ranking"]
            keys += ["excitation"] if self.evidence.glow is not None else []
            keys += [] if self.evidence.glow_known else ["emission", "brightened-paper"]
            keys += [key for one in self.lights for key in one.light.rests_on]
        return supports(*keys)
