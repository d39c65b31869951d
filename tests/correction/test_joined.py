"""Readings are joined where they are of one print, one paper and one way of measuring."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from support.corrections import evidence, printed

from greyscale.base.errors import BadInput
from greyscale.correction.evidence import (
    refuse_contradiction,
    refuse_unlike,
    refuse_unlike_papers,
)
from greyscale.correction.record import Evidence

MODEL = SimpleNamespace(lab=printed, spoilt=())
"""The printer as it is."""


def joined(off: tuple[float, float, float], rows: slice = slice(None)) -> Evidence:
    """Twice the same chart, or rows of it, the second off in CIELAB by so much, below paper."""
    one = evidence()
    device, lab = one.device[rows], one.lab[rows] + np.array(off) * (one.device[rows] < 1.0)
    again = replace(one.sources[0], name="again", source="again.txt")
    return replace(
        one,
        device=np.concatenate([one.device, device]),
        lab=np.concatenate([one.lab, lab]),
        counts=np.ones(21 + len(lab)),
        origin=np.repeat([0, 1], [21, len(lab)]),
        sources=(*one.sources, again),
        places=None,
    )


@pytest.mark.parametrize(
    ("what", "named"),
    [("condition", "measuring condition is 'M2'"), ("backing", "backing is 'black'"),
     ("observer", "observer is '10'"), ("printer", "printer is 'another'"),
     ("paper", "paper is 'another'")],
)  # fmt: skip
def test_what_the_second_or_the_third_says_otherwise_is_named(what: str, named: str) -> None:
    first = evidence().sources[0]
    told = {"condition": "M2", "backing": "black", "observer": "10"}.get(what, "another")
    silent, other = replace(first, **{what: None}), replace(first, **{what: told})
    alike = replace(first, **{what: f" {getattr(first, what).upper()} "})
    refuse_unlike([silent, first, silent, alike])
    for before in ([first], [silent, first], [first, alike]):
        with pytest.raises(BadInput, match=f"{named}, but that of '{first.name}'"):
            refuse_unlike([*before, other])


@pytest.mark.parametrize("axis", range(3))
def test_a_reading_that_stands_apart_as_a_whole_is_named_with_its_axis(axis: int) -> None:
    for off, high in ((1.2, "again.txt"), (-1.2, "readings/cotton-rag.txt")):
        with pytest.raises(BadInput, match=rf"1\.\d higher in {('L', 'a', 'b')[axis]}\*") as caught:
            refuse_contradiction(joined(tuple(off * np.eye(3)[axis])), MODEL)
        assert caught.value.source == high
        refuse_contradiction(joined(tuple(off / 2 * np.eye(3)[axis])), MODEL)


def test_bare_paper_alone_contradicts_nothing() -> None:
    refuse_contradiction(joined((9.0, 9.0, 9.0), slice(20, 21)), MODEL)


def test_papers_that_measure_apart_are_not_joined() -> None:
    """1 ΔE00 and three deviations of the noise are let pass; L* near white weighs 0.6 of itself."""
    found = joined((0.0, 0.0, 0.0))
    refuse_unlike_papers(found)
    for fall, refused in ((1.8, False), (3.0, True)):
        lab = found.lab.copy()
        lab[-1, 0] = lab[20, 0] - fall
        if refused:
            with pytest.raises(BadInput, match=r"the bare paper measures 1\.\d ΔE00") as caught:
                refuse_unlike_papers(replace(found, lab=lab))
            assert caught.value.source == "again.txt"
        else:
            refuse_unlike_papers(replace(found, lab=lab))


def test_tone_alone_is_where_neither_a_nor_b_was_measured() -> None:
    one = evidence()
    assert replace(one, lab=one.lab * [1.0, 0.0, 0.0]).tone_alone
    for axes in ([1.0, 1.0, 0.0], [1.0, 0.0, 1.0]):
        assert not replace(one, lab=one.lab * axes).tone_alone
