"""How keywords and a table are set as ISO 28178 text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

KeywordValue = tuple[str, str]
"""A keyword and its value, without quotes."""

# ISO 28178:2009, from memory; every other keyword or field must be declared with KEYWORD.
_STANDARD_NAMES = (
    "ORIGINATOR FILE_DESCRIPTOR DESCRIPTOR CREATED DIFFUSE_GEOMETRY MANUFACTURER MATERIAL SERIAL "
    "INSTRUMENTATION MEASUREMENT_SOURCE MEASUREMENT_GEOMETRY ILLUMINATION_NAME PRINT_CONDITIONS "
    "PROD_DATE FILTER POLARIZATION WEIGHTING_FUNCTION COMPUTATIONAL_PARAMETER SAMPLE_BACKING "
    "TARGET_TYPE COLORANT PROCESSCOLOR_ID CHISQ_DOF TABLE_DESCRIPTOR TABLE_NAME NUMBER_OF_FIELDS "
    "NUMBER_OF_SETS KEYWORD SAMPLE_ID SAMPLE_NAME STRING RGB_R RGB_G RGB_B CMYK_C CMYK_M CMYK_Y "
    "CMYK_K CMY_C CMY_M CMY_Y XYZ_X XYZ_Y XYZ_Z LAB_L LAB_A LAB_B SPECTRAL_NM SPECTRAL_PCT "
    "SPECTRAL_DEC"
)
_SPECTRAL_FIELD = re.compile(r"SPECTRAL_NM\d")
_PLAIN_WORD = re.compile(r"[^\s\"#][^\s\"]*")


def quoted(text: str) -> str:
    """Set a text as a quoted string on one line; a quote inside it is doubled.

    Examples
    --------
    >>> print(quoted('the "soft" one'))
    "the ""soft"" one"
    """
    one_line = re.sub(r"[\x00-\x1f]+", " ", text)
    return '"' + one_line.replace('"', '""') + '"'


def cell(text: str) -> str:
    """Set a text as one cell of a row: as it is where it is one word, else quoted.

    Examples
    --------
    >>> cell("A1"), cell("dark grey")
    ('A1', '"dark grey"')
    """
    ends_data = text.upper() == "END_DATA"
    return text if _PLAIN_WORD.fullmatch(text) and not ends_data else quoted(text)


def file_text(
    keywords: Iterable[KeywordValue], fields: Sequence[str], rows: Sequence[Sequence[str]]
) -> str:
    """Give the text of a file of one table.

    Parameters
    ----------
    keywords
        In their order; those that are not of ISO 28178 are declared.
    fields
        Names of the columns.
    rows
        The cells, without quotes.
    """
    lines = ["CGATS.17"]
    declared = set(_STANDARD_NAMES.split())
    for spelt, value in keywords:
        name = re.sub(r"[\s\"#]+", "_", spelt)
        lines += _declaration(name, declared)
        lines.append(f"{name} {quoted(value)}")
    for field in fields:
        if not _SPECTRAL_FIELD.match(field):
            lines += _declaration(field, declared)
    lines += [
        f"NUMBER_OF_FIELDS {len(fields)}",
        "BEGIN_DATA_FORMAT",
        "\t".join(fields),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(rows)}",
        "BEGIN_DATA",
        *("\t".join(map(cell, row)) for row in rows),
        "END_DATA",
    ]
    return "\n".join(lines) + "\n"


def _declaration(name: str, declared: set[str]) -> list[str]:
    if name in declared:
        return []
    declared.add(name)
    return [f"KEYWORD {quoted(name)}"]
