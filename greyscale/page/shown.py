"""Which reading of a paper is shown: the one asked for, else the last that matters."""

from __future__ import annotations

from dataclasses import dataclass

from greyscale.page.papers import Made, Measured, Paper, Sheet
from greyscale.page.state import state_of


@dataclass(frozen=True, eq=False)
class Shown:
    """A reading, the sheet that it is of, and the correction that it was printed through."""

    measured: Measured
    sheet: Sheet | None
    made: Made | None


def shown_of(paper: Paper, name: str | None) -> Shown | None:
    """Choose the reading to show; None where there is none.

    Parameters
    ----------
    name
        Of the file that is asked for; None takes what the next step is about, then the last
        reading of a sheet, then any.
    """
    asked = next((one for one in paper.readings if one.name == name), None)
    measured = asked or state_of(paper).measured or _last(paper)
    if measured is None:
        return None
    sheet = paper.sheet_of(measured)
    return Shown(measured, sheet, None if sheet is None else paper.correction_through(sheet))


def _last(paper: Paper) -> Measured | None:
    """The last reading of the latest correction's proof; else of the first sheets; else any."""
    through = [one for one in paper.sheets if one.through and one.readings]
    current = paper.corrections[-1] if paper.corrections else None
    own = [one for one in through if paper.correction_through(one) is current]
    sheets = own or [one for one in paper.sheets if not one.through and one.readings]
    if sheets:
        return sheets[-1].readings[-1] if own else sheets[0].readings[-1]
    readings = paper.readings
    return readings[-1] if readings else None
