"""What went wrong with a proof: told by the pattern that each accident leaves."""

from __future__ import annotations

from itertools import permutations

import numpy as np

from greyscale.aims.tone import NAMED, named_encoding
from greyscale.analysis.analyse import Analysis
from greyscale.analysis.certainty import MEAN_LENGTH
from greyscale.analysis.trend import less_noise
from greyscale.analysis.what_next import PRINTER, PROOF, READING
from greyscale.base.errors import same_name
from greyscale.checks.identity import sent_otherwise, through_of
from greyscale.colorimetry.arrays import Array, columns_at, equal_channels
from greyscale.colorimetry.cielab import (
    delta_Ch,
    delta_E_2000,
    lab_to_xyz,
    mean_over_lightness,
    spectra_to_lab,
    xyz_to_lab,
)
from greyscale.correction.evidence import ANOTHER_PAPER
from greyscale.correction.expectation import UNLIKELY
from greyscale.correction.for_lights import own_model
from greyscale.correction.record import Correction
from greyscale.correction.targets import has_ends
from greyscale.readings.reading import Reading, is_bare

_LOOKED_FOR = 0.45
"""Mean ΔE00 from the prediction from which an accident is looked for, if chance does not explain
it; an accident of sending, or another glow, is believed where it leaves less than `_FITS` of it."""

SHEETS_APART = 0.9
"""Mean ΔE00 from the prediction up to which an honest proof may lie, since no two sheets print
alike; only a pattern of its own is called an accident there (common practice, no source)."""

SHEETS_INK = 0.005
"""By which share of its ink each channel of a sheet differs from those of others of one print:
standard deviation; common practice, no source."""

_ROUGH = 0.4  # Share of what tones lie off, squared, that their neighbours do not.
_FITS = 0.5
_NEAR = 1.0  # Mean ΔE00 from what an accident of sending makes.
_APART = 0.5  # ΔE00 that an accident must make on this printer to be told from none.
_BLACK_APART = 1.0  # L* of black that is worth naming.
_GLOW_APART = 0.15  # Share of a brightener's glow that another way of measuring changes at least.

# What of ink, driver and curve makes a print another than predicted: each cause says which colours
# the tones could then have, and what it leaves of how far they lie off is compared. All figures
# were found on simulated printers, others kept out.
_NOTHING = 0.5  # What a cause leaves that predicts nothing of its own.
_PATTERN = 0.65  # What a cause leaves at most that is called one.
_BESIDE = 1.6  # How many times what the best leaves another may leave, to be named beside it.
_MOST_NAMED = 3
# By which what a cause leaves is multiplied whose tones, all or each, choose among more colours.
_UNEVEN, _OF_TONE, _LIGHTER, _OF_AN_INK = 1.25, 3.0, 2.5, 1.8

_READS_APART = 0.35  # CIELAB units that reading and model are off by at best, root mean square.
_DRYING = 0.1  # Share of ink that dry-down changes at most; beyond it is another setting.
_MOST_TONES = 33  # That are looked at.
_CAUSES = {
    "dry": ("a print that is not dry yet", "let it dry, and measure it again", PRINTER),
    "setting": (
        "another media setting, ink limit or tone curve of the driver",
        "see that the driver is set as for the first chart", PROOF,
    ),
    "conversion": (
        "a conversion of its values on the way, as from one gamma to another, or another "
        "correction, for another tone aim",
        "print the untouched chart again with colour management off", PROOF,
    ),
    "cyan": ("clogged nozzles, too little cyan being printed", "print a nozzle check", PROOF),
    "magenta": ("clogged nozzles, too little magenta being printed", "print a nozzle check", PROOF),
    "yellow": ("clogged nozzles, too little yellow being printed", "print a nozzle check", PROOF),
    "grey": ("clogged nozzles of a black or grey ink", "print a nozzle check", PROOF),
    "other": (
        "another correction, a printer that has changed, or more promised of it than its readings "
        "could tell",
        "if it was printed as it should be, another round from this reading (--previous) mends a "
        "changed printer or a promise that was too good", PRINTER,
    ),
}  # fmt: skip
"""Causes, those that are usual first: as words, how to be sure, and what each is about."""


