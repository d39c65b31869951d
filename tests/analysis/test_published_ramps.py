"""Ramps of a published characterisation: what is found is what the table says.

Source of the data: ANSI CGATS TR 006-2007, a characterisation of printing on grade 1 coated paper;
the extract in `sample_measurements/`.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from greyscale.analysis.analyse import analyse
from greyscale.readings.formats import read

FILE = Path(__file__).parents[2] / "sample_measurements" / "tr006-grey.txt"


def published():
    """Read the table's rows with nothing of the project: C, M, Y, K, X, Y, Z, L*, a*, b*."""
    lines = FILE.read_text().splitlines()
    body = lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")]
    return np.array([[float(word) for word in line.split()[1:]] for line in body])


def rows_of(ramp):
    table = published()
    c, m, y, k = table[:, :4].T
    return (
        table[(c == 0) & (m == 0) & (y == 0)]
        if ramp == "K"
        else table[(k == 0) & (c == m) & (m == y)]
    )


@pytest.mark.parametrize("ramp", ["K", "CMY"])
def test_ranges_of_a_and_b_are_the_tables(ramp):
    rows = rows_of(ramp)
    found = analyse(read(FILE, ramp=ramp))
    assert len(found.patches) == len(rows) == {"K": 21, "CMY": 11}[ramp]
    assert found.neutrality.a_range == (rows[:, 8].min(), rows[:, 8].max())
    assert found.neutrality.b_range == (rows[:, 9].min(), rows[:, 9].max())


@pytest.mark.parametrize("ramp", ["K", "CMY"])
def test_paper_black_and_every_tone_are_the_tables(ramp):
    rows = rows_of(ramp)
    rows = rows[np.argsort(rows[:, 3 if ramp == "K" else 0])]
    found = analyse(read(FILE, ramp=ramp))
    np.testing.assert_array_equal(found.patches.lab, rows[:, 7:])
    np.testing.assert_array_equal(found.paper, rows[0, 7:])
    np.testing.assert_array_equal(found.black, rows[-1, 7:])
    np.testing.assert_allclose(
        found.patches.level, 1 - rows[:, 3 if ramp == "K" else 0] / 100, atol=1e-12
    )


def test_equal_cyan_magenta_and_yellow_are_between_reddish_and_yellowish():
    """At C = M = Y = 55 the table has a* 5.93, b* 4.15 on a paper of b* -1.96: named orange,
    the sector between reddish and yellowish."""
    (cast,) = analyse(read(FILE, ramp="CMY")).neutrality.casts
    assert cast.hue == "orange"
    assert cast.peak_level == pytest.approx(0.45)
    # By hand: paper 95, -0.02, -1.96; black L* 23; L* 49.89, so the aim keeps
    # 1 - 0.85 (95 - 49.89)/72 = 0.46745 of the paper: a* -0.00935, b* -0.91620.
    assert cast.peak_delta_Ch == pytest.approx(np.hypot(5.93 + 0.00935, 4.15 + 0.91620), abs=1e-4)
    assert cast.hue_angle == pytest.approx(
        np.degrees(np.arctan2(4.15 + 0.91620, 5.93 + 0.00935)), abs=1e-2
    )
    assert cast.from_level < 1 / 3 < 2 / 3 < cast.to_level


def test_black_ink_alone_has_no_cast_on_its_own_paper():
    """The table's K ramp runs with its paper, within 0.7 of the fading aim."""
    neutrality = analyse(read(FILE, ramp="K")).neutrality
    assert neutrality.casts == ()
    assert neutrality.max_delta_Ch < 1
    assert neutrality.verdict == "pass"


def test_seen_as_absolute_neutral_the_papers_blue_is_a_cast():
    (cast,) = analyse(read(FILE, ramp="K"), neutral="absolute").neutrality.casts
    assert cast.hue == "bluish"


def test_mean_over_lightness_by_hand():
    """Trapezoids over the table's own numbers, without paper and black."""
    rows = rows_of("K")
    rows = rows[np.argsort(rows[:, 3])]
    L, a, b = rows[:, 7], rows[:, 8], rows[:, 9]
    kept = 1 - 0.85 * (95 - L) / (95 - 14.95)
    delta_Ch = np.hypot(a - kept * -0.02, b - kept * -1.96)[1:-1]
    L = L[1:-1]
    area = sum((delta_Ch[i] + delta_Ch[i + 1]) / 2 * (L[i] - L[i + 1]) for i in range(len(L) - 1))
    found = analyse(read(FILE, ramp="K")).neutrality
    assert found.mean_delta_Ch == pytest.approx(area / (L[0] - L[-1]), abs=1e-12)
    assert found.max_delta_Ch == pytest.approx(delta_Ch.max(), abs=1e-12)
