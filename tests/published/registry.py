"""Every check against a published figure."""

from __future__ import annotations

from functools import lru_cache

from published import formulas, lights, measurements, second_library
from published.check import Check


@lru_cache
def all_checks() -> tuple[Check, ...]:
    """Compute all; some seconds."""
    rooms = (lights, formulas, measurements, second_library)
    return tuple(check for room in rooms for check in room.checks())
