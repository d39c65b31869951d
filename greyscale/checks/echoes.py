"""Which findings say again what another one has said better."""

from __future__ import annotations

from collections.abc import Sequence

from greyscale.checks.explanations import exchanged, page_changes, paper_read, two_sheets
from greyscale.checks.finding import Finding
from greyscale.checks.fit import UPSIDE_DOWN, WRONG_LAYOUT
from greyscale.checks.values import (
    out_of_line,
    repeats,
    reversals,
    saturated,
    spectra,
    spikes,
)
from greyscale.checks.values.missing import listed

_OVER_THE_PAGE = (page_changes.KIND, two_sheets.KIND)
_MOVED = (exchanged.KIND, paper_read.KIND)
_CROWD = 4
_SINGLE = (out_of_line.EDGE_KIND, out_of_line.KIND)
_LESSER = (reversals.KIND, *_SINGLE)
_SPECTRUM = (spectra.NEGATIVE, spectra.COPIED, spikes.KIND, saturated.KIND)


def without_echoes(findings: Sequence[Finding]) -> list[Finding]:
    """Leave out findings whose cause another finding names.

    Repeats disagree where a patch is spoilt or the page changes; a patch is out of line where its
    spectrum is wrong; a further sheet among strips that were found to be of one is its remainder.
    """
    decisive = any(finding.kind in (WRONG_LAYOUT, UPSIDE_DOWN) for finding in findings)
    over_the_page = any(finding.kind in _OVER_THE_PAGE for finding in findings)
    misread = {name for finding in findings if finding.misread for name in finding.ids}
    wrong_spectra = _ids(findings, _SPECTRUM)
    spoilt = wrong_spectra | _ids(findings, _SINGLE) | _ids(findings, (paper_read.KIND,))
    kept: list[Finding] = []
    for finding in findings:
        own = set(finding.ids)
        if decisive and finding.kind in (repeats.KIND, repeats.SCATTER, *_LESSER):
            continue
        if finding.kind == repeats.KIND and (over_the_page or own & spoilt):
            continue
        if finding.kind == reversals.KIND and own & misread:
            continue
        if finding.kind in _SINGLE and own & wrong_spectra:
            continue
        if finding.kind == two_sheets.KIND and own & _ids(kept, (two_sheets.KIND,)):
            continue
        kept.append(finding)
    return kept


def gathered(findings: Sequence[Finding], order: Sequence[str]) -> list[Finding]:
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
