"""ISO 28178 (CGATS.17) text: readings out of it, and into it."""

from __future__ import annotations

from pathlib import Path

from greyscale.base.files import write_whole
from greyscale.readings.about import About, about_file, weighting
from greyscale.readings.assemble import ReadOptions
from greyscale.readings.iso28178_text import KeywordValue, file_text, looks_like_iso28178, parse
from greyscale.readings.reading import Reading
from greyscale.readings.source_file import Contents
from greyscale.readings.table_readings import readings_of


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
    return readings_of(parsed.tables, file.source, options, parsed.remarks)


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


def _is_usual(told: About) -> bool:
    return (told.illuminant or "D50", told.observer or "2") == ("D50", "2")


def _columns(reading: Reading) -> tuple[list[str], list[list[str]]]:
    fields = ["SAMPLE_ID", "RGB_R", "RGB_G", "RGB_B"]
    rows = [[name] for name in reading.ids]
    if reading.places is not None:
        fields.insert(1, "PATCH_PLACE")
        rows = [[*row, place] for row, place in zip(rows, reading.places, strict=True)]
    blocks = [255 * reading.device]
    if not reading.spectral or _is_usual(about_file(reading.fields.items())):
        fields += ["LAB_L"] if reading.tone_alone else ["LAB_L", "LAB_A", "LAB_B"]
        blocks.append(reading.lab[:, :1] if reading.tone_alone else reading.lab)
    if reading.spectra is not None and reading.wavelengths is not None:
        fields += [f"SPECTRAL_NM{wavelength:g}" for wavelength in reading.wavelengths]
        blocks.append(reading.spectra)
    for block in blocks:
        for row, values in zip(rows, block.tolist(), strict=True):
            row.extend(f"{value:.9g}" for value in values)
    return fields, rows
