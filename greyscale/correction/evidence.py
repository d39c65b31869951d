"""Readings joined to what is known of a printer, and whether they may be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greyscale.analysis.brighteners import WITH_UV, glow_by_lightness, supposed_glow
from greyscale.analysis.response import shadow
from greyscale.base.errors import BadInput, same_name
from greyscale.base.results import filled
from greyscale.checks.finding import SpoiltPatch
from greyscale.checks.identity import CODE_SAYS, sent_otherwise, through_of
from greyscale.checks.spoilt import spoilt_patches
from greyscale.colorimetry.arrays import Array, Indices, Mask
from greyscale.colorimetry.cielab import delta_E_2000
from greyscale.correction.record import Correction, Evidence, Source
from greyscale.printer.answers import ASSUMED_FREEDOM, OPPONENT
from greyscale.readings.reading import (
    ASSUMED_SD,
    AXIS_TOLERANCE,
    NEAR_NEUTRAL,
    AveragedReading,
    Reading,
    average_repeats,
    is_bare,
    is_full,
)

if TYPE_CHECKING:
    from greyscale.printer.model import PrinterModel

FEWEST_TONES = 7
"""Tones of the ramp, paper and black included, that a tone curve can be made from."""

MOST_OF_A_READING = 500
"""Device values of one reading that the printer's answer is fitted to: of more, so many are taken,
evenly apart, since the fit's time grows with the third power."""

ANOTHER_PAPER = 1.0
"""ΔE00 between the paper whites from which another paper, or another batch, is likely."""

MOST_TOGETHER = 1000
"""The same of all readings that one correction rests on: some 15 seconds; more are refused."""

_CELLS = (0.0025, 0.005, 0.01, 0.02, 0.04, 0.08, 0.16)
"""How far apart they lie, in level and in offset from the axis: the least that will do."""

_FALL_SD = 6.0  # A fall of L* by so many standard deviations is no noise.
_LEAST_FALL = 0.8  # Nor is one by so many units of L*, however well the instrument repeats.
_CH_OF_NUDGE = 60.0  # About the ΔCh that moving one channel by 1 would make, if it were linear.
_CLEAR_SD = 6.0  # Near-neutral patches must stand out of the noise by so much.
_READINGS_APART = 0.8  # CIELAB units by which one reading as a whole is off the others.


def evidence_from(
    readings: Sequence[Reading], previous: Correction | None = None, bits: int = 16
) -> Evidence:
    """Join readings of one printer and paper, and those of the rounds before.

    Parameters
    ----------
    readings
        Of charts that all went through `previous`, or straight to the printer.
    previous
        The correction between chart and printer, with all earlier readings in it.
    bits
        Device values reached the printer rounded to so many bits.

    Raises
    ------
    BadInput
        If there is nothing to solve from (see `check_reading`), or readings do not belong
        together.
    """
    known = () if previous is None else previous.evidence.sources
    number = 0 if previous is None else previous.round
    sources = tuple(
        filled(Source, reading, patches=len(reading), round=number) for reading in readings
    )
    refuse_unlike((*known, *sources))
    readings = [kept for kept, _ in without_spoilt_of(readings)]
    readings = with_same_glow(readings, previous)
    parts = [] if previous is None else [_Part.earlier(previous.evidence)]
    whole = [one for one in readings if holds_a_ramp(one) and _close_nudge(one) is None]
    for number, reading in enumerate(readings, start=len(known)):
        # Beside a whole chart, or the rounds before, another may hold what it likes.
        further = previous is not None or any(one is not reading for one in whole)
        check_reading(reading, None if previous is None else previous.title, further=further)
        parts.append(_Part.of(reading, previous, bits, number))
    return _joined(parts, (*known, *sources))


def with_same_glow(readings: Sequence[Reading], previous: Correction | None) -> tuple[Reading, ...]:
    """Return readings, those in M1 alone with the glow that others of this paper have.

    It is taken from the evidence of the correction before, or from one of the readings; a reading
    of a paper of which nothing was measured in M2 gets the glow that the evidence supposes.
    """
    known: Evidence | Reading | None = next((one for one in readings if one.glow is not None), None)
    if previous is not None and previous.evidence.glow is not None:
        known = previous.evidence
    if known is None or known.glow is None:
        return tuple(readings)
    L, glow, grid = known.lab[:, 0], known.glow, known.wavelengths
    return tuple(
        glow_by_lightness(one, L, glow)
        if one.glow is None and one.condition == WITH_UV and np.array_equal(one.wavelengths, grid)  # type: ignore[arg-type]
        else one
        for one in readings
    )


