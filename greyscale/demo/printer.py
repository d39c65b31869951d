"""What a simulated printer prints and a simulated instrument reads from it; the demo's own one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import luminance, spectra_to_lab
from greyscale.colorimetry.tristimulus import WavelengthGrid, grid_white_point, tristimulus_weights
from greyscale.demo.materials import (
    INK_STRENGTHS,
    PAPERS,
    UV,
    Paper,
    glow,
    ink_densities,
    paper_reflectance,
)
from greyscale.readings.reading import Reading

# How much of each ink a device colour prints: the simulated driver's separation.

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
        """Return the density of ink that a darkness asks for; any shape."""
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
        """Return the density that each ink is to print, shape (n, 6), of device (n, 3) from 0 to 1.

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


# What the simulated instrument adds to a spectrum: smooth, seeded noise of a stated size.

_BAND_SHARE = 0.15  # Noise of single wavelengths, which averages out, beside the smooth part.


def add_noise(spectra: Array, wavelengths: Array, sd: float, seed: int) -> Array:
    """Add noise whose L*, a* and b* under D50 each have the standard deviation `sd`.

    An instrument's noise is mostly smooth: its level, slope and bend change from patch to
    patch. Three smooth curves are mixed so that CIELAB moves by a drawn amount (to first order).

    Parameters
    ----------
    spectra
        Shape (n, m), reflectance factors.
    wavelengths
        Shape (m,), nm.
    sd
        Standard deviation of each of L*, a*, b*.

    Returns
    -------
    Array of shape (n, m), nowhere below 0.
    """
    if sd == 0.0:
        return spectra
    random = np.random.default_rng(seed)
    x = (wavelengths - 550.0) / 130.0
    shapes = np.stack([np.ones_like(x), np.tanh(x), np.exp(-((x / 0.45) ** 2))])
    lab_error = random.normal(0.0, sd, (spectra.shape[0], 3))
    mixture = np.linalg.solve(_lab_response(spectra, wavelengths, shapes), lab_error[..., None])
    smooth = mixture[..., 0] @ shapes
    # One part in a thousand of the reflectance is about 0.04 L*.
    single = random.normal(0.0, _BAND_SHARE * sd * 0.025, spectra.shape)
    return np.asarray(np.maximum(spectra * (1.0 + smooth + single), 0.0))


def _lab_response(spectra: Array, wavelengths: Array, shapes: Array) -> Array:
    """Return d(L*, a*, b*) by relative change of the spectrum in each shape: (n, 3, k)."""
    weights = tristimulus_weights(WavelengthGrid.of(wavelengths))
    white = grid_white_point(wavelengths)
    relative = spectra @ weights / white
    threshold = (6 / 29) ** 3
    slope = np.where(
        relative > threshold,
        np.maximum(relative, threshold) ** (-2 / 3) / 3,
        (29 / 6) ** 2 / 3,
    )
    moved = np.einsum("nm,km,mc->nck", spectra, shapes, weights / white, optimize=True)
    f = slope[..., None] * moved
    return np.stack([116 * f[:, 1], 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)


START, STOP, STEP = 380.0, 730.0, 10.0
_COVER = 3.2  # Share of bare paper falls as exp(-_COVER · volume of ink).


def quantised(device: ArrayLike, bits: int | None) -> Array:
    """Return device values as a file of so many bits holds them, shape (n, 3) from 0 to 1."""
    values = np.clip(np.atleast_2d(np.asarray(device, dtype=np.float64)), 0.0, 1.0)
    if bits is None:
        return values
    steps = 2**bits - 1
    return np.asarray(np.round(values * steps) / steps)


@dataclass(frozen=True)
class SimulatedPrinter:
    """An inkjet printer with six inks and one paper, spectrum by spectrum.

    Ink lies on the paper as dots whose cover grows with the volume of ink; the dots follow
    Beer and Lambert, the mean of dots and bare paper follows Yule and Nielsen, the paper's
    surface adds a reflection that no ink takes away. The brightener is excited and seen through
    the ink.

    Attributes
    ----------
    bits
        Bits per channel of the data it takes: 8, 16, or None for any value.
    """

    name: str
    paper: Paper
    separation: Separation
    bits: int | None = None

    @property
    def wavelengths(self) -> Array:
        """380 to 730 nm in steps of 10 nm, shape (36,)."""
        return np.arange(START, STOP + STEP / 2, STEP)

    def spectra(
        self,
        device: ArrayLike,
        *,
        condition: str = "M1",
        hours: float | None = None,
        strength: ArrayLike = 1.0,
    ) -> Array:
        """Return the spectra as they are, without noise.

        Parameters
        ----------
        device
            Shape (n, 3), R, G, B from 0 to 1: 0 prints black, 1 leaves bare paper.
        condition
            "M0", "M1" or "M2".
        hours
            Time since printing; None is dry. The spectrum nears its dry state as
            exp(-hours / `paper.drying_hours`).
        strength
            Factor of the amount of ink, one or (n,).

        Returns
        -------
        Array of shape (n, 36), reflectance factors, 1 = perfect diffuser.
        """
        sent = quantised(device, self.bits)
        amounts = self.separation.amounts(sent) * np.reshape(strength, (-1, 1))
        dry = self._layered(amounts, condition)
        if hours is None:
            return dry
        fresh = self._layered(amounts * (1.0 + np.asarray(self.paper.wet)), condition)
        return np.asarray(dry + (fresh - dry) * np.exp(-hours / self.paper.drying_hours))

    def _layered(self, amounts: Array, condition: str) -> Array:
        """Return the spectra of ink densities (n, 6) on the paper."""
        paper = self.paper
        cover = -np.expm1(-_COVER * (amounts / INK_STRENGTHS).sum(axis=1, keepdims=True))
        # The last column is the ultraviolet that excites the brightener.
        densities = ink_densities((*self.wavelengths, UV))
        through = self._transmittance(amounts, densities, cover)
        visible, ultraviolet = through[:, :-1], through[:, -1:]
        body = paper_reflectance(paper, self.wavelengths) - paper.surface
        printed = paper.surface + body * visible
        light_added = paper.brightener * glow(self.wavelengths, condition)
        if not light_added.any():
            return np.asarray(printed)
        # Ultraviolet passes the ink once, the light that it excites once.
        return np.asarray(printed + light_added * np.sqrt(visible * ultraviolet))

    def _transmittance(self, amounts: Array, densities: Array, cover: Array) -> Array:
        """Return what passes the ink layer, in and out, shape (n, m)."""
        paper = self.paper
        laid = amounts * np.asarray(paper.yields)
        in_dots = laid @ densities / np.maximum(cover, 1e-12)
        squared = (in_dots / paper.saturation) ** 2
        in_dots = in_dots / np.sqrt(np.sqrt(1.0 + squared * squared))
        n = paper.yule_nielsen
        return np.asarray((1.0 - cover + cover * np.exp(-np.log(10.0) / n * in_dots)) ** n)

    def lab(self, device: ArrayLike, *, condition: str = "M1", hours: float | None = None) -> Array:
        """Return L*, a*, b* (D50, 2°) as they are, without noise, shape (n, 3)."""
        spectra = self.spectra(device, condition=condition, hours=hours)
        return spectra_to_lab(spectra, self.wavelengths)

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
        hours: float | None = None,
        page_drift: float = 0.0,
        created: datetime | None = None,
    ) -> Reading:
        """Print a chart and read it.

        Parameters
        ----------
        device
            Shape (n, 3), the chart's device values, 0 to 1.
        sent
            What was sent to the printer in their place, shape (n, 3): the chart's values
            through a correction. None sends `device`.
        noise
            Standard deviation of each of L*, a*, b* from patch to patch.
        condition
            "M0", "M1" or "M2".
        hours
            Time since printing; None is dry.
        page_drift
            By which share the amount of ink grows from the first patch to the last.
        """
        values = np.atleast_2d(np.asarray(device, dtype=np.float64))
        strength = 1.0 + page_drift * np.linspace(-0.5, 0.5, len(values))
        true = self.spectra(
            values if sent is None else sent, condition=condition, hours=hours, strength=strength
        )
        spectra = add_noise(true, self.wavelengths, noise, seed)
        return Reading(
            name=name,
            source=name,
            ids=tuple(ids),
            device=values,
            lab=spectra_to_lab(spectra, self.wavelengths),
            spectra=spectra,
            wavelengths=self.wavelengths,
            places=None if places is None else tuple(places),
            condition=condition,
            backing="white",
            instrument="simulated spectrometer",
            printer=self.name,
            paper=self.paper.name,
            settings=None if self.bits is None else f"{self.bits} bits per channel",
            created=created,
        )


