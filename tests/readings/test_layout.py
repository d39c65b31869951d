"""The layout of a chart is an ISO 28178 file (ISO 28178:2009: own fields are declared)."""

import numpy as np
import pytest

from greyscale.base.errors import BadInput
from greyscale.readings.iso28178_text import parse_file
from greyscale.readings.layout import Layout, read_layout, write_layout

LAYOUT = Layout(
    name="lighthouse chart",
    ids=("1", "2", "3"),
    places=("A1", "A2", "B12"),
    device=np.array([[0, 0, 0], [0.5, 0.5, 0.5 + 1 / 65535], [1, 1, 1]]),
    reasons=("black", "", "bare paper"),
    fields={"PATCH_WIDTH": "8 mm", "ORIGINATOR": "harbour print workshop"},
)


@pytest.fixture
def path(tmp_path):
    file = tmp_path / "chart.txt"
    write_layout(LAYOUT, file)
    return file


def test_a_layout_written_and_read_again_is_the_same(path):
    again = read_layout(path)
    for name in ("name", "ids", "places", "reasons", "fields"):
        assert getattr(again, name) == getattr(LAYOUT, name), name
    # Device values are exact enough for 16 bit.
    np.testing.assert_array_equal(
        np.round(65535 * again.device), np.round(65535 * LAYOUT.device)
    )  # fmt: skip


def test_its_own_fields_are_declared_and_values_stand_on_255(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    assert 'KEYWORD "PATCH_PLACE"' in lines
    (table,) = parse_file(path).tables
    assert table.fields == ("SAMPLE_ID", "PATCH_PLACE", "RGB_R", "RGB_G", "RGB_B", "REASON")
    assert table.rows[1][2:5] == ("127.5", "127.5", "127.503891")
    assert table.rows[2] == ("3", "B12", "255", "255", "255", "bare paper")


def test_values_that_stop_short_of_white_still_stand_on_255(tmp_path):
    file = tmp_path / "dark.txt"
    dark = Layout("dark", ("1", "2"), ("A1", "A2"), np.array([[0.0] * 3, [0.1] * 3]))
    write_layout(dark, file)
    np.testing.assert_allclose(read_layout(file).device, dark.device, rtol=1e-8)


@pytest.mark.parametrize(
    ("old", "new", "message", "line"),
    [
        ("PATCH_PLACE\tRGB_R", "PLACED\tRGB_R", "the field PATCH_PLACE is missing", 12),
        ("3\tB12", "1\tB12", "the id '1' is on line 16 as well", 18),
        ("B12", "A1", "the place 'A1' is on line 16 as well", 18),
        ("B12", "12B", "the place '12B' is not a strip letter and number", 18),
        ("127.503891", "300", "RGB_B is 300, which is above 255", 17),
        ("127.503891", "dark", "RGB_B is 'dark', which is not a number", 17),
    ],
)
def test_what_is_wrong_with_a_layout_is_said_with_its_line(path, old, new, message, line):
    content = path.read_text(encoding="utf-8")
    assert old in content
    path.write_text(content.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BadInput, match=message) as caught:
        read_layout(path)
    assert (caught.value.source, caught.value.line) == (str(path), line)
