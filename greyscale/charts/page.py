"""Where each patch goes: strips of patches on pages, in whole pixels."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil, floor

from greyscale.base.errors import BadInput, did_you_mean

# How big a page is.

# ISO 216:2007, and the letter format of ANSI/ASME Y14.1 (8.5 by 11 inches).
PAGE_SIZES = {
    "a5": (148.0, 210.0),
    "a4": (210.0, 297.0),
    "a3": (297.0, 420.0),
    "letter": (215.9, 279.4),
}
"""Width and height in mm of the pages known by name."""

DEFAULT_PAGE = "a4"
_LEAST_MM, _MOST_MM = 60.0, 2000.0
_MEASURED = re.compile(r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*mm", re.IGNORECASE)


@dataclass(frozen=True)
class PageSize:
    """A page: what it is called, its width and height in mm."""

    name: str
    width: float
    height: float

    def __str__(self) -> str:
        return f"{self.width:g} x {self.height:g} mm"


def page_size(spec: str | PageSize) -> PageSize:
    """Return a page size by its name, by its measures, or as it is.

    Parameters
    ----------
    spec
        A name of `PAGE_SIZES`, or width and height, as 329x483mm.

    Raises
    ------
    BadInput
        If it is neither, or no chart fits on such a page.

    Examples
    --------
    >>> page_size("100x150mm")
    PageSize(name='100x150mm', width=100.0, height=150.0)
    """
    if isinstance(spec, PageSize):
        return spec
    name = spec.strip().lower()
    if name in PAGE_SIZES:
        return PageSize(name, *PAGE_SIZES[name])
    measured = _MEASURED.fullmatch(name)
    if measured is None:
        raise BadInput(
            f"the page '{spec}' is not known; {did_you_mean(name, PAGE_SIZES)}"
            f"take {', '.join(PAGE_SIZES)}, or width and height "
            "as 329x483mm"
        )
    width, height = float(measured[1]), float(measured[2])
    if not (_LEAST_MM <= width <= _MOST_MM and _LEAST_MM <= height <= _MOST_MM):
        raise BadInput(
            f"a page of {width:g} by {height:g} mm is not possible; each side must be "
            f"{_LEAST_MM:g} to {_MOST_MM:g} mm"
        )
    return PageSize(name, width, height)


MM_PER_INCH = 25.4
PT_PER_INCH = 72.0
DEFAULT_DPI = 300
DPI_RANGE = (72, 1440)
_MOST_PIXELS = 600_000_000

DEFAULT_MARGIN_MM = 10.0
DEFAULT_LEAST_MM = 8.0
LARGEST_MM = 12.0
"""Patches are made no larger than this unless asked: bigger ones cost ink and tell no more."""

GAP_MM = 1.0
RUN_IN_MM = 10.0
"""Bare paper before the first and after the last patch of a strip, at least."""

INSET_MM = 3.5
"""From the margin, where the corner marks stand, to everything else."""

LABEL_MM = 4.5
"""Room for a strip's letter, at either end."""

ARROW_MM = 2.5
"""Length of the arrow that a strip begins with."""

NUMBERS_MM = 3.5
_BETWEEN_STRIPS_MM = 4.0
_FEWEST_PER_STRIP = 3
_SIZE_STEP_MM = 0.5


@dataclass(frozen=True)
class Box:
    """A rectangle in pixels: `left` and `top` belong to it, `right` and `bottom` do not."""

    left: int
    top: int
    right: int
    bottom: int


