"""The demo's picture: an invented photograph of a lighthouse over a harbour, drawn from numbers."""

from __future__ import annotations

import numpy as np

from greyscale.colorimetry.arrays import Array

_HORIZON = 0.60  # All heights and widths below are shares of the picture's.


def lighthouse_picture(width: int) -> Array:
    """Draw the picture.

    Evening over a harbour: a bright cloud bank, calm water with a path of light, a dark headland
    with a white lighthouse, a quay with bollards, a boat. It uses every tone, the deep shadows and
    the highlights most.

    Parameters
    ----------
    width
        Pixels; the height is two thirds of it.

    Returns
    -------
    Array of shape (height, width): levels from 0 to 1, even in L*.
    """
    height = width * 2 // 3
    random = np.random.default_rng(1)
    y, x = np.mgrid[0:height, 0:width].astype(np.float64)
    x, y = x / width, y / height
    sky = _sky(x, y, _clouds(random, height, width))
    water = _water(x, y, random)
    soft = 1.5 / height
    level = _over(sky, water, _edge(y - _HORIZON, soft))
    level = _headland(level, x, y, random, soft)
    level = _lighthouse(level, x, y, soft)
    level = _boat(level, x, y, soft)
    level = _quay(level, x, y, random, soft)
    corner = ((x - 0.5) ** 2 + (y - 0.5) ** 2) * 0.22
    grain = random.normal(0.0, 0.006, level.shape)
    return np.asarray(np.clip(level * (1.0 - corner) + grain, 0.0, 1.0))


def _edge(distance: Array, soft: float) -> Array:
    """Return 1 where a signed distance is above 0, 0 below, over a soft edge."""
    return np.asarray(np.clip(distance / (2 * soft) + 0.5, 0.0, 1.0))


def _over(below: Array, above: Array | float, cover: Array) -> Array:
    return np.asarray(below + (above - below) * cover)


def _box(x: Array, y: Array, left: float, right: float, top: float, foot: float) -> Array:
    """Return the signed distance inside a box, positive within."""
    return np.minimum(np.minimum(x - left, right - x), np.minimum(y - top, foot - y))


def _clouds(random: np.random.Generator, height: int, width: int) -> Array:
    """Return smooth noise of many scales, stretched sideways, mean 0, about -1 to 1."""
    from scipy.ndimage import zoom

    total = np.zeros((height, width))
    for octave in range(6):
        rows, columns = 3 * 2**octave, 2 * 2**octave
        coarse = random.normal(size=(rows + 3, columns + 3))
        fine = zoom(
            coarse, (height / rows, width / columns), order=3, grid_mode=True, mode="nearest"
        )
        total += fine[:height, :width] * 0.58**octave
    return np.asarray(total / np.abs(total).max())


def _sky(x: Array, y: Array, clouds: Array) -> Array:
    glow = np.exp(-(((x - 0.70) / 0.42) ** 2) - ((y - _HORIZON) / 0.30) ** 2)
    base = 0.40 + 0.22 * (y / _HORIZON) + 0.36 * glow
    bank = np.exp(-(((y - 0.30) / 0.20) ** 2))
    return np.asarray(base + clouds * (0.10 + 0.24 * bank))


def _water(x: Array, y: Array, random: np.random.Generator) -> Array:
    depth = np.maximum(y - _HORIZON, 1e-3)
    ripple = np.zeros_like(x)
    for _ in range(14):
        across, away, phase = random.uniform(6, 40), random.uniform(4, 14), random.uniform(0, 6.3)
        ripple += np.sin(
            across * (x - 0.5) / (depth + 0.12) * 0.25 + away * np.log(depth) * 3 + phase
        )
    ripple /= 14
    path = np.exp(-(((x - 0.70) / (0.05 + 0.55 * depth)) ** 2))
    return np.asarray(0.52 - 0.75 * depth + 0.34 * path + ripple * (0.25 + 0.9 * path))


def _headland(level: Array, x: Array, y: Array, random: np.random.Generator, soft: float) -> Array:
    rough = sum(
        random.normal(0, 0.012 / n) * np.sin(2 * np.pi * n * x * 2.3 + random.uniform(0, 6.3))
        for n in range(1, 24)
    )
    ridge = _HORIZON - 0.16 * np.clip(1 - (x / 0.47) ** 2, 0, None) - 0.35 * rough * (x < 0.47)
    shore = _HORIZON + 0.015 * np.clip((0.47 - x) / 0.1, 0, 1)
    rock = _edge(y - ridge, 2 * soft) * _edge(shore - y, 2 * soft) * _edge(0.47 - x, soft)
    shade = 0.10 + 0.10 * np.clip((x - 0.05) / 0.4, 0, 1) + 0.6 * rough
    return _over(level, np.clip(shade, 0.02, 0.4), rock)


