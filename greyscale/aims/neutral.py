"""What a*, b* a tone should have to look neutral on its paper, or toned on purpose."""

from __future__ import annotations

import csv
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import numpy as np

from greyscale.aims.tone import finite, table_lines
from greyscale.base.errors import BadInput, not_known
from greyscale.colorimetry.arrays import Array, ArrayLike, columns_at, smooth_step
from greyscale.colorimetry.cielab import luminance

# How much of the paper's tint is gone at black. ISO 12647-2:2013, 4.2.8 and annex A (memory).
FADED_AT_BLACK = 0.85

Weight = Callable[[Array, Array, Array], Array]
"""Share of the paper's a*, b* that a tone keeps, by L*, L* of paper, L* of black."""


def _fading(L: Array, L_paper: Array, L_black: Array) -> Array:
    # ISO 12647-2:2013, grey reproduction (memory). Its black is the darkest overprint of cyan,
    # magenta and yellow; here it is the darkest patch.
    return 1.0 - FADED_AT_BLACK * (L_paper - L) / (L_paper - L_black)


def _adapting(L: Array, L_paper: Array, L_black: Array) -> Array:
    # The same, in luminance: High, Nussbaum and Green (2023), Grey balance in cross media
    # reproductions, J. Imaging Sci. Technol. 67(5), found the adjustment towards the background
    # near-linear in the luminance of the patch.
    Y, Y_paper, Y_black = luminance(L), luminance(L_paper), luminance(L_black)
    return 1.0 - FADED_AT_BLACK * (Y_paper - Y) / (Y_paper - Y_black)


DEFAULT_NEUTRAL_AIM = "fading"

NEUTRAL_AIMS: dict[str, Weight] = {
    "fading": _fading,
    "adapting": _adapting,
    "paper": lambda L, *_: np.ones_like(L),
    "absolute": lambda L, *_: np.zeros_like(L),
}
"""The aims by name: how much of the paper's tint each keeps."""


@dataclass(frozen=True, eq=False)
class AimByLightness:
    """An aim of its own: a*, b* by L*, as of a print that is toned on purpose.

    Attributes
    ----------
    name
        What to call it.
    L
        Shape (n,): L*, rising.
    ab
        Shape (n, 2): a*, b* there; straight between, held beyond the ends.
    """

    name: str
    L: Array
    ab: Array

    def at(self, L: ArrayLike) -> Array:
        """Return a*, b* of L* of any shape, shape (..., 2)."""
        return columns_at(L, self.L, self.ab)


NeutralAim = str | AimByLightness
"""A neutral aim: a name of `NEUTRAL_AIMS`, or an aim of its own."""


def neutral_aim_name(name: NeutralAim) -> str:
    """Return the name of a neutral aim if there is such an aim.

    Raises
    ------
    BadInput
        Naming the aims there are.
    """
    if isinstance(name, AimByLightness):
        return name.name
    if name not in NEUTRAL_AIMS:
        raise not_known("neutral aim", name, NEUTRAL_AIMS)
    return name


def neutral_aim(
    name: NeutralAim, L: ArrayLike, paper_lab: ArrayLike, black_lab: ArrayLike
) -> Array:
    """Return the a*, b* at which tones count as neutral.

    Parameters
    ----------
    name
        "fading" (the default of every command; ISO 12647-2:2013), "adapting" (High, Nussbaum
        and Green 2023), "paper" (the paper's a*, b* at every tone), "absolute" (zero); or an aim
        of its own, which knows neither paper nor black.
    L
        L* of the tones, any shape.
    paper_lab, black_lab
        L*, a*, b* of the paper white and of the darkest patch, under the light of interest: shape
        (3,), or any that broadcasts to (..., 3).

    Returns
    -------
    Array of shape (..., 2): a*, b*.

    Raises
    ------
    BadInput
        For a name that is not known, or where paper and black have the same L*.

    Examples
    --------
    >>> paper, black = [95.0, 1.0, -4.0], [15.0, 0.3, 0.2]
    >>> neutral_aim("fading", [95.0, 55.0, 15.0], paper, black).round(3).tolist()
    [[1.0, -4.0], [0.575, -2.3], [0.15, -0.6]]
    """
    if isinstance(name, AimByLightness):
        return name.at(L)
    weight = NEUTRAL_AIMS[neutral_aim_name(name)]
    paper = np.asarray(paper_lab, dtype=np.float64)
    L_paper, L_black = paper[..., 0], np.asarray(black_lab, dtype=np.float64)[..., 0]
    if np.any(L_paper == L_black):
        same = float(np.atleast_1d(L_paper)[0])
        raise BadInput(f"paper and black both have L* {same:.2f}; there is no ramp between them")
    tones = np.asarray(L, dtype=np.float64)
    return weight(tones, L_paper, L_black)[..., np.newaxis] * paper[..., 1:]


