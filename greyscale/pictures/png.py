"""PNG (ISO/IEC 15948; eXIf as in the third edition): read whole, written whole.

The pixels are left to libpng; what the file says of itself lies in chunks beside them.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import BinaryIO

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.pictures.picture import (
    ASPECT,
    PER_CM,
    STRAIGHT,
    Codes,
    Form,
    Metadata,
    Picture,
    Resolution,
    libraries_silent,
    reading,
    refuse_bits,
    refuse_too_many,
    whole,
)

SIGNATURE = b"\x89PNG\r\n\x1a\n"

_COLOURS = {0: (1, 0), 2: (3, 0), 3: (3, 0), 4: (1, 1), 6: (3, 1)}
"""Channels of colour, and of transparency, by colour type; palettes become R, G, B."""

_XMP = b"XML:com.adobe.xmp"
_TEXTS = (b"tEXt", b"zTXt", b"iTXt", b"tIME")
_MOST_BYTES = 1 << 26
_OF_PIXELS = (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND")
"""Chunks that libpng is given; of the others it would only complain."""

_PROFILE_NAME = b"ICC profile"

Chunk = tuple[bytes, bytes]
"""Name and content."""


def recognise(head: bytes) -> bool:
    """Say whether a file begins as a PNG does."""
    return head.startswith(SIGNATURE)


def read(file: BinaryIO, path: Path) -> Picture:
    """Open a PNG, whose file stays open for its bands.

    Raises
    ------
    BadInput
        If it is damaged, has too many pixels to be read whole, or fewer than 8 bits per channel.
    """
    with reading(path):
        chunks = list(_chunks(file))
        if not chunks or chunks[0][0] != b"IHDR" or chunks[-1][0] != b"IEND":
            raise ValueError("it ends too early")
        head = chunks[0][1]
        width, height = int.from_bytes(head[0:4], "big"), int.from_bytes(head[4:8], "big")
        depth, colour_type = head[8], head[9]
        refuse_too_many(path, width, height)
        if depth < 8 and colour_type != 3:
            refuse_bits(path, depth)
        named = dict(reversed(chunks))
        colours, extra = _COLOURS[colour_type]
        extra = max(extra, int(b"tRNS" in named))
        form = Form(
            width=width,
            height=height,
            colours=colours,
            extra=extra,
            kind=np.dtype(np.uint16 if depth == 16 else np.uint8),
            alpha=STRAIGHT if extra else None,
            profile=_profile(named, path),
            metadata=_metadata(chunks, named),
        )
    palette = ("Its palette of colours was converted to R, G and B.",) if colour_type == 3 else ()
    return Picture(path, "PNG", form, _encoding(named), partial(_bands, file, path, form), palette)


def _chunks(file: BinaryIO) -> Iterator[Chunk]:
    """Yield the chunks, the pixels' own without their content."""
    if file.read(8) != SIGNATURE:
        raise ValueError("no PNG")
    left = _MOST_BYTES
    while len(head := file.read(8)) == 8:
        size, name = int.from_bytes(head[:4], "big"), head[4:]
        if name == b"IDAT":
            file.seek(size + 4, 1)
            continue
        left -= size
        if left < 0:
            raise BadInput(
                f"holds more than {_MOST_BYTES >> 20} MB beside its pixels; save the picture "
                "without its texts",
                file.name,
            )
        content = file.read(size)
        if len(content) != size or len(file.read(4)) != 4:
            return
        yield name, content


def _bands(file: BinaryIO, path: Path, form: Form) -> Iterator[Codes]:
    import imagecodecs

    with reading(path):
        file.seek(0)
        data = file.read()
        with libraries_silent():
            pixels = imagecodecs.png_decode(b"".join((SIGNATURE, *_pixels_own(data))))
        del data
        pixels = pixels.reshape(form.height, form.width, form.channels)
    for top in range(0, form.height, form.band_rows):
        yield pixels[top : top + form.band_rows]


def _pixels_own(data: bytes) -> Iterator[memoryview]:
    """The chunks that the pixels need, as they stand."""
    at, view = len(SIGNATURE), memoryview(data)
    while len(head := data[at : at + 8]) == 8:
        end = at + 12 + int.from_bytes(head[:4], "big")
        if head[4:] in _OF_PIXELS:
            yield view[at:end]
        at = end


def _encoding(named: dict[bytes, bytes]) -> str | None:
    """Say what chunks without a profile say of the encoding: sRGB, else a gamma."""
    if b"sRGB" in named:
        return "srgb"
    # In 100 000ths, of the exponent from light to value.
    gamma = int.from_bytes(named.get(b"gAMA", b""), "big")
    return f"gamma-{100_000 / gamma:.3g}" if 25_000 <= gamma <= 100_000 else None


