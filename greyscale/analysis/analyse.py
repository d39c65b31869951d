"""The analysis of one reading: neutrality, tonality, and what the lights do to both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NeutralAim, neutral_aim_name
from greyscale.aims.tolerances import DEFAULT_TOLERANCE, Tolerance
from greyscale.aims.tolerances import tolerance as tolerance_grade
from greyscale.aims.tone import DEFAULT_SCALING, DEFAULT_TONE_AIM, ToneAim, tone_aim
from greyscale.analysis.brighteners import WITHOUT_UV
from greyscale.analysis.certainty import PASS, both
from greyscale.analysis.neutrality import Drift, Neutrality, assess_neutrality, drift, to_be_named
from greyscale.analysis.picture import PictureNeutrality, on_paper, picture_neutrality
from greyscale.analysis.ramp import Ramp, ramp_of
from greyscale.analysis.response import Response, response
from greyscale.analysis.tonality import Tonality, aim_lightness, assess_tonality
from greyscale.analysis.under_lights import UnderLight, loss_words, under_lights
from greyscale.base.errors import BadInput, not_known
from greyscale.base.rests_on import REGISTER, Support, supports
from greyscale.base.results import Presented, PrintFacts, filled
from greyscale.checks.finding import SpoiltPatch
from greyscale.checks.identity import proof_words, sent_otherwise
from greyscale.colorimetry.arrays import Array, Mask
from greyscale.colorimetry.cielab import delta_E_2000
from greyscale.colorimetry.lights import REFERENCE_LIGHT, REQUIRED_LIGHTS, Light
from greyscale.colorimetry.observers import OBSERVERS
from greyscale.readings.lamps import find_lights
from greyscale.readings.reading import Reading, Repeatability, average_repeats

if TYPE_CHECKING:
    from greyscale.charts.picture_tones import PictureTones

NO_SPECTRA = (
    "The reading has no spectra, so nothing can be said about other lights; "
    "measure again with an instrument that gives spectra."
)


@dataclass(frozen=True)
class ReadingFacts(PrintFacts):
    """What reading an analysis is of.

    Attributes
    ----------
    name, source, condition, backing, glow_source
        As in `Reading`.
    patches
        How many patches were measured, repeats and those beside the axis with them.
    spectral
        Whether there are spectra.
    observer
        "2" or "10": the observer that the analysis is for.
    repeatability
        How well repeats agree.
    sent_otherwise
        Whether its sheet's own code says that it was sent through a correction.
    """

    name: str
    source: str
    patches: int
    spectral: bool
    observer: str
    repeatability: Repeatability
    glow_source: str | None = None
    sent_otherwise: bool = False

    @property
    def files(self) -> tuple[str, ...]:
        """The files that it was read from: in M1, and in M2 where that is another."""
        return tuple(dict.fromkeys(filter(None, (self.source, self.glow_source))))


@dataclass(frozen=True, eq=False)
class PatchTable:
    """The ramp against its aims, by falling level; n patches.

    Attributes
    ----------
    ids
        `SAMPLE_ID` of each (the first where repeats were averaged).
    level, density, delta_L, delta_Ch, delta_E00
        Shape (n,). Density is visual, relative to the perfect diffuser. Differences are measured
        minus aim.
    lab, aim_lab
        Shape (n, 3): L* of the tone aim; a*, b* of the neutral aim at the measured L*.
    delta_ab
        Shape (n, 2).
    counts
        Shape (n,): how many measurements each is the mean of.
    paper_index, black_index
        Which patches are paper white and black.
    """

    ids: tuple[str, ...]
    level: Array
    lab: Array
    density: Array
    aim_lab: Array
    delta_L: Array
    delta_ab: Array
    delta_Ch: Array
    delta_E00: Array
    counts: Array
    paper_index: int
    black_index: int

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def is_tone(self) -> Mask:
        """Which patches are neither paper white nor black, shape (n,)."""
        mask = np.ones(len(self), dtype=np.bool_)
        mask[[self.paper_index, self.black_index]] = False
        return mask


@dataclass(frozen=True, eq=False, repr=False)
class Analysis(Presented):
    """Everything that is found in one reading.

    Attributes
    ----------
    reading
        What was measured, and how.
    paper, black
        Shape (3,): L*, a*, b* of paper white and black.
    patches
        The ramp against its aims.
    neutrality, tone
        What is found under D50.
    response
        How the driver answers, as far as this chart tells.
    lights
        The ramp under each light, D50 with it; None without spectra.
    lights_absent
        Why `lights` is None; else None.
    remarks
        What had to be decided, or is missing, as sentences to be shown.
    picture
        What it means for a picture, where one was given.
    rests_on
        The standards, constants and data behind the figures.
    spoilt
        Patches out of line with all the others, which were set aside.
    """

    reading: ReadingFacts
    paper: Array
    black: Array
    patches: PatchTable
    neutrality: Neutrality
    tone: Tonality
    response: Response
    lights: tuple[UnderLight, ...] | None
    lights_absent: str | None
    remarks: tuple[str, ...]
    picture: PictureNeutrality | None = None
    rests_on: tuple[Support, ...] = ()
    spoilt: tuple[SpoiltPatch, ...] = ()

    @property
    def verdict(self) -> str:
        """Whether the print keeps its grade: "pass", "fail" or "cannot be told"."""
        return both(self.neutrality.probability, self.tone.probability)[0]

    @property
    def probability(self) -> float:
        """The probability that it does, the reading's noise allowed for."""
        return both(self.neutrality.probability, self.tone.probability)[1]

    @property
    def passes(self) -> bool:
        """Whether the verdict is "pass"."""
        return self.verdict == PASS

    @property
    def worst_light(self) -> UnderLight | None:
        """The light with the largest mean ΔCh, of those that can be told; None without spectra."""
        told = [light for light in self.lights or () if light.told]
        return max(told, key=lambda light: light.mean_delta_Ch, default=None)


