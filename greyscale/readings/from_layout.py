"""Device values from the chart's layout, for a file that holds nothing but measurements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from greyscale.base.errors import BadInput
from greyscale.readings.device_values import RGB, has_device_values
from greyscale.readings.layout import Layout
from greyscale.readings.measurements import Measurements

FROM_LAYOUT = "Device values are those of the layout"

_NAMED = 6
"""Patches that a remark names before it stops."""


def with_device_values(
    stated: Measurements, layout: Layout, source: object
) -> tuple[Measurements, tuple[str, ...]]:
    """Give the measurements with the device values (0 to 1) and places of their chart.

    A patch is found in the layout by its id, else by its place, else by its position in the file
    where both have as many patches. What a file states itself is kept.

    Returns
    -------
    The measurements of the patches that the layout has, and what was decided, as sentences.

    Raises
    ------
    BadInput
        If the layout is not this reading's.
    """
    if has_device_values(tuple(stated.device)):
        return stated, ()
    slots, how = _slots(stated, layout)
    found = [row for row, slot in enumerate(slots) if slot is not None]
    if not found:
        raise BadInput(
            f"has no patch of the layout '{layout.name}' ({len(layout)} patches; "
            f"{len(stated.ids)} here); give the layout that was made with the chart",
            source,
        )
    remarks = [f"{FROM_LAYOUT} '{layout.name}', by {how}."]
    surplus = [stated.ids[row] for row, slot in enumerate(slots) if slot is None]
    if surplus:
        named = ", ".join(surplus[:_NAMED]) + (", ..." if len(surplus) > _NAMED else "")
        remarks.append(f"Left out, since the layout does not have them: {named}.")
    index = [slot for slot in slots if slot is not None]
    kept = replace(
        stated.select(found),
        device=dict(zip(RGB, layout.device[index].T, strict=True)),
        places=tuple(layout.places[slot] for slot in index),
    )
    return kept, tuple(remarks)


def _slots(stated: Measurements, layout: Layout) -> tuple[Sequence[int | None], str]:
    """Give each patch's index in the layout, or None; and by what it was found."""
    by_id = {name: slot for slot, name in enumerate(layout.ids)}
    by_place = {place: slot for slot, place in enumerate(layout.places)}
    ways = [(stated.ids, by_id, "id"), (stated.ids, by_place, "place")]
    if stated.places is not None:
        ways.append((stated.places, by_place, "place"))
    tried = [([index.get(name) for name in names], how) for names, index, how in ways]
    slots, how = max(tried, key=lambda way: sum(slot is not None for slot in way[0]))
    if all(slot is None for slot in slots) and len(stated.ids) == len(layout):
        return range(len(layout)), "position in the file"
    return slots, how
