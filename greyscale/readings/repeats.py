"""What patches that were printed or read more than once say: their mean and their spread."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from greyscale.colorimetry.arrays import Array, Indices
from greyscale.colorimetry.cielab import delta_E_2000
from greyscale.readings.reading import Reading

ASSUMED_SD = 0.15
"""Repeatability (sd, in CIELAB units) held to be true where nothing was repeated."""


@dataclass(frozen=True)
class Repeatability:
    """How well repeated patches of one reading agree.

    Attributes
    ----------
    known
        Whether anything was repeated; else `sd_Ch`, `sd_L` are `ASSUMED_SD`.
    repeated
        How many different device values were measured more than once.
    measurements
        How many measurements those were.
    sd_L
        Pooled standard deviation of one measurement's L*.
    sd_Ch
        The same for a* and b*, per axis, pooled over both.
    mean_delta_E00, max_delta_E00
        Distance of single measurements from the mean of theirs; None where nothing repeated.
    """

    known: bool
    repeated: int
    measurements: int
    sd_L: float
    sd_Ch: float
    mean_delta_E00: float | None
    max_delta_E00: float | None


@dataclass(frozen=True, eq=False)
class AveragedReading:
    """A reading whose repeats are averaged: every device value once.

    Attributes
    ----------
    reading
        One patch per device value, in order of first appearance; ids are those of the first.
    counts
        Shape (n,): how often each was measured.
    repeatability
        What the repeats say.
    """

    reading: Reading
    counts: Array
    repeatability: Repeatability


@lru_cache(maxsize=64)
def _same_device(device: bytes) -> tuple[Indices, Indices]:
    values = np.frombuffer(device).reshape(-1, 3)
    order = np.lexsort(values.T[::-1])
    new = np.ones(len(values), dtype=np.bool_)
    new[1:] = np.any(np.diff(values[order], axis=0) != 0, axis=1)
    group = np.empty_like(order)
    group[order] = np.cumsum(new) - 1
    for found in (first := order[new], group):
        found.setflags(write=False)
    return first, group


def same_device(device: Array) -> tuple[Indices, Indices]:
    """Return the patch that is the first of each device value, and which value each patch has.

    Parameters
    ----------
    device
        Shape (n, 3).

    Returns
    -------
    Shapes (k,) and (n,), the k values by R, then G, then B. Cached, for charts are reread.
    """
    return _same_device(np.round(device, 6).tobytes())


def average_repeats(reading: Reading) -> AveragedReading:
    """Average the patches of the same device values.

    Spectra are averaged as reflectance factors and CIELAB is computed from the mean; without
    spectra, CIELAB is averaged.
    """
    first, group = same_device(reading.device)
    order = np.argsort(first, kind="stable")
    rank = np.empty_like(order)
    rank[order] = np.arange(order.size)
    group = rank[group]
    count = order.size
    counts = np.bincount(group, minlength=count).astype(np.float64)

    averaged, lab = reading, reading.lab
    if count < len(reading):
        lab = _group_means(reading.lab, group, counts)
        spectra, glow = (
            None if values is None else _group_means(values, group, counts)
            for values in (reading.spectra, reading.glow)
        )
        averaged = replace(reading.select(first[order]), lab=lab, spectra=spectra, glow=glow)
    if averaged.spectral:
        averaged = replace(averaged, lab=averaged.lab_under(averaged.light or "D50"))
    return AveragedReading(
        averaged, counts, _repeatability(reading.lab, lab[group], counts, counts[group])
    )


def _group_means(values: Array, group: Indices, counts: Array) -> Array:
    sums = np.zeros((counts.size, values.shape[1]))
    np.add.at(sums, group, values)
    return sums / counts[:, np.newaxis]


def _repeatability(lab: Array, means: Array, counts: Array, own_count: Array) -> Repeatability:
    repeated = own_count > 1
    groups = int(np.sum(counts > 1))
    if not groups:
        return Repeatability(False, 0, 0, ASSUMED_SD, ASSUMED_SD, None, None)
    residual = (lab - means)[repeated]
    freedom = int(repeated.sum()) - groups
    distance = delta_E_2000(lab[repeated], means[repeated])
    return Repeatability(
        known=True,
        repeated=groups,
        measurements=int(repeated.sum()),
        sd_L=float(np.sqrt(np.sum(residual[:, 0] ** 2) / freedom)),
        sd_Ch=float(np.sqrt(np.sum(residual[:, 1:] ** 2) / (2 * freedom))),
        mean_delta_E00=float(distance.mean()),
        max_delta_E00=float(distance.max()),
    )
