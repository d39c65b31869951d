"""A reading typed in patch by patch: in which order, and each value checked as it comes."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.results import PrintFacts, filled
from greyscale.checks.case import along_strips
from greyscale.checks.likelihood import CHROMATICNESS, LIGHTNESS, NOISE, covariance, expected_lab
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import lightness
from greyscale.readings.iso28178 import MOST_DENSE
from greyscale.readings.layout import Layout
from greyscale.readings.reading import AXIS_TOLERANCE, TONE_ALONE, Reading
from greyscale.readings.source_file import to_number

TYPED_FROM = "TYPED_FROM"
"""A keyword of our own: the layout that a reading was typed from, by name and digest."""

SURE = 3.5
"""So many standard deviations from what the other patches let expect a value is asked for again;
common practice, no source."""

LIGHTER = 1.0
"""By so much L* a darker grey must not be lighter; common practice, no source."""

_RANGES = {"L*": (0.0, 105.0), "a*": (-128.0, 128.0), "b*": (-128.0, 128.0)}


@dataclass(frozen=True)
class Kind:
    """What is typed of each patch.

    Attributes
    ----------
    what, example
        In words, and as it is typed.
    alone
        What alone was measured, as a reading says it; None for all three.
    """

    what: str
    example: str
    alone: str | None = None

    def lab(self, text: str) -> Array | str:
        """What was typed as L*, a*, b* (0 where it was tone alone), or what is wrong with it."""
        words = text.replace(";", " ").split()
        numbers = [to_number(word) for word in words]
        for word, number in zip(words, numbers, strict=True):
            if number is None:
                return f"'{word[:20]}' is not a number; type {self.what}, as {self.example}"
        count = 1 if self.alone else 3
        if len(numbers) != count:
            return f"{len(numbers)} numbers, not {count}; type {self.what}, as {self.example}"
        found = np.array(numbers, dtype=np.float64)
        if self.alone == "density":
            if not 0 <= found[0] <= MOST_DENSE:
                return f"a density of {found[0]:g} is not possible; give 0 to {MOST_DENSE:g}"
            found = lightness(100 * 10**-found)
        return found if count == 3 else np.array([found[0], 0.0, 0.0])


KINDS = {
    "lab": Kind("L* a* b*", "52.1 0.3 -1.2"),
    "lightness": Kind("L*", "52.1", "L*"),
    "density": Kind("density", "0.71", "density"),
}


def in_words(layout: Layout, index: int) -> str:
    """Say which patch is asked for, by what it should show.

    Examples
    --------
    >>> in_words(Layout("chart", ("1",), ("A1",), np.full((1, 3), 0.4)), 0)
    'level 0.40'
    """
    level = f"level {layout.device[index].mean():.2f}"
    return level if _is_grey(layout, index) else f"near {level}"


def by_hand(layout: Layout) -> tuple[int, ...]:
    """Return the order that spares the hand: down one strip and up the next.

    Examples
    --------
    >>> layout = Layout("chart", ("1", "2", "3", "4"), ("A1", "A2", "B1", "B2"), np.zeros((4, 3)))
    >>> by_hand(layout)
    (0, 1, 3, 2)
    """

    def place(index: int) -> tuple[int, str, int]:
        return along_strips(layout.places[index])

    order = sorted(range(len(layout)), key=place)
    strips = [list(strip) for _, strip in groupby(order, lambda index: place(index)[:2])]
    return tuple(i for n, strip in enumerate(strips) for i in (strip[::-1] if n % 2 else strip))


def doubt(layout: Layout, typed: Mapping[int, Array], index: int, lab: Array) -> str | None:
    """Say why a patch's value can hardly be, given those that are there; None where it can.

    Parameters
    ----------
    typed
        L*, a*, b* of other patches, by their index in the layout.
    index, lab
        The patch, and its value of shape (3,).
    """
    for (name, (least, most)), value in zip(_RANGES.items(), lab.tolist(), strict=True):
        if not least <= value <= most:
            return f"{name} {value:g} does not lie between {least:g} and {most:g}"
    others = {other: value for other, value in typed.items() if other != index}
    if not others:
        return None
    return _disorder(layout, others, index, lab) or _surprise(layout, others, index, lab)


def _is_grey(layout: Layout, index: int) -> bool:
    return float(np.ptp(layout.device[index])) < AXIS_TOLERANCE


def _disorder(layout: Layout, others: Mapping[int, Array], index: int, lab: Array) -> str | None:
    """Name the neighbouring grey that it is on the wrong side of."""
    if not _is_grey(layout, index):
        return None
    level = {one: float(layout.device[one].mean()) for one in (index, *others)}
    own = level[index]
    greys = [one for one in others if _is_grey(layout, one)]
    above = min((one for one in greys if level[one] > own), key=level.__getitem__, default=None)
    below = max((one for one in greys if level[one] < own), key=level.__getitem__, default=None)
    for other, side, word in ((above, 1.0, "lighter"), (below, -1.0, "darker")):
        if other is not None and side * (lab[0] - others[other][0]) > LIGHTER:
            return (
                f"level {own:.2f} can't be {word} than {level[other]:.2f} "
                f"({layout.places[other]}, L* {others[other][0]:.1f})"
            )
    return None


def _surprise(layout: Layout, others: Mapping[int, Array], index: int, lab: Array) -> str | None:
    """Name the number that lies furthest from what the others suggest, if it is far."""
    rows = [*others, index]
    device = layout.device[rows]
    believed = expected_lab(device)
    known = np.array(list(others.values())) - believed[:-1]
    found = []
    for axis, belief in enumerate((LIGHTNESS, CHROMATICNESS, CHROMATICNESS)):
        total = covariance(device, belief)
        weights = np.linalg.solve(total[:-1, :-1], total[:-1, -1])
        mean = float(believed[-1, axis] + weights @ known[:, axis])
        sd = float(np.sqrt(max(total[-1, -1] - weights @ total[:-1, -1], 2 * NOISE**2)))
        found.append((abs(float(lab[axis]) - mean) / sd, axis, mean, sd))
    far, axis, mean, sd = max(found)
    if far < SURE:
        return None
    name = tuple(_RANGES)[axis]
    return f"{name} {lab[axis]:g}, where the others suggest {mean:.1f} ± {2 * sd:.1f}"


def typed_reading(
    layout: Layout,
    typed: Mapping[int, Array],
    begun: Reading | None = None,
    told: Mapping[str, Any] | None = None,
    alone: str | None = None,
) -> Reading:
    """Return what was typed so far as a reading, in the order of the layout.

    Parameters
    ----------
    typed
        At least one patch's L*, a*, b*, by its index in the layout.
    begun
        What was saved earlier: what it says of the print stays.
    told
        Of `greyscale.base.results.PrintFacts`, by name; None says nothing.
    alone
        "L*" or "density" where that alone was measured.
    """
    rows = sorted(typed)
    new = {name: value for name, value in (told or {}).items() if value is not None}
    new["sent_through"] = layout.fields.get("CHART_THROUGH")
    return filled(
        Reading,
        filled(PrintFacts, begun, **new),
        name=layout.name,
        source="",
        ids=tuple(layout.ids[row] for row in rows),
        device=layout.device[rows],
        lab=np.array([typed[row] for row in rows]),
        places=tuple(layout.places[row] for row in rows),
        fields={TYPED_FROM: layout_mark(layout)} | ({TONE_ALONE: alone} if alone else {}),
    )


def layout_mark(layout: Layout) -> str:
    """The layout's name, and 16 hexadecimal digits that are its own."""
    digest = hashlib.sha256("\n".join(layout.places).encode("utf-8"))
    digest.update(np.round(layout.device, 6).tobytes())
    return f"{layout.name} {digest.hexdigest()[:16]}"


def go_on(reading: Reading, layout: Layout, alone: str | None = None) -> dict[int, Array]:
    """Return the values that a reading holds already, by their index in the layout.

    Raises
    ------
    BadInput
        If it was typed from another layout, or of other values, or holds patches of others.
    """
    if reading.fields.get(TONE_ALONE) != alone:
        begun = reading.fields.get(TONE_ALONE, "L*, a* and b*")
        raise BadInput(
            f"was begun with {begun}, not with {alone or 'L*, a* and b*'}; go on with that, or "
            "give another name to write to",
            reading.source,
        )
    if reading.fields.get(TYPED_FROM) != layout_mark(layout):
        raise BadInput(
            f"was not typed from the layout '{layout.name}'; give the layout that it was begun "
            "with, or another name to write to",
            reading.source,
        )
    index = {name: row for row, name in enumerate(layout.ids)}
    if strange := [name for name in reading.ids if name not in index]:
        raise BadInput(
            f"holds the patch '{strange[0]}', which the layout '{layout.name}' does not; "
            "give another name to write to",
            reading.source,
        )
    return {index[name]: lab for name, lab in zip(reading.ids, reading.lab, strict=True)}
