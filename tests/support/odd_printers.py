"""Drivers that don't answer as a colour driver should, each kind in many sizes; and ordinary ones.

A driver stands between the values sent and an ordinary printer: it makes greys of them, snaps them,
clips them or lays too much ink. Nothing here is taken from the code under test but the ordinary
printers. Even numbers were looked at while the package was made; odd ones were kept out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from support.array_printers import (
    SRGB_D50,
    ArrayPrinter,
    halftone_printer,
    noisy_sheet,
    reversal_printer,
)
from support.correction_loop import chart, fading
from support.lab_printers import axis_printer, random_printer

from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.correction.record import Correction
from greyscale.readings.reading import Reading

Array = NDArray[np.float64]
Answer = Callable[[Array], Array]

# Luma of ITU-R BT.601; luminance of IEC 61966-2-1; the mean; one channel; the least and the most.
_GREY_OF: tuple[Answer, ...] = (
    lambda device: device @ [0.299, 0.587, 0.114],
    lambda device: device @ [0.2126, 0.7152, 0.0722],
    lambda device: device.mean(axis=1),
    lambda device: device[:, 1],
    lambda device: device.min(axis=1) / 2 + device.max(axis=1) / 2,
)


def _ordinary(random: np.random.Generator, number: int) -> ArrayPrinter:
    if number % 3 == 0:
        start, power = random.uniform(0.3, 0.8), random.uniform(1.0, 1.6)
        gammas = tuple(random.uniform(0.9, 1.15, 3))
        made: object = halftone_printer(start, gammas=gammas, removal=0.4, black_power=power)
    else:
        made = random_printer(1000 + number)
    return ArrayPrinter(f"ordinary {number}", made.lab)  # type: ignore[attr-defined]


def _grey_mode(random: np.random.Generator, number: int) -> ArrayPrinter:
    """One grey of all values, then a tone curve with a tint: even, or changing with the tone."""
    even = number % 4 < 2
    grey = _GREY_OF[number // 2 % len(_GREY_OF)]
    under = random_printer(2000 + number, largest_cast=2.0 if even else 9.0)
    tint = random.normal(0.0, 2.0, 2)

    def answer(device: Array) -> Array:
        lab = under.lab(np.repeat(grey(device)[:, None], 3, axis=1))
        if even:
            # The same tint at all tones but paper.
            share = np.clip((lab[:, :1].max() - lab[:, :1]) / 5.0, 0.0, 1.0)
            lab = np.column_stack([lab[:, 0], tint * np.minimum(share, 1.0)])
        return np.asarray(lab)

    return ArrayPrinter(f"{'even' if even else 'uneven'} grey mode {number}", answer)


def _steps(random: np.random.Generator, number: int) -> ArrayPrinter:
    """Near-neutral values snap: to grey within a reach, or to a coarse raster of departures."""
    under = random_printer(3000 + number)
    size = (0.03, 0.05, 0.08, 0.12, 0.17)[number // 2 % 5] * random.uniform(0.85, 1.15)
    raster = number % 4 >= 2

    def answer(device: Array) -> Array:
        mean = device.mean(axis=1, keepdims=True)
        if raster:
            values = mean + size * np.round((device - mean) / size)
        else:
            near = np.ptp(device, axis=1, keepdims=True) < 2 * size
            values = np.where(near, mean, device)
        return under.lab(np.clip(values, 0.0, 1.0))

    how = "raster of" if raster else "snap within"
    return ArrayPrinter(f"{how} {size:.2f}, {number}", answer)


def _blocked(random: np.random.Generator, number: int) -> ArrayPrinter:
    """All tones below a level print as black: at once, or softly."""
    below = (0.04, 0.07, 0.1, 0.15, 0.22)[number // 2 % 5] * random.uniform(0.85, 1.15)
    if number % 4 < 2:
        soft = reversal_printer(random.uniform(0.01, 0.04), below, random.uniform(0, 6))
        return ArrayPrinter(f"softly blocked below {below:.2f}, {number}", soft.lab)
    under = random_printer(4000 + number)

    def answer(device: Array) -> Array:
        return under.lab(np.maximum((device - below) / (1 - below), 0.0))

    return ArrayPrinter(f"blocked below {below:.2f}, {number}", answer)


def _over_inked(random: np.random.Generator, number: int) -> ArrayPrinter:
    """Below a level more ink prints lighter, by up to some units of L*."""
    below = (0.06, 0.09, 0.13, 0.18, 0.25)[number // 2 % 5] * random.uniform(0.85, 1.15)
    depth = (1.5, 3.0, 5.0, 8.0)[number // 2 % 4] * random.uniform(0.8, 1.2)
    under = random_printer(5000 + number)

    def answer(device: Array) -> Array:
        lab = under.lab(device).copy()
        lack = np.clip(below - device.mean(axis=1), 0.0, None) / below
        at = under.lab(np.full((1, 3), below))[0]
        L = at[0] + depth * lack**1.5 * (3 - lack) / 2
        lab[:, 0] = np.where(lack > 0, L + (lab[:, 0] - _mean_L(under.lab, device)), lab[:, 0])
        return lab

    return ArrayPrinter(f"over-inked below {below:.2f} by {depth:.1f}, {number}", answer)


def _mean_L(lab: Answer, device: Array) -> Array:
    return lab(np.repeat(device.mean(axis=1, keepdims=True), 3, axis=1))[:, 0]


def _coarse(random: np.random.Generator, number: int) -> ArrayPrinter:
    """Tones in few steps: each channel keeps so many values."""
    count = (12, 20, 32, 48, 64)[number // 2 % 5]
    under = random_printer(6000 + number)

    def answer(device: Array) -> Array:
        return under.lab(np.round(device * (count - 1)) / (count - 1))

    return ArrayPrinter(f"{count} values a channel, {number}", answer)


def _by_the_least(random: np.random.Generator, number: int) -> ArrayPrinter:
    """Black ink by the least of the inks, which it replaces from light tones on, and strongly.

    A kink on the grey axis: which ink is the least changes there.
    """
    inks, start = random.uniform(0.45, 0.95, 3), random.uniform(0.0, 0.25)
    light = number % 4 < 2
    density = np.array([[1.3, 0.25, 0.06], [0.15, 1.2, 0.3], [0.05, 0.12, 1.1], [1.2, 1.2, 1.2]])

    def answer(device: Array) -> Array:
        colours = 1.0 - device
        least = colours.min(axis=1, keepdims=True)
        black = np.clip((least - start) / (1.0 - start), 0.0, 1.0)
        laid = np.hstack([inks * np.maximum(colours - 0.85 * black * least, 0.0), black])
        if light:
            # A light ink first, a dark one from half of it on.
            laid[:, :2] = 0.6 * laid[:, :2] + 0.4 * np.maximum(2.0 * laid[:, :2] - 1.0, 0.0)
        rgb = 0.9 * 10.0 ** -(laid @ density)
        return np.asarray(xyz_to_lab(rgb @ SRGB_D50.T, SRGB_D50.sum(axis=1)))

    return ArrayPrinter(f"black by the least ink, {number}", answer)


def _near_neutral_already(random: np.random.Generator, number: int) -> ArrayPrinter:
    """A print that is on its aims already, but for little."""
    levels = np.linspace(0.0, 1.0, 65)
    paper = np.array([96.0, *random.normal(0, 1.5, 2)])
    black = np.array([random.uniform(4.0, 18.0), *(0.15 * paper[1:])])
    lab = fading(levels, paper, black)
    wave = np.sin(np.pi * levels)[:, None] * random.normal(0.0, 0.15, 3)
    under = axis_printer("neutral already", levels, lab + wave)
    return ArrayPrinter(f"neutral already {number}", under.lab)


KINDS: dict[str, Callable[[np.random.Generator, int], ArrayPrinter]] = {
    "ordinary": _ordinary,
    "grey mode": _grey_mode,
    "steps": _steps,
    "coarse": _coarse,
    "blocked": _blocked,
    "over-inked": _over_inked,
    "neutral already": _near_neutral_already,
    "by the least": _by_the_least,
}
"""How a driver of each kind is made, from random numbers and its own number."""


@cache
def odd_printer(kind: str, number: int) -> ArrayPrinter:
    """Give a driver of a kind; even numbers for tuning, odd ones kept out."""
    return KINDS[kind](np.random.default_rng([number, *map(ord, kind)]), number)


LEVELS = np.linspace(0.02, 0.99, 98)


@dataclass(frozen=True)
class JudgedPrint:
    """Mean and largest ΔCh, mean and largest |ΔL*| of a print, as it is, without noise.

    From the usual aims (`fading`), between its own paper and its darkest grey.
    """

    mean_Ch: float
    max_Ch: float
    mean_L: float
    max_L: float

    @property
    def error(self) -> float:
        return float(np.hypot(self.mean_Ch, self.mean_L))


def judged(who: ArrayPrinter, made: Correction | None = None) -> JudgedPrint:
    """Judge what a printer makes of greys, sent as they are or through a correction."""
    grey = np.repeat(LEVELS[:, None], 3, axis=1)
    axis = who.lab(np.repeat(np.linspace(0, 1, 257)[:, None], 3, axis=1))
    paper, black = axis[-1], axis[np.argmin(axis[:, 0])]
    lab = who.lab(grey if made is None else np.round(made.curve.apply(grey) * 65535) / 65535)
    off_L = np.abs(lab[:, 0] - fading(LEVELS, paper, black)[:, 0])
    share = 1 - 0.85 * (paper[0] - lab[:, :1]) / (paper[0] - black[0])
    off_Ch = np.hypot(*(lab[:, 1:] - share * paper[1:]).T)
    return JudgedPrint(
        float(off_Ch.mean()), float(off_Ch.max()), float(off_L.mean()), float(off_L.max())
    )


def sheet(
    who: ArrayPrinter, seed: int, noise: float = 0.15, device: Array | None = None,
    sent: Array | None = None,
) -> Reading:  # fmt: skip
    """Print the usual chart of 147 patches, or another, and read it."""
    values = chart(True) if device is None else device
    return noisy_sheet(values, who.lab(values if sent is None else sent), seed, noise)
