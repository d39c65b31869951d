"""The photograph of the exhibition that the demo's correction is sharpened for."""

from __future__ import annotations

import numpy as np

from greyscale.base.files import whole_file
from greyscale.demo.picture import lighthouse_picture
from greyscale.demo.workshop import Workshop

PICTURE = "lighthouse.tif"
WIDTH = 900
"""Pixels."""


def write_picture(workshop: Workshop) -> None:
    """Write the photograph into the job's folder: grey, 16 bits, without a profile."""
    import tifffile

    codes = np.round(lighthouse_picture(WIDTH) * 65535).astype(np.uint16)
    with whole_file(workshop.path(PICTURE)) as temporary:
        tifffile.imwrite(
            temporary,
            codes,
            photometric="minisblack",
            compression="deflate",
            metadata=None,
            # A photograph says nothing of what wrote it, and its corrected copy then neither.
            software=False,
        )
