"""The LUT of a correction as a processor of OpenColorIO, for the values as they come."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array
from greyscale.correction.curve import Curve
from greyscale.correction.folder import LUT_3D

LUTS = ("1d", "3d")
"""The curve, channel by channel; or the correction's 3D LUT, which leaves far colours alone."""


def processor(
    curve: Curve, axis: Array | None, kind: np.dtype[Any], lut_3d: Path | None
) -> Callable[[NDArray[Any]], None]:
    """Return what sends packed R, G, B, shape (rows, columns, 3) of `kind`, through, in place.

    Parameters
    ----------
    curve
        The correction.
    axis
        The level of values in equal steps, shape (n,), through which each channel goes first;
        None where they are levels already.
    kind
        uint16 or float32.
    lut_3d
        A 3D LUT to take in the curve's place.

    Raises
    ------
    BadInput
        If the 3D LUT cannot be read.
    """
    import PyOpenColorIO

    group = PyOpenColorIO.GroupTransform()
    if lut_3d is None:
        table = curve.rgb if axis is None else curve.apply(np.repeat(axis[:, np.newaxis], 3, 1))
        group.appendTransform(_lut_1d(table))
    else:
        if axis is not None:
            group.appendTransform(_lut_1d(np.repeat(axis[:, np.newaxis], 3, axis=1)))
        # Between nodes a tetrahedron keeps the grey axis what it is; the nodes are made for it.
        group.appendTransform(
            PyOpenColorIO.FileTransform(str(lut_3d), interpolation=PyOpenColorIO.INTERP_TETRAHEDRAL)
        )
    depth = PyOpenColorIO.BIT_DEPTH_UINT16 if kind == np.uint16 else PyOpenColorIO.BIT_DEPTH_F32
    try:
        made = PyOpenColorIO.Config.CreateRaw().getProcessor(group)
    except (PyOpenColorIO.Exception, UnicodeDecodeError) as error:
        # The second where its message would quote a line of the file that is no text.
        raise BadInput("cannot be read as a 3D LUT; make the correction again", lut_3d) from error
    through = made.getOptimizedCPUProcessor(depth, depth, PyOpenColorIO.OPTIMIZATION_LOSSLESS)

    def send(pixels: NDArray[Any]) -> None:
        # Told where the channels lie, it takes a fifth of the time that its `applyRGB` takes.
        rows, columns, _ = pixels.shape
        through.apply(
            PyOpenColorIO.PackedImageDesc(pixels, columns, rows, 3, depth, *pixels.strides[::-1])
        )

    return send


def lut_3d_of(folder: Path) -> Path:
    """Give the path of a correction's 3D LUT.

    Raises
    ------
    BadInput
        If it is not there.
    """
    path = (folder if folder.is_dir() else folder.parent) / LUT_3D
    if not path.is_file():
        raise BadInput(f"the correction has no {LUT_3D}; make the correction again", folder)
    return path


def _lut_1d(table: Array) -> Any:
    import PyOpenColorIO

    lut = PyOpenColorIO.Lut1DTransform(len(table), False)
    lut.setInterpolation(PyOpenColorIO.INTERP_LINEAR)
    lut.setData(np.ascontiguousarray(table, dtype=np.float32).ravel())
    return lut
