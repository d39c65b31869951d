"""Is the ramp neutral: how much it drifts, which casts are seen, whether it passes."""

from __future__ import annotations

from dataclasses import dataclass

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NeutralAim, neutral_aim_name
from greyscale.aims.tolerances import DEFAULT_TOLERANCE, Tolerance, tolerance
from greyscale.analysis.casts import Cast
from greyscale.analysis.drift import Drift, drift
from greyscale.analysis.ramp import Ramp
from greyscale.colorimetry.arrays import Array


@dataclass(frozen=True)
class Neutrality:
    """The neutrality of a ramp under D50.

    Attributes
    ----------
    aim
        The neutral aim's name.
    mean_delta_Ch
        Mean over L* of the tones' ΔCh; paper and black left out.
    max_delta_Ch, max_at_level
        The largest ΔCh of the tones, and where.
    black_delta_Ch
        ΔCh of black: reported apart, its tint is the ink's.
    a_range, b_range
        Least and largest a*, b* of the whole ramp, paper and black with it.
    casts
        Runs of tones that are seen to have a hue, by rising level.
    tolerance, tolerance_mean_delta_Ch, tolerance_max_delta_Ch
        The grade judged by, and its limits.
    verdict
        "pass" or "fail".
    """

    aim: str
    mean_delta_Ch: float
    max_delta_Ch: float
    max_at_level: float
    black_delta_Ch: float
    a_range: tuple[float, float]
    b_range: tuple[float, float]
    casts: tuple[Cast, ...]
    tolerance: str
    tolerance_mean_delta_Ch: float
    tolerance_max_delta_Ch: float
    verdict: str

    @property
    def passes(self) -> bool:
        """Whether the verdict is "pass"."""
        return self.verdict == "pass"


def assess_neutrality(
    ramp: Ramp,
    aim: NeutralAim = DEFAULT_NEUTRAL_AIM,
    grade: str | Tolerance = DEFAULT_TOLERANCE,
    measured_drift: Drift | None = None,
) -> Neutrality:
    """Judge a ramp against a neutral aim and a tolerance grade.

    Parameters
    ----------
    ramp
        The ramp; its CIELAB as read is used.
    aim
        A name of `greyscale.aims.neutral.NEUTRAL_AIMS`, or an aim of its own.
    grade
        A name of `greyscale.aims.tolerances.TOLERANCES`, or a grade.
    measured_drift
        What `drift` gives for this ramp and aim, where it is known already.
    """
    found = measured_drift or drift(ramp, aim)
    limits = tolerance(grade)
    lab = ramp.lab()
    return Neutrality(
        aim=neutral_aim_name(aim),
        mean_delta_Ch=found.mean_delta_Ch,
        max_delta_Ch=found.max_delta_Ch,
        max_at_level=found.max_at_level,
        black_delta_Ch=found.black_delta_Ch,
        a_range=_range(lab[:, 1]),
        b_range=_range(lab[:, 2]),
        casts=found.casts,
        tolerance=limits.name,
        tolerance_mean_delta_Ch=limits.mean_delta_Ch,
        tolerance_max_delta_Ch=limits.max_delta_Ch,
        verdict=limits.verdict(found.mean_delta_Ch, found.max_delta_Ch),
    )


def _range(values: Array) -> tuple[float, float]:
    return float(values.min()), float(values.max())
