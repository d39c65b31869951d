"""Make the data files of the CIE's tables from `colour`, when it has others or better ones."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import colour
import numpy as np
from numpy.typing import NDArray

from greyscale.colorimetry.observers import (
    DAYLIGHT_FILE,
    ILLUMINANT_FILE,
    OBSERVER_FILE,
    OBSERVERS,
)

FOLDER = Path(__file__).parents[2] / "greyscale" / "colorimetry" / "data"

Table = tuple[NDArray[np.float64], NDArray[np.float64]]


def illuminants() -> dict[str, Table]:
    """Return every CIE illuminant that `colour` tabulates: wavelengths (n,), relative power (n,).

    The fluorescent ones are called F1, F2, ..., as the trade does; CIE 15 writes FL1, FL2, ...
    """
    return {
        str(name).replace("FL", "F", 1): (table.wavelengths, table.values)
        for name, table in colour.SDS_ILLUMINANTS.items()
        if not str(name).startswith("ISO")
    }


def daylight() -> dict[str, Table]:
    """Return S0, S1, S2, of which CIE daylight is made: wavelengths (n,), values (n,)."""
    parts = colour.colorimetry.SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES
    return {name: (parts[name].wavelengths, parts[name].values) for name in ("S0", "S1", "S2")}


def observers() -> dict[str, Table]:
    """Give the observers in use: wavelengths (n,), x̄, ȳ, z̄ (n, 3)."""
    tables = {name: colour.MSDS_CMFS[name] for name in OBSERVERS.values()}
    return {name: (table.wavelengths, table.values) for name, table in tables.items()}


def csv(tables: Mapping[str, Table], step: int, source: str) -> str:
    """Write columns over all their wavelengths, each number as short as it can be read back."""
    columns = {name: dict(zip(*table, strict=True)) for name, table in tables.items()}
    first = min(min(column) for column in columns.values())
    last = max(max(column) for column in columns.values())
    lines = [f"# {source}", ",".join(["nm", *columns])]
    for nm in np.arange(first, last + 1, step):
        values = [column.get(nm) for column in columns.values()]
        lines.append(",".join([f"{nm:g}", *("" if v is None else repr(float(v)) for v in values)]))
    return "\n".join(lines) + "\n"


def main() -> None:
    origin = f"from the data of colour-science {colour.__version__}, by tests/support/cie_tables.py"
    by_function = {
        f"{name} {letter}": (wavelengths, functions[:, index])
        for name, (wavelengths, functions) in observers().items()
        for index, letter in enumerate("xyz")
    }
    for file, text in (
        (ILLUMINANT_FILE, csv(illuminants(), 5, f"Illuminants of CIE 15:2018, {origin}")),
        (DAYLIGHT_FILE, csv(daylight(), 5, f"Components of daylight, CIE 15:2018, {origin}")),
        (OBSERVER_FILE, csv(by_function, 1, f"Observers of the CIE (15, 170-2), {origin}")),
    ):
        (FOLDER / file).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
