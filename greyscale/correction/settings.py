"""Which of a driver's settings to correct from: one small chart of each, on the same paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.analysis.analyse import Analysis, analyse
from greyscale.analysis.comparison import TIE as RANKS_TIE
from greyscale.analysis.comparison import rank
from greyscale.analysis.response import LIGHTNESS, NOT_KNOWN
from greyscale.base.errors import BadInput
from greyscale.base.rests_on import Support, supports
from greyscale.base.results import Presented
from greyscale.checks.identity import doubt_of_sending
from greyscale.colorimetry.cielab import delta_E_2000
from greyscale.correction.correct import correct
from greyscale.correction.evidence import ANOTHER_PAPER
from greyscale.correction.expectation import Expectation
from greyscale.readings.reading import NEAR_NEUTRAL, Reading

TIE = 0.5
"""Scores that are closer, in units of L* or ΔCh, do not decide."""

PER_BLACK = 1.0
PER_SHADOW = 20.0
PER_REVERSAL = 3.0
PER_LEFT = 3.0
PER_BUMP = 1.0
"""What a setting's faults cost, in units of L* that black is lighter: a level at which shadows part
from black only; a reversal; a unit of ΔCh or ΔL* that a correction leaves; a unit of roughness."""


@dataclass(frozen=True, eq=False)
class Setting:
    """One setting of the driver, judged.

    Attributes
    ----------
    name, source
        What to call it, and its reading's file.
    analysis
        What its chart measures.
    black_L, dmax
        L* and visual density of the darkest tone.
    reversals
        How many steps of the ramp fall, ink that prints lighter counted as one.
    left
        What a correction from this chart expects; None where none can be made.
    written
        Whether that correction would be worth writing.
    hindrance
        Why none can be made; else None.
    near_neutral
        Whether its strip has near-neutral patches.
    costs
        What each fault costs, by its name, as it goes into the score.
    rank, tied
        From 1; whether it shares its rank.
    """

    name: str
    source: str
    analysis: Analysis
    black_L: float
    dmax: float
    reversals: int
    left: Expectation | None
    written: bool
    hindrance: str | None
    near_neutral: bool
    costs: dict[str, float]
    rank: int = 0
    tied: bool = False

    @property
    def score(self) -> float:
        """The sum of what its faults cost: the less, the better."""
        return sum(self.costs.values())

    @property
    def shadow(self) -> float | None:
        """The lowest level whose L* is one unit above black."""
        return self.analysis.tone.distinct_shadow_level

    @property
    def left_Ch(self) -> float:
        """Mean ΔCh that stays: after correction, or as printed where there is none."""
        if self.left is not None and self.written:
            return self.left.after_mean_delta_Ch
        return self.analysis.neutrality.mean_delta_Ch

    @property
    def left_L(self) -> float:
        """Mean ΔL* that stays, likewise."""
        if self.left is not None and self.written:
            return self.left.after_mean_delta_L
        return self.analysis.tone.rms_delta_L

    @property
    def reaches_neutral(self) -> bool:
        """Whether its tint can be corrected, as far as the chart tells."""
        return self.analysis.response.kind in ("colour", "not known")


@dataclass(frozen=True, eq=False, repr=False)
class Settings(Presented):
    """Settings of one driver on one paper, the best first."""

    settings: tuple[Setting, ...]
    remarks: tuple[str, ...] = ()

    @property
    def rests_on(self) -> tuple[Support, ...]:
        """The standards, constants and data behind the figures."""
        own = self.settings[0].analysis.rests_on
        return (*own, *supports("answers", "settings"))


def choose_settings(readings: Sequence[Reading]) -> Settings:
    """Judge settings of a driver by a small chart of each.

    Parameters
    ----------
    readings
        One of each setting, of charts with near-neutral patches on the same paper.

    Raises
    ------
    BadInput
        For fewer than two readings, one given twice, or readings of unlike condition, backing or
        observer.
    """
    if len(readings) < 2:
        raise BadInput("settings are chosen among two or more; give a reading of each")
    sources = [one.source for one in readings]
    twice = next((source for source in sources if sources.count(source) > 1), None)
    if twice is not None:
        raise BadInput("is given twice; give a reading of each setting", twice)
    for what in ("condition", "backing", "observer"):
        told = {getattr(one, what) for one in readings} - {None}
        if len(told) > 1:
            raise BadInput(
                f"the readings are of different {what} ({', '.join(sorted(told))}), and cannot "
                "be ranked against each other; measure all strips in the same way",
                readings[1].source,
            )
    names = _names(readings)
    analyses = [analyse(one, lights=()) for one in readings]
    darkest = min(float(one.patches.lab[:, 0].min()) for one in analyses)
    found = [
        _judged(reading, name, analysis, darkest)
        for reading, name, analysis in zip(readings, names, analyses, strict=True)
    ]
    ordered = sorted(found, key=lambda one: (one.score, one.name))
    doubts = [doubt for one in readings if (doubt := doubt_of_sending(one)) is not None]
    return Settings(tuple(_ranked(ordered)), (*doubts, *_remarks(ordered)))


def _names(readings: Sequence[Reading]) -> list[str]:
    for told in (
        [one.settings or one.name for one in readings],
        [one.name for one in readings],
    ):
        if len(set(told)) == len(told):
            return told
    return [one.source for one in readings]


def _judged(reading: Reading, name: str, analysis: Analysis, darkest: float) -> Setting:
    lab, tone = analysis.patches.lab, analysis.tone
    black = int(np.argmin(lab[:, 0]))
    fall = analysis.response.darker_by
    # Steps within ink that prints lighter are one fault.
    above = [level for level in tone.reversals if level > analysis.response.darkest_level]
    reversals = len(above) + (fall > 0)
    left, hindrance, written = None, None, False
    apart = np.ptp(reading.device, axis=1)
    try:
        made = correct([reading])
        left, written = made.expectation, made.helps
    except BadInput as error:
        hindrance = error.message
    setting = Setting(
        name=name,
        source=reading.source,
        analysis=analysis,
        black_L=float(lab[black, 0]),
        dmax=float(analysis.patches.density[black]),
        reversals=reversals,
        left=left,
        written=written,
        hindrance=hindrance,
        near_neutral=bool(np.any(~reading.on_axis & (apart <= NEAR_NEUTRAL))),
        costs={},
    )
    shadow = setting.shadow
    lost = 0.5 if shadow is None else max(shadow - analysis.response.darkest_level, 0.0)
    costs = {
        "black": PER_BLACK * (setting.black_L - darkest),
        "shadow": PER_SHADOW * lost,
        "reversals": PER_REVERSAL * reversals,
        "left": PER_LEFT * float(np.hypot(setting.left_Ch, setting.left_L)),
        "roughness": PER_BUMP * (tone.smoothness or 0.0),
    }
    return replace(setting, costs=costs)


def _ranked(ordered: Sequence[Setting]) -> list[Setting]:
    scores = np.array([one.score for one in ordered])
    # As if each score had a deviation that makes differences below `TIE` no difference.
    spread = np.full(len(ordered), TIE / (RANKS_TIE * np.sqrt(2.0)))
    ranks = rank(scores, spread, [one.name for one in ordered])
    return [
        replace(one, rank=place, tied=ranks.count(place) > 1)
        for one, place in zip(ordered, ranks, strict=True)
    ]


def _remarks(settings: Sequence[Setting]) -> tuple[str, ...]:
    remarks = []
    first = settings[0]
    for one in settings[1:]:
        apart = float(delta_E_2000(one.analysis.paper, first.analysis.paper))
        if apart > ANOTHER_PAPER:
            remarks.append(
                f"The paper white of {one.name} is {apart:.1f} ΔE00 from that of {first.name}: is "
                "it the same paper?"
            )
    unknown = [one for one in settings if one.analysis.response.kind == NOT_KNOWN]
    dark = [one.name for one in unknown if one.near_neutral]
    if dark:
        remarks.append(
            f"Nearly all near-neutral patches of {', '.join(dark)} print as dark as black, so that "
            "it is not known whether that answers in colour: too much ink."
        )
    if len(dark) < len(unknown):
        remarks.append(
            "Without near-neutral patches it is not known whether a setting answers in colour; "
            "'greyscale chart --settings N' makes strips that tell."
        )
    if all(one.analysis.response.kind == LIGHTNESS for one in settings):
        remarks.append("All of these answer to lightness only; their tints are the driver's.")
    return tuple(remarks)
