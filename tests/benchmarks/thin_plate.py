"""The plain way to correct, to be beaten: a thin-plate fit, turned round by least squares.

SciPy's `RBFInterpolator`, cubic, over mean level and two opponent differences; the tones solved
together by `least_squares` with a light penalty on second differences. No noise model, no kinks.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator, RBFInterpolator
from scipy.optimize import least_squares
from scipy.sparse import lil_matrix
from support.correction_loop import Device, Subject, chart, fading

Array = NDArray[np.float64]

TONES = 33
SMOOTHING = 1e-4
PENALTY = 10.0
_MIX = np.array([[1 / 3, 1 / 3, 1 / 3], [1, -1, 0], [0.5, 0.5, -1]])


def thin_plate_curve(device: Array, lab: Array) -> Device:
    """Give what to send for levels, from device values sent (n, 3) and CIELAB measured (n, 3)."""
    sent, group = np.unique(np.round(device, 7), axis=0, return_inverse=True)
    counts = np.bincount(group.ravel())
    means = np.stack([np.bincount(group.ravel(), lab[:, c]) / counts for c in range(3)], axis=1)
    fit = RBFInterpolator(sent @ _MIX.T, means, kernel="cubic", smoothing=SMOOTHING)
    levels = np.linspace(0, 1, TONES)
    aim = fading(levels, means[np.all(sent == 1, 1)][0], means[np.all(sent == 0, 1)][0])
    bend = np.diff(np.eye(TONES), 2, axis=0)

    def errors(flat: Array) -> Array:
        rgb = flat.reshape(TONES, 3)
        return np.concatenate([(fit(rgb @ _MIX.T) - aim).ravel(), (PENALTY * bend @ rgb).ravel()])

    low, high = np.zeros((TONES, 3)), np.ones((TONES, 3)) + 1e-9
    low[-1], high[0] = 1 - 1e-6, 1e-6
    start = np.clip(np.repeat(levels[:, None], 3, axis=1), low + 1e-7, high - 1e-7)
    solved = least_squares(
        errors,
        start.ravel(),
        bounds=(low.ravel(), high.ravel()),
        jac_sparsity=_sparsity(),
        max_nfev=30,
    )
    curve = PchipInterpolator(levels, solved.x.reshape(TONES, 3))
    return lambda values: np.clip(curve(values), 0, 1)


def _sparsity() -> lil_matrix:
    pattern = lil_matrix((3 * TONES + 3 * (TONES - 2), 3 * TONES), dtype=int)
    for tone in range(TONES):
        pattern[3 * tone : 3 * tone + 3, 3 * tone : 3 * tone + 3] = 1
    for tone in range(TONES - 2):
        for c in range(3):
            for away in range(3):
                pattern[3 * TONES + 3 * tone + c, 3 * (tone + away) + c] = 1
    return pattern


def thin_plate_rounds(
    who: Subject, *, noise: float, seed: int, bits: int = 16, count: int = 2,
    device: Array | None = None,
) -> list[Device]:  # fmt: skip
    """Print, measure and correct so many times; same charts, same noise as for the correction."""
    random, codes = np.random.default_rng(seed), 2**bits - 1
    asked = chart(True) if device is None else device
    sent, measured = np.zeros((0, 3)), np.zeros((0, 3))
    made: list[Device] = []
    for _ in range(count):
        now = asked
        if made:
            now = np.stack([made[-1](asked[:, c])[:, c] for c in range(3)], axis=1)
        now = np.round(np.clip(now, 0, 1) * codes) / codes
        lab = who.lab(now)
        sent = np.concatenate([sent, now])
        measured = np.concatenate([measured, lab + random.normal(0.0, noise, lab.shape)])
        made.append(thin_plate_curve(sent, measured))
    return made
