"""How much of each ink a device colour prints: the simulated driver's separation."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import luminance

_SOFTNESS = 6.0  # How closely the grey part follows the least of the three channels.
# Red, green and blue in it: yellow darkens least, so it decides least about the greys.
_WEIGHTS = np.array([0.4, 0.45, 0.15])
_TAPER = 0.05  # How softly an ink runs out when its channel asks for less than none.


@dataclass(frozen=True)
class Separation:
    """A driver's table: which inks make a grey, and how colour is added to it.

    Attributes
    ----------
    darkness
        Tones at which the table has rows: 0 is paper, 1 is black; shape (k,).
    shares
        Share of the grey's density that each ink gives, in the order of the inks: k rows of 6.
    balance
        Cyan, magenta and yellow that make a neutral of density 1.
    L_paper, L_black
        The L* that the driver was made to reach.
    floor
        Luminance, of 100, that the driver believes the surface to give.
    tone
        How far the tone curve strays from evenness in L*: amplitudes of sine waves of 1, 2, 3
        half periods.
    """

    darkness: tuple[float, ...]
    shares: tuple[tuple[float, ...], ...]
    balance: tuple[float, float, float]
    L_paper: float
    L_black: float
    floor: float
    tone: tuple[float, ...] = ()

    def demand(self, darkness: Array) -> Array:
        """Give the density of ink that a darkness asks for; any shape."""
        tone = darkness.copy()
        for order, amplitude in enumerate(self.tone, start=1):
            tone = tone + amplitude * np.sin(np.pi * order * darkness)
        L = self.L_paper - (self.L_paper - self.L_black) * tone
        paper = float(luminance(self.L_paper))
        bare = np.asarray(luminance(L)) - self.floor
        return np.asarray(-np.log10(np.maximum(bare, 1e-3) / (paper - self.floor)))

    @cached_property
    def _table(self) -> tuple[Array, Array]:
        from scipy.interpolate import PchipInterpolator

        fine = np.linspace(0.0, 1.0, 2049)
        return fine, np.asarray(PchipInterpolator(self.darkness, self.shares)(fine))

    def _shares(self, darkness: Array) -> Array:
        fine, table = self._table
        position = np.clip(darkness, 0.0, 1.0) * (fine.size - 1)
        left = np.minimum(position.astype(np.intp), fine.size - 2)
        part = (position - left)[:, np.newaxis]
        return np.asarray(table[left] * (1 - part) + table[left + 1] * part)

    def amounts(self, device: Array) -> Array:
        """Give the density that each ink is to print, shape (n, 6), of device (n, 3) from 0 to 1.

        On the grey axis the table alone decides. Beside it, the grey part is a smooth minimum
        of the three channels, and what a channel asks for beyond it is added to its ink.
        """
        darkness = 1.0 - device
        grey = -np.log(np.exp(-_SOFTNESS * darkness) @ _WEIGHTS) / _SOFTNESS
        grey_demand = self.demand(grey)
        amounts = self._shares(grey) * grey_demand[:, np.newaxis]
        colour = amounts[:, :3] * np.asarray(self.balance)
        extra = (self.demand(darkness) - grey_demand[:, np.newaxis]) * np.asarray(self.balance)
        start = extra + (1 - _TAPER) * colour
        amounts[:, :3] = 0.5 * (start + np.sqrt(start**2 + 4 * _TAPER * colour**2))
        return amounts