@dataclass(frozen=True)
class Grid:
    """Patches on pages: strips run from left to right, one below the other.

    Attributes
    ----------
    per_strip, strips_per_page
        How many fit.
    patch
        Side of a patch, pixels.
    left, top
        Upper left corner of the first patch of a page, pixels from the page's own.
    step, strip_step
        From patch to patch along a strip, and from strip to strip, pixels.
    one_sheet
        Whether all pages go on one sheet, which is printed on once for each: every page's strips
        lie below those of the page before.
    """

    count: int
    per_strip: int
    strips_per_page: int
    patch: int
    left: int
    top: int
    step: int
    strip_step: int
    one_sheet: bool = False

    @property
    def strips(self) -> int:
        """How many strips there are."""
        return ceil(self.count / self.per_strip)

    @property
    def pages(self) -> int:
        """How many pages there are."""
        return ceil(self.strips / self.strips_per_page)

    @property
    def gap(self) -> int:
        """Width of the gap between patches, pixels."""
        return self.step - self.patch

    def page_of(self, index: int) -> int:
        """Say on which page a patch is, counted from 0."""
        return index // self.per_strip // self.strips_per_page

    def box(self, index: int) -> Box:
        """Return where a patch lies on its page."""
        strip, number = divmod(index, self.per_strip)
        left = self.left + number * self.step
        row = strip if self.one_sheet else strip % self.strips_per_page
        top = self.top + row * self.strip_step
        return Box(left, top, left + self.patch, top + self.patch)

    def place(self, index: int) -> str:
        """Return a patch's strip letter and number, as A1."""
        strip, number = divmod(index, self.per_strip)
        return f"{strip_letters(strip)}{number + 1}"

    def strip_length(self, strip: int) -> int:
        """Say how many patches a strip has; the last one may have fewer."""
        return min(self.per_strip, self.count - strip * self.per_strip)

    def as_fields(self) -> dict[str, str]:
        """Return the grid as keywords of a layout file."""
        return {
            "CHART_PATCHES_PER_STRIP": str(self.per_strip),
            "CHART_STRIPS_PER_PAGE": str(self.strips_per_page),
            "CHART_PATCH_PIXELS": str(self.patch),
            "CHART_FIRST_PATCH_PIXELS": f"{self.left} {self.top}",
            "CHART_STEP_PIXELS": f"{self.step} {self.strip_step}",
        }


def grid_from_fields(fields: Mapping[str, str], count: int) -> Grid:
    """Return the grid back that a layout file tells of.

    Raises
    ------
    BadInput
        If a keyword is missing or is no number.
    """
    try:
        left, top = map(int, fields["CHART_FIRST_PATCH_PIXELS"].split())
        step, strip_step = map(int, fields["CHART_STEP_PIXELS"].split())
        return Grid(
            count=count,
            per_strip=int(fields["CHART_PATCHES_PER_STRIP"]),
            strips_per_page=int(fields["CHART_STRIPS_PER_PAGE"]),
            patch=int(fields["CHART_PATCH_PIXELS"]),
            left=left,
            top=top,
            step=step,
            strip_step=strip_step,
        )
    except (KeyError, ValueError) as error:
        raise BadInput(f"the layout does not say where its patches are ({error})") from error


def strip_letters(strip: int) -> str:
    """Name a strip: A to Z, then AA, AB and so on.

    Examples
    --------
    >>> [strip_letters(i) for i in (0, 25, 26, 701, 702)]
    ['A', 'Z', 'AA', 'ZZ', 'AAA']
    """
    letters = ""
    strip += 1
    while strip:
        strip, last = divmod(strip - 1, 26)
        letters = chr(ord("A") + last) + letters
    return letters


@dataclass(frozen=True)
class Sheet:
    """A page to be drawn on, with what is kept free at its borders.

    Attributes
    ----------
    dpi
        Pixels per inch.
    margin_mm
        Kept white all round.
    head_mm, foot_mm
        Heights of what stands above the strips and below them.
    """

    size: PageSize
    dpi: int
    margin_mm: float
    head_mm: float
    foot_mm: float

    @property
    def width(self) -> int:
        """Width in pixels."""
        return self.pixels(self.size.width)

    @property
    def height(self) -> int:
        """Height in pixels."""
        return self.pixels(self.size.height)

    def pixels(self, mm: float) -> int:
        """Turn mm into whole pixels."""
        return round(mm * self.dpi / MM_PER_INCH)


def check_resolution(size: PageSize, dpi: int) -> None:
    """Refuse a resolution that cannot be drawn.

    Raises
    ------
    BadInput
        If it is out of range, or the page would have too many pixels.
    """
    low, high = DPI_RANGE
    if not low <= dpi <= high:
        raise BadInput(f"{dpi} dpi is not possible; a chart is drawn at {low} to {high} dpi")
    pixels = size.width * size.height * (dpi / MM_PER_INCH) ** 2
    if pixels > _MOST_PIXELS:
        raise BadInput(
            f"a page of {size} at {dpi} dpi has {pixels / 1e6:.0f} megapixels, more than "
            f"{_MOST_PIXELS / 1e6:.0f}; take fewer dpi"
        )


