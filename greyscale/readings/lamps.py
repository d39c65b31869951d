"""Lamps: which light a person means, by name or as a measured file."""

from __future__ import annotations

import csv
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from importlib import resources
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput, did_you_mean, no_such_file
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.light_quality import filtered, mix
from greyscale.colorimetry.lights import (
    Light,
    UnknownLight,
    cie_illuminant,
    interpolate_power,
    series_light,
)
from greyscale.readings.fields import recognise_fields
from greyscale.readings.iso28178_text import TextTable, looks_like_iso28178, parse_file
from greyscale.readings.source_file import (
    Outline,
    decode,
    read_bytes,
    text_lines,
    to_number,
    to_numbers,
)

# Whether a measured lamp can be used, and the light it makes.

NEEDED = (400.0, 700.0)
"""A lamp must be measured over these wavelengths, nm; beyond them eyes hardly answer."""
WANTED = (380.0, 730.0)
"""A lamp that was measured over less than this gets a remark."""
COARSEST = 20.0
"""Steps above this, nm, cannot carry a lamp's lines."""
FINE = 10.0
"""Steps above this, nm, get a remark."""
WIDEST_GAP = 30.0
"""A gap wider than this, nm, and than three of the usual steps, is a hole."""
NOISE_FLOOR = 0.005
"""Negative power down to this share of the peak is an instrument's noise; it stays, since sums
would come out too large without it."""
DARK = 400.0
"""Below this wavelength, nm, a lamp's table shows its noise best: there is little power there."""
FEWEST_DARK = 8
"""From so many values on there the noise is told."""


def lamp(name: str, wavelengths: Array, power: Array, source: str) -> Light:
    """Make a light of a lamp's table.

    Parameters
    ----------
    wavelengths, power
        Shape (n,): nm, in any order; power in any unit, as dimming changes nothing.

    Raises
    ------
    BadInput
        If the table has holes, is cut off, too coarse, or not a spectrum at all.
    """
    order = np.argsort(wavelengths, kind="stable")
    wavelengths, power = wavelengths[order], power[order]
    _check_numbers(wavelengths, power, source)
    remarks = [*_check_coverage(wavelengths, source), *_check_steps(wavelengths, source)]
    if power.min() < 0:
        remarks.append(
            "slightly negative power is taken for an instrument's noise, which evens out"
        )
    steps = np.diff(wavelengths)
    # A table in even steps of 3 nm or more is a sampled curve, as the CIE's are; finer or
    # uneven ones follow the lamp's lines themselves, and a spline would swing between them.
    splined = np.ptp(steps) < 0.1 and steps.mean() >= 3.0
    relative = power / power.max()
    full = interpolate_power(wavelengths, relative, linear=not splined)
    return Light(
        name,
        full,
        wavelengths,
        relative,
        tuple(remarks),
        rests_on=("measured-lamp",),
        noise=_noise(wavelengths, relative),
    )


def _noise(wavelengths: Array, power: Array) -> float:
    """The standard deviation of power summed over 1 nm, from second differences where it is dark.

    Those of a straight line are 0, and of noise alone they have 6 times its variance. A lamp's
    lines and bends add to them, so no more is called noise than falls below zero: power does not.
    """
    dark = wavelengths < DARK
    if dark.sum() < FEWEST_DARK:
        return 0.0
    bends = np.abs(np.diff(power[dark], 2))
    step = np.diff(wavelengths[dark]).mean()
    told = 1.4826 * np.median(bends) / np.sqrt(6)
    return float(np.clip(-power[dark].min(), 0.0, told) * np.sqrt(step))


def _check_numbers(wavelengths: Array, power: Array, source: str) -> None:
    if wavelengths.size < 4:
        raise BadInput(
            f"holds {wavelengths.size} wavelengths; a lamp needs its whole spectrum", source
        )
    if not (np.all(np.isfinite(wavelengths)) and np.all(np.isfinite(power))):
        raise BadInput("holds a value that is not a number; export the lamp again", source)
    twice = wavelengths[1:][np.diff(wavelengths) <= 0]
    if twice.size:
        raise BadInput(f"holds {twice[0]:g} nm twice; keep one of them", source)
    if power.max() <= 0:
        raise BadInput("holds no power at all; was the lamp lit?", source)
    if power.min() < -NOISE_FLOOR * power.max():
        at = wavelengths[np.argmin(power)]
        raise BadInput(
            f"holds negative power at {at:g} nm, beyond an instrument's noise; "
            "measure the lamp again, with its dark reading",
            source,
        )


