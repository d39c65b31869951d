"""ISO 28178 (CGATS.17) text: readings out of it, and into it.

Of a text's tables, whatever its format, there is one reading per measuring condition.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.base.results import with_rows
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import lightness
from greyscale.readings.about import NOTHING_SAID, About, about_file, condition_in, weighting
from greyscale.readings.assemble import Measurements, ReadOptions
from greyscale.readings.fields import DEVICE_FIELDS, FieldName, Units, recognise_fields
from greyscale.readings.iso28178_text import (
    MOST_TABLES,
    KeywordValue,
    TextTable,
    file_text,
    looks_like_iso28178,
    parse,
)
from greyscale.readings.reading import TONE_ALONE, Reading
from greyscale.readings.source_file import Contents, to_numbers

_LAB = ("LAB_L", "LAB_A", "LAB_B")
_LCH = ("LAB_L", "LAB_C", "LAB_H")
_XYY = ("XYY_X", "XYY_Y", "XYY_CAPY")
_XYZ = ("XYZ_X", "XYZ_Y", "XYZ_Z")
_COLOURS = (*_LAB, *_LCH, *_XYY, *_XYZ)
_DENSITY = "DENSITY"
SKIPPED = "Patches not measured, and left out"
"""How the remark begins that names them."""
_NAMED = 6
"""Patches that a remark names before it stops."""
MOST_DENSE = 4.0
"""No print is as dark."""
_LEAST_DENSE = 0.02
"""Hardly a paper is as light, L* 98; a densitometer that was zeroed on one says 0. Common practice,
no source."""
ZEROED = "The lightest density is below"
"""How the remark begins that says so."""
_UNITS: dict[str, Units] = {"PCT": "percent", "DEC": "decimal"}


def recognises(file: Contents) -> bool:
    """Tell whether it is a text that begins or is laid out as the standard has it."""
    return looks_like_iso28178(file.text)


def read_all(file: Contents, options: ReadOptions) -> list[Reading]:
    """Read every reading: one per measuring condition.

    Raises
    ------
    BadInput
        With the line, if it cannot be parsed or what it states cannot be true.
    """
    parsed = parse(file.text, file.source)
    return readings_of(parsed.tables, file.source, options, tuple(parsed.remarks))


def write(reading: Reading, path: Path | str) -> None:
    """Write a reading so that reading it again gives the same.

    Device values stand on 0-255, spectra as decimals, and CIELAB beside them unless the fields
    of the reading speak of another light or observer than D50 and 2°.

    Raises
    ------
    BadInput
        If the file cannot be written.
    """
    keywords = [(name, value) for name, value in _keywords(reading) if value]
    stated = {name for name, _ in keywords}
    keywords += [(name, value) for name, value in reading.fields.items() if name not in stated]
    fields, rows = _columns(reading)
    write_whole(path, file_text(keywords, fields, rows))


def _keywords(reading: Reading) -> list[KeywordValue]:
    created = reading.created
    told = about_file(reading.fields.items())
    unsaid = told.illuminant is None and told.observer is None
    return [
        ("FILE_DESCRIPTOR", reading.name),
        ("CREATED", "" if created is None else created.isoformat()),
        ("INSTRUMENTATION", reading.instrument or ""),
        ("MEASUREMENT_CONDITION", reading.condition or ""),
        ("SAMPLE_BACKING", reading.backing or ""),
        ("WEIGHTING_FUNCTION", weighting("D50", reading.observer) if unsaid else ""),
        ("PRINTER", reading.printer or ""),
        ("MATERIAL", reading.paper or ""),
        ("PRINT_CONDITIONS", reading.settings or ""),
        ("INKS", reading.inks or ""),
        ("PRINTED", "" if reading.printed is None else reading.printed.isoformat()),
        ("CHART_THROUGH", reading.sent_through or ""),
        ("RGB_SCALE", "255"),
        ("SPECTRAL_UNITS", "decimal" if reading.spectral else ""),
    ]


def _columns(reading: Reading) -> tuple[list[str], list[list[str]]]:
    fields = ["SAMPLE_ID", "RGB_R", "RGB_G", "RGB_B"]
    rows = [[name] for name in reading.ids]
    if reading.places is not None:
        fields.insert(1, "PATCH_PLACE")
        rows = [[*row, place] for row, place in zip(rows, reading.places, strict=True)]
    blocks, told = [255 * reading.device], about_file(reading.fields.items())
    usual = (told.illuminant or "D50", told.observer or "2") == ("D50", "2")
    if not reading.spectral or usual:
        fields += ["LAB_L"] if reading.tone_alone else ["LAB_L", "LAB_A", "LAB_B"]
        blocks.append(reading.lab[:, :1] if reading.tone_alone else reading.lab)
    if reading.spectra is not None and reading.wavelengths is not None:
        fields += [f"SPECTRAL_NM{wavelength:g}" for wavelength in reading.wavelengths]
        blocks.append(reading.spectra)
    for block in blocks:
        for row, values in zip(rows, block.tolist(), strict=True):
            row.extend(f"{value:.9g}" for value in values)
    return fields, rows


@dataclass(frozen=True)
class NamedTable:
    """A table whose fields are recognised, and what the file says of it."""

    table: TextTable
    fields: tuple[FieldName, ...]
    about: About

    @cached_property
    def names(self) -> dict[str, int]:
        """Column of each recognised name but SPECTRAL."""
        return {f.name: i for i, f in enumerate(self.fields) if f.name not in ("", "SPECTRAL")}

    @cached_property
    def wavelengths(self) -> tuple[float, ...]:
        """The wavelengths named, rising."""
        return tuple(sorted(f.wavelength for f in self.fields if f.wavelength is not None))

    @cached_property
    def paired(self) -> bool:
        """Whether each row states its own wavelengths: SPECTRAL_NM beside SPECTRAL_DEC or _PCT."""
        return any(f.spelt.strip().upper() == "SPECTRAL_NM" for f in self.fields)

    @property
    def has_device(self) -> bool:
        """Whether it holds device values."""
        return any(name in DEVICE_FIELDS for name in self.names)

    @property
    def has_measured(self) -> bool:
        """Whether it holds spectra, CIELAB or X, Y, Z."""
        return (
            bool(self.wavelengths)
            or self.paired
            or any(n in self.names for n in _LAB + _XYZ + _XYY)
            or self.tone_alone is not None
        )

    @property
    def tone_alone(self) -> str | None:
        """What was measured where that tells the tone alone: "L*" or "density"; else None."""
        told = self.names.keys() & {*_COLOURS}
        if self.wavelengths or self.paired or told - {"LAB_L"}:
            return None
        return "L*" if told else "density" if _DENSITY in self.names else None

    @property
    def id_column(self) -> int | None:
        """The column of SAMPLE_ID, else of SAMPLE_NAME, else None."""
        return self.names.get("SAMPLE_ID", self.names.get("SAMPLE_NAME"))

    def of_rows(self, kept: Sequence[int]) -> NamedTable:
        """Return the table of some of its rows."""
        return replace(self, table=with_rows(self.table, kept, "rows", "lines"))

    def ids(self) -> tuple[str, ...]:
        """Return the id of each row: as its column has it, else its number."""
        column = self.id_column
        if column is None:
            return tuple(str(k + 1) for k in range(len(self.table.rows)))
        return tuple(row[column].strip() for row in self.table.rows)


def readings_of(
    tables: Sequence[TextTable],
    source: Path | str,
    options: ReadOptions,
    remarks: Sequence[str] = (),
) -> list[Reading]:
    """Make a Reading of each table that holds measurements.

    Keywords of the first table hold for the later ones too, unless they say otherwise. Tables of
    one condition with the same fields and other ids are parts of one reading. A table without
    device values takes them from another one by SAMPLE_ID.

    Raises
    ------
    BadInput
        If no table can be read, or tables of one condition have unlike wavelengths.
    """
    named = [part for table in tables for part in _named(table, tables[0], source)]
    parts = [part for table in named for part in _by_condition(table)]
    parts = [one for part in parts for one in _by_hours(part, source)]
    parts = _joined_pages(parts)
    measured = [_without_skipped(part) for part in parts if part.has_measured] or parts[:1]
    _check_one_grid(measured, source)
    device_table = next((part for part in named if part.has_device), None)
    readings = []
    for part in measured:
        about = replace(part.about, remarks=(*remarks, *part.about.remarks))
        if part.tone_alone is not None:
            about = replace(
                about,
                fields={TONE_ALONE: part.tone_alone, **about.fields},
                remarks=(*about.remarks, "Tone alone was measured: it says nothing about tint."),
            )
        stated = _measurements(replace(part, about=about), device_table, source)
        if part.tone_alone == "density" and stated.lab is not None:
            stated.remarks.extend(_zeroed(stated.lab))
        readings.append(stated.reading(options))
    return readings


def _without_skipped(part: NamedTable) -> NamedTable:
    """Leave out patches that nobody measured: none of their cells of measurements says anything."""
    columns = [i for i, f in enumerate(part.fields) if f.name in ("SPECTRAL", _DENSITY, *_COLOURS)]
    sent = [i for i, f in enumerate(part.fields) if f.name in DEVICE_FIELDS]
    if part.id_column is None and not sent:
        # Which patch a row is of, its number says.
        return part
    measured = [
        any(row[i].strip().upper() not in NOTHING_SAID for i in columns)
        or not all(row[i].strip().upper() not in NOTHING_SAID for i in sent)
        for row in part.table.rows
    ]
    if all(measured) or not any(measured):
        return part
    skipped = [name for name, one in zip(part.ids(), measured, strict=True) if not one]
    named = ", ".join(skipped[:_NAMED]) + (", ..." if len(skipped) > _NAMED else "")
    about = replace(part.about, remarks=(*part.about.remarks, f"{SKIPPED}: {named}."))
    return replace(part.of_rows([k for k, one in enumerate(measured) if one]), about=about)


def _zeroed(lab: Array) -> Iterator[str]:
    """What is to be said where densities look relative to the paper."""
    if lab[:, 0].max() > lightness(100 * 10**-_LEAST_DENSE):
        yield (
            f"{ZEROED} {_LEAST_DENSE:g}: it looks zeroed on the paper, which is then taken for "
            "white (L* 100) and every tone for too light; export absolute densities."
        )


def _named(table: TextTable, first: TextTable, source: object) -> Iterator[NamedTable]:
    """Recognise a table's fields, for each condition that stands beside others in columns."""
    own = {name.upper() for name, *_ in table.keywords}
    inherited = [] if table is first else [e for e in first.keywords if e[0].upper() not in own]
    about = about_file([(name, value) for name, value, _ in (*table.keywords, *inherited)])
    fields = recognise_fields(table.fields)
    names = (*_COLOURS, "SPECTRAL")
    stated = [condition_in(f.spelt) if f.name in names else None for f in fields]
    conditions: list[str | None] = list(dict.fromkeys(one for one in stated if one is not None))
    if len(conditions) < 2:
        unsaid = any(f.name in names and one is None for f, one in zip(fields, stated, strict=True))
        if about.condition is None and conditions and not unsaid:
            about = replace(about, condition=conditions[0])
        conditions = [about.condition]
        stated = [None] * len(fields)
    for condition in conditions:
        of_this = tuple(
            f if one in (None, condition) else replace(f, name="", wavelength=None, units=None)
            for f, one in zip(fields, stated, strict=True)
        )
        part = NamedTable(table, of_this, replace(about, condition=condition))
        _refuse_doubled(part, source)
        yield part


