"""What each tone should measure: tone aim, neutral aim and toning together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greyscale.aims.neutral import AimByLightness, NeutralAim, Toning, neutral_aim, toning
from greyscale.aims.tone import TONE_AIMS, ToneAim, tone_aim
from greyscale.base.errors import BadInput
from greyscale.colorimetry.arrays import Array
from greyscale.printer.answers import Centre
from greyscale.readings.reading import AXIS_TOLERANCE

if TYPE_CHECKING:
    from greyscale.correction.record import Correction


# A correction's own aims, as an analysis of its prints needs them; no table has to be at hand.


def tone_aim_of(correction: Correction) -> ToneAim:
    """Return the correction's tone aim; of a table, as the correction keeps it."""
    if correction.aim in TONE_AIMS:
        return tone_aim(correction.aim)
    levels, L = correction.curve.levels, correction.aim_lab[:, 0]
    return ToneAim(correction.aim, lambda level: np.interp(level, levels, L))


def neutral_aim_of(correction: Correction, light: str | None = None) -> NeutralAim:
    """Return the correction's neutral aim, or what it is toned to.

    Parameters
    ----------
    light
        The name of one of its lights; None is its own.
    """
    if correction.toning is None:
        return correction.neutral
    there = [one.aim_lab for one in correction.lights if one.name == light]
    return _toned(correction, there[0] if there else correction.aim_lab)


def has_ends(level: Array) -> tuple[bool, bool]:
    """Return whether a ramp's levels, shape (n,), reach black, and whether they reach paper."""
    return bool(level.min() < AXIS_TOLERANCE), bool(level.max() > 1 - AXIS_TOLERANCE)


def aims_for(
    correction: Correction, level: Array, light: str | None = None
) -> tuple[ToneAim, str, NeutralAim]:
    """Return the tone aim, its scaling and the neutral aim that a ramp is to be judged by.

    They are fitted to the ramp's own black and paper; where it lacks one of them, they are as the
    correction was made for its own, since no tone can stand for them.

    Parameters
    ----------
    level
        Shape (n,): of the ramp.
    light
        As in `neutral_aim_of`.
    """
    tone, neutral = tone_aim_of(correction), neutral_aim_of(correction, light)
    if all(has_ends(level)):
        return tone, correction.scaling, neutral
    levels, L = correction.curve.levels, correction.aim_lab[:, 0]
    tone = ToneAim(correction.aim, lambda level: np.interp(level, levels, L))
    known = {one.name: one.aim_lab for one in correction.lights}
    aim_lab = correction.aim_lab if light is None else known.get(light)
    if aim_lab is not None and not isinstance(neutral, AimByLightness):
        neutral = _by_lightness(neutral, aim_lab)
    return tone, "none", neutral


def kept_toning(correction: Correction) -> Toning | AimByLightness | None:
    """Return the correction's toning by its name; of a table, as the correction keeps it."""
    if correction.toning is None:
        return None
    try:
        found = toning(correction.toning)
    except BadInput:
        return _toned(correction, correction.aim_lab)
    return found if found.by_share else _toned(correction, correction.aim_lab)


def _toned(correction: Correction, aim_lab: Array) -> AimByLightness:
    return _by_lightness(correction.toning or "toned", aim_lab)


def _by_lightness(name: str, aim_lab: Array) -> AimByLightness:
    aim = aim_lab[np.argsort(aim_lab[:, 0], kind="stable")]
    return AimByLightness(name, aim[:, 0], aim[:, 1:])


@dataclass(frozen=True, eq=False)
class Aims:
    """The aims of a correction.

    Attributes
    ----------
    tone, scaling
        What L* a level should print as, and how that is fitted to the print's range.
    neutral
        Name of the neutral aim.
    toning
        What to tone to, or None; of an earlier correction also its a*, b* by L*.
    """

    tone: ToneAim
    scaling: str
    neutral: str
    toning: Toning | AimByLightness | None

    @staticmethod
    def asked(aim: str, scaling: str, neutral: str, toned: str | None) -> Aims:
        """Find the aims by name.

        Raises
        ------
        BadInput
            For a name that is not known, or a table that cannot be used.
        """
        return Aims(tone_aim(aim), scaling, neutral, None if toned is None else toning(toned))

    @staticmethod
    def kept(previous: Correction) -> Aims:
        """Take the aims of the correction before, whether or not its tables are still at hand."""
        return Aims(
            tone_aim_of(previous), previous.scaling, previous.neutral, kept_toning(previous)
        )

    def lab(self, level: Array, paper: Array, black: Array) -> Array:
        """Return the CIELAB aimed at by level (n,), for a print's paper and black: shape (n, 3)."""
        L = self.tone.target(level, float(black[0]), float(paper[0]), self.scaling)
        return np.column_stack([L, self._ab(L, paper, black, self.toning)])

    def ab_at(self, lab: Array, paper: Array, black: Array) -> Array:
        """Return the a*, b* aimed at for the measured L* of tones (n, 3): shape (n, 2)."""
        return self._ab(lab[:, 0], paper, black, self.toning)

    def centre(self, paper: Array, black: Array) -> Centre:
        """Return the untoned aim by level: what an uncorrected printer is held to print."""

        def centre(level: Array) -> Array:
            L = self.tone.target(level, float(black[0]), float(paper[0]), self.scaling)
            return np.column_stack([L, self._ab(L, paper, black, None)])

        return centre

    def _ab(
        self, L: Array, paper: Array, black: Array, toned: Toning | AimByLightness | None
    ) -> Array:
        if isinstance(toned, AimByLightness):
            return toned.at(L)
        plain = neutral_aim(self.neutral, L, paper, black)
        return plain if toned is None else toned.at(L, plain, paper, black)
