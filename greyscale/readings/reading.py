"""What was measured on one printed chart: Reading, and what repeats in it say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np

from greyscale.base.results import Presented, PrintFacts, with_rows
from greyscale.colorimetry.arrays import Array, Indices, Mask
from greyscale.colorimetry.cielab import delta_E_2000, density_from_lightness, visual_density
from greyscale.colorimetry.fluorescence import print_to_lab
from greyscale.colorimetry.lights import Light

NEAR_NEUTRAL = 0.4
"""Patches whose channels lie further apart say nothing of the grey axis."""

AXIS_TOLERANCE = 1e-4
"""Device channels (0 to 1) closer than this are equal: a patch on the grey axis."""


def is_bare(device: Array) -> Mask:
    """Return which device values, shape (n, 3), lay no ink: bare paper; shape (n,)."""
    return np.asarray(np.all(device > 1 - AXIS_TOLERANCE, axis=1))


def is_full(device: Array) -> Mask:
    """Return which device values, shape (n, 3), ask for full black; shape (n,)."""
    return np.asarray(np.all(device < AXIS_TOLERANCE, axis=1))


TONE_ALONE = "TONE_ALONE"
"""A keyword of our own: what was measured is L* or density, without a* and b*."""
_AS_IT_IS = "TAKEN_AS_IT_IS"


@dataclass(frozen=True, eq=False, repr=False)
class Reading(Presented, PrintFacts):
    """The measurements of one printed chart, with what is known of the print (`PrintFacts`).

    Attributes
    ----------
    name
        What to call it: the file's descriptor, else the file's name without its ending.
    source
        The file's path, as it was given.
    ids
        `SAMPLE_ID` of each of the n patches, in the file's order.
    device
        Shape (n, 3): R, G, B from 0 to 1. Level 0 is black, 1 is paper white.
    lab
        Shape (n, 3): CIELAB, from the spectra under D50 where there are any (for `observer`),
        else as the file states it.
    spectra, wavelengths
        Shapes (n, m) and (m,): reflectance factors, 1 = perfect diffuser, and nm; or None.
    places
        Strip letter and number of each patch, or None.
    observer
        "2" or "10": the observer of `lab`.
    fields
        Everything else the file says of itself: keyword and value.
    remarks
        What the reader decided, as sentences to be shown.
    glow
        Shape (n, m): what a brightener adds to the spectra under D50, M1 - M2; None where that
        was not measured.
    glow_source
        The file of the reading in M2 that the glow comes from, where it was another.
    glow_sha256
        Of that file.
    light
        What `lab` is under; None is D50.
    sha256
        Of its file, in hexadecimal digits; None where it was not read from one.
    """

    name: str
    source: str
    ids: tuple[str, ...]
    device: Array
    lab: Array
    spectra: Array | None = None
    wavelengths: Array | None = None
    places: tuple[str, ...] | None = None
    observer: str = "2"
    fields: Mapping[str, str] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()
    glow: Array | None = None
    glow_source: str | None = None
    glow_sha256: str | None = None
    light: Light | None = None
    sha256: str | None = None

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def spectral(self) -> bool:
        """Whether there are spectra."""
        return self.spectra is not None

    @property
    def tone_alone(self) -> bool:
        """Whether L* alone was measured: a* and b* are 0 and say nothing."""
        return TONE_ALONE in self.fields

    @property
    def as_it_is(self) -> bool:
        """Whether the person wants it taken as it is: no patch is set aside."""
        return _AS_IT_IS in self.fields

    def taken_as_it_is(self) -> Reading:
        """Return the same reading, of which no patch is set aside."""
        return replace(self, fields={**self.fields, _AS_IT_IS: "yes"})

    @property
    def on_axis(self) -> Mask:
        """Which patches have equal device channels, shape (n,)."""
        return np.asarray(np.ptp(self.device, axis=1) < AXIS_TOLERANCE)

    @cached_property
    def level(self) -> Array:
        """Level of each patch, shape (n,): the mean of its channels."""
        return np.asarray(self.device.mean(axis=1))

    @property
    def axis_rows(self) -> Indices:
        """The rows of the patches with equal device channels, by falling level."""
        rows = np.flatnonzero(self.on_axis)
        return np.asarray(rows[np.argsort(-self.level[rows], kind="stable")])

    @property
    def density(self) -> Array:
        """Visual density relative to the perfect diffuser, shape (n,); from L* without spectra."""
        if self.spectra is None or self.wavelengths is None:
            return density_from_lightness(self.lab[:, 0])
        return visual_density(self.spectra, self.wavelengths)

    def select(self, rows: Sequence[int] | Mask | Indices) -> Reading:
        """The same reading with some patches only: by a mask, or by indices in order."""
        index = np.asarray(rows)
        index = np.flatnonzero(index) if index.dtype == bool else index.astype(int)
        return with_rows(self, index, "ids", "device", "lab", "spectra", "glow", "places")

    def lab_under(self, light: str | Light, observer: str | None = None) -> Array:
        """CIELAB under a light, against its own perfect diffuser, shape (n, 3).

        The glow, where it is known, by how much of it the light excites.

        Raises
        ------
        ValueError
            If the reading has no spectra.
        """
        if self.spectra is None or self.wavelengths is None:
            raise ValueError("a reading without spectra has no CIELAB under other lights")
        own = observer or self.observer
        return print_to_lab(self.spectra, self.glow, self.wavelengths, light, own)

    def under(self, light: Light, observer: str | None = None) -> Reading:
        """The same reading with its CIELAB under a light."""
        own = observer or self.observer
        return replace(self, lab=self.lab_under(light, own), light=light, observer=own)


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