def _lighthouse(level: Array, x: Array, y: Array, soft: float) -> Array:
    centre, top, foot = 0.24, 0.155, 0.475
    half = 0.017 + 0.012 * np.clip((y - top) / (foot - top), 0, 1)
    side = (x - centre) / half
    tower = np.minimum(np.minimum(half - np.abs(x - centre), y - top), foot - y)
    # A white cylinder, lit from the right; two dark bands.
    white = np.clip(0.72 + 0.28 * side - 0.22 * np.maximum(-side, 0), 0.18, 0.985)
    band = ((y > 0.245) & (y < 0.295)) | ((y > 0.365) & (y < 0.415))
    level = _over(level, np.where(band, white * 0.42, white), _edge(tower, soft))
    gallery = _box(x, y, centre - 0.026, centre + 0.026, top - 0.006, top + 0.008)
    level = _over(level, 0.06, _edge(gallery, soft))
    lantern = _box(x, y, centre - 0.012, centre + 0.012, top - 0.05, top - 0.006)
    level = _over(level, 0.99, _edge(lantern, soft))
    bars = np.abs(((x - centre) / 0.008) % 1.0 - 0.5) * 0.008 - 0.0035
    level = _over(level, 0.08, _edge(np.minimum(lantern, bars), soft / 2))
    roof = np.minimum(0.016 - np.abs(x - centre) - (top - 0.05 - y) * 0.35, y - (top - 0.095))
    roof = np.minimum(roof, top - 0.05 - y)
    level = _over(level, 0.05, _edge(roof, soft))
    distance = np.hypot((x - centre) * 1.5, y - (top - 0.028))
    return np.asarray(level + 0.30 * np.exp(-((distance / 0.05) ** 2)) * (1 - level))


def _boat(level: Array, x: Array, y: Array, soft: float) -> Array:
    centre, line = 0.60, 0.705
    hull = np.minimum(line - y, y - (line - 0.035 + 0.25 * (x - centre) ** 2))
    hull = np.minimum(hull, 0.075 - np.abs(x - centre) - (y - line + 0.035) * 0.4)
    level = _over(level, 0.09 + 0.25 * np.clip((line - 0.028 - y) / 0.006, 0, 1), _edge(hull, soft))
    cabin = _box(x, y, centre - 0.045, centre - 0.005, line - 0.075, line - 0.033)
    level = _over(level, 0.83, _edge(cabin, soft))
    level = _over(
        level,
        0.12,
        _edge(_box(x, y, centre - 0.038, centre - 0.013, line - 0.066, line - 0.05), soft),
    )
    mast = 0.0022 - np.abs(x - centre - 0.018)
    level = _over(
        level, 0.10, _edge(np.minimum(mast, np.minimum(line - 0.03 - y, y - line + 0.22)), soft)
    )
    below = _edge(np.minimum(y - line, line + 0.045 - y), soft) * _edge(
        0.07 - np.abs(x - centre), 0.01
    )
    return np.asarray(level * (1 - 0.55 * below))


def _quay(level: Array, x: Array, y: Array, random: np.random.Generator, soft: float) -> Array:
    top = 0.875 + 0.012 * x
    stones = 0.13 + 0.05 * np.sin(2 * np.pi * (x * 9 + np.floor((y - top) / 0.04) * 0.5)) ** 8
    fade = np.clip(1 - (y - top) / 0.13, 0, 1)
    wall = stones * fade**1.3 + random.normal(0, 0.012, x.shape) * fade
    level = _over(level, np.clip(wall, 0.0, 1.0), _edge(y - top, soft))
    coping = np.minimum(y - top, top + 0.012 - y)
    level = _over(level, 0.42 + 0.1 * x, _edge(coping, soft))
    for centre in (0.14, 0.46, 0.82):
        post = _box(x, y, centre - 0.012, centre + 0.012, 0.825, 0.885 + 0.012 * centre)
        head = _box(x, y, centre - 0.017, centre + 0.017, 0.818, 0.832)
        shade = 0.03 + 0.16 * np.clip((x - centre) / 0.012, 0, 1)
        level = _over(level, shade, _edge(np.maximum(post, head), soft))
    return level
