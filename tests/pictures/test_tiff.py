"""TIFF as tifffile writes it is read, and what is written is read by tifffile and by libtiff."""

from contextlib import suppress
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
import tifffile
from PIL import Image
from support.picture_files import codes, pixels_of, tiff

from greyscale.base.errors import BadInput
from greyscale.pictures.formats import read_picture
from greyscale.pictures.metadata import LONG, SHORT, Layout, value, write_directory
from greyscale.pictures.picture import Form, Metadata, Resolution
from greyscale.pictures.tiff import write

STORAGE = {
    "one strip": {},
    "strips of 7 rows, LZW": {"rowsperstrip": 7, "compression": "lzw"},
    "rows, deflate, predictor": {"rowsperstrip": 1, "compression": "zlib", "predictor": True},
    "tiles": {"tile": (32, 48)},
    "tiles, LZW, predictor": {"tile": (64, 32), "compression": "lzw", "predictor": True},
    "big-endian": {"byteorder": ">"},
    "big-endian tiles, deflate": {"byteorder": ">", "tile": (16, 16), "compression": "zlib"},
    "BigTIFF": {"bigtiff": True, "rowsperstrip": 16},
    "PackBits": {"compression": "packbits"},
    "Zstandard": {"compression": "zstd"},
}


@pytest.mark.parametrize("storage", STORAGE)
@pytest.mark.parametrize("kind", ["uint8", "uint16", "float32"])
@pytest.mark.parametrize("planes", [False, True])
def test_pixels_are_read_however_they_are_stored(storage, kind, planes, tmp_path):
    if kind == "float32" and storage == "PackBits":
        pytest.skip("PackBits takes bytes")
    pixels = codes((101, 67, 3), kind)
    stored, how = (np.moveaxis(pixels, -1, 0), "separate") if planes else (pixels, "contig")
    options = {"photometric": "rgb", "planarconfig": how, **STORAGE[storage]}
    path = tiff(tmp_path / "a.tif", np.ascontiguousarray(stored), **options)
    np.testing.assert_array_equal(pixels_of(path), pixels)


@pytest.mark.parametrize("kind", ["uint8", "uint16", "float32"])
def test_white_as_0_is_turned_round(kind, tmp_path):
    pixels = codes((9, 11), kind)
    path = tiff(tmp_path / "a.tif", pixels, photometric="miniswhite")
    full = 1 if kind == "float32" else np.iinfo(kind).max
    np.testing.assert_array_equal(pixels_of(path)[..., 0], full - pixels)


@pytest.mark.parametrize("kind", ["float16", "float64"])
def test_other_floats_become_single_precision(kind, tmp_path):
    pixels = codes((9, 11, 3), kind)
    path = tiff(tmp_path / "a.tif", pixels, photometric="rgb")
    assert read_picture(path).form.kind == np.float32
    np.testing.assert_array_equal(pixels_of(path), pixels.astype(np.float32))


@pytest.mark.parametrize("compression", [None, "lzw", "deflate"])
@pytest.mark.parametrize("kind", ["uint8", "uint16", "float32"])
@pytest.mark.parametrize("channels", [1, 2, 3, 4])
@pytest.mark.parametrize("big", [False, True])
def test_what_is_written_is_read_by_tifffile_and_libtiff(compression, kind, channels, big):
    pixels = codes((301, 203, channels), kind)
    colours = 1 if channels < 3 else 3
    form = Form(
        203, 301, colours, channels - colours, np.dtype(kind), "straight", compression=compression
    )
    file = BytesIO()
    bands = iter(np.array_split(pixels, [13, 14, 99]))
    write(file, form, bands, 1000 if big else 1 << 32)
    assert file.getvalue()[2] == (43 if big else 42)
    file.seek(0)
    with tifffile.TiffFile(file) as found:
        np.testing.assert_array_equal(found.asarray().reshape(pixels.shape), pixels)
        assert found.pages[0].compression == {None: 1, "lzw": 5, "deflate": 8}[compression]
    if kind == "uint8":
        # Pillow decodes compressed TIFFs with libtiff.
        file.seek(0)
        np.testing.assert_array_equal(np.asarray(Image.open(file)).reshape(pixels.shape), pixels)


