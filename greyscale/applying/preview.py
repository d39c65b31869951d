"""How a picture will print on one paper: before and after a correction, under one light."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NeutralAim
from greyscale.aims.tone import DEFAULT_SCALING, DEFAULT_TONE_AIM, ToneAim, tone_aim
from greyscale.analysis.brighteners import supposed_glow
from greyscale.analysis.metamerism import under_lights
from greyscale.analysis.picture import PictureNeutrality, picture_neutrality
from greyscale.analysis.printed_tones import (
    MEASURED_LIGHT,
    PrintedTones,
    corrected_tones,
    printed_tones,
)
from greyscale.analysis.ramp import ramp_of
from greyscale.applying.encoding import encoding_of, named_encoding
from greyscale.applying.small_picture import BINS, SmallPicture, small_picture
from greyscale.base.errors import BadInput
from greyscale.charts.picture_tones import PictureTones
from greyscale.colorimetry.lights import Light, light
from greyscale.correction.evidence import refuse_another_print, with_same_glow
from greyscale.correction.for_lights import as_seen
from greyscale.correction.own_aims import neutral_aim_of, tone_aim_of
from greyscale.correction.record import Correction
from greyscale.readings.reading import Reading

LONGEST = 1200
"""Pixels of the longer side of each picture in a preview."""


@dataclass(frozen=True, eq=False)
class Side:
    """One of two pictures side by side.

    Attributes
    ----------
    name
        What it shows, as "before".
    tones
        How each level prints.
    neutrality
        What that means for this picture: ΔCh over its tones, and how much of it lies in casts.
    """

    name: str
    tones: PrintedTones
    neutrality: PictureNeutrality


@dataclass(frozen=True, eq=False)
class Preview:
    """A picture as it will print.

    Attributes
    ----------
    picture
        The picture, made small.
    sides
        Before and after a correction; or, without one, as aimed and as it prints.
    print_name
        What was measured: the paper, else the reading's name.
    condition
        Its measuring condition, as far as it is known.
    light
        The name of the light that the print is seen under.
    correction
        The correction's name, if there is one.
    expected
        How far a print made through it is expected to be from the aim, as a sentence; empty
        without one.
    remarks
        What was decided, as sentences to be shown.
    """

    picture: SmallPicture
    sides: tuple[Side, Side]
    print_name: str
    condition: str | None
    light: str
    correction: str | None
    expected: tuple[str, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class PreviewOptions:
    """What a preview is asked to show.

    Attributes
    ----------
    encoding
        What the values of a picture stand for that does not say so itself.
    aim
        Tone aim, and the encoding in which the picture goes to the printer, where no correction
        decides them.
    neutral
        Neutral aim, likewise.
    longest
        Pixels of the longer side of each picture.
    """

    encoding: str | None = None
    aim: str = DEFAULT_TONE_AIM
    neutral: str = DEFAULT_NEUTRAL_AIM
    longest: int = LONGEST


def preview(
    reading: Reading,
    image: Path,
    light: Light,
    correction: Correction | None = None,
    options: PreviewOptions | None = None,
    advance: Callable[[float], None] | None = None,
) -> Preview:
    """Work out how a picture prints.

    Parameters
    ----------
    reading
        Of the uncorrected ramp on this paper.
    image
        The picture, before any correction.
    light
        What the print is seen under.
    correction
        Shows the print before and after it; else as aimed and as it prints.
    options
        See `PreviewOptions`.
    advance
        Called with the share of the work done, from 0 to 1.

    Raises
    ------
    BadInput
        If the reading does not belong to the correction, has no ramp, or no spectra for the light;
        or if the picture cannot be used.
    """
    wanted = options or PreviewOptions()
    encoding = named_encoding(wanted.aim) if correction is None else encoding_of(correction)
    if correction is not None:
        refuse_another_print(reading, correction)
    reading, guess = _as_far_as_known(reading, light, correction)
    picture = small_picture(image, encoding, wanted.encoding, wanted.longest, advance)
    tones = PictureTones(
        str(image), np.linspace(0.0, 1.0, BINS), picture.shares, picture.pixels, picture.remarks
    )

    def side(name: str, printed: PrintedTones, tone: ToneAim, scaling: str) -> Side:
        return Side(name, printed, _neutrality(tones, printed, tone, scaling))

    if correction is None:
        tone, scaling = tone_aim(wanted.aim), DEFAULT_SCALING
        printed = printed_tones(reading, light, wanted.neutral)
        sides = (
            side("as aimed", printed.aimed(tone, scaling), tone, scaling),
            side("as it prints", printed, tone, scaling),
        )
    else:
        tone, scaling = tone_aim_of(correction), correction.scaling
        neutral: NeutralAim = neutral_aim_of(correction, light.name)
        levels, lab = correction.curve.levels, correction.curve.lab
        known = next((one for one in correction.lights if one.name == light.name), None)
        if known is not None:
            # As the correction knows this light, its observer and the brightener.
            light, lab = known.light, known.lab
            levels = np.linspace(0.0, 1.0, len(lab))
        own = as_seen(reading, correction, None if known is None else light)
        sides = (
            side("before", printed_tones(own, light, correction.neutral), tone, scaling),
            side(
                "after, as predicted",
                corrected_tones(own, light, neutral, levels, lab),
                tone,
                scaling,
            ),
        )
    return Preview(
        picture=picture,
        sides=sides,
        print_name=reading.paper or reading.name,
        condition=reading.condition,
        light=light.name,
        correction=None if correction is None else correction.name,
        expected=() if correction is None else (_expected(correction),),
        remarks=(*guess, *reading.remarks, *light.remarks, *picture.remarks),
    )


def _as_far_as_known(
    reading: Reading, light: Light, correction: Correction | None
) -> tuple[Reading, tuple[str, ...]]:
    """Return a reading with what its brightener adds, and what is to be said if that is a guess."""
    if correction is not None and correction.evidence.glow_known:
        (reading,) = with_same_glow([reading], correction)
    if light.name == MEASURED_LIGHT or not reading.spectral or reading.glow is not None:
        return reading, ()
    (seen,) = under_lights(ramp_of(reading), [light])
    if seen.told:
        return reading, ()
    remark = (
        "Read in one condition alone: how much of this paper's colour comes from its brightener "
        f"is not known, and half of the most is assumed. Under {light.name} the paper's b* lies "
        f"between {seen.paper_b_words}; read the chart in M1 and M2 to know it."
    )
    return supposed_glow(reading), (remark,)


IN_REPORTS = 400
"""Pixels of the longer side of a picture in a correction's report."""


