"""The printer that an amended profile is for, from the evidence of its readings."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.correction.record import Evidence
from greyscale.icc.amend import LEAST_REACH, Forward, Printer
from greyscale.printer.model import PrinterModel

LEVELS = 129
"""Levels at which the model is tabulated: a step is two 8-bit code values."""

BESIDE = 7
"""Steps beside the axis, in each of the two differences between channels."""


def measured_printer(model: PrinterModel, evidence: Evidence) -> Printer:
    """Give the printer as its model has it, trusted as far as near-neutral patches reach.

    Parameters
    ----------
    model
        Fitted to the evidence.
    evidence
        Readings of charts printed with the profile's driver settings, colour management off.
    """
    spread = np.ptp(evidence.device, axis=1)
    beside = spread[spread > 1e-4]
    reach = max(LEAST_REACH, float(np.median(beside)) if beside.size else 0.0)
    return Printer(tabulated(model.lab, reach), evidence.paper, reach)


def tabulated(lab: Forward, reach: float) -> Forward:
    """Tabulate a model near the grey axis, so that the many points of a profile cost little.

    By mean level, R less G and G less B; straight between, held beyond the reach.
    """
    from scipy.interpolate import RegularGridInterpolator

    level = np.linspace(0.0, 1.0, LEVELS)
    difference = np.linspace(-reach, reach, BESIDE)
    m, u, v = np.meshgrid(level, difference, difference, indexing="ij")
    G = m + (v - u) / 3
    device = np.stack([G + u, G, G - v], axis=-1).reshape(-1, 3)
    table = lab(np.clip(device, 0.0, 1.0)).reshape(*m.shape, 3)
    interpolator = RegularGridInterpolator((level, difference, difference), table)

    def forward(values: Array) -> Array:
        R, G, B = values[:, 0], values[:, 1], values[:, 2]
        beside = np.clip(np.stack([R - G, G - B], axis=-1), -reach, reach)
        at = np.concatenate([np.clip(values.mean(axis=1), 0, 1)[:, np.newaxis], beside], axis=1)
        return np.asarray(interpolator(at))

    return forward
