"""A made-up correction with everything in it, for tests of what is written, shown and read back."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np

from greyscale.correction.expectation import Expectation, Limit
from greyscale.correction.folder import Luts
from greyscale.correction.record import CURVE_POINTS, Correction, Curve, Evidence, Source
from greyscale.correction.verify import NextRound
from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import read_layout
from greyscale.readings.reading import Reading

PAPER = np.array([96.2, 0.4, -1.8])
BLACK = np.array([16.4, 0.6, 0.9])


def printed(device):
    """What the made-up printer makes of device values (n, 3): a bent tone curve, a cast."""
    mean = np.asarray(device) @ [0.3, 0.4, 0.3]
    tone = mean**0.85
    L = BLACK[0] + (PAPER[0] - BLACK[0]) * tone
    a = 60 * (device[..., 0] - device[..., 1]) + 2.0 * np.sin(np.pi * mean)
    b = 60 * (device[..., 1] - device[..., 2]) - 3.0 * np.sin(2 * np.pi * mean)
    ends = BLACK[1:] + (PAPER - BLACK)[1:] * tone[..., np.newaxis]
    return np.stack([L, a + ends[..., 0], b + ends[..., 1]], axis=-1)


def unchanged() -> Curve:
    """The curve that changes nothing and predicts nothing (CIELAB is not a number)."""
    levels = np.linspace(0.0, 1.0, CURVE_POINTS)
    unknown = np.full((CURVE_POINTS, 3), np.nan)
    return Curve(levels, np.repeat(levels[:, np.newaxis], 3, axis=1), unknown, unknown)


def curve_against(bend: float = 0.3, points: int = CURVE_POINTS) -> Curve:
    """A curve that bends strongly in the shadows and differs by channel, as a real one does."""
    v = np.linspace(0.0, 1.0, points)
    lift = bend * np.sin(np.pi * v) * np.exp(-5.0 * v)
    split = np.sin(np.pi * v) ** 2
    rgb = np.stack([v + lift - 0.02 * split, v + 0.9 * lift, v + lift + 0.03 * split], axis=-1)
    rgb = np.clip(rgb, 0.0, 1.0)
    return Curve(v, rgb, printed(rgb), np.full((points, 3), 0.12))


def evidence() -> Evidence:
    levels = np.linspace(0.0, 1.0, 21)
    device = np.repeat(levels[:, np.newaxis], 3, axis=1)
    noise = np.random.default_rng(5).normal(0.0, 0.1, (21, 3))
    source = Source(
        name="cotton rag, 21 tones",
        source="readings/cotton-rag.txt",
        patches=24,
        round=0,
        condition="M1",
        backing="white",
        printer="six-ink, studio",
        paper="cotton rag",
        created=datetime(2026, 3, 4, 10, 30),
        sha256="0f" * 32,
    )
    return Evidence(
        device=device,
        lab=printed(device) + noise,
        counts=np.ones(21),
        origin=np.zeros(21, dtype=np.intp),
        sources=(source,),
        sd_L=0.11,
        sd_ab=0.13,
        known=True,
        paper=PAPER,
        black=BLACK,
        places=tuple(f"A{number}" for number in range(1, 22)),
    )


def correction_with(curve: Curve, **changes) -> Correction:
    levels = curve.levels
    before = printed(np.repeat(levels[:, np.newaxis], 3, axis=1))
    aim = PAPER * levels[:, np.newaxis] + BLACK * (1 - levels[:, np.newaxis])
    fields = {
        "name": 'Harbour light, "première"',
        "created": datetime(2026, 3, 5, 9, 0),
        "round": 1,
        "follows": None,
        "aim": "lstar",
        "scaling": "linear",
        "neutral": "fading",
        "toning": None,
        "space": "device",
        "bits": 16,
        "picture": None,
        "printer": "six-ink, studio",
        "paper": "cotton rag",
        "settings": "best, no colour management",
        "condition": "M1",
        "backing": "white",
        "observer": "2",
        "paper_lab": PAPER,
        "black_lab": BLACK,
        "curve": curve,
        "aim_lab": aim,
        "target_lab": aim,
        "before_lab": before,
        "evidence": evidence(),
        "near_neutral": False,
        "expectation": Expectation(1.9, 3.4, 2.8, 5.1, 0.2, 0.25, 0.3, 0.6, 0.1),
        "limits": (Limit("black", 0.0, 0.03, 0.8, 0.4, "Below level 0.03 the ink's tint stays."),),
        "remarks": ("The printer's answer is supposed; see [1, 2].",),
    }
    return Correction(**{**fields, **changes})


LUTS = Luts(2041, 33, False, 0.6, 0.042)
"""How closely the LUTs of a made-up correction keep to it."""

NEXT_ROUND = NextRound(
    False, 0.2, 0.5, 0.2, 0.05, 0.1, 0.1, 0.12, "Another round is not worth it: nothing to gain."
)
"""A judgement that would take a model of the printer to make."""


LEVELS = np.concatenate([np.linspace(0, 1, 33), [0.25, 0.5, 0.75]])
"""Of a proof: a ramp, three of its tones twice."""


def proof_of(correction: Correction, sd: float = 0.12, **changes) -> Reading:
    """A print that came out as the correction predicted, read with noise."""
    lab = correction.curve.predict(LEVELS)
    fields = {
        "name": "proof on cotton rag",
        "source": "proof.txt",
        "ids": tuple(str(i + 1) for i in range(len(LEVELS))),
        "device": np.repeat(LEVELS[:, np.newaxis], 3, axis=1),
        "lab": lab + np.random.default_rng(3).normal(0.0, sd, lab.shape),
        "condition": "M1",
        "backing": "white",
    }
    return Reading(**{**fields, **changes})


def measure_chart(layout_path, target, *, through=None, paper="cotton rag", seed=1, **changes):
    """Print a chart's layout, through a correction's 1D LUT if there is one, and read it."""
    layout = read_layout(layout_path)
    sent = None if through is None else apply_lut(through / "correction-1d.cube", layout.device)
    reading = demo_printer(paper).measure(
        layout.ids, layout.device, sent=sent, places=layout.places, seed=seed, name=target.stem
    )
    write(replace(reading, **changes), target)
    return target


def apply_lut(path, values, interpolation: str = "linear"):
    """Apply a LUT file by OpenColorIO: the reference implementation of LUTs here."""
    import PyOpenColorIO

    how = {
        "linear": PyOpenColorIO.INTERP_LINEAR,
        "tetrahedral": PyOpenColorIO.INTERP_TETRAHEDRAL,
    }[interpolation]
    transform = PyOpenColorIO.FileTransform(str(path), interpolation=how)
    processor = PyOpenColorIO.Config.CreateRaw().getProcessor(transform)
    pixels = np.array(values, dtype=np.float32, order="C", copy=True)
    processor.getDefaultCPUProcessor().applyRGB(pixels)
    return pixels.astype(np.float64)
