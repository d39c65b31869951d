"""What the checks of a reading found: its report, and its JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from greyscale.base.rests_on import Support, support_data, supports
from greyscale.checks.finding import CheckResult, Finding, spoilt_data
from greyscale.reporting.json_output import Data
from greyscale.reporting.next_step import after_check
from greyscale.reporting.page import Prose, Report, Section, Subheading

_MOST_NAMED = 3

NOTHING_TO_REPAIR = (
    "Nothing in it can be put right without reading again, so there is no repaired reading."
)


def check_report(
    result: CheckResult, further: str = "", layout: Path | None = None, repaired: Path | None = None
) -> Report:
    """Return where, how sure, what was found and what to do, the surest first; then the verdict.

    `further` is a sentence on the repaired reading, if one was asked for.
    """
    found = [
        block
        for one in result.findings
        for block in (
            Subheading(heading(one), at_once=True),
            Prose(f"{one.found}\n{one.advice}", at_once=True),
        )
    ]
    written = further not in ("", NOTHING_TO_REPAIR)
    return Report(
        kind="Check of a reading",
        title=result.reading.name,
        sentences=(verdict(result), *([] if written else filter(None, [further]))),
        made=(further,) if written else (),
        sections=(Section("", tuple(found)),) if found else (),
        rests_on=_rests_on(result),
        next_step=after_check(result, layout, repaired),
        inputs=(result.reading.source,),
        remarks=result.remarks,
        named=False,
    )


def _rests_on(result: CheckResult) -> tuple[Support, ...]:
    return supports("cielab", *(("weights", "cie-tables") if result.reading.spectral else ()))


def verdict(result: CheckResult) -> str:
    """Return the one sentence that matters.

    Returns
    -------
    A sentence such as "cotton rag, 147 patches: certainly misread (2 findings)."
    """
    count = len(result.findings)
    about = f"{result.reading.name}, {len(result.reading)} patches"
    if result.clean:
        return f"{about}: nothing found, the reading can be used."
    findings = "1 finding" if count == 1 else f"{count} findings"
    if result.certain:
        return f"{about}: certainly misread ({findings})."
    if any(finding.misread for finding in result.findings):
        first = result.findings[0]
        named = f"{first.where}, {first.kind}" if count == 1 else f"{findings}, first {first.where}"
        return f"{about}: perhaps misread ({named})."
    return f"{about}: every value is with its patch; mind what was found ({findings})."


def checks_in_a_report(results: Sequence[CheckResult]) -> str:
    """Say what came of the checks of the readings that a report is of.

    Examples
    --------
    >>> checks_in_a_report([])
    'not made (--unchecked)'
    """
    if not results:
        return "not made (--unchecked)"
    found = [(result.reading.name, one) for result in results for one in result.findings]
    if not found:
        return "order of the patches and single values: nothing found"
    named = "; ".join(f"{name}, {heading(one)}" for name, one in found[:_MOST_NAMED])
    more = f"; and {len(found) - _MOST_NAMED} more" if len(found) > _MOST_NAMED else ""
    return f"{named}{more}: see greyscale check"


def heading(finding: Finding) -> str:
    """Return where, what and how sure, as "Strip C: strip read backwards (certain)"."""
    where = finding.where[:1].upper() + finding.where[1:]
    return f"{where}: {finding.kind} ({finding.certainty})"


def check_data(result: CheckResult) -> Data:
    """Return the result of the checks as plain data."""
    return {
        "schema": "greyscale/check/1",
        "reading": {
            "name": result.reading.name,
            "source": result.reading.source,
            "patches": len(result.reading),
        },
        "clean": result.clean,
        "certainly_misread": result.certain,
        "spoilt": spoilt_data(result.spoilt),
        "findings": [
            asdict(one) | {"certainty": one.certainty, "probability": round(one.probability, 4)}
            for one in result.findings
        ],
        "repaired_patches": None if result.repaired is None else len(result.repaired),
        "remarks": list(result.remarks),
        "rests_on": support_data(_rests_on(result)),
    }
