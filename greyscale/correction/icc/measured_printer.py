"""The printer that an amended profile is for, from the evidence of its readings."""

from __future__ import annotations

import numpy as np

from greyscale.correction.evidence import Evidence
from greyscale.correction.icc.amend import LEAST_REACH, Printer
from greyscale.correction.printer_model import PrinterModel


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
    reach = float(np.median(beside)) if beside.size else 0.0
    return Printer(model.lab, evidence.paper, max(LEAST_REACH, reach))
