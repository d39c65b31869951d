"""What the fields of a file are called, and what they say was sent: R, G, B from 0 to 1.

Level 0 is black and 1 is paper white. RGB may stand on 0-1, 0-100, 0-255 or 0-65535; a grey value
may be a tone or an amount of ink; C, M, Y, K are amounts of ink. The data decide, and the reader
says what was decided. Names have the spellings found in the wild.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array, Indices, Mask, equal_channels

Ramp = Literal["K", "CMY"]
"""Which ramp of a CMYK file is meant: black ink alone, or C = M = Y."""

RGB = ("RGB_R", "RGB_G", "RGB_B")
CMY = ("CMYK_C", "CMYK_M", "CMYK_Y")
GREY = ("LEVEL", "GRAY")
DEVICE_FIELDS = (*RGB, *CMY, "CMYK_K", *GREY)
"""Every name under which device values are known."""

_TONE_SCALES = {1.0: "0-1", 100.0: "0-100", 255.0: "0-255", 65535.0: "16 bit (0-65535)"}
_INK_SCALES = {1.0: "0-1", 100.0: "0-100", 255.0: "0-255"}

_OVERSHOOT = 1e-3
"""A value may exceed the end of its scale by this share, from rounding."""

_LEAST_RAMP = 3
"""Tones that make a ramp, when one of two ramps is chosen by what the file holds."""


@dataclass(frozen=True, eq=False)
class DeviceValues:
    """The device values of some patches of a file.

    Attributes
    ----------
    values
        Shape (k, 3): R, G, B from 0 to 1.
    rows
        Shape (k,): which of the file's patches they belong to; those of another ramp are left out.
    """

    values: Array
    rows: Indices
    remarks: tuple[str, ...]


def device_values(
    columns: Mapping[str, Array],
    source: object,
    *,
    lightness: Array | None = None,
    ramp: Ramp | None = None,
    full_scale: float | None = None,
    lines: Sequence[int] | None = None,
) -> DeviceValues:
    """Bring device values to R, G, B from 0 to 1.

    Parameters
    ----------
    columns
        Name of `DEVICE_FIELDS` and its values, shape (n,) each.
    lightness
        L* of the patches, shape (n,), where it is known: it tells a chart on 0-100 that stops
        short of white from one on 0-255, and a grey tone from an amount of ink.
    ramp
        For C, M, Y and K: which ramp is meant.
    full_scale
        What stands for white (RGB, grey) or full ink, where the file says so.

    Raises
    ------
    BadInput
        If a channel is missing, a value is negative or on no known scale, or a file holds a K
        ramp and a C = M = Y one and `ramp` does not choose.

    Examples
    --------
    >>> found = device_values({"GRAY": np.array([0.0, 51.0, 255.0])}, "ramp.txt")
    >>> found.values[:, 0].tolist(), found.remarks
    ([0.0, 0.2, 1.0], ('GRAY is on 0-255 (decided from the data).',))
    """
    stated = _Stated(columns, source, lightness, full_scale, lines)
    has_rgb = any(name in columns for name in RGB)
    has_ink = any(name in columns for name in (*CMY, "CMYK_K"))
    if ramp is not None and has_ink:
        return _from_ink(stated, ramp)
    if has_rgb:
        values, decided = stated.scaled(stated.channels(RGB), RGB, _TONE_SCALES, ink=False)
        return DeviceValues(values, np.arange(len(values)), _scale_remark("RGB", decided))
    grey = next((name for name in GREY if name in columns), None)
    if grey is not None:
        return _from_grey(stated, grey)
    if has_ink:
        return _from_ink(stated, ramp)
    raise BadInput(
        "there are no device values (RGB_R RGB_G RGB_B, GRAY, or CMYK_K); "
        "export the reading with the values that were printed, or give the chart's layout "
        "(--layout), the .txt file that was made with it",
        source,
    )


@dataclass(frozen=True, eq=False)
class _Stated:
    """What the file states, and where."""

    columns: Mapping[str, Array]
    source: object
    lightness: Array | None
    full_scale: float | None
    lines: Sequence[int] | None

    def channels(self, names: Sequence[str]) -> Array:
        """Return channels side by side; all of them must be there, none negative."""
        missing = [name for name in names if name not in self.columns]
        if missing:
            there = ", ".join(name for name in names if name in self.columns)
            raise BadInput(f"{there} but no {', '.join(missing)}; export all channels", self.source)
        values = np.stack([self.columns[name] for name in names], axis=1)
        self._refuse(values, names, values < 0, "which is below 0")
        return values

    def _refuse(self, values: Array, names: Sequence[str], wrong: Mask, why: str) -> None:
        if wrong.any():
            row, column = map(int, np.argwhere(wrong)[0])
            line = None if self.lines is None else self.lines[row]
            found = f"{names[column]} is {values[row, column]:g}, {why}"
            raise BadInput(f"{found}; put it right or export it again", self.source, line)

    def scaled(
        self, values: Array, names: Sequence[str], scales: Mapping[float, str], ink: bool
    ) -> tuple[Array, str | None]:
        """Bring values to 0-1; give the scale's name too, if it was decided from the data."""
        full, decided = self.full_scale, None
        if full is None:
            lightest = None if self.lightness is None else float(self.lightness.max())
            full = _full_scale(float(values.max()), tuple(scales), lightest, ink)
            if full is None:
                known = ", ".join(scales.values())
                row, column = divmod(int(values.argmax()), values.shape[1])
                raise BadInput(
                    f"{names[column]} reaches {values[row, column]:g}, which fits none of the "
                    f"scales {known}; put it right or export it again",
                    self.source,
                    None if self.lines is None else self.lines[row],
                )
            decided = scales[full]
        limit = full * (1 + _OVERSHOOT)
        self._refuse(values, names, values > limit, f"which is above {full:g}")
        return np.minimum(values / full, 1.0), decided


