"""Whether a reading can be of a print that a correction was made for."""

from __future__ import annotations

from greyscale.base.errors import BadInput
from greyscale.base.nearest import same_name
from greyscale.correction.correct import Correction
from greyscale.readings.reading import Reading


def refuse_another_print(reading: Reading, correction: Correction) -> None:
    """Refuse a reading that tells of another printer, paper or way of measuring.

    Only what both tell is compared; names without regard to case and spaces.

    Raises
    ------
    BadInput
        Naming what differs.
    """
    told = (
        ("printer", reading.printer, correction.printer),
        ("paper", reading.paper, correction.paper_name),
        ("measuring condition", reading.condition, correction.condition),
        ("backing", reading.backing, correction.backing),
        ("observer", reading.observer, correction.observer),
    )
    for what, found, wanted in told:
        if found and wanted and not same_name(found, wanted):
            raise BadInput(
                f"the {what} is '{found}', but the correction '{correction.name}' was made for "
                f"'{wanted}'; give a reading that belongs to the correction",
                reading.source,
            )
