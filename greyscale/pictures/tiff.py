"""TIFF (TIFF 6.0, BigTIFF): opened, read in bands however it is stored, and written in strips.

Written here and not by a library, because none writes EXIF and unchanged entries beside 16-bit
pixels. Source: TIFF 6.0; predictors as in its section 14 and in TIFF Technical Note 3.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from io import BufferedReader
from itertools import islice
from math import ceil
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.pictures.metadata import (
    ASCII,
    BYTE,
    LONG,
    LONG8,
    RATIONAL,
    RESOLUTION_UNIT,
    SHORT,
    UNDEFINED,
    X_RESOLUTION,
    Y_RESOLUTION,
    DamagedDirectory,
    Directory,
    Exif,
    Layout,
    Value,
    exif_block,
    parse_exif,
    read_directory,
    read_exif,
    read_layout,
    value,
    write_directory,
    write_within,
)
from greyscale.pictures.picture import (
    ADVICE,
    MULTIPLIED,
    PER_INCH,
    STRAIGHT,
    Clipped,
    Codes,
    Form,
    Metadata,
    Picture,
    Resolution,
    damaged,
    reading,
    refuse_bits,
    refuse_no_pixels,
)

# TIFF (TIFF 6.0, BigTIFF), opened: whether it can be used, how it is stored, what it says.

# The pixels of a TIFF in bands of rows, however it stores them: strips, tiles, planes.

_LARGEST_PIECE = 1 << 30
"""A strip or tile of more than 1 GiB is not decoded."""

_DENSEST = {5: 1500, 8: 1100, 32946: 1100, 32773: 70}
"""How many times smaller LZW, deflate and PackBits can make data at most, and a little more."""


def page_bands(page: Any, form: Form, file: BufferedReader, path: Path) -> Iterator[Codes]:
    """Yield the pixels of a page of `tifffile` from the top.

    Yields
    ------
    Arrays of shape (rows, width, channels), of `form.kind`, that may be written to.

    Raises
    ------
    BadInput
        If the file cannot hold what it says.
    """
    pieces = _Pieces.of(page)
    _refuse_lies(page, pieces, path)
    if page.is_contiguous and page.fillorder == 1:
        yield from _stored_bands(page, form, file)
    else:
        yield from _decoded_bands(page, pieces, form, file)


@dataclass(frozen=True)
class _Pieces:
    """How a page is cut into strips or tiles.

    Attributes
    ----------
    height, width
        Of one, pixels.
    across, down
        How many lie beside and below each other.
    planes
        How often, once for each channel where these are apart.
    bytes
        Of one, decoded.
    """

    height: int
    width: int
    across: int
    down: int
    planes: int
    bytes: int

    @classmethod
    def of(cls, page: Any) -> _Pieces:
        apart = int(page.planarconfig) == 2 and page.samplesperpixel > 1
        height = int(page.tilelength) if page.is_tiled else int(page.rowsperstrip)
        width = int(page.tilewidth) if page.is_tiled else int(page.imagewidth)
        height = height if page.is_tiled else min(height, int(page.imagelength))
        channels = 1 if apart else int(page.samplesperpixel)
        return cls(
            height=height,
            width=width,
            across=ceil(page.imagewidth / width),
            down=ceil(page.imagelength / height),
            planes=int(page.samplesperpixel) if apart else 1,
            bytes=height * width * channels * page.dtype.itemsize,
        )

    @property
    def count(self) -> int:
        return self.across * self.down * self.planes


def _refuse_lies(page: Any, pieces: _Pieces, path: Path) -> None:
    """Refuse a page whose pieces do not lie in the file, or cannot be as large as they say."""
    offsets = np.asarray(page.dataoffsets, dtype=np.uint64)
    counts = np.asarray(page.databytecounts, dtype=np.uint64)
    if offsets.size < pieces.count or counts.size < pieces.count:
        raise BadInput(
            f"states {pieces.count} strips or tiles but holds {min(offsets.size, counts.size)}; "
            "take an undamaged copy of the picture",
            path,
        )
    if not counts.all() or not offsets.all() or (offsets + counts).max() > path.stat().st_size:
        raise damaged(path, "it ends too early")
    if int(page.compression) == 1:
        if counts.sum() < page.nbytes:
            raise damaged(path, "it ends too early")
        return
    if pieces.bytes > _LARGEST_PIECE:
        raise BadInput(
            f"one strip or tile of the picture holds {pieces.bytes / 2**30:.1f} GB; save it in "
            "smaller ones, or uncompressed",
            path,
        )
    # The last strip may be smaller than it says.
    densest = _DENSEST.get(int(page.compression))
    whole = counts[: max(pieces.count - 1, 1)]
    if densest is not None and pieces.count > 1 and (whole * densest + 4096).min() < pieces.bytes:
        raise BadInput("its strips cannot hold as many pixels as it states", path)


def _stored_bands(page: Any, form: Form, file: BufferedReader) -> Iterator[Codes]:
    """Read rows of a page that is stored uncompressed, in one go."""
    stored = np.dtype(page.dtype).newbyteorder(page.parent.byteorder)
    if stored.isnative:
        # OpenColorIO does not take an array that names its order of bytes.
        stored = stored.newbyteorder("=")
    apart = int(page.planarconfig) == 2 and form.channels > 1
    planes, channels = (form.channels, 1) if apart else (1, form.channels)
    plane_bytes = form.height * form.width * channels * stored.itemsize
    for top in range(0, form.height, form.band_rows):
        rows = min(form.band_rows, form.height - top)
        parts = []
        for plane in range(planes):
            part = np.empty((rows, form.width, channels), dtype=stored)
            row_bytes = form.width * channels * stored.itemsize
            file.seek(page.dataoffsets[0] + plane * plane_bytes + top * row_bytes)
            if file.readinto(part.data.cast("B")) != part.nbytes:
                raise ValueError("it ends too early")
            parts.append(part)
        band = parts[0] if planes == 1 else np.concatenate(parts, axis=2)
        # Floats beyond those become infinite, and are refused.
        with np.errstate(over="ignore"):
            band = band.astype(form.kind, copy=False)
        yield band


def _decoded_bands(page: Any, pieces: _Pieces, form: Form, file: BinaryIO) -> Iterator[Codes]:
    """Decode strips or tiles, some rows of them at a time."""
    at_once = max(1, form.band_rows // pieces.height)
    with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as threads:
        for first in range(0, pieces.down, at_once):
            last = min(first + at_once, pieces.down)
            top = first * pieces.height
            band = np.empty(
                (min(last * pieces.height, form.height) - top, form.width, form.channels),
                dtype=form.kind,
            )
            encoded = (
                (_read_piece(page, index, file), index)
                for plane in range(pieces.planes)
                for row in range(first, last)
                for index in range(
                    (plane * pieces.down + row) * pieces.across,
                    (plane * pieces.down + row + 1) * pieces.across,
                )
            )
            for data, place, _ in threads.map(lambda piece: page.decode(*piece), encoded):
                plane, y, x = place[0], place[2] - top, place[3]
                part = band[y : y + pieces.height, x : x + pieces.width]
                part = part if pieces.planes == 1 else part[..., plane : plane + 1]
                # Tiles at the right and lower border reach over it.
                with np.errstate(over="ignore"):
                    part[:] = data[0, : part.shape[0], : part.shape[1]]
            yield band


def _read_piece(page: Any, index: int, file: BinaryIO) -> bytes:
    file.seek(page.dataoffsets[index])
    data = file.read(page.databytecounts[index])
    if len(data) != page.databytecounts[index]:
        raise ValueError("it ends too early")
    return data


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

_TRANSPARENCY = {1: MULTIPLIED, 2: STRAIGHT}


def recognise(head: bytes) -> bool:
    """Say whether a file begins as a TIFF does."""
    return head.startswith(MARKS)


def read(file: BufferedReader, path: Path) -> Picture:
    """Open a TIFF, whose file stays open for its bands.

    Raises
    ------
    BadInput
        If it is damaged, or is no single grey or RGB picture of 8 or 16 bits or floats.
    """
    with reading(path), tiff_page(file, path) as page:
        _refuse_unfit(page, path)
        metadata, profile = _read_metadata(file, int(page.offset))
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
            alpha=_TRANSPARENCY.get(int(page.extrasamples[0]))
            if extra and page.extrasamples
            else None,
            profile=profile,
            metadata=metadata,
            compression=_COMPRESSIONS[int(page.compression)],
        )
    remarks = ("Its layers are not kept, only the picture that they make.",) if layered else ()
    clipped = Clipped()
    bands = partial(_bands, file, path, form, clipped)
    return Picture(path, "TIFF", form, None, bands, remarks, clipped)


@contextmanager
def tiff_page(file: BufferedReader, path: Path) -> Iterator[Any]:
    """Open the one full-size page of a TIFF with `tifffile`, and let that keep its warnings."""
    import tifffile

    logger = logging.getLogger("tifffile")
    level, logger.level = logger.level, logging.CRITICAL
    try:
        file.seek(0)
        with np.errstate(over="ignore"), ExitStack() as opened:
            tiff = opened.enter_context(tifffile.TiffFile(file))
            # Beside the picture, editors store smaller copies of it.
            # A damaged file can lead from page to page for ever.
            first = list(islice(tiff.pages, MOST_PAGES))
            pages = [page.aspage() for page in first if not page.is_reduced]
            closing = opened.pop_all()
        with closing:
            if len(pages) != 1:
                count = f"{MOST_PAGES} or more" if len(first) == MOST_PAGES else len(pages) or "no"
                raise BadInput(f"holds {count} pages; save the picture as a file of its own", path)
            yield pages[0]
    finally:
        logger.level = level


def _bands(file: BufferedReader, path: Path, form: Form, clipped: Clipped) -> Iterator[Codes]:
    with reading(path), tiff_page(file, path) as page:
        white_is_zero = int(page.photometric) == 0
        for band in page_bands(page, form, file, path):
            if form.kind.kind == "f" and not np.isfinite(band).all():
                raise BadInput("holds values that are not numbers; save the picture again", path)
            if white_is_zero:
                full = 1.0 if form.kind.kind == "f" else np.iinfo(form.kind).max
                band[..., 0] = full - band[..., 0]
            clipped.see(band[..., : form.colours])
            yield band


def _refuse_unfit(page: Any, path: Path) -> None:
    photometric = int(page.photometric)
    if photometric not in _COLOURS:
        found = _REFUSED.get(photometric, f"is of an unusual kind ({photometric})")
        raise BadInput(f"the picture {found}; {ADVICE}", path)
    if int(page.compression) not in _COMPRESSIONS:
        way = getattr(page.compression, "name", page.compression)
        raise BadInput(
            f"the picture is compressed in a way that is not read ({way}); save it uncompressed "
            "or with LZW or deflate",
            path,
        )
    bits, kind = page.bitspersample, page.dtype
    if kind is None or kind.kind not in "uf" or kind.itemsize * 8 != bits or kind.itemsize > 8:
        refuse_bits(path, bits)
    if kind.kind == "u" and kind.itemsize > 2:
        raise BadInput(
            f"the picture has whole numbers of {bits} bits; save it with 16 bits, or as floats",
            path,
        )
    refuse_no_pixels(path, int(page.imagewidth), int(page.imagelength))
    if int(page.imagedepth) > 1 or page.samplesperpixel < _COLOURS[photometric]:
        raise BadInput(f"the picture has an unusual number of channels; {ADVICE}", path)


def _read_metadata(file: BinaryIO, offset: int) -> tuple[Metadata, bytes | None]:
    """Return what a TIFF says of itself in its directory at `offset`, and its profile."""
    file.seek(0)
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
    """Return the resolution that a directory states."""
    try:
        x, y = (Fraction(*main[tag].numbers) for tag in (X_RESOLUTION, Y_RESOLUTION))
    except (KeyError, TypeError, ZeroDivisionError):
        return None
    unit = main[RESOLUTION_UNIT].numbers[0] if RESOLUTION_UNIT in main else PER_INCH
    return Resolution(x, y, unit) if x > 0 and y > 0 and unit in (1, 2, 3) else None


def _bytes(blocks: Directory, tag: int, layout: Layout) -> bytes | None:
    """Return a block as it stands in the file; some programs call bytes words of four."""
    one = blocks.get(tag)
    if one is None or not one.data:
        return None
    if one.kind == LONG and layout.order == "big":
        return b"".join(number.to_bytes(4, "big") for number in one.numbers)
    return one.data


# Writing a TIFF: one picture in strips, band by band, with what it says of itself.

LARGEST_CLASSIC = (1 << 32) - (1 << 25)
"""A file that may grow larger than this, with 32 MiB for what it says of itself, is BigTIFF."""

_STRIP_BYTES = 1 << 20
_COMPRESSION = {None: 1, "lzw": 5, "deflate": 8}
_PREDICTOR = {"u": 2, "f": 3}
_SAMPLE_FORMAT = {"u": 1, "f": 3}
_ALPHA = {MULTIPLIED: 1, STRAIGHT: 2, None: 0}
_DEFLATE_LEVEL = 6


def write(
    file: BinaryIO, form: Form, bands: Iterator[Codes], largest_classic: int = LARGEST_CLASSIC
) -> None:
    """Write a picture.

    Parameters
    ----------
    file
        Empty, open for writing, and seekable.
    form
        What it is to be like.
    bands
        Its pixels from the top, in bands of full rows, of `form.kind`.
    largest_classic
        Bytes from which it becomes BigTIFF. Compressed data can be a little larger than plain.
    """
    pixels = form.row_bytes * form.height
    if form.compression is not None:
        pixels += pixels // 8
    layout = Layout(big=pixels > largest_classic)
    file.write(b"II+\0\x08\0\0\0" + bytes(8) if layout.big else b"II*\0" + bytes(4))
    rows = max(1, min(form.height, _STRIP_BYTES // form.row_bytes))
    sizes = _write_strips(file, form, bands, rows)
    start = 16 if layout.big else 8
    offsets = start + np.concatenate([[0], np.cumsum(sizes[:-1], dtype=np.int64)])
    kind = LONG8 if layout.big else LONG
    directory = {
        **_structure(form, rows),
        273: value(kind, *offsets.tolist()),
        279: value(kind, *sizes),
    }
    exif = _exif(form.metadata)
    own = {**_blocks(form), **_resolution(form.metadata, exif)}
    _write_directories(file, {**directory, **own}, exif, layout)


def _write_strips(file: BinaryIO, form: Form, bands: Iterator[Codes], rows: int) -> list[int]:
    """Write the pixels; give the bytes of each strip."""
    if form.compression is None:
        for band in bands:
            file.write(np.ascontiguousarray(band, dtype=_stored(form)).data.cast("B"))
        full, rest = divmod(form.height, rows)
        return [rows * form.row_bytes] * full + [rest * form.row_bytes] * bool(rest)
    sizes = []
    with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as threads:
        for strips in _in_strips(bands, rows):
            for encoded in threads.map(lambda strip: _encoded(strip, form), strips):
                file.write(encoded)
                sizes.append(len(encoded))
    return sizes


def _in_strips(bands: Iterator[Codes], rows: int) -> Iterator[list[Codes]]:
    """Cut bands anew into strips of so many rows; the last may be shorter."""
    left: Codes | None = None
    for band in bands:
        whole = band if left is None else np.concatenate([left, band])
        end = len(whole) // rows * rows
        yield [whole[top : top + rows] for top in range(0, end, rows)]
        left = whole[end:].copy() if end < len(whole) else None
    if left is not None:
        yield [left]


def _encoded(strip: Codes, form: Form) -> bytes:
    import imagecodecs

    stored = np.ascontiguousarray(strip, dtype=_stored(form))
    if form.kind.kind == "f":
        plain = imagecodecs.floatpred_encode(stored, axis=-2, dist=1)
    else:
        plain = imagecodecs.delta_encode(stored, axis=-2)
    data = np.ascontiguousarray(plain).tobytes()
    if form.compression == "lzw":
        return bytes(imagecodecs.lzw_encode(data))
    return bytes(imagecodecs.zlib_encode(data, level=_DEFLATE_LEVEL))


def _stored(form: Form) -> np.dtype[np.generic]:
    return form.kind.newbyteorder("<")


def _structure(form: Form, rows: int) -> Directory:
    """Return the entries that say how the picture is stored, but where."""
    channels = form.channels
    directory = {
        254: value(LONG, 0),  # the one picture, at full size
        256: value(LONG, form.width),
        257: value(LONG, form.height),
        258: value(SHORT, *[form.kind.itemsize * 8] * channels),
        259: value(SHORT, _COMPRESSION[form.compression]),
        262: value(SHORT, 1 if form.colours == 1 else 2),  # black is 0, or RGB
        277: value(SHORT, channels),
        278: value(LONG, rows),
        284: value(SHORT, 1),  # channels beside each other
        339: value(SHORT, *[_SAMPLE_FORMAT[form.kind.kind]] * channels),
    }
    if form.compression is not None:
        directory[317] = value(SHORT, _PREDICTOR[form.kind.kind])
    if form.extra:
        directory[338] = value(SHORT, _ALPHA[form.alpha], *[0] * (form.extra - 1))
    return directory


def _blocks(form: Form) -> Directory:
    """Return the entries that hold blocks of bytes."""
    found = form.metadata
    blocks = (
        (XMP, BYTE, found.xmp),
        (IPTC, UNDEFINED, found.iptc),
        (RESOURCES, BYTE, found.resources),
        (PROFILE, UNDEFINED, form.profile),
    )
    return {tag: Value(kind, data) for tag, kind, data in blocks if data}


def _resolution(metadata: Metadata, exif: Exif) -> Directory:
    """Return the entries that state a resolution, unless EXIF states the same in its own way."""
    resolution = metadata.resolution
    if resolution is None or resolution == resolution_of(exif.main):
        return {}
    limited = [axis.limit_denominator(1 << 16) for axis in (resolution.x, resolution.y)]
    if any(not 0 < axis.numerator < 1 << 32 for axis in limited):
        return {}
    x, y = (value(RATIONAL, axis.numerator, axis.denominator) for axis in limited)
    return {X_RESOLUTION: x, Y_RESOLUTION: y, RESOLUTION_UNIT: value(SHORT, resolution.unit)}


def _exif(metadata: Metadata) -> Exif:
    try:
        return parse_exif(metadata.exif) if metadata.exif else Exif()
    except DamagedDirectory:
        return Exif()


def _write_directories(file: BinaryIO, own: Directory, exif: Exif, layout: Layout) -> None:
    """Write the directories to the end of the file, and where they are to its beginning."""
    offset = file.seek(0, os.SEEK_END)
    if offset % 2:
        offset += file.write(b"\0")
    within, pointers = write_within(exif, offset, layout)
    file.write(within)
    main_at = offset + len(within)
    file.write(write_directory({**exif.main, **pointers, **own}, main_at, layout))
    file.seek(8 if layout.big else 4)
    file.write(main_at.to_bytes(layout.word, "little"))
