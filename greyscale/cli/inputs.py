"""What commands take in: readings, checked before they are taken as measured, and pictures."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from greyscale.base.threads import numpy_on_one_thread

if TYPE_CHECKING:
    from greyscale.charts.picture_tones import PictureTones
    from greyscale.readings.fields import Ramp
    from greyscale.readings.layout import Layout
    from greyscale.readings.reading import Reading


def chart_of(layout: Path | None) -> Layout | None:
    """Read a chart's layout, if one is given."""
    if layout is None:
        return None
    from greyscale.readings.layout import read_layout

    return read_layout(layout)


def taken(
    paths: Sequence[Path],
    layout: Path | None,
    unchecked: bool,
    *,
    ramp: Ramp | None = None,
    by_layout: bool = False,
) -> tuple[list[Reading], str]:
    """Read readings, one of each file; give with them what is to be said of the checks.

    Parameters
    ----------
    by_layout
        Whether they are checked against the layout as well: where all are of that one chart.

    Raises
    ------
    BadInput
        For the first one that is certainly misread.
    """
    from greyscale.readings.formats import read

    chart = chart_of(layout)
    found = [read(path, ramp=ramp, layout=chart) for path in paths]
    return found, checked(found, unchecked, chart if by_layout else None)


@numpy_on_one_thread
def checked(readings: Sequence[Reading], unchecked: bool, chart: Layout | None = None) -> str:
    """Refuse readings that are certainly misread; give what is to be said of the checks.

    Parameters
    ----------
    unchecked
        Whether the person wants them taken as they are.
    chart
        The layout of all of them, if it is known.

    Raises
    ------
    BadInput
        For the first one that is certainly misread.
    """
    from greyscale.checks.checking import refuse_if_misread
    from greyscale.cli.voice import tracked
    from greyscale.reporting.check_report import checks_in_a_report

    looked_at = [] if unchecked else tracked(readings, "Checking")
    return checks_in_a_report([refuse_if_misread(one, chart) for one in looked_at])


def counted_tones(image: Path | None) -> PictureTones | None:
    """Count a picture's tones, with a bar while it takes long; None where none is given."""
    if image is None:
        return None
    from greyscale.charts.picture_tones import picture_tones
    from greyscale.cli.voice import progress

    with progress("Counting tones") as advance:
        return picture_tones(image, advance)
