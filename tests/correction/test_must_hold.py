"""The whole loop, through files and commands, on printers of unlike kinds: what a round must reach.

The printers: the demo's spectral six-ink printer; a printing condition published in ANSI CGATS TR
006-2007, interpolated from its C, M, Y grid (R = 1 - C and so on); one whose hue reverses between
highlights and shadows, its shadows blocked. Noise is 0.15 in each of L*, a*, b*.
Judged is the curve itself, not rounded to code values.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import least_squares
from support.array_printers import reversal_printer, tr006_printer
from support.correction_loop import reached, towards
from support.families import family
from typer.testing import CliRunner

from greyscale.aims.neutral import neutral_aim
from greyscale.charts.chart import make_chart
from greyscale.cli.app import app
from greyscale.correction.folder import read_correction
from greyscale.correction.record import Correction
from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write
from greyscale.readings.reading import Reading

NOISE = 0.15
LEVELS = np.concatenate([np.linspace(0.03, 0.1, 8), np.linspace(0.1, 1, 91)[1:-1]])
Printer = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Kind:
    make: Callable[[], Printer]
    bits: int


KINDS = {
    "spectral": Kind(lambda: demo_printer("cotton rag").lab, 16),
    "TR 006": Kind(lambda: tr006_printer().lab, 8),
    "hue reversal": Kind(lambda: reversal_printer(phase=2.0).lab, 16),
}


@dataclass(frozen=True)
class Found:
    """Mean and largest ΔCh and |ΔL*| from level 0.03 up, of the print itself, without noise."""

    mean: float
    largest: float
    tone: float
    held: float
    """Share of tones whose true error lies within the stated 95 % limits."""


def judged(printer: Printer, sent: np.ndarray, made: Correction | None = None) -> Found:
    """Judge what values print, wherever some value would print as aimed."""
    lab = printer(np.clip(sent, 0, 1))
    paper, black = printer(np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]]))
    away = np.hypot(*(lab[:, 1:] - neutral_aim("fading", lab[:, 0], paper, black)).T)
    aim_L = black[0] + (paper[0] - black[0]) * LEVELS
    tone = np.abs(lab[:, 0] - aim_L)
    aim = np.column_stack([aim_L, neutral_aim("fading", aim_L, paper, black)])
    if made is not None:
        far = np.flatnonzero((away > 0.25) | (tone > 0.3))
        can = reached(printer(towards(printer, aim[far], sent[far])) - aim[far])
        for tone_index in far[~can]:
            least, beside = within_reach(printer, aim[tone_index], sent[tone_index])
            if least > 0.1 or beside > 0.3:
                # Out of the printer's reach: at most 0.3 more than the least it can do.
                assert away[tone_index] <= least + 0.3, (LEVELS[tone_index], least)
                away[tone_index] = tone[tone_index] = 0.0
    held = np.nan
    if made is not None:
        sd = np.stack(
            [np.interp(LEVELS, made.curve.levels, made.curve.sd[:, i]) for i in range(3)], -1
        )
        exact = printer(sent)
        held = float(np.mean(np.abs(exact - made.curve.predict(LEVELS)) <= 1.96 * sd))
    width = np.gradient(LEVELS)
    return Found(float(away @ width / width.sum()), float(away.max()), float(tone.max()), held)


def within_reach(printer: Printer, aim: np.ndarray, start: np.ndarray) -> tuple[float, float]:
    """Give the least ΔCh that any device value prints with |ΔL*| up to 0.3, and that |ΔL*|."""

    def errors(values: np.ndarray) -> np.ndarray:
        found = printer(values[None])[0] - aim
        return np.array([30 * max(abs(found[0]) - 0.29, 0.0), found[1], found[2]])

    best = min(
        (
            least_squares(errors, np.clip(x, 1e-6, 1 - 1e-6), bounds=(0, 1), diff_step=1e-4)
            for x in (start, start * 0.9, start * 0.9 + 0.1)
        ),
        key=lambda result: result.cost,
    )
    found = printer(best.x[None])[0] - aim
    return float(np.hypot(found[1], found[2])), float(abs(found[0]))


@lru_cache
def rounds(kind: str, near_neutral: bool, folder: Path) -> tuple[Found, Found, Found]:
    """Do two rounds by files and commands; give what the print is before, and after each."""
    printer, bits = KINDS[kind].make(), KINDS[kind].bits
    codes = 2**bits - 1
    random = np.random.default_rng(1)
    chart = make_chart("chart", near_neutral=near_neutral, code=False).layout
    assert len(chart.ids) <= 150
    grey = np.repeat(LEVELS[:, None], 3, axis=1)
    found = [judged(printer, grey)]
    previous: Path | None = None
    for number in (1, 2):
        sent = chart.device
        if previous is not None:
            sent = read_correction(previous).curve.apply(sent)
        lab = printer(np.round(sent * codes) / codes) + random.normal(0, NOISE, sent.shape)
        path = folder / f"reading-{number}.txt"
        write(Reading(f"round {number}", str(path), chart.ids, chart.device, lab), path)
        target = folder / f"correction-{number}"
        arguments = ["correct", str(path), "-o", str(target), "--unchecked"]
        if previous is None:
            arguments += ["--bits", str(bits)]
        else:
            arguments += ["--previous", str(previous)]
        result = CliRunner().invoke(app, arguments)
        assert result.exit_code == 0, result.output or result.exception
        made = read_correction(target)
        found.append(judged(printer, made.curve.apply(grey), made))
        previous = target
    return found[0], found[1], found[2]


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("loop")


def folder_of(folders: Path, kind: str, what: str) -> Path:
    path = folders / f"{kind}-{what}".replace(" ", "-")
    path.mkdir(exist_ok=True)
    return path


@pytest.mark.parametrize("kind", family(KINDS, ["spectral"]))
def test_ramp_and_near_neutral_patches(kind: str, folders: Path) -> None:
    """At most 150 patches: one round 0.2 / 0.7 / 0.8, two 0.1 / 0.4 / 0.3, as the aim is set."""
    _, first, second = rounds(kind, True, folder_of(folders, kind, "near"))
    assert (first.mean <= 0.2, first.largest <= 0.7, first.tone <= 0.8) == (True, True, True), first
    assert second.largest <= 0.4, second
    assert second.tone <= 0.3, second
    assert second.mean <= 0.1, second
    assert first.held >= 0.85
    assert second.held >= 0.85


@pytest.mark.parametrize("kind", family(KINDS, ["TR 006"]))
def test_a_ramp_alone(kind: str, folders: Path) -> None:
    """One round takes 60 % of the mean ΔCh away and worsens no maximum; two: 0.5 / 1.2."""
    before, first, second = rounds(kind, False, folder_of(folders, kind, "ramp"))
    assert first.mean <= 0.4 * before.mean, (before, first)
    assert first.largest <= before.largest
    assert second.mean <= 0.5, second
    assert second.largest <= 1.2, second