def _profile(named: dict[bytes, bytes], path: Path) -> bytes | None:
    if b"iCCP" not in named:
        return None
    _, _, packed = named[b"iCCP"].partition(b"\0")
    try:
        return _inflated(packed[1:])
    except (zlib.error, ValueError) as error:
        raise BadInput(
            "its colour profile is damaged; embed the profile again in the picture's editor", path
        ) from error


def _inflated(packed: bytes) -> bytes:
    data = zlib.decompressobj().decompress(packed, _MOST_BYTES)
    if len(data) == _MOST_BYTES:
        raise ValueError("a chunk of more than 64 MiB")
    return data


def _metadata(chunks: list[Chunk], named: dict[bytes, bytes]) -> Metadata:
    xmp, texts = None, []
    for name, content in chunks:
        if name == b"iTXt" and content.startswith(_XMP + b"\0"):
            xmp = _text_of(content)
        elif name in _TEXTS:
            texts.append((name.decode("ascii"), content))
    return Metadata(
        resolution=_resolution(named.get(b"pHYs")),
        exif=named.get(b"eXIf"),
        xmp=xmp,
        texts=tuple(texts),
    )


def _text_of(content: bytes) -> bytes | None:
    """Return the text of an iTXt chunk: keyword, whether packed, method, language, keyword."""
    _, _, rest = content.partition(b"\0")
    packed = rest[:1] == b"\1"
    *_, text = rest[2:].split(b"\0", 2)
    try:
        return _inflated(text) if packed else text
    except (zlib.error, ValueError):
        return None


def _resolution(chunk: bytes | None) -> Resolution | None:
    if chunk is None or len(chunk) != 9:
        return None
    x, y = (Fraction(int.from_bytes(part, "big")) for part in (chunk[0:4], chunk[4:8]))
    if not x or not y:
        return None
    return Resolution(x / 100, y / 100, PER_CM) if chunk[8] == 1 else Resolution(x, y, ASPECT)


def write(file: BinaryIO, form: Form, bands: Iterator[Codes], *, quickly: bool = False) -> None:
    """Write a picture of 8 or 16 bits; areas of one colour may be packed quickly, in 8-bit RGB."""
    import imagecodecs

    pixels = whole(form, bands)
    encoded = _packed(pixels) if quickly else imagecodecs.png_encode(pixels)
    # Signature and header come first; all that is said of the pixels comes before them.
    head = len(SIGNATURE) + 12 + 13
    file.write(encoded[:head])
    for name, content in _own_chunks(form):
        file.write(_chunk(name, content))
    file.write(memoryview(encoded)[head:])


def _packed(pixels: Codes) -> bytes:
    """Return 8-bit R, G, B, (rows, columns, 3), as a file without filters, in a third of the time.

    Source: Portable Network Graphics (PNG) Specification (Third Edition), W3C, clauses 5 and 11.
    """
    import imagecodecs

    height, width, channels = pixels.shape
    rows = np.zeros((height, 1 + channels * width), dtype=np.uint8)  # Each begins with its filter.
    rows[:, 1:] = pixels.reshape(height, -1)
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packed = bytes(imagecodecs.zlibng_encode(rows.tobytes(), level=1))
    return SIGNATURE + _chunk(b"IHDR", header) + _chunk(b"IDAT", packed) + _chunk(b"IEND", b"")


def _chunk(name: bytes, content: bytes) -> bytes:
    body = name + content
    return len(content).to_bytes(4, "big") + body + zlib.crc32(body).to_bytes(4, "big")


def _own_chunks(form: Form) -> Iterator[Chunk]:
    found = form.metadata
    if form.profile:
        yield b"iCCP", _PROFILE_NAME + b"\0\0" + zlib.compress(form.profile)
    if found.resolution:
        per_cm = found.resolution.per(PER_CM)
        metric = per_cm.unit == PER_CM
        axes = [round(axis * (100 if metric else 1)) for axis in (per_cm.x, per_cm.y)]
        if all(0 < axis < 1 << 31 for axis in axes):
            yield b"pHYs", b"".join(axis.to_bytes(4, "big") for axis in axes) + bytes([metric])
    if found.exif:
        yield b"eXIf", found.exif
    if found.xmp:
        yield b"iTXt", _XMP + b"\0\0\0\0\0" + found.xmp
    for name, content in found.texts:
        if name.encode("ascii") in _TEXTS:
            yield name.encode("ascii"), content
