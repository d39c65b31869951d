"""Which explanations of a reading's order are believed: the likeliest, one after another."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from greyscale.base.plain_text import signed
from greyscale.checks.case import Case, Strip
from greyscale.checks.finding import Finding
from greyscale.checks.likelihood import (
    Assignment,
    Proposal,
    bare_paper,
    log_evidence,
    log_prior,
    set_aside,
)
from greyscale.checks.order import (
    BACKWARDS,
    FEWEST_STRIPS,
    backwards,
    exchanged,
    in_snakes,
    read_twice,
    rearranged,
    shifted,
    slipped,
    swapped,
    with_exceptions,
)
from greyscale.colorimetry.arrays import Array, Indices, Mask, columns_at
from greyscale.colorimetry.cielab import delta_E_ab

# Effects that lie over a whole chart, as curves over its patches, and how large they are.


def _by_tone(case: Case, count: int) -> Array:
    """Return functions of each patch's tone, straight between so many tones, that add up to 1."""
    return columns_at(case.device.mean(axis=1), np.linspace(0.0, 1.0, count), np.eye(count))


def page_position(case: Case) -> Array:
    """Each slot's place on the page, -0.5 to 0.5 across the strips and along them, (n, 2)."""
    position = np.zeros((len(case), 2))
    last = max(len(case.strips) - 1, 1)
    longest = max(len(strip) for strip in case.strips)
    for number, strip in enumerate(case.strips):
        position[strip.slots, 0] = number / last - 0.5
        position[strip.slots, 1] = np.arange(len(strip)) / max(longest - 1, 1) - 0.5
    return position


def sheet_basis(case: Case, members: Mask, sd: float) -> Array:
    """Return curves by which some slots may depart from the others, by tone, shape (n, 6)."""
    tones = _by_tone(case, 5)
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


# Was bare paper read in place of a patch?

PAPER_READ = "paper read as a patch"

_SAME = 1.5  # ΔE*ab within which a value is taken for bare paper,
_FAR = 4.0  # and from which on the patch itself should measure otherwise.
_MISFIT = 20.0  # Squared departure, in variances over three values, of a patch worth a look.


def paper_read(state: Assignment) -> Iterator[Proposal]:
    """Propose each patch that does not fit, and measures as bare paper does."""
    paper = bare_paper(state.case)
    like_paper = delta_E_ab(state.lab, paper) < _SAME
    like_paper &= delta_E_ab(state.left_out[0], paper) > _FAR
    prior = log_prior(0.05, len(state.case)) + 1.0  # Likelier than just anything in its place.
    for index in np.flatnonzero(like_paper & (state.patch_misfit > _MISFIT)):
        slot = int(state.active[index])
        rows = state.with_rows([slot], -1)
        yield Proposal(rows, prior, f"{PAPER_READ} {slot}", partial(_paper, state.case, slot))


def _paper(case: Case, slot: int) -> list[Finding]:
    name, ids = case.label(slot), (case.ids[slot],)
    return [
        Finding(
            kind=PAPER_READ,
            where=name,
            found=f"{name} measures like bare paper, which no printer prints among these tones: "
            f"{name} was not measured.",
            advice=f"Read {name} again; the repaired reading leaves it out.",
            ids=ids,
            lost=ids,
            repaired=True,
        )
    ]


# Do paper or black, or all tones, change over the page?

PAGE_CHANGES = "change over the page"

_SD_OVER_PAGE = 1.5  # Change over the page that is believed possible, in each of L*, a*, b*.
_LEAST_CHANGE = 0.5  # ΔE*ab over the page under which a change is not worth a word.


