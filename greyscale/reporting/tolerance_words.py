"""A tolerance in words, with where it comes from."""

from __future__ import annotations

from greyscale.aims.tolerances import TOLERANCES


def tolerance_in_words(grade: str, mean_delta_Ch: float, max_delta_Ch: float) -> str:
    """Say what a grade allows, and its source where it is known.

    Parameters
    ----------
    grade
        Its name.
    mean_delta_Ch, max_delta_Ch
        Its limits.

    Examples
    --------
    >>> tolerance_in_words("exhibition", 0.75, 1.5)
    'exhibition: mean ΔCh up to 0.75, largest up to 1.5 (common practice, no source)'
    """
    known = TOLERANCES.get(grade)
    origin = f" ({known.origin})" if known else ""
    return f"{grade}: mean ΔCh up to {mean_delta_Ch:g}, largest up to {max_delta_Ch:g}{origin}"
