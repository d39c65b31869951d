"""Families of simulated printers, to judge stated uncertainty by: any number of each kind.

None is a model that the correction itself uses. A printer of a kind is told by its seed; what a
rule of the program is tuned on has even seeds, what it is judged by has odd ones.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator
from support.array_printers import (
    BLACK,
    CYAN,
    MAGENTA,
    YELLOW,
    ArrayPrinter,
    halftone_printer,
    halftones,
    reversal_printer,
    tr006_printer,
)
from support.lab_printers import random_printer

Array = NDArray[np.float64]
Inks = Callable[[Array], Array]
"""Amounts of inks (n, k) of device values (n, 3)."""


def _separation(random: np.random.Generator) -> Inks:
    """Cyan, magenta, yellow, and a black that comes softly, of device values."""
    gammas = random.uniform(0.9, 1.2, 3)
    waves = random.normal(0.0, 0.012, (3, 2))
    start, removal = random.uniform(0.2, 0.4), random.uniform(0.2, 0.6)

    def inks(device: Array) -> Array:
        amount = (1 - device) ** gammas
        for order in (1, 2):
            amount = amount + waves[:, order - 1] * np.sin(order * np.pi * device)
        amount = np.clip(amount, 0.0, 1.0)
        black = np.clip((amount.min(axis=1) - start) / (1 - start), 0, 1) ** 2.0
        return np.column_stack([amount * (1 - removal * black[:, None]), 0.9 * black])

    return inks


def _smooth(seed: int) -> ArrayPrinter:
    random = np.random.default_rng(seed)
    kind = seed // 2 % 5
    if kind == 4:
        inks = _separation(random)
        return ArrayPrinter("soft black", lambda device: halftones(inks(device)))
    if kind == 0:
        return ArrayPrinter(f"random {seed}", random_printer(100 + seed).lab)
    if kind == 1:
        return reversal_printer(
            cast=float(random.uniform(0.01, 0.05)), phase=float(random.uniform(0, 6.28)),
            blocked=float(random.uniform(0.02, 0.09)), gamma=float(random.uniform(1.6, 2.3)),
        )  # fmt: skip
    gammas = tuple(random.uniform(0.88, 1.15, 3))
    return tr006_printer(gammas) if kind == 2 else halftone_printer(1.0, gammas=gammas)


def _onset(seed: int) -> ArrayPrinter:
    random = np.random.default_rng(seed)
    return halftone_printer(
        float(random.uniform(0.3, 0.7)), "min" if seed // 2 % 2 else "mean",
        removal=float(random.uniform(0.0, 0.6)), gammas=tuple(random.uniform(0.9, 1.15, 3)),
        gain=float(random.uniform(0.05, 0.18)), black_power=float(random.uniform(1.0, 1.5)),
    )  # fmt: skip


def _tabulated(seed: int, nodes: int | None = None) -> ArrayPrinter:
    """A driver with a table of inks, and straight lines between its nodes.

    In 8 bits; any from 5 to 65 nodes, if it isn't said how many, then in 8 or 12 bits.
    """
    random = np.random.default_rng(seed)
    inks, top = _separation(random), 255
    if nodes is None:
        nodes, top = int(random.integers(5, 66)), int(random.choice([255, 4095]))
    grid = np.linspace(0.0, 1.0, nodes)
    points = np.stack(np.meshgrid(grid, grid, grid, indexing="ij"), axis=-1).reshape(-1, 3)
    table = np.round(top * inks(points)).reshape(nodes, nodes, nodes, 4) / top
    between = RegularGridInterpolator((grid,) * 3, table)
    return ArrayPrinter(f"table of {nodes}", lambda device: halftones(between(device)))


def _stepped(seed: int) -> ArrayPrinter:
    """Inks laid down in so many steps."""
    random = np.random.default_rng(seed)
    inks, steps = _separation(random), round(np.exp(random.uniform(np.log(20), np.log(200))))
    return ArrayPrinter(
        f"{steps} steps", lambda device: halftones(np.round(steps * inks(device)) / steps)
    )


def _two_inks(seed: int) -> ArrayPrinter:
    """A warm and a cool grey: their sum by the channels' mean, their share by red less blue."""
    random = np.random.default_rng(seed)
    gamma, share = random.uniform(0.8, 1.2), random.uniform(0.35, 0.65)
    swing = np.exp(random.uniform(np.log(0.5), np.log(4)))
    curve = random.normal(0.0, 0.08)
    warm = 0.95 * BLACK + random.uniform(0.05, 0.4) * YELLOW + random.uniform(0, 0.1) * MAGENTA
    cool = 0.95 * BLACK + random.uniform(0.05, 0.4) * CYAN + random.uniform(0, 0.1) * MAGENTA

    def respond(device: Array) -> Array:
        level = device.mean(axis=1)
        amount = (1 - level) ** gamma
        part = share + curve * np.sin(2 * np.pi * level) + swing * (device[:, 0] - device[:, 2])
        part = 0.5 + 0.5 * np.tanh(2 * (part - 0.5))
        return halftones(np.column_stack([amount * part, amount * (1 - part)]), (warm, cool))

    return ArrayPrinter("two inks", respond)


