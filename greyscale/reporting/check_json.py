"""What the checks of a reading found, as JSON."""

from __future__ import annotations

from greyscale.base.rests_on import support_data, supports
from greyscale.checks import CheckResult, Finding
from greyscale.checks.spoilt import spoilt_data
from greyscale.reporting.json_output import Data

CHECK_SCHEMA = "greyscale/check/1"


def check_data(result: CheckResult) -> Data:
    """Give the result of the checks as plain data."""
    return {
        "schema": CHECK_SCHEMA,
        "reading": {
            "name": result.reading.name,
            "source": result.reading.source,
            "patches": len(result.reading),
        },
        "clean": result.clean,
        "certainly_misread": result.certain,
        "spoilt": spoilt_data(result.spoilt),
        "findings": [finding_data(finding) for finding in result.findings],
        "repaired_patches": None if result.repaired is None else len(result.repaired),
        "remarks": list(result.remarks),
        "rests_on": support_data(
            supports("cielab", *(("weights", "cie-tables") if result.reading.spectral else ()))
        ),
    }


def finding_data(finding: Finding) -> Data:
    """Give one finding as plain data."""
    return {
        "kind": finding.kind,
        "where": finding.where,
        "certainty": finding.certainty,
        "probability": round(finding.probability, 4),
        "found": finding.found,
        "advice": finding.advice,
        "ids": list(finding.ids),
        "lost": list(finding.lost),
        "misread": finding.misread,
        "repaired": finding.repaired,
    }