# Toned on purpose.

# Bare paper has no ink to be toned, full black no room: over these shares of the print's range of
# L* a toning grows from nothing to its full chroma. Common practice, no source.
_FROM_PAPER, _FROM_BLACK = 0.15, 0.10

_MOST_CHROMA = 60.0
_POINTS = 41


@dataclass(frozen=True, eq=False)
class Toning:
    """An aim for a*, b*: a table, or what is added to the neutral aim.

    Attributes
    ----------
    name
        A preset's name, the table's path, or hues and chromas as they were given.
    tones
        Shape (n,), rising: L*; or, where `by_share`, the share of the print's range of L*, 0 at
        its black and 1 at its paper.
    ab
        Shape (n, 2): a*, b* there; smooth between, held beyond the ends.
    by_share
        Whether `tones` are shares.
    beside_neutral
        Whether `ab` is added to the neutral aim; else it is what shall be measured.
    """

    name: str
    tones: Array
    ab: Array
    by_share: bool
    beside_neutral: bool

    def at(
        self, L: ArrayLike, neutral: ArrayLike, paper_lab: ArrayLike, black_lab: ArrayLike
    ) -> Array:
        """Return the a*, b* aimed at.

        Parameters
        ----------
        L
            L* of the tones, shape (n,).
        neutral
            Shape (n, 2): the neutral aim there.
        paper_lab, black_lab
            Shape (3,): L*, a*, b* of the print's paper and black. The toning fades in from the
            bare paper, and, where it is added to the neutral aim, from the black.

        Returns
        -------
        Array of shape (n, 2).

        Examples
        --------
        >>> paper, black = [95.0, 0.0, -2.0], [15.0, 0.0, 0.0]
        >>> neutral = [[0.0, -2.0], [0.0, -1.15]]
        >>> toning("0,10").at([95.0, 55.0], neutral, paper, black).round(2).tolist()
        [[0.0, -2.0], [10.0, -1.15]]
        """
        paper, black = (np.asarray(lab, dtype=np.float64) for lab in (paper_lab, black_lab))
        tones, plain = np.asarray(L, dtype=np.float64), np.asarray(neutral, dtype=np.float64)
        share = np.clip((tones - black[0]) / (paper[0] - black[0]), 0.0, 1.0)
        wanted = self._interpolated(share if self.by_share else tones)
        inked = smooth_step((1.0 - share) / _FROM_PAPER)[:, np.newaxis]
        if self.beside_neutral:
            return np.asarray(
                plain + wanted * inked * smooth_step(share / _FROM_BLACK)[:, np.newaxis]
            )
        return np.asarray(paper[1:] + (wanted - paper[1:]) * inked)

    def _interpolated(self, tones: Array) -> Array:
        from scipy.interpolate import PchipInterpolator

        held = np.clip(tones, self.tones[0], self.tones[-1])
        if self.tones.size == 1:
            return np.repeat(self.ab, held.size, axis=0)
        return np.asarray(PchipInterpolator(self.tones, self.ab)(held), dtype=np.float64)


def two_tone(name: str, highlights: tuple[float, float], shadows: tuple[float, float]) -> Toning:
    """Return a toning by hue angle (degrees) and chroma, one pair for highlights, one for shadows.

    Between the quarters of the print's range the one goes over into the other, straight through
    the a*b* plane: unlike hues meet near neutral, as they do in a split-toned print.
    """
    share = np.linspace(0.0, 1.0, _POINTS)
    light = smooth_step((share - 0.25) / 0.5)[:, np.newaxis]
    ab = _polar(*highlights) * light + _polar(*shadows) * (1.0 - light)
    return Toning(name, share, ab, by_share=True, beside_neutral=True)


def _polar(hue: float, chroma: float) -> Array:
    return chroma * np.array([np.cos(np.radians(hue)), np.sin(np.radians(hue))])


