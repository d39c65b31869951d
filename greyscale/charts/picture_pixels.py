"""Reading a picture's pixels block by block, so that big ones fit."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.errors import BadInput

_BLOCK_PIXELS = 2_000_000
_DRAFT_PIXELS = 60_000_000
"""JPEGs of more pixels are decoded at half size: their tones stay the same to within noise."""

_PHOTOMETRIC_REFUSED = {5: "CMYK", 8: "CIELAB", 9: "CIELAB"}
_TIFF_MARKS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_ADVICE = "save the picture as grey or RGB, TIFF, PNG or JPEG"


@dataclass(frozen=True, eq=False)
class Pixels:
    """A picture opened for reading.

    Attributes
    ----------
    full_scale
        The highest code: 255 or 65535.
    alpha
        Whether the last channel is one of transparency.
    remarks
        What was decided, as sentences to be shown.
    blocks
        Gives (share done, array of codes (rows, columns, channels)), block by block.
    """

    full_scale: int
    alpha: bool
    remarks: tuple[str, ...]
    blocks: Callable[[], Iterator[tuple[float, Array]]]


def picture_pixels(path: Path) -> Pixels:
    """Open a picture.

    Raises
    ------
    BadInput
        If it cannot be read, now or while its blocks are read.
    """
    try:
        with path.open("rb") as file:
            start = file.read(16)
    except OSError as error:
        raise BadInput(f"cannot be read ({error.strerror})", path) from error
    if not start:
        raise BadInput(f"the file is empty; {_ADVICE}", path)
    return _tiff(path) if start[:4] in _TIFF_MARKS else _with_pillow(path)


def _tiff(path: Path) -> Pixels:
    import tifffile

    try:
        with tifffile.TiffFile(path) as file:
            page = file.pages[0]
            photometric, kind = int(page.photometric), page.dtype
            channels, extra = int(page.samplesperpixel), len(page.extrasamples)
            several = len(file.pages) > 1
    except Exception as error:
        raise _damaged(path, error) from error
    if photometric in _PHOTOMETRIC_REFUSED:
        name = _PHOTOMETRIC_REFUSED[photometric]
        raise BadInput(f"this is a {name} picture; {_ADVICE}", path)
    if photometric not in (0, 1, 2) or kind not in (np.uint8, np.uint16, np.float32):
        if kind is not None and kind.itemsize > 1:
            raise BadInput(f"pixels of kind {kind} are not read; {_ADVICE}", path)
        return _with_pillow(path)
    colours = 3 if photometric == 2 else 1
    if channels < colours or extra > channels - colours:
        raise BadInput(f"{channels} channels are too few for this picture; {_ADVICE}", path)
    full_scale = 255 if kind == np.uint8 else 65535
    alpha = channels > colours and bool(extra) and int(page.extrasamples[0]) in (1, 2)
    remarks = ("Only the first of the file's pages is looked at.",) if several else ()

    def blocks() -> Iterator[tuple[float, Array]]:
        for done, block in _tiff_blocks(path):
            chosen = block[..., : colours + alpha]
            codes = _codes(chosen, path)
            if photometric == 0:
                codes = codes.copy()
                codes[..., 0] = full_scale - codes[..., 0]
            yield done, codes

    return Pixels(full_scale, alpha, remarks, blocks)


def _codes(block: Array, path: Path) -> Array:
    """Give whole codes; floats from 0 to 1 become 16 bits."""
    if block.dtype != np.float32:
        return block
    if not np.isfinite(block).all():
        raise BadInput("the picture holds values that are no numbers", path)
    return np.asarray(np.clip(block, 0.0, 1.0) * 65535 + 0.5).astype(np.uint16)


def _tiff_blocks(path: Path) -> Iterator[tuple[float, Array]]:
    """Give blocks (rows, columns, channels) of a TIFF's first page."""
    import tifffile

    try:
        with tifffile.TiffFile(path) as file:
            page: Any = file.pages[0]
            planar = int(page.planarconfig) == 2 and page.samplesperpixel > 1
            if planar or page.is_memmappable:
                yield from _mapped_blocks(page, planar)
                return
            total = page.imagewidth * page.imagelength
            done = 0
            for data, place, _ in page.segments(maxworkers=1, buffersize=1 << 24):
                if data is None:
                    raise ValueError("a strip is missing")
                # Tiles at the right and lower border reach over it.
                top, left = place[2], place[3]
                block = data[0, : page.imagelength - top, : page.imagewidth - left]
                done += block.shape[0] * block.shape[1]
                yield min(done / total, 1.0), block
    except (BadInput, GeneratorExit):
        raise
    except Exception as error:
        raise _damaged(path, error) from error


def _mapped_blocks(page: Any, planar: bool) -> Iterator[tuple[float, Array]]:
    """Give blocks of rows of a page that is mapped into memory, not loaded."""
    image = page.asarray(out="memmap", maxworkers=1)
    height, width = page.imagelength, page.imagewidth
    image = image.reshape(-1, height, width) if planar else image.reshape(height, width, -1)
    rows = max(1, _BLOCK_PIXELS // width)
    for top in range(0, height, rows):
        block = image[:, top : top + rows].transpose(1, 2, 0) if planar else image[top : top + rows]
        yield min((top + rows) / height, 1.0), np.asarray(block)


def _with_pillow(path: Path) -> Pixels:
    """Open what Pillow reads: PNG, JPEG, and TIFFs of unusual kinds."""
    from PIL import Image

    remarks: list[str] = []
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(path) as image:
                if image.mode in ("CMYK", "LAB"):
                    raise BadInput(f"this is a {image.mode} picture; {_ADVICE}", path)
                if image.format == "JPEG" and image.width * image.height > _DRAFT_PIXELS:
                    image.draft(image.mode, (image.width // 2, image.height // 2))
                    remarks.append("This big JPEG was counted at half its size.")
                loaded = _plain_mode(image)
    except Image.DecompressionBombError as error:
        raise BadInput(
            "the picture has more pixels than is safe to read in this format; save it as TIFF, "
            "which is read in strips",
            path,
        ) from error
    except (OSError, ValueError, SyntaxError, EOFError) as error:
        raise _damaged(path, error) from error
    full_scale = 65535 if loaded.mode.startswith("I;16") else 255

    def blocks() -> Iterator[tuple[float, Array]]:
        rows = max(1, _BLOCK_PIXELS // loaded.width)
        for top in range(0, loaded.height, rows):
            bottom = min(top + rows, loaded.height)
            block = np.asarray(loaded.crop((0, top, loaded.width, bottom)))
            yield bottom / loaded.height, block.reshape(bottom - top, loaded.width, -1)

    return Pixels(full_scale, loaded.mode in ("LA", "RGBA"), tuple(remarks), blocks)


def _plain_mode(image: Any) -> Any:
    """Decode, as one of the modes L, LA, RGB, RGBA, I;16."""
    image.load()
    if image.mode in ("L", "LA", "RGB", "RGBA") or image.mode.startswith("I;16"):
        return image.copy()
    if image.mode == "1":
        return image.convert("L")
    if image.mode == "I":
        return image.convert("I;16")
    return image.convert("RGBA" if "transparency" in image.info else "RGB")


def _damaged(path: Path, error: Exception) -> BadInput:
    from PIL import UnidentifiedImageError

    if isinstance(error, UnidentifiedImageError):
        return BadInput(f"this is not a picture that can be read; {_ADVICE}", path)
    return BadInput(f"the picture is damaged or cut short ({error}); {_ADVICE}", path)
