"""Effects that lie over a whole chart, as curves over its patches, and how large they are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from greyscale.checks.case import Case
from greyscale.checks.evidence import Assignment
from greyscale.colorimetry.arrays import Array, Mask


def hats(level: Array, count: int) -> Array:
    """Return hat functions over level that add up to 1 everywhere, shape (n, count).

    Examples
    --------
    >>> hats(np.array([0.0, 0.25, 1.0]), 3).tolist()
    [[1.0, 0.0, 0.0], [0.5, 0.5, 0.0], [0.0, 0.0, 1.0]]
    """
    knots = np.linspace(0.0, 1.0, count)
    return np.stack([np.interp(level, knots, row) for row in np.eye(count)], axis=1)


def page_position(case: Case) -> Array:
    """Each slot's place on the page, -0.5 to 0.5 across the strips and along them, (n, 2)."""
    position = np.zeros((len(case), 2))
    last = max(len(case.strips) - 1, 1)
    longest = max(len(strip) for strip in case.strips)
    for number, strip in enumerate(case.strips):
        position[strip.slots, 0] = number / last - 0.5
        position[strip.slots, 1] = np.arange(len(strip)) / max(longest - 1, 1) - 0.5
    return position


def page_basis(case: Case, sd: float) -> Array:
    """Return curves that change evenly over the page, by tone, shape (n, 6)."""
    tones = hats(case.device.mean(axis=1), 3)
    position = page_position(case)
    return sd * np.hstack([tones * position[:, :1], tones * position[:, 1:]])


def sheet_basis(case: Case, members: Mask, sd: float) -> Array:
    """Return curves by which some slots may depart from the others, by tone, shape (n, 6)."""
    tones = hats(case.device.mean(axis=1), 5)
    common = np.ones((len(case), 1))
    return np.asarray(sd * members[:, None] * np.hstack([common, tones]))


def sheet_gains(state: Assignment, runs: Sequence[tuple[int, int]], sd: float) -> Array:
    """Return `gain` for each run of strips (first, one after the last) as another sheet.

    Parameters
    ----------
    runs
        r of them.
    sd
        As for `sheet_basis`.

    Returns
    -------
    Array of shape (r,).
    """
    case = state.case
    basis = sheet_basis(case, np.ones(len(case), dtype=bool), sd)[state.active]
    number = case.strip_number()[state.active]
    size = basis.shape[1]
    # One set of curves for each strip; those of a run are their sums.
    strips = np.arange(len(case.strips))
    each = ((number[:, None] == strips)[:, :, None] * basis[:, None, :]).reshape(len(basis), -1)
    ends = np.array(runs)
    total = np.zeros(len(runs))
    for channel, matrix in enumerate(state.precision.channels):
        blocks = (each.T @ (matrix @ each)).reshape(len(strips), size, len(strips), size)
        summed = _sums(_sums(blocks, 0), 2)
        low, high = ends[:, 0], ends[:, 1]
        inner = summed[high, :, high] - summed[low, :, high]
        inner += summed[low, :, low] - summed[high, :, low]
        pulls = _sums((each.T @ state.weighted[:, channel]).reshape(len(strips), size), 0)
        total += _log_gain(inner / state.scale, (pulls[high] - pulls[low]) / state.scale)
    return total


def _sums(values: Array, axis: int) -> Array:
    """Return the sums of the first 0, 1, 2, ... entries along an axis."""
    pad = [(1, 0) if index == axis else (0, 0) for index in range(values.ndim)]
    return np.cumsum(np.pad(values, pad), axis=axis)


def _log_gain(information: Array, pull: Array) -> Array:
    """Return the log likelihood that an effect adds: of information (..., k, k), pull (..., k)."""
    inner = np.eye(information.shape[-1]) + information
    solved = np.linalg.solve(inner, pull[..., np.newaxis])[..., 0]
    gained = np.sum(pull * solved, axis=-1) - np.linalg.slogdet(inner)[1]
    return np.asarray(gained / 2)


def gain(state: Assignment, basis: Array) -> float:
    """Return about how much likelier an effect makes the measurements, as a log likelihood."""
    own = basis[state.active]
    total = 0.0
    for channel, matrix in enumerate(state.precision.channels):
        pull = own.T @ state.weighted[:, channel]
        total += float(_log_gain(own.T @ (matrix @ own) / state.scale, pull / state.scale))
    return total


def size(state: Assignment, basis: Array) -> Array:
    """Return the estimated shares of an effect's curves in L*, a*, b*, shape (k, 3).

    Parameters
    ----------
    state
        Without the effect.
    """
    own = basis[state.active]
    shares = np.empty((own.shape[1], 3))
    for channel, matrix in enumerate(state.precision.channels):
        inner = np.eye(own.shape[1]) + own.T @ (matrix @ own)
        shares[:, channel] = np.linalg.solve(inner, own.T @ state.weighted[:, channel])
    return shares