def presets() -> dict[str, Toning]:
    """Return the presets by name."""
    text = (resources.files("greyscale.aims") / "data" / "tonings.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    found = {}
    for row in csv.DictReader(lines):
        pairs = [
            (float(row[f"{part} hue"]), float(row[f"{part} chroma"]))
            for part in ("highlight", "shadow")
        ]
        found[row["name"]] = two_tone(row["name"], pairs[0], pairs[1])
    return found


def toning(spec: str | Path | Toning) -> Toning:
    """Return a toning by a preset's name, by hue and chroma, from a table, or as it is.

    Parameters
    ----------
    spec
        A preset's name; "HUE,CHROMA", or "HUE,CHROMA/HUE,CHROMA" for highlights and shadows; or
        the path of a CSV table (see `read_toning_table`).

    Raises
    ------
    BadInput
        If it is none of these.

    Examples
    --------
    >>> toning("yellow-brown").name, toning("250,4/75,6").by_share
    ('yellow-brown', True)
    """
    if isinstance(spec, Toning):
        return spec
    name = str(spec)
    known = presets()
    if name in known:
        return known[name]
    path = Path(spec)
    if os.path.isfile(path):  # Of a text too long for a name, Path's own raises.
        tones, ab, beside_neutral = read_toning_table(path)
        return Toning(name, tones, ab, by_share=False, beside_neutral=beside_neutral)
    pairs = _pairs(name)
    if pairs is None:
        others = (
            ", or hue and chroma as '75,6' (highlights and shadows: '75,6/260,4'), or the path of "
            "a CSV table"
        )
        raise not_known("toning", name, known, files=True, besides=others)
    return two_tone(name, pairs[0], pairs[-1])


def _pairs(text: str) -> list[tuple[float, float]] | None:
    try:
        pairs = [tuple(float(part) for part in pair.split(",")) for pair in text.split("/")]
    except ValueError:
        return None
    good = 1 <= len(pairs) <= 2 and all(
        len(pair) == 2 and np.isfinite(pair).all() and 0.0 <= pair[1] <= _MOST_CHROMA
        for pair in pairs
    )
    return [(pair[0], pair[1]) for pair in pairs] if good else None


_EXAMPLE = (
    "name the columns L, a, b (as it should measure) or L, hue, chroma (beside neutral), and "
    "give three numbers a line, as '50, 2.5, 8.0'"
)


def read_toning_table(path: Path) -> tuple[Array, Array, bool]:
    """Read L* and what belongs to it.

    Three columns separated by comma, semicolon or tab (with the latter two, decimal commas are
    understood), their names in the first line: `L, a, b` or `L, hue, chroma`, hue in degrees.
    Without names, L*, a*, b* are taken. Empty lines and those that start with '#' are passed over.

    Returns
    -------
    L, ab, beside_neutral
        Shapes (n,), rising, and (n, 2); and whether the a*, b* are meant beside the neutral aim,
        as hue and chroma are.

    Raises
    ------
    BadInput
        Naming the line that cannot be used.
    """
    polar = False
    rows: dict[float, tuple[float, float]] = {}
    first = True
    for number, line, cells in table_lines(path):
        values = finite(cells, 3)
        if values is None and first:
            polar = _is_polar(cells, path, number)
        elif values is None:
            raise BadInput(f"found '{line}'; {_EXAMPLE}", path, number)
        else:
            _add(rows, values, path, number)
        first = False
    if not rows:
        raise BadInput(f"the table is empty; {_EXAMPLE}", path)
    L = np.array(sorted(rows), dtype=np.float64)
    pairs = np.array([rows[tone] for tone in L], dtype=np.float64)
    if polar:
        hue = np.radians(pairs[:, 0])
        pairs = pairs[:, [1]] * np.column_stack([np.cos(hue), np.sin(hue)])
    return L, pairs, polar


def _is_polar(cells: list[str], path: Path, line: int) -> bool:
    names = [cell.strip("* ").casefold() for cell in cells[:3]]
    if names in (["l", "a", "b"], ["l", "hue", "chroma"]):
        return names[1] == "hue"
    found = ", ".join(cell[:20] for cell in cells[:3])
    raise BadInput(f"the columns are called {found}; {_EXAMPLE}", path, line)


def _add(
    rows: dict[float, tuple[float, float]],
    values: Sequence[float],
    path: Path,
    line: int,
) -> None:
    L, first, second = values
    if not 0.0 <= L <= 100.0:
        raise BadInput(f"found L* {L:g}; it goes from 0 to 100", path, line)
    if L in rows:
        raise BadInput(f"L* {L:g} is on an earlier line already; keep one", path, line)
    rows[L] = (first, second)
