"""One print's chart, its measurements as files of many looks, and all that is found from a file."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from support.as_printed import compare
from support.reading_files import delimited, iso28178

from greyscale.analysis.analyse import analyse
from greyscale.analysis.comparison import ComparisonOptions
from greyscale.base.results import plain
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.correction.as_json import to_json
from greyscale.correction.correct import correct
from greyscale.correction.record import Options
from greyscale.demo.printer import demo_printer
from greyscale.readings.formats import read
from greyscale.reporting.comparison_report import comparison_data
from greyscale.reporting.json_output import analysis_data

LIGHTS = ("D50", "A", "F11")

PARTS = ("analysis", "correction", "comparison")
"""All that is found in a file."""


@dataclass(frozen=True)
class Measured:
    """What was measured, before it is put in a file.

    Attributes
    ----------
    ids
        Of the n patches.
    device
        Shape (n, 3), 0 to 1.
    spectra
        Shape (n, m), reflectance factors.
    wavelengths
        Shape (m,), nm.
    """

    ids: tuple[str, ...]
    device: np.ndarray
    spectra: np.ndarray
    wavelengths: np.ndarray

    @property
    def lab(self) -> np.ndarray:
        return spectra_to_lab(self.spectra, self.wavelengths)

    def rows(self, rows: Iterable[int]) -> Measured:
        """Some patches, in order; a patch may come twice, under another name."""
        index = list(rows)
        named: dict[str, int] = {}
        ids = []
        for row in index:
            count = named[self.ids[row]] = named.get(self.ids[row], 0) + 1
            ids.append(self.ids[row] + "'" * (count - 1))
        return replace(self, ids=tuple(ids), device=self.device[index], spectra=self.spectra[index])


def ramp_and_beside() -> np.ndarray:
    """Device values on 0-255: seventeen tones, fifteen patches beside them."""
    ramp = np.repeat(np.linspace(0, 255, 17).round()[:, np.newaxis], 3, axis=1)
    beside = [ramp[2:15:3] + offset for offset in ([10, 0, 0], [0, 10, 0], [0, 0, 10])]
    return np.vstack([ramp, np.clip(np.vstack(beside), 0, 255)])


def a_print(paper: str = "cotton rag", seed: int = 4, repeats: Iterable[int] = ()) -> Measured:
    """A print on the demo's printer, read with ordinary noise: no two of its values are alike."""
    device = ramp_and_beside() / 255
    device = np.vstack([device, device[list(repeats)]])
    ids = tuple(f"P{i + 1}" for i in range(len(device)))
    made = demo_printer(paper).measure(ids, device, noise=0.12, seed=seed)
    assert made.spectra is not None
    return Measured(ids, device, made.spectra.round(6), np.asarray(made.wavelengths))


def text_of(one: Measured, **how: Any) -> str:
    """ISO 28178 text of its spectra."""
    return iso28178(one.ids, one.device, one.spectra, one.wavelengths, **how)


def csv_of(one: Measured, **how: Any) -> str:
    """CSV of its spectra."""
    return "# condition: M1\n" + delimited(one.ids, one.device, one.spectra, one.wavelengths, **how)


def table_of(one: Measured, device: Mapping[str, np.ndarray], *, lab: bool = False) -> str:
    """ISO 28178 text with device values as they shall stand there, spectra or CIELAB."""
    measured = one.lab if lab else one.spectra
    names = ["LAB_L", "LAB_A", "LAB_B"] if lab else [f"SPECTRAL_NM{w:g}" for w in one.wavelengths]
    columns = np.column_stack([*device.values(), measured])
    rows = "\n".join(
        "\t".join([name, *(repr(float(value)) for value in row)])
        for name, row in zip(one.ids, columns, strict=True)
    )
    fields = "\t".join(["SAMPLE_ID", *device, *names])
    return (
        f'CGATS.17\nMEASUREMENT_SOURCE "Illumination=M1"\nBEGIN_DATA_FORMAT\n{fields}\n'
        f"END_DATA_FORMAT\nNUMBER_OF_SETS {len(one.ids)}\nBEGIN_DATA\n{rows}\nEND_DATA\n"
    )


def found_in(
    path: Path,
    beside: Path | None = None,
    lights: Iterable[Any] = LIGHTS,
    parts: Container[str] = PARTS,
    **how: Any,
) -> dict[str, Any]:
    """Read a file; analyse it, correct by it and compare it, as their JSON files would say.

    Parameters
    ----------
    beside
        Another paper's reading to compare with; None compares nothing.
    lights
        To look under.
    parts
        Of `PARTS`, those that are wanted.
    how
        The file is to be read.
    """
    reading = read(path, **how)
    lights = tuple(lights)
    found: dict[str, Any] = {}
    if "analysis" in parts:
        found["analysis"] = analysis_data(analyse(reading, lights=lights))
    if "correction" in parts:
        found["correction"] = to_json(correct([reading], Options(points=1024)))
    if "comparison" in parts and beside is not None:
        both = [reading, read(beside)]
        found["comparison"] = comparison_data(compare(both, ComparisonOptions(lights=lights)))
    plainly: dict[str, Any] = plain(found)
    return plainly


OF_THE_FILE = frozenset({"name", "source", "sha256", "created", "remarks", "id"})
"""Of a result: what the file is called, what it holds byte by byte, when, what had to be decided;
of repeats, which of them comes first."""


def differences(
    found: Any, expected: Any, but: frozenset[str] = OF_THE_FILE, path: str = ""
) -> dict[str, float]:
    """Give each number that differs, with by how much; a word that differs, by infinity."""
    if isinstance(expected, dict) and isinstance(found, dict):
        keys = sorted((found.keys() | expected.keys()) - but)
        pairs = [(key, found.get(key), expected.get(key)) for key in keys]
    elif isinstance(expected, list) and isinstance(found, list) and len(found) == len(expected):
        pairs = [(str(i), one, found[i]) for i, one in enumerate(expected)]
    elif isinstance(expected, float | int) and isinstance(found, float | int):
        return {} if found == expected else {path: abs(float(found) - float(expected))}
    else:
        return {} if found == expected else {path: np.inf}
    gathered: dict[str, float] = {}
    for key, one, other in pairs:
        gathered |= differences(one, other, but, f"{path}.{key}")
    return gathered


def furthest(found: Any, expected: Any, but: frozenset[str] = OF_THE_FILE) -> tuple[float, str]:
    """Give the largest difference, and where it is."""
    all_of_them = differences(found, expected, but)
    if not all_of_them:
        return 0.0, ""
    where = max(all_of_them, key=lambda key: all_of_them[key])
    return all_of_them[where], where


def assert_same(
    found: Any, expected: Any, *, within: float = 0.0, but: frozenset[str] = OF_THE_FILE
) -> None:
    """Hold two results against each other: no number may differ by more, no word at all."""
    difference, where = furthest(found, expected, but)
    assert difference <= within, f"{where} differs by {difference:.3g}"
