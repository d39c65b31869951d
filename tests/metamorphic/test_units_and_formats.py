"""However a file states what was measured, the same is found: analysed, corrected by, compared.

No published figure is needed for this: two files of one print are held against each other.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from support.one_print import (
    OF_THE_FILE,
    PARTS,
    a_print,
    assert_same,
    csv_of,
    found_in,
    furthest,
    table_of,
    text_of,
)  # fmt: skip
from support.reading_files import SPELLINGS, cxf3

from greyscale.readings.layout import Layout, read_layout, write_layout

ROUNDING = 1e-10
"""What a per cent more or less than a hundredth, and a sum in other order, can do at most."""

PRINT, OTHER = a_print(repeats=[0, 8, 16]), a_print("baryta", 9, [0, 8, 16])
RAMP = PRINT.rows([*range(17), 32, 33, 34])
RGB = ("RGB_R", "RGB_G", "RGB_B")
INKS = ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K")


def as_rgb(one, full: float) -> str:
    return table_of(one, dict(zip(RGB, one.device.T * full, strict=True)))


def as_cmy(one, full: float = 100.0) -> str:
    inks = full * (1 - np.column_stack([one.device, np.ones(len(one.ids))]))
    return table_of(one, dict(zip(INKS, inks.T, strict=True)))


def as_black(one, full: float = 100.0) -> str:
    """The ramp as amounts of black ink."""
    inks = np.zeros((len(one.ids), 4))
    inks[:, 3] = full * (1 - one.device[:, 0])
    return table_of(one, dict(zip(INKS, inks.T, strict=True)))


def as_grey(one, full: float, ink: bool = False) -> str:
    tone = one.device[:, 0]
    return table_of(one, {"GRAY": full * (1 - tone if ink else tone)})


LOOKS = {
    "0-1": as_rgb(PRINT, 1),
    "0-100": as_rgb(PRINT, 100),
    "0-65535": as_rgb(PRINT, 65535),
    "C, M, Y in per cent": as_cmy(PRINT),
    "per cent": text_of(PRINT, percent=True),
    "other spelling": text_of(PRINT, percent=True, spelling=SPELLINGS[2], gap=" "),
    "CSV": csv_of(PRINT),
    "CSV, per cent": csv_of(PRINT, percent=True),
    "CSV, decimal commas": csv_of(PRINT, mark=";"),
    "CSV, tabs": csv_of(PRINT, mark="\t"),
    "CxF3": cxf3(PRINT.ids, PRINT.device, PRINT.spectra, PRINT.wavelengths),
    "decimal commas": text_of(PRINT).replace(".", ",").replace("CGATS,17", "CGATS.17"),
    "powers of ten": re.sub(r"\d+\.\d+", lambda one: f"{float(one[0]):.17e}", as_rgb(PRINT, 255)),
}  # fmt: skip
RAMPS = {
    "black ink": (as_black(RAMP), {}),
    "black ink beside C = M = Y": (as_black(RAMP), {"ramp": "K"}),
    "black ink, 0-255": (as_black(RAMP, 255), {}),
    "C = M = Y": (as_cmy(RAMP), {}),
    "a grey value": (as_grey(RAMP, 255), {}),
    "a grey value, 16 bits": (as_grey(RAMP, 65535), {}),
    "an amount of grey": (as_grey(RAMP, 100, ink=True), {}),
}
BYTES = {
    "lines of Windows": lambda text: text.replace("\n", "\r\n").encode(),
    "lines of old": lambda text: text.replace("\n", "\r").encode(),
    "a byte order mark": lambda text: text.encode("utf-8-sig"),
    "UTF-16": lambda text: text.encode("utf-16"),
    "UTF-16, the other way": lambda text: b"\xfe\xff" + text.encode("utf-16-be"),
    "blank lines and blanks": lambda text: text.replace("\n", " \t\n\n").encode(),
    "no last line end": lambda text: text.rstrip("\n").encode(),
}


def found(folder: Path, content: str | bytes, **how: Any) -> dict[str, Any]:
    """All that is found in a file, of the same name each time."""
    path, beside = folder / "ramp.dat", folder / "other.txt"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    beside.write_text(text_of(OTHER), encoding="utf-8")
    return found_in(path, beside, **how)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("looks")


@pytest.fixture(scope="module")
def expected(folder: Path) -> dict[str, Any]:
    return found(folder, text_of(PRINT))


@pytest.fixture(scope="module")
def expected_of_ramp(folder: Path) -> dict[str, Any]:
    return found(folder, text_of(RAMP))


def test_another_print_is_found_another(folder: Path, expected: dict[str, Any]) -> None:
    """The comparison sees a difference where there is one, even of a thousandth in one value."""
    spectra = PRINT.spectra.copy()
    spectra[5] *= 1.001
    other = found(folder, text_of(replace(PRINT, spectra=spectra)))
    for part in expected:
        assert furthest(other[part], expected[part])[0] > 1e4 * ROUNDING, part


def assert_found(
    folder: Path, content: str | bytes, expected: dict[str, Any], *, whole: bool, **how: Any
) -> None:
    """Hold what is found in a file against what is expected, the correction too if asked for.

    A correction begins with the patches that an analysis lists.
    """
    parts = PARTS if whole else ("analysis",)
    other = found(folder, content, parts=parts, **how)
    assert_same(other, {part: expected[part] for part in parts}, within=ROUNDING)


@pytest.mark.parametrize("look", LOOKS)
def test_units_and_formats(look: str, folder: Path, expected: dict[str, Any]) -> None:
    assert_found(folder, LOOKS[look], expected, whole=look in ("C, M, Y in per cent", "CxF3"))


@pytest.mark.parametrize("look", RAMPS)
def test_kinds_of_device_values(look: str, folder: Path, expected_of_ramp: dict[str, Any]) -> None:
    """A ramp is a ramp: of black ink, of C = M = Y, of grey values, or of R = G = B."""
    text, how = RAMPS[look]
    assert_found(folder, text, expected_of_ramp, whole=look == "black ink", **how)


@pytest.mark.parametrize("look", BYTES)
@pytest.mark.parametrize("form", [text_of, csv_of])
def test_line_ends_and_encodings(look: str, form, folder: Path, expected: dict[str, Any]) -> None:
    content = BYTES[look](form(PRINT))
    assert_found(folder, content, expected, whole=look == "UTF-16" and form is csv_of)


def test_device_values_from_the_layout(folder: Path) -> None:
    """A reading without device values, and the chart's layout, in another order than it.

    The layout tells the places as well, so the reading with device values states them too.
    """
    order = np.random.default_rng(3).permutation(len(PRINT.ids))
    places = tuple(f"{'ABCDE'[i // 7]}{i % 7 + 1}" for i in range(len(PRINT.ids)))
    write_layout(
        Layout(
            "ramp", tuple(PRINT.ids[i] for i in order), places, PRINT.device[order],
            tuple("tone" for _ in order), {},
        ),
        folder / "layout.txt",
    )  # fmt: skip
    layout = read_layout(folder / "layout.txt")
    other = found(folder, table_of(PRINT, {}), layout=layout)
    stated = {"SAMPLE_ID": "PATCH_PLACE", **dict(zip(layout.ids, places, strict=True))}
    whole = re.sub(
        r"^(\w+)(?=\t)",
        lambda name: f"{name[0]}\t{stated[name[0]]}",
        as_rgb(PRINT, 255),
        flags=re.MULTILINE,
    )
    assert_same(other, found(folder, whole), within=ROUNDING)


NEEDS_SPECTRA = frozenset({
    "rests_on", "lights", "lights_absent", "spectral", "density", "density_range", "density_source",
    "repeatability", "spectra", "wavelengths", "glow", "glow_known",
})  # fmt: skip


def test_cielab_in_place_of_spectra(folder: Path) -> None:
    """Without repeats, whose spectra would be averaged: what is said under D50 is the same."""
    once = PRINT.rows(range(32))
    columns = dict(zip(RGB, once.device.T * 255, strict=True))
    path = folder / "ramp.dat"
    parts = []
    for lab in (False, True):
        path.write_text(table_of(once, columns, lab=lab), encoding="utf-8")
        parts.append(found_in(path))
    but = OF_THE_FILE | NEEDS_SPECTRA
    assert_same(parts[1], parts[0], but=but, within=ROUNDING)
    assert parts[1]["analysis"]["lights"] is None
