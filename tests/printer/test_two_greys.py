"""Tones beside the axis of a driver that makes black and two greys of what its inks have in common.

Grey inks in place of what cyan, magenta and yellow have in common are common practice, no source;
where each sets in, and by how much, is made up.
"""

from __future__ import annotations

import numpy as np
import pytest
from support.array_printers import BLACK, CYAN, MAGENTA, YELLOW, halftones, noisy_sheet
from support.correction_loop import chart

from greyscale.correction.evidence import evidence_from
from greyscale.printer.model import fit

INKS = (CYAN, MAGENTA, YELLOW, BLACK, 0.36 * BLACK, 0.13 * BLACK)


def lab(device: np.ndarray, tint: tuple[float, float, float], starts: tuple[float, float]):
    """CIELAB; the greys give way to the darker one, and to black, from some amounts on."""
    colours = 1 - device
    common = colours.min(axis=1, keepdims=True)
    darker, black = (np.clip((common - start) / 0.4, 0, 1) for start in starts)
    tints = np.array(tint) * common * (1 - common)
    grey = np.clip(1.5 * (common - 0.1), 0, 0.9) * (1 - 0.7 * black)
    light = np.clip(2.2 * common, 0, 0.85) * (1 - 0.8 * darker)
    return halftones(np.hstack([colours - common + tints, black, grey, light]), INKS)


@pytest.mark.parametrize(
    "driver", [((0.0, 0.1, 0.0), (0.3, 0.55)), ((0.0, 0.05, 0.1), (0.25, 0.7))]
)
def test_tones_beside_the_axis_bend_by_the_largest_channel(driver) -> None:
    """Of more bends than onsets are sought; found by their level, L* came out 0.23 and 0.31 off."""
    random = np.random.default_rng(0)
    off = random.normal(size=(300, 3))
    off -= off.mean(axis=1, keepdims=True)
    off *= random.uniform(0.02, 0.1, (300, 1)) / np.linalg.norm(off, axis=1, keepdims=True)
    beside, sent = random.uniform(0.08, 0.92, (300, 1)) + off, chart(near_neutral=True)
    wrong = [
        fit(evidence_from([noisy_sheet(sent, lab(sent, *driver), seed, 0.1)])).lab(beside)
        - lab(beside, *driver)
        for seed in (1, 2, 3)
    ]
    assert np.sqrt(np.mean(np.square(wrong), axis=(0, 1)))[0] < 0.17
