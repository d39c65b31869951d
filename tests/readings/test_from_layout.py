"""A file of bare measurements takes its device values from the chart's layout."""

from dataclasses import replace

import numpy as np
import pytest

from greyscale.base.errors import BadInput
from greyscale.checks.case import lay_out
from greyscale.readings.formats import read
from greyscale.readings.layout import Layout

LAYOUT = Layout(
    "chart", ("1", "2", "3"), ("A1", "A2", "B1"), np.array([[0.0] * 3, [0.5, 0.5, 0.6], [1.0] * 3])
)


@pytest.fixture
def file(tmp_path):
    def make(*ids, device=""):
        path = tmp_path / "bare.csv"
        extra = ",GRAY" if device else ""
        rows = [f"{name},{90 - 20 * k},0,0{device}" for k, name in enumerate(ids)]
        path.write_text("\n".join([f"id,L,a,b{extra}", *rows]))
        return path

    return make


@pytest.mark.parametrize(
    ("ids", "slots", "how"),
    [
        ("312", (2, 0, 1), "id"),
        (("B1", "A1"), (2, 0), "place"),
        (("003", "001", "002"), (2, 0, 1), "id"),
        (("B01", "a-1", "A 2"), (2, 0, 1), "place"),
        (("x", "y", "z"), (0, 1, 2), "position in the file"),
    ],
)
def test_a_patch_is_found_by_id_place_or_position(file, ids, slots, how):
    reading = read(file(*ids), layout=LAYOUT)
    np.testing.assert_array_equal(reading.device, LAYOUT.device[list(slots)])
    assert reading.places == tuple(LAYOUT.places[slot] for slot in slots)
    assert f"Device values are those of the layout 'chart', by {how}." in reading.remarks


@pytest.mark.parametrize(
    "ids",
    [
        ("a1", "a2", "a3", "A1", "A2", "A3"),
        ("1.05", "1.5", "2.05", "2.5"),
        ("1,05", "1,5"),
        ("K0.05", "K0.5"),
        ("p-1", "p1", "p-2", "p2"),
        ("1", "01", "2"),
    ],
)
def test_ids_that_the_layout_keeps_apart_stay_apart(tmp_path, ids):
    """By the layout's own device values, when read and when a reading is checked against it."""
    level = np.linspace(0, 1, len(ids))
    places = tuple(f"Z{k + 1}" for k in range(len(ids)))
    layout = Layout("chart", ids, places, np.repeat(level[:, None], 3, axis=1))
    path = tmp_path / "bare.csv"
    path.write_text("id;L;a;b\n" + "".join(f"{one};{k};0;0\n" for k, one in enumerate(ids)))
    reading = read(path, layout=layout)
    np.testing.assert_array_equal(reading.device, layout.device)
    case = lay_out(replace(reading, places=None), layout)
    np.testing.assert_array_equal(case.rows, np.arange(len(ids)))


def test_patches_that_the_layout_does_not_have_are_left_out_and_named(file):
    reading = read(file("1", "stray", "3"), layout=LAYOUT)
    assert reading.ids == ("1", "3")
    assert reading.lab[:, 0].tolist() == [90, 50]
    assert "Left out, since the layout does not have them: stray." in reading.remarks


def test_device_values_of_the_file_itself_are_kept(file):
    reading = read(file("1", "2", device=",100"), layout=LAYOUT)
    assert reading.device.max() == reading.device.min() == 1.0


@pytest.mark.parametrize("count", [2, 4])
def test_position_serves_only_where_every_patch_is_there(tmp_path, count):
    """Without ids, of two patches no one can say which is missing."""
    path = tmp_path / "bare.csv"
    path.write_text("L,a,b\n" + "90,0,0\n" * count)
    with pytest.raises(BadInput, match=f"has {count} patches without ids.*has 3.*add a column"):
        read(path, layout=LAYOUT)


def test_a_layout_of_another_chart_is_refused(file):
    with pytest.raises(BadInput, match=r"has no patch of the layout 'chart' \(3 patches; 2 here\)"):
        read(file("x", "y"), layout=LAYOUT)
    with pytest.raises(BadInput, match="give the chart's layout"):
        read(file("x", "y"))


def test_what_was_seen_of_a_density_stays_beside_the_layout(tmp_path):
    path = tmp_path / "density.csv"
    path.write_text("id,Density\n1,1.6\n2,0.4\n3,0\n")
    remarks = read(path, layout=LAYOUT).remarks
    assert any("zeroed on the paper" in one for one in remarks)
    assert any("of the layout 'chart'" in one for one in remarks)
