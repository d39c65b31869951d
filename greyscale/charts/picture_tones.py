"""Which tones a picture uses, and how much of it lies in each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.charts.patches import DEFAULT_BITS, Plan, distinct, greys, spread
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.colorimetry.display import LUMINANCE_WEIGHTS, srgb_decoded, srgb_encoded
from greyscale.pictures.picture import Codes, Form, Picture, as_16_bits

BINS = 256
_TABLE = 1 << 16

_KEPT_FOR_THE_REST = 0.15
"""Share of the patches spread over all levels, so that the other tones are not let go."""

_BLUR = 3.0
"""Neighbouring tones tell of each other; the shares are smoothed by this many bins (sd)."""


@dataclass(frozen=True, eq=False)
class PictureTones:
    """How much of a picture lies at each level.

    Attributes
    ----------
    source
        The picture's path, as it was given.
    levels
        Shape (256,), rising from 0 to 1: middle of each bin.
    shares
        Shape (256,): share of the picture's area in each; they add up to 1.
    remarks
        What the reader decided, as sentences to be shown.
    """

    source: str
    levels: Array
    shares: Array
    pixels: int
    remarks: tuple[str, ...] = ()

    def share_between(self, low: float, high: float) -> float:
        """Return the share of the picture with levels from `low` to `high`, both included.

        Bins are cut where the borders cut them.
        """
        half = 0.5 / (BINS - 1)
        left = np.maximum(self.levels - half, 0.0)
        right = np.minimum(self.levels + half, 1.0)
        inside = np.minimum(right, high + 1e-9) - np.maximum(left, low - 1e-9)
        return float(np.sum(self.shares * np.clip(inside / (right - left), 0.0, 1.0)))

    def mean_of(self, levels: Array, values: Array) -> float:
        """Return the picture-share mean of values known by rising levels."""
        return float(self.shares @ np.interp(self.levels, levels, values))

    def quantile(self, share: float) -> float:
        """Return the level below which this share of the picture lies."""
        index = int(np.searchsorted(np.cumsum(self.shares), share - 1e-12))
        return float(self.levels[min(index, BINS - 1)])

    @property
    def weight(self) -> Array:
        """Shape (256,), mean 1: the shares smoothed, with a little for every level."""
        from scipy.ndimage import gaussian_filter1d

        smooth = gaussian_filter1d(self.shares * BINS, _BLUR, mode="nearest")
        weight = smooth + _KEPT_FOR_THE_REST
        return np.asarray(weight / weight.mean())

    @property
    def density(self) -> Array:
        """Shape (256,), mean 1: how dense patches should lie.

        The variance of a fitted curve goes with one over the density of patches. The mean of it
        over the picture is least where the density goes with the square root of the shares.
        """
        from scipy.ndimage import gaussian_filter1d

        root = np.sqrt(gaussian_filter1d(self.shares, _BLUR, mode="nearest"))
        density = (1 - _KEPT_FOR_THE_REST) * root / root.mean() + _KEPT_FOR_THE_REST
        return np.asarray(density)


def picture_tones(
    given: Path | str | Picture, advance: Callable[[float], None] | None = None
) -> PictureTones:
    """Count a picture's tones.

    The level of a grey pixel is its value over full scale; that of a coloured one is the grey of
    equal luminance in sRGB encoding. Transparent pixels are not counted. TIFFs are read
    in strips, so that big ones fit.

    Parameters
    ----------
    given
        A picture that `greyscale.pictures` reads: TIFF, PNG or JPEG, grey or RGB; or one opened.
    advance
        Called with the share of the work done, from 0 to 1.

    Raises
    ------
    BadInput
        If it is not a picture, is damaged, is CMYK or CIELAB, or has nothing in it.
    """
    counts = np.zeros(BINS, dtype=np.int64)
    from greyscale.pictures.formats import read_picture

    picture = given if isinstance(given, Picture) else read_picture(given)
    done = 0
    for band in picture.bands():
        counts += np.bincount(_bins(band, picture.form), minlength=BINS)
        done += len(band)
        if advance is not None:
            advance(done / picture.form.height)
    total = int(counts.sum())
    if total == 0:
        raise BadInput("the picture holds no pixel that is not transparent", picture.path)
    return PictureTones(
        str(picture.path), np.linspace(0.0, 1.0, BINS), counts / total, total, picture.remarks
    )


def _bins(band: Codes, form: Form) -> Indices:
    """The bin of each pixel of a band (rows, columns, channels), but the transparent ones."""
    flat = band.reshape(-1, form.channels)
    if form.alpha is not None:
        flat = flat[flat[:, form.colours] > 0]
    colours = flat[:, : form.colours]
    codes: Codes = colours if colours.dtype == np.uint8 else as_16_bits(colours)
    full_scale = int(np.iinfo(codes.dtype).max)
    if form.colours == 1:
        shares = np.arange(full_scale + 1) / full_scale
        return np.floor(shares * (BINS - 1) + 0.5).astype(np.intp)[codes[:, 0]]
    tables, to_bin = _luminance_tables(full_scale)
    total = tables[0][codes[:, 0]] + tables[1][codes[:, 1]] + tables[2][codes[:, 2]]
    return np.asarray(to_bin[(total + 128) >> 8])


def _luminance_tables(full_scale: int) -> tuple[list[Indices], Indices]:
    """Return luminance by code of R, G, B in whole numbers, and the bin of a luminance / 256."""
    value = np.arange(full_scale + 1) / full_scale
    linear = srgb_decoded(value)
    scale = (_TABLE - 1) * 256
    tables = [np.round(linear * share * scale).astype(np.int64) for share in LUMINANCE_WEIGHTS]
    Y = np.arange(_TABLE + 1) / (_TABLE - 1)
    bins = np.floor(np.clip(srgb_encoded(Y), 0, 1) * (BINS - 1) + 0.5)
    return tables, np.asarray(bins, dtype=np.intp)


def picture_chart_tones(tones: PictureTones, count: int, bits: int = DEFAULT_BITS) -> Plan:
    """Choose the tones of a chart made for a picture.

    Paper and black are always among them. The rest lies as dense as `PictureTones.density`.
    """
    levels = distinct(spread(count, tones.density, tones.levels), bits)
    middle = (levels[1:] + levels[:-1]) / 2
    borders = np.concatenate([[0.0], middle, [1.0]])
    reasons = [
        f"picture: {tones.share_between(low, high):.1%} of it lies nearest to this tone"
        for low, high in pairwise(borders)
    ]
    reasons[0] = reasons[-1] = "paper and black"
    low, high = tones.quantile(0.1), tones.quantile(0.9)
    there = int(np.sum((levels >= low) & (levels <= high)))
    why = (
        f"{there} of {levels.size} tones lie between levels {low:.2f} and {high:.2f}, as eight "
        "tenths of the picture do; the others keep the rest of the scale, paper and black"
    )
    return Plan(greys(levels, reasons), (why,))
