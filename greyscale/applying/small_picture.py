"""A picture made small: its levels, each pixel the mean light of what it stands for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from greyscale.applying.conversion import Conversion, conversion_of
from greyscale.applying.encoding import Encoding
from greyscale.colorimetry.arrays import Array
from greyscale.correction.lut_3d import LUMINANCE_WEIGHTS
from greyscale.pictures.codes import all_grey, as_16_bits, as_floats, straight
from greyscale.pictures.colour_profiles import to_xyz
from greyscale.pictures.exif import orientation
from greyscale.pictures.formats import read_picture
from greyscale.pictures.picture import MULTIPLIED, Codes, Form

BINS = 256

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
    pixels
        How many pixels the picture has.
    source
        What its values stood for: a profile's name, or an encoding's.
    remarks
        What reading it decided.
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
    path
        A TIFF, PNG or JPEG.
    encoding
        That of the levels wanted.
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
    picture = read_picture(path)
    form = picture.form
    conversion = conversion_of(picture, encoding, stated)
    factor = max(1, max(form.width, form.height) // (_FINER * longest))
    light_of = _Light(form, conversion, encoding)
    counts = np.zeros(BINS)
    rows: list[Array] = []
    for light, done in _in_multiples(picture.bands(), light_of, factor):
        counts += np.bincount(np.searchsorted(light_of.borders, light.ravel()), minlength=BINS)
        rows.append(_averaged(light, factor))
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


class _Light:
    """Gives the luminance, 0 to 1, of bands of a picture; what is transparent shows the paper."""

    def __init__(self, form: Form, conversion: Conversion, encoding: Encoding) -> None:
        self._form, self._conversion = form, conversion
        self._of_codes = encoding.luminance(conversion.axis).astype(np.float32)
        # Between one bin and the next, whose middles are even steps of level.
        borders = (np.arange(BINS - 1) + 0.5) / (BINS - 1)
        self.borders = encoding.luminance(borders).astype(np.float32)

    def __call__(self, band: Codes) -> Any:
        """Give float32 of shape (rows, columns)."""
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
    """Give the light of bands, and rows done; rows come in multiples of a factor, but the last."""
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


def _averaged(light: Any, factor: int) -> Any:
    """Average squares of pixels; at the borders, what there is of them."""
    if factor == 1:
        return light
    sums = light
    for axis in (0, 1):
        starts = np.arange(0, light.shape[axis], factor)
        sums = np.add.reduceat(sums, starts, axis=axis, dtype=np.float32)
        sizes = np.diff(np.append(starts, light.shape[axis])).astype(np.float32)
        sums = sums / (sizes[:, np.newaxis] if axis == 0 else sizes)
    return sums


def _resized(light: Any, width: float, height: float, longest: int) -> Array:
    """Filter to the final size, by Lanczos' windowed sinc as Pillow has it.

    Parameters
    ----------
    width, height
        Of the picture in its pixels; the last ones of a row and column may lie there in part.
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