def accidents_of(
    reading: Reading, after: Analysis, correction: Correction, off: float, as_stated: bool
) -> tuple[tuple[str, str], ...]:
    """What speaks against a dry print on this paper, once through this correction.

    Each is a sentence, and what it is about: `PROOF`, `READING` or `PRINTER`.

    Parameters
    ----------
    off
        Mean ΔE00 of the proof from the prediction.
    as_stated
        Whether as many of its values lie within the stated uncertainty as chance allows.
    """
    found: list[tuple[str, str]] = []
    sent = reading.sent_through
    rounds = [correction.name, *(f"{correction.name}, round {n}" for n in range(2, 10))]
    title = through_of(reading, rounds) if sent is None else None
    if title == "":
        found.append(("The chart's own code says that it was sent without a correction.", PROOF))
    elif title is not None and title != correction.title:
        text = (
            f"The chart was sent through the correction '{title}', its own code says, not through "
            f"'{correction.title}'."
        )
        found.append((text, PROOF))
    elif sent is None and sent_otherwise(reading, correction.title):
        text = (
            f"The chart was not sent through '{correction.title}', its own code says, but through "
            "another correction, if no patches at its end are missing. If some are, its layout "
            "(--layout) settles it."
        )
        found.append((text, PROOF))
    if sent is not None and not same_name(sent, correction.title):
        text = (
            f"The chart was sent through the correction '{sent}', its layout says, not through "
            f"'{correction.title}'."
        )
        found.append((text, PROOF))
    paper = float(delta_E_2000(after.paper, correction.paper_lab))
    if paper >= ANOTHER_PAPER and has_ends(after.patches.level)[1]:
        found.append(_white(reading, correction, paper))
    sending = _sending(after, correction)
    if sending is not None:
        found.append((sending, PROOF))
    elif not (found or as_stated or off <= _LOOKED_FOR or _is_sheet(after, correction)):
        printing = _printing(after, correction, off)
        found += [printing] if printing is not None else []
    return tuple(found)


def _white(reading: Reading, correction: Correction, apart: float) -> tuple[str, str]:
    """Why the paper white is another: first how it was measured, where a brightener tells."""
    evidence = correction.evidence
    start = f"The paper white is {apart:.1f} ΔE00 from that of the correction"
    unsaid = "" if reading.condition else ", which its file does not say"
    others = "another paper or batch, another backing or instrument, or a print that is not dry"
    fitting = _glow_left(reading, correction)
    if fitting is not None:
        share, left = fitting
        seen = "without ultraviolet (M2)"
        if share >= _GLOW_APART:
            seen = f"with {100 * share:.0f} % of its brightener's glow"
        return (
            f"{start}, but {left:.1f} from that of the same paper {seen}: measured in another "
            f"condition{unsaid}, or through an ultraviolet filter; less likely {others}."
        ), READING
    # Of a paper that is known not to be brightened, every condition tells the same.
    plain = evidence.spectra is not None and evidence.glow is None and correction.condition != "M2"
    if plain or (evidence.glow is not None and evidence.glow_known):
        return f"{start}: {others}.", PROOF
    return (
        f"{start}: another paper or batch, another measuring condition{unsaid}, an ultraviolet "
        "filter, another backing or instrument, or a print that is not dry."
    ), PROOF


def _glow_left(reading: Reading, correction: Correction) -> tuple[float, float] | None:
    """How much of its glow, as measured in M1 and M2, the paper has; and the ΔE00 that this leaves.

    None where the glow was not measured, or another amount of it does not explain the white.
    """
    evidence, bare = correction.evidence, is_bare(reading.device)
    if evidence.glow is None or not evidence.glow_known or not bare.any():
        return None
    assert evidence.spectra is not None
    assert evidence.wavelengths is not None
    own = is_bare(evidence.device)
    paper, glow = evidence.spectra[own].mean(axis=0), evidence.glow[own].mean(axis=0)
    shares = np.linspace(0.0, 1.5, 151)
    lab = spectra_to_lab(
        paper + np.multiply.outer(shares - 1.0, glow), evidence.wavelengths,
        observer=reading.observer,
    )  # fmt: skip
    left = delta_E_2000(lab, np.broadcast_to(reading.lab[bare].mean(axis=0), lab.shape))
    best = int(np.argmin(left))
    explained = left[best] < min(_FITS * left[100], ANOTHER_PAPER)
    if not explained or abs(shares[best] - 1.0) < _GLOW_APART:
        return None
    return float(shares[best]), float(left[best])


