"""The demo's own simulated printer, on each of its papers."""

from __future__ import annotations

from greyscale.demo.materials import PAPERS
from greyscale.demo.printer import Separation, SimulatedPrinter

# Rows of the demo driver's table: darkness, then cyan, magenta, yellow, black, grey, light grey.
# Greys are carbon with a quarter of colour; what is not quite balanced there is the cast.
_TABLE = (
    (0.00, 0.29, 0.35, 0.27, 0.00, 0.00, 0.70),
    (0.10, 0.31, 0.38, 0.29, 0.00, 0.01, 0.68),
    (0.25, 0.40, 0.46, 0.38, 0.00, 0.13, 0.47),
    (0.40, 0.49, 0.47, 0.46, 0.01, 0.31, 0.22),
    (0.55, 0.53, 0.46, 0.51, 0.06, 0.32, 0.08),
    (0.70, 0.53, 0.46, 0.49, 0.24, 0.21, 0.02),
    (0.82, 0.44, 0.40, 0.39, 0.46, 0.10, 0.01),
    (0.92, 0.26, 0.26, 0.23, 0.68, 0.04, 0.00),
    (1.00, 0.10, 0.11, 0.10, 0.90, 0.00, 0.00),
)

# What the driver was made for: L* of paper and of black, luminance of the surface, tone curve.
_MADE_FOR = {
    "cotton rag": (96.5, 15.5, 1.65, (-0.01, -0.008, 0.006, 0.004)),
    "baryta": (96.7, 4.0, 0.20, (-0.05, 0.0, 0.008, 0.004)),
    "unbleached cotton": (95.0, 15.5, 1.70, (0.0, -0.010, 0.006, 0.004)),
    "kozo": (92.5, 18.0, 2.00, (0.01, -0.008, 0.006, 0.004)),
}


def demo_printer(paper: str = "cotton rag", *, bits: int | None = None) -> SimulatedPrinter:
    """Return the demo's spectral printer on one of its papers.

    Raises
    ------
    LookupError
        For a paper that is not known.

    Examples
    --------
    >>> demo_printer().spectra([[1.0, 1.0, 1.0]]).shape
    (1, 36)
    """
    if paper not in PAPERS:
        raise LookupError(f"the paper '{paper}' is not known; take one of {', '.join(PAPERS)}")
    L_paper, L_black, floor, tone = _MADE_FOR[paper]
    separation = Separation(
        darkness=tuple(row[0] for row in _TABLE),
        shares=tuple(row[1:] for row in _TABLE),
        balance=(0.985, 0.744, 0.894),
        L_paper=L_paper,
        L_black=L_black,
        floor=floor,
        tone=tone,
    )
    return SimulatedPrinter("the demo's six-ink printer", PAPERS[paper], separation, bits)
