"""What the tests of corrections share."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.corrections import apply_lut, correction_with, curve_against, printed

from greyscale.correction.folder import whole_folder, write_files
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
def written_once(correction, printer_lab, tmp_path_factory) -> Path:
    """The correction's folder."""
    target = tmp_path_factory.mktemp("written") / "cotton-rag"
    with whole_folder(target) as fresh:
        write_files(correction, fresh, printer_lab)
    return target


@pytest.fixture(scope="session")
def read_by_opencolorio():
    return apply_lut