def _refuse_doubled(part: NamedTable, source: object) -> None:
    seen: dict[str, str] = {}
    # Beside colours, densities are of no use, and may be of several filters.
    unused = ("", "SPECTRAL") if part.tone_alone == "density" else ("", "SPECTRAL", _DENSITY)
    for entry in part.fields:
        if entry.name in unused:
            continue
        if entry.name in seen:
            raise BadInput(
                f"the fields {seen[entry.name]} and {entry.spelt} both say {entry.name}; keep one"
                + (
                    ", or name in each the condition that it was measured in, as in 'L* M1'"
                    if entry.name not in (*DEVICE_FIELDS, _DENSITY)
                    else ""
                ),
                source,
                part.table.fields_line,
            )
        seen[entry.name] = entry.spelt


def _by_condition(part: NamedTable) -> list[NamedTable]:
    """Split a table with a column that states the condition of each row."""
    column = part.names.get("CONDITION")
    if column is None:
        return [part]
    stated = [condition_in(row[column]) for row in part.table.rows]
    if None in stated:
        return [part]
    return [
        replace(one, about=replace(part.about, condition=condition))
        for condition, one in _split(part, stated)
    ]


def _split(
    part: NamedTable, stated: Sequence[str | None]
) -> Iterator[tuple[str | None, NamedTable]]:
    """Return the rows that state the same, for each thing that is stated."""
    for value in dict.fromkeys(stated):
        yield value, part.of_rows([k for k, own in enumerate(stated) if own == value])