def place_patches(
    count: int, sheet: Sheet, patch_mm: float | None = None, least_mm: float = DEFAULT_LEAST_MM
) -> Grid:
    """Find the grid for a number of patches.

    Without a size, patches are as large as they can be without taking more pages than the least
    size would, up to `LARGEST_MM`.

    Parameters
    ----------
    patch_mm
        Side of a patch; None finds it.
    least_mm
        What the instrument needs at least.

    Raises
    ------
    BadInput
        If a patch would be smaller than the least size, or no strip fits on the page.
    """
    if patch_mm is not None and patch_mm < least_mm:
        raise BadInput(
            f"patches of {patch_mm:g} mm are too small to measure: the least size is "
            f"{least_mm:g} mm; make them larger, or give --least-size if your instrument can "
            "manage with less"
        )
    if patch_mm is not None:
        return _grid(count, sheet, patch_mm)
    smallest = _grid(count, sheet, least_mm)
    size = LARGEST_MM
    while size > least_mm:
        if _capacity(sheet, size) * smallest.pages >= count:
            return _grid(count, sheet, size)
        size -= _SIZE_STEP_MM
    return smallest


def place_in_turn(count: int, times: int, sheet: Sheet, least_mm: float = DEFAULT_LEAST_MM) -> Grid:
    """Find the grid for a small chart that is printed several times on one sheet.

    Parameters
    ----------
    count
        Patches of the small chart; its last strip is filled up, see `Grid.per_strip`.
    times
        How often it is printed, each below the one before.

    Raises
    ------
    BadInput
        If they do not fit on the sheet.
    """
    size = LARGEST_MM
    while size >= least_mm:
        grid = _grid(count, sheet, size)
        if grid.strips * times <= grid.strips_per_page:
            whole = grid.strips * grid.per_strip * times
            return replace(grid, count=whole, strips_per_page=grid.strips, one_sheet=True)
        size -= _SIZE_STEP_MM
    raise BadInput(
        f"a page of {sheet.size} has no room for {times} strips of {count} patches of "
        f"{least_mm:g} mm; take fewer settings, a larger page, or a smaller --least-size"
    )


def _rows_and_columns(sheet: Sheet, patch_mm: float) -> tuple[int, int]:
    """Say how many strips fit on a page, and how many patches in a strip."""
    patch, gap, between = _pixel_sizes(sheet, patch_mm)
    run_in = sheet.pixels(max(RUN_IN_MM, patch_mm))
    border = sheet.pixels(sheet.margin_mm + INSET_MM)
    begin = sheet.pixels(LABEL_MM) + sheet.pixels(ARROW_MM) + run_in + gap
    end = max(run_in, sheet.pixels(RUN_IN_MM + LABEL_MM))
    along = sheet.width - 2 * border - begin - end
    head = border + sheet.pixels(sheet.head_mm) + sheet.pixels(NUMBERS_MM)
    across = sheet.height - head - border - sheet.pixels(sheet.foot_mm)
    return max(0, floor(across / (patch + between))), max(0, floor(along / (patch + gap)))


def _pixel_sizes(sheet: Sheet, patch_mm: float) -> tuple[int, int, int]:
    # Rounded up: a patch is never smaller than asked.
    patch = ceil(patch_mm * sheet.dpi / MM_PER_INCH - 1e-9)
    between = sheet.pixels(max(_BETWEEN_STRIPS_MM, patch_mm / 3))
    return patch, max(2, sheet.pixels(GAP_MM)), between


def _capacity(sheet: Sheet, patch_mm: float) -> int:
    strips, per_strip = _rows_and_columns(sheet, patch_mm)
    return strips * per_strip if per_strip >= _FEWEST_PER_STRIP else 0


def _grid(count: int, sheet: Sheet, patch_mm: float) -> Grid:
    strips, per_strip = _rows_and_columns(sheet, patch_mm)
    if not _capacity(sheet, patch_mm):
        raise BadInput(
            f"a page of {sheet.size} with margins of {sheet.margin_mm:g} mm has no room for a "
            f"strip of {_FEWEST_PER_STRIP} patches of {patch_mm:g} mm with bare paper at both "
            "ends: the patches would be too small to measure; take a larger page or smaller "
            "margins, or give --least-size if your instrument can manage with less"
        )
    patch, gap, between = _pixel_sizes(sheet, patch_mm)
    # As many strips as needed, then of even length, so that the last one is nearly full.
    per_strip = ceil(count / ceil(count / per_strip))
    border = sheet.pixels(sheet.margin_mm + INSET_MM)
    run_in = sheet.pixels(max(RUN_IN_MM, patch_mm))
    return Grid(
        count=count,
        per_strip=per_strip,
        strips_per_page=strips,
        patch=patch,
        left=border + sheet.pixels(LABEL_MM) + sheet.pixels(ARROW_MM) + run_in + gap,
        top=border + sheet.pixels(sheet.head_mm) + sheet.pixels(NUMBERS_MM),
        step=patch + gap,
        strip_step=patch + between,
    )
