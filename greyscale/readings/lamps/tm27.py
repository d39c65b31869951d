"""A lamp in IES TM-27-14 XML, read by `colour`."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.lights import Light
from greyscale.readings.lamps.table import lamp
from greyscale.readings.safe_xml import outline
from greyscale.readings.source_file import read_bytes


def recognise(head: bytes) -> bool:
    """Tell from a file's first bytes whether it is of this format."""
    return b"IESTM2714" in head.upper()


def read(path: Path) -> Light:
    """Read a lamp.

    Raises
    ------
    BadInput
        If the file is not sound XML, declares a document type or entities, is nested too deep, or
        holds no usable spectrum.
    """
    # The parser behind `colour` takes the encoding from the file, and so does this look at it.
    outline(read_bytes(path), path)
    import colour

    try:
        table = colour.SpectralDistribution_IESTM2714(str(path)).read()
    except (ValueError, KeyError, TypeError, AttributeError, AssertionError) as error:
        raise BadInput(
            "is not a usable IES TM-27-14 lamp: each SpectralData needs a wavelength of its own "
            "and a number",
            path,
        ) from error
    return lamp(
        path.stem,
        np.array(table.wavelengths, dtype=np.float64),
        np.array(table.values, dtype=np.float64),
        str(path),
    )
