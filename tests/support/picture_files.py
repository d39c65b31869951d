"""Pictures for tests, written by tifffile and Pillow, with all that pictures say of themselves."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import tifffile
from PIL import Image, ImageCms

from greyscale.pictures.formats import read_picture

SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()

XMP = (
    b'<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?>'
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/">'
    b'<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
    b'<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/">'
    b'<dc:title><rdf:Alt><rdf:li xml:lang="x-default">Fog, \xc3\xa9bb</rdf:li></rdf:Alt>'
    b"</dc:title></rdf:Description></rdf:RDF></x:xmpmeta>"
    b'<?xpacket end="w"?>'
)


def gamma_profile(colours: int, gamma: float, primaries=None) -> bytes:
    """An ICC profile of a pure gamma, by Little CMS: grey, or with the primaries of sRGB."""
    import imagecodecs

    if colours == 1:
        return imagecodecs.cms_profile("gray", gamma=gamma)
    return imagecodecs.cms_profile(
        "rgb",
        whitepoint=[0.3127, 0.3290, 1.0],
        primaries=primaries or [0.64, 0.33, 1, 0.30, 0.60, 1, 0.15, 0.06, 1],
        gamma=gamma,
    )


def exif(**photo) -> Image.Exif:
    """EXIF as a camera and an editor leave it: orientation, exposure, place, sRGB."""
    made = Image.Exif()
    made[0x010F] = "Workshop"
    made[0x0110] = "No. 3"
    made[0x0112] = 6
    made[0x8298] = "the harbour workshop"
    inner = made.get_ifd(0x8769)
    inner[0x9003] = "2026:02:03 04:05:06"
    inner[0x829A] = 0.004
    inner[0xA001] = 1
    inner[0x927C] = b"maker's own \x00\x01\x02 notes"
    place = made.get_ifd(0x8825)
    place[1] = "N"
    place[2] = (53.0, 51.0, 12.5)
    return made


def exif_of(path) -> dict:
    """All EXIF that Pillow finds, without where a TIFF's own pixels are."""
    with Image.open(path) as image:
        found = image.getexif()
        main = {
            tag: value
            for tag, value in found.items()
            if tag > 269
            and tag not in (273, 277, 278, 279, 284, 317, 338, 339, 700, 34665, 34675, 34853)
        }
        return {
            "main": main,
            "photo": dict(found.get_ifd(0x8769)),
            "place": dict(found.get_ifd(0x8825)),
        }


def pixels_of(path) -> np.ndarray:
    """Read a picture with the project's reader, shape (rows, columns, channels)."""
    return np.concatenate(list(read_picture(path).bands()))


def tiff_with_exif(path, pixels, **options) -> None:
    """An 8-bit TIFF with EXIF, which of the libraries here Pillow alone writes."""
    Image.fromarray(pixels).save(path, "TIFF", exif=exif().tobytes(), dpi=(360, 240), **options)


def png_bytes(pixels: np.ndarray) -> bytes:
    """A PNG by libpng, 8 or 16 bits."""
    import imagecodecs

    return bytes(imagecodecs.png_encode(pixels))


def with_chunk(png: bytes, name: bytes, content: bytes) -> bytes:
    """Put a chunk behind a PNG's header."""
    import zlib

    chunk = len(content).to_bytes(4, "big") + name + content
    chunk += zlib.crc32(name + content).to_bytes(4, "big")
    return png[:33] + chunk + png[33:]


def jpeg_bytes(pixels: np.ndarray, **options) -> bytes:
    file = BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=95, **options)
    return file.getvalue()


def codes(shape, kind, seed: int = 0) -> np.ndarray:
    """Any codes of a kind: whole numbers over the full range, or floats from 0 to 1."""
    random = np.random.default_rng(seed)
    if np.dtype(kind).kind == "f":
        return random.random(shape).astype(kind)
    return random.integers(0, np.iinfo(kind).max, shape, dtype=kind, endpoint=True)


def tiff(path, pixels, **options):
    """A TIFF by tifffile, without that program's own description."""
    tifffile.imwrite(path, pixels, metadata=None, **options)
    return path
