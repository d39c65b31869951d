"""Where corrected pictures go."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from greyscale.base.errors import BadInput


def targets(images: Sequence[Path], out: str) -> tuple[Path, ...]:
    """Give the file that each picture's corrected copy goes to.

    Parameters
    ----------
    images
        The pictures.
    out
        A file for a single picture; a folder, in which names are kept, for several, or where it
        is one, or ends as no file does.

    Raises
    ------
    BadInput
        If several pictures would go to one file.

    Examples
    --------
    >>> [str(path) for path in targets([Path("fog.tif"), Path("scans/quay.png")], "print")]
    ['print/fog.tif', 'print/quay.png']
    >>> [str(path) for path in targets([Path("fog.tif")], "fog-cotton.tif")]
    ['fog-cotton.tif']
    """
    path = Path(out)
    ends_as_folder = out.endswith(("/", os.sep)) or not path.suffix
    if len(images) == 1 and not path.is_dir() and not ends_as_folder:
        return (path,)
    if path.is_file():
        raise BadInput("this is a file; several pictures need a folder to go to", out)
    taken: dict[str, Path] = {}
    for image in images:
        other = taken.setdefault(image.name.casefold(), image)
        if other is not image:
            raise BadInput(
                f"would go to the same file as {other}; correct them one by one, or rename one",
                image,
            )
    return tuple(path / image.name for image in images)
