"""Which light a person means: a name, a colour temperature, a mixture, a lamp's file."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from importlib import resources
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.nearest import did_you_mean, no_such_file
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.light_mixtures import filtered, mix
from greyscale.colorimetry.lights import Light, UnknownLight, cie_illuminant, series_light
from greyscale.readings.lamps import plain_table, read_lamp

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
    # Of a text too long for a name, Path's own questions raise.
    path = Path(spec)
    mixed = "%" in spec
    if path.suffix.lower() in _LAMP_ENDINGS and not mixed and not os.path.exists(path):
        raise no_such_file(path)
    source = read_lamp(path) if os.path.isfile(path) else _named(spec)
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


def find_lights(specs: Sequence[str | Light]) -> tuple[Light, ...]:
    """Return lights by what names them, or as they are: each once, in order; see `find_light`."""
    found: dict[str, Light] = {}
    for spec in specs:
        one = spec if isinstance(spec, Light) else find_light(spec)
        found.setdefault(one.name, one)
    return tuple(found.values())


def glazing_names() -> tuple[str, ...]:
    """Name the glazings that come with the package."""
    return tuple(sorted(entry.name.removesuffix(".csv") for entry in _glazing_folder().iterdir()))


def _named(spec: str) -> Light:
    try:
        in_series = series_light(spec)
        if in_series is not None:
            return in_series
        if "%" in spec:
            return _mixture(spec)
        return cie_illuminant(spec)
    except UnknownLight as error:
        if re.fullmatch(r"\d{4,5}\s*K", spec.strip(), re.I):
            kelvin = spec.strip().rstrip("Kk ")
            raise BadInput(
                f"'{spec}' is a colour temperature, which many lights have; write "
                f"daylight-{kelvin}K or blackbody-{kelvin}K, or give the lamp's file"
            ) from error
        looks_like_a_file = Path(spec).suffix.lower() in {".csv", ".txt", ".xml", ".spdx", ".tsv"}
        found = f"there is no lamp file '{spec}'" if looks_like_a_file else f"{error}"
        raise BadInput(f"{found}; 'greyscale lights' lists the names") from error


def _mixture(spec: str) -> Light:
    parts = []
    for term in spec.split("+"):
        match = _SHARE.fullmatch(term.strip())
        if match is None:
            raise BadInput(
                f"'{term}' is not a share of a light; write a mixture as 70%D65+30%A",
                f"light '{spec}'",
            )
        name = match[2].strip()
        part = read_lamp(Path(name)) if os.path.isfile(name) else _named(name)
        parts.append((float(match[1]), part))
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
