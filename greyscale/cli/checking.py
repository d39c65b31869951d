"""The checks that every command makes of its readings before it takes them as measured."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greyscale.readings.reading import Reading


def checked(readings: Iterable[Reading], unchecked: bool) -> str:
    """Refuse readings that are certainly misread; give what is to be said of the checks.

    Parameters
    ----------
    unchecked
        Whether the person wants them taken as they are.

    Raises
    ------
    BadInput
        For the first one that is certainly misread.
    """
    from greyscale.checks import refuse_if_misread
    from greyscale.reporting.check_words import checks_in_a_report

    return checks_in_a_report([] if unchecked else [refuse_if_misread(one) for one in readings])