def _check_coverage(wavelengths: Array, source: str) -> list[str]:
    first, last = wavelengths[0], wavelengths[-1]
    if first > NEEDED[0] or last < NEEDED[1]:
        raise BadInput(
            f"is cut off: it holds {first:g} to {last:g} nm; "
            f"a lamp is needed from {NEEDED[0]:g} to {NEEDED[1]:g} nm at least",
            source,
        )
    if first > WANTED[0] or last < WANTED[1]:
        return [
            f"the lamp was measured from {first:g} to {last:g} nm; "
            "beyond that it is taken to give no light"
        ]
    return []


def _check_steps(wavelengths: Array, source: str) -> list[str]:
    steps = np.diff(wavelengths)
    seen = (wavelengths[:-1] < NEEDED[1]) & (wavelengths[1:] > NEEDED[0])
    usual = float(np.median(steps[seen]))
    if usual > COARSEST:
        raise BadInput(
            f"is too coarse: one value every {usual:g} nm; "
            f"measure the lamp in steps of {FINE:g} nm or less",
            source,
        )
    widest = int(np.argmax(np.where(seen, steps, 0.0)))
    if steps[widest] > max(WIDEST_GAP, 3 * usual):
        raise BadInput(
            f"has a gap between {wavelengths[widest]:g} and {wavelengths[widest + 1]:g} nm; "
            "export the whole spectrum",
            source,
        )
    if usual > FINE:
        return [f"the lamp has one value every {usual:g} nm; narrow lines may be missed"]
    return []


# A lamp in IES TM-27-14 XML, read by `colour`.


def is_tm27(head: bytes) -> bool:
    """Tell from a file's first bytes whether it is of this format."""
    return b"IESTM2714" in head.upper()


def tm27(path: Path) -> tuple[Array, Array]:
    """Read wavelengths, nm, and power, each of shape (n,).

    Raises
    ------
    BadInput
        If the file is not sound XML, declares a document type or entities, is nested too deep, or
        holds no usable spectrum.
    """
    # The parser behind `colour` takes the encoding from the file, and so does this look at it.
    Outline(read_bytes(path), path)
    import colour

    try:
        table = colour.SpectralDistribution_IESTM2714(str(path)).read()
    except (ValueError, KeyError, TypeError, AttributeError, AssertionError) as error:
        raise BadInput(
            "is not a usable IES TM-27-14 lamp: each SpectralData needs a wavelength of its own "
            "and a number",
            path,
        ) from error
    return np.array(table.wavelengths, np.float64), np.array(table.values, np.float64)


# A lamp as ISO 28178 spectral text: a row of spectral fields, or a row per wavelength.

WAVELENGTH_FIELDS = ("SPECTRAL_NM", "WAVELENGTH", "WAVELENGTH_NM", "NM")
"""Fields that hold a wavelength, in files with a row per wavelength."""
POWER_FIELDS = ("SPECTRAL_POWER", "SPECTRAL_VALUE", "SPECTRAL_EMISSION", "POWER", "VALUE")
"""Fields that hold the power there."""


def is_spectral_text(head: bytes) -> bool:
    """Tell from a file's first bytes whether it is of this format."""
    # Dropping the zeros and the marks of UTF-16 leaves the letters that matter.
    letters = head.replace(b"\0", b"").lstrip(b"\xff\xfe\xef\xbb\xbf")
    return looks_like_iso28178(letters.decode("latin-1"))


def spectral_text(path: Path) -> tuple[Array, Array]:
    """Read wavelengths, nm, and values, each of shape (n,); the mean of several rows.

    Raises
    ------
    BadInput
        If no table of the file holds a spectrum.
    """
    for table in parse_file(path).tables:
        fields = recognise_fields(table.fields)
        spectral = [i for i, field in enumerate(fields) if field.wavelength is not None]
        if len(spectral) > 1:
            power = to_numbers(table.rows, spectral, _names(table, spectral), table.lines, path)
            nm = np.array([fields[i].wavelength for i in spectral], dtype=np.float64)
            return nm, power.mean(axis=0)
        names = [name.upper() for name in table.fields]
        wavelength = [names.index(name) for name in WAVELENGTH_FIELDS if name in names]
        beside = [names.index(name) for name in POWER_FIELDS if name in names]
        if wavelength and beside:
            pair = [wavelength[0], beside[0]]
            values = to_numbers(table.rows, pair, _names(table, pair), table.lines, path)
            return values[:, 0], values[:, 1]
    raise BadInput(
        "holds no spectrum: fields such as SPECTRAL_NM400, or SPECTRAL_NM and SPECTRAL_POWER", path
    )