KINDS: dict[str, Callable[[int], ArrayPrinter]] = {
    "smooth": _smooth,
    "onset of a second ink": _onset,
    "table of 9 nodes": lambda seed: _tabulated(seed, 9),
    "table of 17 nodes": lambda seed: _tabulated(seed, 17),
    "table of 33 nodes": lambda seed: _tabulated(seed, 33),
    "table of 5 to 65 nodes": _tabulated,
    "stepped": _stepped,
    "two inks": _two_inks,
}
"""Printers by kind, of a seed."""


def _white(sd: float) -> Callable[[np.random.Generator, Array, Array], Array]:
    return lambda random, lab, at: random.normal(0.0, sd, lab.shape)


def _wandering(random: np.random.Generator, lab: Array, at: Array, reach: float) -> Array:
    """White noise by which neighbours in place are alike, over so many patches."""
    apart = np.linalg.norm(at[:, None] - at, axis=-1)
    root = np.linalg.cholesky(np.exp(-0.5 * (apart / reach) ** 2) + 1e-6 * np.eye(len(at)))
    return np.asarray(root @ random.normal(size=lab.shape))


def _over_the_page(random: np.random.Generator, lab: Array, at: Array) -> Array:
    """White noise, and a wandering over the page that neighbours in place share."""
    return 0.3 * _wandering(random, lab, at, 4.0) + random.normal(0.0, 0.1, lab.shape)


def _otherwise_over_the_page(random: np.random.Generator, lab: Array, at: Array) -> Array:
    """The same, of any reach and share: nearer to white, or a slope over the page."""
    sd, share, reach = random.uniform(0.1, 0.4), random.uniform(0.2, 0.9), random.uniform(1.5, 9)
    wandering = np.sqrt(share) * _wandering(random, lab, at, reach)
    return np.asarray(sd * (wandering + random.normal(0.0, np.sqrt(1 - share), lab.shape)))


def _in_the_dark(random: np.random.Generator, lab: Array, at: Array) -> Array:
    sd = 0.1 + 0.5 * (1 - lab[:, :1] / 100) ** 2
    return np.asarray(sd * random.normal(size=lab.shape))


def _otherwise_in_the_dark(random: np.random.Generator, lab: Array, at: Array) -> Array:
    """Up to five times as loud as on paper, by any course."""
    paper, power = random.uniform(0.05, 0.2), random.uniform(0.5, 4)
    sd = paper * (1 + random.uniform(1, 4) * (1 - lab[:, :1] / 100) ** power)
    return np.asarray(sd * random.normal(size=lab.shape))


NOISES: dict[str, Callable[[np.random.Generator, Array, Array], Array]] = {
    "white 0.1": _white(0.1),
    "white 0.3": _white(0.3),
    "white 0.5": _white(0.5),
    "over the page": _over_the_page,
    "over the page, otherwise": _otherwise_over_the_page,
    "in the dark": _in_the_dark,
    "in the dark, otherwise": _otherwise_in_the_dark,
}
"""Noise of measured CIELAB (n, 3) at places (n, 2) on the page, in patches."""
