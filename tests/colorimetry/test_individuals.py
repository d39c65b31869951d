"""Individual observers: held against the CIE's mean observers, and against another library."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.individuals import (
    COUNT,
    _eye,
    cone_fundamentals,
    fundamentals_of,
    individual_weights,
    individuals,
)
from greyscale.colorimetry.lights import light
from greyscale.colorimetry.observers import NANOMETRES
from greyscale.colorimetry.tristimulus import WavelengthGrid

NOBODY_IN_PARTICULAR = np.zeros((1, 8))
FROM_390_TO_650 = slice(30, 291)


def published(field: int) -> Array:
    """Stockman and Sharpe's fundamentals (2000; CIE 170-1:2006), as `colour` holds them."""
    table = colour.MSDS_CMFS[f"Stockman & Sharpe {field} Degree Cone Fundamentals"]
    return np.nan_to_num(table.values)[: 650 - 390 + 1]


@pytest.mark.parametrize("field", [2, 10])
def test_the_standard_observer_is_taken_apart_into_its_cones(field: int) -> None:
    np.testing.assert_allclose(
        cone_fundamentals(field)[FROM_390_TO_650], published(field), atol=1e-6
    )


def test_an_eye_of_32_years_without_deviations_is_the_mean_observers() -> None:
    ours = fundamentals_of([32.0], NOBODY_IN_PARTICULAR)[0]
    ours = (ours / ours.max(axis=0))[FROM_390_TO_650]
    theirs = published(10) / published(10).max(axis=0)
    np.testing.assert_allclose(ours, theirs, atol=2e-5)


def test_the_macular_pigment_found_is_the_one_published() -> None:
    """CIE 170-1:2006: 0.35 at most, for 2°; relative to that at 400, 430, ... nm."""
    macula = _eye()[1]
    at = [400, 430, 460, 490, 520, 540]
    found = macula[[nm - 360 for nm in at]]
    np.testing.assert_allclose(found, [0.248, 0.748, 1.0, 0.768, 0.150, 0.0131], atol=0.002)


def test_what_was_found_of_L_and_M_foretells_S_at_the_other_field() -> None:
    """S of the 2° observer took no part in finding the macular pigment (CIE 170-1:2006)."""
    blue = slice(30, 221)  # To 580 nm; beyond it S is nothing.
    absorbance, macula = (part[blue] for part in _eye())
    wide, narrow = (1.0 - 10.0 ** (-density * absorbance[:, 2]) for density in (0.30, 0.40))
    foretold = cone_fundamentals(10)[blue, 2] * narrow / wide * 10.0 ** (-0.255 * macula)
    found = foretold / foretold.max()
    np.testing.assert_allclose(found, published(2)[: found.size, 2], atol=3e-3)


# L, M, S, 1 at their peaks, at 420, 450, 480, 520, 560, 600 and 640 nm: what luxpy 1.12.5 has for
# individuals (`toolboxes.indvcmf.cie2006cmfsEx`, a port of the model's authors' own program).
AT = np.array([420, 450, 480, 520, 560, 600, 640])
INDIVIDUALS = {
    "60 years": (
        60.0,
        [0.0] * 8,
        [[0.014585, 0.017812, 0.37478], [0.061693, 0.11313, 0.9987], [0.17763, 0.31726, 0.38858],
         [0.62362, 0.8589, 0.021153], [0.96926, 0.91642, 0.00052249],
         [0.83649, 0.33158, 1.3715e-05], [0.26043, 0.031512, 0.0]],
    ),
    "all parts": (
        45.0,
        [0.20, -0.30, 0.09, -0.09, 0.07, 2.0, -1.5, 1.3],
        [[0.014089, 0.016843, 0.31548], [0.066144, 0.12437, 0.99986], [0.18201, 0.34686, 0.4111],
         [0.61199, 0.88605, 0.02219], [0.96049, 0.8947, 0.00054406],
         [0.86122, 0.30043, 1.3977e-05], [0.28785, 0.027232, 6.0468e-07]],
    ),
}  # fmt: skip


@pytest.mark.parametrize("who", INDIVIDUALS)
def test_individuals_are_those_of_another_implementation(who: str) -> None:
    age, deviations, expected = INDIVIDUALS[who]
    ours = fundamentals_of([age], [deviations])[0]
    ours = (ours / ours.max(axis=0))[AT - 360]
    np.testing.assert_allclose(ours, expected, rtol=0.008, atol=2e-5)


# Standard deviations of the logarithms of L, M, S at AT, of 2000 individuals of 20 to 70 years
# drawn at random by the same program (its `dsrc_std="germany"`).
SPREAD = [
    [0.2061, 0.1909, 0.1153], [0.0982, 0.0834, 0.0057], [0.0675, 0.0509, 0.0466],
    [0.0331, 0.0154, 0.0813], [0.0074, 0.0120, 0.1028], [0.0189, 0.0425, 0.1184],
]  # fmt: skip


def test_the_individuals_spread_as_those_of_another_implementation() -> None:
    people = individuals()
    assert people.shape == (NANOMETRES.size, COUNT, 3)
    found = np.log10((people / people.max(axis=0))[AT[:6] - 360]).std(axis=1)
    np.testing.assert_allclose(found, SPREAD, rtol=0.1)


def test_a_flat_grey_is_neutral_to_everyone_and_the_weights_are_one_observers() -> None:
    grid, source = WavelengthGrid(380.0, 10.0, 36), light("A")
    weights = individual_weights(grid, source)
    white = weights.sum(axis=0)
    np.testing.assert_allclose(white, np.repeat(white[:1], COUNT, axis=0), rtol=1e-9)
    # The 10° observer of CIE 170-2:2015: X, Z of A over Y, by sums of colour's own tables.
    table = colour.MSDS_CMFS["CIE 2015 10 Degree Standard Observer"]
    power = colour.SDS_ILLUMINANTS["A"].copy().align(table.shape).values
    expected = 100.0 * power @ table.values / (power @ table.values[:, 1])
    np.testing.assert_allclose(white[0], expected, rtol=2e-3)
