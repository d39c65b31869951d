"""How a picture will print on one paper: before and after a correction, under one light."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NeutralAim
from greyscale.aims.tone import (
    DEFAULT_SCALING,
    DEFAULT_TONE_AIM,
    Encoding,
    ToneAim,
    named_encoding,
    tone_aim,
)
from greyscale.analysis.brighteners import supposed_glow
from greyscale.analysis.picture import (
    PictureNeutrality,
    PrintedTones,
    corrected_tones,
    picture_neutrality,
    printed_tones,
)
from greyscale.analysis.ramp import ramp_of
from greyscale.analysis.under_lights import under_lights
from greyscale.applying.bands import Conversion, conversion_of
from greyscale.base.errors import BadInput
from greyscale.charts.picture_tones import BINS, PictureTones
from greyscale.checks.identity import proof_words
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.display import LUMINANCE_WEIGHTS
from greyscale.colorimetry.lights import REFERENCE_LIGHT, Light, light
from greyscale.correction.evidence import refuse_another_print, with_same_glow
from greyscale.correction.for_lights import as_seen
from greyscale.correction.record import Correction, Curve
from greyscale.correction.sureness import sd_ab, with_uncertainty
from greyscale.correction.targets import neutral_aim_of, tone_aim_of
from greyscale.pictures.colour_profiles import to_xyz
from greyscale.pictures.formats import read_picture
from greyscale.pictures.metadata import orientation
from greyscale.pictures.picture import (
    MULTIPLIED,
    Codes,
    Form,
    all_grey,
    as_16_bits,
    as_floats,
    straight,
)
from greyscale.readings.reading import Reading

# A picture made small: its levels, each pixel the mean light of what it stands for.

_FINER = 2
"""The picture is averaged down to at least so many times its final size, the rest is filtered."""


@dataclass(frozen=True, eq=False)
class SmallPicture:
    """A picture made small.

    Attributes
    ----------
    levels
        Shape (height, width), upright: levels in the encoding asked for; of colours, that of the
        grey of equal luminance.
    shares
        Shape (256,): share of the whole picture in each of as many equal steps of level.
    source
        What its values stood for: a profile's name, or an encoding's.
    """

    levels: Array
    shares: Array
    pixels: int
    source: str
    remarks: tuple[str, ...]


def small_picture(
    path: Path,
    encoding: Encoding,
    stated: str | None,
    longest: int,
    advance: Callable[[float], None] | None = None,
) -> SmallPicture:
    """Read a picture and make it small, in linear light.

    Parameters
    ----------
    stated
        What the values of a picture stand for that does not say so itself.
    longest
        Pixels of its longer side, at most.
    advance
        Called with the share of the work done, from 0 to 1.

    Raises
    ------
    BadInput
        If the picture cannot be used, or nothing says what its values stand for.
    """
    from PIL import Image

    picture = read_picture(path)
    form = picture.form
    conversion = conversion_of(picture, encoding, stated)
    factor = max(1, max(form.width, form.height) // (_FINER * longest))
    light_of = _Light(form, conversion, encoding)
    counts = np.zeros(BINS)
    rows: list[Array] = []
    for luminance, done in _in_multiples(picture.bands(), light_of, factor):
        counts += np.bincount(np.searchsorted(light_of.borders, luminance.ravel()), minlength=BINS)
        # Squares of pixels become their means; at the borders, what there is of them.
        rows.append(np.asarray(Image.fromarray(np.ascontiguousarray(luminance)).reduce(factor)))
        if advance is not None:
            advance(done / form.height)
    light = _resized(np.concatenate(rows), form.width / factor, form.height / factor, longest)
    upright = _upright(light, orientation(form.metadata.exif))
    return SmallPicture(
        levels=encoding.values(upright),
        shares=counts / counts.sum(),
        pixels=form.width * form.height,
        source=conversion.source,
        remarks=picture.remarks,
    )


MakesSmall = Callable[
    [Path, Encoding, str | None, int, Callable[[float], None] | None], SmallPicture
]


class _Light:
    """The luminance, 0 to 1, of bands of a picture; what is transparent shows the paper."""

    def __init__(self, form: Form, conversion: Conversion, encoding: Encoding) -> None:
        self._form, self._conversion = form, conversion
        self._of_codes = encoding.luminance(conversion.axis).astype(np.float32)
        # Between one bin and the next, whose middles are even steps of level.
        borders = (np.arange(BINS - 1) + 0.5) / (BINS - 1)
        self.borders = encoding.luminance(borders).astype(np.float32)

    def __call__(self, band: Codes) -> Any:
        """Return float32 of shape (rows, columns)."""
        colours = band[..., : self._form.colours]
        if self._form.alpha is None:
            return self._opaque(colours)
        cover = as_floats(band[..., self._form.colours])
        if self._form.alpha == MULTIPLIED:
            colours = straight(colours, cover[..., np.newaxis])
        return cover * self._opaque(colours) + (1 - cover)

    def _opaque(self, colours: Codes) -> Any:
        if colours.shape[2] == 3 and all_grey(colours):
            colours = colours[..., :1]
        if self._conversion.profile is not None and colours.shape[2] == 3:
            values = as_floats(colours).reshape(-1, 3)
            Y = to_xyz(values, self._conversion.profile)[:, 1].astype(np.float32)
            return np.clip(Y, 0.0, 1.0).reshape(colours.shape[:2])
        light = self._of_codes[as_16_bits(colours)]
        if light.shape[2] == 1:
            return light[..., 0]
        return light @ LUMINANCE_WEIGHTS.astype(np.float32)


def _in_multiples(
    bands: Iterator[Codes], light_of: Callable[[Codes], Any], factor: int
) -> Iterator[tuple[Any, int]]:
    """Yield the light of bands, and rows done; rows come in multiples of a factor, but the last."""
    left, done = None, 0
    for band in bands:
        light = light_of(band)
        done += len(band)
        if left is not None:
            light = np.concatenate([left, light])
        end = len(light) // factor * factor
        left = light[end:] if end < len(light) else None
        if end:
            yield light[:end], done
    if left is not None:
        yield left, done


def _resized(light: Any, width: float, height: float, longest: int) -> Array:
    """Filter to the final size, by Lanczos' windowed sinc as Pillow has it.

    Width and height are the picture's; the last of its pixels may lie there in part.
    """
    from PIL import Image

    share = longest / max(width, height)
    if share >= 1:
        return np.asarray(light, dtype=np.float64)
    size = max(1, round(width * share)), max(1, round(height * share))
    image = Image.fromarray(np.ascontiguousarray(light, dtype=np.float32))
    small = image.resize(size, Image.Resampling.LANCZOS, box=(0, 0, width, height))
    return np.clip(np.asarray(small, dtype=np.float64), 0.0, 1.0)


def _upright(light: Array, lies: int) -> Array:
    """Turn a picture as its orientation asks (EXIF: 1 is upright, 2 to 8 mirrored or turned)."""
    if lies in (5, 6, 7, 8):
        light = light.T
    # After that, which sides change places: up and down, left and right.
    if lies in (3, 4, 7, 8):
        light = light[::-1]
    if lies in (2, 3, 6, 7):
        light = light[:, ::-1]
    return light


LONGEST = 1200
"""Pixels of the longer side of each picture in a preview."""


@dataclass(frozen=True, eq=False)
class Side:
    """One of two pictures side by side.

    Attributes
    ----------
    name
        What it shows, as "before".
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
    sides
        Before and after a correction; or, without one, as aimed and as it prints.
    print_name
        What was measured: the paper, else the reading's name.
    condition
        Its measuring condition, as far as it is known.
    light
        The name of the light that the print is seen under.
    expected
        How far a print made through it is expected to be from the aim, as a sentence; empty
        without one.
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
    *,
    made_small: MakesSmall = small_picture,
) -> Preview:
    """Work out how a picture prints.

    Parameters
    ----------
    reading
        Of the uncorrected ramp on this paper.
    light
        What the print is seen under.
    correction
        Shows the print before and after it; else as aimed and as it prints.
    advance
        Called with the share of the work done, from 0 to 1.
    made_small
        Makes the picture small, where it is kept for more than one preview.

    Raises
    ------
    BadInput
        If the reading does not belong to the correction, has no ramp, or no spectra for the light;
        or if the picture cannot be used.
    """
    wanted = options or PreviewOptions()
    encoding = named_encoding(wanted.aim) if correction is None else correction.picture_encoding
    if correction is not None:
        refuse_another_print(reading, correction)
    reading, guess = _as_far_as_known(reading, light, correction)
    picture = made_small(image, encoding, wanted.encoding, wanted.longest, advance)
    tones = PictureTones(
        str(image), np.linspace(0.0, 1.0, BINS), picture.shares, picture.pixels, picture.remarks
    )

    def side(
        name: str, printed: PrintedTones, tone: ToneAim, scaling: str, curve: Curve | None = None
    ) -> Side:
        return Side(name, printed, _neutrality(tones, printed, tone, scaling, curve))

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
                correction.curve,
            ),
        )
    return Preview(
        picture=picture,
        sides=sides,
        print_name=reading.paper or reading.name,
        condition=reading.condition,
        light=light.name,
        correction=None if correction is None else correction.name,
        expected=()
        if correction is None
        else (
            "The picture after is drawn as predicted; its mean ΔCh counts in how uncertain that "
            f"is. Over the whole scale {correction.expectation.after_mean_delta_Ch:.2f} is "
            f"expected, under {correction.light}.",
        ),
        remarks=(*proof_words(reading), *guess, *reading.remarks, *light.remarks, *picture.remarks),
    )


