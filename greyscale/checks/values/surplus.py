"""Are there measurements for which the chart has no patch?"""

from __future__ import annotations

from collections.abc import Iterator

from greyscale.checks.case import Case
from greyscale.checks.finding import Finding
from greyscale.checks.search import Explanation
from greyscale.checks.values.missing import listed

KIND = "surplus patch"


def findings(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the measurements that stand under no patch of the chart."""
    used = set(explanation.rows.tolist())
    rows = [row for row in case.surplus if row not in used]
    if rows:
        reading = case.reading
        names = [reading.ids[row] for row in rows]
        yield Finding(
            kind=KIND,
            where=listed(names),
            probability=1.0,
            found=f"{len(rows)} measurement{'s' if len(rows) > 1 else ''} for which the chart "
            "has no patch.",
            advice="Was only this chart read, and only once? Take them out of the "
            "reading, or give the layout that they belong to.",
            ids=tuple(names),
            misread=False,
        )