def page_changes(state: Assignment) -> Iterator[Proposal]:
    """Propose that measurements change evenly across the strips or along them, by tone."""
    if len(state.case.strips) < FEWEST_STRIPS:
        return
    tones, position = _by_tone(state.case, 3), page_position(state.case)
    basis = _SD_OVER_PAGE * np.hstack([tones * position[:, :1], tones * position[:, 1:]])
    if gain(state, basis) < 0.0:
        return
    # Across the page and along it, at three tones: of L*, a*, b*.
    change = _SD_OVER_PAGE * size(state, basis).reshape(2, 3, 3)
    if np.linalg.norm(change, axis=2).max() >= _LEAST_CHANGE:
        whole = state.whole.with_effect(basis)
        describe = partial(_change, state.case, change)
        yield Proposal(state.rows, log_prior(0.02, 1), PAGE_CHANGES, describe, whole=whole)


def _change(case: Case, change: Array) -> list[Finding]:
    strips, size = case.strips, np.linalg.norm(change, axis=2)
    across = size.max(axis=1)[0] >= size.max(axis=1)[1]
    by_tone = size[0 if across else 1]
    shown = change[0 if across else 1]
    tones = [name for name, value in zip(("black", "middle tones", "paper"), by_tone, strict=True)
             if value >= _LEAST_CHANGE]  # fmt: skip
    tone = "all tones" if len(tones) == 3 else " and ".join(tones)
    largest = int(np.argmax(by_tone))
    way = (
        f"from strip {strips[0].name} to strip {strips[-1].name}"
        if across
        else "from the start of the strips to their end"
    )
    plural = "s" if tone in ("black", "paper") else ""
    L, a, b = shown[largest]
    return [
        Finding(
            kind=PAGE_CHANGES,
            where=tone,
            found=f"{tone.capitalize()} change{plural} {way} by up to ΔE {by_tone[largest]:.1f} "
            f"(L* {signed(L, 1)}, a* {signed(a, 1)}, b* {signed(b, 1)}).",
            advice="Let the print dry evenly and the instrument warm up, calibrate it, and read "
            "the sheet again; if it persists, the print is uneven: print the chart again.",
            misread=False,
        )
    ]


# Do strips, or rows across them, print lighter or darker by turns?

BANDED = "bands in the print"

_SD_OF_BANDS = 1.0
"""Departure of one strip that is believed possible in the middle tones, in each of L*, a*, b*;
common practice, no source."""


def bands(state: Assignment) -> Iterator[Proposal]:
    """Propose that strips, or rows across them, depart each by itself, but for paper and black.

    Bands come from how much ink is laid, which neither bare paper nor full ink can show (common
    practice, no source).
    """
    if len(state.case.strips) < FEWEST_STRIPS:
        return
    level = state.case.device.mean(axis=1)
    half_tone = 4.0 * level * (1.0 - level)
    for place, what in zip(page_position(state.case).T, ("strip", "row"), strict=True):
        member = place[:, np.newaxis] == np.unique(place)
        basis = _SD_OF_BANDS * half_tone[:, np.newaxis] * member
        if gain(state, basis) < 0.0:
            continue
        apart = _SD_OF_BANDS * size(state, basis)
        whole = state.whole.with_effect(basis)
        describe = partial(_bands, state.case, what, apart)
        yield Proposal(state.rows, log_prior(0.02, 2), BANDED, describe, whole=whole)


def _bands(case: Case, what: str, apart: Array) -> list[Finding]:
    between = np.linalg.norm(apart[:, np.newaxis] - apart, axis=2)
    pair = np.array(np.unravel_index(np.argmax(between), between.shape))
    darkest, lightest = pair[np.argsort(apart[pair, 0])].tolist()
    names = [one.name for one in case.strips] if what == "strip" else range(1, len(apart) + 1)
    L, a, b = apart[lightest] - apart[darkest]
    return [
        Finding(
            kind=BANDED,
            where=f"{what}s {names[darkest]} and {names[lightest]}",
            found=f"Middle tones differ from {what} to {what}, most between {names[darkest]} and "
            f"{names[lightest]} (L* {signed(L, 1)}, a* {signed(a, 1)}, b* {signed(b, 1)}), while "
            "paper and black do not: the print has bands, or the instrument changes while it "
            "reads.",
            advice="Read the sheet again; if it stays, let the printer clean and align its heads, "
            "and print the chart again.",
            misread=False,
        )
    ]


