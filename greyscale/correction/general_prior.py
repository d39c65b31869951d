"""What any printer is held to answer before its near-neutral patches are measured.

On the grey axis: that it prints the aim. Beside it: that its channels act like those of the
image's working space (sRGB, IEC 61966-2-1), at the pace at which the print's lightness rises.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import xyz_to_lab

Centre = Callable[[Array], Array]
"""CIELAB (n, 3) aimed at, by level (n,)."""

# Linear sRGB to XYZ under D50 (IEC 61966-2-1, adapted by the Bradford matrix; memory).
_SRGB_D50 = np.array([[0.4361, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7141]])

PACE = 0.85
"""Ratio of a printer's answer in a*, b* to the working space's, at equal rise of L*. Inks absorb
where they should not, which makes the answer duller. Common practice, no source: 0.5 to 0.9 was
seen on published and simulated printers, mid-tones."""

_GRID = np.linspace(0.0, 1.0, 201)


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

    def lab(self, device: Array) -> Array:
        """Give CIELAB (n, 3) of device values (n, 3)."""
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


def general_prior(lab: Array, centre: Centre) -> GeneralPrior:
    """Make the prior for a printer whose ramp was measured.

    The working space's Jacobian at each level is scaled by the mean slope of the print's L*. (The
    local slope would seem better, but is steep where black ink helps, which moves L* and hardly
    helps the colours.)

    Parameters
    ----------
    lab
        Shape (n, 3): everything measured, paper and black among it.
    centre
        The aim, by level.
    """
    whole = lab[:, 0].max() - lab[:, 0].min()
    space = _working_space_jacobian(_GRID)
    space = space / space[:, :1].sum(axis=2, keepdims=True)
    return GeneralPrior(centre(_GRID), PACE * whole * space)


def _working_space_jacobian(level: Array) -> Array:
    """Give the change of sRGB's CIELAB with R, G, B on its grey axis, shape (n, 3, 3)."""
    grey = np.repeat(np.clip(level, 0.02, 0.98)[:, np.newaxis], 3, axis=1)
    step = 0.01
    columns = [
        (_working_space(grey + step * unit) - _working_space(grey - step * unit)) / (2 * step)
        for unit in np.eye(3)
    ]
    return np.stack(columns, axis=-1)


def _working_space(rgb: Array) -> Array:
    # IEC 61966-2-1:1999, decoding to linear light.
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return xyz_to_lab(linear @ _SRGB_D50.T, _SRGB_D50.sum(axis=1))
