"""What a column of a text file is, by its name: the spellings found in the wild."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from greyscale.readings.device_values import DEVICE_FIELDS

Units = Literal["percent", "decimal"]
"""How reflectance factors are stated: the perfect diffuser is 100, or 1."""

# ISO 28178 names first; after them what spreadsheets and programs call the same, in English,
# German, French, Italian and Spanish. A bare B, C, H or Y is left to `recognise_fields`: it depends
# on its neighbour.
_SPELLINGS = {
    "SAMPLE_ID": "SAMPLE_ID SAMPLEID ID SAMPLE PATCH PATCH_ID PATCHID FELD MESSFELD PLAGE",
    "number": "NO NUMBER INDEX NR NUMÉRO",
    "sign": "# N° Nº N°_DE_PLAGE FELD_NR",
    "sample": "ÉCHANTILLON PROBE CAMPIONE MUESTRA",
    "SAMPLE_NAME": "SAMPLE_NAME SAMPLENAME NAME PATCH_NAME",
    "PATCH_PLACE": "PATCH_PLACE PLACE SAMPLE_PLACE",
    "CONDITION": "CONDITION MEASUREMENT_CONDITION M_CONDITION",
    "HOURS": "HOURS HOUR HOURS_AFTER_PRINTING HOURS_SINCE_PRINTING AGE_HOURS DRYING_HOURS",
    "REASON": "REASON PATCH_REASON",
    "RGB_R": "RGB_R RGB_RED RED R ROT ROUGE ROSSO ROJO",
    "RGB_G": "RGB_G RGB_GREEN GREEN G GRÜN GRUEN VERT VERDE",
    "RGB_B": "RGB_B RGB_BLUE BLUE BLAU BLEU BLU AZUL",
    "GRAY": "GRAY GREY GRAY_LEVEL GREY_LEVEL GRAYLEVEL GREYLEVEL GRAU GRAUWERT GRIS",
    "LEVEL": "LEVEL TONE_LEVEL",
    "CMYK_C": "CMYK_C CMY_C CMYK_CYAN CYAN C",
    "CMYK_M": "CMYK_M CMY_M CMYK_MAGENTA MAGENTA M",
    "CMYK_Y": "CMYK_Y CMY_Y CMYK_YELLOW YELLOW GELB JAUNE",
    "CMYK_K": "CMYK_K CMYK_BLACK BLACK K SCHWARZ NOIR",
    "LAB_L": "LAB_L CIE_L CIELAB_L LSTAR L_STAR L LIGHTNESS HELLIGKEIT LUMINOSITÉ CLARTÉ "
    "LUMINOSITÀ LUMINOSIDAD",
    "LAB_A": "LAB_A CIE_A CIELAB_A ASTAR A_STAR A",
    "LAB_B": "LAB_B CIE_B CIELAB_B BSTAR B_STAR",
    "LAB_C": "LAB_C LCH_C CIE_C CIELAB_C CSTAR C_STAR CHROMA CAB C_AB",
    "LAB_H": "LAB_H LCH_H CIE_H CIELAB_H HUE HAB H_AB H°",
    "XYY_X": "XYY_X",
    "XYY_Y": "XYY_Y",
    "XYY_CAPY": "XYY_CAPY",
    # Of a densitometer's four filters, black's is the visual one: common practice, no source.
    "DENSITY": "DENSITY VISUAL_DENSITY DENSITY_VISUAL D_VIS DVIS D_V D DENSITY_K D_K DICHTE "
    "DENSITÉ DENSITÀ DENSIDAD",
    "XYZ_X": "XYZ_X CIE_X CIEXYZ_X X",
    "XYZ_Y": "XYZ_Y CIE_Y CIEXYZ_Y",
    "XYZ_Z": "XYZ_Z CIE_Z CIEXYZ_Z Z",
}
_NAMES = {spelling: name for name, group in _SPELLINGS.items() for spelling in group.split()}

_IDS = ("SAMPLE_ID", "number", "sign", "sample")
"""What a patch is called; each of them only where none before it is there."""

# What stands before a bare letter decides what it is; for C after L*, also what stands behind it.
# Of two conditions b may stand twice: L, L, a, a, b, b.
_AFTER = {
    "B": {"RGB_G": "RGB_B", "LAB_A": "LAB_B", "LAB_B": "LAB_B"},
    "C": {"LAB_L": "LAB_C"},
    "H": {"LAB_C": "LAB_H"},
    "Y": {"CMYK_M": "CMYK_Y", "XYZ_X": "XYZ_Y"},
}
_STARRED = {"B": "LAB_B", "C": "LAB_C"}

# Beside a field's name such words only say more of it; all others might make another of it, as in
# "target L*".
_ASIDE_WORDS = (
    "LIGHTNESS HELLIGKEIT LUMINOSITÉ CLARTÉ LUMINOSITÀ LUMINOSIDAD CHROMA HUE VALUE VALUES WERT "
    "VALEUR MEAN AVERAGE AVG MITTEL MITTELWERT MOYENNE MEDIA CIE CIELAB LAB LCH XYZ RGB D50 2 "
    "2° M0 M1 M2 M3"
)
_ASIDE = frozenset(_ASIDE_WORDS.split())
# These say more only of what was sent, and only of what was measured: an "input L*" is an aim.
_OF_SENT = frozenset({"DEVICE", "SENT", "INPUT"})
_OF_MEASURED = frozenset({"MEASURED", "OUTPUT", "PRINTED"})
_OTHER = "other"
_MEASURED = ("LAB_", "XYZ_", "XYY_")
_CHROMATICITY = {"x": "XYY_X", "y": "XYY_Y", "Y": "XYY_CAPY"}
_LUMINANCE = re.compile(r"xyY[\s_-]?Y")  # Beside xyY_y: there, too, case alone tells.
_WORD = re.compile(r"[^\W_]+[*°]?")

_WAVELENGTH = re.compile(
    r"(?:SPECTRAL|SPECTRUM|SPEC|REFLECTANCE|REFL|R|RHO|LAMBDA|Λ|WAVELENGTH|WL|NM)?"
    r"_?(PCT|PERCENT|DEC|DECIMAL|FACTOR)?_?(?:NM)?_?(\d{3,4}(?:[.,]\d+)?)_?(?:NM)?"
)
_CONDITION = re.compile(r"^M[0-3]_|_M[0-3](?=_|$)")
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
    plainly, loosely = (_all_recognised(fields, loose) for loose in (False, True))
    known = {one.name for one in plainly}
    pairs = list(zip(plainly, loosely, strict=True))
    # Beside an aim, or said twice, a plain a* and an "output L*" may be of two colours.
    doubted = any(name.startswith(_MEASURED) for name in known) and any(
        more.name == _OTHER
        or (not one.name and more.name in known and more.name.startswith(_MEASURED))
        for one, more in pairs
    )
    # What is said plainly is not said again in more words: LCH_L beside LAB_L.
    found = [
        one
        if one.name or more.name in known or (doubted and more.name.startswith(_MEASURED))
        else more
        for one, more in pairs
    ]
    names = {one.name for one in found}
    stands = dict.fromkeys((*_IDS, _OTHER), "")
    stands.update((name, "SAMPLE_ID") for name in [one for one in _IDS if one in names][:1])
    if not {"LAB_C", "LAB_H"} <= names:
        stands.update(LAB_C="", LAB_H="")
    return tuple(replace(one, name=stands.get(one.name, one.name)) for one in found)


def _all_recognised(fields: Sequence[str], loose: bool) -> list[FieldName]:
    recognised: list[FieldName] = []
    chromaticities = _chromaticities(fields)
    before = ""
    for spelt, following in pairwise((*fields, "")):
        if before == "LAB_L" and _recognise(following, "LAB_C", loose).name != "LAB_H":
            before = ""
        one = _recognise(spelt, before, loose)
        if spelt.strip() in chromaticities and one.name != "CMYK_Y":
            one = replace(one, name=_CHROMATICITY[spelt.strip()])
        elif _LUMINANCE.fullmatch(spelt.strip()):
            one = replace(one, name="XYY_CAPY")
        before = one.name
        recognised.append(replace(one, name=_OTHER) if loose and _is_other(one) else one)
    return recognised


def _chromaticities(fields: Sequence[str]) -> Sequence[str]:
    """x, y and Y, where these stand there and are no X, Y, Z: case alone tells x from X."""
    stripped = [spelt.strip() for spelt in fields]
    luminances = [
        before
        for before, spelt in zip(("", *fields), stripped, strict=False)
        if spelt == "Y" and _recognise(before, "", True).name != "CMYK_M"
    ]
    there = {"x", "y"} <= set(stripped) and "Z" not in stripped and len(luminances) == 1
    return tuple(_CHROMATICITY) if there else ()


def _is_other(field: FieldName) -> bool:
    """Whether the words beside a field's name say that it is not what was sent, or measured."""
    words = set(_WORD.findall(field.spelt.upper()))
    return bool(words & (_OF_MEASURED if field.name in DEVICE_FIELDS else _OF_SENT))


