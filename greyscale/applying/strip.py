"""A control strip in the margin of a picture: its tones, where they lie, what is sent for them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.applying.bands import Conversion
from greyscale.base.errors import BadInput
from greyscale.charts.patches import distinct, spread
from greyscale.charts.picture_tones import PictureTones
from greyscale.colorimetry.arrays import Array, equal_channels
from greyscale.correction.record import Correction
from greyscale.pictures.metadata import orientation
from greyscale.pictures.picture import ASPECT, PER_CM, Codes, Form
from greyscale.readings.layout import Layout

ABOVE, BELOW, LEFT, RIGHT = "above", "below", "left", "right"
SIDES = (BELOW, ABOVE, LEFT, RIGHT)
"""Of the picture as it is looked at."""

FEWEST, MOST = 9, 12
"""Tones of a strip."""

PATCH_MM, LEAST_MM, GAP_MM = 12.0, 7.0, 1.0
"""Side of a patch, the least of it, and the bare paper between patches and round them: what a hand
finds and an aperture of 4 to 6 mm needs; common practice, no source."""

USUAL_DPI = 300.0

_OPPOSITE = {ABOVE: BELOW, BELOW: ABOVE, LEFT: RIGHT, RIGHT: LEFT}
# EXIF 2.32, tag 274: which side of the picture as it is looked at the first row and the first
# column of what is stored are.
_FIRST = {
    1: (ABOVE, LEFT), 2: (ABOVE, RIGHT), 3: (BELOW, RIGHT), 4: (BELOW, LEFT),
    5: (LEFT, ABOVE), 6: (RIGHT, ABOVE), 7: (RIGHT, BELOW), 8: (LEFT, BELOW),
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Strip:
    """A control strip.

    Attributes
    ----------
    levels
        Shape (n,), rising from black to bare paper: left to right, or down, as it is looked at.
    side
        Of the picture as it is stored.
    backwards
        Whether its first tone comes last in what is stored.
    patch, gap
        Pixels.
    """

    levels: Array
    side: str
    backwards: bool
    patch: int
    gap: int

    @property
    def depth(self) -> int:
        """Pixels by which the picture grows."""
        return self.patch + 2 * self.gap

    @property
    def is_row(self) -> bool:
        """Whether it lies along the rows of what is stored."""
        return self.side in (ABOVE, BELOW)

    def layout(self, name: str, correction: Correction) -> Layout:
        """The layout by which the strip is read: its levels are those before the correction."""
        numbers = [str(number) for number in range(1, len(self.levels) + 1)]
        return Layout(
            name=name,
            ids=tuple(numbers),
            places=tuple(f"A{number}" for number in numbers),
            device=equal_channels(self.levels),
            fields={"CHART_SETTINGS": "control strip", "CHART_THROUGH": correction.title},
        )

    def beside(self, form: Form, tones: Codes, bands: Iterator[Codes]) -> Iterator[Codes]:
        """Put the strip beside a picture's bands.

        Parameters
        ----------
        form
            Of the picture without it.
        tones
            Shape (n, channels): what is stored for each of the levels.
        """
        strip = self._pixels(form.width if self.is_row else form.height, tones)
        if self.is_row:
            if self.side == ABOVE:
                yield strip
            yield from bands
            if self.side == BELOW:
                yield strip
            return
        strip, row = strip.swapaxes(0, 1), 0
        for band in bands:
            own = strip[row : row + len(band)]
            yield np.concatenate([own, band] if self.side == LEFT else [band, own], axis=1)
            row += len(band)

    def _pixels(self, along: int, tones: Codes) -> Codes:
        """The strip as rows; in the middle of the side, on bare paper."""
        pixels = np.repeat(tones[-1:], self.depth * along, axis=0)
        pixels = pixels.reshape(self.depth, along, tones.shape[1])
        step = self.patch + self.gap
        start = (along - len(tones) * step + self.gap) // 2
        for number, tone in enumerate(tones[::-1] if self.backwards else tones):
            left = start + number * step
            pixels[self.gap : self.gap + self.patch, left : left + self.patch] = tone
        return pixels


def strip_of(
    side: str, form: Form, tones: PictureTones, correction: Correction, conversion: Conversion
) -> Strip:
    """Choose a strip: tones where the picture has most and the correction is least sure.

    Parameters
    ----------
    side
        One of `SIDES`.
    form, tones
        Of the picture.
    conversion
        From its values to levels.

    Raises
    ------
    BadInput
        If the side has no room for `FEWEST` patches of `LEAST_MM`.
    """
    if side not in SIDES:
        raise BadInput(f"there is no side '{side}'; take one of {', '.join(SIDES)}", "--strip")
    first_row, first_column = _FIRST.get(orientation(form.metadata.exif), _FIRST[1])
    sides = {first_row: ABOVE, first_column: LEFT}
    sides |= {_OPPOSITE[seen]: _OPPOSITE[stored] for seen, stored in sides.items()}
    stored = sides[side]
    beginning = first_column if stored in (ABOVE, BELOW) else first_row
    along = form.width if stored in (ABOVE, BELOW) else form.height
    mm = _pixels_per_mm(form)
    gap = max(round(GAP_MM * mm), 1)
    for count in range(MOST, FEWEST - 1, -1):
        patch = min(int(PATCH_MM * mm), (along - gap) // count - gap)
        if patch >= LEAST_MM * mm:
            levels = _levels(count, tones, correction, conversion)
            return Strip(levels, stored, beginning in (RIGHT, BELOW), patch, gap)
    least = FEWEST * (LEAST_MM + GAP_MM) + GAP_MM
    raise BadInput(
        f"the side '{side}' is {along / mm:.0f} mm long, and a strip of {FEWEST} tones needs "
        f"{least:.0f}; take another side, or a larger picture",
        tones.source,
    )


def _pixels_per_mm(form: Form) -> float:
    resolution = form.metadata.resolution
    if resolution is None or resolution.unit == ASPECT or resolution.x <= 0:
        return USUAL_DPI / 25.4
    return float(resolution.per(PER_CM).x) / 10.0


def _levels(
    count: int, tones: PictureTones, correction: Correction, conversion: Conversion
) -> Array:
    """The levels, black and paper among them.

    A tone tells as much as the picture has of it, times the variance that the correction leaves
    open there; patches lie as dense as the root of it, as in a picture's chart.
    """
    # The picture's values, as shares, at the levels that the correction takes them for.
    axis = conversion.axis
    levels = tones.levels
    if not conversion.unchanged:
        levels = np.interp(tones.levels, np.linspace(0.0, 1.0, len(axis)), axis)
    curve = correction.curve
    open_still = np.mean(curve.sd, axis=1)
    density = tones.density * np.interp(levels, curve.levels, open_still / open_still.mean() + 0.25)
    grid = np.linspace(0.0, 1.0, len(levels))
    return distinct(spread(count, np.interp(grid, levels, density), grid), correction.bits)


def layout_path(target: Path) -> Path:
    """Where the layout of a picture's strip goes.

    Examples
    --------
    >>> layout_path(Path("print/fog.tif")).name
    'fog-strip.txt'
    """
    return target.with_name(f"{target.stem}-strip.txt")