def test_only_a_file_that_may_pass_four_gigabytes_is_bigtiff():
    """TIFF 6.0 counts bytes with 32 bits; the pixels themselves are not written here."""
    written = []

    class Head(BytesIO):
        def write(self, data):
            written.append(bytes(data))
            raise EOFError

    for height, version in ((44_000, b"*"), (46_000, b"+")):
        form = Form(16_000, height, 3, 0, np.dtype(np.uint16))
        with pytest.raises(EOFError):
            write(Head(), form, iter(()))
        assert written.pop()[2:3] == version


def test_resolution_stays_the_fraction_it_was(tmp_path):
    path = tiff(
        tmp_path / "a.tif", codes((5, 6), "uint16"),
        resolution=((30_000_001, 99_991), (720, 7)), resolutionunit="CENTIMETER",
    )  # fmt: skip
    picture = read_picture(path)
    file = BytesIO()
    write(file, picture.form, picture.bands())
    file.seek(0)
    with tifffile.TiffFile(file) as found:
        tags = found.pages[0].tags
        assert tags["XResolution"].value == (30_000_001, 99_991)
        assert tags["YResolution"].value == (720, 7)
        assert tags["ResolutionUnit"].value == 3


def test_smaller_copies_of_the_picture_are_no_further_pages(tmp_path):
    path = tmp_path / "a.tif"
    pixels = codes((64, 64, 3), "uint8")
    with tifffile.TiffWriter(path) as file:
        file.write(pixels, photometric="rgb", metadata=None)
        file.write(pixels[::4, ::4], photometric="rgb", metadata=None, subfiletype=1)
    np.testing.assert_array_equal(pixels_of(path), pixels)


