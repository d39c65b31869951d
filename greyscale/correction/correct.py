"""From readings to a correction: the aims, the solved curve, and what to expect of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from greyscale.colorimetry.arrays import Array
from greyscale.correction.curve import CURVE_POINTS, Curve
from greyscale.correction.evidence import Evidence


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
    picture_levels, picture_shares
        For `--for-image`: levels (m,), and the share of the picture at each, (m,); or None.
    picture
        Path of that picture, for the record.
    printer, paper, settings
        For the record; None takes what the readings tell.
    points
        Points of the curve, 1024 to 4096.
    """

    name: str | None = None
    aim: str = "lstar"
    scaling: str = "linear"
    neutral: str = "fading"
    toning: str | None = None
    path: str = "device"
    bits: int = 16
    previous: Correction | None = None
    picture_levels: Array | None = None
    picture_shares: Array | None = None
    picture: str | None = None
    printer: str | None = None
    paper: str | None = None
    settings: str | None = None
    points: int = CURVE_POINTS


@dataclass(frozen=True)
class Limit:
    """A run of tones where the aim as asked is out of reach, or was brought in.

    Attributes
    ----------
    kind
        "black" (blended between the printer's black and the first reachable tone), "paper" (the
        same towards bare paper), or "range" (elsewhere: a channel at its end).
    from_level, to_level
        The run, `from_level` < `to_level`.
    max_delta_Ch, max_delta_L
        The largest distance of what was solved for from what was asked.
    message
        The same as one plain sentence.
    """

    kind: str
    from_level: float
    to_level: float
    max_delta_Ch: float
    max_delta_L: float
    message: str


@dataclass(frozen=True)
class Expectation:
    """Errors against the aim as asked, before and as predicted after; means over L*.

    Attributes
    ----------
    before_mean_delta_Ch, before_max_delta_Ch, before_mean_delta_L, before_max_delta_L
        Of the uncorrected ramp as the model has it.
    after_mean_delta_Ch, after_max_delta_Ch, after_mean_delta_L, after_max_delta_L
        Of the corrected ramp, to be expected with the uncertainty of the model counted in.
    unreachable_mean_delta_Ch
        The part of the latter mean that no device value can remove.
    """

    before_mean_delta_Ch: float
    before_max_delta_Ch: float
    before_mean_delta_L: float
    before_max_delta_L: float
    after_mean_delta_Ch: float
    after_max_delta_Ch: float
    after_mean_delta_L: float
    after_max_delta_L: float
    unreachable_mean_delta_Ch: float


@dataclass(frozen=True, eq=False)
class Correction:
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
    aim, scaling, neutral, toning, path, bits, picture
        As asked (see `Options`).
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