def _names(table: TextTable, columns: list[int]) -> list[str]:
    return [table.fields[i] for i in columns]


# A lamp as text: two columns, wavelength and power, or a row below a row of wavelengths.

WAVELENGTH_UNITS = ((100.0, 2500.0, 1.0), (2500.0, 25000.0, 0.1), (0.1, 2.5, 1000.0))
"""Least and largest wavelength in nm, Å and µm, and that unit in nm."""

FEWEST_IN_A_ROW = 8
"""So many wavelengths in a line make it the head of a table."""

LOOKED_AT = 1000
"""Lines that are looked at to say what is in a file that cannot be used."""
_DELIMITERS = (";", "\t", ",")


def is_text(head: bytes) -> bool:
    """Tell from a file's first bytes whether it is of this format: text, of any kind."""
    try:
        return b"\0" not in head or not decode(head, "").lstrip().startswith("<")
    except BadInput:
        return False


def plain_table(path: Path) -> tuple[Array, Array]:
    """Read columns or rows parted by comma, semicolon, tab or blanks; decimal comma or point.

    Lines that start with # and lines of words before the first numbers or after the last are
    passed over. The unit of the wavelengths is known by their size.

    Returns
    -------
    Wavelengths in nm and the values beside or below them, each of shape (n,), as they stand.

    Raises
    ------
    BadInput
        With the line that cannot be read.
    """
    rows: list[tuple[float, float]] = []
    words: tuple[int, str] | None = None
    lines = text_lines(decode(read_bytes(path), path))
    for number, line in enumerate(lines, start=1):
        content = line.split("#")[0].strip()
        if not content.strip(";, "):
            continue
        if not rows and (wavelengths := _row_of_wavelengths(content)) is not None:
            return wavelengths, _row_below(lines, number, wavelengths.size, path)
        values = _two_numbers(content)
        # A meter may say more below; between numbers, or where a number should be, it may not.
        if values is None and rows and words is None:
            words = number, content
        if words is not None and (values is not None or words[1][0].isdigit()):
            raise BadInput(
                f"'{words[1][:40]}' is not a wavelength and a number; two columns are needed",
                path,
                words[0],
            )
        if values is not None:
            rows.append(values)
    if not rows:
        more = max((_count_of_numbers(line.split("#")[0]) for line in lines[:LOOKED_AT]), default=0)
        raise BadInput(
            f"holds {more} numbers in a row; keep two columns, the wavelength and one value, and "
            "part them by semicolons where commas are decimal marks"
            if more > 2
            else "does not hold two columns of numbers (wavelength, power), nor a row of them "
            "below a row of wavelengths (380 nm, 385 nm, ...)",
            path,
        )
    table = np.array(rows, dtype=np.float64)
    return _in_nanometres(table[:, 0], path), table[:, 1]


def _cells(line: str, separator: str | None) -> list[str]:
    cells = line.split(separator)
    if separator and '"' in line:
        try:
            cells = next(csv.reader([line], delimiter=separator), [])
        except csv.Error:
            return []
    return [cell.strip() for cell in cells if cell.strip()]


def _row_of_wavelengths(line: str) -> Array | None:
    """Return the wavelengths, nm, that a line names, where beside a first cell it names no more."""
    for separator in _DELIMITERS:
        names = _cells(line, separator)
        if len(names) < FEWEST_IN_A_ROW:
            continue
        found = [f.wavelength for f in recognise_fields(names) if f.wavelength is not None]
        if len(found) >= max(FEWEST_IN_A_ROW, len(names) - 1) and np.all(np.diff(found) != 0):
            return np.array(found, dtype=np.float64)
    return None


def _row_below(lines: Sequence[str], after: int, count: int, path: Path) -> Array:
    """Return the one row of numbers below a row of wavelengths."""
    found = []
    for number, line in enumerate(lines[after:], start=after + 1):
        for separator in (*_DELIMITERS, None):
            cells = _cells(line, separator)
            values = [to_number(cell) for cell in cells[-count:]]
            if len(cells) in (count, count + 1) and None not in values:
                found.append((number, np.array(values, dtype=np.float64)))
                break
    if len(found) != 1:
        raise BadInput(
            f"holds {len(found)} rows of {count} numbers below the row of wavelengths; keep one, "
            "that of the lamp",
            path,
            found[1][0] if found else after,
        )
    return found[0][1]


