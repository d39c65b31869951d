"""The grey axis of a 3D LUT: what its nodes hold, and how near to the curve they come.

A 3D LUT is read by straight lines between its nodes, so that a curve, which bends, can only be met
as well as the nodes are many. The values at the nodes are therefore not taken from the curve but
fitted to it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.differences import delta_E_2000
from greyscale.correction.curve import Curve

LabOf = Callable[[Array], Array]
"""What a printer makes of device values (n, 3): CIELAB (n, 3)."""

_SAMPLES = 4096
_PLACES = 193
"""Levels at which the printer is asked how it answers; between them that changes evenly."""

_NUDGE = 0.002
_LIGHT = 0.85


@dataclass(frozen=True, eq=False)
class GreyAxis:
    """A curve on the grey axis, and how the printer answers to small departures from it.

    Attributes
    ----------
    levels
        Shape (n,): even steps from 0 to 1.
    sent
        Shape (n, 3): what the curve sends.
    lab
        Shape (n, 3): what is predicted.
    slopes
        Shape (n, 3, 3): change of L*, a*, b* (rows) with R, G, B (columns).
    priority
        Shape (n,): how much each tone counts.
    """

    levels: Array
    sent: Array
    lab: Array
    slopes: Array
    priority: Array

    @staticmethod
    def of(curve: Curve, lab_of: LabOf, priority: Array | None = None) -> GreyAxis:
        """Ask the printer along the curve, as seldom as will do.

        Parameters
        ----------
        priority
            Shape (m,): how much each of m evenly spaced tones counts; None counts all alike.
        """
        levels = np.linspace(0.0, 1.0, _SAMPLES)
        places = np.linspace(0.0, 1.0, _PLACES)
        at = _on_axis(curve, places)
        steps = _NUDGE * np.eye(3)
        up = np.clip(at[:, np.newaxis] + steps, 0.0, 1.0)
        down = np.clip(at[:, np.newaxis] - steps, 0.0, 1.0)
        answers = lab_of(np.concatenate([up, down]).reshape(-1, 3)).reshape(2, _PLACES, 3, 3)
        moved = np.einsum("pcc->pc", up - down)
        slopes = np.swapaxes((answers[0] - answers[1]) / moved[..., np.newaxis], 1, 2)
        slopes = _not_flatter_towards_paper(slopes, places)
        between = [np.interp(levels, places, column) for column in slopes.reshape(_PLACES, 9).T]
        return GreyAxis(
            levels,
            _on_axis(curve, levels),
            curve.predict(levels),
            np.stack(between, axis=-1).reshape(_SAMPLES, 3, 3),
            np.ones(_SAMPLES) if priority is None else _at_levels(priority, levels),
        )

    def nodes(self, knots: Array) -> Array:
        """Fit R, G, B at the knots to the curve, shape (size, 3).

        Least squares over the whole curve, by priority, leave about half the largest difference
        that nodes on the curve would leave. Black and white are the curve's own: bare paper stays
        bare.

        Parameters
        ----------
        knots
            Shape (size,): levels of the nodes, rising from 0 to 1.
        """
        basis = straight_lines(self.levels, knots)
        nodes = np.empty((knots.size, 3))
        nodes[0], nodes[-1] = self.sent[0], self.sent[-1]
        rest = self.sent - basis[:, [0, -1]] @ nodes[[0, -1]]
        inner = basis[:, 1:-1]
        weighted = inner.T * self.priority
        nodes[1:-1] = np.linalg.solve(weighted @ inner, weighted @ rest)
        return np.clip(nodes, 0.0, 1.0)

    def differences(self, knots: Array) -> Array:
        """Give the CIEDE2000 differences in print of a LUT with these knots, shape (n,)."""
        read = straight_lines(self.levels, knots) @ self.nodes(knots)
        change = np.einsum("nij,nj->ni", self.slopes, read - self.sent)
        return delta_E_2000(self.lab + change, self.lab)

    def difference(self, knots: Array) -> float:
        """Give the largest of them."""
        return float(self.differences(knots).max())


def even_knots(size: int) -> Array:
    """Give the levels of nodes in even steps, shape (size,)."""
    return np.linspace(0.0, 1.0, size)


def straight_lines(levels: Array, knots: Array) -> Array:
    """Give each node's share in the value at each level, shape (levels, size)."""
    cell = np.clip(np.searchsorted(knots, levels, side="right") - 1, 0, knots.size - 2)
    share = (levels - knots[cell]) / (knots[cell + 1] - knots[cell])
    shares = np.zeros((levels.size, knots.size))
    rows = np.arange(levels.size)
    shares[rows, cell] = 1.0 - share
    shares[rows, cell + 1] = share
    return shares


def _at_levels(values: Array, levels: Array) -> Array:
    """Spread evenly spaced values over levels."""
    return np.interp(levels, np.linspace(0.0, 1.0, values.size), values)


def _on_axis(curve: Curve, levels: Array) -> Array:
    return curve.apply(np.repeat(levels[:, np.newaxis], 3, axis=1))


def _not_flatter_towards_paper(slopes: Array, places: Array) -> Array:
    """Keep the slopes of light tones up to paper.

    The first traces of ink show as much as more ink does, but a model that rests on few patches
    there can be too flat, and the LUT would look closer than it is.
    """
    light = places > _LIGHT
    held = slopes[light][0]
    kept = slopes.copy()
    kept[light] = np.where(np.abs(held) > np.abs(slopes[light]), held, slopes[light])
    return kept
