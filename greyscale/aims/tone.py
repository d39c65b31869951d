"""What L* a level should print as: the tone aims; and what light a picture's values stand for."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput, not_known
from greyscale.colorimetry.arrays import Array, ArrayLike
from greyscale.colorimetry.cielab import lightness, luminance
from greyscale.colorimetry.display import srgb_decoded
from greyscale.readings.source_file import to_number

Curve = Callable[[Array], Array]
"""L* by level, before scaling to the print's own black and paper."""

SCALINGS = {
    "linear": "linear in L* between the print's own black and paper",
    "black-point": "black point compensation, linear in XYZ (ISO 18619)",
    "none": "as the aim stands",
}
DEFAULT_SCALING = "linear"
DEFAULT_TONE_AIM = "lstar"


@dataclass(frozen=True)
class ToneAim:
    """What L* each level should print as.

    Attributes
    ----------
    name
        A name of `TONE_AIMS`, or the table's path.
    curve
        L* by level, from the aim's own black to its own white; None for the density aim, which
        is made from the print's black and paper and is never scaled.
    """

    name: str
    curve: Curve | None = field(repr=False)

    def target(
        self,
        level: ArrayLike,
        L_black: float,
        L_paper: float,
        scaling: str = DEFAULT_SCALING,
    ) -> Array:
        """Return the L* aimed at.

        Parameters
        ----------
        level
            Any shape, 0 = black, 1 = paper white.
        L_black, L_paper
            L* of the print's own black and paper.
        scaling
            How the aim is fitted between them, a name of `SCALINGS`.

        Returns
        -------
        L*, of the same shape.

        Raises
        ------
        BadInput
            For a scaling that is not known.

        Examples
        --------
        >>> tone_aim("lstar").target([0.0, 0.5, 1.0], 15.0, 95.0).tolist()
        [15.0, 55.0, 95.0]
        >>> tone_aim("gamma-2.2").target([0.5], 15.0, 95.0, "black-point").round(2).tolist()
        [52.47]
        """
        if scaling not in SCALINGS:
            raise not_known("scaling", scaling, SCALINGS)
        v = np.asarray(level, dtype=np.float64)
        if self.curve is None:
            return _linear_in_density(v, L_black, L_paper)
        L = self.curve(v)
        if scaling == "none":
            return L
        L_from, L_to = self.curve(np.array([0.0, 1.0]))
        if scaling == "linear":
            share = (L - L_from) / (L_to - L_from)
            return np.asarray(L_black + (L_paper - L_black) * share)
        Y_from, Y_to = luminance(L_from), luminance(L_to)
        Y_black, Y_paper = luminance(L_black), luminance(L_paper)
        return lightness(Y_black + (Y_paper - Y_black) * (luminance(L) - Y_from) / (Y_to - Y_from))


def _linear_in_density(level: Array, L_black: float, L_paper: float) -> Array:
    # Density is -log10(Y / 100), so a straight line in density is a geometric path in Y. A black
    # without any light has no density; 0.001 stands for it (density 5).
    Y_black, Y_paper = np.maximum(luminance([L_black, L_paper]), 1e-3)
    return lightness(Y_black ** (1.0 - level) * Y_paper**level)


def _gamma(exponent: float) -> Curve:
    return lambda level: lightness(100.0 * np.maximum(level, 0.0) ** exponent)


TONE_AIMS: dict[str, Curve | None] = {
    "lstar": lambda level: 100.0 * level,
    "srgb": lambda level: lightness(100.0 * srgb_decoded(level)),
    "gamma-1.8": _gamma(1.8),
    "gamma-2.2": _gamma(2.2),
    "density": None,
}
"""The aims by name: L* by level, before scaling; None for the one that is linear in density."""


def tone_aim(spec: str | Path | ToneAim) -> ToneAim:
    """Return a tone aim by its name, from a table, or as it is.

    Parameters
    ----------
    spec
        A name of `TONE_AIMS`, or the path of a CSV table of level (0 to 1) and L*.

    Raises
    ------
    BadInput
        For a name that is neither, or a table that cannot be used.

    Examples
    --------
    >>> tone_aim("srgb").name
    'srgb'
    """
    if isinstance(spec, ToneAim):
        return spec
    name = str(spec)
    if name in TONE_AIMS:
        return ToneAim(name, TONE_AIMS[name])
    path = Path(spec)
    if not os.path.isfile(path):  # Of a text too long for a name, Path's own raises.
        table = ", or the path of a CSV table of level and L*"
        raise not_known("tone aim", name, TONE_AIMS, files=True, besides=table)
    return ToneAim(name, _through(*read_tone_table(path)))


def _through(levels: Array, L: Array) -> Curve:
    """Return the smooth curve through a table that never turns back between its points."""
    from scipy.interpolate import PchipInterpolator

    curve = PchipInterpolator(levels, L)
    return lambda level: np.asarray(curve(np.clip(level, 0.0, 1.0)), dtype=np.float64)