@dataclass(frozen=True, eq=False)
class _Part:
    """What one reading, or all earlier ones together, bring in."""

    device: Array
    lab: Array
    counts: Array
    origin: Indices
    freedom: int
    sd_L: float
    sd_ab: float
    spectra: Array | None
    wavelengths: Array | None
    glow: Array | None
    glow_known: bool
    places: tuple[str, ...] | None

    @staticmethod
    def earlier(evidence: Evidence) -> _Part:
        freedom = int(np.sum(evidence.counts - 1)) if evidence.known else 0
        return filled(_Part, evidence, freedom=freedom)

    @staticmethod
    def of(reading: Reading, previous: Correction | None, bits: int, number: int) -> _Part:
        averaged = _near_the_axis(reading)
        repeats = averaged.repeatability
        sent = sent_to_printer(averaged.reading.device, previous, bits)
        glow = averaged.reading.glow
        known = glow is not None or supposed_glow(reading) is reading
        if not known:
            glow = supposed_glow(averaged.reading).glow
        return filled(
            _Part,
            averaged.reading,
            device=sent,
            counts=averaged.counts,
            origin=np.full(len(sent), number, dtype=np.intp),
            freedom=repeats.measurements - repeats.repeated,
            sd_L=repeats.sd_L,
            sd_ab=repeats.sd_Ch,
            glow=glow,
            glow_known=known,
            places=_places(reading, averaged),
        )


def _places(reading: Reading, averaged: AveragedReading) -> tuple[str, ...] | None:
    """Where each patch stands; see `Evidence.places`."""
    if reading.places is None:
        return None

    def keys(one: Reading) -> list[tuple[float, ...]]:
        return [tuple(values) for values in np.round(one.device, 6).tolist()]

    at: dict[tuple[float, ...], list[str]] = {}
    for key, place in zip(keys(reading), reading.places, strict=True):
        at.setdefault(key, []).append((place or "").replace(" ", ""))
    return tuple(" ".join(at[key]).strip() for key in keys(averaged.reading))


def is_crowded(reading: Reading) -> bool:
    """Whether a reading has more patches near the grey axis than the fit takes."""
    near = np.ptp(reading.device, axis=1) <= NEAR_NEUTRAL
    return len(np.unique(np.round(reading.device[near], 6), axis=0)) > MOST_OF_A_READING


def _near_the_axis(reading: Reading) -> AveragedReading:
    """The patches that tell of the grey axis, repeats averaged; of those that crowd, some."""
    averaged = average_repeats(reading)
    device = averaged.reading.device
    rows = np.flatnonzero(np.ptp(device, axis=1) <= NEAR_NEUTRAL)
    if len(rows) > MOST_OF_A_READING:
        # What was measured more often goes first.
        rows = rows[np.argsort(-averaged.counts[rows], kind="stable")]
        rows = np.sort(rows[_spread(device[rows], averaged.reading.on_axis[rows])])
    return replace(averaged, reading=averaged.reading.select(rows), counts=averaged.counts[rows])


def _spread(device: Array, on_axis: Mask) -> Indices:
    """Indices of device values that lie evenly apart, one in each cell; paper and black stay."""
    ends = (is_bare(device), is_full(device))
    place = np.column_stack([device.mean(axis=1), device @ OPPONENT.T])
    for width in _CELLS:
        cells = np.column_stack([np.round(place / width), *ends, on_axis])
        chosen = np.unique(cells, axis=0, return_index=True)[1]
        if len(chosen) <= MOST_OF_A_READING:
            break
    return chosen


def without_spoilt_of(
    readings: Sequence[Reading],
) -> list[tuple[Reading, tuple[SpoiltPatch, ...]]]:
    """Return each reading without its spoilt patches, and these.

    What another of the readings measures alike, of the same values, is the printer's, and stays.
    """

    def alike(one: SpoiltPatch, mine: Reading, other: Reading) -> bool:
        same = np.abs(other.device - mine.device[one.index]).max(axis=1) < AXIS_TOLERANCE
        apart = np.linalg.norm(other.lab - mine.lab[one.index], axis=1)
        return bool(np.any(same & (apart < 0.5 * np.linalg.norm(one.departure))))

    parts = []
    for reading in readings:
        others = [one for one in readings if one is not reading]
        found = tuple(
            patch
            for patch in spoilt_patches(reading)
            if not any(alike(patch, reading, other) for other in others)
        )
        rows = np.delete(np.arange(len(reading)), [patch.index for patch in found])
        parts.append((reading.select(rows) if found else reading, found))
    return parts