REFUSED = {
    "CMYK": ({"photometric": "separated"}, (8, 9, 4), "uint8", "is CMYK"),
    "CIELAB": ({"photometric": "cielab"}, (8, 9, 3), "uint8", "is CIELAB"),
    "32-bit": ({"photometric": "minisblack"}, (8, 9), "uint32", "whole numbers of 32 bits"),
    "signed": ({"photometric": "minisblack"}, (8, 9), "int16", "16 bits per channel"),
    "JPEG": (
        {"photometric": "minisblack", "compression": "jpeg"},
        (16, 16),
        "uint8",
        "compressed in a way",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", REFUSED)
def test_other_kinds_are_refused_with_what_to_do(kind, tmp_path):
    options, shape, dtype, message = REFUSED[kind]
    path = tiff(tmp_path / "a.tif", np.ones(shape, dtype), **options)
    with pytest.raises(BadInput, match=f"{message}.*save"):
        read_picture(path)


@pytest.mark.parametrize(("most", "said"), [(3.0, ["66.4 % of", "0 to 3"]), (1.0, [])])
def test_floats_that_are_held_at_the_ends_are_counted(most, said, tmp_path):
    ramp = np.linspace(0.0, most, 301, dtype="float32")[np.newaxis].repeat(7, axis=0)
    picture = read_picture(tiff(tmp_path / "a.tif", ramp, photometric="minisblack"))
    assert sum(len(band) for band in picture.bands()) == 7
    remarks = " ".join(picture.remarks)
    assert bool(remarks) is bool(said)
    assert all(one in remarks for one in said)


def test_palette_pages_and_one_bit_are_refused(tmp_path):
    path = tmp_path / "a.tif"
    grey = Image.fromarray(codes((8, 9), "uint8"))
    grey.convert("P").save(path)
    with pytest.raises(BadInput, match="palette"):
        read_picture(path)
    for one in (path, tmp_path / "a.png"):
        grey.convert("1").save(one)
        with pytest.raises(BadInput, match="1 bit per channel"):
            read_picture(one)
    grey.save(path, save_all=True, append_images=[grey])
    with pytest.raises(BadInput, match="holds 2 pages"):
        read_picture(path)


def test_pages_that_follow_each_other_for_ever_are_refused(tmp_path):
    """Three directories in a ring, as one wrong byte can make them."""
    path = tiff(tmp_path / "a.tif", codes((8, 9), "uint8"))
    data = bytearray(path.read_bytes())
    first = int.from_bytes(data[4:8], "little")
    count = int.from_bytes(data[first : first + 2], "little")
    directory = bytes(data[first : first + 2 + 12 * count])
    link = first + 2 + 12 * count
    second = len(data)
    third = second + len(directory) + 4
    data[link : link + 4] = second.to_bytes(4, "little")
    data += directory + third.to_bytes(4, "little") + directory + first.to_bytes(4, "little")
    path.write_bytes(data)
    with pytest.raises(BadInput, match=r"holds .* pages"):
        read_picture(path)


@pytest.mark.parametrize("storage", ["one strip", "tiles", "strips of 7 rows, LZW"])
@pytest.mark.parametrize("share", [0.02, 0.3, 0.7, 0.99])
def test_a_file_cut_short_is_refused(storage, share, tmp_path):
    path = tiff(
        tmp_path / "a.tif", codes((101, 67, 3), "uint16"), photometric="rgb", **STORAGE[storage]
    )
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(BadInput, match=r"cut short|damaged"):
        pixels_of(path)


@pytest.mark.parametrize("storage", ["strips of 7 rows, LZW", "rows, deflate, predictor"])
def test_bytes_changed_at_random_end_in_a_message_or_in_pixels(storage, tmp_path):
    path = tiff(
        tmp_path / "a.tif", codes((41, 37, 3), "uint8"), photometric="rgb", **STORAGE[storage]
    )
    whole = np.frombuffer(path.read_bytes(), np.uint8)
    random = np.random.default_rng(1)
    for _ in range(60):
        damaged = whole.copy()
        damaged[random.integers(0, whole.size, 12)] = random.integers(0, 256, 12, dtype=np.uint8)
        path.write_bytes(damaged.tobytes())
        # Any other error fails the test.
        with suppress(BadInput):
            pixels_of(path)


@pytest.mark.parametrize("compression", [1, 5, 8, 50000])
def test_a_small_file_that_claims_a_huge_picture_is_refused(compression, tmp_path):
    strips = 100
    path = tmp_path / "a.tif"
    directory = {
        256: value(LONG, 100_000), 257: value(LONG, 100_000), 258: value(SHORT, 16),
        259: value(SHORT, compression), 262: value(SHORT, 1), 277: value(SHORT, 1),
        278: value(LONG, 100_000 // strips), 273: value(LONG, *[8] * strips),
        279: value(LONG, *[40] * strips),
    }  # fmt: skip
    body = bytes(40)
    path.write_bytes(b"II*\0\x30\0\0\0" + body + write_directory(directory, 48, Layout()))
    with pytest.raises(BadInput, match=r"cannot hold|cut short|damaged"):
        next(read_picture(path).bands())


def test_metadata_that_is_damaged_is_left_out(tmp_path):
    """A pointer to EXIF that leads nowhere keeps nobody from printing."""
    path = tiff(tmp_path / "a.tif", codes((5, 6), "uint8"), extratags=[(65000, 4, 1, 7, True)])
    with tifffile.TiffFile(path) as file:
        place = file.pages[0].tags[65000].offset
    whole = bytearray(path.read_bytes())
    whole[place : place + 2] = (34665).to_bytes(2, "little")
    whole[place + 8 : place + 12] = (1 << 31).to_bytes(4, "little")
    path.write_bytes(bytes(whole))
    assert pixels_of(path).shape == (5, 6, 1)


def test_a_resolution_that_does_not_fit_is_left_out():
    from fractions import Fraction

    form = Form(2, 2, 1, 0, np.dtype(np.uint8))
    odd = Resolution(Fraction(1, 10**12), Fraction(1))
    form = replace(form, metadata=Metadata(resolution=odd))
    file = BytesIO()
    write(file, form, iter([np.zeros((2, 2, 1), np.uint8)]))
    file.seek(0)
    with tifffile.TiffFile(file) as found:
        assert "XResolution" not in found.pages[0].tags
