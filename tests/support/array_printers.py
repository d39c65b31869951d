"""Printers as plain functions from device values to CIELAB, for tests of the correction.

None is a model that the correction itself uses: a published grid, spectra of halftones, and a
display-like printer with odd tone curves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from greyscale.colorimetry.cielab import spectra_to_lab, xyz_to_lab
from greyscale.readings.reading import Reading

Array = NDArray[np.float64]

TR006 = Path(__file__).parents[2] / "sample_measurements" / "tr006-grey.txt"
WAVELENGTHS = np.arange(380.0, 731.0, 10.0)


@dataclass(frozen=True)
class ArrayPrinter:
    """A noise-free printer: `lab(device)` for device values (n, 3) from 0 to 1."""

    name: str
    respond: Callable[[Array], Array]

    def lab(self, device: Array) -> Array:
        flat = np.clip(np.asarray(device, dtype=float).reshape(-1, 3), 0.0, 1.0)
        return self.respond(flat).reshape(np.shape(device))


@cache
def _tr006_interpolator() -> Callable[[Array], Array]:
    """Interpolate ANSI CGATS TR 006-2007, patches without black, cubically over C, M, Y."""
    from scipy.interpolate import RegularGridInterpolator

    lines = TR006.read_text().splitlines()
    start, end = lines.index("BEGIN_DATA") + 1, lines.index("END_DATA")
    rows = np.array([[float(word) for word in line.split()] for line in lines[start:end]])
    rows = rows[rows[:, 4] == 0]
    grid = np.array([0.0, 10, 20, 30, 40, 55, 70, 85, 100])
    rows = rows[np.isin(rows[:, 1:4], grid).all(axis=1)]
    table = np.full((grid.size,) * 3 + (3,), np.nan)
    table[tuple(np.searchsorted(grid, rows[:, c]) for c in (1, 2, 3))] = rows[:, 8:11]
    # The 729 grid patches are complete; the published table has a few more between them.
    assert not np.isnan(table).any()
    return RegularGridInterpolator((grid / 100,) * 3, table, method="cubic")


def tr006_printer(gammas: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> ArrayPrinter:
    """Print R, G, B as C = 1 - R and so on; `gammas` bend each channel for other casts."""

    def respond(device: Array) -> Array:
        ink = (1 - device) ** np.array(gammas)
        return np.asarray(_tr006_interpolator()(ink))

    return ArrayPrinter(f"TR 006 {gammas}", respond)


def noisy_sheet(device: Array, lab: Array, seed: int, noise: float = 0.15) -> Reading:
    """A reading of patches without noise, shapes (n, 3), with some."""
    read = lab + np.random.default_rng(seed).normal(0.0, noise, lab.shape)
    return Reading("sheet", "sheet", tuple(map(str, range(len(device)))), device, read)


def _absorption(peak: float, width: float, depth: float) -> Array:
    return np.asarray(depth * np.exp(-(((WAVELENGTHS - peak) / width) ** 2)))


CYAN = _absorption(635, 70, 1.25) + _absorption(710, 60, 0.6) + 0.05
MAGENTA = _absorption(545, 48, 1.15) + 0.05
YELLOW = _absorption(440, 50, 1.15) + 0.03
BLACK = 1.35 + 0.05 * (WAVELENGTHS - 550) / 180
"""Densities of inks."""


def halftones(
    inks: Array, densities: Sequence[Array] = (CYAN, MAGENTA, YELLOW, BLACK), gain: float = 0.12
) -> Array:
    """CIELAB of amounts of inks, (n, k): dot gain, Demichel's coverages, Yule-Nielsen, n = 2."""
    grown = np.clip(inks + gain * 4 * inks * (1 - inks) * 0.7, 0.0, 1.0)
    grown = grown * np.array([0.9] * (len(densities) - 1) + [1.0])
    states = np.array(list(product((0, 1), repeat=len(densities))))
    paper = 0.90 - 0.08 * np.exp(-(((WAVELENGTHS - 400) / 45) ** 2))
    primaries = paper * 10.0 ** -(states @ np.array(densities)) + 0.004
    coverage = np.ones((len(inks), len(states)))
    for ink, column in enumerate(grown.T):
        coverage *= np.where(states[:, ink] == 1, column[:, None], 1 - column[:, None])
    return np.asarray(spectra_to_lab((coverage @ np.sqrt(primaries)) ** 2, WAVELENGTHS))


def halftone_printer(
    black_start: float = 0.45,
    black_by: str = "min",
    removal: float = 0.0,
    gammas: tuple[float, float, float] = (1.1, 1.1, 1.0),
    gain: float = 0.12,
    black_power: float = 1.0,
    amounts: int | None = None,
    laid: ArrayLike = 1.0,
) -> ArrayPrinter:
    """Print C, M, Y, K as `halftones`.

    Black sets in with a kink where the `black_by` ("min", "mean") of C, M, Y passes
    `black_start`, as `black_power` = 1 makes it; `removal` is the share of it taken out of the
    colours. `black_start` = 1 prints without black. The screen knows so many
    `amounts` of each ink; None knows all. The share `laid` of each ink reaches the paper.
    """

    def respond(device: Array) -> Array:
        colours = (1 - device) ** np.array(gammas)
        amount = colours.min(axis=1) if black_by == "min" else colours.mean(axis=1)
        black = np.clip((amount - black_start) / max(1 - black_start, 1e-9), 0, 1) ** black_power
        inks = np.column_stack([colours * (1 - removal * black[:, None]), 0.9 * black])
        inks = inks if amounts is None else np.round(inks * amounts) / amounts
        return halftones(inks * np.asarray(laid), gain=gain)

    return ArrayPrinter(f"halftone, black from {black_start} by {black_by}", respond)


SRGB_D50 = np.array(  # sRGB primaries adapted to D50 (IEC 61966-2-1, Bradford; memory)
    [[0.4361, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7141]]
)


def reversal_printer(
    cast: float = 0.04, blocked: float = 0.06, phase: float = 0.0, gamma: float = 2.0
) -> ArrayPrinter:
    """Print with a cast that turns to the opposite hue between highlights and shadows.

    Below level `blocked` all tones run together. Paper is warm, black bluish.
    """
    crosstalk = np.array([[0.86, 0.10, 0.04], [0.07, 0.85, 0.08], [0.03, 0.12, 0.85]])
    paper = np.array([0.84, 0.825, 0.79])
    black = np.array([0.0125, 0.0135, 0.0155])

    def respond(device: Array) -> Array:
        turn = np.array([0.0, 2.0, 4.2]) + phase
        wave = np.cos(turn) * np.sin(2 * np.pi * device)
        bent = device + cast * wave * (0.6 + device * (1 - device))
        lifted = np.log1p(np.exp((bent - blocked) / 0.012)) * 0.012 / (1 - blocked)
        linear = np.clip(lifted, 0, 1.02) ** gamma
        linear = linear @ crosstalk.T
        xyz = (black + (paper - black) * linear) @ SRGB_D50.T
        return xyz_to_lab(xyz, SRGB_D50.sum(axis=1))

    return ArrayPrinter("reversal", respond)