# Are readings of two sheets mixed: do some strips depart from the others as a whole?

TWO_SHEETS = "two sheets mixed"

# Difference between two sheets that is believed possible, in each of L*, a*, b*.
_SD_OF_SHEETS = 3.0
_LEAST_APART = 0.8  # Mean ΔE*ab between the sheets under which nothing is said,
_PLAINLY_APART = 2.0  # and under which the reading serves all the same.
_ONE_WAY = 0.5
"""Another sheet, or a fresh one, differs in one way at most tones: so much of the mean ΔE*ab is
left where differences are added up as vectors. What turns from tone to tone is the printer's. As
the two before: common practice, no source."""


def two_sheets(state: Assignment) -> Iterator[Proposal]:
    """Propose the run of strips that departs from the others most credibly."""
    case = state.case
    count = len(case.strips)
    if count < 2:
        return
    runs = [(i, j) for i in range(count) for j in range(i + 1, count + 1) if 2 * (j - i) <= count]
    first, end = runs[int(np.argmax(sheet_gains(state, runs, _SD_OF_SHEETS)))]
    number = case.strip_number()
    members = (number >= first) & (number < end)
    basis = sheet_basis(case, members, _SD_OF_SHEETS)
    shares = size(state, basis)
    # In L*, a*, b* at five tones, from black to paper.
    apart = _SD_OF_SHEETS * (shares[:1] + shares[1:])
    mean = np.linalg.norm(apart, axis=1).mean()
    if mean >= _LEAST_APART and np.linalg.norm(apart.mean(axis=0)) >= _ONE_WAY * mean:
        whole = state.whole.with_effect(basis)
        describe = partial(_sheets, case, members, (first, end), apart)
        prior = log_prior(0.01, len(runs))
        yield Proposal(state.rows, prior, TWO_SHEETS, describe, whole=whole)


def _sheets(case: Case, members: Mask, run: tuple[int, int], apart: Array) -> list[Finding]:
    strips = case.strips
    first, last = strips[run[0]].name, strips[run[1] - 1].name
    where = f"strip {first}" if run[1] - run[0] == 1 else f"strips {first} to {last}"
    measure = "measures" if run[1] - run[0] == 1 else "measure"
    L, a, b = apart.mean(axis=0)
    return [
        Finding(
            kind=TWO_SHEETS,
            where=where,
            found=f"{where[0].upper()}{where[1:]} {measure} differently from the rest, "
            f"on average by L* {signed(L, 1)}, a* {signed(a, 1)}, b* {signed(b, 1)}: as if read "
            "from another sheet, at another time of drying, or with another setting of the "
            "instrument.",
            advice="Read all strips of one sheet in one sitting, in one condition.",
            ids=case.ids_of(np.flatnonzero(members)),
            misread=bool(np.linalg.norm(apart, axis=1).mean() >= _PLAINLY_APART),
        )
    ]


# Are there values that fit no place: set aside, so that they do not spoil the judgement?

STRIP_KIND = "strip does not fit"
PATCH_GROUP = "patch set aside"
"""Patches set aside are judged by the checks of single values."""

_MOST_PATCHES = 4  # Patches that are looked at in one go: the worst ones.


def set_aside_strips(state: Assignment) -> Iterator[Proposal]:
    """Propose to set aside each suspicious strip."""
    if len(state.case.strips) > 1:
        prior = log_prior(0.005, len(state.case.strips))
        for strip in state.suspicious:
            rows = state.with_rows(strip.slots, set_aside(state.rows[strip.slots]))
            group, describe = f"{STRIP_KIND} {strip.name}", partial(_misfit, state.case, strip)
            yield Proposal(rows, prior, group, describe)


