"""Readings as hands spoil them: strips backwards, swapped, shifted, and what else happens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from support.lab_printers import random_printer

from greyscale.charts.chart import make_chart
from greyscale.readings.layout import Layout
from greyscale.readings.reading import Reading

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

LOST = -1
"""Stands for a patch that was not measured."""


@lru_cache
def chart_layout(seed: int = 0, tones: int = 33, near_neutral: bool = True) -> Layout:
    """Give the layout of a shuffled chart."""
    return make_chart("chart", tones=tones, near_neutral=near_neutral, seed=seed, code=False).layout


def strips_of(layout: Layout) -> list[Indices]:
    """Give the indices of each strip's patches."""
    strips: dict[str, list[int]] = {}
    for index, place in enumerate(layout.places):
        strips.setdefault(place.rstrip("0123456789"), []).append(index)
    return [np.array(indices, dtype=np.intp) for indices in strips.values()]


def clean_reading(layout: Layout, seed: int, noise: float = 0.15) -> Reading:
    """Read a chart from a random printer: casts up to ΔCh 8, an odd tone curve."""
    return random_printer(seed, bits=8).measure(
        layout.ids, layout.device, places=layout.places, seed=seed, noise=noise
    )


@dataclass(frozen=True, eq=False)
class Misread:
    """A spoilt reading, and what a repair should give.

    Attributes
    ----------
    reading
        As a person would hand it in.
    clean
        What a careful reading had given.
    lost
        Indices of patches that were never measured.
    """

    reading: Reading
    clean: Reading
    lost: tuple[int, ...] = ()


def taken(clean: Reading, rows: Sequence[int] | Indices, lost: Sequence[int] = ()) -> Misread:
    """Put the measurement of patch rows[i] under patch i; index n stands for bare paper.

    Only CIELAB is kept.
    """
    source = np.asarray(rows, dtype=np.intp)
    paper = paper_value(clean)
    lab = np.vstack([clean.lab, paper[np.newaxis]])[source]
    reading = replace(clean, lab=lab, spectra=None, wavelengths=None)
    return Misread(reading, clean, tuple(int(index) for index in lost))


def paper_value(clean: Reading) -> Array:
    """Give a further measurement of bare paper."""
    bare = clean.lab[clean.device.min(axis=1) == 1.0].mean(axis=0)
    noise = np.random.default_rng(len(clean)).normal(0.0, 0.15, 3)
    return np.asarray(bare + noise)


def backwards(clean: Reading, strip: Indices) -> Misread:
    """Read a strip from its other end."""
    rows = np.arange(len(clean))
    rows[strip] = strip[::-1]
    return taken(clean, rows)


def swapped(clean: Reading, strips: Sequence[Indices], first: int, second: int) -> Misread:
    """Read two strips in each other's place, one value after another."""
    order = list(range(len(strips)))
    order[first], order[second] = second, first
    return taken(clean, np.concatenate([strips[index] for index in order]))


def late(clean: Reading, strip: Indices, start: int = 0) -> Misread:
    """Read bare paper before patch number `start` of a strip: its last patch is lost."""
    rows = np.arange(len(clean))
    rows[strip] = np.concatenate([strip[:start], [len(clean)], strip[start:-1]])
    return taken(clean, rows, lost=[strip[-1]])


def early(clean: Reading, strip: Indices, start: int = 0) -> Misread:
    """Skip patch number `start` of a strip, and read bare paper at its end."""
    rows = np.arange(len(clean))
    rows[strip] = np.concatenate([strip[:start], strip[start + 1 :], [len(clean)]])
    return taken(clean, rows, lost=[strip[start]])


def put_right(case: Misread, repaired: Reading | None) -> bool:
    """Say whether a repaired reading has every measured value under its own patch, and no other.

    Where bare paper was read beside a patch of bare paper, or a patch beside one printed alike,
    no one can tell the two values apart: either is right.
    """
    clean = case.clean
    expected = [index for index in range(len(clean)) if index not in case.lost]
    if repaired is None or sorted(repaired.ids) != sorted(clean.ids[i] for i in expected):
        return False
    index_of = {name: index for index, name in enumerate(clean.ids)}
    values = np.vstack([clean.lab, paper_value(clean)[np.newaxis]])
    device = np.vstack([clean.device, np.ones((1, 3))])
    for name, own, lab in zip(repaired.ids, repaired.device, repaired.lab, strict=True):
        source = int(np.flatnonzero((values == lab).all(axis=1))[0])
        alike = np.array_equal(device[source], clean.device[index_of[name]])
        if not alike or not np.array_equal(own, device[index_of[name]]):
            return False
    return True
