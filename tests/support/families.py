"""Families of tests of one claim: some members are tried every time, all of them by `-m ""`."""

from __future__ import annotations

from collections.abc import Container, Iterable
from typing import Any

import pytest


def family(
    members: Iterable[Any], every_time: Container[Any], *marks: Any, several: bool = False
) -> list[Any]:
    """Return a test's parameters; those that are not tried every time are marked as exhaustive.

    Parameters
    ----------
    marks
        Further marks for each.
    several
        A member holds the values of several arguments.
    """
    return [
        pytest.param(
            *(one if several else (one,)),
            id="-".join(map(str, one)) if several else getattr(one, "__name__", str(one)),
            marks=[*marks, *([] if one in every_time else [pytest.mark.exhaustive])],
        )
        for one in members
    ]
