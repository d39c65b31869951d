"""Mistakes in single values, and in what a reading says of itself: each kind looks by itself.

A further kind is one more function here, and one more line in `KINDS`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np

from greyscale.base.plain_text import signed
from greyscale.checks.case import Case
from greyscale.checks.finding import Finding, SpoiltPatch
from greyscale.checks.likelihood import (
    CHI_MEDIAN,
    FEWEST_REPEATED,
    NOISE,
    bare_paper,
    noise_of_repeats,
)
from greyscale.checks.search import STRIP_KIND, Explanation
from greyscale.checks.spoilt import BENDS, borne_out, spoilt_patches
from greyscale.colorimetry.arrays import Array, Indices, Mask, medians
from greyscale.colorimetry.cielab import delta_E_2000, delta_E_ab, lab_to_xyz, xyz_to_lab
from greyscale.colorimetry.tristimulus import white_point
from greyscale.readings.assemble import coarse_step
from greyscale.readings.layout import split_place
from greyscale.readings.reading import AXIS_TOLERANCE, same_device

# Are there patches of the chart that the reading does not have?

MISSING = "patch missing"

_NAMED = 12  # So many patches are named one by one.


def missing(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the patches without a measurement that no other finding accounts for."""
    named = {name for finding in explanation.findings for name in finding.lost}
    slots = np.flatnonzero((case.rows < 0) & (explanation.rows < 0))
    labels = [case.label(int(slot)) for slot in slots if case.ids[slot] not in named]
    ids = tuple(case.ids[slot] for slot in slots if case.ids[slot] not in named)
    gaps = _gaps(case)
    if labels or gaps:
        names = labels + gaps
        yield Finding(
            kind=MISSING,
            where=listed(names),
            found=f"{len(names)} of the chart's patches "
            f"{'has' if len(names) == 1 else 'have'} no measurement.",
            advice="Read what is missing and add it; without it, its tones are taken from their "
            "neighbours'.",
            ids=ids,
            lost=ids,
            misread=False,
        )


def listed(names: list[str]) -> str:
    """Join names, the last ones counted only if there are many.

    Examples
    --------
    >>> listed(["A1", "B2"]), listed([f"A{n}" for n in range(1, 14)])
    ('A1, B2', 'A1, A2, A3, A4, A5, A6, A7, A8, A9, A10, A11, A12 and 1 more')
    """
    if len(names) <= _NAMED:
        return ", ".join(names)
    return ", ".join(names[:_NAMED]) + f" and {len(names) - _NAMED} more"


def _gaps(case: Case) -> list[str]:
    """Name places that are left out in a strip whose later places are there."""
    gaps = []
    for strip in case.strips if case.places is not None else ():
        pairs = [split_place(case.label(int(slot))) for slot in strip.slots]
        numbers = [pair[1] for pair in pairs if pair is not None]
        if numbers:
            absent = sorted(set(range(1, max(numbers))) - set(numbers))
            gaps += [f"{strip.name}{number}" for number in absent]
    return gaps


# Are there measurements for which the chart has no patch?

SURPLUS = "surplus patch"


