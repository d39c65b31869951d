"""The look of figures: legible in greyscale, for colour-blind readers, and without colour casts."""

from itertools import pairwise

import pytest
from coloraide import Color

from greyscale.reporting.figures.labels import label, spread
from greyscale.reporting.style import AIM_LINE, DARK, LIGHT, line, marked_every, narrow

LOOKS = (LIGHT, DARK, narrow(LIGHT), narrow(DARK))


def test_series_differ_in_dashes_and_marker_whatever_their_colour():
    series = [line(index) for index in range(12)]
    assert len({(str(one.dashes), one.marker) for one in series}) == len(series)
    for one, other in pairwise(series):
        assert one.dashes != other.dashes
        assert one.marker != other.marker
    assert AIM_LINE not in [one.dashes for one in series]


@pytest.mark.parametrize("look", LOOKS)
def test_lines_and_words_have_contrast(look):
    """WCAG 2.2: 1.4.3 asks 4.5 : 1 for text, 1.4.11 asks 3 : 1 for graphics."""
    for colour, least in [(look.ink, 4.5), (look.muted, 4.5), *((c, 4.5) for c in look.accents)]:
        for ground in (look.ground, look.band):
            assert Color(colour).contrast(ground, method="wcag21") >= least, (colour, ground)


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("deficiency", ["protan", "deutan", "tritan"])
def test_the_first_lines_stay_unlike_for_colour_blind_readers(look, deficiency):
    """Simulated after Brettel or Viénot, by coloraide; 10 CIEDE2000 are seen at a glance."""
    seen = [Color(colour).filter(deficiency) for colour in look.accents[:3]]
    for one, other in ((seen[0], seen[1]), (seen[0], seen[2]), (seen[1], seen[2])):
        assert one.delta_e(other, method="2000") > 10


@pytest.mark.parametrize("look", LOOKS)
def test_what_surrounds_the_greys_is_exactly_neutral(look):
    for colour in (look.ground, look.ink, look.muted, look.rule, look.band):
        red, green, blue = Color(colour).coords()
        assert red == green == blue


def test_labels_are_kept_apart_in_their_order():
    wanted = [0.0, 0.1, 0.15, 3.0, 3.2, 9.0]
    placed = spread(wanted, 1.0)
    assert all(b - a >= 1.0 - 1e-9 for a, b in pairwise(placed))
    assert placed[-1] == 9.0


def test_labels_stay_within_their_bounds_while_there_is_room():
    placed = spread([0.0, 0.1, 0.2, 0.3], 1.0, low=0.0, high=10.0)
    assert placed == [0.0, 1.0, 2.0, 3.0]
    placed = spread([9.8, 9.9, 2.0], 1.0, low=0.0, high=10.0)
    assert placed == [9.0, 10.0, 2.0]


def test_labels_that_have_room_stay_where_they_are():
    assert spread([5.0, 1.0, 3.0], 1.5) == [5.0, 1.0, 3.0]


def test_a_name_from_a_file_becomes_one_short_line():
    assert label("hall\r\n\x1b[31mlamp\x00 2") == "hall [31mlamp 2"
    assert len(label("x" * 400)) == 24


def test_markers_are_thinned_and_do_not_coincide():
    assert marked_every(4, 1) == (0, 1)
    starts = [marked_every(65, index)[0] for index in range(3)]
    assert len(set(starts)) == 3
