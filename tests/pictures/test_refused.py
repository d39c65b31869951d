"""What no picture can be made of is refused in one sentence of ours, before work begins."""

from __future__ import annotations

import os
import sys
import warnings
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image
from support.picture_files import png_bytes, with_chunk

from greyscale.base.errors import BadInput
from greyscale.pictures import png
from greyscale.pictures.formats import fitted, format_of, read_picture
from greyscale.pictures.picture import MOST_BYTES, Form


@pytest.mark.skipif(sys.platform == "win32", reason="has no FIFOs")
def test_a_pipe_is_refused_at_once(tmp_path: Path) -> None:
    pipe = tmp_path / "fog.tif"
    os.mkfifo(pipe)
    with pytest.raises(BadInput, match="a pipe or a device"):
        read_picture(pipe)


@pytest.mark.parametrize("side", ["ImageWidth", "ImageLength"])
def test_a_tiff_without_extent_has_no_pixels(side: str, tmp_path: Path) -> None:
    path = tmp_path / "fog.tif"
    tifffile.imwrite(path, np.zeros((8, 8), np.uint8), metadata=None)
    with tifffile.TiffFile(path) as file:
        place = file.pages[0].tags[side].valueoffset
    data = bytearray(path.read_bytes())
    data[place : place + 4] = bytes(4)
    path.write_bytes(data)
    with pytest.raises(BadInput, match="has no pixels"):
        read_picture(path)


@pytest.mark.parametrize("compression", [None, "deflate"])
@pytest.mark.filterwarnings("error")
def test_floats_beyond_all_light_are_refused_without_a_warning(
    compression: str | None, tmp_path: Path
) -> None:
    path = tmp_path / "fog.tif"
    pixels = np.full((8, 8, 3), 0.5)
    pixels[3, 3] = 1e300
    tifffile.imwrite(path, pixels, photometric="rgb", compression=compression, metadata=None)
    with pytest.raises(BadInput, match="values that are not numbers"):
        list(read_picture(path).bands())


def test_libpng_says_nothing_of_its_own(tmp_path: Path, capfd: pytest.CaptureFixture) -> None:
    path = tmp_path / "fog.png"
    content = png_bytes(np.full((4, 4), 7, np.uint8))
    for name, wrong in ((b"bKGD", b" "), (b"sBIT", b"   "), (b"tIME", b"1234567")):
        content = with_chunk(content, name, wrong)
    path.write_bytes(content)
    (band,) = read_picture(path).bands()
    assert (band == 7).all()
    content = png_bytes(np.random.default_rng(1).integers(0, 255, (40, 40), np.uint8))
    path.write_bytes(content[:60] + bytes(9) + content[69:])
    with pytest.raises(BadInput, match="damaged or cut short"):
        list(read_picture(path).bands())
    assert capfd.readouterr() == ("", "")


def test_pillow_says_nothing_of_its_own(tmp_path: Path, capfd: pytest.CaptureFixture) -> None:
    """It looks for a resolution in EXIF whose first directory ends before its entries do."""
    path = tmp_path / "fog.jpg"
    exif = b"Exif\0\0MM\0*\0\0\0\x08\0\x05" + bytes(12)
    Image.fromarray(np.full((8, 8), 7, np.uint8)).save(path, exif=exif)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        (band,) = read_picture(path).bands()
    assert np.abs(band.astype(int) - 7).max() <= 1
    assert capfd.readouterr() == ("", "")


def test_texts_beside_the_pixels_have_a_limit_together(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "fog.png"
    content = png_bytes(np.zeros((4, 4), np.uint8))
    for _ in range(8):
        content = with_chunk(content, b"tEXt", b"Comment\0" + b"x" * 500)
    path.write_bytes(content)
    read_picture(path)
    monkeypatch.setattr(png, "_MOST_BYTES", 4000)
    with pytest.raises(BadInput, match="beside its pixels"):
        read_picture(path)


def test_two_hundred_megapixels_are_written_as_tiff_only() -> None:
    side = int((MOST_BYTES / 3) ** 0.5)
    form = Form(width=side, height=side, colours=3, extra=0, kind=np.dtype(np.uint8))
    large = Form(width=20_000, height=10_000, colours=3, extra=0, kind=np.dtype(np.uint8))
    for name in ("fog.png", "fog.jpg"):
        assert fitted(form, format_of(Path(name)), Path(name)) == form
        with pytest.raises(BadInput, match=r"600 MB of pixels.*write a TIFF"):
            fitted(large, format_of(Path(name)), Path(name))
    assert fitted(large, format_of(Path("fog.tif")), Path("fog.tif")) == large
