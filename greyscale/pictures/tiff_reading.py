"""TIFF (TIFF 6.0, BigTIFF), opened: whether it can be used, how it is stored, what it says."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.pictures.directories import (
    ASCII,
    LONG,
    Directory,
    Layout,
    Value,
    read_directory,
    read_layout,
)
from greyscale.pictures.exif import (
    RESOLUTION_UNIT,
    X_RESOLUTION,
    Y_RESOLUTION,
    exif_block,
    read_exif,
)
from greyscale.pictures.metadata import PER_INCH, Metadata, Resolution
from greyscale.pictures.picture import MULTIPLIED, STRAIGHT, Codes, Form, Picture
from greyscale.pictures.refusing import ADVICE, reading
from greyscale.pictures.size_limit import refuse_no_pixels

MARKS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
"""How TIFF files begin."""

XMP, IPTC, RESOURCES, PROFILE, LAYERS = 700, 33723, 34377, 34675, 37724

_IMAGE_DESCRIPTION = 270
_NO_TEXT = Value(ASCII, b"")
_COLOURS = {0: 1, 1: 1, 2: 3}
"""Channels of colour by the kind of picture: white is 0, black is 0, RGB."""

_REFUSED = {
    3: "has a palette of colours",
    4: "is a mask",
    5: "is CMYK",
    6: "is stored as YCbCr",
    8: "is CIELAB",
    9: "is CIELAB",
    10: "is CIELAB",
    32803: "is a camera's raw picture",
    34892: "is a camera's raw picture",
}
_COMPRESSIONS = {
    1: None,
    5: "lzw",
    8: "deflate",
    32946: "deflate",
    32773: "deflate",  # PackBits is hardly smaller than none.
    34925: "deflate",
    50000: "deflate",
}
"""Compressions that lose nothing, and how the corrected copy is compressed."""

MOST_PAGES = 50
"""A picture and the smaller copies that editors store beside it are far fewer."""

_ALPHA = {1: MULTIPLIED, 2: STRAIGHT}


def recognise(head: bytes) -> bool:
    """Say whether a file begins as a TIFF does."""
    return head.startswith(MARKS)


def read(path: Path) -> Picture:
    """Open a TIFF.

    Raises
    ------
    BadInput
        If it is damaged, or is no single grey or RGB picture of 8 or 16 bits or floats.
    """
    with reading(path), tiff_page(path) as page:
        _refuse_unfit(page, path)
        metadata, profile = _read_metadata(path, int(page.offset))
        layered = LAYERS in page.tags
        colours = _COLOURS[int(page.photometric)]
        extra = int(page.samplesperpixel) - colours
        kind = np.dtype(np.float32) if page.dtype.kind == "f" else np.dtype(page.dtype.name)
        form = Form(
            width=int(page.imagewidth),
            height=int(page.imagelength),
            colours=colours,
            extra=extra,
            kind=kind,
            alpha=_ALPHA.get(int(page.extrasamples[0])) if extra and page.extrasamples else None,
            profile=profile,
            metadata=metadata,
            compression=_COMPRESSIONS[int(page.compression)],
        )
    remarks = ("Its layers are not kept, only the picture that they make.",) if layered else ()
    return Picture(path, "TIFF", form, None, lambda: _bands(path, form), remarks)


@contextmanager
def tiff_page(path: Path) -> Iterator[Any]:
    """Open the one full-size page of a TIFF with `tifffile`, and let that keep its warnings."""
    import tifffile

    logger = logging.getLogger("tifffile")
    level, logger.level = logger.level, logging.CRITICAL
    try:
        with tifffile.TiffFile(path) as file:
            # Beside the picture, editors store smaller copies of it.
            # A damaged file can lead from page to page for ever.
            first = list(islice(file.pages, MOST_PAGES))
            pages = [page.aspage() for page in first if not page.is_reduced]
            if len(pages) != 1:
                count = f"{MOST_PAGES} or more" if len(first) == MOST_PAGES else len(pages) or "no"
                raise BadInput(f"holds {count} pages; save the picture as a file of its own", path)
            yield pages[0]
    finally:
        logger.level = level


def _bands(path: Path, form: Form) -> Iterator[Codes]:
    from greyscale.pictures.tiff_bands import page_bands

    with reading(path), tiff_page(path) as page:
        white_is_zero = int(page.photometric) == 0
        for band in page_bands(page, form, path):
            if form.kind.kind == "f" and not np.isfinite(band).all():
                raise BadInput("holds values that are not numbers; save the picture again", path)
            if white_is_zero:
                full = 1.0 if form.kind.kind == "f" else np.iinfo(form.kind).max
                band[..., 0] = full - band[..., 0]
            yield band


def _refuse_unfit(page: Any, path: Path) -> None:
    photometric = int(page.photometric)
    if photometric not in _COLOURS:
        found = _REFUSED.get(photometric, f"is of an unusual kind ({photometric})")
        raise BadInput(f"the picture {found}; {ADVICE}", path)
    if int(page.compression) not in _COMPRESSIONS:
        raise BadInput(
            f"the picture is compressed in a way that is not read ({_compression(page)}); save it "
            "uncompressed or with LZW or deflate",
            path,
        )
    bits, kind = page.bitspersample, page.dtype
    if kind is None or kind.kind not in "uf" or kind.itemsize * 8 != bits or kind.itemsize > 8:
        raise BadInput(f"the picture has {bits} bits per channel; save it with 8 or 16 bits", path)
    if kind.kind == "u" and kind.itemsize > 2:
        raise BadInput(
            f"the picture has whole numbers of {bits} bits; save it with 16 bits, or as floats",
            path,
        )
    refuse_no_pixels(path, int(page.imagewidth), int(page.imagelength))
    if int(page.imagedepth) > 1 or page.samplesperpixel < _COLOURS[photometric]:
        raise BadInput(f"the picture has an unusual number of channels; {ADVICE}", path)


def _compression(page: Any) -> str:
    return str(getattr(page.compression, "name", page.compression))


def _read_metadata(path: Path, offset: int) -> tuple[Metadata, bytes | None]:
    """Give what a TIFF says of itself in its directory at `offset`, and its profile."""
    with path.open("rb") as file:
        layout, _ = read_layout(file)
        exif = read_exif(file, offset, layout)
        blocks = read_directory(file, offset, layout, frozenset({XMP, IPTC, RESOURCES, PROFILE}))
    # Programs for arrays describe an array here; the corrected one may have another shape.
    if exif.main.get(_IMAGE_DESCRIPTION, _NO_TEXT).text.startswith('{"shape":'):
        del exif.main[_IMAGE_DESCRIPTION]
    metadata = Metadata(
        resolution=resolution_of(exif.main),
        exif=exif_block(exif),
        xmp=_bytes(blocks, XMP, layout),
        iptc=_bytes(blocks, IPTC, layout),
        resources=_bytes(blocks, RESOURCES, layout),
    )
    return metadata, _bytes(blocks, PROFILE, layout)


def resolution_of(main: Directory) -> Resolution | None:
    """Give the resolution that a directory states."""
    try:
        x, y = (Fraction(*main[tag].numbers) for tag in (X_RESOLUTION, Y_RESOLUTION))
    except (KeyError, TypeError, ZeroDivisionError):
        return None
    unit = main[RESOLUTION_UNIT].numbers[0] if RESOLUTION_UNIT in main else PER_INCH
    return Resolution(x, y, unit) if x > 0 and y > 0 and unit in (1, 2, 3) else None


def _bytes(blocks: Directory, tag: int, layout: Layout) -> bytes | None:
    """Give a block as it stands in the file; some programs call bytes words of four."""
    one = blocks.get(tag)
    if one is None or not one.data:
        return None
    if one.kind == LONG and layout.order == "big":
        return b"".join(number.to_bytes(4, "big") for number in one.numbers)
    return one.data
