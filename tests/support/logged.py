"""Small readings and corrections as files, for tests of the print log."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
from support.corrections import correction_with, curve_against

from greyscale.charts.chart import Through, make_chart
from greyscale.correction.as_json import correction_text, to_json
from greyscale.correction.record import Curve
from greyscale.readings.iso28178 import write
from greyscale.readings.reading import Reading

PRINTER, PAPER = "six-ink, studio", "cotton rag"
LEVELS = np.linspace(0.0, 1.0, 11)
MEASURED = datetime(2026, 3, 4, 10, 30)


def reading(number: int = 0, *, a=0.0, b=0.0, L=0.0, paper_b=0.0, noise=0.05, **changes) -> Reading:
    """A ramp of eleven tones, ends and middle twice; `number` seeds its noise.

    `a`, `b` and `L` move its mid-tones, `paper_b` the paper.
    """
    level = np.concatenate([LEVELS, [0.0, 0.5, 1.0]])
    middle = np.sin(np.pi * level)
    lab = np.column_stack(
        [
            16.0 + 80.0 * level + L * middle,
            0.4 * middle + a * middle,
            1.5 * level + b * middle + paper_b * level**20,
        ]
    )
    lab += np.random.default_rng(number).normal(0.0, noise, lab.shape)
    fields = {
        "name": f"reading {number}",
        "source": f"reading-{number}.txt",
        "ids": tuple(f"P{i}" for i in range(len(level))),
        "device": np.repeat(level[:, np.newaxis], 3, axis=1),
        "lab": lab,
        "condition": "M1",
        "backing": "white",
        "printer": PRINTER,
        "paper": PAPER,
        "created": MEASURED,
    }
    return Reading(**{**fields, **changes})


def sheet_reading(through: str | None, **changes) -> Reading:
    """A chart's print, whose code says what it was sent through; no word of it in the file."""
    sent = None if through is None else Through(through, lambda device: device**1.2)
    layout = make_chart("start", tones=15, dpi=72, code=True, through=sent).layout
    lab = np.column_stack([16 + 80 * layout.device.mean(axis=1), 0 * layout.device[:, :2]])
    return reading(device=layout.device, lab=lab, ids=layout.ids, **changes)


def reading_file(folder: Path, number: int = 0, **changes) -> Path:
    """The same as a file of ISO 28178 text."""
    path = folder / f"reading-{number}.txt"
    write(reading(number, **changes), path)
    return path


def correction_folder(folder: Path, **changes) -> Path:
    """A made-up correction's folder, with the JSON and one file more."""
    curve: Curve = curve_against(points=65)
    folder.mkdir(parents=True)
    data = to_json(correction_with(curve, **changes))
    (folder / "correction.json").write_text(correction_text(data), encoding="utf-8")
    (folder / "curve.csv").write_text("level,R,G,B\n0,0,0,0\n1,1,1,1\n", encoding="utf-8")
    (folder / "report.html").write_text("<p>Not to be kept.</p>", encoding="utf-8")
    return folder
