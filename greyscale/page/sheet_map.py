"""A sheet as it lies before one, with what the checks found drawn in its place."""

from __future__ import annotations

import re
from dataclasses import dataclass

from greyscale.checks.finding import CheckResult
from greyscale.page.papers import Sheet
from greyscale.readings.reading import Reading
from greyscale.reporting.swatches import swatches

_PLACE = re.compile(r"([A-Z]+)([1-9]\d*)")


@dataclass(frozen=True)
class Square:
    """A patch: its column and row on the sheet, its measured colour, and whether it was found."""

    column: int
    row: int
    colour: str
    found: bool
    place: str


@dataclass(frozen=True)
class SheetMap:
    """All patches of a sheet, strip by strip from the top."""

    squares: tuple[Square, ...]
    strips: tuple[str, ...]
    columns: int


def sheet_map(reading: Reading, sheet: Sheet | None, check: CheckResult) -> SheetMap | None:
    """Draw where the findings lie; None where nobody knows where the patches are."""
    places = dict(zip(reading.ids, reading.places or (), strict=False))
    if sheet is not None:
        places |= dict(zip(sheet.layout.ids, sheet.layout.places, strict=True))
    found = {name for finding in check.findings for name in (*finding.ids, *finding.lost)}
    read = {
        name: (*match.groups(), swatch.colour)
        for name, swatch in zip(reading.ids, swatches(reading.lab), strict=True)
        if (match := _PLACE.fullmatch(places.get(name, "")))
    }
    if not read:
        return None
    strips = sorted({strip for strip, _, _ in read.values()}, key=lambda one: (len(one), one))
    squares = tuple(
        Square(int(number) - 1, strips.index(strip), colour, name in found, f"{strip}{number}")
        for name, (strip, number, colour) in read.items()
    )
    return SheetMap(squares, tuple(strips), 1 + max(one.column for one in squares))
