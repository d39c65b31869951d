"""From readings to a correction: the aims, the solved curve, and what to expect of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np

from greyscale.analysis.brighteners import WITHOUT_UV, with_glow
from greyscale.analysis.under_lights import loss_words
from greyscale.base.errors import BadInput
from greyscale.base.libraries import on_one_thread
from greyscale.base.results import filled
from greyscale.charts.picture_tones import PictureTones
from greyscale.checks.identity import doubt_of_sending
from greyscale.colorimetry.arrays import Array, columns_at
from greyscale.colorimetry.lights import light
from greyscale.correction.evidence import (
    MOST_OF_A_READING,
    evidence_from,
    is_crowded,
    refuse_another_print,
    refuse_contradiction,
    refuse_unlike_papers,
    spoilt_in,
)
from greyscale.correction.expectation import Expectation, Limit
from greyscale.correction.for_lights import serve
from greyscale.correction.record import Correction, Curve, Evidence, Options
from greyscale.correction.targets import Aims
from greyscale.printer.model import PrinterModel, fit
from greyscale.printer.solver import Solution
from greyscale.readings.iso28178 import ZEROED
from greyscale.readings.reading import Reading

# How much each tone of a correction counts: more where a picture has its tones.

_ENDS = 0.03  # Levels from black, and from paper.

MOST = 8.0
"""The most that a tone may count, so that a picture of few tones leaves the others their part."""


def priority(picture: PictureTones) -> Array:
    """Return how much each of 256 tones counts, shape (256,).

    Most of a correction has nothing to share out: each tone is solved for by itself, as well as
    the evidence allows. Two things are shared between tones: how far the solved values are made
    smooth, and the few nodes of a 3D LUT. There a tone counts as much more than usual as the
    picture has more of it than of an even spread of tones, but none counts less than usual.
    """
    return np.asarray(np.clip(picture.weight, 1.0, MOST))


# What is asked of a correction, where some of it follows from the correction before.


def options(previous: Correction | None = None, **asked: Any) -> Options:
    """Return the options of a correction: as asked, else as of the one before, else the usual ones.

    Parameters
    ----------
    previous
        The correction that the readings were printed through, if any.
    asked
        Fields of `Options`; None stands for "not asked".

    Examples
    --------
    >>> options(aim="srgb", neutral=None).aim
    'srgb'
    """
    given = {name: value for name, value in asked.items() if value is not None}
    start = Options() if previous is None else _as_before(previous)
    if "lights" in given:
        start = replace(start, weights=None)
    return replace(start, **given)


def _as_before(previous: Correction) -> Options:
    return filled(
        Options,
        previous,
        points=len(previous.curve),
        previous=previous,
        picture=None,
        tone_only=False,
        lights=tuple(one.light for one in previous.own_lights),
        weights={one.name: one.weight for one in previous.own_lights},
    )


__all__ = ["Correction", "Expectation", "Limit", "Options", "correct"]


@on_one_thread
def correct(
    readings: Sequence[Reading],
    options: Options | None = None,
    printer: PrinterModel | None = None,
) -> Correction:
    """Solve the correction of a printer on a paper.

    Parameters
    ----------
    readings
        One or more readings of it, joined as evidence. With `options.previous`, all of charts
        printed through that correction; the earlier readings come with it, and the new curve
        again starts from the uncorrected printer.
    options
        What is asked.
    printer
        The printer as another correction of just these readings has it (`Correction.model`), to
        look ahead quickly: fitted for other aims, it foretells within some 0.1 ΔE00 of its own.
        None fits it.

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
    if asked.tone_only and asked.toning is not None:
        raise BadInput(
            "equal R, G, B cannot tone a print; leave out --toning, or --tone-only", "--toning"
        )
    if previous is not None:
        _refuse_misfit(readings, asked, previous)
    _refuse_mixture(readings, asked)
    readings = with_glow(readings)
    evidence = evidence_from(readings, previous, asked.bits)
    refuse_unlike_papers(evidence)
    if previous is None:
        aims = Aims.asked(asked.aim, asked.scaling, asked.neutral, asked.toning)
    else:
        aims = Aims.kept(previous)
    told = evidence.told
    model = printer or fit(told, aims.centre(told.paper, told.black))
    refuse_contradiction(told, model)
    if told is not evidence:
        asked = replace(asked, tone_only=True)
    made = _solved(readings, asked, told, aims, model)
    if evidence.response.tone_step:
        made = _in_steps(made, told)
    if not made.helps and not asked.tone_only:
        tone = _solved(readings, replace(asked, tone_only=True), told, aims, model)
        made = tone if tone.helps else made
    return replace(made, evidence=evidence, near_neutral=evidence.near_neutral)


def _in_steps(made: Correction, ramp: Evidence) -> Correction:
    """The correction with what to expect of a driver that knows few tones.

    Whatever is sent, one of them is printed: of the two that were measured beside it, either, the
    nearer the likelier. A curve leads from one to another, which may be no nearer the aim.
    """
    level, rows = np.unique(ramp.device.mean(axis=1), return_index=True)
    L = ramp.lab[rows, 0]
    aimed = made.aim_lab[1:-1, 0]

    def off(sent: Array) -> Array:
        each = zip(sent, aimed, strict=True)
        return np.array([np.interp(at, level, np.abs(L - aim)) for at, aim in each])

    off_before, off_after = off(made.curve.levels[1:-1]), off(made.curve.rgb[1:-1].mean(axis=1))
    return replace(made, expectation=made.expectation.in_steps(off_before, off_after, aimed))


