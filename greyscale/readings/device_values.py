"""What was sent to the printer: R, G, B from 0 to 1, out of whatever a file states.

Level 0 is black and 1 is paper white. RGB may stand on 0-1, 0-100, 0-255 or 0-65535; a grey value
may be a tone or an amount of ink; C, M, Y, K are amounts of ink. The data decide, and the reader
says what was decided.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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
    remarks
        What was decided, as sentences.
    """

    values: Array
    rows: Indices
    remarks: tuple[str, ...]


def has_device_values(names: Sequence[str]) -> bool:
    """Tell whether some of these fields are device values."""
    return any(name in DEVICE_FIELDS for name in names)


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
    source
        The file's path, for messages.
    lightness
        L* of the patches, shape (n,), where it is known: it tells a chart on 0-100 that stops
        short of white from one on 0-255, and a grey tone from an amount of ink.
    ramp
        For C, M, Y and K: which ramp is meant.
    full_scale
        What stands for white (RGB, grey) or full ink, where the file says so.
    lines
        The line of each patch, for messages.

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
        return _from_rgb(stated)
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
            full = _full_scale(float(values.max()), tuple(scales), self._lightest(), ink)
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

    def _lightest(self) -> float | None:
        return None if self.lightness is None else float(self.lightness.max())


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


def _from_rgb(stated: _Stated) -> DeviceValues:
    values, decided = stated.scaled(stated.channels(RGB), RGB, _TONE_SCALES, ink=False)
    return DeviceValues(values, np.arange(len(values)), _scale_remark("RGB", decided))


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