def surplus(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the measurements that stand under no patch of the chart."""
    used = set(explanation.rows.tolist())
    rows = [row for row in case.surplus if row not in used]
    if rows:
        reading = case.reading
        names = [reading.ids[row] for row in rows]
        yield Finding(
            kind=SURPLUS,
            where=listed(names),
            found=f"{len(rows)} measurement{'s' if len(rows) > 1 else ''} for which the chart "
            "has no patch.",
            advice="Was only this chart read, and only once? Take them out of the "
            "reading, or give the layout that they belong to.",
            ids=tuple(names),
            misread=False,
        )


# Do patches of the same device values measure the same?

DISAGREE = "repeats disagree"
SCATTER = "values scatter"

_LEAST_APART = 1.0  # ΔE*ab under which repeats are never said to disagree,
_TIMES_APART = 7.0  # nor under so many standard deviations of one measurement.
_THEMSELVES = 4  # From so many on, most of them tell their scatter.
_AS_DARK = 10.0  # In L*: how much lighter tones may be that tell a tone's noise.
_ROUGH = 0.5  # Standard deviation from which on repeats as a whole scatter too much;


def repeats(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the repeats that lie too far from the others of their kind."""
    groups = _groups(case, explanation)
    if not groups:
        return
    away = [_away(lab) for _, lab in groups]
    sd = max(NOISE, float(medians(np.concatenate(away))) / CHI_MEDIAN)
    if sd > _ROUGH and len(groups) >= FEWEST_REPEATED:
        yield scatter(f"Patches that were printed alike scatter by ΔE {sd * CHI_MEDIAN:.1f}.")
        return
    in_the_dark = _in_the_dark(groups)
    for (slots, lab), distance in zip(groups, away, strict=True):
        noise = max(sd, in_the_dark(float(np.median(lab[:, 0]))))
        limit = max(_LEAST_APART, _TIMES_APART * noise)
        if distance.max() > limit:
            yield _disagreement(case, slots, lab, distance, limit)


def scatter(found: str) -> Finding:
    """Say that values as a whole scatter more than a reading may."""
    return Finding(
        kind=SCATTER,
        where="the whole reading",
        probability=0.9,
        found=found,
        advice="Read the chart again with the instrument flat on the paper; a rough paper needs "
        "several readings of each patch.",
        misread=False,
    )


def _groups(case: Case, explanation: Explanation) -> list[tuple[Indices, Array]]:
    """Return slots and CIELAB of the patches of each device value that was measured repeatedly."""
    rows = explanation.rows
    measured = np.flatnonzero(rows >= 0)
    _, group = same_device(case.device[measured])
    found = []
    for number in np.flatnonzero(np.bincount(group) > 1):
        slots = measured[group == number]
        found.append((slots, case.reading.lab[rows[slots]]))
    return found


def _away(lab: Array) -> Array:
    """Return the distance of each repeat from the median of the others, as of one measurement."""
    rank = np.argsort(np.argsort(lab, axis=0, kind="stable"), axis=0)
    rest = len(lab) - 1
    # Where the middle ones of the others stand among all, in order.
    low, high = (at + (at >= rank) for at in ((rest - 1) // 2, rest // 2))
    ordered = np.sort(lab, axis=0)
    medians = np.take_along_axis(ordered, low, 0) + np.take_along_axis(ordered, high, 0)
    return np.asarray(delta_E_ab(lab, medians / 2) / np.sqrt(1.0 + 1.0 / rest))


def _in_the_dark(groups: list[tuple[Indices, Array]]) -> Callable[[float], float]:
    """Standard deviation of a value by its L*, as the nearest tones tell that were measured often.

    An instrument's noise in reflectance is the larger in L*, a* and b* the darker a tone is, as
    the slope of L* over Y, which falls with (L* + 16)² (CIE 15): each tells lighter ones.
    """
    often = [lab for slots, lab in groups if len(slots) >= _THEMSELVES]
    L = np.array([np.median(lab[:, 0]) for lab in often])
    sd = np.array([_sd_of_most(lab) for lab in often])

    def noise(lightness: float) -> float:
        told = np.flatnonzero(lightness + _AS_DARK > L)
        # Where most repeats of one tone are wrong, the others beside it tell better.
        nearest = told[np.argsort(np.abs(L[told] - lightness))[:3]]
        own = np.sort(sd[nearest] * ((L[nearest] + 16.0) / (lightness + 16.0)) ** 2)
        return float(own[(len(own) - 1) // 2]) if own.size else 0.0

    return noise


def _sd_of_most(lab: Array) -> float:
    """Standard deviation of one value by repeats of which some are wrong: the less of two.

    By all but the farthest, and by the half that lies closest, which two wrong ones of four leave.
    """
    lab = lab[:: 1 + len(lab) // 100]
    half = (len(lab) + 1) // 2
    apart = np.sort(np.linalg.norm(lab[:, np.newaxis] - lab, axis=2), axis=1)[:, half - 1].min()
    # Of normal scatter in three dimensions 1 by its median, within 6 % (as simulated); the less of
    # both 0.8 of four repeats, 0.9 of five to seven.
    closest = apart * (len(lab) + 1) / (3.0 * half)
    farther = np.median(np.sort(_away(lab))[:-1]) / CHI_MEDIAN
    return float(min(closest, farther))


def _disagreement(case: Case, slots: Indices, lab: Array, distance: Array, limit: float) -> Finding:
    labels = [case.label(slot) for slot in slots]
    odd = int(np.argmax(distance))
    widest = float(np.max(delta_E_2000(lab, np.broadcast_to(lab[odd], lab.shape))))
    if len(slots) == 2:
        which = "which of them is wrong cannot be told from two"
        advice = f"Read {labels[0]} and {labels[1]} again."
    else:
        which = f"{labels[odd]} is the one that departs from the others"
        advice = f"Look at {labels[odd]} for dust or a fault of the print, and read it again."
    return Finding(
        kind=DISAGREE,
        where=", ".join(labels),
        probability=float(1.0 - 0.2 * np.exp(-(distance[odd] / limit - 1.0) * 6.0)),
        found=f"These patches were printed alike, but measure up to ΔE00 {widest:.1f} apart; "
        f"{which}.",
        advice=advice,
        ids=case.ids_of(slots),
        misread=False,
    )


# Does a single patch depart from its neighbours in tone: read across its edge, or spoilt?

ACROSS_EDGE = "patch read across its edge"
EDGE_OR_SPOILT = "patch read across its edge, or spoilt"
OUT_OF_LINE = "patch out of line"

_LEAST_OUT = 1.0  # ΔE*ab from what is expected under which nothing is said.
_TIMES_OUT = 6.5  # The same, in standard deviations of one measurement.
_SHARES = np.linspace(0.02, 0.6, 59)  # Of the neighbour in what the instrument saw.
_FIT = 11.0  # Squared departure from a mixture, in variances over three values, that still fits.
_UNLIKE_BESIDE = 5.0  # ΔE*ab by which what lies beside a patch must differ to be told from noise.


def out_of_line(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Judge each value that the search had to set aside, strips that do not fit left out."""
    named = {name for finding in explanation.findings for name in finding.ids}
    named |= {case.ids[slot] for slot in explanation.set_aside}
    yield from _left_out(case, explanation, named)
    in_strips = {name for f in explanation.findings if f.kind == STRIP_KIND for name in f.ids}
    slots = [slot for slot in explanation.set_aside if case.ids[slot] not in in_strips]
    if not slots:
        return
    measured_slots = np.flatnonzero(explanation.rows >= 0)
    all_lab = case.reading.lab[explanation.rows[measured_slots]]
    noise = noise_of_repeats(case.device[measured_slots], all_lab)
    in_the_dark = _in_the_dark(_groups(case, explanation))
    expected, sd = explanation.final.predicted(np.array(slots, dtype=np.intp))
    believed = np.flatnonzero(~np.isin(measured_slots, explanation.set_aside))
    for slot, mean, uncertain in zip(slots, expected, sd, strict=True):
        measured = case.reading.lab[explanation.rows[slot]]
        distance = float(delta_E_ab(measured, mean))
        least = max(_LEAST_OUT, _TIMES_OUT * max(noise, in_the_dark(float(mean[0]))))
        if distance > least:
            at, nothing = int(np.searchsorted(measured_slots, slot)), np.zeros(len(believed))
            if borne_out(case.device[measured_slots], all_lab, at, believed, distance, nothing):
                continue
            mixtures = _mixtures(case, explanation, slot, measured, mean, uncertain)
            if mixtures:
                # Dust makes a patch lighter or darker as well, and hardly gives it another colour.
                away = np.abs(measured - mean)
                coloured = np.hypot(away[1], away[2]) > away[0]
                yield _edge(case, slot, distance, mixtures, told=bool(coloured))
            else:
                yield _spoilt(case.ids[slot], case.label(slot), distance)


def judged_singly(case: Case, explanation: Explanation) -> tuple[SpoiltPatch, ...]:
    """Return the spoilt patches; none where a mistake of order explains what does not fit."""
    if explanation.findings:
        return ()
    return spoilt_patches(case.rearranged(explanation.rows), BENDS)


def _left_out(case: Case, explanation: Explanation, named: set[str]) -> Iterator[Finding]:
    """Name the spoilt patches that the search, which looks for mistakes of order, let pass."""
    for patch in judged_singly(case, explanation):
        if patch.id not in named:
            distance = float(np.linalg.norm(patch.departure))
            yield _spoilt(patch.id, case.label(case.ids.index(patch.id)), distance)


def _mixtures(
    case: Case, explanation: Explanation, slot: int, measured: Array, mean: Array, sd: Array
) -> list[tuple[str, float]]:
    """Find the areas beside a patch that, mixed with what is expected of it, were measured.

    Of each its name, and its share of what the instrument saw.
    """
    beside = [("bare paper", bare_paper(case))]
    for other in case.neighbours(slot):
        if explanation.rows[other] >= 0:
            beside.append((case.label(other), case.reading.lab[explanation.rows[other]]))
    D50 = white_point()
    own = lab_to_xyz(mean, D50)
    fitting = []
    for name, lab in beside:
        if delta_E_ab(lab, mean) < _UNLIKE_BESIDE:
            continue
        light = (1 - _SHARES[:, None]) * own + _SHARES[:, None] * lab_to_xyz(lab, D50)
        away = (xyz_to_lab(light, D50) - measured) / np.maximum(sd, 0.2)
        misfit = np.sum(away**2, axis=1)
        least = int(np.argmin(misfit))
        if least < len(_SHARES) - 1 and misfit[least] < _FIT:
            fitting.append((name, float(_SHARES[least])))
    return fitting


def _edge(
    case: Case, slot: int, distance: float, mixtures: list[tuple[str, float]], *, told: bool
) -> Finding:
    name = case.label(slot)
    also = "" if told else "; dust or a scratch can do the same"
    read = f"Read {name}" if told else f"Look at {name} for dust or a scratch, and read it"
    made_of = " or ".join(f"{100 * share:.0f} % {name}" for name, share in mixtures)
    return Finding(
        kind=ACROSS_EDGE if told else EDGE_OR_SPOILT,
        where=name,
        probability=0.85,
        found=f"{name} lies ΔE {distance:.1f} from what its neighbours in tone suggest, as if "
        f"the instrument had also seen {made_of}{also}.",
        advice=f"{read} again, with the instrument in the middle of the patch.",
        ids=(case.ids[slot],),
    )


def _spoilt(patch_id: str, name: str, distance: float) -> Finding:
    return Finding(
        kind=OUT_OF_LINE,
        where=name,
        probability=0.9,
        found=f"{name} lies ΔE {distance:.1f} from what its neighbours in tone suggest, and is "
        "not a mixture with what lies beside it.",
        advice=f"Look at {name} for dust, a scratch or a fault of the print, and read it again.",
        ids=(patch_id,),
    )


# Does L* fall where the level rises, by more than a printer's curve would?

REVERSAL = "L* falls as the level rises"

_LEAST_FALL = 2.0  # Fall of L* under which it may be the printer's,
_TIMES_FALL = 8.0  # and the same in standard deviations of one measurement.


def reversals(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the tones that are darker than a lower level is."""
    measured = np.flatnonzero(explanation.rows >= 0)
    lab = case.reading.lab[explanation.rows[measured]]
    least = max(_LEAST_FALL, _TIMES_FALL * noise_of_repeats(case.device[measured], lab))
    on_axis = np.ptp(case.device[measured], axis=1) < AXIS_TOLERANCE
    slots, L = measured[on_axis], lab[on_axis, 0]
    level = case.device[slots].mean(axis=1)
    order = np.argsort(level, kind="stable")
    slots, L, level = slots[order], L[order], level[order]
    falls = np.flatnonzero((L[:-1] - L[1:] > least) & (np.diff(level) > AXIS_TOLERANCE))
    if falls.size:
        labels = [f"{case.label(int(slots[i]))} to {case.label(int(slots[i + 1]))}" for i in falls]
        worst = int(falls[np.argmax(L[falls] - L[falls + 1])])
        yield Finding(
            kind=REVERSAL,
            where=listed(labels),
            probability=0.7,
            found=f"From level {level[worst]:.3f} to {level[worst + 1]:.3f} L* falls by "
            f"{L[worst] - L[worst + 1]:.1f}.",
            advice="Read these patches again; if it persists, the printer's tone scale reverses "
            "there.",
            ids=case.ids_of(np.unique([slots[falls], slots[falls + 1]])),
            misread=False,
        )


# Are there reflectance factors that no print can have?

NEGATIVE = "negative reflectance"
COPIED = "value copied"

_UNLIKE_DEVICE = 0.02  # Device values (0 to 1) that differ by more cannot measure quite the same.
_BELOW = -0.002  # Noise round nothing may fall below 0 by so much.


def negative(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name patches with negative reflectance factors."""
    spectra = case.reading.spectra
    if spectra is None:
        return
    slots = np.flatnonzero(explanation.rows >= 0)
    own = spectra[explanation.rows[slots]]
    bad = slots[own.min(axis=1) < _BELOW]
    if bad.size:
        least = float(own.min())
        yield Finding(
            kind=NEGATIVE,
            where=listed([case.label(slot) for slot in bad]),
            found=f"Reflectance factors below zero, down to {least:.4f}.",
            advice="Calibrate the instrument, including its black trap, and read again.",
            ids=case.ids_of(bad),
        )


def copied(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name neighbours of unlike device values whose values are the same to the last digit."""
    reading = case.reading
    values = reading.lab if reading.spectra is None else reading.spectra
    rows = explanation.rows
    before = np.concatenate([strip.slots[:-1] for strip in case.strips])
    after = np.concatenate([strip.slots[1:] for strip in case.strips])
    unlike = np.max(np.abs(case.device[before] - case.device[after]), axis=1) > _UNLIKE_DEVICE
    same = np.all(values[rows[before]] == values[rows[after]], axis=1)
    pairs = np.flatnonzero(unlike & same & (rows[before] >= 0) & (rows[after] >= 0))
    if pairs.size:
        slots = np.unique(np.concatenate([before[pairs], after[pairs]]))
        yield Finding(
            kind=COPIED,
            where=listed([case.label(int(slot)) for slot in slots]),
            probability=0.95,
            found="Neighbouring patches of different tone have the same values to the last digit.",
            advice="Read them again.",
            ids=case.ids_of(slots),
        )


# Are there spikes in a spectrum that no ink and no paper has?

SPIKE = "spike in the spectrum"

_LEAST_SPIKE = 0.008  # Height of a spike, as reflectance, under which nothing is said,
_SHARE_OF_SPIKE = 0.06  # nor under this share of the reflectance around it.
_TIMES_SPIKE = 12.0  # How far above the usual roughness at its wavelength a spike must stand.
_FEWEST_BANDS = 5
_NEAR = 4  # Neighbours in reflectance, on each side, that tell what is usual.


def spikes(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name the patches with one wavelength that stands out from those beside it."""
    reading = case.reading
    if reading.spectra is None or reading.wavelengths is None or len(reading) < _FEWEST_BANDS:
        return
    slots = np.flatnonzero(explanation.rows >= 0)
    spectra = reading.spectra[explanation.rows[slots]]
    if spectra.shape[1] < _FEWEST_BANDS:
        return
    height = standing_out(spectra)
    # Rounding alone lifts a value by up to half a step, and what is beside it falls as much.
    least = max(_LEAST_SPIKE, 1.5 * coarse_step(reading.spectra))
    limit = np.maximum(least, _SHARE_OF_SPIKE * np.abs(spectra[:, 1:-1]))
    found = np.abs(height) > limit
    if found.any():
        bad = np.flatnonzero(found.any(axis=1))
        row, band = np.unravel_index(np.argmax(np.abs(height)), height.shape)
        yield Finding(
            kind=SPIKE,
            where=listed([case.label(slots[i]) for i in bad]),
            probability=0.97,
            found=f"A single wavelength stands out: {case.label(slots[row])} at "
            f"{reading.wavelengths[band + 1]:.0f} nm by {signed(height[row, band], 3)}.",
            advice="Shield the instrument from stray light, calibrate it, and read again.",
            ids=case.ids_of(slots[bad]),
        )


def standing_out(spectra: Array) -> Array:
    """Return by how much each inner wavelength stands out in its spectrum, beyond what is usual.

    A spectrum's bends are those of inks and paper, which its neighbours in reflectance share:
    the usual height at a wavelength is the median of theirs.

    Parameters
    ----------
    spectra
        Shape (n, m).

    Returns
    -------
    Array of shape (n, m - 2); 0 where nothing unusual stands out.
    """
    sides = (spectra[:, :-2] + spectra[:, 2:]) / 2
    height = spectra[:, 1:-1] - sides
    relative = height / np.maximum(np.abs(sides), 0.01)
    order = np.argsort(spectra.mean(axis=1))
    usual = np.empty_like(relative)
    usual[order] = _running_medians(relative[order])
    away = relative - usual
    spread = 1.4826 * medians(np.abs(away))
    unusual = np.abs(away) > _TIMES_SPIKE * np.maximum(spread, 0.001)
    # A spike bends its neighbours the other way, half as much: only the peak counts.
    size = np.abs(height)
    peak = np.ones(size.shape, dtype=np.bool_)
    peak[:, 1:] &= size[:, 1:] >= size[:, :-1]
    peak[:, :-1] &= size[:, :-1] >= size[:, 1:]
    return np.where(unusual & peak, away * np.maximum(np.abs(sides), 0.01), 0.0)


def _running_medians(values: Array) -> Array:
    """Return for each row the median of itself and up to `_NEAR` rows on each side."""
    count = len(values)
    padded = np.full((count + 2 * _NEAR, values.shape[1]), np.inf)
    padded[_NEAR : count + _NEAR] = values
    windows = [padded[first : first + count] for first in range(2 * _NEAR + 1)]
    ordered, row = np.sort(windows, axis=0), np.arange(count)
    # Beyond the ends there is nothing: what was put there stands last.
    others = np.minimum(row + _NEAR, count - 1) - np.maximum(row - _NEAR, 0)
    return np.asarray((ordered[others // 2, row] + ordered[(others + 1) // 2, row]) / 2)


# Did the instrument reach its limit: values cut off at one and the same height?

SATURATED = "saturated"

_LIGHT = 0.5  # Lower plateaus are rounding, not saturation.
_BANDS = 4  # Neighbouring wavelengths with exactly the highest value.
_EDGE = 5  # Steps of the last digit that a spectrum rises at least into what cuts it off.
_ROUNDED = 2.5  # Steps within which two level spectra of one height lie, with noise.
_TOO_MUCH = 1.3  # More than even a strongly brightened paper reflects and emits.


def saturated(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Name light patches whose spectrum is cut off flat, or reflects more than paper can."""
    spectra = case.reading.spectra
    if spectra is None:
        return
    slots = np.flatnonzero(explanation.rows >= 0)
    own = spectra[explanation.rows[slots]]
    top = own.max(axis=1)
    highest = own == top[:, None]
    flat = (top > _LIGHT) & (highest.sum(axis=1) >= _BANDS) & (np.ptp(own, axis=1) > 0.02)
    if flat.any():
        # An instrument's limit is one height for all. A spectrum that is level by itself, and
        # rounded, comes to its height in steps of the last digit, and those that share its height
        # are level with it.
        flat[flat] = _longest_run(highest[flat]) >= _BANDS
        flat &= top == top.max()
        step = _last_digit(own)
        if not _lower_beside(own[flat], highest[flat]) > _ROUNDED * step:
            flat &= _fall(own, highest) > _EDGE * step
    bad = slots[flat | (top > _TOO_MUCH)]
    if bad.size:
        yield Finding(
            kind=SATURATED,
            where=listed([case.label(slot) for slot in bad]),
            probability=0.99 if (top > _TOO_MUCH).any() else 0.9,
            found=f"Light patches are cut off at a reflectance of {top[flat].max():.3f} over "
            "several wavelengths."
            if flat.any()
            else f"Reflectance factors up to {top.max():.2f}, more than paper can have.",
            advice="Clean the instrument's own white tile, calibrate on it, and read again.",
            ids=case.ids_of(bad),
        )


def _longest_run(mask: Mask) -> Indices:
    """Return the length of the longest run of True in each line."""
    longest = np.zeros(len(mask), dtype=np.intp)
    run = np.zeros(len(mask), dtype=np.intp)
    for column in mask.T:
        run = np.where(column, run + 1, 0)
        longest = np.maximum(longest, run)
    return longest


def _fall(spectra: Array, highest: Mask) -> Array:
    """How far each spectrum falls from its highest values to what lies beside them, at the most."""
    beside = (highest[:, 1:] != highest[:, :-1]) * np.abs(np.diff(spectra, axis=1))
    return np.asarray(beside.max(axis=1))


def _lower_beside(spectra: Array, highest: Mask) -> float:
    """How far one of the spectra lies, at the most, under the highest values of another."""
    lower = spectra - spectra.min(axis=0, initial=np.inf)
    return float(lower[highest].max(initial=0.0))


def _last_digit(spectra: Array) -> float:
    """The step to which values were rounded: the least by which two of them differ."""
    steps = np.diff(np.unique(spectra))
    return float(steps[steps > 1e-9].min(initial=1.0))


# Is the measuring condition that the reading states the one it was measured in?

WRONG_CONDITION = "wrong condition"

_GLOW = 0.012  # How much more paper must give around 440 nm than around 510 nm.
_PEAK, _BESIDE_PEAK = (430.0, 450.0), (500.0, 520.0)


def wrong_condition(case: Case, explanation: Explanation) -> Iterator[Finding]:
    """Say so if a reading without ultraviolet shows a brightener that only ultraviolet excites."""
    reading = case.reading
    if reading.spectra is None or reading.wavelengths is None or reading.condition != "M2":
        return
    paper = reading.spectra[int(np.argmax(reading.lab[:, 0]))]
    glow = brightener_glow(paper, reading.wavelengths)
    if glow is not None and glow > _GLOW:
        yield Finding(
            kind=WRONG_CONDITION,
            where="the whole reading",
            probability=0.9 if glow > 2 * _GLOW else 0.7,
            found="The reading says M2 (no ultraviolet), but its paper glows as under "
            f"ultraviolet: around 440 nm it gives {glow:.3f} more than around 510 nm.",
            advice="See what the instrument was set to; state that condition, or read again.",
            misread=False,
        )


def brightener_glow(paper: Array, wavelengths: Array) -> float | None:
    """Return by how much paper gives more light at 430-450 nm than at 500-520 nm.

    Fibres and coatings reflect less towards the blue; brighteners emit around 440 nm (common
    practice, no source). A paper tinted blue looks a little alike.

    Returns
    -------
    The difference of mean reflectance factors, or None where the wavelengths do not reach.
    """
    peak = (wavelengths >= _PEAK[0]) & (wavelengths <= _PEAK[1])
    beside = (wavelengths >= _BESIDE_PEAK[0]) & (wavelengths <= _BESIDE_PEAK[1])
    if not peak.any() or not beside.any():
        return None
    return float(np.mean(paper[peak]) - np.mean(paper[beside]))


KINDS: tuple[Callable[[Case, Explanation], Iterable[Finding]], ...] = (
    missing,
    surplus,
    repeats,
    out_of_line,
    reversals,
    negative,
    copied,
    spikes,
    saturated,
    wrong_condition,
)
"""Every kind of mistake that is looked for value by value."""
