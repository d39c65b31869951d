"""Print a chart, correct, print through the correction, correct again: on arrays, and judge it.

What is judged is the print itself, without noise, against the aim that follows from the printer's
true paper and black, from level 0.03 up. Nothing here comes from the correction but its curve.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from support.array_printers import halftone_printer, reversal_printer, tr006_printer
from support.lab_printers import kinked_printer, random_printer, reversing_printer

from greyscale.charts.chart import make_chart
from greyscale.correction.correct import correct
from greyscale.correction.record import Correction, Options
from greyscale.demo.printer import demo_printer
from greyscale.readings.reading import Reading

Array = NDArray[np.float64]
Device = Callable[[Array], Array]

PRINTERS: dict[str, Callable[[], object]] = {
    "spectral, cotton rag": demo_printer,
    "spectral, baryta": lambda: demo_printer("baryta"),
    "TR 006": tr006_printer,
    "TR 006, other curves": lambda: tr006_printer((0.9, 1.05, 1.15)),
    "TR 006, large cast": lambda: tr006_printer((1.1, 1.0, 1.0)),
    "hue reversal, blocked": lambda: reversal_printer(phase=2.0),
    "hue reversal, more blocked": lambda: reversal_printer(cast=0.03, phase=4.0, blocked=0.09),
    "hue reversal, by points": reversing_printer,
    "kink, by points": kinked_printer,
    "black by least ink": lambda: halftone_printer(0.45),
    "black late, tinted": lambda: halftone_printer(0.6, gammas=(1.1, 1.1, 0.9), removal=0.3),
    "black by mean ink": lambda: halftone_printer(
        0.55, "mean", removal=0.5, gammas=(1.0, 1.1, 0.9)
    ),
    "black comes softly": lambda: halftone_printer(0.35, removal=0.4, black_power=1.5),
    "no black ink, tinted": lambda: halftone_printer(1.0),
    "random 1": lambda: random_printer(1),
    "random 2": lambda: random_printer(2),
    "random 5": lambda: random_printer(5),
    "random 7": lambda: random_printer(7),
}
"""Printers by kind."""

LEVELS = np.concatenate([np.arange(0.03, 0.1, 0.01), np.linspace(0.1, 0.99, 54)])


def fading(levels: Array, paper: Array, black: Array) -> Array:
    """Give the usual aim: L* linear, a* and b* fading (ISO 12647-2:2013; memory)."""
    L = black[0] + (paper[0] - black[0]) * levels
    share = 1 - 0.85 * (1 - levels)
    return np.column_stack([L, share * paper[1], share * paper[2]])


@dataclass(frozen=True)
class Subject:
    """A printer, what it should print, and what it can.

    `reachable`: some device value meets the aim within ΔCh 0.1 and 0.3 of L*. `least_Ch`: the
    least ΔCh to be had within 0.3 of L*.
    """

    printer: object
    aim: Array
    reachable: NDArray[np.bool_]
    least_Ch: Array

    def lab(self, device: Array) -> Array:
        return self.printer.lab(device)  # type: ignore[attr-defined,no-any-return]


@cache
def subject(name: str) -> Subject:
    """Give a printer of `PRINTERS` with its limits, found by bounded least squares."""
    printer = PRINTERS[name]()
    paper, black = printer.lab(np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]]))
    aim = fading(LEVELS, paper, black)
    ramp = np.repeat(np.linspace(0, 1, 257)[:, None], 3, axis=1)
    L_ramp = np.maximum.accumulate(printer.lab(ramp)[:, 0]) + 1e-9 * np.arange(257)
    at_level = grey(np.interp(aim[:, 0], L_ramp, ramp[:, 0]))
    sent = towards(printer.lab, aim, at_level)
    near = np.array([0.999, 0.999, 0.999])
    for i in range(LEVELS.size - 1, -1, -1):
        if not reached(printer.lab(sent[i : i + 1]) - aim[i])[0]:
            # The least that can be had is sought from the tone's neighbour as well.
            found = min(
                (
                    least_squares(
                        lambda device, i=i: _errors(printer.lab(device[None]) - aim[i])[0],
                        np.clip(start, 1e-4, 1 - 1e-4), bounds=(0, 1), diff_step=1e-4,
                    )
                    for start in (near, at_level[i])
                ),
                key=lambda result: result.cost,
            )  # fmt: skip
            sent[i] = found.x
        near = sent[i]
    off = printer.lab(sent) - aim
    return Subject(printer, aim, reached(off), np.hypot(off[:, 1], off[:, 2]))


def _errors(off: Array) -> Array:
    """Of differences from an aim, what is to be least: ΔCh, within 0.25 of L*."""
    over = 30 * np.maximum(np.abs(off[:, 0]) - 0.25, 0.0)
    return np.column_stack([over, off[:, 1], off[:, 2], 0.01 * off[:, 0]])


def reached(off: Array) -> NDArray[np.bool_]:
    """Whether what differs so from an aim, shape (n, 3), meets it."""
    return (np.hypot(off[:, 1], off[:, 2]) <= 0.1) & (np.abs(off[:, 0]) <= 0.3)


def towards(lab: Device, aim: Array, start: Array) -> Array:
    """Ten Newton steps for all tones at once: the values that print as aimed, where some do."""
    sent = np.clip(start, 1e-3, 1 - 1e-3)
    for _ in range(10):
        off = lab(sent) - aim
        slopes = np.stack([lab(sent + 1e-4 * way) - lab(sent - 1e-4 * way) for way in np.eye(3)], 2)
        step = np.linalg.solve(slopes / 2e-4 + 1e-6 * np.eye(3), off[..., None])[..., 0]
        sent = np.clip(sent - np.clip(step, -0.1, 0.1), 1e-3, 1 - 1e-3)
    return sent


@dataclass(frozen=True)
class Judged:
    """Mean and largest ΔCh, largest |ΔL*| of reachable tones; the rest.

    `beyond_least`: ΔCh above the least that can be had, at unreachable tones. `held`: share of
    true values within the stated 95 % limits. `step`: the largest step of the printed ramp of 256
    tones against the mean of its neighbours, above the blended shadow, and `fall`: the largest
    fall of L* there.
    """

    mean: float
    largest: float
    tone: float
    beyond_least: float
    held: float
    step: float
    fall: float


def judged(who: Subject, send: Device, made: Correction | None = None, bits: int = 16) -> Judged:
    """Judge what a printer makes of levels sent through `send`."""
    codes = 2**bits - 1
    device = np.round(np.clip(send(LEVELS), 0, 1) * codes) / codes
    off = who.lab(device) - who.aim
    away = np.hypot(off[:, 1], off[:, 2])
    within, weight = who.reachable, np.gradient(who.aim[:, 0])
    held = np.nan
    if made is not None:
        curve = made.curve
        sd = np.column_stack([np.interp(LEVELS, curve.levels, column) for column in curve.sd.T])
        exact = who.lab(send(LEVELS))
        held = float(np.mean(np.abs(exact - curve.predict(LEVELS)) <= 1.96 * sd))
    steps = _steps(who, send, made)
    return Judged(
        mean=float((away * weight)[within].sum() / weight[within].sum()),
        largest=float(away[within].max()),
        tone=float(np.abs(off[within, 0]).max()),
        beyond_least=float(np.max((away - who.least_Ch)[~within], initial=0.0)),
        held=held,
        step=float((steps[1:-1] * 2 / np.maximum(steps[:-2] + steps[2:], 1e-6)).max()),
        fall=float(max(-steps.min(), 0.0)),
    )


def _steps(who: Subject, send: Device, made: Correction | None) -> Array:
    blended = [] if made is None else [x.to_level for x in made.limits if x.kind == "black"]
    start = int(np.ceil(max(blended, default=0.0) * 255))
    return np.diff(who.lab(send(np.arange(256) / 255))[:, 0])[start:]


def grey(levels: Array) -> Array:
    """Send levels as they are."""
    return np.repeat(np.asarray(levels)[:, None], 3, axis=1)


@cache
def chart(near_neutral: bool) -> Array:
    """Give the device values of the usual chart: 33 tones; with near-neutral patches 147 in all."""
    return make_chart("chart", near_neutral=near_neutral, code=False).layout.device


def rounds(
    who: Subject,
    *,
    near_neutral: bool,
    noise: float = 0.15,
    seed: int = 0,
    bits: int = 16,
    count: int = 2,
    device: Array | None = None,
) -> list[Correction]:
    """Print, measure and correct so many times, each time through the correction before."""
    random, codes = np.random.default_rng(seed), 2**bits - 1
    asked = chart(near_neutral) if device is None else device
    made: list[Correction] = []
    for number in range(count):
        sent = made[-1].curve.apply(asked) if made else asked
        lab = who.lab(np.round(sent * codes) / codes)
        reading = Reading(
            name=f"round {number + 1}",
            source="arrays",
            ids=tuple(map(str, range(len(asked)))),
            device=asked,
            lab=lab + random.normal(0.0, noise, lab.shape),
        )
        made.append(correct([reading], Options(previous=made[-1] if made else None, bits=bits)))
    return made


def judged_rounds(who: Subject, made: list[Correction], bits: int = 16) -> list[Judged]:
    """Judge each round."""
    return [
        judged(who, lambda levels, c=c: c.curve.apply(grey(levels)), c, bits)  # type: ignore[misc]
        for c in made
    ]
