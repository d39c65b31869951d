"""What the simulated printer prints, and what a simulated instrument reads from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.demo.brightener import glow
from greyscale.demo.inks import INK_STRENGTHS, UV, ink_densities
from greyscale.demo.noise import add_noise
from greyscale.demo.papers import Paper, paper_reflectance
from greyscale.demo.separation import Separation
from greyscale.readings.reading import Reading

START, STOP, STEP = 380.0, 730.0, 10.0
_COVER = 3.2  # Share of bare paper falls as exp(-_COVER · volume of ink).


def quantised(device: ArrayLike, bits: int | None) -> Array:
    """Give device values as a file of so many bits holds them, shape (n, 3) from 0 to 1."""
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
    name
        What the printer is called.
    paper
        What it prints on.
    separation
        Which inks it takes.
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
        """Give the spectra as they are, without noise.

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
        """Give the spectra of ink densities (n, 6) on the paper."""
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
        """Give what passes the ink layer, in and out, shape (n, m)."""
        paper = self.paper
        laid = amounts * np.asarray(paper.yields)
        in_dots = laid @ densities / np.maximum(cover, 1e-12)
        squared = (in_dots / paper.saturation) ** 2
        in_dots = in_dots / np.sqrt(np.sqrt(1.0 + squared * squared))
        n = paper.yule_nielsen
        return np.asarray((1.0 - cover + cover * np.exp(-np.log(10.0) / n * in_dots)) ** n)

    def lab(self, device: ArrayLike, *, condition: str = "M1", hours: float | None = None) -> Array:
        """Give L*, a*, b* (D50, 2°) as they are, without noise, shape (n, 3)."""
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
        ids
            `SAMPLE_ID` of each of the n patches.
        device
            Shape (n, 3), the chart's device values, 0 to 1.
        sent
            What was sent to the printer in their place, shape (n, 3): the chart's values
            through a correction. None sends `device`.
        places
            Strip letter and number of each patch.
        noise
            Standard deviation of each of L*, a*, b* from patch to patch.
        seed
            Same seed, same noise.
        condition
            "M0", "M1" or "M2".
        hours
            Time since printing; None is dry.
        page_drift
            By which share the amount of ink grows from the first patch to the last.
        created
            When it was measured.
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
