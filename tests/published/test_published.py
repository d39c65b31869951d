"""What is published is found; `python -m tests.published.table` prints every figure."""

from __future__ import annotations

from collections import Counter

import pytest
from published import formulas, lights, measurements, second_library
from published.registry import all_checks


@pytest.mark.parametrize("room", [lights, formulas, measurements, second_library],
                         ids=lambda room: room.__name__.partition(".")[2])  # fmt: skip
def test_each_figure_is_found(room) -> None:
    missed = [
        f"{one.group}: {one.what}: published {one.expected:g}, found {one.found:g}, "
        f"difference {one.difference:.3g}, allowed {one.tolerance:g} ({one.source})"
        for one in room.checks()
        if not one.holds
    ]
    assert missed == []


def test_there_are_many_and_no_two_are_the_same() -> None:
    checks = all_checks()
    assert len(checks) > 350
    names = Counter((one.group, one.what, one.source) for one in checks)
    assert [name for name, count in names.items() if count > 1] == []
    assert all(one.source for one in checks)