def _recognise(spelt: str, before: str, loose: bool) -> FieldName:
    if len(spelt) > LONGEST_NAME:
        return FieldName("", None, None, spelt)
    text, units = spelt.strip(), None
    stated = _UNIT.search(text)
    if stated is not None:
        text = text[: stated.start()]
        units = _UNIT_WORDS.get((stated.group(1) or stated.group(2) or "").strip().upper())
    # A letter and its accent may stand as one sign or as two.
    text = unicodedata.normalize("NFC", text).upper()
    plain = re.sub(r"[\s\-/_]+", "_", text.replace("*", "")).strip("_.")
    name = _name_of(text, plain, before)
    aside = _ASIDE | _OF_SENT | _OF_MEASURED
    words = [word for word in _WORD.findall(text) if word not in aside] if loose else []
    if not name and len(words) == 1:
        name = _name_of(words[0], words[0].strip("*"), before)
    if name:
        return FieldName(name, None, None, spelt)
    found = _WAVELENGTH.fullmatch(_CONDITION.sub("", plain) if loose else plain)
    if found is not None:
        wavelength = float(found.group(2).replace(",", "."))
        if SHORTEST_WAVELENGTH <= wavelength <= LONGEST_WAVELENGTH:
            units = _UNIT_WORDS.get(found.group(1) or "") or units
            return FieldName("SPECTRAL", wavelength, units, spelt)
    return FieldName("", None, None, spelt)


def _name_of(text: str, plain: str, before: str) -> str:
    """Return what a column of this name is, "" where that is not known."""
    if text.endswith("*") and plain in _STARRED:
        return _STARRED[plain]
    return _AFTER.get(plain, {}).get(before) or _NAMES.get(plain, "")
