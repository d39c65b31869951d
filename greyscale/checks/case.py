"""Which measurement stands under which patch of which strip: a reading laid over its chart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.readings.layout import DEVICE_TOLERANCE, Layout, comparable, split_place
from greyscale.readings.reading import Reading

_MOST_STRIPS = 100
"""Of one sheet; names of more are something else."""


@dataclass(frozen=True, eq=False)
class Strip:
    """One strip of the chart.

    Attributes
    ----------
    name
        Its label.
    slots
        Indices of its patches in the case, in the order in which they are read.
    """

    name: str
    slots: Indices

    def __len__(self) -> int:
        return len(self.slots)

    @property
    def called(self) -> str:
        """What to call it in a sentence: "strip C"."""
        return f"strip {self.name}" if self.name else "the reading"


@dataclass(frozen=True, eq=False)
class Case:
    """A reading laid over its chart. A slot is a patch of the chart, a row one of the reading.

    Attributes
    ----------
    reading
        As it was given.
    ids, device, places
        Of the n slots, in the order of the strips; places are None where none are known.
    strips
        All slots, strip by strip; one nameless strip where the strips are not known.
    rows
        Shape (n,): the row that the reading itself puts in each slot, -1 where there is none.
    surplus
        Rows that the chart has no slot for.
    """

    reading: Reading
    ids: tuple[str, ...]
    device: Array
    places: tuple[str, ...] | None
    strips: tuple[Strip, ...]
    rows: Indices
    surplus: tuple[int, ...] = ()

    def __len__(self) -> int:
        return len(self.ids)

    def label(self, slot: int) -> str:
        """Return what a person finds on the chart: the place, else the id."""
        return self.ids[slot] if self.places is None else self.places[slot]

    def ids_of(self, slots: Iterable[int]) -> tuple[str, ...]:
        """Return the ids of some slots."""
        return tuple(self.ids[slot] for slot in slots)

    def strip_of(self, slot: int) -> Strip:
        """Return the strip that a slot lies in."""
        return next(strip for strip in self.strips if slot in strip.slots)

    def neighbours(self, slot: int) -> tuple[int, ...]:
        """Return the slots before and after a slot in its strip."""
        slots = self.strip_of(slot).slots
        at = int(np.flatnonzero(slots == slot)[0])
        return tuple(int(slots[i]) for i in (at - 1, at + 1) if 0 <= i < len(slots))

    def strip_number(self) -> Indices:
        """Return the number of each slot's strip, and so its place across the page; shape (n,)."""
        number = np.zeros(len(self), dtype=np.intp)
        for index, strip in enumerate(self.strips):
            number[strip.slots] = index
        return number

    def thinned(self, count: int) -> Case:
        """Return at most so many of its slots, evenly spread over the levels, in one strip."""
        if len(self) <= count:
            return self
        order = np.argsort(self.device.mean(axis=1), kind="stable")
        slots = order[np.linspace(0, len(self) - 1, count).round().astype(np.intp)]
        return replace(
            self,
            ids=self.ids_of(slots),
            device=self.device[slots],
            places=None,
            strips=(Strip("", np.arange(count, dtype=np.intp)),),
            rows=self.rows[slots],
        )

    def rearranged(self, rows: Indices) -> Reading:
        """The reading with measurements assigned otherwise; slots without a row are left out.

        Parameters
        ----------
        rows
            Shape (n,): the row whose measurement belongs in each slot, or -1.
        """
        reading, places = self.reading, self.places
        stands = np.array_equal(rows, np.arange(len(reading))) and self.ids == reading.ids
        if stands and places == reading.places and np.array_equal(self.device, reading.device):
            return reading
        slots = np.flatnonzero(rows >= 0)
        measured = reading.select(rows[slots])
        return replace(
            measured,
            ids=self.ids_of(slots),
            device=self.device[slots],
            places=None if places is None else tuple(places[slot] for slot in slots),
        )


def along_strips(place: str) -> tuple[int, str, int]:
    """Return what sorts places strip by strip: A1, A2, ... Z9, AA1; what is no place comes first.

    Examples
    --------
    >>> sorted(["AA1", "B2", "A10", "A2"], key=along_strips)
    ['A2', 'A10', 'B2', 'AA1']
    """
    strip, number = split_place(place) or ("", 0)
    return len(strip), strip, number


