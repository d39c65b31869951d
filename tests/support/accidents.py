"""What usually goes wrong with a proof, on simulated printers: the chart as it then measures."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray
from support.array_printers import ArrayPrinter, halftone_printer, noisy_sheet, tr006_printer
from support.lab_printers import random_printer

from greyscale.charts.chart import make_chart
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.correction.correct import correct
from greyscale.correction.record import Correction, Options
from greyscale.demo.printer import SimulatedPrinter, demo_printer
from greyscale.readings.reading import Reading

Array = NDArray[np.float64]
Print = Callable[[Array], Array]

TUNING = ("spectral, cotton rag", "TR 006", "random 3", "halftone")
KEPT_OUT = (
    "spectral, baryta",
    "spectral, kozo",
    "TR 006, other curves",
    "random 11",
    "halftone, late",
)

CHART = make_chart("chart", near_neutral=True, code=False).layout.device
PROOF = make_chart("proof", tones=21, code=False).layout.device


SHEETS = 0.005
"""Share of each channel by which sheets differ, a standard deviation: some 0.4 ΔE00.
Common practice, no source."""


HALFTONES: dict[str, Callable[..., ArrayPrinter]] = {
    "halftone": partial(halftone_printer, 0.55, "mean", removal=0.5, gammas=(1.0, 1.1, 0.9)),
    "halftone, late": partial(halftone_printer, 0.6, gammas=(1.1, 1.1, 0.9), removal=0.3),
}


@cache
def printer(name: str) -> object:
    """Give a printer by its name; `lab` takes device values."""
    if name.startswith("spectral, "):
        return demo_printer(name.removeprefix("spectral, "))
    if name.startswith("random "):
        return random_printer(int(name.split()[1]))
    return {
        "TR 006": tr006_printer,
        "TR 006, other curves": lambda: tr006_printer((0.9, 1.05, 1.15)),
        **HALFTONES,
    }[name]()


@cache
def corrected(name: str, **wishes: str) -> Correction:
    """Give the correction of a printer, from one chart of 147 patches."""
    lab = printer(name).lab(CHART)  # type: ignore[attr-defined]
    return correct([noisy_sheet(CHART, lab, 5)], Options(**wishes))  # type: ignore[arg-type]


def _more_ink(lab: Print, share: float) -> Print:
    return lambda device: lab(np.clip(1.0 - (1.0 - device) * (1.0 + share), 0.0, 1.0))


def _another_setting(lab: Print, limit: float, bend: float) -> Print:
    """Less ink at most, or more, and another tone curve."""
    return lambda device: lab(np.clip(1.0 - limit * (1.0 - device) ** bend, 0.0, 1.0))


def inks_of(name: str) -> int:
    """How many inks a printer has; of those known by their channels alone, three."""
    return 6 if name.startswith("spectral") else 4 if name.startswith("halftone") else 3


def with_inks(name: str, laid: Array) -> Print:
    """A printer that lays only these shares of its inks, shape (inks,) or (n, inks)."""
    who = printer(name)
    if isinstance(who, SimulatedPrinter):
        return lambda device: spectra_to_lab(
            who._layered(who.separation.amounts(device) * laid, "M1"), who.wavelengths
        )
    if name.startswith("halftone"):
        return HALFTONES[name](laid=laid).lab
    return lambda device: who.lab(1.0 - (1.0 - device) * laid)  # type: ignore[attr-defined]


def proof(name: str, accident: str, seed: int = 0) -> Reading:
    """Give the proof of a printer's correction as it measures after an accident, or none."""
    who, curve = printer(name), corrected(name).curve
    lab: Print = who.lab  # type: ignore[attr-defined]
    sent = curve.apply(PROOF)
    if accident == "not sent through it":
        sent = PROOF
    elif accident == "sent through twice":
        sent = curve.apply(sent)
    elif accident == "none, another sheet":
        shares = np.random.default_rng(1000 + seed).normal(0.0, SHEETS, 3)
        lab = lambda device: who.lab(np.clip(1.0 - (1.0 - device) * (1.0 + shares), 0.0, 1.0))  # noqa: E731
    elif accident == "another paper":
        shift = np.array([-1.5, 0.4, 5.0])
        lab = lambda device: who.lab(device) + shift * (who.lab(device)[:, :1] / 96.0)  # noqa: E731
    elif accident == "half-dried":
        hours = 0.3
        if name.startswith("spectral"):
            lab = lambda device: who.lab(device, hours=hours)  # noqa: E731
        else:
            lab = _more_ink(lab, 0.035)
    elif accident == "another setting, lighter":
        lab = _another_setting(lab, 0.85, 1.0)
    elif accident == "another setting, bent":
        lab = _another_setting(lab, 0.93, 1.25)
    elif accident == "converted from gamma 2.2 to 1.8":
        sent = sent ** (2.2 / 1.8)
    elif accident == "15 % of its magenta left":
        lab = with_inks(name, np.where(np.arange(inks_of(name)) == 1, 0.15, 1.0))
    elif accident == "another printer's correction":
        sent = corrected("random 3" if name != "random 3" else "TR 006").curve.apply(PROOF)
    elif accident == "another aim's correction":
        sent = corrected(name, aim="srgb").curve.apply(PROOF)
    elif accident == "a toned correction":
        sent = corrected(name, toning="yellow-brown").curve.apply(PROOF)
    return noisy_sheet(PROOF, lab(sent), seed)


ACCIDENTS = {
    "none": None,
    "none, another sheet": None,
    "not sent through it": "like the uncorrected one",
    "sent through twice": "through the correction twice",
    "another paper": "another paper",
    "half-dried": "not dry",
    "another setting, lighter": "media setting",
    "another setting, bent": "media setting",
    "converted from gamma 2.2 to 1.8": "a conversion of its values",
    "15 % of its magenta left": "too little magenta being printed",
    "another printer's correction": "another correction",
    "another aim's correction": "another correction",
    "a toned correction": "another correction",
}
"""Accidents, and what the first sentence must name."""