def analyse(
    reading: Reading,
    *,
    aim: str | Path | ToneAim = DEFAULT_TONE_AIM,
    scaling: str = DEFAULT_SCALING,
    neutral: NeutralAim = DEFAULT_NEUTRAL_AIM,
    lights: Sequence[str | Light] = REQUIRED_LIGHTS,
    observer: str | None = None,
    tolerance: str | Tolerance = DEFAULT_TOLERANCE,
    picture: PictureTones | None = None,
) -> Analysis:
    """Analyse the grey ramp of a reading.

    Repeats are averaged first; patches beside the grey axis take no part.

    Parameters
    ----------
    reading
        The reading; its CIELAB is taken as D50.
    aim, scaling
        The tone aim, and how it is fitted to the print's own black and paper (see
        `greyscale.aims.tone`).
    neutral
        The neutral aim: "fading", "adapting", "paper" or "absolute"; or an aim of its own.
    lights
        Lights to look under: as they are, or by what `find_light` knows them by.
    observer
        "2" or "10"; None is the reading's own. Another than the reading's needs spectra.
    tolerance
        The grade to judge by: "exhibition" or "contract-proof".
    picture
        The tones of a picture to weigh what is found by.

    Raises
    ------
    BadInput
        For a reading without a ramp; an aim, light, observer or grade that is not known; another
        observer without spectra.
    """
    limits = tolerance_grade(tolerance)
    neutral_name = neutral_aim_name(neutral)
    wanted_lights = find_lights(lights)
    observed = _for_observer(reading, observer)
    ramp = ramp_of(observed)
    tone = tone_aim(aim)
    found = drift(ramp, neutral)
    spectral = reading.spectral
    table = _table(ramp, found, aim_lightness(ramp, tone, scaling))
    seen = under_lights(ramp, wanted_lights, neutral) if spectral else None
    scale = assess_tonality(ramp, tone, scaling, limits)
    return Analysis(
        reading=filled(
            ReadingFacts,
            observed,
            ramp,
            patches=len(observed),
            sent_otherwise=sent_otherwise(reading),
        ),
        paper=ramp.lab()[ramp.paper_index],
        black=ramp.lab()[ramp.black_index],
        patches=table,
        neutrality=assess_neutrality(ramp, found, neutral, limits),
        tone=scale,
        response=_response(observed),
        lights=seen,
        lights_absent=None if spectral else NO_SPECTRA,
        remarks=(
            *proof_words(reading),
            *reading.remarks,
            *ramp.remarks,
            *_own_remarks(ramp),
            *_brightener_remarks(ramp, seen or ()),
            *loss_words(
                ramp.reading.spectra,
                ramp.reading.wavelengths,
                [*find_lights([REFERENCE_LIGHT]), *wanted_lights],
                observed.observer,
            ),
            *(f"{one.name}: {remark}" for one in wanted_lights for remark in one.remarks),
            *(() if picture is None else picture.remarks),
        ),
        picture=None
        if picture is None
        else replace(
            picture_neutrality(
                picture, table.level, table.delta_L, table.delta_Ch, to_be_named(found.casts)
            ),
            on_paper=on_paper(
                picture,
                scale,
                tone,
                float(table.lab[ramp.black_index, 0]),
                float(table.lab[ramp.paper_index, 0]),
            ),
        ),
        rests_on=_supports(ramp, tone, neutral_name, limits, seen or (), wanted_lights),
        spoilt=ramp.spoilt,
    )


