"""What the benchmarks work on: readings of ramps and charts, papers, pictures, corrections."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import tifffile
from support.corrections import correction_with, curve_against, printed

from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.correction.folder import write_files
from greyscale.demo.printer import demo_printer
from greyscale.readings.reading import Reading

NUDGES = np.concatenate([np.zeros((1, 3)), np.eye(3), -np.eye(3)]) * 0.03
"""A tone alone, and with each channel a little more and a little less."""


def ramp(patches: int) -> Reading:
    """Measure so many tones in equal steps, with spectra."""
    return _measured(np.repeat(np.linspace(0, 1, patches)[:, np.newaxis], 3, axis=1))


def chart(patches: int) -> Reading:
    """Measure so many patches: tones, two thirds of them with near-neutral patches beside."""
    alone = patches // 5
    beside = np.linspace(0.05, 0.95, (patches - alone) // len(NUDGES))
    near = (beside[:, np.newaxis, np.newaxis] + NUDGES).reshape(-1, 3)
    tones = np.repeat(np.linspace(0, 1, patches - len(near))[:, np.newaxis], 3, axis=1)
    return _measured(np.concatenate([tones, near]))


def papers(count: int) -> list[Reading]:
    """Give readings of 51 tones on so many papers, no two alike."""
    own, random = ramp(51), np.random.default_rng(3)
    made = []
    for i in range(count):
        tint = 1 + 0.03 * random.normal() * np.linspace(-1, 1, own.spectra.shape[1])
        spectra = own.spectra * tint * (1 + 0.001 * random.normal(size=own.spectra.shape))
        lab = spectra_to_lab(spectra, own.wavelengths)
        made.append(replace(own, name=f"paper {i}", source=f"{i}.txt", spectra=spectra, lab=lab))
    return made


def correction_folder(folder: Path) -> Path:
    """Write a correction's files."""
    folder.mkdir()
    write_files(correction_with(curve_against()), folder, printed)
    return folder


def picture(path: Path, width: int, height: int) -> Path:
    """Write a TIFF of 16-bit RGB whose rows are all different."""
    row = np.linspace(0, 65535, width).astype(np.uint16)
    random = np.random.default_rng(1)
    with tifffile.TiffWriter(path) as file:
        file.write(
            (
                np.roll(row, 3 * y)[:, None].repeat(3, 1) ^ random.integers(0, 64, dtype=np.uint16)
                for y in range(height)
            ),
            shape=(height, width, 3),
            dtype=np.uint16,
            photometric="rgb",
            rowsperstrip=1,
            metadata=None,
            resolution=(360, 360),
        )
    return path


def _measured(device: np.ndarray) -> Reading:
    ids = [str(number) for number in range(1, len(device) + 1)]
    return demo_printer().measure(ids, device, name="bench")