def spoilt_in(
    readings: Sequence[Reading], evidence: Evidence, model: PrinterModel
) -> tuple[SpoiltPatch, ...]:
    """Return the patches that were set aside: of each reading by itself, and by the model of all.

    Parameters
    ----------
    readings
        The newest of the evidence, in the order in which they were joined.
    """
    found: list[SpoiltPatch] = []
    averaged: dict[int, Reading] = {}
    parts = without_spoilt_of(readings)
    for number, (kept, own) in enumerate(parts, start=len(evidence.sources) - len(readings)):
        found.extend(own)
        averaged[number] = _near_the_axis(kept).reading
    for one in model.spoilt:
        origin = int(evidence.origin[one.row])
        name, level = evidence.sources[origin].name, float(evidence.device[one.row].mean())
        patch = SpoiltPatch("", None, name, level, one.deviations, one.off)
        if origin in averaged:
            means, at = averaged[origin], one.row - int(np.argmax(evidence.origin == origin))
            place = None if means.places is None else means.places[at]
            patch = replace(patch, id=means.ids[at], place=place, level=float(means.level[at]))
        found.append(patch)
    return tuple(found)


def sent_to_printer(device: Array, previous: Correction | None, bits: int) -> Array:
    """Return what reached the printer: through the earlier curve, in whole steps of `bits`."""
    sent = device if previous is None else previous.curve.apply(device)
    steps = float(2**bits - 1)
    return np.asarray(np.round(np.clip(sent, 0.0, 1.0) * steps) / steps)


def _joined(parts: Sequence[_Part], sources: tuple[Source, ...]) -> Evidence:
    device = np.concatenate([part.device for part in parts])
    if len(device) > MOST_TOGETHER:
        raise BadInput(
            f"together with the others, there are {len(device)} different device values near the "
            f"grey axis; a correction is made from at most {MOST_TOGETHER}: give fewer readings, "
            "or start again without --previous",
            sources[-1].source,
        )
    lab = np.concatenate([part.lab for part in parts])
    counts = np.concatenate([part.counts for part in parts])
    freedom = np.array([part.freedom for part in parts], dtype=np.float64)
    known = bool(freedom.sum() > 0)
    sd_L = _pooled(np.array([part.sd_L for part in parts]), freedom)
    sd_ab = _pooled(np.array([part.sd_ab for part in parts]), 2 * freedom)
    bare = is_bare(device)
    full = is_full(device)
    spectral = all(
        part.spectra is not None and np.array_equal(part.wavelengths, parts[0].wavelengths)  # type: ignore[arg-type]
        for part in parts
    )
    glowing = spectral and any(part.glow is not None for part in parts)
    spectra = [part.spectra for part in parts if part.spectra is not None]
    glow = [
        np.zeros_like(one) if part.glow is None else part.glow
        for part, one in zip(parts, spectra, strict=False)
    ]
    places = [place for part in parts for place in part.places or [""] * len(part.device)]
    return Evidence(
        device=device,
        lab=lab,
        counts=counts,
        origin=np.concatenate([part.origin for part in parts]),
        sources=sources,
        sd_L=sd_L if known else ASSUMED_SD,
        sd_ab=sd_ab if known else ASSUMED_SD,
        known=known,
        paper=np.average(lab[bare], axis=0, weights=counts[bare]),
        black=np.average(lab[full], axis=0, weights=counts[full]),
        spectra=np.concatenate(spectra) if spectral else None,
        wavelengths=parts[0].wavelengths if spectral else None,
        glow=np.concatenate(glow) if glowing else None,
        glow_known=all(part.glow_known for part in parts),
        places=tuple(places) if any(places) else None,
    )


def _pooled(sd: Array, freedom: Array) -> float:
    squares = np.sum(freedom * sd**2) + ASSUMED_FREEDOM * ASSUMED_SD**2
    return float(np.sqrt(squares / (freedom.sum() + ASSUMED_FREEDOM)))


def holds_a_ramp(reading: Reading) -> bool:
    """Whether a reading holds black and tones enough to be corrected from alone."""
    device = average_repeats(reading).reading.device
    black = bool(np.any(is_full(device)))
    return black and int(np.sum(np.ptp(device, axis=1) < AXIS_TOLERANCE)) >= FEWEST_TONES


