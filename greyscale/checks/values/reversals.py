"""Does L* fall where the level rises, by more than a printer's curve would?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from greyscale.checks.case import Case
from greyscale.checks.finding import Finding
from greyscale.checks.search import Explanation
from greyscale.checks.smoothness import noise_of_repeats
from greyscale.checks.values.missing import listed
from greyscale.readings.reading import AXIS_TOLERANCE

KIND = "L* falls as the level rises"

_LEAST = 2.0  # Fall of L* under which it may be the printer's,
_TIMES = 8.0  # and the same in standard deviations of one measurement.


def findings(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the tones that are darker than a lower level is."""
    measured = np.flatnonzero(explanation.rows >= 0)
    lab = case.reading.lab[explanation.rows[measured]]
    least = max(_LEAST, _TIMES * noise_of_repeats(case.device[measured], lab))
    on_axis = np.ptp(case.device[measured], axis=1) < AXIS_TOLERANCE
    slots, L = measured[on_axis], lab[on_axis, 0]
    level = case.device[slots].mean(axis=1)
    order = np.argsort(level, kind="stable")
    slots, L, level = slots[order], L[order], level[order]
    falls = np.flatnonzero((L[:-1] - L[1:] > least) & (np.diff(level) > AXIS_TOLERANCE))
    if falls.size:
        labels = [f"{case.label(int(slots[i]))} to {case.label(int(slots[i + 1]))}" for i in falls]
        worst = int(falls[np.argmax(L[falls] - L[falls + 1])])
        yield Finding(
            kind=KIND,
            where=listed(labels),
            probability=0.7,
            found=f"From level {level[worst]:.3f} to {level[worst + 1]:.3f} L* falls by "
            f"{L[worst] - L[worst + 1]:.1f}.",
            advice="Read these patches again; if it persists, the printer's tone scale reverses "
            "there.",
            ids=tuple(case.ids[slot] for slot in np.unique([slots[falls], slots[falls + 1]])),
            misread=False,
        )
