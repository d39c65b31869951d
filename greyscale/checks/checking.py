"""The checks of one reading: explain what does not fit, look at each value, say what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.libraries import numpy_on_one_thread
from greyscale.checks.case import Case, lay_out
from greyscale.checks.finding import LEAST, CheckResult, Finding
from greyscale.checks.identity import another_chart
from greyscale.checks.order import EXCHANGED
from greyscale.checks.search import (
    BANDED,
    FEWEST,
    LEAST_RANGE,
    MOST_MISTAKES,
    MOST_TOGETHER,
    PAGE_CHANGES,
    PAPER_READ,
    TWO_SHEETS,
    Explanation,
    explain,
    unsearched,
)
from greyscale.checks.values import (
    ACROSS_EDGE,
    COPIED,
    DISAGREE,
    EDGE_OR_SPOILT,
    KINDS,
    NEGATIVE,
    OUT_OF_LINE,
    REVERSAL,
    SATURATED,
    SCATTER,
    SPIKE,
    judged_singly,
    listed,
    scatter,
)
from greyscale.colorimetry.arrays import Array, medians
from greyscale.readings.assemble import COARSE
from greyscale.readings.iso28178 import SKIPPED, ZEROED
from greyscale.readings.layout import Layout
from greyscale.readings.reading import Reading

# Does the reading follow its chart at all?

WRONG_LAYOUT = "wrong layout"
UPSIDE_DOWN = "levels upside down"

_SCALE = 20.0  # Variance, over the believed one, from which on a reading does not fit its chart.
_ASIDE = 0.35  # Share of the patches, set aside, from which on the same is said.
_UNRELATED = 0.7  # Rank correlation of L* and level under which the two are not of one chart,
_FOLLOWING = 0.97  # and from which on they are.


def misfit(case: Case, explanation: Explanation) -> Finding | None:
    """Say what is wrong when even the best explanation leaves a reading that fits nowhere."""
    final = explanation.final
    measured = np.flatnonzero(explanation.rows >= 0)
    L = case.reading.lab[explanation.rows[measured], 0]
    level = case.device[measured].mean(axis=1)
    if len(measured) < FEWEST or np.ptp(level) < LEAST_RANGE:
        return None
    agreement = rank_correlation(L, level)
    if agreement < -_UNRELATED:
        return Finding(
            kind=UPSIDE_DOWN,
            where="the whole reading",
            probability=0.995,
            found=f"L* falls as the level rises (rank correlation {agreement:.2f}): black stands "
            "where paper should.",
            advice="Check whether the device values are amounts of ink: level 0 is black, 1 is "
            "paper.",
        )
    if final.scale < _SCALE and len(explanation.set_aside) < _ASIDE * len(case):
        return None
    if agreement > _FOLLOWING:
        sd = float(medians(np.sqrt(final.patch_misfit / 3)) * final.left_out[1].mean())
        return scatter(
            f"L* rises with level, but values scatter around any smooth curve by about ΔE {sd:.1f}."
        )
    return Finding(
        kind=WRONG_LAYOUT,
        where="the whole reading",
        probability=0.995 if agreement < _UNRELATED else 0.85,
        found="The values do not follow the chart's tones (rank correlation of L* and level "
        f"{agreement:.2f}), and turning, swapping or shifting strips does not mend it.",
        advice="This is probably the layout of another chart, or of another shuffle of this one: "
        "give the layout that was made with the printed chart, or read again.",
    )


def rank_correlation(first: Array, second: Array) -> float:
    """Return Spearman's rank correlation of two arrays (n,); ties by order.

    Examples
    --------
    >>> rank_correlation(np.array([1.0, 2.0, 9.0]), np.array([3.0, 5.0, 6.0]))
    1.0
    """
    if len(first) < 2:
        return 1.0
    ranks = [np.argsort(np.argsort(values, kind="stable")) for values in (first, second)]
    n = len(first)
    return round(1.0 - 6.0 * float(np.sum((ranks[0] - ranks[1]) ** 2)) / (n * (n * n - 1)), 12)


# Which findings say again what another one has said better.

_OVER_THE_PAGE = (PAGE_CHANGES, BANDED, TWO_SHEETS)
_MOVED = (EXCHANGED, PAPER_READ)
_CROWD = 4
_SINGLE = (ACROSS_EDGE, EDGE_OR_SPOILT, OUT_OF_LINE)
_LESSER = (REVERSAL, *_SINGLE)
_SPECTRUM = (NEGATIVE, COPIED, SPIKE, SATURATED)


def without_echoes(findings: Sequence[Finding]) -> list[Finding]:
    """Leave out findings whose cause another finding names.

    Repeats disagree where a patch is spoilt or the page changes; a patch is out of line where its
    spectrum is wrong; a further sheet among strips that were found to be of one is its remainder.
    """
    decisive = any(finding.kind in (WRONG_LAYOUT, UPSIDE_DOWN) for finding in findings)
    over_the_page = any(finding.kind in _OVER_THE_PAGE for finding in findings)
    misread = {name for finding in findings if finding.misread for name in finding.ids}
    wrong_spectra = _ids(findings, _SPECTRUM)
    spoilt = wrong_spectra | _ids(findings, _SINGLE) | _ids(findings, (PAPER_READ,))
    kept: list[Finding] = []
    for finding in findings:
        own = set(finding.ids)
        if decisive and finding.kind in (DISAGREE, SCATTER, *_LESSER):
            continue
        if finding.kind == DISAGREE and (over_the_page or own & spoilt):
            continue
        if finding.kind == REVERSAL and own & misread:
            continue
        if finding.kind in _SINGLE and own & wrong_spectra:
            continue
        if finding.kind == TWO_SHEETS and own & _ids(kept, (TWO_SHEETS,)):
            continue
        kept.append(finding)
    return kept


def one_of_a_crowd(findings: Sequence[Finding], order: Sequence[str]) -> list[Finding]:
    """Make one finding of many single patches that do not fit, where strips are not known.

    A strip that was misread then shows as a crowd of patches out of line; `order` is that of
    their ids.
    """
    crowd = [finding for finding in findings if finding.kind in (*_SINGLE, *_MOVED)]
    if len(crowd) < _CROWD:
        return list(findings)
    named = {name for finding in crowd for name in finding.ids}
    ids = tuple(name for name in order if name in named)
    one = Finding(
        kind="values out of order",
        where=listed(list(ids)),
        probability=1.0 - 0.5 ** len(crowd),
        found=f"{len(ids)} values do not fit their patches, as if a strip had been misread; which "
        "one, and how, cannot be told without the chart's layout.",
        advice="Give the layout with --layout, or read again.",
        ids=ids,
    )
    return [one, *(finding for finding in findings if finding not in crowd)]


def _ids(findings: Sequence[Finding], kinds: Sequence[str]) -> set[str]:
    return {name for finding in findings if finding.kind in kinds for name in finding.ids}


REPAIRED = "REPAIRED"
"""The keyword under which a repaired reading says what was put right."""


@numpy_on_one_thread
def check(reading: Reading, layout: Layout | None = None) -> CheckResult:
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
    for kind in KINDS:
        found.extend(kind(case, explanation))
    found = [finding for finding in found if finding.probability >= LEAST]
    found = without_echoes(found)
    if len(case.strips) == 1:
        found = one_of_a_crowd(found, case.ids)
    found.sort(key=lambda finding: (not finding.misread, -finding.probability))
    other = another_chart(case.reading)
    if other is not None:
        # What else does not fit follows from it.
        found.insert(0, other)
    repaired = _repaired(case, explanation, found) if wrong is None else None
    spoilt = judged_singly(case, explanation)
    return CheckResult(reading, tuple(found), repaired, _remarks(case, explanation), spoilt)


def refuse_if_misread(reading: Reading, layout: Layout | None = None) -> CheckResult:
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
    said = (COARSE, ZEROED, SKIPPED)
    remarks = [remark for remark in case.reading.remarks if remark.startswith(said)]
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