def _by_hours(part: NamedTable, source: object) -> list[NamedTable]:
    """Split a table with a column that says how many hours after printing each row was read."""
    column = part.names.get("HOURS")
    if column is None:
        return [part]
    stated = [row[column].strip() for row in part.table.rows]
    if len(set(stated)) > MOST_TABLES:
        raise BadInput(
            f"the column HOURS has more than {MOST_TABLES} different values; it says how long "
            "after printing a whole chart was read",
            source,
            part.table.fields_line,
        )
    return [
        replace(one, about=replace(part.about, fields={**part.about.fields, "HOURS": str(hours)}))
        for hours, one in _split(part, stated)
    ]


def _joined_pages(parts: list[NamedTable]) -> list[NamedTable]:
    """Join tables that are the pages of one chart."""
    joined: list[NamedTable] = []
    for part in parts:
        earlier = next((k for k, other in enumerate(joined) if _same_chart(other, part)), None)
        if earlier is None:
            joined.append(part)
            continue
        whole = joined[earlier]
        table = replace(
            whole.table,
            rows=(*whole.table.rows, *part.table.rows),
            lines=(*whole.table.lines, *part.table.lines),
        )
        remark = f"The table on line {part.table.fields_line} continues the one before it."
        if remark in whole.about.remarks or part.table.fields_line == whole.table.fields_line:
            remark = "A further table continues the one before it."
        about = replace(whole.about, remarks=(*whole.about.remarks, remark))
        joined[earlier] = replace(whole, table=table, about=about)
    return joined


