"""From readings to a correction: the aims, the solved curve, and what to expect of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.rests_on import REGISTER, Support, supports
from greyscale.base.threads import on_one_thread
from greyscale.charts.picture_tones import PictureTones
from greyscale.colorimetry.arrays import Array
from greyscale.correction.curve import CURVE_POINTS, Curve
from greyscale.correction.evidence import Evidence, evidence_from
from greyscale.correction.evidence import refuse_contradiction, refuse_unlike_papers
from greyscale.correction.expectation import Expectation, expectation
from greyscale.correction.limits import Limit, find_limits
from greyscale.correction.printer_model import PrinterModel, fit
from greyscale.correction.priority import priority
from greyscale.correction.solver import Solution, curve_from, solve
from greyscale.correction.targets import Aims
from greyscale.readings.reading import Reading

__all__ = ["Correction", "Expectation", "Limit", "Options", "correct"]


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
    model
        The printer as the evidence has it; None for a correction that was read from its files
        (`printer_model.fit` makes it again from the evidence).
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
    model: PrinterModel | None = field(default=None, repr=False)

    @property
    def rests_on(self) -> tuple[Support, ...]:
        """The standards, constants and data behind the figures."""
        keys = ["cielab", "delta-Ch", "answers"]
        keys += [key for key in (self.neutral, "toning" if self.toning else "") if key in REGISTER]
        keys += ["sRGB-tone"] if self.aim == "srgb" else []
        return supports(*keys)


@on_one_thread
def correct(readings: Sequence[Reading], options: Options | None = None) -> Correction:
    """Solve the correction of a printer on a paper.

    Parameters
    ----------
    readings
        One or more readings of it, joined as evidence. With `options.previous`, all of charts
        printed through that correction; the earlier readings come with it, and the new curve
        again starts from the uncorrected printer.
    options
        What is asked.

    Raises
    ------
    BadInput
        If a reading cannot be solved from, readings contradict each other, or a next round does
        not fit the correction before.
    """
    asked = options or Options()
    previous = asked.previous
    if not readings:
        raise BadInput("there is no reading; give at least one")
    if previous is not None:
        _refuse_misfit(readings, asked, previous)
    evidence = evidence_from(readings, previous, asked.bits)
    refuse_unlike_papers(evidence)
    if previous is None:
        aims = Aims.asked(asked.aim, asked.scaling, asked.neutral, asked.toning)
    else:
        aims = Aims.kept(previous)
    model = fit(evidence, aims.centre(evidence.paper, evidence.black))
    refuse_contradiction(evidence, model)
    return _solved(readings, asked, evidence, aims, model)


def _solved(
    readings: Sequence[Reading],
    asked: Options,
    evidence: Evidence,
    aims: Aims,
    model: PrinterModel,
) -> Correction:
    paper, black = model.lab([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]])
    tones = np.linspace(0.0, 1.0, 256)
    aimed = aims.lab(tones, paper, black)
    counts = None if asked.picture is None else priority(asked.picture)
    solution = solve(model, aimed, cautious=not evidence.near_neutral, priority=counts)
    limits = find_limits(tones, solution.lab, aimed)
    curve = curve_from(solution, asked.points)
    before = model.lab(np.repeat(tones[:, np.newaxis], 3, axis=1))
    levels, previous, first = curve.levels, asked.previous, evidence.sources[0]
    return Correction(
        name=asked.name or readings[0].name,
        created=datetime.now().replace(microsecond=0),
        round=1 if previous is None else previous.round + 1,
        follows=None if previous is None else previous.name,
        aim=asked.aim,
        scaling=asked.scaling,
        neutral=asked.neutral,
        toning=asked.toning,
        path=asked.path,
        bits=asked.bits,
        picture=None if asked.picture is None else asked.picture.source,
        printer=asked.printer or _first_told(evidence, "printer"),
        paper_name=asked.paper or _first_told(evidence, "paper"),
        settings=asked.settings or _first_told(evidence, "settings"),
        condition=_first_told(evidence, "condition"),
        backing=_first_told(evidence, "backing"),
        observer=first.observer,
        paper=paper,
        black=black,
        curve=curve,
        aim_lab=aims.lab(levels, paper, black),
        target_lab=_spread(levels, tones, _brought_in(solution, aimed, limits)),
        before_lab=_spread(levels, tones, before),
        evidence=evidence,
        near_neutral=evidence.near_neutral,
        expectation=expectation(before, aims.ab_at(before, paper, black), aimed, solution, limits),
        limits=limits,
        remarks=_remarks(evidence, model),
        priority=counts,
        model=model,
    )


def _refuse_misfit(readings: Sequence[Reading], asked: Options, previous: Correction) -> None:
    """Refuse a next round with another aim, or from a reading of another print."""
    from greyscale.correction.evidence import refuse_another_print

    for what, words in (
        ("aim", "tone aim"), ("scaling", "scaling"), ("neutral", "neutral aim"),
        ("toning", "toning"), ("path", "path"),
    ):  # fmt: skip
        now, then = getattr(asked, what), getattr(previous, what)
        if now != then:
            raise BadInput(
                f"the {words} is '{now or 'none'}', but the correction '{previous.name}' has "
                f"'{then or 'none'}'; a next round keeps the aim, another aim starts from the "
                "first readings"
            )
    for reading in readings:
        refuse_another_print(reading, previous)


def _first_told(evidence: Evidence, what: str) -> str | None:
    told = (getattr(source, what) for source in evidence.sources)
    return next((value for value in told if value), None)


def _spread(levels: Array, tones: Array, values: Array) -> Array:
    return np.column_stack([np.interp(levels, tones, column) for column in values.T])


def _brought_in(solution: Solution, aimed: Array, limits: Sequence[Limit]) -> Array:
    """Give what was solved for: the aim; where that is out of reach, what can be had."""
    target = aimed.copy()
    for limit in limits:
        within = (solution.levels >= limit.from_level) & (solution.levels <= limit.to_level)
        target[within] = solution.lab[within]
    return target


def _remarks(evidence: Evidence, model: PrinterModel) -> tuple[str, ...]:
    remarks = [
        f"Another ink comes in at level {onset.level:.2f}; the curve bends there with it."
        for onset in model.onsets
    ]
    if not evidence.known:
        remarks.append(
            f"No patch was repeated; the repeatability is taken to be {evidence.sd_ab:.2f}."
        )
    return tuple(remarks)
