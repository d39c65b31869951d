"""Figures from outside are found; `python -m tests.published.table` prints every figure."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from published import formulas, lights, measurements, second_library
from published.check import KINDS
from published.registry import all_checks


@pytest.mark.parametrize("room", [lights, formulas, measurements, second_library],
                         ids=lambda room: room.__name__.partition(".")[2])  # fmt: skip
def test_each_figure_is_found(room) -> None:
    missed = [
        f"{one.group}: {one.what}: {one.kind} {one.expected:g}, found {one.found:g}, "
        f"difference {one.difference:.3g}, allowed {one.tolerance:g} ({one.source})"
        for one in room.checks()
        if not one.holds
    ]
    assert missed == []


def test_there_are_many_and_no_two_are_the_same() -> None:
    checks = all_checks()
    assert len(checks) > 280
    names = Counter((one.group, one.what, one.source) for one in checks)
    assert [name for name, count in names.items() if count > 1] == []
    assert all(one.source and one.kind in KINDS for one in checks)


def test_what_is_remembered_is_not_called_published() -> None:
    for one in all_checks():
        assert one.kind in ("memory", "by hand") or "memory" not in one.source, one


def test_the_table_that_is_kept_names_every_figure_and_its_kind() -> None:
    kept = (Path(__file__).parents[2] / "reports" / "published-figures.md").read_text("utf-8")
    rows = [[cell.strip() for cell in line.split("|")] for line in kept.splitlines()]
    told = [(row[1], row[6]) for row in rows if len(row) == 9 and row[6] in KINDS]
    assert told == [(one.what, one.kind) for one in all_checks()]