def _sending(after: Analysis, correction: Correction) -> str | None:
    """The accident of sending the chart that the print measures like, as a sentence."""
    levels, lab, curve = after.patches.level, after.patches.lab, correction.curve
    predicted = curve.predict(levels)
    with_it = float(delta_E_2000(lab, predicted).mean())
    uncorrected = columns_at(levels, curve.levels, correction.before_lab)

    near_enough = min(max(_NEAR, 3 * after.reading.repeatability.sd_Ch), _FITS * with_it)

    def is_like(other: Array) -> bool:
        apart = float(delta_E_2000(other, predicted).mean())
        return apart > _APART and float(delta_E_2000(lab, other).mean()) < near_enough

    def how(other: Array) -> str:
        near = float(delta_E_2000(lab, other).mean())
        return f"(mean {near:.1f} ΔE00 from it, {with_it:.1f} from the prediction)"

    if is_like(uncorrected):
        return (
            f"The print measures like the uncorrected one {how(uncorrected)}: was the chart sent "
            "through the correction?"
        )
    # A correction that moves little moves little twice as well; the model is not asked for that.
    if with_it > _APART:
        twice = own_model(correction).lab(curve.apply(curve.apply(equal_channels(levels))))
        if is_like(twice):
            return (
                f"The print measures as if the chart had been sent through the correction twice "
                f"{how(twice)}: was 'greyscale apply' used on a chart made with --through, or the "
                "curve also set in the driver?"
            )
    return None


def _printing(after: Analysis, correction: Correction, off: float) -> tuple[str, str] | None:
    """What of ink, driver and curve made the print another than predicted, the likeliest first.

    Those that the tones cannot tell apart are named together, last what predicts nothing of its
    own. Sheets differ as well, by less.
    """
    left = _left(after, correction)
    if off < SHEETS_APART or is_up_and_down(after, correction.curve.predict(after.patches.level)):
        left["other"] = 1.0
    best = min(left.values())
    if best > _PATTERN:
        return None
    most = min(_BESIDE * best, _PATTERN)
    causes = [one for one in sorted(left, key=lambda one: left[one]) if left[one] <= most]
    named = sorted(causes[:_MOST_NAMED], key="other".__eq__)
    names, ways, about = map(list, zip(*(_CAUSES[one] for one in named), strict=True))
    advice = [ways.pop()] if named[-1] == "other" else []
    if {"conversion", "other"} <= set(named):  # Either says that it may be another correction.
        names[-1] = names[-1].removeprefix("another correction, ")
    sure = "most likely" if named[0] == causes[0] else "perhaps"
    darker = float(correction.black_lab[0] - after.black[0])
    black = f", its black {abs(darker):.1f} L* {'darker' if darker > 0 else 'lighter'}"
    if ways:
        apart = "to tell them apart, " if len(names) > 1 else ""
        advice = [f"{apart}{'; '.join(dict.fromkeys(ways))}", *advice]
    return (
        f"The print is not what was predicted ({off:.1f} ΔE00 from it on average"
        f"{black if abs(darker) >= _BLACK_APART else ''}): {sure} {'; or else '.join(names)}. "
        + " ".join(f"{one[0].upper()}{one[1:]}." for one in advice)
    ), PROOF if PROOF in about else PRINTER


def _left(after: Analysis, correction: Correction) -> dict[str, float]:
    """What each cause leaves of how far a print lies off its prediction, 1 for all of it."""
    rows = np.unique(np.linspace(0, len(after.patches) - 1, _MOST_TONES).astype(int))
    level, lab = after.patches.level[rows], after.patches.lab[rows]
    curve, printed = correction.curve, own_model(correction).lab
    sent, promised = curve.apply(equal_channels(level)), curve.predict(level)
    least = _READS_APART**2
    whole = least + np.mean(np.sum((lab - promised) ** 2, axis=1))

    def left(colours: Array, cost: float = 1.0, *, each: bool = False) -> float:
        """Of colours (..., n, 3), all tones are of one row, or each is of its own."""
        off = np.sum((colours.reshape(-1, *lab.shape) - lab) ** 2, axis=-1)
        rest = off.min(axis=0).mean() if each else off.mean(axis=1).min()
        return cost * float(np.sqrt((rest + least) / whole))

    def inked(amounts: Array) -> Array:
        return printed(np.clip(1.0 - amounts, 0.0, 1.0))

    def denser(shares: Array) -> Array:
        white = np.full(3, 100.0)
        light = lab_to_xyz(promised, white)
        paper = light[int(np.argmax(level))]
        return xyz_to_lab(paper * (light / paper) ** (1.0 + shares), white)

    def converted(values: Array) -> Array:
        pairs = permutations(map(named_encoding, (*NAMED, "gamma-1.0")), 2)
        named = np.stack([to.values(of.luminance(values)) for of, to in pairs])
        return np.concatenate([named, values**gammas])

    def steps(first: float, last: float, number: int) -> Array:
        return np.linspace(first, last, number)[:, np.newaxis, np.newaxis]

    ink, gammas, moved = 1.0 - sent, np.exp(steps(-0.95, 0.95, 27)), steps(-0.5, 0.5, 101)
    some, more = steps(-_DRYING, _DRYING, 21), steps(-0.36, 0.36, 73)
    limits, lifts = (steps(*one)[:, np.newaxis] for one in ((0.7, 1.3, 21), (0.02, 0.14, 5)))
    toned = inked(ink - moved)
    return {
        "dry": min(left(inked(ink * (1.0 + some))), left(denser(some))),
        "setting": min(
            left(inked(ink * (1.0 + more))),
            left(denser(more)),
            left(inked(limits * ink**gammas), _UNEVEN),
        ),
        "conversion": min(
            left(printed(converted(sent))),
            left(curve.predict(converted(level[:, np.newaxis])[..., 0])),
            left(printed(lifts + (1.0 - lifts) * sent**gammas), _UNEVEN),
        ),
        **{
            name: left(inked(ink * (1.0 - steps(0.0, 1.0, 41) * one)), _OF_AN_INK, each=True)
            for name, one in zip(("cyan", "magenta", "yellow"), np.eye(3), strict=True)
        },
        "grey": left(toned[moved[:, 0, 0] >= 0.0], _LIGHTER, each=True),
        "other": min(left(toned, _OF_TONE, each=True), _NOTHING),
    }


