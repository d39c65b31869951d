"""One look for every figure: sizes, inks, and lines told apart without colour."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any


@dataclass(frozen=True)
class Look:
    """How figures are drawn for one kind of page.

    Attributes
    ----------
    width
        Inches; 96 of a screen's pixels each.
    font_size
        Points.
    narrow
        Whether the figure must fit a phone: fewer ticks, shorter labels, taller panels.
    ground, ink, muted, rule, band
        The page behind, then text and main lines, second text, grid lines, shaded bands. All
        exactly neutral, so that nothing tints the greys beside them.
    accents
        Line colours in order; every one has its own dashes and marker as well.
    """

    width: float
    font_size: float
    narrow: bool
    ground: str
    ink: str
    muted: str
    rule: str
    band: str
    accents: tuple[str, ...]


LIGHT = Look(
    width=7.5,
    font_size=9.5,
    narrow=False,
    ground="#ffffff",
    ink="#1a1a1a",
    muted="#5c5c5c",
    rule="#dcdcdc",
    band="#ececec",
    accents=("#1a1a1a", "#a34d12", "#0b6e78", "#8a2f6b", "#4b5fb0", "#5d6b13"),
)
"""The page on paper and on a light screen; the figures saved as files."""

DARK = replace(
    LIGHT,
    ground="#1c1c1c",
    ink="#ededed",
    muted="#adadad",
    rule="#3a3a3a",
    band="#2e2e2e",
    accents=("#ededed", "#f0a268", "#5fc4cf", "#e290c6", "#a3b4ff", "#bccb62"),
)
"""The page on a dark screen."""


def inks(look: Look) -> dict[str, str]:
    """Return the colours of a look by the names that the style sheet has for them.

    Examples
    --------
    >>> inks(LIGHT)["ink"], inks(DARK)["ink"]
    ('#1a1a1a', '#ededed')
    """
    names = ("ground", "ink", "muted", "rule", "band")
    named = {name: str(getattr(look, name)) for name in names}
    # The first accent is the ink.
    lines = {f"line-{n}": colour for n, colour in enumerate(look.accents[1:], start=2)}
    return {**named, **lines}


def narrow(look: Look) -> Look:
    """Return the same look for a phone's width."""
    return replace(look, width=3.7, font_size=8.5, narrow=True)


@dataclass(frozen=True)
class Line:
    """How one series is drawn: three marks beside its colour tell it from the others.

    Attributes
    ----------
    accent
        Index into `Look.accents`.
    dashes
        Lengths of dashes and gaps, in widths of the line; none for a line without.
    marker
        A letter for a marker, as Matplotlib has them.
    filled
        Whether the marker is.
    """

    accent: int
    dashes: tuple[float, ...]
    marker: str
    filled: bool

    def options(self, look: Look) -> dict[str, Any]:
        """Return the keywords for `Panel.plot`."""
        colour = look.accents[self.accent % len(look.accents)]
        return {
            "color": colour,
            "dashes": self.dashes,
            "width": 1.5,
            "marker": self.marker,
            "size": 3.6 if look.narrow else 4.2,
            "face": colour if self.filled else look.ground,
            "edge": colour,
        }


_DASHES: tuple[tuple[float, ...], ...] = (
    (),
    (5, 2),
    (1.2, 1.4),
    (6, 1.6, 1.2, 1.6),
    (9, 2),
    (3, 1.4, 1, 1.4, 1, 1.4),
)
# One more than dashes: the pairs repeat only after 42 series.
_MARKERS = (
    ("o", True),
    ("^", False),
    ("s", True),
    ("D", False),
    ("v", True),
    ("P", False),
    ("X", True),
)


def line(index: int) -> Line:
    """Return the style of a series by its place in the order: of lights, papers, prints.

    Examples
    --------
    >>> line(0)
    Line(accent=0, dashes=(), marker='o', filled=True)
    """
    marker, filled = _MARKERS[index % len(_MARKERS)]
    return Line(index % len(_DASHES), _DASHES[index % len(_DASHES)], marker, filled)


def marked_every(count: int, index: int) -> tuple[int, int]:
    """Say which points of a long line bear its marker, so that its dashes stay visible.

    Returns
    -------
    The first, different for neighbouring series, and the step: `every` of `Panel.plot`.

    Examples
    --------
    >>> marked_every(33, 1)
    (1, 4)
    """
    step = max(1, round(count / 8))
    return index % step, step


AIM_LINE = (4.0, 2.5)
"""Dashes of everything aimed at, never of anything measured."""
