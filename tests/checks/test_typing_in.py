"""Typed readings: honest values pass, slips of the hand are asked for again.

The values are of printers and paper that the check has not seen: the published characterisation of
ANSI CGATS TR 006-2007, and simulated inkjet printers with an instrument's noise.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from greyscale.checks.typing_in import by_hand, doubt, go_on, typed_reading
from greyscale.readings.formats import read
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import Layout
from greyscale.readings.reading import Reading

SAMPLES = Path(__file__).parents[2] / "sample_measurements"
READINGS = ("tr006-grey.txt", "baryta-65-m1.txt", "cotton-rag-33-m1.txt")

SLIPS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "the point forgotten": lambda lab: lab / [10, 1, 1],
    "two digits exchanged": lambda lab: [lab[0] // 10 + 10 * (lab[0] // 1 % 10), *lab[1:]],
    "one ten too many": lambda lab: lab + np.array([10, 0, 0]),
    "a sign lost": lambda lab: lab * [1, 1, -1],
}


def layout_of(reading: Reading) -> Layout:
    """As if its patches had been printed in strips of ten."""
    places = tuple(f"{chr(65 + i // 10)}{i % 10 + 1}" for i in range(len(reading)))
    return Layout("chart", reading.ids, places, reading.device)


def sample(name: str) -> Reading:
    reading = read(SAMPLES / name, ramp="K" if name.startswith("tr006") else None)
    rows = np.random.default_rng(1).permutation(len(reading))[:60]
    return reading.select(rows)


def typed_in_order(name: str) -> Iterator[tuple[Layout, dict[int, np.ndarray], int, np.ndarray]]:
    reading = sample(name)
    layout, typed = layout_of(reading), {}
    for index in by_hand(layout):
        yield layout, typed, index, reading.lab[index]
        typed[index] = reading.lab[index]


@pytest.mark.parametrize("name", READINGS)
def test_no_honest_value_is_doubted(name):
    doubts = [doubt(*one) for one in typed_in_order(name)]
    assert not [words for words in doubts if words]


def test_most_slips_of_the_hand_are_asked_for_again():
    caught: dict[str, list[bool]] = {slip: [] for slip in SLIPS}
    for name in READINGS:
        for number, (layout, typed, index, lab) in enumerate(typed_in_order(name)):
            for slip, made in SLIPS.items():
                wrong = np.round(made(np.round(lab, 1)), 1)
                # A ramp alone tells nothing of its first tones; a small change is none.
                if number >= 10 and np.abs(wrong - np.round(lab, 1)).max() >= 5:
                    caught[slip].append(doubt(layout, typed, index, wrong) is not None)
    shares = {slip: np.mean(found) for slip, found in caught.items() if found}
    assert min(len(found) for found in caught.values()) >= 5
    # Found: 0.96, 0.92, 0.69 and 0.84; ten units among the first tones can be true.
    least = dict(zip(SLIPS, (0.9, 0.85, 0.6, 0.75), strict=True))
    assert not {slip: share for slip, share in shares.items() if share < least[slip]}


def test_a_grey_on_the_wrong_side_of_its_neighbour_is_named():
    layout = Layout(
        "chart", ("1", "2"), ("A1", "A2"), np.repeat([[0.45], [0.40]], 3, axis=1)
    )  # fmt: skip
    said = doubt(layout, {0: np.array([50.0, 0.0, 0.0])}, 1, np.array([53.0, 0.0, 0.0]))
    assert said == "level 0.40 can't be lighter than 0.45 (A1, L* 50.0)"
    assert doubt(layout, {}, 1, np.array([530.0, 0.0, 0.0])).endswith("between 0 and 105")
    for a, b in ((128.5, 0.0), (0.0, -128.5)):
        assert doubt(layout, {}, 1, np.array([50.0, a, b])).endswith("between -128 and 128")


def test_the_hand_goes_down_one_strip_and_up_the_next():
    names = ["A1", "A10", "A2", "AA1", "B1", "B2", "Z1"]
    layout = Layout("chart", tuple(names), tuple(names), np.zeros((7, 3)))
    assert [names[i] for i in by_hand(layout)] == ["A1", "A2", "A10", "B2", "B1", "Z1", "AA1"]


def test_what_was_typed_is_a_reading_and_can_be_gone_on_with(tmp_path):
    reading = sample(READINGS[1])
    layout = layout_of(reading)
    typed = {index: reading.lab[index] for index in by_hand(layout)[:12]}
    path = tmp_path / "typed.txt"
    write(typed_reading(layout, typed, told={"paper": "baryta", "condition": "M1"}), path)
    found = read(path)
    assert (found.paper, found.condition, len(found)) == ("baryta", "M1", 12)
    again = go_on(found, layout)
    assert again.keys() == typed.keys()
    assert all(np.allclose(again[index], typed[index]) for index in typed)
