"""Which single patches are spoilt: what each measures, against what all others let expect of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from weakref import WeakKeyDictionary

import numpy as np

from greyscale.checks.finding import SpoiltPatch
from greyscale.checks.likelihood import (
    CHROMATICNESS,
    LIGHTNESS,
    Belief,
    expected_lab,
    precisions,
)
from greyscale.colorimetry.arrays import Array, Indices, medians, quantiles
from greyscale.readings.reading import AXIS_TOLERANCE, Reading, is_bare, is_full

LEAST_Z = 5.0
"""Leave-one-out standard deviations from which on a patch is spoilt. Of normal values in three
channels of 147 patches one lies beyond it in one reading of 4 000."""

LEAST_DEPARTURE = 1.0
"""CIELAB units in one of L*, a*, b* below which a patch is left alone: the least visible cast."""

COMPUTED = "COMPUTED"
"""The keyword of a reading that was computed and not measured: none of its patches is spoilt."""

BENDS = (1.0, 0.4, 0.15)
"""How much a ramp alone may bend, over what is believed of any printer: the less, the surer its
neighbours tell a tone. Sure enough to have it read again, not to leave it out of a tone scale."""

_MOST_SPOILT = 0.05  # Of the patches; with more, the printer is rough, and none is to blame.
_FEWEST = 12  # Patches without which no one is told from the others.
_MOST_NAMED = 5
_BLOCK = 300  # Patches that are looked at together, so that time grows with the patches alone.
_NOISES = (0.06, 0.12, 0.25, 0.5, 1.0)
_DARK = (1.0, 4.0)  # The noise of full black, over that of paper: many instruments' is larger.
_AS_BELIEVED = (1.0,)
_Beliefs = tuple[tuple[Belief, Belief], ...]
_USUAL: _Beliefs = ((LIGHTNESS, CHROMATICNESS),)
# Beside the axis: how curved, and how much by the least or the largest channel. Found, with the
# four below, on simulated printers of 22 kinds, others of the same kinds kept out.
_BELIEFS: _Beliefs = tuple(
    (
        replace(LIGHTNESS, second_order=200 * share, unlike=0.3 * share**2, extreme=extreme),
        replace(
            CHROMATICNESS, second_order=200 * share, unlike=0.3 * share**2, extreme=extreme / 2
        ),
    )
    for share, extreme in product((0.3, 0.55, 1.0), (0.0, 1.0, 4.0))
)
_CLOSE_BY = 0.1  # In each channel.
_ABOUT_AS_FAR = 0.5  # As what is suspected.
_LITTLE = 0.3  # Of what it is off.
_HALF, _MOST = 0.5, 0.9
_WITHIN = {_HALF: 0.6745, _MOST: 1.645}  # Deviations within which such a share of values lies.
_DIGITS = 4  # Of levels that are one tone.
_MANY = 100  # So many tones tell each other however much they bend.
_LEAST_BESIDE = 1.5  # CIELAB units by which it must lie off all that its neighbours tell.
_CLIPPED = 9.0  # A squared z beyond this counts as this: spoilt patches don't choose the noise.


_Known = dict[tuple[float, ...], tuple[SpoiltPatch, ...]]
_KNOWN: WeakKeyDictionary[Reading, _Known] = WeakKeyDictionary()
# The checks ask, and whoever takes the ramp out of the reading asks again.


def spoilt_patches(
    reading: Reading, bends: tuple[float, ...] = _AS_BELIEVED
) -> tuple[SpoiltPatch, ...]:
    """The patches whose measurement no other patch bears out, the worst first.

    The worst is set aside, and the others judged anew without it, until all fit. The noise is
    that of the reading's own departures, so a rough paper raises no alarm.

    Parameters
    ----------
    reading
        As it was measured.
    bends
        Of a ramp alone: see `BENDS`; the likeliest is taken.

    Returns
    -------
    None, where more than one patch in twenty would be spoilt: then it is not a matter of patches.
    """
    known = _KNOWN.setdefault(reading, {})
    if bends not in known:
        # What even the surest neighbours do not speak against is not set aside.
        clear = bends != BENDS and not spoilt_patches(reading, BENDS)
        known[bends] = () if clear else _found_in(reading, bends)
    return known[bends]


def _found_in(reading: Reading, bends: tuple[float, ...]) -> tuple[SpoiltPatch, ...]:
    found: list[SpoiltPatch] = []
    if COMPUTED in reading.fields or reading.as_it_is:
        return ()
    for rows in _blocks(reading):
        found.extend(_in_block(reading, rows, bends))
    # Scales begin and end at paper and black: none is set aside unless it was measured again.
    for last in (is_bare(reading.device), is_full(reading.device)):
        if last.sum() == sum(last[patch.index] for patch in found):
            found = [patch for patch in found if not last[patch.index]]
    if len(found) > max(1.0, _MOST_SPOILT * len(reading)):
        return ()
    return tuple(sorted(found, key=lambda patch: -patch.z))


def without_spoilt(reading: Reading) -> tuple[Reading, tuple[SpoiltPatch, ...]]:
    """Return the reading without its spoilt patches, and these."""
    found = spoilt_patches(reading)
    if not found:
        return reading, ()
    return reading.select(np.delete(np.arange(len(reading)), [one.index for one in found])), found


def spoilt_words(found: Sequence[SpoiltPatch]) -> tuple[str, ...]:
    """Return a sentence for each reading that spoilt patches were found in.

    No model of a printer is sure: where its table bends, a sound patch may fit no smooth answer.
    """
    sentences = []
    cause = "spoilt, misread, or the printer bends there"
    again = " (what measures the same then is the printer)"
    for name in dict.fromkeys(one.reading for one in found):
        own = [one for one in found if one.reading == name]
        if len(own) == 1:
            sentences.append(
                f"Patch {own[0].words} of '{name}' is out of line with all the others: {cause}. "
                f"It is set aside; measure it again{again}."
            )
            continue
        named = ", ".join(one.words for one in own[:_MOST_NAMED])
        more = f" and {len(own) - _MOST_NAMED} more" if len(own) > _MOST_NAMED else ""
        sentences.append(
            f"{len(own)} patches of '{name}' are out of line with all the others: {cause}. They "
            f"are set aside; measure them again{again}: {named}{more}."
        )
    return tuple(sentences)


def _blocks(reading: Reading) -> list[Indices]:
    """Indices of patches that are judged together; each block holds tones from the whole range."""
    count = -(-len(reading) // _BLOCK)
    order = np.argsort(reading.level, kind="stable")
    return [order[start::count] for start in range(count)] if len(reading) >= _FEWEST else []


def _in_block(reading: Reading, rows: Indices, bends: tuple[float, ...]) -> list[SpoiltPatch]:
    found: list[SpoiltPatch] = []
    device, lab = reading.device[rows], reading.lab[rows]
    departure = lab - expected_lab(device)
    ramp = bool(np.all(np.ptp(device, axis=1) < AXIS_TOLERANCE))
    beliefs = _USUAL
    if ramp and len(rows) < _MANY:
        beliefs = tuple((LIGHTNESS.bent(one), CHROMATICNESS.bent(one)) for one in bends)
    elif not ramp and len(reading) <= _BLOCK:  # More tell each other, and would take too long.
        noises, darks, *_ = _likeliest(device, departure)
        _, _, beliefs, *_ = _likeliest(device, departure, noises, darks, _BELIEFS)
    *_, L, ab = _likeliest(device, departure, beliefs=beliefs)
    cleared = np.zeros(len(reading), dtype=np.bool_)
    while len(found) <= max(1.0, _MOST_SPOILT * len(device)) and len(departure) >= _FEWEST:
        away, z = _deviations(L, ab, departure, _HALF if ramp else _MOST)
        z[(np.abs(away) < LEAST_DEPARTURE) | cleared[rows, np.newaxis]] = 0.0
        if ramp and z.max() >= LEAST_Z:
            z[_off_all_sides(reading.level[rows], departure) < _LEAST_BESIDE] = 0.0
        worst = int(np.argmax(z.max(axis=1)))
        if z[worst].max() < LEAST_Z:
            break
        index, surely, others = int(rows[worst]), float(z[worst].max()), np.delete(rows, worst)
        without = _without(L, worst), _without(ab, worst), np.delete(departure, worst, axis=0)
        if not ramp:
            off = float(np.linalg.norm(away[worst]))
            far = _deviations(*without, _MOST)[1].max(axis=1) / surely
            if borne_out(reading.device, reading.lab, index, others, off, far):
                cleared[index] = True
                continue
        off_L, off_a, off_b = away[worst].tolist()
        level = float(reading.level[index])
        place = None if reading.places is None else reading.places[index]
        known = reading.ids[index], place, reading.name
        found.append(SpoiltPatch(*known, level, surely, (off_L, off_a, off_b), index))
        rows, (L, ab, departure) = others, without
    return found


def _likeliest(
    device: Array,
    departure: Array,
    noises: tuple[float, ...] = _NOISES,
    darks: tuple[float, ...] = _DARK,
    beliefs: _Beliefs = _USUAL,
) -> tuple[tuple[float, ...], tuple[float, ...], _Beliefs, Array, Array]:
    """The noise, its rise in the dark and the belief that surprise least; their precisions."""
    L, ab, _ = precisions(device, noises, darks, beliefs)
    least = int(np.argmin(_surprise(*_left_out(L, ab, departure))))
    belief, noise, dark = list(product(beliefs, noises, darks))[least]
    return (noise,), (dark,), (belief,), L[least], ab[least]


def _deviations(L: Array, ab: Array, departure: Array, share: float) -> tuple[Array, Array]:
    """How far each value is from what all others let expect, and in how many deviations: (n, 3)."""
    away, variance = _left_out(L, ab, departure)
    z = np.abs(away) / np.sqrt(variance)
    # Of a few tones a spoilt one has its neighbours among those that are out most.
    usual = medians(z) / _WITHIN[_HALF]
    if share != _HALF:
        usual = np.maximum(usual, quantiles(z, share) / _WITHIN[share])
    return away, z / np.maximum(usual, 1.0)


def borne_out(device: Array, lab: Array, row: int, others: Indices, off: float, far: Array) -> bool:
    """Whether the printer may explain what a patch measures, though a smooth one does not.

    A repeat measures about the same; or two others close by are out about as far, as where an ink
    sets in or a table has its node; or its neighbours on the grey axis bear it out: it is beyond
    all that they tell by little, or by no more than other tones are.

    Parameters
    ----------
    device, lab
        Shape (n, 3): of all patches.
    row, others
        Which is suspected, and which m are heard.
    off
        How far it is off what all others let expect, in CIELAB units.
    far
        Shape (m,): how far these are out while it is not heard, over how far it is.
    """
    apart = np.abs(device[others] - device[row]).max(axis=1)
    repeats = others[apart < AXIS_TOLERANCE]
    if repeats.size:
        alike = np.linalg.norm(lab[repeats] - lab[row], axis=1)
        return bool(alike.min() < _ABOUT_AS_FAR * off)
    if np.sum(far[apart < _CLOSE_BY] > _ABOUT_AS_FAR) > 1:
        return True
    on = np.append(others, row)
    on = on[np.ptp(device[on], axis=1) < AXIS_TOLERANCE]
    if row not in on or len(on) < _FEWEST:
        return False
    # Each tone once, repeats by their mean: neighbours are what is asked about.
    level, tone = np.unique(np.round(device[on].mean(axis=1), _DIGITS), return_inverse=True)
    means = np.stack([np.bincount(tone, lab[on, c]) for c in range(3)], axis=1)
    beyond = _off_all_sides(level, means / np.bincount(tone)[:, np.newaxis])
    out = np.linalg.norm(beyond, axis=1)
    usual = float(quantiles(np.delete(out, tone[-1]), _MOST))
    return bool(out[tone[-1]] <= max(_LITTLE * off, 2.0 * usual))


def _off_all_sides(level: Array, departure: Array) -> Array:
    """By how much tones lie off their neighbours, from either side and from both, at the least.

    Where a curve bends or has a kink or a step, a tone goes on from one side at least, or lies
    above what one tells and below what another does: 0, as are the first and the last; those next
    to them have one side less. Shape (n, 3); infinite for repeats, which tell each other.
    """
    x, group, counts = np.unique(level, return_inverse=True, return_counts=True)
    y = np.zeros((x.size, 3))
    np.add.at(y, group, departure)
    y /= counts[:, np.newaxis]
    least = np.zeros_like(y)
    if x.size > 4:
        gap = np.diff(x)[:, np.newaxis]
        bend = np.diff(np.diff(y, axis=0) / gap, axis=0)
        off = np.full((3, *y.shape), np.nan)
        off[0, 2:] = bend * gap[1:]
        off[1, :-2] = bend * gap[:-1]
        off[2, 1:-1] = -bend * gap[1:] * gap[:-1] / (gap[1:] + gap[:-1])
        inner = off[:, 1:-1]
        alike = np.abs(np.nansum(np.sign(inner), axis=0)) == np.isfinite(inner).sum(axis=0)
        least[1:-1] = np.where(alike, np.nanmin(np.abs(inner), axis=0), 0.0)
    least[counts > 1] = np.inf
    return np.asarray(least[group])


def _left_out(L: Array, ab: Array, departure: Array) -> tuple[Array, Array]:
    """By how much each value departs from what all others let expect, and its variance.

    Parameters
    ----------
    L, ab
        Shape (..., n, n): precision in L*, and in a* and b*.
    departure
        Shape (n, 3): CIELAB less what is expected.

    Returns
    -------
    Shape (..., n, 3) each.
    """
    pull = np.concatenate([L @ departure[:, :1], ab @ departure[:, 1:]], axis=-1)
    variance = np.empty_like(pull)
    for channel, matrix in enumerate((L, ab, ab)):
        variance[..., channel] = 1.0 / np.diagonal(matrix, axis1=-2, axis2=-1)
    return variance * pull, variance


def _surprise(away: Array, variance: Array) -> Array:
    """Twice the negative log likelihood of the values left one out, outliers clipped.

    Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, 5.4.2.
    """
    terms = np.minimum(away**2 / variance, _CLIPPED) + np.log(variance)
    return np.asarray(terms.sum(axis=(-2, -1)))


def _without(matrix: Array, row: int) -> Array:
    """The precision of the other values once one is taken as unknown."""
    kept = np.delete(matrix, row, axis=0)
    column = kept[:, row]
    kept = np.delete(kept, row, axis=1)
    return np.asarray(kept - np.outer(column, column) / matrix[row, row])