def _as_far_as_known(
    reading: Reading, light: Light, correction: Correction | None
) -> tuple[Reading, tuple[str, ...]]:
    """Return a reading with what its brightener adds, and what is to be said if that is a guess."""
    if correction is not None and correction.evidence.glow_known:
        (reading,) = with_same_glow([reading], correction)
    if light.name == REFERENCE_LIGHT or not reading.spectral or reading.glow is not None:
        return reading, ()
    (seen,) = under_lights(ramp_of(reading), [light])
    if seen.told:
        return reading, ()
    remark = (
        "Read in one condition alone: how much of this paper's colour comes from its brightener "
        f"is not known, and half of the most is assumed. Under {light.name} the paper's b* lies "
        f"between {seen.paper_b_words}, the mean ΔCh without a correction between {seen.low:.2f} "
        f"and {seen.high:.2f}; read the chart in M1 and M2 to know it."
    )
    return supposed_glow(reading), (remark,)


IN_REPORTS = 400
"""Pixels of the longer side of a picture in a correction's report."""


def preview_of_picture(correction: Correction, reading: Reading, image: Path) -> Preview | None:
    """Return the preview, under the correction's light, of the picture it was sharpened for.

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
    tones: PictureTones, printed: PrintedTones, tone: ToneAim, scaling: str, curve: Curve | None
) -> PictureNeutrality:
    """Weigh the differences by the picture; of a curve, with how far its print is unknown."""
    at = printed.measured
    delta_L = np.interp(at, printed.levels, printed.delta_L(tone, scaling))
    delta_Ch = np.interp(at, printed.levels, printed.delta_Ch)
    found = picture_neutrality(tones, at, delta_L, delta_Ch, printed.casts)
    if curve is None:
        return found
    sd = np.interp(printed.levels, curve.levels, sd_ab(curve))
    expected = with_uncertainty(printed.delta_Ch, sd)
    return replace(found, mean_delta_Ch=tones.mean_of(printed.levels, expected))


def checked_exaggeration(factor: float) -> float:
    """Return a factor for casts, if it is one.

    Raises
    ------
    BadInput
        If it is below 1 or beyond sense.
    """
    if not 1.0 <= factor <= 50.0:
        raise BadInput(f"{factor:g} is not from 1 (as it is) to 50", "--exaggerate")
    return factor