def _two_numbers(line: str) -> tuple[float, float] | None:
    for separator in [*filter(line.__contains__, _DELIMITERS), None]:
        parts = _cells(line, separator)
        if len(parts) == 2:
            break
    else:
        # A decimal comma beside a comma between the columns cannot be told apart; with blanks
        # around it, it can.
        parts = re.split(r",?\s+", line)
    if len(parts) != 2:
        return None
    wavelength, value = parts[0].rstrip(":").removesuffix("nm"), parts[1].removesuffix("%")
    try:
        first, second = (float(part.strip(' "').replace(",", ".")) for part in (wavelength, value))
    except ValueError:
        return None
    return first, second


def _count_of_numbers(line: str) -> int:
    """Return how many cells a line of numbers alone has, parted as it may be; else 0."""
    counts = [0]
    for separator in (*_DELIMITERS, None):
        cells = _cells(line, separator)
        if all(to_number(cell) is not None for cell in cells):
            counts.append(len(cells))
    return max(counts)


def _in_nanometres(wavelengths: Array, path: Path) -> Array:
    for least, largest, factor in WAVELENGTH_UNITS:
        if least <= wavelengths.min() and wavelengths.max() <= largest:
            return wavelengths * factor
    raise BadInput(
        f"its first column runs from {wavelengths.min():g} to {wavelengths.max():g}, "
        "which are not wavelengths in nm, µm or Å",
        path,
    )


LAMP_FORMATS: tuple[tuple[Callable[[bytes], bool], Callable[[Path], tuple[Array, Array]]], ...] = (
    (is_tm27, tm27),
    (is_spectral_text, spectral_text),
    (is_text, plain_table),
)
"""How a format is recognised by a file's first bytes, and its reader; the first match reads."""


def read_spectrum(path: Path) -> tuple[Array, Array]:
    """Read the one spectrum of a file: wavelengths in nm, and values as they stand, (n,) each.

    Raises
    ------
    BadInput
        If it cannot be read, or holds none.
    """
    data = read_bytes(path)
    for recognise, read in LAMP_FORMATS:
        if recognise(data[:4096]):
            return read(path)
    decode(data, path)  # It says what is the matter with a file that is no text.
    raise BadInput(
        "is not a spectrum: IES TM-27-14 XML, ISO 28178 text or plain columns are read", path
    )


def read_lamp(path: Path) -> Light:
    """Read the light that a lamp's file holds; see `lamp` and `read_spectrum`."""
    return lamp(path.stem, *read_spectrum(path), str(path))


_LAMP_ENDINGS = frozenset({".csv", ".spdx", ".tsv", ".txt", ".xml"})

_SHARE = re.compile(r"(\d+(?:\.\d+)?)\s*%\s*(.+)")


def find_light(spec: str, glazing: str | None = None) -> Light:
    """Return the light that `spec` names, behind a glazing if there is one.

    Parameters
    ----------
    spec
        A CIE illuminant (`D50`, `F11`, `LED-B3`), `daylight-4000K`, `blackbody-2700K`, a lamp's
        file, or a mixture by shares of illuminance (`70%D65+30%blackbody-2700K`).
    glazing
        A name of `glazing_names()`, or the file of a transmittance (nm, 0 to 1 or percent).

    Raises
    ------
    BadInput
        If there is no such light, with the nearest names; or the file cannot be used.
    """
    parts = [part.split("%", 1)[-1].strip() for part in spec.split("+")]
    # A file may hold another lamp by the next time: only what is known by name is kept.
    from_file = any(os.path.isfile(one) for one in (spec, glazing or "", *parts))
    return (_found.__wrapped__ if from_file else _found)(spec, glazing)


@lru_cache(maxsize=256)
def _found(spec: str, glazing: str | None) -> Light:
    source = _named(spec)
    if glazing is None:
        return source
    wavelengths, transmittance, name = _glazing(glazing)
    behind = f"behind {name}"
    if glazing not in glazing_names():
        return filtered(source, wavelengths, transmittance, behind, "glazing-file")
    found = filtered(source, wavelengths, transmittance, behind, "glazing-curve")
    others = tuple(
        filtered(source, *other, behind, "glazing-curve")
        for other in _credible_glasses(wavelengths, transmittance)
    )
    return replace(found, credible=others)


