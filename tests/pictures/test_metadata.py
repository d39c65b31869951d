"""What a picture says of itself goes from file to file, as Pillow reads it before and after."""

import time
from io import BytesIO
from xml.etree import ElementTree

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms
from support.picture_files import (
    SRGB,
    XMP,
    codes,
    exif,
    exif_of,
    gamma_profile,
    jpeg_bytes,
    png_bytes,
    tiff,
    tiff_with_exif,
)

from greyscale.base.errors import BadInput
from greyscale.pictures.colour_profiles import colour_profile, converted, srgb_profile, to_xyz
from greyscale.pictures.formats import FORMATS, read_picture
from greyscale.pictures.metadata import (
    NAMESPACE,
    colour_space,
    orientation,
    own_properties,
    with_properties,
    without_colour_space,
)

PIXELS = codes((12, 15, 3), "uint8")
SOURCES = {
    "TIFF": lambda path: tiff_with_exif(path, PIXELS, icc_profile=SRGB),
    "PNG": lambda path: Image.fromarray(PIXELS).save(
        path, "PNG", exif=exif(), dpi=(360, 240), icc_profile=SRGB
    ),
    "JPEG": lambda path: path.write_bytes(
        jpeg_bytes(PIXELS, exif=exif(), dpi=(360, 240), icc_profile=SRGB, xmp=XMP, comment="fog")
    ),
}


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("target", FORMATS, ids=lambda one: one.name)
def test_exif_resolution_and_profile_are_carried(source, target, tmp_path):
    path, copy = tmp_path / "a", tmp_path / f"b{target.endings[0]}"
    SOURCES[source](path)
    picture = read_picture(path)
    with copy.open("w+b") as file:
        target.write(file, picture.form, picture.bands())
    before, after = exif_of(path), exif_of(copy)
    assert len(before["photo"]) == 4
    assert len(before["place"]) == 2
    assert after["photo"] == before["photo"]
    assert after["place"] == before["place"]
    for tag in (0x010F, 0x0110, 0x0112, 0x8298):
        assert after["main"][tag] == exif()[tag]
    with Image.open(copy) as image:
        # PNG counts whole pixels per metre: 0.0254 of an inch.
        assert image.info["dpi"] == pytest.approx((360, 240), abs=0.0254)
        assert image.info["icc_profile"] == SRGB


@pytest.mark.parametrize("target", FORMATS, ids=lambda one: one.name)
def test_xmp_is_carried(target, tmp_path):
    path, copy = tmp_path / "a.jpg", tmp_path / "b"
    SOURCES["JPEG"](path)
    picture = read_picture(path)
    with copy.open("w+b") as file:
        target.write(file, picture.form, picture.bands())
    with Image.open(copy) as image:
        assert image.info["xmp"] == XMP
        if target.name == "JPEG":
            assert image.info["comment"] == b"fog"


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("big", [False, True])
def test_a_tiffs_own_entries_are_carried(order, big, tmp_path):
    path = tiff(
        tmp_path / "a.tif", PIXELS, byteorder=order, bigtiff=big, photometric="rgb",
        description="Fog over the harbour", software="an editor", datetime="2026:02:03 04:05:06",
        extratags=[
            (700, 1, len(XMP), XMP, True),
            (33723, 7, 12, b"\x1c\x02\x05\0\7Harbour", True),
            (34377, 1, 12, b"8BIM\x04\x04\0\0\0\0\0\0", True),
            (315, 2, 0, "the harbour workshop", True),
            (274, 3, 1, 8, True),
        ],
    )  # fmt: skip
    picture = read_picture(path)
    copy = tmp_path / "b.tif"
    with copy.open("w+b") as file:
        FORMATS[0].write(file, picture.form, picture.bands())
    with tifffile.TiffFile(path) as before, tifffile.TiffFile(copy) as after:
        for name in (
            "ImageDescription", "Software", "DateTime", "Artist", "Orientation", "XMP",
            "IPTCNAA", "ImageResources",
        ):  # fmt: skip
            assert after.pages[0].tags[name].value == before.pages[0].tags[name].value, name


def test_text_chunks_of_a_png_are_carried(tmp_path):
    from PIL.PngImagePlugin import PngInfo

    texts = PngInfo()
    texts.add_text("Title", "Fog")
    texts.add_text("Author", "the harbour workshop", zip=True)
    texts.add_itxt("Description", "Nebel über dem Hafen")
    texts.add_itxt("XML:com.adobe.xmp", XMP.decode(), zip=True)
    path = tmp_path / "a.png"
    Image.fromarray(PIXELS).save(path, pnginfo=texts)
    picture = read_picture(path)
    assert picture.form.metadata.xmp == XMP
    copy = BytesIO()
    FORMATS[1].write(copy, picture.form, picture.bands())
    with Image.open(copy) as image, Image.open(path) as before:
        image.load()
        before.load()
        assert image.text == before.text


def test_exif_loses_srgb_and_nothing_else(tmp_path):
    for order in ("<", ">"):
        made = exif()
        made.endian = order
        block = made.tobytes().removeprefix(b"Exif\0\0")
        assert (colour_space(block), orientation(block)) == (1, 6)
        changed = without_colour_space(block)
        before, after = Image.Exif(), Image.Exif()
        before.load(block)
        after.load(changed)
        assert after.get_ifd(0x8769) == {**before.get_ifd(0x8769), 0xA001: 65535}
        assert sum(a != b for a, b in zip(block, changed, strict=True)) == 2


