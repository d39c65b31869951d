"""What a picture says of itself beside its pixels, the same for every format."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

PER_INCH, PER_CM, ASPECT = 2, 3, 1
"""Units of a resolution as TIFF 6.0 numbers them: per inch, per centimetre, only a ratio."""

_CM_PER_INCH = Fraction(254, 100)


@dataclass(frozen=True)
class Resolution:
    """How many pixels go to a length.

    Attributes
    ----------
    x, y
        Across and down.
    unit
        `PER_INCH`, `PER_CM`, or `ASPECT` where only their ratio is meant.
    """

    x: Fraction
    y: Fraction
    unit: int = PER_INCH

    def per(self, unit: int) -> Resolution:
        """Give the same per inch or per centimetre; a mere ratio stays one.

        Examples
        --------
        >>> Resolution(Fraction(254), Fraction(254)).per(PER_CM).x
        Fraction(100, 1)
        """
        if self.unit == unit or self.unit == ASPECT:
            return self
        factor = _CM_PER_INCH if unit == PER_INCH else 1 / _CM_PER_INCH
        return Resolution(self.x * factor, self.y * factor, unit)


@dataclass(frozen=True)
class Metadata:
    """What a picture says of itself, and what is carried to its corrected copy.

    Attributes
    ----------
    resolution
        None where the file does not tell.
    exif
        A block of EXIF (see `greyscale.pictures.exif`), the orientation in it.
    xmp
        An XMP packet.
    iptc
        IPTC records, as in TIFF's tag 33723.
    resources
        Image resource blocks, as in TIFF's tag 34377 and JPEG's APP13.
    texts
        A PNG's text chunks or a JPEG's comments and further blocks: name of chunk or marker, and
        content. They go only to the same format.
    """

    resolution: Resolution | None = None
    exif: bytes | None = None
    xmp: bytes | None = None
    iptc: bytes | None = None
    resources: bytes | None = None
    texts: tuple[tuple[str, bytes], ...] = ()
