"""What the tests of corrections share."""

from __future__ import annotations

import numpy as np
import pytest
from support.corrections import correction_with, curve_against, printed

from greyscale.correction.correct import Correction
from greyscale.correction.curve import Curve


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
    """OpenColorIO's reading of a LUT file, applied: the reference implementation of LUTs here."""
    import PyOpenColorIO

    def apply(path, values, interpolation="linear"):
        how = {
            "linear": PyOpenColorIO.INTERP_LINEAR,
            "tetrahedral": PyOpenColorIO.INTERP_TETRAHEDRAL,
        }[interpolation]
        transform = PyOpenColorIO.FileTransform(str(path), interpolation=how)
        processor = PyOpenColorIO.Config.CreateRaw().getProcessor(transform)
        pixels = np.array(values, dtype=np.float32, order="C", copy=True)
        processor.getDefaultCPUProcessor().applyRGB(pixels)
        return pixels

    return apply
