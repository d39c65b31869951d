"""What cut or coarse spectra lose, as stated, against what they do: greys measured in full."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from greyscale.analysis.under_lights import WORTH_SAYING, loss_words, possible_loss
from greyscale.colorimetry.lights import light
from greyscale.demo.printer import demo_printer

LIGHTS = ("D50", "A", "FL11")
FULL = np.arange(380.0, 731.0, 10.0)


def greys(name: str) -> np.ndarray:
    """Greys of a published chart (as `colour` has it), or a print of the demo's."""
    if name == "a print":
        levels = np.repeat(np.linspace(0, 1, 17)[:, np.newaxis], 3, axis=1)
        return demo_printer("unbleached cotton").spectra(levels)
    shape = colour.SpectralShape(380, 730, 10)
    measured = list(colour.SDS_COLOURCHECKERS[name].values())[-6:]
    return np.array([one.copy().align(shape).values for one in measured])


def cut(spectra: np.ndarray, start: float, end: float, step: float):
    kept = (start <= FULL) & (end >= FULL) & ((FULL - start) % step == 0)
    return spectra[:, kept], FULL[kept]


def ab(spectra: np.ndarray, wavelengths: np.ndarray, name: str) -> np.ndarray:
    """By `colour`'s own way of ASTM E308, for CIE 1931."""
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    source = colour.SDS_ILLUMINANTS[name]
    shape = colour.SpectralShape(wavelengths[0], wavelengths[-1], wavelengths[1] - wavelengths[0])

    def xyz(values: np.ndarray) -> np.ndarray:
        distribution = colour.SpectralDistribution(values, shape.wavelengths)
        return colour.sd_to_XYZ(distribution, cmfs, source, method="ASTM E308")

    white = colour.XYZ_to_xy(xyz(np.ones(len(wavelengths))))
    return np.array([colour.XYZ_to_Lab(xyz(one) / 100, white)[1:] for one in spectra])


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", ["ISO 17321-1", "a print"])
@pytest.mark.parametrize(
    "ends", [(400, 700, 10), (420, 680, 10), (430, 660, 10), (380, 730, 20), (400, 700, 20)]
)
def test_what_is_lost_is_about_as_much_as_is_said(name: str, ends: tuple[int, int, int]) -> None:
    spectra = greys(name)
    part, wavelengths = cut(spectra, *ends)
    stated = possible_loss(part, wavelengths, [light(one) for one in LIGHTS])
    for one, loss in zip(LIGHTS, stated, strict=True):
        true = np.hypot(*(ab(part, wavelengths, one) - ab(spectra, FULL, one)).T).max()
        assert true <= 2.6 * loss + WORTH_SAYING
        assert loss <= 4.0 * true + 2 * WORTH_SAYING


def test_whole_spectra_are_not_spoken_of_and_cut_ones_by_range_step_and_light() -> None:
    spectra, lights = greys("a print"), [light(one) for one in LIGHTS]
    assert loss_words(spectra, FULL, lights) == ()
    (said,) = loss_words(*cut(spectra, 430, 660, 10), lights)
    assert "430 to 660 nm in steps of 10 nm" in said
    assert " under A, or two to three times that." in said
    (said,) = loss_words(*cut(spectra, 380, 720, 20), lights)
    assert " under F11," in said or " under FL11," in said


def test_of_few_wavelengths_far_apart_nothing_is_claimed() -> None:
    """Every other one of them tells nothing of what all of them lose; silence would claim none."""
    for step in (30, 50):
        (said,) = loss_words(*cut(greys("a print"), 400, 700, step), [light("D50")])
        assert said.endswith("too few to tell how far a*, b* are off by what lies between.")
