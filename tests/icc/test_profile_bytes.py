"""Single bytes of profiles, which lenient programs would not miss but the standards ask for."""

from __future__ import annotations

import struct

import numpy as np
import pytest
from support.corrections import correction_with, curve_against

from greyscale.icc.files import device_link
from greyscale.icc.profile import profile_bytes, read_text, text_description
from greyscale.icc.tables import _read_curves, parametric


def test_the_header_holds_the_version_and_the_connection_spaces_light() -> None:
    """ISO 15076-1:2010, 7.2.4 and 7.2.16: D50 as F6D6, 1 0000, D32D (hexadecimal, s15Fixed16)."""
    data = profile_bytes(device_link(correction_with(curve_against())))
    assert data[8:12].hex() == "04300000"
    assert data[68:80].hex() == "0000f6d6" + "00010000" + "0000d32d"
    assert data[36:40] == b"acsp"
    assert int.from_bytes(data[:4], "big") == len(data)


@pytest.mark.parametrize("text", ["", "fog", "harbour light, round 2"])
def test_a_description_of_version_2_has_its_length(text: str) -> None:
    """ICC.1:2001-04, 6.5.17: 8 + 4 + n + 4 + 4 + 2 + 1 + 67 bytes, n with the closing null."""
    tag = text_description(text, (2, 4))
    assert len(tag) == 8 + 4 + len(text) + 1 + 4 + 4 + 2 + 1 + 67
    assert int.from_bytes(tag[8:12], "big") == len(text) + 1
    assert read_text(tag) == text


def test_curves_begin_at_multiples_of_four_bytes() -> None:
    """ISO 15076-1, 10.12: curves of odd numbers of entries are filled up before the next."""
    tables = [[0, 20_000, 65_535], [0, 65_535], [0, 1_000, 30_000, 50_000, 65_535]]
    tag = bytes(32)
    for table in tables:
        curve = b"curv" + bytes(4) + struct.pack(f">I{len(table)}H", len(table), *table)
        tag += curve + bytes(-len(curve) % 4)
    found = _read_curves(tag, 32)
    assert found.raw == tag[32:]
    for curve, table in zip(found.curves, tables, strict=True):
        at = np.linspace(0, 1, len(table))
        np.testing.assert_allclose(curve(at), np.array(table) / 65_535, atol=1e-9)


@pytest.mark.parametrize(("kind", "given", "expected"), [
    (0, [2.2], lambda x: x**2.2),
    (1, [2.0, 1.25, -0.25], lambda x: np.where(x >= 0.2, (1.25 * x - 0.25).clip(0) ** 2, 0.0)),
    (2, [2.0, 0.9, 0.0, 0.1], lambda x: (0.9 * x) ** 2 + 0.1),
    (3, [2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045],
     lambda x: np.where(x >= 0.04045, ((x + 0.055) / 1.055) ** 2.4, x / 12.92)),
    (4, [2.0, 0.9, 0.0, 0.5, 0.5, 0.1, 0.05],
     lambda x: np.where(x >= 0.5, (0.9 * x) ** 2 + 0.1, 0.5 * x + 0.05)),
])  # fmt: skip
def test_parametric_curves_are_those_of_the_standard(kind, given, expected) -> None:
    """ISO 15076-1, 10.18, table 68; kind 3 is the decoding of IEC 61966-2-1."""
    x = np.linspace(0, 1, 101)
    np.testing.assert_allclose(parametric(kind, given)(x), expected(x), atol=1e-12)
