"""Which file formats a reading can be in, and reading one whatever its format.

A format is a module with `recognises(file) -> bool`, told by the content, be it text or not, and
`read_all(file, options) -> list[Reading]`. Adding one is a file and a line here.
"""

from __future__ import annotations

import hashlib
import logging
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from greyscale.base.errors import BadInput
from greyscale.readings import cxf3, delimited, iso28178
from greyscale.readings.assemble import ReadOptions
from greyscale.readings.fields import Ramp, Units
from greyscale.readings.layout import Layout
from greyscale.readings.reading import Reading
from greyscale.readings.source_file import Contents, read_bytes


class Format(Protocol):
    """What a format's module offers."""

    def recognises(self, file: Contents) -> bool:
        """Tell by its content whether a file is in this format."""

    def read_all(self, file: Contents, options: ReadOptions) -> list[Reading]:
        """Read every reading in it."""


_LOG = logging.getLogger("greyscale")

FORMATS: tuple[Format, ...] = (cxf3, iso28178, delimited)
"""The formats, the most telling first; one that is no text before those that are."""

ENDINGS = (".txt", ".csv", ".tsv", ".cxf", ".xml", ".cgats", ".it8")
"""Of names of files that may be readings, or layouts; which they are, their content tells."""

CONDITIONS_BY_USE = ("M1", "M0", "M2", "M3")
"""Which condition is taken of several: M1 has the light that D50 colorimetry stands for."""


def read_all(
    path: Path | str,
    *,
    ramp: Ramp | None = None,
    condition: str | None = None,
    units: Units | None = None,
    layout: Layout | None = None,
) -> list[Reading]:
    """Read every reading in a file: one per measuring condition.

    Parameters
    ----------
    path
        ISO 28178 text, CxF3 or CSV; told by the content.
    ramp
        Of C, M, Y, K values that hold both: "K" or "CMY".
    condition
        "M0" to "M3": only readings of this one.
    units
        Of spectra: "percent" or "decimal"; decided from the data where None.
    layout
        The chart's layout: it gives device values and places to a file that states none.

    Raises
    ------
    BadInput
        One message with file and line.
    """
    readings = readings_in(read_bytes(path), path, ReadOptions(ramp, units, layout))
    patches = ", ".join(str(len(reading)) for reading in readings)
    _LOG.info("read %s: %s patches", path, patches)
    if condition is None:
        return readings
    found = [reading for reading in readings if reading.condition == condition.upper()]
    if not found:
        held = dict.fromkeys(reading.condition or "one it does not say" for reading in readings)
        raise BadInput(f"holds no reading under {condition}, but under {', '.join(held)}", path)
    return found


def readings_in(data: bytes, source: Path | str, options: ReadOptions) -> list[Reading]:
    """Read every reading in what a file holds; see `read_all`."""
    file = Contents(data, source)
    chosen = next((known for known in FORMATS if known.recognises(file)), None)
    if chosen is None:
        raise BadInput(
            "is in no known format; export the reading as ISO 28178 (CGATS.17) text, CxF3, or CSV "
            "with the names of the fields in its first line",
            source,
        )
    digest = hashlib.sha256(data).hexdigest()
    return [replace(reading, sha256=digest) for reading in chosen.read_all(file, options)]


def read(
    path: Path | str,
    *,
    ramp: Ramp | None = None,
    condition: str | None = None,
    units: Units | None = None,
    layout: Layout | None = None,
) -> Reading:
    """Read one reading; of several conditions the first of `CONDITIONS_BY_USE`, and say so.

    Parameters and errors are those of `read_all`.
    """
    readings = read_all(path, ramp=ramp, condition=condition, units=units, layout=layout)
    if len(readings) == 1:
        return readings[0]
    there = list(dict.fromkeys(reading.condition for reading in readings))
    by_use = [*CONDITIONS_BY_USE, *(name for name in there if name not in CONDITIONS_BY_USE)]
    wanted = next(name for name in by_use if name in there)
    alike = [reading for reading in readings if reading.condition == wanted]
    if len(there) > 1:
        named = ", ".join(name or "an unknown condition" for name in there)
        remark = f"The file holds {named}; {wanted or 'the unknown one'} is used."
    else:
        remark = f"The file holds {len(alike)} readings; the first is used."
    return replace(alike[0], remarks=(*alike[0].remarks, remark))
