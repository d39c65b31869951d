"""The correction as a Common LUT Format file (SMPTE ST 2136-1), with what it is for written in it.

The namespace is that of version 3 of the format, which readers of today take; the later one of the
standard's own is not read back by all of them yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from greyscale import __version__
from greyscale.colorimetry.arrays import Array

VERSION = "3.0"

_DECLARATION = '<?xml version="1.0" encoding="UTF-8"?>'


def write_clf(
    table: Array,
    path: Path,
    *,
    identifier: str,
    name: str,
    description: Sequence[str] = (),
    takes: str,
    gives: str,
) -> None:
    """Write a 1D LUT of three channels, shape (points, 3), through `colour-clf-io`.

    Parameters
    ----------
    identifier
        One of its own for every correction.
    description
        Lines about printer, paper, settings, aim.
    takes, gives
        What the values are before and after.
    """
    import colour_clf_io as clf

    lut = clf.LUT1D(
        id=None,
        name="correction",
        in_bit_depth=clf.BitDepth.f32,
        out_bit_depth=clf.BitDepth.f32,
        description=None,
        array=clf.Array([round(float(v), 8) for v in table.ravel()], table.shape),
        half_domain=False,
        raw_halfs=False,
        interpolation=clf.Interpolation1D.LINEAR,
    )
    info = clf.Info(
        app_release=f"greyscale {__version__}",
        copyright=None,
        revision=None,
        aces_transform_id=None,
        aces_user_name=None,
        calibration_info=None,
    )
    processes = clf.ProcessList(
        id=identifier,
        compatible_CLF_version=VERSION,
        name=xml_text(name),
        inverse_of=None,
        description=[xml_text(line) for line in description],
        input_descriptor=xml_text(takes),
        output_descriptor=xml_text(gives),
        process_nodes=[lut],
        info=info,
    )
    content = clf.write_clf(processes, namespace=clf.Namespaces.AMPAS)
    path.write_text(f"{_DECLARATION}\n{content}\n", encoding="utf-8")


def xml_text(text: str) -> str:
    """Leave out the control characters that XML cannot hold."""
    return "".join(c for c in text if c in "\t\n" or ord(c) >= 0x20)