def check_reading(reading: Reading, through: str | None, *, further: bool = False) -> None:
    """Refuse a reading that a correction cannot be solved from.

    Parameters
    ----------
    through
        The title of the correction that it is to have been printed through; None for none.
    further
        Whether other readings hold black and the ramp.

    Raises
    ------
    BadInput
        If it says itself that it was printed otherwise, white or black is missing, tones are too
        few, L* falls as the level rises, or near-neutral patches are too close to the axis.
    """
    source, sent = reading.source, reading.sent_through
    if sent is not None and through is None:
        raise BadInput(
            f"was printed through the correction '{sent}'; a next round from it takes --previous "
            "with that one's folder, a proof is made by 'greyscale verify'",
            source,
        )
    if sent is not None and through is not None and not same_name(sent, through):
        raise BadInput(
            f"was printed through the correction '{sent}', not through '{through}'; a next round "
            "is made from prints of the one before",
            source,
        )
    if sent is None and through is not None and through_of(reading, [through]) == "":
        raise BadInput(
            "its sheet's own code says that it was sent without a correction; a next round is made "
            f"from prints through '{through}'",
            source,
        )
    if sent is None and not reading.as_it_is and sent_otherwise(reading, through):
        by = "a correction" if through is None else f"another correction than '{through}'"
        raise BadInput(
            f"{CODE_SAYS} that it was sent through {by}; a next round from it takes --previous "
            "with that one's folder, a proof is made by 'greyscale verify'. If instead patches at "
            "its end are missing, give the chart's layout (--layout), which settles it; "
            "--unchecked takes the reading as it is, without any check",
            source,
        )
    averaged = average_repeats(reading)
    device, lab = averaged.reading.device, averaged.reading.lab
    if not np.any(is_bare(device)):
        raise BadInput(
            "there is no patch of bare paper (level 1); measure one: every aim starts from it",
            source,
        )
    if not further and not np.any(is_full(device)):
        raise BadInput(
            "there is no patch of full black (level 0); measure one: every aim ends at it", source
        )
    axis = averaged.reading.on_axis
    tones = int(axis.sum())
    if tones < FEWEST_TONES and not further:
        raise BadInput(
            f"the ramp has {tones} tones; a correction needs at least {FEWEST_TONES}, "
            "and 21 or more are better",
            source,
        )
    if through is None and tones > 1:
        order = np.argsort(averaged.reading.level[axis])
        levels, L = averaged.reading.level[axis][order], lab[axis][order, 0]
        sd = averaged.repeatability.sd_L
        # Where too much ink prints lighter the curve begins at the darkest.
        _, darkest, _ = shadow(levels, L, sd / np.sqrt(averaged.counts[axis][order]))
        _refuse_fall(levels[levels >= darkest], L[levels >= darkest], sd, source)
    nudge = None if further else _close_nudge(reading)
    if nudge is not None:
        raise BadInput(
            f"the near-neutral patches are nudged by only {nudge:.3f} of the range, which can "
            f"hardly be told from the noise (sd {averaged.repeatability.sd_Ch:.2f}); print them "
            "with nudges of 0.05 or more",
            source,
        )


