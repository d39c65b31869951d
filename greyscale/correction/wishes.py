"""What is asked of a correction, where some of it follows from the correction before."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from greyscale.correction.record import Correction, Options


def options(previous: Correction | None = None, **asked: Any) -> Options:
    """Give the options of a correction: as asked, else as of the one before, else the usual ones.

    Parameters
    ----------
    previous
        The correction that the readings were printed through, if any.
    asked
        Fields of `Options`; None stands for "not asked".

    Examples
    --------
    >>> options(aim="srgb", neutral=None).aim
    'srgb'
    """
    given = {name: value for name, value in asked.items() if value is not None}
    start = Options() if previous is None else _as_before(previous)
    if "lights" in given:
        start = replace(start, weights=None)
    return replace(start, **given)


def _as_before(previous: Correction) -> Options:
    same = {field.name for field in fields(Options)} & {
        "name", "aim", "scaling", "neutral", "toning", "path", "bits", "printer", "settings",
    }  # fmt: skip
    return Options(
        **{name: getattr(previous, name) for name in same},
        paper=previous.paper_name,
        points=len(previous.curve),
        previous=previous,
        lights=tuple(one.light for one in previous.own_lights),
        weights={one.name: one.weight for one in previous.own_lights},
        worst_share=previous.worst_share,
        observer=previous.observer,
    )
