"""From spectrum to X, Y, Z: published white points, a second library, sums at 1 nm."""

from __future__ import annotations

import warnings

import colour
import numpy as np
import pytest
from published.figures import PUBLISHED_WHITES
from scipy.interpolate import CubicSpline

from greyscale.colorimetry.lights import UnknownLight, cubic_spline, illuminant_names, light
from greyscale.colorimetry.observers import NANOMETRES, colour_matching_functions
from greyscale.colorimetry.tristimulus import (
    WavelengthGrid,
    grid_white_point,
    integration_weights,
    lagrange_coefficients,
    spectra_to_xyz,
    tristimulus_weights,
    white_point,
)

GRIDS = {
    "380-730 by 10": np.arange(380.0, 731.0, 10.0),
    "400-700 by 10": np.arange(400.0, 701.0, 10.0),
    "380-780 by 5": np.arange(380.0, 781.0, 5.0),
    "380-730 by 20": np.arange(380.0, 741.0, 20.0),
    "360-830 by 1": NANOMETRES,
    "380-730 by 10/3": np.round(380.0 + np.arange(106) * 10 / 3, 1),
}


def smooth_spectra(count: int, seed: int = 0) -> np.ndarray:
    """Invent smooth reflectance factors at 1 nm: sums of broad bells, 0.02 to 0.95."""
    random = np.random.default_rng(seed)
    centres = random.uniform(340, 800, (count, 6, 1))
    widths = random.uniform(60, 140, (count, 6, 1))
    heights = random.uniform(-1, 1, (count, 6, 1))
    bells = np.sum(heights * np.exp(-0.5 * ((NANOMETRES - centres) / widths) ** 2), axis=1)
    return np.asarray(0.02 + 0.93 / (1 + np.exp(-bells - random.uniform(-2, 2, (count, 1)))))


def sums_at_one_nanometre(spectra: np.ndarray, name: str) -> np.ndarray:
    """X, Y, Z by plain sums of `colour`'s tables, splined or straight to 1 nm."""
    table = colour.SDS_ILLUMINANTS[{"F11": "FL11"}.get(name, name)]
    inside = (table.wavelengths[0] <= NANOMETRES) & (table.wavelengths[-1] >= NANOMETRES)
    spline = CubicSpline(table.wavelengths, table.values)
    power = np.where(inside, spline(NANOMETRES), 0.0)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].values
    weights = power[:, None] * observer
    return np.asarray(spectra @ weights * 100 / weights[:, 1].sum())


@pytest.mark.parametrize(("source", "observer"), PUBLISHED_WHITES)
def test_white_points_equal_the_published_ones(source: str, observer: str) -> None:
    """ASTM E308, tables 5 (10 nm), within 0.02."""
    published = PUBLISHED_WHITES[source, observer]
    np.testing.assert_allclose(white_point(source, observer), published, atol=0.02)


@pytest.mark.parametrize("grid", GRIDS)
@pytest.mark.parametrize(("source", "observer"), PUBLISHED_WHITES)
def test_weights_on_any_grid_sum_to_the_published_white(
    grid: str, source: str, observer: str
) -> None:
    published = PUBLISHED_WHITES[source, observer]
    np.testing.assert_allclose(
        grid_white_point(GRIDS[grid], source, observer), published, atol=0.02
    )


@pytest.mark.parametrize("source", ["D50", "A"])
@pytest.mark.parametrize("observer", ["2", "10"])
def test_measured_chart_greys_equal_another_libraries_e308(source: str, observer: str) -> None:
    """`colour`'s own ASTM E308 function on the measured chart greys, within 0.02."""
    cmfs = colour.MSDS_CMFS[
        f"CIE {1931 if observer == '2' else 1964} {observer} Degree Standard Observer"
    ]
    chart = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    wavelengths = np.arange(380.0, 731.0, 10.0)
    for name in list(chart)[-6:]:
        shape = colour.SpectralShape(380, 730, 10)
        table = chart[name].copy().align(shape)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            theirs = colour.sd_to_XYZ(
                table, cmfs, colour.SDS_ILLUMINANTS[source], method="ASTM E308"
            )
        ours = spectra_to_xyz(table.values, wavelengths, source, observer)
        np.testing.assert_allclose(ours, theirs, atol=0.02)


@pytest.mark.parametrize(
    ("source", "tolerance"), [("D50", 0.02), ("A", 0.02), ("F11", 0.02), ("LED-B3", 0.02)]
)
def test_ten_nanometre_weights_equal_sums_at_one_nanometre(source: str, tolerance: float) -> None:
    """What E2022 weights are for: 10 nm data give what 1 nm data would have given."""
    spectra = smooth_spectra(200)
    wavelengths = np.arange(360.0, 831.0, 10.0)
    ours = spectra_to_xyz(spectra[:, ::10], wavelengths, source)
    np.testing.assert_allclose(ours, sums_at_one_nanometre(spectra, source), atol=tolerance)


def test_multiplying_ten_nanometre_samples_of_f11_would_be_wrong() -> None:
    """F11 has narrow lines: samples every 10 nm miss them; the weights do not."""
    spectra = smooth_spectra(200)
    wavelengths = np.arange(360.0, 831.0, 10.0)
    true = sums_at_one_nanometre(spectra, "F11")
    ours = spectra_to_xyz(spectra[:, ::10], wavelengths, "F11")
    samples = light("F11").power[::10, None] * colour_matching_functions("2")[::10]
    naive = spectra[:, ::10] @ samples * 100 / samples[:, 1].sum()
    assert np.abs(ours - true).max() < 0.02
    assert np.abs(naive - true).max() > 1.0


