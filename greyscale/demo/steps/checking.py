"""The demo's check of a reading: a strip read backwards, found and put right."""

from __future__ import annotations

from greyscale.checks import check
from greyscale.demo.steps.charting import CHART
from greyscale.demo.steps.printing import FIRST_READING
from greyscale.demo.workshop import READING, Step, Told, Workshop
from greyscale.readings.formats import read
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import read_layout


def _check(workshop: Workshop) -> Told:
    layout = read_layout(workshop.path(f"{CHART}.txt"))
    result = check(read(workshop.path(FIRST_READING)), layout)
    if result.repaired is None:
        raise RuntimeError("the check of the demo's first reading found nothing to repair")
    write(result.repaired, workshop.path(READING))
    return Told(
        "Every patch is held against its neighbours in tone and its repeats elsewhere on the "
        "page. What is wrong, and can be put right without guessing a value, is put right:",
        details=tuple(
            f"{finding.kind}, {finding.where} ({finding.certainty}): {finding.found}"
            for finding in result.findings
        ),
        commands=(f"greyscale check {FIRST_READING} --layout {CHART}.txt --repaired {READING}",),
        files=(READING,),
    )


CHECK = Step("Check the reading before believing it", _check)