def _misfit(case: Case, strip: Strip) -> list[Finding]:
    return [
        Finding(
            kind=STRIP_KIND,
            where=strip.called,
            found=f"The values of {strip.called} fit neither its place nor any other on this "
            "chart, in either direction.",
            advice=f"Read {strip.called} again.",
            ids=case.ids_of(strip.slots),
        )
    ]


def set_aside_patches(state: Assignment) -> Iterator[Proposal]:
    """Propose to set aside each of the worst patches."""
    prior = log_prior(0.05, len(state.case))
    for index in np.argsort(-state.patch_misfit)[:_MOST_PATCHES]:
        if state.patch_misfit[index] > _MISFIT:
            slots = state.active[[index]]
            rows = state.with_rows(slots, set_aside(state.rows[slots]))
            yield Proposal(rows, prior, PATCH_GROUP, list)


Kind = Callable[[Assignment], Iterator[Proposal]]
"""What a kind of mistake is: a function that yields what would explain values that do not fit."""

SIMPLE: tuple[Kind, ...] = (
    backwards,
    swapped,
    shifted,
    read_twice,
    exchanged,
    paper_read,
    set_aside_patches,
)
"""Mistakes of a strip or two, or of a patch: one that explains everything is believed."""

FURTHER: tuple[Kind, ...] = (
    with_exceptions,
    slipped,
    rearranged,
    page_changes,
    bands,
    two_sheets,
    set_aside_strips,
)
"""What else is thought of when no simple mistake explains everything."""

FEWEST = 5
"""With fewer patches nothing can be said of their order,"""

LEAST_RANGE = 0.1
"""nor with levels that differ by less."""

MOST_TOGETHER = 500
"""So many patches are judged against each other: time grows with their number's third power."""

MOST_MISTAKES = 40
"""Beyond so many the search ends: each takes as long, and the sheet is to be read anew."""

_THRESHOLD = 7.0  # Log odds, prior included, from which on an explanation is believed.
_TEMPER = 0.5  # Log likelihoods count half when a probability is stated: no belief is exact.
_RIVAL = 0.02  # Variants at least this likely, of all variants together, are named.


@dataclass(frozen=True, eq=False)
class Explanation:
    """What the search came to believe.

    Attributes
    ----------
    final
        The assignment in which everything fits, or is set aside; where the order was not searched,
        that of `MOST_TOGETHER` patches at most, of all tones.
    rows
        Row of each slot with the mistakes put right; values that are set aside stay.
    findings
        Of the mistakes in the order.
    set_aside
        Slots whose measurement does not fit: to be judged one by one.
    stopped
        Whether there were more than `MOST_MISTAKES`, of which only so many are told.
    """

    final: Assignment
    rows: Indices
    findings: tuple[Finding, ...] = ()
    set_aside: tuple[int, ...] = ()
    stopped: bool = False


def unsearched(case: Case) -> Explanation:
    """Take the order as it stands in the reading."""
    return Explanation(Assignment.as_read(case.thinned(MOST_TOGETHER)), case.rows)


