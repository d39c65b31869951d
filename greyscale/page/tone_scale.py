"""The tone scale as it is drawn: everything on one axis from black (level 0) to paper (level 1)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.neutrality import Cast, to_be_named
from greyscale.base.plain_text import fixed, signed
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.lights import REFERENCE_LIGHT
from greyscale.reporting.analysis_words import describe_cast
from greyscale.reporting.page import Strip, plain_and_strong

LABEL = 0.32
"""Share of the axis that a cast's name takes on a phone."""


@dataclass(frozen=True)
class Bracket:
    """A cast under the ramp; x from 0 to 100, lanes from 0 down."""

    left: float
    right: float
    lane: int
    name: str
    at: float
    anchor: str
    words: str


@dataclass(frozen=True)
class Line:
    """A course along the axis: points of a drawing 1000 wide and 100 high."""

    points: str
    dots: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Row:
    """Differences from the aim along the axis.

    Attributes
    ----------
    limit, reach
        The tolerance, and what the edges of the row stand for.
    band
        Height of the tolerance in the drawing: from, and how much.
    strip
        The cast made plain; None where there is one already.
    """

    name: str
    about: str
    lines: tuple[Line, ...]
    limit: float
    reach: float
    strip: Strip | None = None

    @property
    def band(self) -> tuple[float, float]:
        half = 50 * min(self.limit / self.reach, 1.0)
        return 50 - half, 2 * half


@dataclass(frozen=True)
class ToneScale:
    """A ramp with all that shares its axis.

    Attributes
    ----------
    ramp, strong
        The measured tones as swatches, and with their casts made plain.
    brackets, lanes
        The casts, and how many lines their names take.
    rows
        Differences, row by row.
    heads, tones
        The numbers of each tone from black to paper, as a table.
    places
        Where each tone lies, 0 to 100.
    """

    ramp: Strip
    strong: Strip
    brackets: tuple[Bracket, ...]
    lanes: int
    rows: tuple[Row, ...]
    heads: tuple[str, ...]
    tones: tuple[tuple[str, ...], ...]
    places: tuple[float, ...]


def tone_scale(analysis: Analysis) -> ToneScale:
    """Lay an analysis out along its tones."""
    patches = analysis.patches
    order = np.argsort(patches.level, kind="stable")
    level = patches.level[order]
    ramp, strong = plain_and_strong(patches.level, patches.lab, patches.delta_ab, "as measured")
    delta_ab = patches.delta_ab[order]
    limit = analysis.neutrality.tolerance_max_delta_Ch
    limit_L = analysis.tone.tolerance_max_delta_L
    others = [one for one in analysis.lights or () if one.name != REFERENCE_LIGHT]
    courses = [delta_ab, *(one.drift.delta_ab[order] for one in others)]
    reach = _reach(limit, courses)
    delta_L = patches.delta_L[order]
    in_light = f"under {REFERENCE_LIGHT}"
    rows = [
        _row("ΔL*", in_light, level, [delta_L], limit_L, _reach(limit_L, [delta_L])),
        _row("Δa*", in_light, level, [delta_ab[:, 0]], limit, reach),
        _row("Δb*", in_light, level, [delta_ab[:, 1]], limit, reach),
    ]  # fmt: skip
    for one, course in zip(others, courses[1:], strict=True):
        name = f"under {one.name}"
        _, plain = plain_and_strong(patches.level, patches.lab, one.drift.delta_ab, name)
        rows.append(_row(one.name, "Δa*, Δb*", level, list(course.T), limit, reach, plain))
    casts = to_be_named(analysis.neutrality.casts)
    brackets = _brackets(casts, level)
    heads = (
        *("level", "L*", "a*", "b*", "ΔL*", "Δa*", "Δb*", f"ΔCh {REFERENCE_LIGHT}"),
        *(f"ΔCh {one.name}" for one in others),
    )
    lab, delta_Ch = patches.lab[order], patches.delta_Ch[order]
    elsewhere = [one.drift.delta_Ch[order] for one in others]
    tones = tuple(
        (
            fixed(level[row]), *(fixed(value, 1) for value in lab[row]), signed(delta_L[row], 1),
            *(signed(value, 1) for value in delta_ab[row]), fixed(delta_Ch[row], 1),
            *(fixed(one[row], 1) for one in elsewhere),
        )
        for row in range(len(level))
    )  # fmt: skip
    return ToneScale(
        ramp, strong, brackets, 1 + max((one.lane for one in brackets), default=-1), tuple(rows),
        heads, tones, tuple(round(100 * float(x), 2) for x in level),
    )  # fmt: skip


def histogram(shares: Array) -> str:
    """Return the points of a picture's histogram on the same axis, the largest share 100 high.

    Shares, (n,), are of the picture at each of n evenly spaced levels.
    """
    # Bare paper and solid black, often most of a picture, would leave nothing to see of the rest.
    tallest = float(np.sort(shares)[-3]) or float(shares.max()) or 1.0
    high = np.minimum(shares / tallest, 1.0)
    at = np.linspace(0.0, 1000.0, len(shares))
    return " ".join(f"{x:.1f},{100 - 100 * y:.1f}" for x, y in zip(at, high, strict=True))


def _reach(limit: float, courses: Sequence[Array]) -> float:
    """What the edges stand for: twice the tolerance, or as far as anything goes."""
    largest = max(float(np.abs(one).max()) for one in courses)
    return max(2 * limit, float(np.ceil(2 * largest) / 2))


def _row(
    name: str, about: str, level: Array, courses: Sequence[Array], limit: float,
    reach: float, strip: Strip | None = None,
) -> Row:  # fmt: skip
    lines = []
    for course in courses:
        y = 50 - 50 * course / reach
        places = list(zip(level.tolist(), y.tolist(), strict=True))
        points = " ".join(f"{1000 * x:.1f},{one:.1f}" for x, one in places)
        dots = tuple((round(100 * x, 2), round(one, 1)) for x, one in places)
        lines.append(Line(points, dots if len(courses) == 1 else ()))
    return Row(name, about, tuple(lines), limit, reach, strip)


def _brackets(casts: Sequence[Cast], level: Array) -> tuple[Bracket, ...]:
    """Put casts under the ramp, names that would meet under each other."""
    gap = float(np.median(np.diff(level))) / 2
    ends: list[float] = []
    placed = []
    for cast in casts:
        left, right = max(cast.from_level - gap, 0.0), min(cast.to_level + gap, 1.0)
        middle = (left + right) / 2
        anchor, at = "middle", middle
        if middle < LABEL / 2:
            anchor, at = "start", left
        elif middle > 1 - LABEL / 2:
            anchor, at = "end", right
        begins = {"start": at, "middle": at - LABEL / 2, "end": at - LABEL}[anchor]
        lane = next((i for i, end in enumerate(ends) if end <= min(left, begins)), len(ends))
        reaches = max(right, begins + LABEL)
        ends[lane : lane + 1] = [reaches]
        placed.append(
            Bracket(
                round(100 * left, 2), round(100 * right, 2), lane,
                f"{cast.hue} {fixed(cast.peak_delta_Ch, 1)}", round(100 * at, 2), anchor,
                describe_cast(cast),
            )
        )  # fmt: skip
    return tuple(placed)
