"""A glass measured by a white sheet, against the transmittance that the sheet was read through."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from support.invoked import invoke, refused

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import as_typed
from greyscale.readings.by_sheets import glass_of
from greyscale.readings.lamps import find_light

NM = np.arange(380.0, 731.0, 10.0)
SHEET = 0.86 + 0.05 * (NM - 380) / 350
GREEN = 0.90 - 0.25 * np.exp(-(((NM - 380) / 25) ** 2)) - 0.06 * (NM - 560) ** 2 / 170**2


def two_columns(path: Path, values: np.ndarray, unit: float = 1.0) -> Path:
    rows = (f"{nm:g};{value * unit:.5f}" for nm, value in zip(NM, values, strict=True))
    path.write_text("nm;reflectance\n" + "\n".join(rows), encoding="utf-8")
    return path


def iso28178(path: Path, values: np.ndarray) -> Path:
    """Three readings of one sheet, in percent, that scatter around it."""
    fields = " ".join(f"SPECTRAL_NM{nm:.0f}" for nm in NM)
    rows = "\n".join(
        f"{i + 1} " + " ".join(f"{100 * value * part:.4f}" for value in values)
        for i, part in enumerate((0.99, 1.0, 1.01))
    )
    path.write_text(
        f"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID {fields}\nEND_DATA_FORMAT\nNUMBER_OF_SETS 3\n"
        f"BEGIN_DATA\n{rows}\nEND_DATA\n",
        encoding="utf-8",
    )
    return path


@pytest.mark.parametrize("form", [two_columns, iso28178])
def test_the_sheet_tells_the_glass_that_is_passed_twice(form, tmp_path: Path) -> None:
    bare = form(tmp_path / "bare.txt", SHEET)
    behind = form(tmp_path / "behind.txt", SHEET * GREEN**2)
    found = glass_of(bare, behind)
    np.testing.assert_allclose(found.wavelengths, NM)
    np.testing.assert_allclose(found.transmittance, GREEN, atol=1e-3)


def test_what_goes_to_and_fro_changes_the_level_and_hardly_the_shape(tmp_path: Path) -> None:
    """A surface of 8 % against a sheet: T² R / (1 - r R), the sum of all passes (Stokes)."""
    behind = SHEET * GREEN**2 / (1 - 0.08 * SHEET)
    found = glass_of(
        two_columns(tmp_path / "a.csv", SHEET), two_columns(tmp_path / "b.csv", behind)
    )
    level = found.transmittance / GREEN
    assert 1.0 < level.mean() < 1.05
    assert np.ptp(level) < 0.005


def test_the_file_is_taken_as_a_glazing(tmp_path: Path) -> None:
    bare = two_columns(tmp_path / "bare.csv", SHEET, 100)
    behind = two_columns(tmp_path / "behind.csv", SHEET * GREEN**2, 100)
    target = tmp_path / "my glass" / "my-glass.csv"
    target.parent.mkdir()
    arguments = ("lights", "--glass", bare, behind, "-o", target)
    said = invoke(*arguments, code=0)
    # What was measured stands there, and the option as it is typed, in one line.
    assert f"\n540 nm  {GREEN[NM == 540][0]:.3f}\n" in said.output
    assert f"use it as --glazing {as_typed(target).removeprefix('greyscale ')}\n" in said.output
    assert not said.output.endswith("\n\n")
    assert "Light passes the glass twice" in said.output
    assert "Below 380 nm nothing was read" in said.output
    lit, own = find_light("D65", str(target)), find_light("D65")
    assert lit.name == "D65 behind my-glass"
    at = np.isin(np.arange(360.0, 831.0), NM)
    np.testing.assert_allclose(lit.power[at] / own.power[at], GREEN, atol=1e-3)
    invoke(*arguments, "--replace", code=0)


def test_what_cannot_be_is_refused(tmp_path: Path) -> None:
    bare = two_columns(tmp_path / "bare.csv", SHEET)
    behind = two_columns(tmp_path / "behind.csv", SHEET * GREEN**2)
    with pytest.raises(BadInput, match="give the bare sheet first"):
        glass_of(behind, bare)
    with pytest.raises(BadInput, match="read a white sheet"):
        glass_of(two_columns(tmp_path / "grey.csv", 0.2 * SHEET), behind)
    short = tmp_path / "short.csv"
    short.write_text("400,0.5\n500,0.5\n600,0.5\n", encoding="utf-8")
    with pytest.raises(BadInput, match="other wavelengths"):
        glass_of(bare, short)
    picture = tmp_path / "bin.png"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\1\0")
    with pytest.raises(BadInput, match="is a binary file; export the measurements as text or CxF3"):
        glass_of(picture, behind)
    page = tmp_path / "page.html"
    page.write_bytes("<html></html>".encode("utf-16-be"))
    with pytest.raises(BadInput, match="is not a spectrum: "):
        glass_of(page, behind)
    refused("lights", "--glass", bare, behind, "-o", "x")