def _same_chart(first: NamedTable, second: NamedTable) -> bool:
    return (
        first.table.fields == second.table.fields
        and first.about.condition == second.about.condition
        and first.about.backing == second.about.backing
        and first.about.fields.get("HOURS") == second.about.fields.get("HOURS")
        and not set(first.ids()) & set(second.ids())
    )


def _check_one_grid(parts: Sequence[NamedTable], source: object) -> None:
    grids: dict[str | None, NamedTable] = {}
    for part in parts:
        if not part.wavelengths:
            continue
        other = grids.setdefault(part.about.condition, part)
        if other.wavelengths != part.wavelengths:
            raise BadInput(
                f"mixed wavelengths: {_grid_words(part)} here, and {_grid_words(other)} in the "
                f"table on line {other.table.fields_line}; export one reading per file",
                source,
                part.table.fields_line,
            )


def _grid_words(part: NamedTable) -> str:
    grid = part.wavelengths
    return f"{len(grid)} from {grid[0]:g} to {grid[-1]:g} nm"


def _measurements(
    part: NamedTable, device_table: NamedTable | None, source: Path | str
) -> Measurements:
    table, names = part.table, part.names
    spectra, wavelengths, units = _spectra(part, source)
    place = names.get("PATCH_PLACE")
    device_from = part if part.has_device or device_table is None else device_table
    return Measurements(
        source=source,
        about=part.about,
        ids=part.ids(),
        device=_device(part, device_from, source),
        spectra=spectra,
        wavelengths=wavelengths,
        spectral_units=units,
        lab=_lab(part, source),
        xyz=_xyz(part, source),
        places=None if place is None else tuple(row[place].strip() for row in table.rows),
        lines=table.lines,
        header_line=table.fields_line,
        numbered=part.id_column is None,
    )


def _spectra(part: NamedTable, source: object) -> tuple[Array | None, Array | None, Units | None]:
    if part.paired:
        return _paired_spectra(part, source)
    columns = [i for i, f in enumerate(part.fields) if f.wavelength is not None]
    if not columns:
        return None, None, None
    wavelengths = np.array([part.fields[i].wavelength for i in columns], dtype=np.float64)
    stated = {part.fields[i].units for i in columns}
    if len(stated) > 1:
        raise BadInput(
            "the spectral fields state different units; export them all in percent, or as decimals",
            source,
            part.table.fields_line,
        )
    values = _numbers(part, columns, source)
    return values, wavelengths, stated.pop()


def _paired_spectra(part: NamedTable, source: object) -> tuple[Array, Array, Units | None]:
    """Read rows in which each factor follows its wavelength, as ISO 28178 allows."""
    spelt = [f.spelt.strip().upper() for f in part.fields]
    at = [i for i, name in enumerate(spelt) if name == "SPECTRAL_NM"]
    factors = [i for i, name in enumerate(spelt) if name in ("SPECTRAL_PCT", "SPECTRAL_DEC")]
    if len(at) != len(factors) or len({spelt[i] for i in factors}) != 1:
        raise BadInput(
            f"{len(at)} fields SPECTRAL_NM and {len(factors)} of SPECTRAL_DEC or SPECTRAL_PCT "
            "do not pair up; export the reading again",
            source,
            part.table.fields_line,
        )
    grids = _numbers(part, at, source)
    unlike = np.flatnonzero((grids != grids[0]).any(axis=1))
    if unlike.size:
        raise BadInput(
            "mixed wavelengths: this patch was measured at other wavelengths than the first; "
            "export one reading per file",
            source,
            part.table.lines[int(unlike[0])],
        )
    units = _UNITS[spelt[factors[0]].rpartition("_")[2]]
    return _numbers(part, factors, source), grids[0], units


