"""Measured spectra of a chart's greys against the CIELAB published for the same chart.

Both are in `colour`'s data sets; keys that both data sets have belong to the same chart.
"""

from __future__ import annotations

from itertools import product

import colour
import numpy as np
import pytest

from greyscale.colorimetry.cielab import delta_E_2000, spectra_to_lab, xyz_to_lab

CHARTS = sorted(set(colour.SDS_COLOURCHECKERS) & set(colour.CCS_COLOURCHECKERS))


def greys(chart):
    """Give the six greys: spectra, wavelengths, published xyY, and the white they refer to."""
    spectra, published = colour.SDS_COLOURCHECKERS[chart], colour.CCS_COLOURCHECKERS[chart]
    names = list(spectra)[-6:]
    assert [name.split()[0] for name in names] == ["white", *["neutral"] * 4, "black"]
    return (
        np.array([spectra[name].values for name in names]),
        spectra[names[0]].wavelengths,
        np.array([published.data[name] for name in names]),
        100 * colour.xy_to_XYZ(published.illuminant),
    )


def published_lab(xyY, white):
    return xyz_to_lab(100 * colour.xyY_to_XYZ(xyY), white)


def test_there_is_such_a_chart():
    assert CHARTS


@pytest.mark.parametrize("chart", CHARTS)
def test_greys_are_the_published_ones_to_0_18(chart):
    """Seen: ΔE00 0.03 (white) to 0.17 (black), because the published reflectances have three
    decimals, one part in 30 of the black's; the next test says that this accounts for it."""
    spectra, wavelengths, xyY, white = greys(chart)
    difference = delta_E_2000(spectra_to_lab(spectra, wavelengths), published_lab(xyY, white))
    assert difference.max() < 0.18
    assert difference[:4].max() < 0.04


@pytest.mark.parametrize("chart", CHARTS)
def test_the_rounding_of_the_published_numbers_accounts_for_the_difference(chart):
    """Reflectances have three decimals, x, y, Y four: within three standard deviations of the one
    and the whole of the other."""
    spectra, wavelengths, xyY, white = greys(chart)
    np.testing.assert_allclose(spectra, spectra.round(3), atol=1e-12)
    np.testing.assert_allclose(xyY, xyY.round(4), atol=1e-12)
    lab = spectra_to_lab(spectra, wavelengths)
    rounding = np.random.default_rng(0).uniform(-0.0005, 0.0005, (2000, *spectra.shape))
    sd = (spectra_to_lab(spectra + rounding, wavelengths) - lab).std(axis=0)
    published = published_lab(xyY, white)
    corners = [
        published_lab(xyY + 0.00005 * np.array(signs), white) - published
        for signs in product((-1, 1), repeat=3)
    ]
    allowed = 3 * sd + np.abs(corners).max(axis=0)
    assert np.all(np.abs(lab - published) <= allowed)
