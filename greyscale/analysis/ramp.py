"""Which patches of a reading are its ramp, and which of them are paper white and black."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.checks.finding import SpoiltPatch
from greyscale.checks.spoilt import without_spoilt
from greyscale.colorimetry.arrays import Array, Indices, Mask
from greyscale.colorimetry.lights import Light
from greyscale.readings.reading import AXIS_TOLERANCE, Reading, Repeatability, average_repeats

LEAST_PATCHES = 3
"""A ramp needs paper, black, and a tone between."""


@dataclass(frozen=True, eq=False)
class Ramp:
    """The patches of a reading with equal device channels, by falling level, repeats averaged.

    Attributes
    ----------
    reading
        The n averaged patches.
    counts
        Shape (n,): how often each was measured.
    repeatability
        What all repeats of the reading say, those beside the axis too.
    paper_index, black_index
        Which patches are paper white and black.
    single
        The measurements on the axis one by one, not averaged.
    owner
        Shape (len(single),): the averaged patch that each belongs to.
    remarks
        What had to be decided, as sentences to be shown.
    spoilt
        Patches of the whole reading that were set aside.
    """

    reading: Reading
    counts: Array
    repeatability: Repeatability
    paper_index: int
    black_index: int
    single: Reading
    owner: Indices
    remarks: tuple[str, ...]
    spoilt: tuple[SpoiltPatch, ...] = ()

    @property
    def level(self) -> Array:
        """Level of each patch, shape (n,), falling."""
        return self.reading.level

    @property
    def is_tone(self) -> Mask:
        """Which patches are neither paper white nor black, shape (n,)."""
        mask = np.ones(len(self.reading), dtype=np.bool_)
        mask[[self.paper_index, self.black_index]] = False
        return mask

    def lab(self, light: str | Light | None = None) -> Array:
        """Return CIELAB, shape (n, 3): as read, or under a light."""
        return self.reading.lab if light is None else self.reading.lab_under(light)

    def single_lab(self, light: str | Light | None = None) -> Array:
        """Return CIELAB of the single measurements, shape (len(single), 3)."""
        return self.single.lab if light is None else self.single.lab_under(light)


def ramp_of(reading: Reading) -> Ramp:
    """Take the ramp out of a reading, patches out of line with all the others set aside.

    Paper white is the lightest patch and black the darkest. Where the patch at level 1 (or 0)
    is as light (or dark) as that within the repeatability, it is taken: noise does not make
    another patch the paper.

    Raises
    ------
    BadInput
        If there are fewer than three different levels on the axis, or no two differ in L*; if tone
        alone was measured.
    """
    if reading.tone_alone:
        raise BadInput(
            "holds tone alone, L* or density: that tells neither a cast nor how the print looks "
            "under a light. 'greyscale check' says whether it was read well, 'greyscale "
            "correct' corrects its tone scale and says how far that is off, 'greyscale chart "
            "--after' follows it up; for all else measure L*, a* and b*, or spectra",
            reading.source,
        )
    reading, spoilt = without_spoilt(reading)
    averaged = average_repeats(reading)
    rows = averaged.reading.axis_rows
    if rows.size < LEAST_PATCHES:
        raise BadInput(
            f"found {rows.size} {'level' if rows.size == 1 else 'different levels'} on the grey "
            f"axis (equal R, G and B); a ramp needs at least {LEAST_PATCHES}: paper, black, and a "
            "tone between",
            reading.source,
        )
    ramp = averaged.reading.select(rows)
    L = ramp.lab[:, 0]
    if np.ptp(L) <= 2 * averaged.repeatability.sd_L:
        raise BadInput(
            f"all patches of the ramp have the same L* ({L.min():.1f} to {L.max():.1f}); "
            "this is not a printed ramp",
            reading.source,
        )
    slack = 2 * averaged.repeatability.sd_L
    paper, paper_remark = _paper(ramp.level, L, slack)
    black, black_remark = _black(ramp.level, L, slack)
    single = reading.select(reading.on_axis)
    return Ramp(
        reading=ramp,
        counts=averaged.counts[rows],
        repeatability=averaged.repeatability,
        paper_index=paper,
        black_index=black,
        single=single,
        owner=_nearest(single.level, ramp.level),
        remarks=tuple(remark for remark in (paper_remark, black_remark) if remark),
        spoilt=spoilt,
    )


def _nearest(levels: Array, ramp_levels: Array) -> Indices:
    """Return for each level the index of the nearest of the ramp's, which fall."""
    rising = ramp_levels[::-1]
    above = np.clip(np.searchsorted(rising, levels, side="right"), 1, rising.size - 1)
    is_below = levels - rising[above - 1] < rising[above] - levels
    return np.asarray(rising.size - 1 - np.where(is_below, above - 1, above))


def _paper(level: Array, L: Array, slack: float) -> tuple[int, str | None]:
    lightest = int(np.argmax(L))
    unprinted = level[0] >= 1 - AXIS_TOLERANCE
    if unprinted and L[0] >= L[lightest] - slack:
        return 0, None
    if unprinted:
        return lightest, (
            f"The patch without ink measures darker (L* {L[0]:.1f}) than the one at level "
            f"{level[lightest]:.2f} (L* {L[lightest]:.1f}), which is taken for the paper white; "
            "look at the chart."
        )
    return lightest, (
        f"There is no patch without ink: the lightest, at level {level[lightest]:.2f}, stands "
        "for the paper white."
    )


def _black(level: Array, L: Array, slack: float) -> tuple[int, str | None]:
    darkest = int(np.argmin(L))
    full = level[-1] <= AXIS_TOLERANCE
    last = len(level) - 1
    if full and L[last] <= L[darkest] + slack:
        return last, None
    if full:
        return darkest, (
            f"The darkest patch is at level {level[darkest]:.2f} (L* {L[darkest]:.1f}), not at "
            f"level 0 (L* {L[last]:.1f}): below it more ink prints lighter."
        )
    return darkest, (
        f"There is no patch at level 0: the darkest, at level {level[darkest]:.2f}, stands for "
        "black."
    )
