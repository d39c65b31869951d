"""Device links and grey profiles in two independent consumers; damaged profiles refused."""

from __future__ import annotations

import contextlib
import io
import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageCms
from support.little_cms import GRAY_16, LAB_DOUBLE, RGB_16, convert

from greyscale.base.errors import BadInput
from greyscale.colorimetry.cielab import delta_E_2000, lab_to_xyz, xyz_to_lab
from greyscale.correction.record import Curve
from greyscale.demo.printer import demo_printer
from greyscale.icc.files import device_link, grey_profile
from greyscale.icc.profile import parse_profile, profile_bytes, read_profile, read_text
from greyscale.pictures.colour_profiles import srgb_profile

VERSIONS = [(4, 3), (2, 4)]
LEVELS = np.linspace(0, 1, 2041)


@dataclass
class SmallCorrection:
    """As much of a correction as a device link needs."""

    name: str
    curve: Curve


def correction() -> SmallCorrection:
    bend = LEVELS * (1 - LEVELS)
    rgb = LEVELS[:, None] + bend[:, None] * np.array([0.08, -0.05, 0.03])
    return SmallCorrection(
        "cotton rag", Curve(LEVELS, rgb, np.zeros((2041, 3)), np.zeros((2041, 3)))
    )


def reading():
    device = np.repeat(np.linspace(0, 1, 33)[:, None], 3, axis=1)
    ids = [str(i) for i in range(33)]
    return demo_printer("cotton rag").measure(ids, device, name="cotton rag")


def link(version: tuple[int, int]) -> bytes:
    return profile_bytes(device_link(correction(), version))  # type: ignore[arg-type]


def grey(version: tuple[int, int]) -> bytes:
    return profile_bytes(grey_profile(reading(), version))


@pytest.mark.parametrize("version", VERSIONS)
def test_little_cms_takes_a_grey_ramp_through_the_link_as_the_curve_does(version) -> None:
    """Within 1/1000."""
    ramp = np.repeat(np.linspace(0, 1, 1001)[:, None], 3, axis=1)
    sent = convert(np.round(ramp * 65535), link(version), None, RGB_16, RGB_16, link=True) / 65535
    assert np.abs(sent - correction().curve.apply(ramp)).max() < 1e-3


@pytest.mark.parametrize("version", VERSIONS)
def test_the_link_keeps_colours_apart_by_channel(version) -> None:
    colours = np.random.default_rng(1).uniform(0, 1, (200, 3))
    sent = convert(np.round(colours * 65535), link(version), None, RGB_16, RGB_16, link=True)
    assert np.abs(sent / 65535 - correction().curve.apply(colours)).max() < 1e-3


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("intent", [1, 3], ids=["relative", "absolute"])
def test_little_cms_sees_the_print_through_the_grey_profile(version, intent) -> None:
    """Within 0.2 ΔE00 of the reading: absolute as measured, relative to its paper otherwise."""
    measured = reading()
    level = np.round(measured.level[:, None] * 65535)
    seen = convert(level, grey(version), None, GRAY_16, LAB_DOUBLE, intent)
    expected = measured.lab
    if intent == 1:
        white = np.array([96.42, 100, 82.49])
        xyz = lab_to_xyz(measured.lab, white)
        expected = xyz_to_lab(xyz / xyz[-1] * white, white)
    assert delta_E_2000(seen, expected).max() < 0.2


@pytest.mark.parametrize("make", [link, grey], ids=["link", "grey"])
@pytest.mark.parametrize("version", VERSIONS)
def test_the_reference_implementation_finds_no_fault(make, version) -> None:
    """`iccdev`: the ICC's own library."""
    iccdev = pytest.importorskip("iccdev", reason="iccdev is not installed")
    result = iccdev.validate_profile(make(version))
    assert result.status == iccdev.ValidationStatus.OK, result.report


def test_pillow_reads_name_class_and_version() -> None:
    profile = ImageCms.ImageCmsProfile(io.BytesIO(grey((4, 3)))).profile
    assert "cotton rag" in profile.profile_description
    assert profile.version == pytest.approx(4.3)
    assert profile.device_class == "prtr"
    assert ImageCms.ImageCmsProfile(io.BytesIO(link((2, 4)))).profile.device_class == "link"


@pytest.mark.parametrize("version", VERSIONS)
def test_a_profile_says_of_its_copyright_what_its_user_says(version) -> None:
    """And gives nobody's rights away otherwise."""
    for make, subject in ((device_link, correction()), (grey_profile, reading())):
        own = make(subject, version, "Lighthouse prints, 2026")
        assert read_text(own.tags["cprt"]) == "Lighthouse prints, 2026"
        assert read_text(make(subject, version).tags["cprt"]) == "Copyright not stated"


def test_the_profile_of_previews_gives_no_rights_away_and_is_always_the_same() -> None:
    data = srgb_profile().data
    opened = ImageCms.ImageCmsProfile(io.BytesIO(data)).profile
    assert opened.copyright.strip() == "Copyright not stated"
    assert opened.creation_date.year == 2000
    assert data[84:100] == bytes(16)


def test_only_v2_has_a_black_point_tag() -> None:
    assert "bkpt" in parse_profile(grey((2, 4)), "v2").tags
    assert "bkpt" not in parse_profile(grey((4, 3)), "v4").tags


def test_a_profile_taken_apart_and_put_together_is_the_same() -> None:
    for version in VERSIONS:
        data = grey(version)
        assert profile_bytes(parse_profile(data, "grey.icc")) == data
        assert "soft proofs" in read_text(parse_profile(data, "grey.icc").tags["desc"])


# Profiles that are none.


def patched(data: bytes, offset: int, value: bytes) -> bytes:
    return data[:offset] + value + data[offset + len(value) :]


DAMAGE = {
    "not an ICC profile": lambda d: patched(d, 36, b"nope"),
    "cut off": lambda d: d[:-100],
    "999 tags": lambda d: patched(d, 128, struct.pack(">I", 999)),
    "outside the profile": lambda d: patched(d, 136, struct.pack(">I", 1 << 30)),
    "there twice": lambda d: patched(d, 144, d[132:136]),
    "overlap": lambda d: patched(d, 148, struct.pack(">I", struct.unpack(">I", d[136:140])[0] + 4)),
}


@pytest.mark.parametrize("message", DAMAGE)
def test_damaged_profiles_are_refused(message: str, tmp_path: Path) -> None:
    path = tmp_path / "damaged.icc"
    path.write_bytes(DAMAGE[message](grey((4, 3))))
    with pytest.raises(BadInput, match=message):
        read_profile(path)


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=400), st.integers(0, 500), st.integers(0, 255), st.integers(0, 4000))
def test_no_bytes_do_more_than_be_refused(rubbish: bytes, at: int, value: int, cut: int) -> None:
    data = bytearray(GREY)
    data[at] = value
    for candidate in (rubbish, bytes(data), bytes(data[: max(0, len(data) - cut)])):
        with contextlib.suppress(BadInput):
            parse_profile(candidate, "fuzz")


GREY = grey((2, 4))
