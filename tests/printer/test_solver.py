"""What to send so that each tone prints as aimed, on a printer that is known exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import least_squares, minimize

from greyscale.printer.answers import TONES
from greyscale.printer.solver import TONE_ERROR, TONE_WEIGHT, View, solve

LEVELS = np.linspace(0.0, 1.0, TONES)


@dataclass(frozen=True)
class Exact:
    """A printer that is a straight mixture, with red that can't be taken back below a floor."""

    tint: float = 0.0

    def lab(self, device: np.ndarray) -> np.ndarray:
        r, g, b = np.moveaxis(np.asarray(device), -1, 0)
        L = 20 + 75 * (0.3 * r + 0.6 * g + 0.1 * b)
        a = 60 * (r - g) + self.tint * np.exp(-((((r + g + b) / 3) / 0.15) ** 2))
        return np.stack([L, a, 60 * (0.5 * (r + g) - b)], axis=-1)

    def uncertainty(self, device: np.ndarray) -> np.ndarray:
        return np.full(np.shape(device), 0.1)

    def stated(self, device: np.ndarray) -> np.ndarray:
        return self.uncertainty(device)

    def jacobian(self, device: np.ndarray) -> np.ndarray:
        step = 1e-5 * np.eye(3)
        at = np.asarray(device)[:, None, :]
        return np.swapaxes((self.lab(at + step) - self.lab(at - step)) / 2e-5, -1, -2)


def targets(a: float = 0.0, b: float = 0.0) -> np.ndarray:
    fade = np.sin(np.pi * LEVELS)
    return np.column_stack([20 + 75 * LEVELS, a * fade, b * fade])


def test_a_mixture_is_turned_round_exactly() -> None:
    wanted = targets(3.0, -4.0)
    found = solve(Exact(), wanted)
    # By hand: R - G = a/60, (R + G)/2 - B = b/60, and L*.
    r_g, rg_b = wanted[:, 1] / 60, wanted[:, 2] / 60
    blue = LEVELS - 0.9 * rg_b + 0.15 * r_g
    by_hand = np.column_stack([blue + rg_b + r_g / 2, blue + rg_b - r_g / 2, blue])
    inner = slice(8, -8)
    np.testing.assert_allclose(found.rgb[inner], by_hand[inner], atol=3e-4)
    np.testing.assert_allclose(found.lab[inner], wanted[inner], atol=0.03)


def test_both_ends_are_black_and_bare_paper() -> None:
    found = solve(Exact(), targets(3.0, -4.0))
    np.testing.assert_array_equal(found.rgb[0], 0.0)
    np.testing.assert_array_equal(found.rgb[-1], 1.0)


def test_out_of_reach_tone_and_tint_are_weighed_as_they_say() -> None:
    """The best by SciPy, with the weights of the documentation."""
    printer, wanted = Exact(tint=12.0), targets()
    found = solve(printer, wanted)
    tone = 15  # Level 0.06, beyond the join to black.

    def cost(device: np.ndarray) -> float:
        off = printer.lab(device) - wanted[tone]
        of_L = TONE_WEIGHT * off[0] * np.sqrt(1 + (off[0] / TONE_ERROR) ** 2)
        return float(of_L**2 + off[1] ** 2 + off[2] ** 2)

    best = minimize(cost, found.rgb[tone], bounds=[(0, 1)] * 3, tol=1e-12)
    assert best.fun > 0.1
    assert cost(found.rgb[tone]) <= 1.02 * best.fun
    assert np.hypot(*(printer.lab(found.rgb[tone])[1:] - wanted[tone, 1:])) > 0.3


def test_caution_goes_part_of_the_way_where_the_answer_is_only_supposed() -> None:
    @dataclass(frozen=True)
    class Unsure(Exact):
        def uncertainty(self, device: np.ndarray) -> np.ndarray:
            spread = np.ptp(np.asarray(device), axis=-1, keepdims=True)
            return 0.1 + 40 * spread * np.ones(3)

    wanted = targets(4.0)
    bold, careful = solve(Unsure(), wanted), solve(Unsure(), wanted, cautious=True)
    middle = TONES // 2
    assert bold.lab[middle, 1] == pytest.approx(4.0, abs=0.05)
    assert 1.0 < careful.lab[middle, 1] < 3.5


@dataclass(frozen=True)
class GreyByTheLeast(Exact):
    """It lays grey ink by the least of its inks, so that its answer has a ridge on the axis."""

    light: float = 0.0

    def lab(self, device: np.ndarray) -> np.ndarray:
        least = 1.0 - np.max(np.asarray(device), axis=-1)
        grey = np.minimum(1.6 * least, 1.0)
        lab = super().lab(device)
        lab[..., 0] = 95 - 60 * grey - 0.2 * (95 - lab[..., 0])
        lab[..., 1:] *= (1.0 - 0.8 * grey)[..., np.newaxis]
        lab[..., 1:] += np.array([1.5, 1.0]) + self.light * np.array([1.0, -1.5])
        return lab


def test_two_lights_are_met_as_well_as_can_be_on_a_ridge() -> None:
    """The best by SciPy's least squares, from twelve starts of each tone."""
    here, there = GreyByTheLeast(light=1.0), GreyByTheLeast(light=-1.0)
    black, paper = here.lab(np.zeros(3))[0], here.lab(np.ones(3))[0]
    wanted = np.column_stack([black + (paper - black) * LEVELS, np.zeros((TONES, 2))])
    found = solve(here, wanted, weight=0.5, beside=[View(there, wanted, 0.5)])
    random = np.random.default_rng(1)

    for tone in range(30, TONES - 30, 15):

        def off(device: np.ndarray, tone: int = tone) -> np.ndarray:
            one, other = here.lab(device) - wanted[tone], there.lab(device) - wanted[tone]
            of_L = TONE_WEIGHT * one[0] * np.sqrt(1 + (one[0] / TONE_ERROR) ** 2)
            return np.array([of_L, *np.sqrt(0.5) * one[1:], *np.sqrt(0.5) * other[1:]])

        starts = random.uniform(0.0, 1.0, (12, 3))
        best = min(least_squares(off, one, bounds=(0, 1)).cost for one in starts)
        assert np.sum(off(found.rgb[tone]) ** 2) / 2 < 1.05 * best + 0.02
