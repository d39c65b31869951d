"""The checks that every command makes of its readings before it takes them as measured."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from greyscale.base.threads import numpy_on_one_thread

if TYPE_CHECKING:
    from pathlib import Path

    from greyscale.readings.layout import Layout
    from greyscale.readings.reading import Reading


def chart_of(layout: Path | None) -> Layout | None:
    """Read a chart's layout, if one is given."""
    if layout is None:
        return None
    from greyscale.readings.layout import read_layout

    return read_layout(layout)


@numpy_on_one_thread
def checked(readings: Sequence[Reading], unchecked: bool, chart: Layout | None = None) -> str:
    """Refuse readings that are certainly misread; give what is to be said of the checks.

    Parameters
    ----------
    unchecked
        Whether the person wants them taken as they are.
    chart
        The layout of the one reading that there is, if it is known.

    Raises
    ------
    BadInput
        For the first one that is certainly misread.
    """
    from greyscale.checks import refuse_if_misread
    from greyscale.cli.progress import tracked
    from greyscale.reporting.check_words import checks_in_a_report

    looked_at = [] if unchecked else tracked(readings, "Checking")
    return checks_in_a_report([refuse_if_misread(one, chart) for one in looked_at])