CREDIBLE_SHIFTS = (-15.0, 15.0)
"""By so many nm the ultraviolet edge of a glass of that kind may lie elsewhere, by its thickness
and make; common practice, no source."""

CREDIBLE_TINT = 0.04
"""By this share a glass may pass more at 700 nm than at 400, or less, next to the general curve:
what iron, coatings and thickness do to its colour; common practice, no source."""


def _credible_glasses(wavelengths: Array, transmittance: Array) -> list[tuple[Array, Array]]:
    """The family that a general curve stands for: its edge elsewhere, a tint to either side."""
    tilt = CREDIBLE_TINT * (wavelengths - 550.0) / 300.0
    edges = [
        np.interp(wavelengths, wavelengths + shift, transmittance) for shift in CREDIBLE_SHIFTS
    ]
    # An edge that comes early goes with little of what tints, one that comes late with much.
    shapes = [*edges, transmittance * (1 + tilt), transmittance * (1 - tilt)]
    shapes += [edges[0] * (1 - tilt), edges[1] * (1 + tilt)]
    return [(wavelengths, np.clip(one, 0.0, 1.0)) for one in shapes]


def find_lights(specs: Sequence[str | Light], glazing: str | None = None) -> tuple[Light, ...]:
    """Return lights by what names them, or as they are: each once, in order; see `find_light`.

    Raises
    ------
    BadInput
        As `find_light` does, and for two lights of one name.
    """
    found: dict[str, Light] = {}
    for spec in specs:
        one = spec if isinstance(spec, Light) else find_light(spec, glazing)
        before = found.setdefault(one.name, one)
        if not np.array_equal(before.power, one.power):
            raise BadInput(f"two lights are called '{one.name}'; give a lamp's file another name")
    return tuple(found.values())


def glazing_names() -> tuple[str, ...]:
    """Name the glazings that come with the package."""
    return tuple(sorted(entry.name.removesuffix(".csv") for entry in _glazing_folder().iterdir()))


def _named(spec: str) -> Light:
    # Of a text too long for a name, Path's own questions raise.
    if os.path.isfile(spec):
        return read_lamp(Path(spec))
    if "%" in spec:
        return _mixture(spec)
    if Path(spec).suffix.lower() in _LAMP_ENDINGS and not os.path.exists(spec):
        raise no_such_file(spec)
    try:
        return series_light(spec) or cie_illuminant(spec)
    except UnknownLight as error:
        if re.fullmatch(r"\d{4,5}\s*K", spec.strip(), re.I):
            kelvin = spec.strip().rstrip("Kk ")
            raise BadInput(
                f"'{spec}' is a colour temperature, which many lights have; write "
                f"daylight-{kelvin}K or blackbody-{kelvin}K, or give the lamp's file"
            ) from error
        raise BadInput(f"{error}; 'greyscale lights' lists the names") from error


def _mixture(spec: str) -> Light:
    parts = []
    for term in spec.split("+"):
        match = _SHARE.fullmatch(term.strip())
        if match is None:
            raise BadInput(
                f"'{term}' is not a share of a light; write a mixture as 70%D65+30%A",
                f"light '{spec}'",
            )
        parts.append((float(match[1]), _named(match[2].strip())))
    try:
        return mix(parts)
    except ValueError as error:
        raise BadInput(f"{error}", f"light '{spec}'") from error


def _glazing_folder() -> resources.abc.Traversable:
    return resources.files("greyscale.readings") / "data" / "glazing"


def _glazing(name: str) -> tuple[Array, Array, str]:
    packaged = _glazing_folder() / f"{name}.csv"
    if name in glazing_names():
        with resources.as_file(packaged) as path:
            wavelengths, values = plain_table(path)
        return wavelengths, values, name
    path = Path(name)
    if not os.path.isfile(path):
        hint = did_you_mean(name, glazing_names(), files=True)
        raise BadInput(
            f"is neither a file nor a known glazing; {hint}known: {', '.join(glazing_names())}",
            f"glazing '{name}'",
        )
    wavelengths, values = plain_table(path)
    if values.max() > 1.5:
        values = values / 100.0
    if values.min() < -0.01 or values.max() > 1.01:
        raise BadInput("a transmittance lies between 0 and 1 (or 0 and 100 %)", path)
    order = np.argsort(wavelengths)
    return wavelengths[order], np.clip(values[order], 0.0, 1.0), path.stem
