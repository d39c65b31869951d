"""What spectra that end early, or have wide steps, may lose: how far a*, b* may be off by it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from greyscale.colorimetry.arrays import Array, Mask
from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.colorimetry.lights import Light, cubic_spline
from greyscale.colorimetry.tristimulus import WavelengthGrid, tristimulus_weights

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
    plan = _plan(np.asarray(wavelengths, dtype=np.float64).tobytes(), tuple(lights), observer)
    k = len(plan.white[0])
    seen = np.hstack([spectra @ plan.read, plan.extended(spectra) @ plan.whole])
    ab = xyz_to_lab(seen.reshape(len(seen), -1, k, 3), plan.white)[..., 1:]
    read, *halves, extended, first, last = np.moveaxis(ab, 1, 0)
    parts = [extended - read, first - extended, last - extended]
    if halves:
        away = np.abs(np.stack(halves) - read)
        worse = np.argmax(away.max(axis=(1, 3)), axis=0)
        parts.append(_BY_HALF_THE_STEP * np.where(worse[:, np.newaxis], away[1], away[0]))
    return np.asarray(np.sqrt(np.sum(np.square(parts), axis=(0, 3)).max(axis=0)))


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


@dataclass(frozen=True, eq=False)
class _Plan:
    """What spectra on some wavelengths are multiplied by, to see them under k lights.

    Attributes
    ----------
    read
        Shape (m, 3k), of the spectra as they are; where the steps are wide, of every other
        wavelength as well, from the first on and from the second.
    whole
        Shape (w, 9k), of the spectra extended to `_WHOLE`; as they are, and with a departure at
        either end.
    white
        Of each of these, shape (4 or 6, k, 3).
    spline
        Shape (m, w): to `_WHOLE`, held beyond the ends.
    ends
        Of each end that lies within `_WHOLE`: its wavelength, one further inside, the distance
        between them in nm, which of `_WHOLE` lie outside, and how far the slope goes on there.
    """

    read: Array
    whole: Array
    white: Array
    spline: Array
    ends: tuple[tuple[int, int, float, Mask, Array], ...]

    def extended(self, spectra: Array) -> Array:
        """The spectra on `_WHOLE`, extended smoothly."""
        smooth = np.maximum(spectra @ self.spline, 0.0)
        for end, inside, apart, outside, goes_on in self.ends:
            logs = np.log(np.maximum(spectra[:, [end, inside]], 1e-4))
            slope = (logs[:, :1] - logs[:, 1:]) / apart
            smooth[:, outside] *= np.exp(slope * goes_on)
        return smooth


@lru_cache(maxsize=16)
def _plan(at: bytes, lights: tuple[Light | str, ...], observer: str) -> _Plan:
    wavelengths = np.frombuffer(at)
    step = wavelengths[1] - wavelengths[0]

    def weights(own: Array) -> Array:
        grid = WavelengthGrid.of(own)
        return np.hstack([tristimulus_weights(grid, one, observer) for one in lights])

    read = [weights(wavelengths)]
    if step > _USUAL_STEP and len(wavelengths) >= 2 * _FEWEST:
        for start in (0, 1):
            read.append(np.zeros_like(read[0]))
            read[-1][start::2] = weights(wavelengths[start::2])
    whole = weights(_WHOLE)
    back = min(max(1, round(_SLOPE_OVER / step)), len(wavelengths) - 1)
    ends, departing = [], [whole]
    for end, inside, outside in (
        (0, back, wavelengths[0] > _WHOLE),
        (-1, -1 - back, wavelengths[-1] < _WHOLE),
    ):
        away = np.abs(_WHOLE - wavelengths[end]) * outside
        departing.append(np.exp(-_DEPARTS * away**2 / (away + _HELD))[:, np.newaxis] * whole)
        if outside.any():
            goes_on = _HELD * (1 - np.exp(-away[outside] / _HELD))
            ends.append((end, inside, float(back * step), outside, goes_on))
    inner = np.clip(_WHOLE, wavelengths[0], wavelengths[-1])
    white = [one.sum(axis=0) for one in (*read, whole, whole, whole)]
    return _Plan(
        np.hstack(read),
        np.hstack(departing),
        np.stack(white).reshape(len(white), len(lights), 3),
        cubic_spline(wavelengths, np.eye(len(wavelengths)), inner).T,
        tuple(ends),
    )
