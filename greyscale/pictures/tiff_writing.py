"""Writing a TIFF: one picture in strips, band by band, with what it says of itself.

Written here and not by a library, because none writes EXIF and unchanged entries beside 16-bit
pixels. Source: TIFF 6.0; predictors as in its section 14 and in TIFF Technical Note 3.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import BinaryIO

import numpy as np

from greyscale.pictures.exif import (
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
    parse_exif,
    value,
    write_directory,
    write_within,
)
from greyscale.pictures.picture import MULTIPLIED, STRAIGHT, Codes, Form, Metadata
from greyscale.pictures.tiff_reading import IPTC, PROFILE, RESOURCES, XMP, resolution_of

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
