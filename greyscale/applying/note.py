"""The note of a correction in a picture that went through it, and how such a picture is known."""

from __future__ import annotations

from dataclasses import replace

from greyscale import __version__
from greyscale.applying.conversion import Conversion
from greyscale.base.errors import BadInput
from greyscale.correction.as_json import correction_id
from greyscale.correction.record import Correction
from greyscale.pictures.exif import without_colour_space
from greyscale.pictures.metadata import Metadata
from greyscale.pictures.picture import Picture
from greyscale.pictures.xmp import own_properties, with_properties

_NAME, _ID = "Correction", "CorrectionID"


def refuse_corrected(picture: Picture) -> None:
    """Refuse a picture that went through a correction before.

    Raises
    ------
    BadInput
        Naming that correction.
    """
    earlier = own_properties(picture.form.metadata.xmp).get(_NAME)
    if earlier is not None:
        raise BadInput(
            f"the picture has gone through the correction '{earlier}' already; take the picture "
            "from before, or give --force to correct it twice",
            picture.path,
        )


def noted(
    metadata: Metadata, correction: Correction, conversion: Conversion, lut: str, srgb: bool
) -> Metadata:
    """Give what a corrected picture says of itself: all that it said, and the correction.

    Parameters
    ----------
    lut
        "1d" or "3d".
    srgb
        Whether the corrected values are sRGB; else EXIF must not say so.
    """
    properties = {
        _NAME: correction.name,
        _ID: correction_id(correction),
        "Round": str(correction.round),
        "Lut": lut.upper(),
        "ValuesFor": correction.path,
        "ConvertedFrom": conversion.source,
        "Version": __version__,
    }
    exif = metadata.exif
    if exif is not None and not srgb:
        exif = without_colour_space(exif)
    return replace(metadata, exif=exif, xmp=with_properties(metadata.xmp, properties))