# The demo's own simulated printer, on each of its papers.

# Rows of the demo driver's table: darkness, then cyan, magenta, yellow, black, grey, light grey.
# Greys are carbon with a quarter of colour; what is not quite balanced there is the cast.
_TABLE = (
    (0.00, 0.29, 0.35, 0.27, 0.00, 0.00, 0.70),
    (0.10, 0.31, 0.38, 0.29, 0.00, 0.01, 0.68),
    (0.25, 0.40, 0.46, 0.38, 0.00, 0.13, 0.47),
    (0.40, 0.49, 0.47, 0.46, 0.01, 0.31, 0.22),
    (0.55, 0.53, 0.46, 0.51, 0.06, 0.32, 0.08),
    (0.70, 0.53, 0.46, 0.49, 0.24, 0.21, 0.02),
    (0.82, 0.44, 0.40, 0.39, 0.46, 0.10, 0.01),
    (0.92, 0.26, 0.26, 0.23, 0.68, 0.04, 0.00),
    (1.00, 0.10, 0.11, 0.10, 0.90, 0.00, 0.00),
)

# What the driver was made for: L* of paper and of black, luminance of the surface, tone curve.
_MADE_FOR = {
    "cotton rag": (96.5, 15.5, 1.65, (-0.01, -0.008, 0.006, 0.004)),
    "baryta": (96.7, 4.0, 0.20, (-0.05, 0.0, 0.008, 0.004)),
    "unbleached cotton": (95.0, 15.5, 1.70, (0.0, -0.010, 0.006, 0.004)),
    "kozo": (92.5, 18.0, 2.00, (0.01, -0.008, 0.006, 0.004)),
}


def demo_printer(paper: str = "cotton rag", *, bits: int | None = None) -> SimulatedPrinter:
    """Return the demo's spectral printer on one of its papers.

    Raises
    ------
    LookupError
        For a paper that is not known.

    Examples
    --------
    >>> demo_printer().spectra([[1.0, 1.0, 1.0]]).shape
    (1, 36)
    """
    if paper not in PAPERS:
        raise LookupError(f"the paper '{paper}' is not known; take one of {', '.join(PAPERS)}")
    L_paper, L_black, floor, tone = _MADE_FOR[paper]
    separation = Separation(
        darkness=tuple(row[0] for row in _TABLE),
        shares=tuple(row[1:] for row in _TABLE),
        balance=(0.985, 0.744, 0.894),
        L_paper=L_paper,
        L_black=L_black,
        floor=floor,
        tone=tone,
    )
    return SimulatedPrinter("the demo's six-ink printer", PAPERS[paper], separation, bits)