def test_damaged_exif_says_nothing():
    for block in (b"", b"II*\0", b"II*\0\xff\xff\xff\xff", b"\0" * 40):
        assert colour_space(block) is None
        assert orientation(block) == 1
        assert without_colour_space(block) == block


def test_xmp_keeps_what_it_holds_and_takes_our_properties():
    """ISO 16684-1: properties are attributes or elements of rdf:Description."""
    properties = {"Correction": 'Harbour "light" <1> & é\x07', "Round": "2"}
    packet = with_properties(XMP, properties)
    assert own_properties(packet) == {**properties, "Correction": 'Harbour "light" <1> & é'}
    before, after = (ElementTree.fromstring(one.strip()) for one in (XMP, packet))
    titles = [root.find(".//{http://purl.org/dc/elements/1.1/}title") for root in (before, after)]
    assert ElementTree.tostring(titles[0]) == ElementTree.tostring(titles[1])
    again = with_properties(packet, {"Correction": "another"})
    assert own_properties(again) == {"Correction": "another"}
    assert again.replace(b"another", b"").count(b"greyscale:Correction") == 1


def test_our_properties_are_found_when_another_program_has_written_them_anew():
    moved = (
        b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><r:RDF '
        b'xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><r:Description r:about="" '
        b'xmlns:g="urn:greyscale:xmp:1:"><g:Correction>fog</g:Correction></r:Description>'
        b"</r:RDF></x:xmpmeta>"
    )
    assert own_properties(moved) == {"Correction": "fog"}
    assert own_properties(with_properties(moved, {"Round": "1"}))["Round"] == "1"


@pytest.mark.parametrize(
    "packet", [None, b"", b"no XML", b"<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>", b"\xff\xfe<"]
)
def test_what_is_no_harmless_xmp_is_replaced(packet):
    assert own_properties(packet) == {}
    assert own_properties(with_properties(packet, {"Round": "1"})) == {"Round": "1"}


def test_profiles_mean_what_little_cms_says_through_pillow():
    """Pillow converts 8 bits; a profile of gamma 1.8 with other primaries, to sRGB."""
    wide = [0.64, 0.33, 1, 0.21, 0.71, 1, 0.15, 0.06, 1]
    profile = colour_profile(gamma_profile(3, 1.8, wide), "x")
    pixels = codes((40, 50, 3), "uint8")
    expected = np.asarray(
        ImageCms.profileToProfile(
            Image.fromarray(pixels),
            ImageCms.ImageCmsProfile(BytesIO(profile.data)),
            ImageCms.ImageCmsProfile(BytesIO(SRGB)),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        )
    )
    found = converted(pixels.reshape(-1, 3) / 255, profile, srgb_profile())
    assert np.abs(found.reshape(pixels.shape) * 255 - expected).max() <= 1.0


def test_the_luminance_of_a_gamma_is_its_power():
    values = np.linspace(0, 1, 101)
    for colours in (1, 3):
        profile = colour_profile(gamma_profile(colours, 2.2), "x")
        given = values if colours == 1 else np.repeat(values[:, None], 3, 1)
        np.testing.assert_allclose(to_xyz(given, profile)[:, 1], values**2.2, atol=2e-5)


@pytest.mark.parametrize("cut", [0, 10, 150, 400])
def test_a_damaged_profile_is_refused(cut):
    with pytest.raises(BadInput, match=r"profile is damaged|lacks what a conversion needs"):
        colour_profile(SRGB[:cut], "fog.tif")
    remedy = "give one of R, G and B values"
    with pytest.raises(BadInput, match=f"^chart.txt: is no ICC profile that can be read; {remedy}"):
        colour_profile(b"ISO28178\n", "chart.txt", remedy)


def test_a_profile_for_other_colours_or_of_another_class_is_refused():
    import imagecodecs

    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    for data in (lab, imagecodecs.cms_profile("xyz"), imagecodecs.cms_profile("null")):
        with pytest.raises(BadInput, match=r"convert the picture|lacks what|no lighter"):
            colour_profile(data, "fog.tif")


def test_png_bytes_are_those_of_libpng():
    with Image.open(BytesIO(png_bytes(PIXELS))) as image:
        np.testing.assert_array_equal(np.asarray(image), PIXELS)


def test_a_packet_full_of_our_own_namespace_takes_no_longer_than_its_size():
    """The time for four times as much: sixteen times, where it goes by the square."""
    taken = []
    for count in (8_000, 32_000):
        many = f'xmlns:greyscale="{NAMESPACE}" ' * count
        packet = (
            "<x:xmpmeta xmlns:x='adobe:ns:meta/' "
            "xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'><rdf:RDF>"
            f"<rdf:Description rdf:about='{many}'></rdf:Description></rdf:RDF></x:xmpmeta>"
        )
        begin = time.process_time()
        extended = with_properties(packet.encode(), {"Correction": "harbour light"})
        taken.append(time.process_time() - begin)
        assert own_properties(extended) == {"Correction": "harbour light"}
    assert taken[1] < 8 * taken[0] + 0.5