def preview_of_picture(correction: Correction, reading: Reading, image: Path) -> Preview | None:
    """Give the preview, under the correction's light, of the picture it was sharpened for.

    A picture without a profile is taken as what the correction expects. None where the picture
    has tones that can be counted, and yet cannot be shown.

    Parameters
    ----------
    correction
        A first round.
    reading
        Of the uncorrected ramp.
    """
    options = PreviewOptions(encoding=correction.aim, longest=IN_REPORTS)
    try:
        own = correction.lights[0].light if correction.lights else light("D50")
        return preview(reading, image, own, correction, options)
    except BadInput:
        return None


def _neutrality(
    tones: PictureTones, printed: PrintedTones, tone: ToneAim, scaling: str
) -> PictureNeutrality:
    at = printed.measured
    delta_L = np.interp(at, printed.levels, printed.delta_L(tone, scaling))
    delta_Ch = np.interp(at, printed.levels, printed.delta_Ch)
    return picture_neutrality(tones, at, delta_L, delta_Ch, printed.casts)


def _expected(correction: Correction) -> str:
    return (
        "The prediction is shown as it stands; with its uncertainty, a print is expected at mean "
        f"ΔCh {correction.expectation.after_mean_delta_Ch:.2f} over the whole scale, under "
        f"{correction.light}."
    )


def checked_exaggeration(factor: float) -> float:
    """Give a factor for casts, if it is one.

    Raises
    ------
    BadInput
        If it is below 1 or beyond sense.
    """
    if not 1.0 <= factor <= 50.0:
        raise BadInput(f"{factor:g} is not from 1 (as it is) to 50", "--exaggerate")
    return factor