def _full_scale(
    highest: float, scales: Sequence[float], lightest: float | None, ink: bool
) -> float | None:
    """Choose the scale; the lightest patch speaks for the tone of the highest value.

    The lightest measurement is asked rather than the lightest patch, so that a chart that was
    read in the wrong order is not taken for another scale. An exactly reached end counts for
    much, so that a dark paper does not decide.
    """
    fitting = [full for full in scales if highest <= full * (1 + _OVERSHOOT)]
    if not fitting:
        return None
    if lightest is None or ink:
        return fitting[0]

    def distance(full: float) -> float:
        exact = abs(highest - full) <= full * _OVERSHOOT
        return abs(lightest - 100 * highest / full) - (25 if exact else 0)

    best = min(fitting, key=distance)
    return best if distance(best) < 60 else None


def _scale_remark(what: str, decided: str | None) -> tuple[str, ...]:
    return () if decided is None else (f"{what} is on {decided} (decided from the data).",)


def _from_grey(stated: _Stated, name: str) -> DeviceValues:
    column, decided = stated.scaled(stated.channels([name]), [name], _TONE_SCALES, ink=False)
    tone = column[:, 0]
    remarks = _scale_remark(name, decided)
    if name == "GRAY" and _darkens(tone, stated.lightness):
        tone = 1 - tone
        remarks += ("GRAY is an amount of ink: the prints darken as it rises.",)
    return DeviceValues(equal_channels(tone), np.arange(len(tone)), remarks)


def _darkens(tone: Array, lightness: Array | None) -> bool:
    if lightness is None or np.ptp(tone) == 0 or np.ptp(lightness) == 0:
        return False
    return bool(np.corrcoef(tone, lightness)[0, 1] < -0.8)


def _from_ink(stated: _Stated, ramp: Ramp | None) -> DeviceValues:
    has_black = "CMYK_K" in stated.columns
    has_colour = any(name in stated.columns for name in CMY)
    names = (*(CMY if has_colour else ()), *(("CMYK_K",) if has_black else ()))
    ink, decided = stated.scaled(stated.channels(names), names, _INK_SCALES, ink=True)
    cmy = ink[:, :3] if has_colour else np.zeros((len(ink), 3))
    black = ink[:, -1] if has_black else np.zeros(len(ink))
    remarks = () if decided == "0-100" else _scale_remark("Ink", decided)

    without_colour = np.asarray(cmy.max(axis=1) == 0)
    without_black = np.asarray(black == 0)
    if ramp is None:
        ramp, remark = _choose_ramp(cmy, black, stated)
        remarks += remark
    kept = without_colour if ramp == "K" else without_black
    rows = np.flatnonzero(kept)
    if not rows.size:
        raise BadInput(
            f"no patch belongs to the {ramp} ramp that --ramp asks for; choose the other one",
            stated.source,
        )
    left_out = len(ink) - rows.size
    if left_out:
        inks = "cyan, magenta or yellow" if ramp == "K" else "black"
        patches = "1 patch" if left_out == 1 else f"{left_out} patches"
        remarks += (f"{patches} with {inks} ink left out: the {ramp} ramp is read.",)
    values = 1 - (np.repeat(black[rows, np.newaxis], 3, axis=1) if ramp == "K" else cmy[rows])
    return DeviceValues(values, rows, remarks)


def _choose_ramp(cmy: Array, black: Array, stated: _Stated) -> tuple[Ramp, tuple[str, ...]]:
    """Choose K or CMY by which ramp there is; where there are both, only a person can."""
    grey = np.asarray(np.ptp(cmy, axis=1) == 0)
    black_tones = np.unique(black[cmy.max(axis=1) == 0]).size
    colour_tones = np.unique(cmy[grey & (black == 0), 0]).size
    if black_tones >= _LEAST_RAMP and colour_tones >= _LEAST_RAMP:
        raise BadInput(
            f"holds a K ramp of {black_tones} tones and a C = M = Y ramp of {colour_tones}; "
            "choose one with --ramp K or --ramp CMY",
            stated.source,
        )
    chosen: Ramp = "K" if black_tones >= colour_tones else "CMY"
    if min(black_tones, colour_tones) <= 1:
        return chosen, ()
    tones = max(black_tones, colour_tones)
    return chosen, (f"The {chosen} ramp is read: it has {tones} tones, the other one fewer.",)


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

CURVE = ("level", "R", "G", "B", "L", "a", "b", "sd_L", "sd_a", "sd_b")
"""The columns of a correction's curve, whose colours are predicted."""

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
        if loose:
            # The words beside a field's name may say that it is not what was sent, or measured.
            told = _OF_MEASURED if one.name in DEVICE_FIELDS else _OF_SENT
            if told & set(_WORD.findall(spelt.upper())):
                one = replace(one, name=_OTHER)
        recognised.append(one)
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
