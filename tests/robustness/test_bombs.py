"""Small files that unfold to very much, and big ones of one thing: refused, in time, in memory.

Each is read in a process of its own that may take no more memory than the reader is given in the
other tests of bad files.
"""

from __future__ import annotations

import io
import json
import multiprocessing
import struct
import zlib

import numpy as np
import pytest
import tifffile
from fuzz.targets import TARGETS
from fuzz.watch import REFUSED, limit_memory, outcome
from support.picture_files import XMP, png_bytes, with_chunk

READERS = {target.name: target for target in TARGETS}
COUNT = 250_000

GREY = png_bytes(np.zeros((4, 4), np.uint8))
BLANK_XMP = XMP.replace(b"<x:", b" " * 2**20 + b"<x:")


def packed_zeros(megabytes: int) -> bytes:
    """So many zeros as zlib packs them; only the first megabyte of them is packed."""
    packer = zlib.compressobj(9, wbits=-15)
    piece = packer.compress(bytes(1 << 20)) + packer.flush(zlib.Z_FULL_FLUSH)
    checksum = ((megabytes << 20) % 65521 << 16) | 1
    return b"\x78\xda" + piece * megabytes + b"\x03\x00" + struct.pack(">I", checksum)


ZEROS = packed_zeros(300)
"""300 MB, packed to 300 kB."""

CXF3 = b'<CxF xmlns="http://colorexchangeformat.com/CxF3-core"><Resources><ObjectCollection>%s'
TM27 = b'<IESTM2714 xmlns="iestm2714" version="1.0"><SpectralDistribution>%s'
CGATS = b"CGATS.17\nBEGIN_DATA_FORMAT\n%s\nEND_DATA_FORMAT\nBEGIN_DATA\n%s\nEND_DATA\n"


def png_of_size(width: int, height: int) -> bytes:
    """A PNG that says it has so many pixels."""
    head = struct.pack(">2I5B", width, height, 8, 2, 0, 0, 0)
    checksum = zlib.crc32(b"IHDR" + head).to_bytes(4, "big")
    return GREY[:16] + head + checksum + GREY[33:]


def tiff_of_size(side: int, compression: str | None = None) -> bytes:
    """A TIFF that says it is so wide and high, with the pixels of a small one."""
    file = io.BytesIO()
    tifffile.imwrite(file, np.zeros((64, 64), np.uint8), compression=compression, metadata=None)
    with tifffile.TiffFile(io.BytesIO(file.getvalue())) as found:
        places = [found.pages[0].tags[name].valueoffset for name in ("ImageWidth", "ImageLength")]
        places += [found.pages[0].tags["RowsPerStrip"].valueoffset]
    data = bytearray(file.getvalue())
    for place in places:
        data[place : place + 4] = side.to_bytes(4, "little")
    return bytes(data)


def profile_with(tag: bytes) -> bytes:
    """An ICC profile with one tag, B2A0."""
    size = 144 + len(tag)
    head = bytearray(128)
    head[0:4] = size.to_bytes(4, "big")
    head[8] = 4
    head[12:24] = b"prtrRGB Lab "
    head[36:40] = b"acsp"
    return bytes(head) + struct.pack(">I4sII", 1, b"B2A0", 144, len(tag)) + tag


def rows(pattern: str) -> bytes:
    return "\n".join(pattern.format(i) for i in range(COUNT)).encode()


BOMBS = {
    "a profile that unfolds": ("pictures, read", with_chunk(GREY, b"iCCP", b"x\0\0" + ZEROS)),
    "XMP that unfolds": (
        "pictures, read",
        with_chunk(GREY, b"iTXt", b"XML:com.adobe.xmp\0\1\0\0\0" + ZEROS),
    ),
    "XMP of blanks": (
        "pictures, read",
        with_chunk(GREY, b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + BLANK_XMP),
    ),
    "3.6 thousand million pixels": ("pictures, read", png_of_size(60_000, 60_000)),
    "pixels beyond counting": ("pictures, read", png_of_size(2**31 - 1, 2**31 - 1)),
    "a TIFF with few of its pixels": ("pictures, read", tiff_of_size(200_000)),
    "a TIFF packed beyond belief": ("pictures, read", tiff_of_size(200_000, "deflate")),
    "a table of 255 points": (
        "ICC profiles, amended",
        profile_with(b"mft2\0\0\0\0" + bytes([3, 3, 255, 0]) + bytes(36) + b"\0\2\0\2" + bytes(99)),
    ),
    "a curve of 4 thousand million entries": (
        "ICC profiles, amended",
        profile_with(b"mBA \0\0\0\0\3\3\0\0" + struct.pack(">5I", 32, 0, 0, 32, 32)
                     + b"curv\0\0\0\0\xff\xff\xff\xff" + bytes(99)),
    ),
    "objects": ("readings, CxF3", CXF3 % (b'<Object Id="a"/>' * COUNT)),
    "spectral data": ("lamps", TM27 % (b'<SpectralData wavelength="400">1</SpectralData>' * COUNT)),
    "depth": ("readings, CxF3", CXF3 % (b"<a>" * COUNT)),
    "tables": ("readings, ISO 28178", b"CGATS.17\n" + CGATS[9:] % (b"A", b"1") * (COUNT // 20)),
    "fields": ("readings, ISO 28178", CGATS % (b" ".join([b"F"] * COUNT), b"1")),
    "keywords": ("readings, ISO 28178", b"CGATS.17\n" + b"A b\nC \"d\"\n" * (COUNT // 4)),
    "columns": ("readings, CSV", b"R;G;B;L*;a*;b*" + b";x" * (4 * COUNT) + b"\n1;1;1;1;1;1\n"),
    "hours": ("readings, CSV", b"R;G;B;L*;a*;b*;HOURS\n" + rows("0;0;0;10;0;0;{}")),
    "brackets": ("corrections, JSON", b"[" * 10**7),
    "braces": ("print logs, exported", b'{"a":' * 10**6),
    "digits": ("corrections, JSON", b'{"schema":' + b"1" * 10**6 + b"}"),
    "a name": ("corrections, JSON", json.dumps({"schema": "x" * 10**7}).encode()),
    "one line": ("aims, tone", b"0,0" * 10**6),
    "blanks": ("aims, toning", b"L, a, b\n" + b" " * 10**7),
    "heads of columns": ("readings, CSV", b"nm,1,2\n" * 50_000),
    "no numbers": ("lamps", b"abc\n" * 50_000),
    "wavelengths": ("glazings", rows("{},1")),
}  # fmt: skip


def _read(name: str, path, answers) -> None:
    target = READERS[name]
    limit_memory(target.memory)
    answers.put(outcome(target.read, path, writes=True))


@pytest.mark.parametrize("bomb", BOMBS)
def test_it_is_refused(bomb: str, tmp_path) -> None:
    name, content = BOMBS[bomb]
    path = tmp_path / f"bomb{READERS[name].ending}"
    path.write_bytes(content)
    context = multiprocessing.get_context("fork")
    answers = context.Queue()
    process = context.Process(target=_read, args=(name, path, answers))
    process.start()
    found = answers.get(timeout=60)
    process.join()
    # XMP that cannot be read is left out; the picture itself is sound.
    harmless = bomb.startswith("XMP")
    assert (found is None and harmless) or (found or "").startswith(REFUSED), found