def explain(case: Case) -> Explanation:
    """Look for the mistakes in the order that explain a reading best, until it fits."""
    state = Assignment.as_read(case)
    findings: list[Finding] = []
    stopped = False
    for _ in range(MOST_MISTAKES):
        offered, gains = _offer(state, SIMPLE)
        better = _best(state, offered, gains)
        # A patch set aside explains nothing: it keeps a mistake of order from being made of it.
        silent = better is not None and offered[int(np.argmax(gains))].group == PATCH_GROUP
        if better is None or better.suspicious or silent:
            further, further_gains = _offer(state, FURTHER)
            offered, gains = offered + further, np.concatenate([gains, further_gains])
            better = _best(state, offered, gains)
        if better is None:
            break
        best = int(np.argmax(gains))
        probability, rivals = _judge(state, offered, gains, best)
        for finding in offered[best].describe():
            lost = [slot for slot in rivals if finding.lost and case.ids[slot] not in finding.lost]
            if lost:
                # It says at its end what was not measured.
                names = ", ".join(dict.fromkeys(map(case.label, lost)))
                found = f"{finding.found[:-1]} (or {names}, which measures the same)."
                finding = replace(finding, found=found)
            findings.append(replace(finding, probability=probability))
        state = better
        if np.sum(state.rows < -1) > len(case) / 2:
            break
    else:
        stopped = True
    aside = tuple(int(slot) for slot in np.flatnonzero(state.rows < -1))
    rows = np.where(state.rows < -1, set_aside(state.rows), state.rows)
    return Explanation(state, rows, in_snakes(case, _settled(findings)), aside, stopped)


def _settled(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Leave out strips that were turned round twice on the way: they were never backwards."""
    kept: list[Finding] = []
    for finding in findings:
        twice = (one for one in kept if one.kind == BACKWARDS and one.where == finding.where)
        before = next(twice, None) if finding.kind == BACKWARDS else None
        if before is None:
            kept.append(finding)
        else:
            kept.remove(before)
    return tuple(kept)


def _offer(state: Assignment, kinds: Sequence[Kind]) -> tuple[list[Proposal], Array]:
    """Collect the proposals of some kinds, with their gains."""
    offered = [proposal for kind in kinds for proposal in kind(state)]
    return offered, _gains(state, offered) if offered else np.empty(0)


def _best(state: Assignment, offered: list[Proposal], gains: Array) -> Assignment | None:
    """Return the state that the likeliest proposal leads to, if it is to be believed at all."""
    if not offered or gains.max() < _THRESHOLD:
        return None
    chosen = offered[int(np.argmax(gains))]
    return Assignment(state.case, chosen.rows, chosen.whole or state.whole)


def _gains(state: Assignment, offered: list[Proposal]) -> Array:
    """Return by how much each proposal is likelier than that all is as it stands, in log odds."""
    gains = np.array([proposal.log_prior for proposal in offered]) - state.evidence
    plain = [index for index, proposal in enumerate(offered) if proposal.whole is None]
    if plain:
        rows = np.stack([offered[index].rows for index in plain])
        gains[plain] += log_evidence(state.case, state.whole, rows)
    for index, proposal in enumerate(offered):
        if proposal.whole is not None:
            gains[index] += log_evidence(state.case, proposal.whole, proposal.rows[None])[0]
    return gains


def _judge(
    state: Assignment, offered: list[Proposal], gains: Array, best: int
) -> tuple[float, list[int]]:
    """Return the probability of the best explanation's group, and slots that rivals in it lose.

    Rivals are the variants that are nearly as likely.
    """
    chosen = offered[best]
    changed = np.stack([proposal.rows for proposal in offered]) != state.rows
    changed |= np.array([[proposal.whole is not None] for proposal in offered])
    overlapping = np.any(changed & changed[best], axis=1)
    weight = np.exp(_TEMPER * (gains - gains[best]))
    others = np.exp(-_TEMPER * gains[best])  # That all is as it stands in the reading.
    group = 0.0
    seen: set[tuple[bytes, int]] = set()
    lost: list[int] = []
    for index, proposal in enumerate(offered):
        key = proposal.rows.tobytes(), id(proposal.whole)
        if key in seen or not overlapping[index]:
            continue
        seen.add(key)
        if proposal.group == chosen.group:
            group += weight[index]
            if index != best and weight[index] > _RIVAL:
                lost += np.flatnonzero((proposal.rows < 0) & (state.rows >= 0)).tolist()
        elif proposal.whole is not None or not np.array_equal(proposal.rows, chosen.rows):
            others += weight[index]
    return float(group / (group + others)), lost