def is_up_and_down(after: Analysis, predicted: Array) -> bool:
    """Whether a print is off from tone to tone, and not in neighbours alike.

    Another curve, setting or paper moves neighbours alike. The steps of a driver, and bends closer
    than the patches that it was known by, don't: half the mean square successive difference, which
    is the variance of what is independent (von Neumann 1941), the noise of the reading taken out.

    Parameters
    ----------
    predicted
        Shape (n, 3): CIELAB promised of the tones of `after`.
    """
    tones, noise = after.patches.is_tone, after.reading.repeatability
    if np.count_nonzero(tones) < 2:
        return False
    off = (after.patches.lab - predicted)[tones]
    own = np.array([noise.sd_L, noise.sd_Ch, noise.sd_Ch]) ** 2
    own = own * np.mean(1.0 / after.patches.counts[tones])
    apart = np.sum(np.mean(np.diff(off, axis=0) ** 2, axis=0) / 2.0 - own)
    return bool(apart > _ROUGH * max(float(np.sum(np.mean(off**2, axis=0) - own)), 0.0))


def _is_sheet(after: Analysis, correction: Correction) -> bool:
    """Whether channels that print a little more or less, as sheets differ, explain a print."""
    from scipy.stats import chi2

    sent = correction.curve.apply(equal_channels(after.patches.level))
    off = after.patches.lab - correction.curve.predict(after.patches.level)
    by_share = own_model(correction).jacobian(sent) * (sent - 1.0)[:, np.newaxis]
    shares = np.linalg.lstsq(by_share.reshape(-1, 3), off.ravel(), rcond=None)[0]
    # Of greys this is some ΔE00, or more.
    left = np.linalg.norm(off - by_share @ shares, axis=1).mean()
    sd = SHEETS_INK * np.sqrt(1.0 + 1.0 / max(len(correction.evidence.sources), 1))
    return bool(left < _LOOKED_FOR and chi2.sf(np.sum((shares / sd) ** 2), 3) >= UNLIKELY)


def beyond_range(after: Analysis, correction: Correction) -> bool:
    """Whether a print's mean ΔCh, less noise, is more than was said of four sheets in five.

    Where answers beside the axis were supposed; else narrow bands tell it better.

    Parameters
    ----------
    after
        Of the print made through it, or of some of its tones.
    """
    tones = after.patches.is_tone
    if correction.tone_only or correction.near_neutral or not tones.any():
        return False
    curve, promise = correction.curve, correction.expectation
    level, lab = after.patches.level[tones], after.patches.lab[tones]
    aim = columns_at(level, curve.levels, correction.aim_lab)
    sd = np.sqrt(np.mean(columns_at(level, curve.levels, curve.sd)[:, 1:] ** 2, axis=1))
    expected = np.hypot(delta_Ch(curve.predict(level), aim), MEAN_LENGTH * sd)
    now, then = (mean_over_lightness(x, lab[:, 0]) for x in (delta_Ch(lab, aim), expected))
    repeats = after.reading.repeatability.sd_Ch / np.sqrt(after.patches.counts[tones])
    most = promise.on_another_sheet(len(correction.evidence.sources), supposed=True)
    # Of these tones more may have been promised than of all.
    share = max(then / promise.after_mean_delta_Ch, 1.0)
    return less_noise(now, float(np.sqrt(np.pi / 2) * repeats.mean())) > most[2] * share
