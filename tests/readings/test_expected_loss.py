"""Spectra cut short or coarse say what that costs, and no more than it does on a measured print."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.readings.formats import read
from greyscale.readings.spectral_data import expected_loss, spectra_of

_SAMPLES = Path(__file__).resolve().parents[2] / "sample_measurements"
_GRIDS = [(430, 660, 10), (420, 680, 10), (400, 700, 20), (430, 670, 20)]


@pytest.mark.parametrize(("first", "last", "step"), _GRIDS)
@pytest.mark.parametrize("name", ["baryta-65-m1", "cotton-rag-33-m1"])
def test_the_loss_said_is_a_floor_of_the_loss_there_is(
    name: str, first: int, last: int, step: int
) -> None:
    reading = read(_SAMPLES / f"{name}.txt")
    nm, spectra = reading.wavelengths, reading.spectra
    kept = (nm >= first) & (nm <= last) & ((nm - first) % step == 0)
    for light in ("D50", "F11"):
        cut = spectra_to_lab(spectra[:, kept], nm[kept], light, "2")
        true = np.linalg.norm(cut - spectra_to_lab(spectra, nm, light, "2"), axis=1).max()
        said = expected_loss(spectra[:, kept], nm[kept], light)
        assert 0 < said < 1.1 * true
    (remark,) = spectra_of(spectra[:, kept], nm[kept], "x", units="decimal").remarks
    assert "cost about" in remark
    assert not spectra_of(spectra, nm, "x", units="decimal").remarks
