"""The checks of one reading: explain what does not fit, look at each value, say what was found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.threads import on_one_thread
from greyscale.checks import values
from greyscale.checks.case import Case, ChartLayout, lay_out
from greyscale.checks.echoes import gathered, without_echoes
from greyscale.checks.finding import LEAST, CheckResult, Finding
from greyscale.checks.fit import misfit
from greyscale.checks.identity import another_chart
from greyscale.checks.search import (
    FEWEST,
    LEAST_RANGE,
    MOST_MISTAKES,
    MOST_TOGETHER,
    Explanation,
    explain,
    unsearched,
)
from greyscale.checks.values.out_of_line import judged_singly
from greyscale.readings.reading import Reading

REPAIRED = "REPAIRED"
"""The keyword under which a repaired reading says what was put right."""


@on_one_thread
def check(reading: Reading, layout: ChartLayout | None = None) -> CheckResult:
    """Check a reading, from its values and its layout alone: no printer is known.

    Parameters
    ----------
    reading
        As it was measured.
    layout
        The chart's layout. Without it, the strips are those of the reading's own places; where it
        has none, what can be said of the whole reading is said.

    Returns
    -------
    CheckResult
        Findings, misreadings first and surest first; the repaired reading, if there was a
        reversible mistake.

    Raises
    ------
    BadInput
        If the layout is not the one that this reading is of.
    """
    case = lay_out(reading, layout)
    explanation = explain(case) if _has_order(case) else unsearched(case)
    wrong = misfit(case, explanation)
    if wrong is not None:
        explanation = replace(unsearched(case), findings=(wrong,))
    found = list(explanation.findings)
    for kind in values.KINDS:
        found.extend(kind(case, explanation))
    found = [finding for finding in found if finding.probability >= LEAST]
    found = without_echoes(found)
    if len(case.strips) == 1:
        found = gathered(found, case.ids)
    found.sort(key=lambda finding: (not finding.misread, -finding.probability))
    other = another_chart(case.reading)
    if other is not None:
        # What else does not fit follows from it.
        found.insert(0, other)
    repaired = _repaired(case, explanation, found) if wrong is None else None
    spoilt = judged_singly(case, explanation)
    return CheckResult(reading, tuple(found), repaired, _remarks(case, explanation), spoilt)


def refuse_if_misread(reading: Reading, layout: ChartLayout | None = None) -> CheckResult:
    """Check a reading, refuse it if it is certainly misread, and else give what was found.

    Raises
    ------
    BadInput
        With what is certain, and what to do.
    """
    result = check(reading, layout)
    certain = [f for f in result.findings if f.misread and f.certainty == "certain"]
    if certain:
        first = certain[0]
        more = f" ({len(certain) - 1} more like it)" if len(certain) > 1 else ""
        raise BadInput(
            f"certainly misread: {first.kind}, {first.where}{more}. {first.found} See "
            "`greyscale check`, which can also write a repaired reading; `--unchecked` takes "
            "the reading as it is",
            reading.source,
        )
    return result


def _has_order(case: Case) -> bool:
    """Say whether there are tones enough, and not too many, for a mistake in order to show."""
    measured = case.rows >= 0
    levels = case.device[measured].mean(axis=1)
    enough = levels.size >= FEWEST and len(case) <= MOST_TOGETHER
    return enough and float(np.ptp(levels)) > LEAST_RANGE


def _repaired(case: Case, explanation: Explanation, found: list[Finding]) -> Reading | None:
    if not any(finding.repaired for finding in found):
        return None
    reading = case.reading
    done = "; ".join(f"{finding.kind}: {finding.where}" for finding in found if finding.repaired)
    return replace(
        case.rearranged(explanation.rows),
        fields={**reading.fields, REPAIRED: done},
        remarks=(*reading.remarks, f"Repaired: {done}."),
    )


def _remarks(case: Case, explanation: Explanation) -> tuple[str, ...]:
    remarks = []
    if len(case.strips) == 1:
        remarks.append(
            "The strips are not known: strips swapped or read backwards cannot be told apart; "
            "give the chart's layout."
        )
    if len(case) > MOST_TOGETHER:
        remarks.append(
            f"The order of more than {MOST_TOGETHER} patches is not checked, only each patch by "
            "itself."
        )
    if explanation.stopped:
        remarks.append(
            f"More than {MOST_MISTAKES} values do not fit; the search ended there: read the sheet "
            "again, strip by strip, and check it with the chart's layout."
        )
    if int(np.sum(case.rows >= 0)) < FEWEST:
        remarks.append(f"With fewer than {FEWEST} patches nothing can be said of their order.")
    if not case.reading.spectral:
        remarks.append("There are no spectra to check, only CIELAB.")
    return tuple(remarks)
