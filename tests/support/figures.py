"""What is written in a figure, and where."""

from __future__ import annotations

import re
from itertools import combinations

from greyscale.reporting.figures.canvas import Box
from greyscale.reporting.figures.plot import Figure, Panel, Series


def lines(panel: Panel) -> dict[str, Series]:
    """The series of a panel by their labels."""
    return {one.label: one for one in panel.series if "band" not in one.how}


def words(figure: Figure, which: str = r"[^\W\d_]") -> list[tuple[str, Box]]:
    """The words of a figure that have something of this, with what they cover, in points."""
    return [(one.text, one.box) for one in figure.canvas.written if re.search(which, one.text)]


def assert_words_have_room(figure: Figure, which: str = r"[^\W\d_]") -> None:
    """Fail where a word runs out of the frame, or over another."""
    boxes = words(figure, which)
    width, height = figure.canvas.width, figure.canvas.height
    for text, (left, top, right, bottom) in boxes:
        assert left >= -1, text
        assert right <= width + 1, text
        assert top >= -1, text
        assert bottom <= height + 1, text
    for (text, one), (other, two) in combinations(boxes, 2):
        across = min(one[2], two[2]) - max(one[0], two[0])
        down = min(one[3], two[3]) - max(one[1], two[1])
        assert not (across > 1 and down > 1), (text, other)
