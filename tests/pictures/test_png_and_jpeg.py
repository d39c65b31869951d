"""PNG and JPEG as libpng and Pillow write them are read, and what is written is read by both."""

import zlib
from contextlib import suppress
from io import BytesIO

import imagecodecs
import numpy as np
import pytest
from PIL import Image
from support.picture_files import (
    SRGB,
    codes,
    exif,
    jpeg_bytes,
    pixels_of,
    png_bytes,
    with_chunk,
)

from greyscale.base.errors import BadInput
from greyscale.pictures import jpeg, png
from greyscale.pictures.formats import read_picture
from greyscale.pictures.picture import Form


@pytest.mark.parametrize("kind", ["uint8", "uint16"])
@pytest.mark.parametrize("channels", [1, 2, 3, 4])
def test_png_is_read_and_written_as_libpng_does(kind, channels, tmp_path):
    pixels = codes((31, 23, channels), kind)
    path = tmp_path / "a.png"
    path.write_bytes(png_bytes(pixels if channels > 1 else pixels[..., 0]))
    picture = read_picture(path)
    np.testing.assert_array_equal(pixels_of(path), pixels)
    assert (picture.form.colours, picture.form.extra) == (
        (channels - 1) // 2 * 2 + 1,
        1 - channels % 2,
    )
    file = BytesIO()
    png.write(file, picture.form, picture.bands())
    found = imagecodecs.png_decode(file.getvalue())
    np.testing.assert_array_equal(found.reshape(pixels.shape), pixels)


def test_palettes_become_colours_and_it_is_said(tmp_path):
    path = tmp_path / "a.png"
    Image.fromarray(codes((20, 20), "uint8") // 64 * 64).convert("P").save(path)
    picture = read_picture(path)
    assert picture.form.colours == 3
    assert "palette" in picture.remarks[0]
    with Image.open(path) as image:
        np.testing.assert_array_equal(pixels_of(path), np.asarray(image.convert("RGB")))


def test_a_png_says_its_encoding_without_a_profile(tmp_path):
    path = tmp_path / "a.png"
    plain = png_bytes(codes((5, 5), "uint8"))
    for name, content, encoding in [
        (b"sRGB", b"\0", "srgb"),
        (b"gAMA", (45455).to_bytes(4, "big"), "gamma-2.2"),
        (b"gAMA", (55556).to_bytes(4, "big"), "gamma-1.8"),
        (b"gAMA", (0).to_bytes(4, "big"), None),
        (b"tEXt", b"Title\0Fog", None),
    ]:
        path.write_bytes(with_chunk(plain, name, content))
        assert read_picture(path).encoding == encoding


def test_jpeg_is_read_as_pillow_reads_it(tmp_path):
    path = tmp_path / "a.jpg"
    for shape in [(31, 23), (31, 23, 3)]:
        path.write_bytes(jpeg_bytes(codes(shape, "uint8")))
        with Image.open(path) as image:
            expected = np.asarray(image).reshape(31, 23, -1)
        np.testing.assert_array_equal(pixels_of(path), expected)


def test_jpeg_is_written_4_4_4_and_close_to_what_it_was_given():
    """Subsampled chroma would smear a one-pixel change of colour over its neighbours."""
    pixels = np.full((32, 32, 3), 128, np.uint8)
    pixels[:, 16:] = [150, 120, 130]
    file = BytesIO()
    jpeg.write(file, Form(32, 32, 3, 0, np.dtype(np.uint8)), iter([pixels]))
    with Image.open(file) as image:
        assert [component[1:3] for component in image.layer] == [(1, 1)] * 3
        assert np.abs(np.asarray(image).astype(int) - pixels).max() <= 3


def test_srgb_of_exif_is_the_encoding_of_a_jpeg_without_a_profile(tmp_path):
    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg_bytes(codes((9, 9, 3), "uint8"), exif=exif()))
    assert read_picture(path).encoding == "srgb"
    path.write_bytes(jpeg_bytes(codes((9, 9, 3), "uint8")))
    assert read_picture(path).encoding is None
    path.write_bytes(jpeg_bytes(codes((9, 9, 3), "uint8"), icc_profile=SRGB))
    assert read_picture(path).form.profile == SRGB


def test_cmyk_is_refused(tmp_path):
    path = tmp_path / "a.jpg"
    Image.fromarray(codes((9, 9, 4), "uint8"), "CMYK").save(path)
    with pytest.raises(BadInput, match="CMYK; save"):
        read_picture(path)


@pytest.mark.parametrize("make", [png_bytes, jpeg_bytes])
@pytest.mark.parametrize("share", [0.01, 0.2, 0.6, 0.97])
def test_a_file_cut_short_is_refused(make, share, tmp_path):
    path = tmp_path / "a"
    whole = make(codes((64, 64, 3), "uint8"))
    path.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(BadInput, match=r"cut short|not a picture"):
        pixels_of(path)


@pytest.mark.parametrize("make", [png_bytes, jpeg_bytes])
def test_bytes_changed_at_random_end_in_a_message_or_in_pixels(make, tmp_path):
    path = tmp_path / "a"
    whole = np.frombuffer(make(codes((40, 40, 3), "uint8")), np.uint8)
    random = np.random.default_rng(1)
    for _ in range(60):
        damaged = whole.copy()
        damaged[random.integers(3, 600, 6)] = random.integers(0, 256, 6, dtype=np.uint8)
        path.write_bytes(damaged.tobytes())
        # Any other error fails the test.
        with suppress(BadInput):
            pixels_of(path)


def test_a_small_png_or_jpeg_that_claims_a_huge_picture_is_refused(tmp_path):
    path = tmp_path / "a"
    head = (50_000).to_bytes(4, "big") * 2 + b"\x08\0\0\0\0"
    bomb = b"\x89PNG\r\n\x1a\n" + (13).to_bytes(4, "big") + b"IHDR" + head
    bomb += zlib.crc32(b"IHDR" + head).to_bytes(4, "big")
    for name in (b"IDAT", b"IEND"):
        bomb += bytes(4) + name + zlib.crc32(name).to_bytes(4, "big")
    path.write_bytes(bomb)
    with pytest.raises(BadInput, match="50000 × 50000 pixels, more than is safe"):
        read_picture(path)
    whole = bytearray(jpeg_bytes(codes((16, 16), "uint8")))
    frame = whole.index(b"\xff\xc0")
    whole[frame + 5 : frame + 9] = (60_000).to_bytes(2, "big") * 2
    path.write_bytes(bytes(whole))
    with pytest.raises(BadInput, match="more than is safe to read"):
        read_picture(path)


def test_a_profile_that_inflates_without_end_is_refused(tmp_path):
    path = tmp_path / "a.png"
    content = b"bomb\0\0" + zlib.compress(bytes(1 << 27))
    path.write_bytes(with_chunk(png_bytes(codes((5, 5), "uint8")), b"iCCP", content))
    with pytest.raises(BadInput, match="profile is damaged"):
        read_picture(path)


@pytest.mark.parametrize("content", [b"", b"GIF89a", b"no picture at all"])
def test_other_files_are_refused(content, tmp_path):
    path = tmp_path / "a.tif"
    path.write_bytes(content)
    with pytest.raises(BadInput, match=r"empty|not a picture"):
        read_picture(path)
    with pytest.raises(BadInput, match="cannot be read"):
        read_picture(tmp_path)
    with pytest.raises(BadInput, match="no such file"):
        read_picture(tmp_path / "missing.tif")
