"""The K ramp and the C = M = Y patches of ANSI CGATS TR 006-2007, read as its table prints them.

Source: ANSI CGATS TR 006-2007, characterization data for grade 1 coated paper; the file is an
extract of its table (every patch with K = 0 or with K alone).
"""

from pathlib import Path

import numpy as np
import pytest

from greyscale.base.errors import BadInput
from greyscale.readings.formats import read

PATH = Path(__file__).parents[2] / "sample_measurements" / "tr006-grey.txt"


def table():
    """The rows of the file, split by hand: id, C M Y K, X Y Z, L* a* b*."""
    lines = PATH.read_text(encoding="utf-8").splitlines()
    rows = lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")]
    ids = [row.split()[0] for row in rows]
    return ids, np.array([[float(word) for word in row.split()[1:]] for row in rows])


def test_the_k_ramp_is_the_tables():
    ids, numbers = table()
    k_only = numbers[:, :3].max(axis=1) == 0
    reading = read(PATH, ramp="K")
    assert reading.on_axis.all()
    assert reading.ids == tuple(np.array(ids)[k_only])
    np.testing.assert_allclose(reading.level, 1 - numbers[k_only, 3] / 100)
    np.testing.assert_array_equal(reading.lab, numbers[k_only, 7:10])
    # From the published table: paper and solid black.
    assert reading.lab[reading.level.argmax()].tolist() == [95.0, -0.02, -1.96]
    assert reading.lab[:, 1].min() == numbers[k_only, 8].min()
    assert reading.lab[:, 2].max() == numbers[k_only, 9].max()


def test_the_equal_cmy_patches_are_a_ramp_and_the_others_off_axis():
    ids, numbers = table()
    no_black = numbers[:, 3] == 0
    reading = read(PATH, ramp="CMY")
    assert reading.ids == tuple(np.array(ids)[no_black])
    np.testing.assert_allclose(reading.device, 1 - numbers[no_black, :3] / 100)
    equal = np.ptp(numbers[no_black, :3], axis=1) == 0
    np.testing.assert_array_equal(reading.on_axis, equal)
    np.testing.assert_array_equal(reading.lab, numbers[no_black, 7:10])


def test_what_the_file_says_of_itself():
    reading = read(PATH, ramp="K")
    assert (reading.backing, reading.observer, reading.condition) == ("white", "2", None)
    assert "ANSI CGATS TR 006-2007" in reading.name
    assert reading.fields["ORIGINATOR"] == "ANSI CGATS"


def test_which_ramp_must_be_said():
    with pytest.raises(BadInput, match=r"--ramp K or --ramp CMY"):
        read(PATH)


def test_stated_xyz_and_cielab_agree():
    """CIELAB computed from the table's X, Y, Z (two decimals) meets its CIELAB (two decimals)."""
    from greyscale.colorimetry.cielab import xyz_to_lab

    _, numbers = table()
    computed = xyz_to_lab(numbers[:, 4:7], [96.42, 100.0, 82.49])
    # The darkest Z (some 3) is rounded to 0.01, which moves b* by up to 0.1.
    np.testing.assert_allclose(computed, numbers[:, 7:10], atol=0.12)