_EXAMPLE = "each line needs a level (0 to 1) and an L*, as '0.5, 54.0'"


def read_tone_table(path: Path) -> tuple[Array, Array]:
    """Read levels and L*.

    One pair a line, separated by comma, semicolon or tab; with semicolons or tabs a decimal
    comma is understood. Empty lines, lines that start with '#', and one line of column names
    are passed over. Lines may come in any order.

    Returns
    -------
    levels, L
        Shape (n,) each, levels rising from 0 to 1, L* rising.

    Raises
    ------
    BadInput
        For a line that holds no pair, and for a table that does not reach from level 0 to 1, or
        whose L* falls.
    """
    rows: dict[float, tuple[float, int]] = {}
    named = False
    for number, line, cells in table_lines(path):
        pair = finite(cells, 2)
        if pair is None and not rows and not named:
            named = True  # column names
            continue
        if pair is None:
            raise BadInput(f"found '{line}'; {_EXAMPLE}", path, number)
        level, L = pair
        if not (0.0 <= level <= 1.0 and 0.0 <= L <= 100.0):
            raise BadInput(
                f"found level {level:g} and L* {L:g}; levels go from 0 to 1, L* from 0 to 100",
                path,
                number,
            )
        if level in rows:
            raise BadInput(
                f"level {level:g} is on line {rows[level][1]} already; keep one", path, number
            )
        rows[level] = (L, number)
    return _checked(path, rows)


def table_lines(path: Path) -> Iterator[tuple[int, str, list[str]]]:
    """Yield number, beginning and cells of each line of a CSV table that says something.

    Raises
    ------
    BadInput
        If it is no text.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput("cannot be read as text; export the table as CSV", path) from error
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip() and not line.lstrip().startswith("#"):
            separator = next((mark for mark in (";", "\t") if mark in line), ",")
            cells = [cell.strip().strip('"') for cell in line.split(separator)]
            yield number, line.strip()[:60], cells


def finite(cells: Sequence[str], count: int) -> list[float] | None:
    """Return the first cells as numbers; None where there are fewer, or one is none."""
    values = [number for cell in cells[:count] if (number := to_number(cell)) is not None]
    return values if len(values) == count else None


def _checked(path: Path, rows: dict[float, tuple[float, int]]) -> tuple[Array, Array]:
    levels = np.array(sorted(rows), dtype=np.float64)
    L = np.array([rows[level][0] for level in levels], dtype=np.float64)
    if levels.size < 2 or levels[0] != 0.0 or levels[-1] != 1.0:
        raise BadInput("the table must reach from level 0 to level 1; add the missing lines", path)
    falls = np.flatnonzero(np.diff(L) <= 0)
    if falls.size:
        where = levels[falls[0] + 1]
        raise BadInput(
            f"L* does not rise up to level {where:g}; a higher level must aim at a higher L*",
            path,
            rows[float(where)][1],
        )
    return levels, L


# What luminance a picture's values stand for.
#
# The tone aim of a correction says what L* a level should print as, and is at the same time how
# the picture must be encoded: a level that should print half way between the print's black and
# paper stands, in the picture, for a tone half way between black and white.

NAMED = tuple(name for name, curve in TONE_AIMS.items() if curve is not None)
"""Encodings by name; beside them any gamma, as gamma-2.4."""

_GAMMA = re.compile(r"gamma-(\d+(?:\.\d+)?)")
_STEEPEST = 4.0
_POINTS = 65536 + 1


@dataclass(frozen=True, eq=False)
class Encoding:
    """How a picture's values encode luminance.

    Attributes
    ----------
    name
        What it is called.
    luminance
        Gives Y, 0 to 1, of values from 0 to 1, rising.
    """

    name: str
    luminance: Callable[[Array], Array]

    def values(self, Y: ArrayLike) -> Array:
        """Return the value, 0 to 1, that encodes each Y.

        Examples
        --------
        >>> named_encoding("lstar").values([0.0, 0.184187, 1.0]).round(4).tolist()
        [0.0, 0.5, 1.0]
        """
        # In L*, both ways are close to straight lines.
        levels = np.linspace(0.0, 1.0, _POINTS)
        known = np.maximum.accumulate(lightness(self.luminance(levels), 1.0))
        return np.interp(lightness(np.clip(Y, 0.0, 1.0), 1.0), known, levels)


def named_encoding(name: str) -> Encoding:
    """Return an encoding by its name.

    Raises
    ------
    BadInput
        If there is none of that name.
    """
    curve = TONE_AIMS.get(name)
    if curve is not None:
        return Encoding(name, lambda levels: luminance(curve(levels), 1.0))
    gamma = _GAMMA.fullmatch(name)
    if gamma is not None and 1.0 <= float(gamma[1]) <= _STEEPEST:
        exponent = float(gamma[1])
        return Encoding(name, lambda levels: np.maximum(levels, 0.0) ** exponent)
    others = ", another gamma as gamma-2.4, or the file of an ICC profile"
    raise not_known("encoding", name, NAMED, files=True, besides=others, source="--encoding")
