"""Printers known by CIELAB alone: quick, and as odd as a test wants them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import lab_to_xyz, xyz_to_lab
from greyscale.demo.printer import quantised
from greyscale.readings.reading import Reading

_D50 = np.array([96.422, 100.0, 82.521])

# Linear sRGB to XYZ, adapted to D50 (ICC profile of IEC 61966-2-1): only plausible primaries.
_PRIMARIES = 100.0 * np.array(
    [
        [0.4360, 0.3851, 0.1431],
        [0.2225, 0.7169, 0.0606],
        [0.0139, 0.0971, 0.7142],
    ]
)


@dataclass(frozen=True, eq=False)
class LabPrinter:
    """A printer known by CIELAB alone: quick, and as odd as a test wants it.

    Attributes
    ----------
    name
        What it is called.
    respond
        Device (n, 3) from 0 to 1 in, CIELAB (n, 3) out.
    bits
        Bits per channel of the data it takes: 8, 16, or None for any value.
    """

    name: str
    respond: Callable[[Array], Array] = field(repr=False)
    bits: int | None = None

    def lab(self, device: ArrayLike) -> Array:
        """Return L*, a*, b* as they are, without noise, shape (n, 3)."""
        return self.respond(quantised(device, self.bits))

    def measure(
        self,
        ids: Sequence[str],
        device: ArrayLike,
        *,
        sent: ArrayLike | None = None,
        places: Sequence[str] | None = None,
        name: str = "simulated reading",
        noise: float = 0.15,
        seed: int = 0,
        condition: str = "M1",
        created: datetime | None = None,
    ) -> Reading:
        """Print a chart and read it; see `SimulatedPrinter.measure`."""
        values = np.atleast_2d(np.asarray(device, dtype=np.float64))
        lab = self.lab(values if sent is None else sent)
        lab = lab + np.random.default_rng(seed).normal(0.0, noise, lab.shape)
        return Reading(
            name=name,
            source=name,
            ids=tuple(ids),
            device=values,
            lab=lab,
            places=None if places is None else tuple(places),
            condition=condition,
            backing="white",
            printer=self.name,
            created=created,
        )


def axis_printer(
    name: str,
    levels: ArrayLike,
    lab: ArrayLike,
    *,
    nudge: Callable[[Array], Array] | None = None,
    crosstalk: float = 0.0,
    smooth: bool = True,
    bits: int | None = None,
) -> LabPrinter:
    """Make a printer whose grey axis measures exactly as wanted.

    Each channel has the tone curve of linear light that the axis needs; beside the axis the
    channels mix additively, with a sensitivity that may depend on tone.

    Parameters
    ----------
    levels, lab
        The grey axis: shapes (k,) rising from 0 to 1, and (k, 3).
    nudge
        How strongly a channel's departure from the mean of the three acts, by mean level.
    crosstalk
        How much one channel's departure moves lightness besides, to second order.
    smooth
        Join the axis's points smoothly (monotone cubics), else by straight lines with kinks.
    """
    from scipy.interpolate import PchipInterpolator

    light = lab_to_xyz(np.asarray(lab, dtype=np.float64), _D50) @ np.linalg.inv(_PRIMARIES).T
    grid = np.asarray(levels, dtype=np.float64)
    # Cube roots make the curves near to straight in L*, so that little is left to interpolate.
    curves = np.cbrt(light)
    slopes = np.diff(curves[:2], axis=0) / np.diff(grid[:2])[:, None]
    pchip = PchipInterpolator(grid, curves) if smooth else None

    def channel(values: Array, index: int) -> Array:
        if pchip is None:
            inside = np.interp(values, grid, curves[:, index])
        else:
            inside = np.asarray(pchip(np.clip(values, 0.0, 1.0)))[..., index]
        # Below 0 and above 1, where a nudge may lead, on in a straight line.
        below = np.minimum(values, 0.0) * slopes[0, index]
        above = np.maximum(values - 1.0, 0.0) * 0.5
        return np.asarray(inside + below + above)

    def respond(device: Array) -> Array:
        mean = device.mean(axis=1, keepdims=True)
        departure = device - mean
        gain = np.ones_like(mean) if nudge is None else np.reshape(nudge(mean[:, 0]), (-1, 1))
        acting = mean + gain * departure
        linear = np.stack([channel(acting[:, i], i) ** 3 for i in range(3)], axis=1)
        second = crosstalk * np.sum(departure**2, axis=1, keepdims=True)
        xyz = linear @ _PRIMARIES.T * (1.0 - second)
        return xyz_to_lab(np.maximum(xyz, 0.0), _D50)

    return LabPrinter(name, respond, bits)


def _waves(random: np.random.Generator, levels: Array, orders: int) -> Array:
    """Return a smooth random curve of `orders` half waves over the levels."""
    order = np.arange(1, orders + 1)
    weight = random.normal(0.0, 1.0, orders) / order
    phase = random.uniform(0.0, np.pi, orders)
    return np.asarray(np.sin(np.pi * np.outer(levels, order) + phase) @ weight)


def random_printer(seed: int, *, largest_cast: float = 8.0, bits: int | None = None) -> LabPrinter:
    """Return a random printer: a cast of up to `largest_cast`, an odd but rising tone curve.

    Paper, black, tone curve, cast by tone and the answer to nudged channels all differ.
    """
    random = np.random.default_rng(seed)
    levels = np.linspace(0.0, 1.0, 65)
    L_paper, L_black = random.uniform(90.0, 98.0), random.uniform(3.0, 22.0)
    slope = np.exp(0.45 * _waves(random, levels, 4))
    slope = np.maximum(slope, 0.12 * slope.mean())
    tone = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2)])
    L = L_black + (L_paper - L_black) * tone / tone[-1]
    paper = random.normal(0.0, [1.0, 2.5])
    ink = random.normal(0.0, 1.5, 2)
    drift = np.stack([_waves(random, levels, 4), _waves(random, levels, 4)], axis=1)
    # Bare paper has no cast; at black the little that ink tints it remains.
    drift *= (1.0 - levels**6)[:, None] * (0.4 + 0.6 * np.sin(np.pi * levels))[:, None]
    peak = np.hypot(drift[:, 0], drift[:, 1]).max()
    drift *= random.uniform(0.15, 1.0) * largest_cast / peak
    dark = (1.0 - levels)[:, None]
    ab = paper * (1 - dark) + 0.3 * ink * dark + drift
    # Near black the linear light of a channel must not fall below nothing.
    ab *= np.minimum(1.0, (L / 18.0) ** 1.5)[:, None]
    shadow, middle = random.uniform(0.4, 1.0), random.uniform(0.7, 1.2)

    def nudge(level: Array) -> Array:
        return shadow + (middle - shadow) * np.sin(np.pi / 2 * np.clip(level * 1.5, 0, 1)) ** 2

    return axis_printer(
        f"random printer {seed}",
        levels,
        np.column_stack([L, ab]),
        nudge=nudge,
        crosstalk=random.uniform(-0.3, 0.3),
        bits=bits,
    )


def kinked_printer(onset: float = 0.38, *, bits: int | None = None) -> LabPrinter:
    """Return a printer whose black ink sets in with a kink in tone and in colour at a level."""
    levels = np.array([0.0, onset * 0.45, onset, (1 + onset) / 2, 1.0])
    L_onset = 17.0 + 79.0 * onset - 3.5
    lab = np.array(
        [
            [17.0, 0.3, 0.4],
            [17.0 + (L_onset - 17.0) * 0.40, -1.6, 0.9],
            [L_onset, 2.4, -3.6],
            [17.0 + 79.0 * (1 + onset) / 2 - 1.0, 1.1, -1.2],
            [96.0, -0.2, 2.4],
        ]
    )
    fine = np.unique(np.concatenate([np.linspace(0, 1, 201), levels]))
    axis = np.stack([np.interp(fine, levels, lab[:, i]) for i in range(3)], axis=1)

    def nudge(level: Array) -> Array:
        # With black ink come smaller shares of the colours: they act less there.
        return np.where(level < onset, 0.55 + 0.35 * level / onset, 0.9)

    return axis_printer(
        "printer whose black sets in with a kink", fine, axis, nudge=nudge, smooth=False, bits=bits
    )


def reversing_printer(*, bits: int | None = None) -> LabPrinter:
    """Return a printer that is magenta in the highlights, green in the shadows, and blocks black.

    Below level 0.06 next to nothing changes: the shadow is blocked.
    """
    levels = np.array([0.0, 0.06, 0.12, 0.25, 0.42, 0.55, 0.70, 0.85, 0.95, 1.0])
    lab = np.array(
        [
            [16.5, 0.2, 0.5],
            [16.8, 0.1, 0.6],
            [20.5, -1.6, 1.8],
            [32.0, -4.0, 3.2],
            [48.5, -2.2, 1.6],
            [60.0, 0.8, -0.6],
            [73.0, 3.4, -2.6],
            [85.5, 3.2, -2.0],
            [92.8, 1.2, 0.6],
            [96.5, -0.3, 2.2],
        ]
    )
    return axis_printer("printer with a hue reversal", levels, lab, bits=bits)