def _supports(
    ramp: Ramp,
    tone: ToneAim,
    neutral: str,
    limits: Tolerance,
    seen: Sequence[UnderLight],
    lights: Sequence[Light],
) -> tuple[Support, ...]:
    spectral = ramp.reading.spectral
    keys = ["cielab", *(("weights", "cie-tables", "density") if spectral else ("density-from-L",))]
    keys += ["delta-Ch", "delta-E00"]
    keys += [key for key in (neutral, limits.name) if key in REGISTER]
    keys += ["proof-tone"] if limits.name == "contract-proof" else []
    keys += ["sRGB-tone"] if tone.name == "srgb" else []
    keys += ["verdicts", "visible-cast", "distinct"]
    keys += [] if ramp.repeatability.known else ["repeatability"]
    if spectral:
        keys += ["metamerism-index", "inconstancy"]
        # Of a print read in one condition, figures lie somewhere in a range.
        guessed = ["emission", "brightened-paper"] if any(s.high > s.low for s in seen) else []
        known = ["excitation"] if seen else []
        keys += guessed if ramp.reading.glow is None else known
        keys += [key for one in lights for key in one.rests_on]
    return supports(*keys)


def _for_observer(reading: Reading, observer: str | None) -> Reading:
    if observer is not None and observer not in OBSERVERS:
        raise not_known("observer", observer, OBSERVERS)
    if observer is None or observer == reading.observer:
        return reading
    if not reading.spectral:
        raise BadInput(
            f"the reading holds CIELAB for the {reading.observer}° observer and no spectra, so "
            f"it cannot be computed for {observer}°; leave the observer out, or measure spectra",
            reading.source,
        )
    return replace(reading, observer=observer, lab=reading.lab_under("D50", observer))


def _response(reading: Reading) -> Response:
    averaged = average_repeats(reading)
    repeats = averaged.repeatability
    each = averaged.reading
    return response(each.device, each.lab, averaged.counts, repeats.sd_L, repeats.sd_Ch)


def _table(ramp: Ramp, found: Drift, aim_L: Array) -> PatchTable:
    lab = ramp.lab()
    aim_lab = np.column_stack([aim_L, found.aim_ab])
    return filled(
        PatchTable,
        ramp,
        found,
        ids=ramp.reading.ids,
        lab=lab,
        density=ramp.reading.density,
        aim_lab=aim_lab,
        delta_L=lab[:, 0] - aim_L,
        delta_E00=delta_E_2000(lab, aim_lab),
    )


def _brightener_remarks(ramp: Ramp, seen: Sequence[UnderLight]) -> tuple[str, ...]:
    others = [one for one in seen if one.name != REFERENCE_LIGHT]
    if ramp.reading.condition == WITHOUT_UV and ramp.reading.glow is None and others:
        return (
            "Read without ultraviolet (M2): under other lights it is the print as it looks "
            "where no ultraviolet reaches it.",
        )
    open_ones = [one for one in others if not one.told]
    if not open_ones:
        return ()
    paper = "; ".join(
        f"under {one.name} the paper's b* lies between {one.paper_b_words}, the mean ΔCh between "
        f"{one.low:.2f} and {one.high:.2f}"
        for one in open_ones
    )
    if ramp.reading.glow is not None:
        return (
            f"How strongly these lamps excite the brightener is known only within limits: {paper}.",
        )
    condition = ramp.reading.condition or "one condition"
    return (
        f"Read in {condition} alone, so how much of this paper's colour comes from its "
        f"brightener is not known: {paper}. Read the chart in M1 and M2 and give both to know it.",
    )


def _own_remarks(ramp: Ramp) -> tuple[str, ...]:
    remarks = []
    if not ramp.repeatability.known:
        remarks.append(
            f"Nothing was measured twice: the repeatability is taken to be "
            f"{ramp.repeatability.sd_Ch:.2f}."
        )
    if not ramp.reading.spectral:
        remarks.append("Density is −log10(Y/100) from L*, for want of spectra.")
    if ramp.reading.condition is None:
        remarks.append("The reading does not say its measuring condition (M0 to M3).")
    return tuple(remarks)
