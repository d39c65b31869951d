"""The log's readings, analysed alike, as a trend needs them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NeutralAim
from greyscale.aims.tolerances import DEFAULT_TOLERANCE
from greyscale.aims.tone import DEFAULT_SCALING, DEFAULT_TONE_AIM, ToneAim
from greyscale.analysis.analyse import analyse
from greyscale.analysis.trend import DatedAnalysis
from greyscale.correction.own_aims import neutral_aim_of, tone_aim_of
from greyscale.records.entries import Entry, ReadingDetails
from greyscale.records.find import entry_of
from greyscale.records.print_log import PrintLog
from greyscale.records.take_out import correction_of, reading_of


def dated_analyses(
    log: PrintLog,
    entries: Sequence[Entry],
    *,
    tolerance: str = DEFAULT_TOLERANCE,
    watched: Callable[[Sequence[Entry]], Iterable[Entry]] = iter,
) -> tuple[DatedAnalysis, ...]:
    """Analyse readings that were printed and measured alike.

    Prints made through a correction are held against that correction's own aims, all others
    against the usual ones: what is asked is whether they change, not whether they are good.

    Parameters
    ----------
    entries
        Of readings, one group of `greyscale.records.alike.groups`.
    tolerance
        The grade to judge by.
    watched
        Gives the entries one by one, as to show how far the work is.

    Raises
    ------
    BadInput
        If a reading can no longer be read, or has no ramp.
    """
    aim, scaling, neutral = _aims(log, entries)
    return tuple(
        DatedAnalysis(
            entry.id,
            entry.moment,
            analyse(
                replace(reading_of(log, entry), name=entry.name),
                aim=aim,
                scaling=scaling,
                neutral=neutral,
                lights=(),
                tolerance=tolerance,
            ),
        )
        for entry in watched(entries)
    )


def _aims(log: PrintLog, entries: Sequence[Entry]) -> tuple[str | ToneAim, str, NeutralAim]:
    details = entries[0].details
    assert isinstance(details, ReadingDetails)
    if details.through is None:
        return DEFAULT_TONE_AIM, DEFAULT_SCALING, DEFAULT_NEUTRAL_AIM
    correction = correction_of(log, entry_of(log, details.through))
    return tone_aim_of(correction), correction.scaling, neutral_aim_of(correction)
