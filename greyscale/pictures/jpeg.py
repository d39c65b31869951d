"""JPEG (ISO/IEC 10918; JFIF, ISO/IEC 10918-5): read whole, written whole at 4:4:4, by Pillow."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from fractions import Fraction
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.pictures.metadata import SRGB, DamagedDirectory, colour_space, parse_exif
from greyscale.pictures.picture import (
    ADVICE,
    PER_CM,
    PER_INCH,
    Codes,
    Form,
    Metadata,
    Picture,
    Resolution,
    reading,
    refuse_too_many,
    whole,
)
from greyscale.pictures.tiff import resolution_of

QUALITY = 97
"""Pillow's scale; what is lost lies below the dither of 8 bits."""

_COLOURS = {"L": 1, "RGB": 3}

_EXIF = b"Exif\0\0"
_XMP = b"http://ns.adobe.com/xap/1.0/\0"
_MORE_XMP = b"http://ns.adobe.com/xmp/extension/\0"
_RESOURCES = b"Photoshop 3.0\0"
_MARKERS = {"APP1": b"\xff\xe1", "APP13": b"\xff\xed", "COM": b"\xff\xfe"}
_LONGEST = 65533
"""Bytes that one segment holds."""

_IPTC_RESOURCE = b"8BIM\x04\x04\0\0"


def recognise(head: bytes) -> bool:
    """Say whether a file begins as a JPEG does."""
    return head.startswith(b"\xff\xd8\xff")


def read(file: BinaryIO, path: Path) -> Picture:
    """Open a JPEG, whose file stays open for its bands.

    Raises
    ------
    BadInput
        If it is damaged, is CMYK, or has too many pixels to be read whole.
    """
    with reading(path), _opened(file, path) as image:
        refuse_too_many(path, image.width, image.height)
        if image.mode not in _COLOURS:
            raise BadInput(f"the picture is {image.mode}; {ADVICE}", path)
        metadata = _metadata(image)
        form = Form(
            width=image.width,
            height=image.height,
            colours=_COLOURS[image.mode],
            extra=0,
            kind=np.dtype(np.uint8),
            profile=image.info.get("icc_profile"),
            metadata=metadata,
        )
    # DCF, of which EXIF is part, knows sRGB only by this entry.
    srgb = metadata.exif is not None and colour_space(metadata.exif) == SRGB
    return Picture(path, "JPEG", form, "srgb" if srgb else None, partial(_bands, file, path, form))


def _opened(file: BinaryIO, path: Path) -> Any:
    from PIL import Image

    with warnings.catch_warnings():
        # Of size we judge ourselves; Pillow looks for a resolution in EXIF, however damaged.
        warnings.simplefilter("ignore")
        try:
            file.seek(0)
            return Image.open(file, formats=["JPEG"])
        except Image.DecompressionBombError:
            refuse_too_many(path, 1 << 20, 1 << 20)


def _bands(file: BinaryIO, path: Path, form: Form) -> Iterator[Codes]:
    with reading(path), _opened(file, path) as image:
        image.load()
        for top in range(0, form.height, form.band_rows):
            bottom = min(top + form.band_rows, form.height)
            band = np.array(image.crop((0, top, form.width, bottom)))
            yield band.reshape(bottom - top, form.width, form.channels)


def _metadata(image: Any) -> Metadata:
    exif = image.info.get("exif", b"").removeprefix(_EXIF) or None
    resources, xmp, texts = b"", None, []
    for name, content in image.applist:
        if name == "APP13" and content.startswith(_RESOURCES):
            resources += content.removeprefix(_RESOURCES)
        elif name == "APP1" and content.startswith(_XMP):
            xmp = content.removeprefix(_XMP)
        elif name == "COM" or (name == "APP1" and content.startswith(_MORE_XMP)):
            texts.append((name, content))
    return Metadata(
        resolution=_resolution(image.info, exif),
        exif=exif,
        xmp=xmp,
        resources=resources or None,
        texts=tuple(texts),
    )


def _resolution(info: dict[Any, Any], exif: bytes | None) -> Resolution | None:
    """Return the resolution of JFIF, which a mere ratio is none of, else that of EXIF."""
    x, y = info.get("jfif_density", (0, 0))
    unit = {1: PER_INCH, 2: PER_CM}.get(info.get("jfif_unit", 0))
    if unit is not None and x and y:
        return Resolution(Fraction(x), Fraction(y), unit)
    try:
        return None if exif is None else resolution_of(parse_exif(exif).main)
    except DamagedDirectory:
        return None


def write(file: BinaryIO, form: Form, bands: Iterator[Codes]) -> None:
    """Write a picture of 8 bits without transparency."""
    from PIL import Image

    pixels = whole(form, bands)
    found = form.metadata
    options: dict[str, Any] = {}
    if found.resolution is not None and found.resolution.unit != 1:
        per_inch = found.resolution.per(PER_INCH)
        options["dpi"] = (float(per_inch.x), float(per_inch.y))
    if found.exif and len(_EXIF + found.exif) <= _LONGEST:
        options["exif"] = _EXIF + found.exif
    # Into a file itself Pillow would not notice when the disk takes only a part of what it writes.
    encoded = BytesIO()
    Image.fromarray(pixels).save(
        encoded,
        "JPEG",
        quality=QUALITY,
        subsampling="4:4:4",
        icc_profile=form.profile,
        extra=b"".join(_segments(found)),
        **options,
    )
    file.write(encoded.getbuffer())


def _segments(found: Metadata) -> Iterator[bytes]:
    """Yield what stands beside the pixels, segment by segment; what is too long for one is not."""
    resources = found.resources
    if resources is None and found.iptc is not None:
        resources = _IPTC_RESOURCE + len(found.iptc).to_bytes(4, "big") + found.iptc
        resources += b"\0" * (len(found.iptc) % 2)
    blocks = [
        ("APP1", _XMP + found.xmp if found.xmp else b""),
        *(text for text in found.texts if text[0] in _MARKERS),
        ("APP13", _RESOURCES + resources if resources else b""),
    ]
    for name, content in blocks:
        if content and len(content) <= _LONGEST:
            yield _MARKERS[name] + (len(content) + 2).to_bytes(2, "big") + content