def lay_out(reading: Reading, layout: Layout | None = None) -> Case:
    """Lay a reading over its chart: by id, else by place, else in sequence.

    Without a layout, the strips are those of the reading's places, or of ids that are places.

    Raises
    ------
    BadInput
        If the layout is not the one that this reading is of.
    """
    if not len(reading):
        raise BadInput("holds no patch; export the reading again", reading.source)
    if layout is None:
        places = reading.places
        if places is None and _are_places(reading.ids):
            places = reading.ids
        rows = np.arange(len(reading), dtype=np.intp)
        return _in_strip_order(reading, reading.ids, reading.device, places, rows, ())
    if not layout.ids:
        raise BadInput(
            f"the layout '{layout.name}' has no patch; give the one that was made with the chart",
            reading.source,
        )
    rows, surplus = _match(reading, layout)
    device = np.asarray(layout.device, dtype=np.float64)
    _same_device(reading, device, rows, layout)
    return _in_strip_order(reading, layout.ids, device, layout.places, rows, surplus)


def _are_places(ids: Sequence[str]) -> bool:
    """Say whether ids number the patches of at least two strips from 1 on."""
    found = []
    for name in ids:
        pair = split_place(name)
        if pair is None:
            return False
        found.append(pair)
    if len(set(found)) < len(ids):
        return False
    strips = {name for name, _ in found}
    return len(strips) > 1 and {name for name, number in found if number == 1} == strips


def _in_strip_order(
    reading: Reading,
    ids: Sequence[str],
    device: Array,
    places: Sequence[str] | None,
    rows: Indices,
    surplus: tuple[int, ...],
) -> Case:
    pairs = [pair for place in places or () if (pair := split_place(place)) is not None]
    names = [name for name, _ in pairs]
    if places is None or len(names) < len(ids) or len(set(names)) > _MOST_STRIPS:
        whole = Strip("", np.arange(len(ids), dtype=np.intp))
        kept = None if places is None else tuple(places)
        return Case(reading, tuple(ids), device, kept, (whole,), rows, surplus)
    numbers = {name: number for number, name in enumerate(dict.fromkeys(names))}
    order = sorted(range(len(ids)), key=lambda i: (numbers[pairs[i][0]], pairs[i][1]))
    slots: dict[str, list[int]] = {name: [] for name in numbers}
    for slot, i in enumerate(order):
        slots[pairs[i][0]].append(slot)
    strips = [Strip(name, np.array(own, dtype=np.intp)) for name, own in slots.items()]
    return Case(
        reading,
        tuple(ids[i] for i in order),
        device[order],
        tuple(places[i] for i in order),
        tuple(strips),
        rows[order],
        surplus,
    )


def _match(reading: Reading, layout: Layout) -> tuple[Indices, tuple[int, ...]]:
    """Find the row of each slot of the layout, and the rows without a slot."""
    candidates = [(reading.ids, layout.ids)]
    if reading.places is not None:
        candidates.append((reading.places, layout.places))
    for own, charted in (comparable(*both) for both in candidates):
        row_of = {name: row for row, name in enumerate(own)}
        rows = np.array([row_of.get(name, -1) for name in charted], dtype=np.intp)
        if np.sum(rows >= 0) * 2 > min(len(own), len(charted)):
            used = set(rows.tolist())
            return rows, tuple(row for row in range(len(own)) if row not in used)
    if len(reading) == len(layout.ids):
        return np.arange(len(reading), dtype=np.intp), ()
    raise BadInput(
        f"this layout ('{layout.name}', {len(layout.ids)} patches) does not fit the reading "
        f"({len(reading)} patches): hardly any patch id is found in both; "
        "give the layout that was made with the chart",
        reading.source,
    )


def _same_device(reading: Reading, device: Array, rows: Indices, layout: Layout) -> None:
    slots = np.flatnonzero(rows >= 0)
    apart = np.max(np.abs(reading.device[rows[slots]] - device[slots]), axis=1)
    unlike = slots[apart > DEVICE_TOLERANCE]
    if not unlike.size:
        return
    slot = int(unlike[0])
    raise BadInput(
        f"this layout ('{layout.name}') does not fit the reading: {unlike.size} of {slots.size} "
        f"patches have other device values; patch {layout.ids[slot]} is "
        f"{_rgb(device[slot])} in the layout and {_rgb(reading.device[rows[slot]])} in the "
        "reading (0 to 255); give the layout that was made with the chart",
        reading.source,
    )


def _rgb(device: Array) -> str:
    return " ".join(f"{255 * value:.1f}" for value in device)