def _refuse_fall(levels: Array, L: Array, sd: float, source: str) -> None:
    limit = max(_FALL_SD * sd, _LEAST_FALL)
    start, worst, fall = _largest_fall(L)
    kept = np.ones(L.size, dtype=bool)
    # A tone here and there is a spoilt patch, which the fit finds and names, not a printer's fall.
    for _ in range(max(1, L.size // 20)):
        if fall <= limit:
            return
        rest = np.flatnonzero(kept)
        without = [(_largest_fall(np.delete(L[kept], one))[2], rest[one]) for one in (start, worst)]
        kept[min(without)[1]] = False
        start, worst, fall = _largest_fall(L[kept])
    if fall <= limit:
        return
    start, worst, _ = _largest_fall(L)
    raise BadInput(
        f"L* falls from {L[start]:.1f} at level {levels[start]:.2f} to {L[worst]:.1f} at level "
        f"{levels[worst]:.2f}, where it should rise; check the order of the patches and the ink "
        "limit, then measure again",
        source,
    )


def _largest_fall(L: Array) -> tuple[int, int, float]:
    """Return between which tones L* falls most as the level rises, and by how much."""
    fall = np.maximum.accumulate(L) - L
    worst = int(np.argmax(fall))
    return int(np.argmax(L[: worst + 1])), worst, float(fall[worst])


def _close_nudge(reading: Reading) -> float | None:
    """How far near-neutral patches lie from the axis where noise hides what they tell, or None."""
    averaged = average_repeats(reading)
    apart = np.ptp(averaged.reading.device, axis=1)
    nudged = apart[(apart >= AXIS_TOLERANCE) & (apart <= NEAR_NEUTRAL)]
    median = float(np.median(nudged)) if nudged.size else 1.0
    hidden = median * _CH_OF_NUDGE < _CLEAR_SD * averaged.repeatability.sd_Ch
    return median if hidden else None


def refuse_unlike(sources: Sequence[Source]) -> None:
    """Refuse readings that say they are of another print, or measured another way.

    Raises
    ------
    BadInput
        Naming what differs, and where.
    """
    for what in ("condition", "backing", "observer", "printer", "paper"):
        told = [(getattr(source, what), source) for source in sources if getattr(source, what)]
        for value, source in told[1:]:
            first, of = told[0]
            if not same_name(value, first):
                name = {"condition": "measuring condition"}.get(what, what)
                raise BadInput(
                    f"the {name} is '{value}', but that of '{of.name}' is '{first}'; readings of "
                    "different prints or conditions are not joined",
                    source.source,
                )


def refuse_unlike_papers(evidence: Evidence) -> None:
    """Refuse readings whose bare paper measures differently.

    Raises
    ------
    BadInput
        Naming the two readings and the difference.
    """
    bare = is_bare(evidence.device)
    rows = np.flatnonzero(bare)
    for row in rows[1:]:
        apart = float(delta_E_2000(evidence.lab[rows[0]], evidence.lab[row]))
        if apart > ANOTHER_PAPER + 3 * evidence.sd_ab:
            one, other = (evidence.sources[evidence.origin[i]] for i in (rows[0], row))
            raise BadInput(
                f"the bare paper measures {apart:.1f} ΔE00 off that of '{one.name}'; another "
                "paper, another batch, or another backing? Leave one of the readings out",
                other.source,
            )


def refuse_contradiction(evidence: Evidence, model: PrinterModel) -> None:
    """Refuse readings that no one printer could have given.

    Raises
    ------
    BadInput
        Naming the reading that stands apart, and by how much.
    """
    if len(evidence.sources) < 2:
        return
    off = evidence.lab - model.lab(evidence.device)
    inked = ~is_bare(evidence.device)
    inked[[found.row for found in model.spoilt]] = False
    means = []
    for number in range(len(evidence.sources)):
        own = inked & (evidence.origin == number)
        means.append(off[own].mean(axis=0) if own.any() else np.zeros(3))
    spread = np.ptp(np.array(means), axis=0)
    spread_of_patches = np.sqrt(np.mean(off[inked] ** 2, axis=0))
    if spread.max() <= _READINGS_APART and spread_of_patches.max() <= 5 * max(
        evidence.sd_L, evidence.sd_ab
    ):
        return
    axis = int(np.argmax(spread))
    name = ("L*", "a*", "b*")[axis]
    low, high = int(np.argmin([m[axis] for m in means])), int(np.argmax([m[axis] for m in means]))
    raise BadInput(
        f"it contradicts '{evidence.sources[low].name}': for the same values it measures "
        f"{spread[axis]:.1f} higher in {name} on average, far beyond the noise (sd "
        f"{evidence.sd_ab:.2f}); was one of the prints not dry, made on another paper, or not "
        "sent through the correction? Leave one of the readings out",
        evidence.sources[high].source,
    )


def refuse_another_print(reading: Reading, correction: Correction) -> None:
    """Refuse a reading that tells of another printer, paper or way of measuring.

    Only what both tell is compared; names without regard to case and spaces.

    Raises
    ------
    BadInput
        Naming what differs.
    """
    told = (
        ("printer", reading.printer, correction.printer),
        ("paper", reading.paper, correction.paper),
        ("measuring condition", reading.condition, correction.condition),
        ("backing", reading.backing, correction.backing),
        # Spectra are had for any observer.
        ("observer", None if correction.lights else reading.observer, correction.observer),
    )
    for what, found, wanted in told:
        if found and wanted and not same_name(found, wanted):
            raise BadInput(
                f"the {what} is '{found}', but the correction '{correction.name}' was made for "
                f"'{wanted}'; give a reading that belongs to the correction",
                reading.source,
            )
