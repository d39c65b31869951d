"""What any printer is held to answer before its near-neutral patches are measured.

On the grey axis: that it prints the aim. Beside it: that its channels act like those of the
image's working space (sRGB, IEC 61966-2-1), at the pace at which the print's lightness rises.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array, equal_channels
from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.colorimetry.display import srgb_decoded

Centre = Callable[[Array], Array]
"""CIELAB (n, 3) aimed at, by level (n,)."""

# Linear sRGB to XYZ under D50 (IEC 61966-2-1, adapted by the Bradford matrix; memory).
_SRGB_D50 = np.array([[0.4361, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7141]])

PACE = 0.9
"""Ratio of a printer's answer in a*, b* to the working space's, at equal rise of L*: inks are
duller. Found on some twenty published and simulated printers."""

_MAGENTA_IN_BLUE = 0.25
"""Of what the green channel takes of green light, it takes this share of blue light: magenta inks
absorb blue light as well. Common practice, no source; found on the same printers."""

_FOLLOWING = 0.75  # How closely the pace follows the ramp's own slope: 0 not at all, 1 wholly.
_GRID = np.linspace(0.0, 1.0, 201)
_SMOOTHED_OVER = 0.06  # Levels, standard deviation of the window that finds the ramp's slope.
_ODDEST = 3.0  # Slopes further than this from the mean slope are not followed.


@dataclass(frozen=True, eq=False)
class GeneralPrior:
    """The supposed answer: `lab` of device values.

    Attributes
    ----------
    centre
        CIELAB of the grey axis at 201 levels, shape (201, 3).
    jacobian
        Change of L*, a*, b* with R, G, B there, shape (201, 3, 3).
    """

    centre: Array
    jacobian: Array

    def around(self, centre: Centre) -> GeneralPrior:
        """The same answers around another grey axis."""
        return GeneralPrior(centre(_GRID), self.jacobian)

    def lab(self, device: Array) -> Array:
        """Return CIELAB (n, 3) of device values (n, 3)."""
        level = device.mean(axis=1)
        offset = device - level[:, np.newaxis]
        columns = [
            np.interp(level, _GRID, self.centre[:, row])
            + sum(
                np.interp(level, _GRID, self.jacobian[:, row, channel]) * offset[:, channel]
                for channel in range(3)
            )
            for row in range(3)
        ]
        return np.stack(columns, axis=-1)


def general_prior(
    device: Array, lab: Array, centre: Centre, *, alone: bool, black_below: float | None = None
) -> GeneralPrior:
    """Make the prior for a printer whose ramp was measured.

    Parameters
    ----------
    device, lab
        Shape (n, 3): everything measured, paper and black among it.
    centre
        The aim, by level.
    alone
        Whether only the ramp was measured, so that the prior has to serve as it is: then its pace
        follows the ramp's own slope. Else the mean slope serves better, being smooth; the
        near-neutral patches tell the rest.
    black_below
        Level below which black ink helps, if that is known. It makes the ramp steeper without
        making the colours livelier.
    """
    whole = lab[:, 0].max() - lab[:, 0].min()
    pace = np.full(_GRID.shape, PACE * whole)
    if alone:
        slope = _slope_of_lightness(device.mean(axis=1), lab[:, 0])
        if black_below is not None:
            slope = _without_black(slope, black_below)
        pace = pace * np.clip(slope / whole, 1 / _ODDEST, _ODDEST) ** _FOLLOWING
    space = _working_space_jacobian(_GRID)
    space = space / space[:, :1].sum(axis=2, keepdims=True)
    return GeneralPrior(centre(_GRID), space * pace[:, np.newaxis, np.newaxis])


def _without_black(slope: Array, below: float) -> Array:
    """Take out of the ramp's slope what black ink adds, and by how much it dulls the colours."""
    above = _GRID - below
    darker = (above < -0.03) & (above > -0.12)
    lighter = (above > 0.03) & (above < 0.12)
    if not darker.any() or not lighter.any():
        return slope
    share = min(float(slope[lighter].mean() / slope[darker].mean()), 1.0)
    return np.where(above < 0, slope * share**2, slope)


def _slope_of_lightness(level: Array, L: Array) -> Array:
    """Return dL*/dlevel on the grid: straight lines fitted in a sliding window."""
    weight = np.exp(-0.5 * ((_GRID[:, np.newaxis] - level) / _SMOOTHED_OVER) ** 2) + 1e-9
    total = weight.sum(axis=1)
    mean_level, mean_L = weight @ level / total, weight @ L / total
    away = level - mean_level[:, np.newaxis]
    slope = np.sum(weight * away * (L - mean_L[:, np.newaxis]), axis=1)
    return np.asarray(np.maximum(slope / np.sum(weight * away**2, axis=1), 1e-3))


def _working_space_jacobian(level: Array) -> Array:
    """Return the change of CIELAB with R, G, B on sRGB's grey axis, by inks: shape (n, 3, 3)."""
    grey = equal_channels(np.clip(level, 0.02, 0.98))
    step = 0.01
    columns = [
        (_working_space(grey + step * unit) - _working_space(grey - step * unit)) / (2 * step)
        for unit in np.eye(3)
    ]
    jacobian = np.stack(columns, axis=-1)
    jacobian[:, :, 1] += _MAGENTA_IN_BLUE * jacobian[:, :, 2]
    return jacobian


def _working_space(rgb: Array) -> Array:
    return xyz_to_lab(srgb_decoded(rgb) @ _SRGB_D50.T, _SRGB_D50.sum(axis=1))