def test_weights_reproduce_polynomials_of_third_degree_exactly() -> None:
    """Lagrange interpolation of third degree is exact for cubics (ASTM E2022)."""
    grid = WavelengthGrid(320.0, 20.0, 28)  # the intervals of second degree lie outside
    functions = colour_matching_functions("2")
    weights = integration_weights(grid, functions)
    t = (grid.wavelengths - 600) / 200
    at_one_nanometre = (NANOMETRES - 600) / 200
    for coefficients in ([0.5], [0.3, 0.4], [-0.2, 0.1, 0.6], [0.5, -0.2, -0.1, 0.4]):
        ours = np.polyval(coefficients, t) @ weights
        exact = np.polyval(coefficients, at_one_nanometre) @ functions
        np.testing.assert_allclose(ours, exact, rtol=1e-9)


@pytest.mark.parametrize("start", [358.0, 382.0])
def test_a_grid_that_meets_neither_end_of_the_tables_is_summed_within_them(start: float) -> None:
    """Values every 5 nm that miss 360 and 830 nm: what lies beyond the tables weighs nothing."""
    grid = WavelengthGrid(start, 5.0, 96)
    functions = light("A").power[:, None] * colour_matching_functions("2")
    own = grid.wavelengths.astype(int)
    inside = (own >= 360) & (own <= 830)
    sums = np.where(inside[:, None], functions[np.clip(own, 360, 830) - 360], 0.0) * 5.0
    before = np.arange(start - 5, 359, -5).astype(int) - 360
    sums[0] += functions[before].sum(axis=0) * 5.0
    np.testing.assert_allclose(integration_weights(grid, functions), sums, rtol=1e-12)


@pytest.mark.parametrize("start", [320.0, 360.0, 380.0, 383.0, 400.0])
@pytest.mark.parametrize("step", [3.5, 10.0, 20.0])
@pytest.mark.parametrize("count", [16, 32, 60])
def test_a_constant_spectrum_is_integrated_whole(start: float, step: float, count: int) -> None:
    """Whatever the grid: nothing of the functions is lost between its ends and the tables'."""
    weights = integration_weights(WavelengthGrid(start, step, count), np.ones((471, 1)))
    assert weights.sum() == pytest.approx(471.0, rel=1e-12)


def test_nothing_is_interpolated_beyond_a_grid() -> None:
    matrix = lagrange_coefficients(WavelengthGrid(400.0, 10.0, 31))
    inside = (NANOMETRES >= 400) & (NANOMETRES <= 700)
    assert not matrix[~inside].any()
    np.testing.assert_allclose(matrix[inside].sum(axis=1), 1.0)


def test_missing_ends_go_to_the_first_and_last_measured_wavelength() -> None:
    """ASTM E308, 7.3.2.2."""
    whole = tristimulus_weights(WavelengthGrid(360.0, 10.0, 48), "A")
    short = tristimulus_weights(WavelengthGrid(400.0, 10.0, 31), "A")
    np.testing.assert_allclose(short[0], whole[:5].sum(axis=0), atol=1e-9)
    np.testing.assert_allclose(short[-1], whole[34:].sum(axis=0), atol=1e-9)
    np.testing.assert_allclose(short[1:-1], whole[5:34], atol=1e-9)


def test_every_cie_illuminant_of_the_table_is_a_light() -> None:
    for name in illuminant_names():
        white = white_point(name)
        assert white[1] == pytest.approx(100.0)
        assert np.all(white > 0)


def test_weights_are_made_once() -> None:
    grid = WavelengthGrid(380.0, 10.0, 36)
    assert tristimulus_weights(grid, "D50") is tristimulus_weights(grid, "D50")
    with pytest.raises(ValueError, match="read-only"):
        tristimulus_weights(grid, "D50")[0] = 0


def test_what_is_shared_cannot_be_written_to() -> None:
    """Tables are kept and given to all who ask."""
    own = light("D50")
    for shared in (own.power, own.wavelengths, own.measured, white_point("D50")):
        with pytest.raises(ValueError, match="read-only"):
            shared[0] = 0


def test_an_unknown_light_names_its_neighbours() -> None:
    with pytest.raises(UnknownLight, match=r"LED-B9.*LED-B"):
        light("LED-B9")


@pytest.mark.parametrize(
    ("wavelengths", "message"),
    [([400.0, 410.0], "three"), ([400.0, 410.0, 425.0], "equally"), ([3.0, 2.0, 1.0], "equally")],
)
def test_a_grid_must_be_regular(wavelengths: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        WavelengthGrid.of(wavelengths)


def test_an_unknown_observer_is_refused() -> None:
    with pytest.raises(LookupError, match="2015-10"):
        colour_matching_functions("3")


@pytest.mark.parametrize("count", [2, 3, 4, 36, 81])
def test_the_spline_is_scipys(count: int) -> None:
    random = np.random.default_rng(count)
    places = np.cumsum(random.uniform(1, 10, count))
    values = random.normal(size=(count, 2))
    at = np.append(random.uniform(places[0], places[-1], 100), places)
    for given in (values, values[:, 0]):
        expected = CubicSpline(places, given)(at)
        np.testing.assert_allclose(cubic_spline(places, given, at), expected, atol=1e-10)
