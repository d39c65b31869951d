"""An axis: from where to where it goes, and where it is marked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np

from greyscale.colorimetry.arrays import Array, ArrayLike

_SPARE = 0.05  # Share of what is drawn that an axis reaches beyond it, where no limits are set.
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


def nice_ticks(low: float, high: float, most: int, *, whole: bool = False) -> Array:
    """Return round numbers from `low` to `high`, in at most so many steps.

    Examples
    --------
    >>> nice_ticks(-0.2, 1.1, 5).tolist()
    [0.0, 0.5, 1.0]
    """
    span = high - low
    power = 10.0 ** floor(log10(span / most))
    steps = [step * power * ten for ten in (1.0, 10.0) for step in _STEPS]
    fit = [step for step in steps if span / step <= most and (not whole or step % 1 == 0)]
    step = fit[0] if fit else max(1.0, ceil(span / most))
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return np.asarray(np.arange(first, last + 1) * step)


def tick_labels(ticks: ArrayLike) -> list[str]:
    """Write round numbers with as many places as they need, all alike.

    Examples
    --------
    >>> tick_labels([-0.5, 0.0, 0.5])
    ['−0.5', '0.0', '0.5']
    """
    values = np.asarray(ticks, dtype=np.float64)
    places = next(
        (n for n in range(8) if np.allclose(values, values.round(n), rtol=0, atol=1e-9)), 8
    )
    return [f"{value + 0.0:.{places}f}".replace("-", "−") for value in values.round(places)]


@dataclass
class Axis:
    """One axis, of one panel or of several.

    Attributes
    ----------
    limits
        What it reaches from and to; None: as far as what is drawn, and a little beyond.
    ticks, labels
        Where it is marked, and how; None: at round numbers.
    most
        At most so many steps between those; None: as many as have room.
    whole
        Whether they must be whole numbers.
    spread
        Takes values to where they lie, in any unit.
    """

    limits: tuple[float, float] | None = None
    ticks: Array | None = None
    labels: Sequence[str] | None = None
    most: int | None = None
    whole: bool = False
    spread: Callable[[Array], Array] | None = None
    _low: float = np.inf
    _high: float = -np.inf
    _least: float | None = None

    def holds(self, values: ArrayLike) -> None:
        """Take note of what is drawn."""
        known = np.asarray(values, dtype=np.float64)
        if np.isfinite(known).any():
            self._low = min(self._low, float(np.nanmin(known)))
            self._high = max(self._high, float(np.nanmax(known)))

    def begin(self, low: float) -> None:
        """Begin there, and reach as far as what is drawn."""
        self._least = low

    @property
    def reach(self) -> tuple[float, float]:
        """From where to where it goes."""
        if self.limits is not None:
            return self.limits
        low, high = (self._low, self._high) if self._low <= self._high else (0.0, 1.0)
        spare = _SPARE * (high - low) or 0.5
        return low - spare if self._least is None else self._least, high + spare

    def share(self, values: ArrayLike) -> Array:
        """Return where values lie, from 0 at its begin to 1 at its end."""
        spread = self.spread or (lambda x: x)
        low, high = spread(np.asarray(self.reach, dtype=np.float64))
        return np.asarray((spread(np.asarray(values, dtype=np.float64)) - low) / (high - low))

    def settle(self, room: int) -> None:
        """Choose ticks and labels, if none are set, in at most so many steps."""
        low, high = self.reach
        if self.ticks is None:
            self.ticks = nice_ticks(low, high, self.most or max(room, 1), whole=self.whole)
        if self.labels is None:
            self.labels = tick_labels(self.ticks)

    def shown(self) -> list[tuple[float, str]]:
        """Return where its ticks lie that are within, and their labels."""
        assert self.ticks is not None
        assert self.labels is not None
        shares = self.share(self.ticks).tolist()
        return [
            (share, label)
            for share, label in zip(shares, self.labels, strict=True)
            if -1e-6 <= share <= 1 + 1e-6
        ]