def _triple(part: NamedTable, names: Sequence[str], source: object) -> Array | None:
    there = [name for name in names if name in part.names]
    if not there:
        return None
    if len(there) < len(names):
        missing = ", ".join(name for name in names if name not in there)
        raise BadInput(
            f"the field {there[0]} is there, but {missing} is missing; export all three",
            source,
            part.table.fields_line,
        )
    return _numbers(part, [part.names[name] for name in names], source)


def _lab_of_tone_alone(part: NamedTable, source: object) -> Array:
    """CIELAB of L* or of visual density alone, a* and b* 0."""
    name = "LAB_L" if part.tone_alone == "L*" else _DENSITY
    (values,) = _numbers(part, [part.names[name]], source).T
    if name == _DENSITY:
        far = ~((values >= 0) & (values <= MOST_DENSE))
        if far.any():
            row = int(np.argmax(far))
            raise BadInput(
                f"a density of {values[row]:g} is not possible; export visual densities, as 0.71",
                source,
                part.table.lines[row],
            )
        values = lightness(100 * 10**-values)
    return np.column_stack([values, np.zeros((len(values), 2))])


def _lab(part: NamedTable, source: object) -> Array | None:
    """CIELAB as stated, or from lightness, chroma and hue angle in degrees."""
    if part.tone_alone is not None:
        return _lab_of_tone_alone(part, source)
    if "LAB_A" in part.names or "LAB_C" not in part.names:
        return _triple(part, _LAB, source)
    polar = _triple(part, _LCH, source)
    assert polar is not None
    L, C, h = polar[:, 0], polar[:, 1], np.radians(polar[:, 2])
    return np.column_stack([L, C * np.cos(h), C * np.sin(h)])


def _xyz(part: NamedTable, source: object) -> Array | None:
    """X, Y, Z as stated, or from x, y and Y."""
    if "XYZ_X" in part.names or "XYY_X" not in part.names:
        return _triple(part, _XYZ, source)
    stated = _triple(part, _XYY, source)
    assert stated is not None
    # Where there is no light, there is no chromaticity either: programs write 0.
    x, y, Y = np.where(stated[:, 2:] == 0, [[0.0, 1.0, 0.0]], stated).T
    if not (y > 0).all():
        row = int(np.argmin(y))
        raise BadInput(
            f"the chromaticity y is {y[row]:g}, and no colour's is 0 or less; export the reading "
            "again",
            source,
            part.table.lines[row],
        )
    return np.column_stack([x * Y / y, Y, (1 - x - y) * Y / y])


def _device(part: NamedTable, device_from: NamedTable, source: object) -> Mapping[str, Array]:
    names = [name for name in DEVICE_FIELDS if name in device_from.names]
    if not names:
        return {}
    columns = [device_from.names[name] for name in names]
    _refuse_parted(device_from, columns, source)
    values = _numbers(device_from, columns, source)
    if device_from.table is not part.table and not part.has_device:
        row_of = {name: k for k, name in enumerate(device_from.ids())}
        rows = []
        for name, line in zip(part.ids(), part.table.lines, strict=True):
            if name not in row_of:
                raise BadInput(
                    f"the table with the device values (line {device_from.table.fields_line}) "
                    f"has no patch '{name}'; export both together",
                    source,
                    line,
                )
            rows.append(row_of[name])
        values = values[rows]
    return dict(zip(names, values.T, strict=True))


def _refuse_parted(part: NamedTable, columns: Sequence[int], source: object) -> None:
    """Refuse values with a mark between thousands: measured ones have the other before decimals."""
    measured = [i for i, f in enumerate(part.fields) if f.name in ("SPECTRAL", *_COLOURS)]
    for mark, other in (",.", ".,"):
        marked = [
            (row[i].strip(), line)
            for row, line in zip(part.table.rows, part.table.lines, strict=True)
            for i in columns
            if mark in row[i]
        ]
        if not all(re.fullmatch(rf"[1-9]\d{{0,2}}[{mark}]\d{{3}}", word) for word, _ in marked):
            continue
        for word, line in marked[:1]:
            if any(other in row[i] for row in part.table.rows for i in measured):
                raise BadInput(
                    f"'{word}' seems to have a mark between thousands, as the measured values have "
                    f"'{other}' before decimals; export numbers without such marks",
                    source,
                    line,
                )


def _numbers(part: NamedTable, columns: Sequence[int], source: object) -> Array:
    spelt = [part.table.fields[i] for i in columns]
    return to_numbers(part.table.rows, columns, spelt, part.table.lines, source)
