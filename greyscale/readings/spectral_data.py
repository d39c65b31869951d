"""Spectra as a file states them, brought to reflectance factors on rising wavelengths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.tristimulus import WavelengthGrid
from greyscale.readings.field_names import LONGEST_WAVELENGTH, SHORTEST_WAVELENGTH, Units

HIGHEST_REFLECTANCE = 1.5
"""No print reflects more: papers with much brightener reach 1.3 at 440 nm (common practice)."""

NOISE = 0.01
"""A negative reflectance factor down to minus this is an instrument's noise, and taken as 0."""

NEEDED = (430.0, 660.0)
"""nm that spectra must reach over; what less than 380 to 730 costs, the analysis says."""

FINEST_STEP = 0.1
"""nm between two values, at least."""


@dataclass(frozen=True, eq=False)
class Spectra:
    """Reflectance factors (n, m), 1 = perfect diffuser; their wavelengths (m,), nm; remarks."""

    factors: Array
    wavelengths: Array
    remarks: tuple[str, ...]


def spectra_of(
    values: Array,
    wavelengths: Array,
    source: object,
    *,
    units: Units | None = None,
    lines: Sequence[int] | None = None,
    header_line: int | None = None,
) -> Spectra:
    """Bring spectra to reflectance factors, and say what was decided.

    Parameters
    ----------
    values
        Shape (n, m), as the file states them, finite.
    wavelengths
        Shape (m,), nm, in any order.
    source
        The file's path, for messages.
    units
        As the file or a person states them; None to decide from the data.
    lines
        The line of each spectrum, for messages.
    header_line
        The line that names the wavelengths, for messages.

    Raises
    ------
    BadInput
        If the wavelengths are too few, doubled or not equally spaced, or a reflectance factor is
        below `-NOISE` or above `HIGHEST_REFLECTANCE`.
    """
    order = np.argsort(wavelengths, kind="stable")
    wavelengths, values = wavelengths[order], values[:, order]
    _check_grid(wavelengths, source, header_line)
    remarks = []
    decided = units or _decide_units(values)
    if decided == "percent":
        values = values / 100
    measured = _measured_columns(values)
    if not measured.all():
        left_out = wavelengths[~measured]
        wavelengths, values = wavelengths[measured], values[:, measured]
        remarks.append(
            f"At {', '.join(f'{w:g}' for w in left_out)} nm every patch is exactly 0, "
            "so nothing was measured there; left out."
        )
    _check_range(values, wavelengths, source, lines)
    if units is None:
        grid = f"{wavelengths[0]:g} to {wavelengths[-1]:g} nm by {np.diff(wavelengths).mean():.3g}"
        remarks.insert(0, f"Spectra, {grid} nm, are {_IN_WORDS[decided]} (decided from the data).")
    negative = values < 0
    if negative.any():
        remarks.append(
            f"Slightly negative reflectance (down to {values.min():.4f}) in "
            f"{int(negative.any(axis=1).sum())} patches is noise, and taken as 0."
        )
        values = np.maximum(values, 0.0)
    return Spectra(values, wavelengths, tuple(remarks))


_IN_WORDS = {"percent": "in percent", "decimal": "decimal, 1 for the perfect diffuser"}


def _decide_units(values: Array) -> Units:
    """Decide by the patches' medians, so that a single spoiled patch does not.

    In percent, all but the deepest blacks reflect more than 1.5; as decimals, no patch does.
    """
    light = np.median(values, axis=1) > HIGHEST_REFLECTANCE
    needed = 1 if len(values) < 4 else max(2, len(values) / 20)
    return "percent" if light.sum() >= needed else "decimal"


def _measured_columns(values: Array) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell which wavelengths lie within the first and the last that are not all exactly 0."""
    columns = np.flatnonzero((values != 0).any(axis=0))
    measured = np.ones(values.shape[1], dtype=bool)
    if columns.size >= 3:
        measured[: columns[0]] = False
        measured[columns[-1] + 1 :] = False
    return measured


def _check_grid(wavelengths: Array, source: object, line: int | None) -> None:
    steps = np.diff(wavelengths)
    doubled = np.flatnonzero(steps == 0)
    if doubled.size:
        raise BadInput(f"{wavelengths[doubled[0]]:g} nm occurs twice", source, line)
    first, last = float(wavelengths[0]), float(wavelengths[-1])
    if first < SHORTEST_WAVELENGTH or last > LONGEST_WAVELENGTH:
        raise BadInput(
            f"the spectra run from {first:g} to {last:g} nm, which is not possible; state "
            "wavelengths in nm",
            source,
            line,
        )
    if first > NEEDED[0] or last < NEEDED[1]:
        raise BadInput(
            f"the spectra are cut off: they run from {first:g} to {last:g} nm, and colour takes "
            f"{NEEDED[0]:g} to {NEEDED[1]:g} nm at least",
            source,
            line,
        )
    if steps.min() < FINEST_STEP:
        raise BadInput(
            f"{wavelengths[np.argmin(steps)]:g} nm is followed after {steps.min():g} nm, closer "
            "than any instrument reads; export the spectra again",
            source,
            line,
        )
    try:
        WavelengthGrid.of(wavelengths)
    except ValueError as error:
        listed = ", ".join(f"{w:g}" for w in wavelengths)
        if steps.size > 1:
            usual = float(np.median(steps))
            odd = int(np.argmax(np.abs(steps - usual)))
            listed = f"{wavelengths[odd + 1]:g} follows {wavelengths[odd]:g} where the step is"
            listed += f" {usual:g}"
        raise BadInput(
            f"{error} ({listed} nm); export the spectra on one regular grid", source, line
        ) from error


def _check_range(
    values: Array, wavelengths: Array, source: object, lines: Sequence[int] | None
) -> None:
    wrong = (values < -NOISE) | (values > HIGHEST_REFLECTANCE)
    if not wrong.any():
        return
    row, column = map(int, np.argwhere(wrong)[0])
    value = values[row, column]
    why = "below 0" if value < 0 else f"above {HIGHEST_REFLECTANCE}"
    raise BadInput(
        f"the reflectance factor at {wavelengths[column]:g} nm is {value:.4g}, and no print's is "
        f"{why}; measure this patch again, or state the units if they are not as decided",
        source,
        None if lines is None else lines[row],
    )
