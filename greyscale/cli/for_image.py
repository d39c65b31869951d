"""What `--for-image` asks: which tones a picture has."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greyscale.charts.picture_tones import PictureTones


def counted_tones(image: Path | None) -> PictureTones | None:
    """Count a picture's tones, with a bar while it takes long; None where none is given."""
    if image is None:
        return None
    from greyscale.charts.picture_tones import picture_tones
    from greyscale.cli.progress import progress

    with progress("Counting tones") as advance:
        return picture_tones(image, advance)
