"""A lamp in IES TM-27-14 XML, read by `colour`."""

from __future__ import annotations

from pathlib import Path
from xml.etree.ElementTree import ParseError

import numpy as np

from greyscale.colorimetry.lights import Light
from greyscale.errors import BadInput
from greyscale.readings.lamps.table import lamp
from greyscale.readings.source_file import read_bytes


def recognise(head: bytes) -> bool:
    """Tell from a file's first bytes whether it is of this format."""
    return b"IESTM2714" in head.upper()


def read(path: Path) -> Light:
    """Read a lamp.

    Raises
    ------
    BadInput
        If the file is not sound XML, declares entities, or holds no usable spectrum.
    """
    # Entities are how an XML file makes its reader run out of memory, or read other files.
    content = read_bytes(path)
    if b"<!DOCTYPE" in content.upper() or b"<!ENTITY" in content.upper():
        raise BadInput("declares XML entities, which no lamp file needs; not read", path)
    import colour

    try:
        table = colour.SpectralDistribution_IESTM2714(str(path)).read()
    except ParseError as error:
        line, _ = error.position
        raise BadInput(f"is not sound XML ({error.msg.split(':')[0]})", path, line) from error
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
