"""A wrong, partial or empty layout is refused by a message or made use of; nothing else happens."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from support.families import family

from greyscale.base.errors import BadInput
from greyscale.checks.checking import check
from greyscale.readings.formats import read
from greyscale.readings.layout import Layout
from greyscale.readings.reading import Reading

_SAMPLES = Path(__file__).resolve().parents[2] / "sample_measurements"
NAMES = ("baryta-65-m1", "cotton-rag-33-m1")


def _layout_of(reading: Reading) -> Layout:
    places = tuple(f"{chr(65 + k % 26)}{k // 26 + 1}" for k in range(len(reading)))
    return Layout(reading.name, reading.ids, places, reading.device, ())


def _some(layout: Layout, rows: list[int]) -> Layout:
    return replace(
        layout,
        ids=tuple(layout.ids[row] for row in rows),
        places=tuple(layout.places[row] for row in rows),
        device=layout.device[rows].reshape(-1, 3),
    )


def _without_device_values(reading: Reading, path: Path) -> Path:
    rows = [
        f"{name},{L:.4f},{a:.4f},{b:.4f}"
        for name, (L, a, b) in zip(reading.ids, reading.lab.tolist(), strict=True)
    ]
    path.write_text("\n".join(["SAMPLE_ID,LAB_L,LAB_A,LAB_B", *rows]))
    return path


@pytest.mark.parametrize("name", family(NAMES, NAMES[1:]))
@pytest.mark.parametrize("charted", family(NAMES, NAMES[:1]))
def test_every_pair_is_read_or_refused(name: str, charted: str, tmp_path: Path) -> None:
    whole = read(_SAMPLES / f"{name}.txt")
    other = read(_SAMPLES / f"{charted}.txt")
    layout = _layout_of(other)
    random = np.random.default_rng(len(whole) + len(other))
    for count in (0, 1, 2, 3, 5, 8, len(whole)):
        rows = np.sort(random.permutation(len(whole))[:count])
        part = whole.select(rows)
        slots = sorted(random.permutation(len(layout))[: int(random.integers(0, 9))].tolist())
        source = _without_device_values(part, tmp_path / "part.csv")
        for chart in (layout, _some(layout, slots), _some(layout, [])):
            with suppress(BadInput):
                check(part, chart)
            with suppress(BadInput):
                check(read(source, layout=chart), chart)
        with suppress(BadInput):
            check(part)


def test_what_the_chart_was_sent_through_comes_with_its_layout(tmp_path: Path) -> None:
    reading = read(_SAMPLES / "cotton-rag-33-m1.txt")
    layout = replace(_layout_of(reading), fields={"CHART_THROUGH": "harbour light"})
    source = _without_device_values(reading, tmp_path / "bare.csv")
    assert read(source, layout=layout).sent_through == "harbour light"
    assert read(_SAMPLES / "cotton-rag-33-m1.txt", layout=layout).sent_through == "harbour light"
    assert read(_SAMPLES / "cotton-rag-33-m1.txt").sent_through is None
