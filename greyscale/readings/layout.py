"""What was printed where: the layout of a chart, as ISO 28178 text.

`PATCH_PLACE` (strip letter and number, as A1) and `REASON` are fields of our own, declared with
KEYWORD. Device values stand on 0-255 with decimals.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.colorimetry.arrays import Array
from greyscale.readings.about import NAME, about_file
from greyscale.readings.fields import RGB, device_values, recognise_fields
from greyscale.readings.iso28178_text import TextTable, file_text, parse_file
from greyscale.readings.source_file import to_numbers

FULL_SCALE = 255.0
"""What stands for paper white in a layout."""

DEVICE_TOLERANCE = 0.004
"""Device values (0 to 1) that differ by less are the same: one step of 8 bits."""

_PLACE = re.compile(r"[A-Z]+[1-9]\d*")
_ANY_PLACE = re.compile(r"^(.*?[A-Za-z])[-_ ]?0*(\d{1,3})$")  # However a program spells it.


def plain_id(name: str) -> str:
    """Return the id or the place of a patch without what programs spell each in their own way.

    Examples
    --------
    >>> plain_id("A01"), plain_id("a-1"), plain_id("007"), plain_id("2-11")
    ('A1', 'A1', '7', '2-11')
    """
    joined = re.sub(r"(?<=[A-Z])[\s_-]+(?=\d)", "", name.strip().upper())
    return re.sub(r"(?<![\d.,])0+(?=\d)", "", joined)


def split_place(place: str) -> tuple[str, int] | None:
    """Return strip and number of a place, as ("A", 1) of A1; None if it is not one.

    Examples
    --------
    >>> split_place("B12"), split_place("12")
    (('B', 12), None)
    """
    match = _ANY_PLACE.match(place.strip())
    return None if match is None else (match[1], int(match[2]))


def comparable(names: Sequence[str], charted: Sequence[str]) -> tuple[list[str], list[str]]:
    """Return the ids or places of a reading and of its chart, spelt so that they can be compared.

    That is `plain_id`, where it keeps apart on either side what is apart; else as they stand.
    """
    plain = [plain_id(name) for name in names], [plain_id(name) for name in charted]
    kept = zip(plain, (names, charted), strict=True)
    if all(len(set(short)) == len(set(whole)) for short, whole in kept):
        return plain
    return list(names), list(charted)


@dataclass(frozen=True, eq=False)
class Layout:
    """The patches of a chart: what was sent to the printer, and where each one lies.

    Attributes
    ----------
    ids
        `SAMPLE_ID` of each of the n patches; no two are alike.
    places
        Strip letter and number of each, as A1; no two are alike.
    device
        Shape (n, 3): R, G, B from 0 (black) to 1 (paper white).
    reasons
        Why each patch is on the chart; "" where nobody said.
    fields
        Everything else: keyword and value, such as the geometry of the page.
    """

    name: str
    ids: tuple[str, ...]
    places: tuple[str, ...]
    device: Array
    reasons: tuple[str, ...] = ()
    fields: Mapping[str, str] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.ids)


def write_layout(layout: Layout, path: Path | str) -> None:
    """Write a layout so that reading it again gives the same.

    Raises
    ------
    BadInput
        If the file cannot be written.
    """
    with_reasons = any(layout.reasons)
    fields = ["SAMPLE_ID", "PATCH_PLACE", *RGB, *(["REASON"] if with_reasons else [])]
    rows = [
        [name, place, *(f"{value:.9g}" for value in values)]
        for name, place, values in zip(
            layout.ids, layout.places, (FULL_SCALE * layout.device).tolist(), strict=True
        )
    ]
    if with_reasons:
        for row, reason in zip(rows, layout.reasons, strict=True):
            row.append(reason)
    keywords = [
        ("FILE_DESCRIPTOR", layout.name),
        ("RGB_SCALE", f"{FULL_SCALE:g}"),
        *layout.fields.items(),
    ]
    write_whole(path, file_text(keywords, fields, rows))


def read_layout(path: Path | str) -> Layout:
    """Read a layout.

    Raises
    ------
    BadInput
        With the line: if a field is missing, an id or a place stands twice, or a device value is
        not within 0 to 255.
    """
    table = parse_file(path).tables[0]
    column = {f.name: i for i, f in enumerate(recognise_fields(table.fields)) if f.name}
    missing = [n for n in ("SAMPLE_ID", "PATCH_PLACE", *RGB) if n not in column]
    if missing:
        raise BadInput(
            f"is not a layout: the field {missing[0]} is missing; name the .txt file that was made "
            "with the chart",
            path,
            table.fields_line,
        )
    values = to_numbers(table.rows, [column[name] for name in RGB], RGB, table.lines, path)
    device = device_values(
        dict(zip(RGB, values.T, strict=True)), path, full_scale=FULL_SCALE, lines=table.lines
    )
    ids = _different(table, column["SAMPLE_ID"], "id", path)
    places = _different(table, column["PATCH_PLACE"], "place", path)
    for place, line in zip(places, table.lines, strict=True):
        if not _PLACE.fullmatch(place):
            raise BadInput(
                f"the place '{place[:40]}' is not a strip letter and number, as in A1; put it "
                "right",
                path,
                line,
            )
    about = about_file((name, value) for name, value, _ in table.keywords)
    stated = {name.upper(): value for name, value, _ in table.keywords}
    own = {*NAME[:1], "RGB_SCALE", "NUMBER_OF_FIELDS", "NUMBER_OF_SETS", "KEYWORD"}
    reason = column.get("REASON")
    return Layout(
        name=about.name or Path(path).stem,
        ids=ids,
        places=places,
        device=device.values,
        reasons=tuple("" if reason is None else row[reason] for row in table.rows),
        fields={name: value for name, value in stated.items() if name not in own},
    )


def _different(table: TextTable, column: int, what: str, source: object) -> tuple[str, ...]:
    found = [row[column].strip() for row in table.rows]
    first: dict[str, int] = {}
    for word, line in zip(found, table.lines, strict=True):
        earlier = first.setdefault(word, line)
        if earlier != line or not word:
            where = f"is on line {earlier} as well" if word else "is empty"
            raise BadInput(
                f"the {what} '{word[:40]}' {where}; give each patch its own", source, line
            )
    return tuple(found)