def _refuse_mixture(readings: Sequence[Reading], asked: Options) -> None:
    """Refuse to join tone alone with what tells the tint, and an aim for a tint that none tells."""
    alone = [one for one in readings if one.tone_alone]
    if alone and (len(alone) < len(readings) or asked.toning or asked.lights):
        other = "a toning" if asked.toning else "a light" if asked.lights else "another reading"
        raise BadInput(
            f"holds tone alone, L* or density, and cannot be joined with {other}, which needs a* "
            "and b*; correct by it alone, or measure them",
            alone[0].source,
        )


def _solved(
    readings: Sequence[Reading],
    asked: Options,
    evidence: Evidence,
    aims: Aims,
    model: PrinterModel,
) -> Correction:
    counts = None if asked.picture is None else priority(asked.picture)
    served = serve(evidence, model, aims, asked, counts)
    first, solution, limits = served.first, served.solution, served.limits
    aimed, tones = first.aimed, solution.levels
    levels, previous = np.linspace(0.0, 1.0, asked.points), asked.previous
    parts = (solution.rgb, solution.lab, solution.sd)
    curve = Curve(levels, *(columns_at(levels, tones, part) for part in parts))
    return filled(
        Correction,
        served,
        first,
        asked,
        name=asked.name or readings[0].name,
        created=datetime.now().replace(microsecond=0),
        round=1 if previous is None else previous.round + 1,
        follows=None if previous is None else previous.name,
        picture=None if asked.picture is None else asked.picture.source,
        printer=asked.printer or _first_told(evidence, "printer"),
        paper=asked.paper or _first_told(evidence, "paper"),
        settings=asked.settings or _first_told(evidence, "settings"),
        condition=_first_told(evidence, "condition"),
        backing=_first_told(evidence, "backing"),
        observer=asked.observer if asked.lights else evidence.sources[0].observer,
        curve=curve,
        aim_lab=aims.lab(levels, first.paper_lab, first.black_lab),
        target_lab=columns_at(levels, tones, _brought_in(solution, aimed, limits)),
        before_lab=columns_at(levels, tones, first.before),
        evidence=evidence,
        near_neutral=evidence.near_neutral,
        expectation=first.expected(solution.rgb, limits),
        remarks=_remarks(readings, asked, evidence, model),
        spoilt=spoilt_in(readings, evidence, model),
        priority=counts,
        model=model,
    )


def _refuse_misfit(readings: Sequence[Reading], asked: Options, previous: Correction) -> None:
    """Refuse a next round with another aim, or from a reading of another print."""
    for what, words in (
        ("aim", "tone aim"), ("scaling", "scaling"), ("neutral", "neutral aim"),
        ("toning", "toning"), ("space", "path"),
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


def _brought_in(solution: Solution, aimed: Array, limits: Sequence[Limit]) -> Array:
    """Return what was solved for: the aim; where that is out of reach, what can be had."""
    target = aimed.copy()
    for limit in limits:
        within = (solution.levels >= limit.from_level) & (solution.levels <= limit.to_level)
        target[within] = solution.lab[within]
    return target


def _remarks_on_lights(evidence: Evidence, asked: Options) -> list[str]:
    if not asked.lights:
        return []
    remarks = [f"{one.name}: {remark}" for one in asked.lights for remark in one.remarks]
    if evidence.glow is not None and evidence.glow_known:
        remarks.append("Read in M1 and M2: what the paper's brightener adds is known.")
    elif evidence.glow is not None:
        remarks.append(
            "Read in one condition only: half of the brightener that this paper may have is "
            "assumed, and the range of ΔCh given goes from none to the most; read the chart in M1 "
            "and M2 to know it."
        )
    elif any(source.condition == WITHOUT_UV for source in evidence.sources):
        remarks.append(
            "Read without ultraviolet (M2): what a brightener adds in light with ultraviolet is "
            "not included; read the chart in M1 as well."
        )
    return remarks


def _remarks(
    readings: Sequence[Reading], asked: Options, evidence: Evidence, model: PrinterModel
) -> tuple[str, ...]:
    through = None if asked.previous is None else asked.previous.title
    doubts = [doubt_of_sending(reading, through) for reading in readings]
    remarks = [doubt for doubt in doubts if doubt is not None]
    remarks += [
        f"'{reading.name}': {remark}"
        for reading in readings
        for remark in reading.remarks
        if remark.startswith(ZEROED)
    ]
    # Nearer to the ends, it is the first of the ink, or the last, and no other.
    bends = sorted(one.level for one in model.onsets if _ENDS < one.level < 1.0 - _ENDS)
    if bends:
        named = " and ".join(", ".join(f"{level:.2f}" for level in bends).rsplit(", ", 1))
        remarks.append(
            f"The printer's answer bends at level{'s' if len(bends) > 1 else ''} {named}, as where "
            "another ink comes in; the curve bends there with it."
        )
    remarks += [
        f"'{reading.name}' has more than {MOST_OF_A_READING} different device values near the "
        "grey axis; only that many were taken, evenly spaced."
        for reading in readings
        if len(reading) > MOST_OF_A_READING and is_crowded(reading)
    ]
    remarks += _remarks_on_lights(evidence, asked)
    lights = asked.lights or (light("D50"),)
    remarks += loss_words(evidence.spectra, evidence.wavelengths, lights, asked.observer)
    if not evidence.known:
        remarks.append(
            f"No patch was repeated; the repeatability is taken to be {evidence.sd_ab:.2f}."
        )
    return tuple(remarks)
