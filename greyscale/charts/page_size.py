"""How big a page is."""

from __future__ import annotations

import re
from dataclasses import dataclass

from greyscale.base.errors import BadInput
from greyscale.base.nearest import did_you_mean

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
    """Give a page size by its name, by its measures, or as it is.

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
