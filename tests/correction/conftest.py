"""What the tests of corrections share."""

from __future__ import annotations

import pytest
from support.corrections import apply_lut, correction_with, curve_against, printed

from greyscale.correction.record import Correction, Curve


@pytest.fixture(scope="session")
def curve() -> Curve:
    return curve_against()


@pytest.fixture(scope="session")
def make_curve():
    return curve_against


@pytest.fixture(scope="session")
def correction(curve) -> Correction:
    return correction_with(curve)


@pytest.fixture(scope="session")
def make_correction():
    return correction_with


@pytest.fixture(scope="session")
def printer_lab():
    return printed


@pytest.fixture(scope="session")
def read_by_opencolorio():
    return apply_lut
