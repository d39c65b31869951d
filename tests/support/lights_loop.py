"""Corrections for lights on the simulated printer, judged by the print itself under each light.

The print's colour under a lamp is made here from the simulated printer's own spectra and its own
excitation curve; nothing of it comes from the correction but its curve. Papers and the printer's
separation are the demo's, and others drawn at random, which nothing was tuned on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from support.correction_loop import chart, fading

from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.colorimetry.lights import light
from greyscale.colorimetry.observers import colour_matching_functions
from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz
from greyscale.correction.correct import correct
from greyscale.correction.record import Correction, Options
from greyscale.demo.materials import EXCITATION, EXCITATION_NM
from greyscale.demo.printer import SimulatedPrinter, demo_printer
from greyscale.readings.lamps import find_light
from greyscale.readings.reading import Reading

Array = NDArray[np.float64]

PAPERS = ("cotton rag", "baryta", "unbleached cotton", "bright", "random 1", "random 2")
"""Of the demo, and others; "bright" is the rag with a strong brightener."""

LEVELS = np.concatenate([np.arange(0.05, 0.1, 0.01), np.linspace(0.1, 0.99, 30)])


def printer(paper: str) -> SimulatedPrinter:
    """Give the printer on a paper; a random one has another paper, dot gain and ink balance."""
    if paper == "bright":
        plain = demo_printer("cotton rag")
        return replace(plain, paper=replace(plain.paper, name="bright", brightener=0.12))
    if not paper.startswith("random"):
        return demo_printer(paper)
    random = np.random.default_rng(int(paper.split()[1]) + 90)
    start = demo_printer(("cotton rag", "baryta")[int(random.integers(2))])
    own = replace(
        start.paper,
        name=paper,
        brightener=float(random.uniform(0.0, 0.13)),
        yule_nielsen=float(random.uniform(1.6, 2.4)),
        yields=tuple(random.normal(1.0, 0.04, 6)),
    )
    balance = tuple(np.array(start.separation.balance) * random.normal(1.0, 0.04, 3))
    return replace(start, paper=own, separation=replace(start.separation, balance=balance))


@dataclass(frozen=True)
class Hall:
    """A printer and paper, seen under lights without noise."""

    paper: str

    @cached_property
    def printer(self) -> SimulatedPrinter:
        return printer(self.paper)

    def lab(self, device: Array, name: str) -> Array:
        """Give CIELAB under a light against its own white; the light excites the brightener."""
        nm, source = self.printer.wavelengths, find_light(name)
        bare = self.printer.spectra(device, condition="M2")
        glow = self.printer.spectra(device, condition="M1") - bare
        xyz = spectra_to_xyz(bare, nm, source) + _excites(name) * spectra_to_xyz(glow, nm, "D50")
        return xyz_to_lab(xyz, grid_white_point(nm, source))

    def aim(self, name: str) -> Array:
        """Give the usual aim under a light, from the true paper and black there."""
        paper, black = self.lab(np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]]), name)
        return fading(LEVELS, paper, black)

    def means(self, made: Correction, names: tuple[str, ...]) -> list[float]:
        """Give the mean ΔCh of the print through a correction, under each light."""
        sent = made.curve.apply(np.repeat(LEVELS[:, None], 3, axis=1))
        return [mean_delta_Ch(self.lab(sent, name), self.aim(name)) for name in names]


def mean_delta_Ch(lab: Array, aim: Array) -> float:
    """Give the mean over L* of the distance in a*, b*."""
    off, width = np.hypot(*(lab - aim)[:, 1:].T), np.gradient(aim[:, 0])
    return float(off @ width / width.sum())


def _excites(name: str) -> float:
    source, standard = find_light(name), light("D50")
    power = [
        np.interp(EXCITATION_NM, one.wavelengths, one.measured, left=0.0) @ EXCITATION
        / (one.power @ colour_matching_functions("2")[:, 1])
        for one in (source, standard)
    ]  # fmt: skip
    return float(power[0] / power[1])


def readings(
    hall: Hall,
    noise: float,
    seed: int,
    conditions: tuple[str, ...],
    *,
    near_neutral: bool = True,
) -> list[Reading]:
    """Print the usual chart and read it in some conditions."""
    device = chart(near_neutral)
    ids = tuple(map(str, range(len(device))))
    return [
        hall.printer.measure(ids, device, name=f"chart {one}", noise=noise, seed=seed * 10 + i,
                             condition=one)
        for i, one in enumerate(conditions)
    ]  # fmt: skip


def corrected(
    hall: Hall,
    lights: tuple[str, ...],
    *,
    noise: float = 0.12,
    seed: int = 0,
    conditions: tuple[str, ...] = ("M1", "M2"),
) -> Correction:
    """Correct for lights, the worst of them alone counting; none are D50."""
    asked = Options(lights=tuple(find_light(one) for one in lights), worst_share=1.0)
    given = readings(hall, noise, seed, conditions if lights else conditions[:1])
    return correct(given, asked)


def best_worst(hall: Hall, one: str, other: str) -> float:
    """Give the least that the worse mean ΔCh of two lights can be, L* met under the first.

    For each share of the first light the least squares are solved tone by tone on the true
    printer; the shares between are straight lines.
    """
    aims = hall.aim(one), hall.aim(other)
    start = np.repeat(LEVELS[:, None], 3, axis=1)
    worse = []
    for share in np.linspace(0.02, 0.98, 9):
        root = np.sqrt([share, 1 - share])

        def errors(flat: Array, root: Array = root) -> Array:
            device = flat.reshape(-1, 3)
            off = [hall.lab(device, n) - aim for n, aim in zip((one, other), aims, strict=True)]
            return np.column_stack(
                [10 * off[0][:, 0], root[0] * off[0][:, 1:], root[1] * off[1][:, 1:]]
            ).ravel()

        sparse = np.kron(np.eye(len(LEVELS)), np.ones((5, 3)))
        found = least_squares(
            errors, np.clip(start, 1e-4, 1 - 1e-4).ravel(), bounds=(0, 1), jac_sparsity=sparse,
            diff_step=1e-5, max_nfev=60,
        )  # fmt: skip
        start = found.x.reshape(-1, 3)
        worse.append(
            [
                mean_delta_Ch(hall.lab(start, n), aim)
                for n, aim in zip((one, other), aims, strict=True)
            ]
        )
    fine = np.linspace(0, 1, 401) * (len(worse) - 1)
    means = [np.interp(fine, np.arange(len(worse)), column) for column in np.array(worse).T]
    return float(np.maximum(*means).min())
