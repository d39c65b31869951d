"""What spectra that end early, or have wide steps, may lose: how far a*, b* may be off by it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.colorimetry.lights import Light, cubic_spline
from greyscale.colorimetry.tristimulus import grid_white_point, spectra_to_xyz

WORTH_SAYING = 0.05
"""Units of a*, b* below which a loss is not spoken of: no instrument repeats so well."""

_WHOLE = np.arange(380.0, 731.0, 5.0)  # Beyond it the observers see next to nothing.
_HELD = 40.0  # nm, over which a spectrum keeps the slope that it ends with,
_SLOPE_OVER = 30.0  # and nm over which that slope is taken.
_DEPARTS = 0.03
"""Per nm: how the logarithm of reflectance may depart from the smooth extension, further out.
Found on published series of greys and on simulated prints, cut at many places."""

_USUAL_STEP = 10.0  # nm: the weights are made for it.
_FEWEST = 8  # Wavelengths, every other one, that tell what all of them lose.
# The error of interpolation falls with the square of the step, or faster.
_BY_HALF_THE_STEP = 0.25


def possible_loss(
    spectra: Array, wavelengths: Array, lights: Sequence[Light | str], observer: str = "2"
) -> Array:
    """Return how far a*, b* may be off for want of what lies beyond the ends or between the steps.

    Beyond the ends each spectrum is extended smoothly, as it ends; what it may do else there is
    let grow with the distance. Between the steps, what every other wavelength alone would lose
    tells what all of them do.

    Parameters
    ----------
    spectra, wavelengths
        Shapes (n, m) and (m,): reflectance factors, nm in even steps.
    lights
        k lights.

    Returns
    -------
    Array of shape (k,): the largest of all spectra.
    """
    smooth, others = _extended(spectra, wavelengths)
    return np.array([_loss(spectra, wavelengths, smooth, others, one, observer) for one in lights])


def loss_words(
    spectra: Array | None, wavelengths: Array | None, lights: Sequence[Light], observer: str = "2"
) -> tuple[str, ...]:
    """Return a sentence that says what may be lost, and under which light; none where little is."""
    if spectra is None or wavelengths is None:
        return ()
    first, last, step = wavelengths[0], wavelengths[-1], wavelengths[1] - wavelengths[0]
    known = f"The spectra go from {first:g} to {last:g} nm in steps of {step:g} nm"
    if step > _USUAL_STEP and len(wavelengths) < 2 * _FEWEST:
        return (f"{known}: too few to tell how far a*, b* are off by what lies between.",)
    losses = possible_loss(spectra, wavelengths, lights, observer)
    if not np.any(losses >= WORTH_SAYING):
        return ()
    worst = int(np.argmax(losses))
    return (
        f"{known}: by what lies beyond and between, a*, b* may be off by about "
        f"{losses[worst]:.2f} under {lights[worst].name}, or two to three times that.",
    )


def _extended(spectra: Array, wavelengths: Array) -> tuple[Array, list[Array]]:
    """The spectra on `_WHOLE`, extended smoothly, and with a departure at either end."""
    step = wavelengths[1] - wavelengths[0]
    back = min(max(1, round(_SLOPE_OVER / step)), len(wavelengths) - 1)
    inner = np.clip(_WHOLE, wavelengths[0], wavelengths[-1])
    smooth = np.maximum(cubic_spline(wavelengths, spectra.T, inner).T, 0.0)
    logs = np.log(np.maximum(spectra, 1e-4))
    departures = []
    for end, inside in ((0, back), (-1, -1 - back)):
        outside = wavelengths[0] > _WHOLE if end == 0 else wavelengths[-1] < _WHOLE
        away = np.abs(_WHOLE - wavelengths[end]) * outside
        slope = (logs[:, [end]] - logs[:, [inside]]) / (back * step)
        smooth = smooth * np.exp(slope * _HELD * (1 - np.exp(-away / _HELD)))
        departures.append(np.exp(-_DEPARTS * away**2 / (away + _HELD)))
    return smooth, [smooth * departure for departure in departures]


def _loss(
    spectra: Array,
    wavelengths: Array,
    smooth: Array,
    others: Sequence[Array],
    light: Light | str,
    observer: str,
) -> float:
    def ab(values: Array, at: Array) -> Array:
        white = grid_white_point(at, light, observer)
        return xyz_to_lab(spectra_to_xyz(values, at, light, observer), white)[:, 1:]

    read, extended = ab(spectra, wavelengths), ab(smooth, _WHOLE)
    parts = [extended - read, *(ab(other, _WHOLE) - extended for other in others)]
    if len(wavelengths) >= 2 * _FEWEST:
        halves = [ab(spectra[:, start::2], wavelengths[start::2]) - read for start in (0, 1)]
        step = wavelengths[1] - wavelengths[0]
        share = _BY_HALF_THE_STEP if step > _USUAL_STEP else 0.0
        parts.append(share * max(halves, key=lambda half: float(np.abs(half).max())))
    return float(np.sqrt(np.max(sum(np.sum(part**2, axis=1) for part in parts))))
