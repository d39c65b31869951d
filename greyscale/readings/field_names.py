"""What a column of a text file is, by its name: the spellings found in the wild."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

Units = Literal["percent", "decimal"]
"""How reflectance factors are stated: the perfect diffuser is 100, or 1."""

# ISO 28178 names first; after them what spreadsheets and programs call the same, in English,
# German and French. A bare B or Y
# is left to `recognise_fields`: it depends on its neighbour.
_SPELLINGS = {
    "SAMPLE_ID": "SAMPLE_ID SAMPLEID ID SAMPLE PATCH PATCH_ID PATCHID NO NUMBER INDEX FELD NR "
    "MESSFELD PLAGE NUMÉRO",
    "SAMPLE_NAME": "SAMPLE_NAME SAMPLENAME NAME PATCH_NAME",
    "PATCH_PLACE": "PATCH_PLACE PLACE SAMPLE_PLACE",
    "CONDITION": "CONDITION MEASUREMENT_CONDITION M_CONDITION",
    "HOURS": "HOURS HOUR HOURS_AFTER_PRINTING HOURS_SINCE_PRINTING AGE_HOURS DRYING_HOURS",
    "REASON": "REASON PATCH_REASON",
    "RGB_R": "RGB_R RGB_RED RED R ROT ROUGE",
    "RGB_G": "RGB_G RGB_GREEN GREEN G GRÜN GRUEN VERT",
    "RGB_B": "RGB_B RGB_BLUE BLUE BLAU BLEU",
    "GRAY": "GRAY GREY GRAY_LEVEL GREY_LEVEL GRAYLEVEL GREYLEVEL GRAU GRAUWERT GRIS",
    "LEVEL": "LEVEL TONE_LEVEL",
    "CMYK_C": "CMYK_C CMY_C CMYK_CYAN CYAN C",
    "CMYK_M": "CMYK_M CMY_M CMYK_MAGENTA MAGENTA M",
    "CMYK_Y": "CMYK_Y CMY_Y CMYK_YELLOW YELLOW GELB JAUNE",
    "CMYK_K": "CMYK_K CMYK_BLACK BLACK K SCHWARZ NOIR",
    "LAB_L": "LAB_L CIE_L CIELAB_L LSTAR L_STAR L",
    "LAB_A": "LAB_A CIE_A CIELAB_A ASTAR A_STAR A",
    "LAB_B": "LAB_B CIE_B CIELAB_B BSTAR B_STAR",
    "XYZ_X": "XYZ_X CIE_X CIEXYZ_X X",
    "XYZ_Y": "XYZ_Y CIE_Y CIEXYZ_Y",
    "XYZ_Z": "XYZ_Z CIE_Z CIEXYZ_Z Z",
}
_NAMES = {spelling: name for name, group in _SPELLINGS.items() for spelling in group.split()}

# What stands before a bare B or Y decides what it is.
_AFTER = {"B": {"RGB_G": "RGB_B", "LAB_A": "LAB_B"}, "Y": {"CMYK_M": "CMYK_Y", "XYZ_X": "XYZ_Y"}}

_WAVELENGTH = re.compile(
    r"(?:SPECTRAL|SPECTRUM|SPEC|REFLECTANCE|REFL|R|RHO|LAMBDA|Λ|WAVELENGTH|WL|NM)?"
    r"_?(PCT|PERCENT|DEC|DECIMAL|FACTOR)?_?(?:NM)?_?(\d{3,4}(?:[.,]\d+)?)_?(?:NM)?"
)
_UNIT = re.compile(r"[\s_]*(?:[(\[]([^)\]]*)[)\]]|(%))\s*$")
_UNIT_WORDS: dict[str, Units] = {
    "%": "percent",
    "PCT": "percent",
    "PERCENT": "percent",
    "0-100": "percent",
    "DEC": "decimal",
    "DECIMAL": "decimal",
    "FACTOR": "decimal",
    "REFLECTANCE": "decimal",
    "REFLECTANCE FACTOR": "decimal",
    "0-1": "decimal",
    "1": "decimal",
}

SHORTEST_WAVELENGTH, LONGEST_WAVELENGTH = 200.0, 2600.0
"""A number outside is no wavelength, nm."""

LONGEST_NAME = 200
"""Characters. No spelling of a field comes near it."""


@dataclass(frozen=True)
class FieldName:
    """A column's name: what it is, and how it is spelt.

    Attributes
    ----------
    name
        The name of ISO 28178 (RGB_R, LAB_L, ...), SPECTRAL for a reflectance factor, or "".
    wavelength
        nm, where `name` is SPECTRAL; else None.
    units
        Of a reflectance factor, where the name says so; else None.
    spelt
        The name as it stands in the file.
    """

    name: str
    wavelength: float | None
    units: Units | None
    spelt: str


def recognise_fields(fields: Sequence[str]) -> tuple[FieldName, ...]:
    """Recognise columns by their names.

    Examples
    --------
    >>> [f.name for f in recognise_fields(["SAMPLE_ID", "R", "G", "B", "L*", "a*", "b*", "Dmax"])]
    ['SAMPLE_ID', 'RGB_R', 'RGB_G', 'RGB_B', 'LAB_L', 'LAB_A', 'LAB_B', '']
    >>> [f.wavelength for f in recognise_fields(["SPECTRAL_NM400", "nm_410", "R_420nm", "430"])]
    [400.0, 410.0, 420.0, 430.0]
    """
    return _recognised(tuple(fields))


@lru_cache(maxsize=64)
def _recognised(fields: tuple[str, ...]) -> tuple[FieldName, ...]:
    recognised: list[FieldName] = []
    for spelt in fields:
        before = recognised[-1].name if recognised else ""
        recognised.append(_recognise(spelt, before))
    return tuple(recognised)


def _recognise(spelt: str, before: str) -> FieldName:
    if len(spelt) > LONGEST_NAME:
        return FieldName("", None, None, spelt)
    text, units = spelt.strip(), None
    stated = _UNIT.search(text)
    if stated is not None:
        text = text[: stated.start()]
        units = _UNIT_WORDS.get((stated.group(1) or stated.group(2) or "").strip().upper())
    starred = text.endswith("*")
    # A letter and its accent may stand as one sign or as two.
    text = unicodedata.normalize("NFC", text)
    plain = re.sub(r"[\s\-/_]+", "_", text.upper().replace("*", "")).strip("_")
    if plain in _AFTER:
        name = "LAB_B" if starred else _AFTER[plain].get(before, "")
        return FieldName(name, None, None, spelt)
    if plain in _NAMES:
        return FieldName(_NAMES[plain], None, None, spelt)
    found = _WAVELENGTH.fullmatch(plain)
    if found is not None:
        wavelength = float(found.group(2).replace(",", "."))
        if SHORTEST_WAVELENGTH <= wavelength <= LONGEST_WAVELENGTH:
            units = _UNIT_WORDS.get(found.group(1) or "") or units
            return FieldName("SPECTRAL", wavelength, units, spelt)
    return FieldName("", None, None, spelt)
