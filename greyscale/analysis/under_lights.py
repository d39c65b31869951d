"""What greys are under lights, for many viewers, and what spectra that end early may lose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NeutralAim, neutral_aim
from greyscale.aims.tone import DEFAULT_SCALING, DEFAULT_TONE_AIM, ToneAim, tone_aim
from greyscale.analysis.brighteners import WITHOUT_UV, Print, print_of
from greyscale.analysis.certainty import LARGEST_LENGTH, MEAN_LENGTH, ramp_noise
from greyscale.analysis.neutrality import Cast, Drift, drift
from greyscale.analysis.ramp import Ramp
from greyscale.base.plain_text import signed
from greyscale.colorimetry.arrays import Array, Indices, Mask
from greyscale.colorimetry.cielab import chroma, means_over_lightness, xyz_to_lab
from greyscale.colorimetry.fluorescence import credible_excitation, excitation
from greyscale.colorimetry.illuminant_change import colour_inconstancy, metamerism_index
from greyscale.colorimetry.individuals import individual_weights
from greyscale.colorimetry.lights import REFERENCE_LIGHT, Light, cubic_spline, light
from greyscale.colorimetry.tristimulus import WavelengthGrid, tristimulus_weights

EYES = (0.025, 0.975)
"""Between these shares of the individual observers is what is given as their range."""


@dataclass(frozen=True, eq=False)
class _Weights:
    """Weights of lights on one grid: made once for all prints.

    `matrix` is (k, m, 3), `white` (k, 1, 3); how much each light excites brighteners, and the least
    and the most that it may, (k,).
    """

    matrix: Array
    white: Array
    excites: Array
    least: Array
    most: Array


@lru_cache(maxsize=32)
def _weights(grid: WavelengthGrid, lights: tuple[Light, ...], observer: str) -> _Weights:
    matrix = np.stack([tristimulus_weights(grid, one, observer) for one in lights])
    least, most = np.array([credible_excitation(one) for one in lights]).T
    excites = np.array([excitation(one) for one in lights])
    return _Weights(matrix, matrix.sum(axis=1, keepdims=True), excites, least, most)


@dataclass(frozen=True, eq=False)
class UnderLights:
    """A print under k lights; each figure is computed when it is asked for, shape (k,).

    ΔCh is that from the neutral aim, for a viewer adapted to the light, unless it says otherwise.
    Means are over L*, and like the largest values over the tones.

    Attributes
    ----------
    own
        The print.
    lights
        The lights.
    neutral, tone, scaling
        The aims.
    observer
        The observer of all figures but the individuals' range.
    """

    own: Print
    lights: Sequence[Light]
    neutral: NeutralAim
    tone: ToneAim = field(default_factory=lambda: tone_aim(DEFAULT_TONE_AIM))
    scaling: str = DEFAULT_SCALING
    observer: str = "2"

    @cached_property
    def _grid(self) -> WavelengthGrid:
        return WavelengthGrid.of(self.own.wavelengths)

    @cached_property
    def _weights(self) -> _Weights:
        """Of D50, from which changes are counted, and of the lights."""
        return _weights(self._grid, (light(REFERENCE_LIGHT), *self.lights), self.observer)

    @cached_property
    def _tones(self) -> Indices:
        return np.flatnonzero(self.own.counts)

    @cached_property
    def _xyz(self) -> Array:
        """X, Y, Z under D50 and the lights, shape (1 + k, n, 3)."""
        matrix, excites = self._weights.matrix, self._weights.excites[:, np.newaxis, np.newaxis]
        return _tristimulus(self.own, matrix, matrix[0], excites)

    @cached_property
    def _lab(self) -> Array:
        return xyz_to_lab(self._xyz, self._weights.white)

    @property
    def lab(self) -> Array:
        """CIELAB of the ramp, by falling level, against the light's white; shape (k, n, 3)."""
        return self._lab[1:]

    def _mean(self, values: Array) -> Array:
        return means_over_lightness(values[:, self._tones], self.lab[:, self._tones, 0])

    def _largest(self, values: Array) -> Array:
        return np.asarray(values[:, self._tones].max(axis=-1))

    @cached_property
    def drifts(self) -> Array:
        """Departure in a*, b* from the neutral aim, of all patches; (k, n, 2)."""
        return _delta_ab(self.own, self.lab, self.neutral)

    @cached_property
    def mean_delta_Ch(self) -> Array:
        """Mean ΔCh."""
        return self._mean(expected_length(self.drifts, self.own))

    @cached_property
    def max_delta_Ch(self) -> Array:
        """Largest ΔCh."""
        return self._largest(expected_length(self.drifts, self.own, LARGEST_LENGTH))

    @cached_property
    def relative_lab(self) -> Array:
        """CIELAB against the print's paper under the light, shape (k, n, 3)."""
        xyz, paper = self._xyz[1:], self.own.ramp.paper_index
        return xyz_to_lab(xyz, xyz[:, paper : paper + 1])

    @cached_property
    def mean_delta_Ch_to_paper(self) -> Array:
        """Mean ΔCh from no chroma at all, for a viewer adapted to the paper under the light."""
        return self._mean(expected_length(self.relative_lab[..., 1:], self.own))

    @cached_property
    def max_delta_Ch_to_paper(self) -> Array:
        """Largest ΔCh for that viewer."""
        return self._largest(expected_length(self.relative_lab[..., 1:], self.own, LARGEST_LENGTH))

    @property
    def paper_ab(self) -> Array:
        """The paper's own tint, a* and b*; shape (k, 2)."""
        return self.lab[:, self.own.ramp.paper_index, 1:]

    @property
    def L_range(self) -> Array:
        """L* of paper less L* of black."""
        ramp = self.own.ramp
        return np.asarray(self.lab[:, ramp.paper_index, 0] - self.lab[:, ramp.black_index, 0])

    @cached_property
    def _change(self) -> tuple[Array, Array, Array, Array]:
        """X, Y, Z under D50 and under each light, and both whites."""
        xyz, white = self._xyz, self._weights.white
        return np.broadcast_to(xyz[:1], xyz[1:].shape), xyz[1:], white[:1], white[1:]

    @cached_property
    def metamerism_index(self) -> Array:
        """Special metamerism index from D50 to the light, CIEDE2000, shape (k, n)."""
        return metamerism_index(*self._change)

    @cached_property
    def metamerism_index_ab(self) -> Array:
        """The same in ΔE*ab."""
        return metamerism_index(*self._change, "ΔE*ab")

    @cached_property
    def colour_inconstancy(self) -> Array:
        """Colour inconstancy from D50 to the light, CIEDE2000, shape (k, n)."""
        return colour_inconstancy(*self._change)

    @cached_property
    def mean_metamerism_index(self) -> Array:
        """Mean special metamerism index from D50 to the light, CIEDE2000."""
        return self._mean(self.metamerism_index)

    @cached_property
    def max_metamerism_index(self) -> Array:
        """Largest special metamerism index, CIEDE2000."""
        return self._largest(self.metamerism_index)

    @cached_property
    def mean_inconstancy(self) -> Array:
        """Mean colour inconstancy from D50 to the light, CIEDE2000."""
        return self._mean(self.colour_inconstancy)

    @cached_property
    def max_inconstancy(self) -> Array:
        """Largest colour inconstancy, CIEDE2000."""
        return self._largest(self.colour_inconstancy)

    @cached_property
    def rms_delta_L(self) -> Array:
        """Error against the tone aim."""
        ramp, L = self.own.ramp, self.lab[..., 0]
        ends = L[:, [ramp.black_index, ramp.paper_index]].tolist()
        aims = [self.tone.target(ramp.level, black, paper, self.scaling) for black, paper in ends]
        return np.asarray(np.sqrt(self._mean((L - aims) ** 2)))

    @cached_property
    def _observers(self) -> Array:
        def columns(one: Light) -> Array:
            return individual_weights(self._grid, one).reshape(self._grid.count, -1)

        means = []
        for one, excites in zip(self.lights, self._weights.excites[1:], strict=True):
            weights = columns(one)
            xyz = _tristimulus(self.own, weights, columns(light(REFERENCE_LIGHT)), excites)
            xyz = np.moveaxis(xyz.reshape(len(xyz), -1, 3), 0, 1)
            # All individuals have one white.
            lab = xyz_to_lab(xyz, weights[:, :3].sum(axis=0))
            drifts = _delta_ab(self.own, lab, self.neutral)
            delta_Ch = expected_length(drifts, self.own)[:, self._tones]
            means.append(means_over_lightness(delta_Ch, lab[:, self._tones, 0]))
        return np.asarray(np.quantile(means, EYES, axis=-1))

    @property
    def observers_low(self) -> Array:
        """From here to `observers_high`, 95 % of individual observers see the mean ΔCh."""
        return np.asarray(self._observers[0])

    @property
    def observers_high(self) -> Array:
        """See `observers_low`."""
        return np.asarray(self._observers[1])

    @cached_property
    def paper_b_range(self) -> tuple[Array, Array]:
        """Least and largest b* of the paper, by whether all glows or nothing, and what excites."""
        parts, paper = _parts(self.own, self._weights), self.own.ramp.paper_index
        glow = [parts.glow[0], parts.glow[0] + parts.further[0]]
        cases = glow if self.own.known else [*glow, np.zeros_like(parts.bare)]
        b = [xyz_to_lab((parts.bare + case)[:, paper], 1.0)[:, 2] for case in cases]
        return np.min(b, axis=0), np.max(b, axis=0)

    @cached_property
    def _range(self) -> tuple[Array, Array]:
        return _brightener_range(self.own, self._weights, self.neutral, self.mean_delta_Ch)

    @property
    def brightener_low(self) -> Array:
        """Least mean ΔCh, as much as is not known of brightener and lamp."""
        return self._range[0]

    @property
    def brightener_high(self) -> Array:
        """Largest mean ΔCh, likewise."""
        return self._range[1]

    @cached_property
    def _by_brightener(self) -> Array:
        """How far the brightener alone moves tones in ΔCh between D50 and the light, (k, n)."""
        if not self.own.known:
            return np.full(self.lab.shape[:2], np.nan)
        bare = xyz_to_lab(self.own.base @ self._weights.matrix, self._weights.white)
        shift, bare_shift = (lab[1:, :, 1:] - lab[:1, :, 1:] for lab in (self._lab, bare))
        return chroma(shift - bare_shift)

    @property
    def paper_shift_by_brightener(self) -> Array:
        """How far that is on paper; NaN where M1 and M2 were not both read."""
        return self._by_brightener[:, self.own.ramp.paper_index]

    @cached_property
    def greys_shift_by_brightener(self) -> Array:
        """Mean of the tones' shift by the brightener; NaN likewise."""
        return self._mean(self._by_brightener)

    @cached_property
    def sd_mean_delta_Ch(self) -> Array:
        """Standard deviation of `mean_delta_Ch` from the reading's repeatability.

        A tone's noise counts by its share of the mean. The paper's moves the aim of all tones at
        once, by as much of its tint as each aim keeps.
        """
        ramp, lab, tones = self.own.ramp, self.lab, self._tones
        drifts, L = self.drifts[:, tones], lab[:, tones, 0]
        size = chroma(drifts)[..., np.newaxis]
        direction = np.divide(drifts, size, out=np.zeros_like(drifts), where=size > 0)
        edges = np.abs(np.diff(L, axis=1))
        share = np.zeros_like(L)
        share[:, 1:] += edges / 2
        share[:, :-1] += edges / 2
        if L.shape[1] == 1:
            share[:] = 1.0  # one tone alone has no neighbour to reach to
        share /= share.sum(axis=1, keepdims=True)
        paper, black = ramp.paper_index, ramp.black_index
        unit = np.ones((len(lab), 1, 3))
        unit[..., 0] = lab[:, paper : paper + 1, 0]
        kept = neutral_aim(self.neutral, L, unit, lab[:, black : black + 1])[..., :1]
        by_paper = np.sum(share[..., np.newaxis] * kept * direction, axis=1)
        variance = np.sum(share**2 / ramp.counts[tones], axis=1)
        variance = variance + np.sum(by_paper**2, axis=1) / ramp.counts[paper]
        return np.asarray(ramp_noise(ramp)[0] * np.sqrt(variance))


def expected_length(off: Array, own: Print, of_sd: float = MEAN_LENGTH) -> Array:
    """Return the length of departures in a*, b* (..., n, 2), shape (..., n).

    Of a print that is predicted, what is to be expected of them, its uncertainty counted in.
    """
    length = chroma(off)
    return np.hypot(length, of_sd * own.sd) if np.any(own.sd) else length


def _tristimulus(own: Print, matrix: Array, under_D50: Array, excites: Array) -> Array:
    """Compute what is reflected, and what the light makes glow, by weights for both."""
    total = own.base @ matrix
    if own.glow.any():
        total += excites * (own.glow @ under_D50)
    return np.asarray(total)


def _delta_ab(own: Print, lab: Array, neutral: NeutralAim) -> Array:
    paper, black = own.ramp.paper_index, own.ramp.black_index
    aim = neutral_aim(
        neutral, lab[..., 0], lab[..., paper : paper + 1, :], lab[..., black : black + 1, :]
    )
    return np.asarray(lab[..., 1:] - aim)


SHARES = np.linspace(0.0, 1.0, 7)
"""Shares of what may glow at which the range is sought first."""

REFINEMENTS = 2
"""How often the search goes on around the least mean ΔCh: it lies in a narrow dip."""


VISIBLE_RANGE = 0.05
"""A range narrower than this is not worth a closer look."""


def _brightener_range(
    own: Print, weights: _Weights, neutral: NeutralAim, nominal: Array
) -> tuple[Array, Array]:
    """Return the least and largest mean ΔCh, each of shape (k,), over what is not known.

    Not known is how much a lamp excites, by its table and by what the brightener's excitation is
    like; and, with one condition read, how much the brightener glows at all, from nothing to the
    most, and how much of that the inks let pass.
    """
    may = (weights.most - weights.least)[1:]
    if not own.most.any() or (own.known and not may.any()):
        return nominal, nominal
    parts, tones = _parts(own, weights), own.counts
    lamps = [0.0] if own.known else [0.0, 1.0]
    case = np.repeat(np.arange(len(own.most)), len(lamps))[:, np.newaxis]
    lamp = np.tile(lamps, len(own.most))[:, np.newaxis, np.newaxis, np.newaxis, np.newaxis]

    def means_at(rows: Indices, shares: Array) -> Array:
        """Mean ΔCh at shares of what may glow or, where that is known, of what may excite it.

        `rows` are those of `case` and `lamp`, (p,); shares and means of shape (p, s, k).
        """
        by, share = case[rows], shares[..., np.newaxis, np.newaxis]
        change = parts.glow[by] + (share if own.known else lamp[rows]) * parts.further[by]
        lab = xyz_to_lab(parts.bare + (change if own.known else share * change), 1.0)
        delta_Ch = expected_length(_delta_ab(own, lab, neutral), own)
        return means_over_lightness(delta_Ch[..., tones], lab[..., tones, 0])

    rows, step = np.arange(len(case)), float(SHARES[1])
    shares = np.broadcast_to(SHARES[:, np.newaxis], (len(rows), len(SHARES), len(may)))
    means = means_at(rows, shares)
    low, high = np.minimum(means.min(axis=1), nominal), np.maximum(means.max(axis=1), nominal)
    by_lamp = (len(own.most), len(lamps), len(may))
    widest = np.maximum.accumulate(high.reshape(by_lamp), axis=1)
    widest -= np.minimum.accumulate(low.reshape(by_lamp), axis=1)
    near = np.flatnonzero(widest.max(axis=2) >= VISIBLE_RANGE)
    shares, means = shares[near], means[near]
    for _ in range(REFINEMENTS if near.size else 0):
        best = np.take_along_axis(shares, means.argmin(axis=1)[:, np.newaxis], axis=1)
        shares = np.clip(best + step * (2 * SHARES[:, np.newaxis] - 1), 0.0, 1.0)
        step *= 2 * float(SHARES[1])
        means = means_at(near, shares)
        low[near] = np.minimum(low[near], means.min(axis=1))
        high[near] = np.maximum(high[near], means.max(axis=1))
    return low.min(axis=0), high.max(axis=0)


@dataclass(frozen=True, eq=False)
class _Parts:
    """What X, Y, Z under lights, over the light's white, are made of.

    `bare` is (k, n, 3); `glow` and what lamps may excite `further` are (c, k, n, 3), for each case
    of what the inks let pass.
    """

    bare: Array
    glow: Array
    further: Array


def _parts(own: Print, weights: _Weights) -> _Parts:
    """Take colours apart; see `_Parts`."""
    matrix = weights.matrix[1:]
    least, most = (one[1:, np.newaxis, np.newaxis] for one in (weights.least, weights.most))
    emitted = (own.most @ weights.matrix[0])[:, np.newaxis]
    glow = least * emitted
    if not own.known and own.ramp.reading.condition != WITHOUT_UV:
        # Of a reading with UV the glow is part of what was read; without it, the rest is bare.
        glow = glow - own.most[:, np.newaxis] @ matrix
    parts = own.base @ matrix, glow, (most - least) * emitted
    return _Parts(*(part / weights.white[1:] for part in parts))


# One ramp under the lights that it is analysed for.

SEEN = 0.5
"""A range of mean ΔCh as wide as this is seen side by side: no one figure stands for it (common
practice, no source)."""


@dataclass(frozen=True, eq=False)
class UnderLight:
    """A ramp under one light.

    Attributes
    ----------
    name
        The light's name.
    lab
        Shape (n, 3): CIELAB against the perfect diffuser under this light.
    relative_lab
        Shape (n, 3): CIELAB against the print's paper under this light.
    metamerism_index, metamerism_index_ab
        Shape (n,): special metamerism index, change from D50 to this light, against a flat
        grey, in CIEDE2000 and in ΔE*ab.
    colour_inconstancy
        Shape (n,): CIEDE2000 between D50 and this light, adaptation (CAT16) complete.
    drift
        The departure from the neutral aim, with paper and black under this light.
    mean_metamerism_index, max_metamerism_index
        Over the tones: mean over L*, and the largest.
    low, high
        Least and largest mean ΔCh, over what is not known of brightener and lamp.
    paper_b
        Least and largest b* of the paper, likewise.
    """

    name: str
    lab: Array
    relative_lab: Array
    metamerism_index: Array
    metamerism_index_ab: Array
    colour_inconstancy: Array
    drift: Drift
    mean_metamerism_index: float
    max_metamerism_index: float
    low: float
    high: float
    paper_b: tuple[float, float]

    @property
    def told(self) -> bool:
        """Whether what is not known of the brightener makes no difference that is seen."""
        return self.high - self.low < SEEN

    @property
    def paper_b_words(self) -> str:
        """The range of the paper's b* in words."""
        return f"{signed(self.paper_b[0], 1)} and {signed(self.paper_b[1], 1)}"

    @property
    def mean_delta_Ch(self) -> float:
        """Mean over L* of the tones' ΔCh under this light."""
        return self.drift.mean_delta_Ch

    @property
    def max_delta_Ch(self) -> float:
        """The largest ΔCh of the tones under this light."""
        return self.drift.max_delta_Ch

    @property
    def casts(self) -> tuple[Cast, ...]:
        """The casts under this light, by rising level."""
        return self.drift.casts


def under_lights(
    ramp: Ramp, lights: Sequence[Light], aim: NeutralAim = DEFAULT_NEUTRAL_AIM
) -> tuple[UnderLight, ...]:
    """Look at a ramp under lights, what is not known of its brightener allowed for.

    Parameters
    ----------
    ramp
        A ramp with spectra; what it glows, where it knows, by what each light excites.
    lights
        The lights.
    aim
        The neutral aim; its paper and black are those under each light.

    Raises
    ------
    ValueError
        If the ramp has no spectra.
    """
    if not lights:
        return ()
    own = print_of(ramp)
    look = UnderLights(own, lights, aim, observer=ramp.reading.observer)
    # Without ultraviolet it is what was read; behind glass that stops it, prints hang so.
    glows = own.most.any() and ramp.reading.condition != WITHOUT_UV
    found = []
    for k, one in enumerate(lights):
        drifts = drift(ramp, aim, one)
        low = high = drifts.mean_delta_Ch
        paper_b = (float(look.paper_ab[k, 1]),) * 2
        if glows and one.name != REFERENCE_LIGHT:
            low, high = float(look.brightener_low[k]), float(look.brightener_high[k])
            paper_b = (float(look.paper_b_range[0][k]), float(look.paper_b_range[1][k]))
        found.append(
            UnderLight(
                name=one.name,
                lab=look.lab[k],
                relative_lab=look.relative_lab[k],
                metamerism_index=look.metamerism_index[k],
                metamerism_index_ab=look.metamerism_index_ab[k],
                colour_inconstancy=look.colour_inconstancy[k],
                drift=drifts,
                mean_metamerism_index=float(look.mean_metamerism_index[k]),
                max_metamerism_index=float(look.max_metamerism_index[k]),
                low=low,
                high=high,
                paper_b=paper_b,
            )
        )
    return tuple(found)


WORTH_SAYING = 0.05
"""Units of a*, b* below which a loss is not spoken of: no instrument repeats so well."""

_WHOLE = np.arange(380.0, 731.0, 5.0)  # Beyond it the observers see next to nothing.
_HELD = 40.0  # nm, over which a spectrum keeps the slope that it ends with,
_SLOPE_OVER = 30.0  # and nm over which that slope is taken.
_DEPARTS = 0.03
"""Per nm: how the logarithm of reflectance may depart from the smooth extension, further out.
Found on published series of greys and on simulated prints, cut at many places."""

_USUAL_STEP = 10.0  # nm: the weights are made for it.
_FEWEST = 8  # Wavelengths, every other one, that tell what all of them lose.
# The error of interpolation falls with the square of the step, or faster.
_BY_HALF_THE_STEP = 0.25


def possible_loss(
    spectra: Array, wavelengths: Array, lights: Sequence[Light | str], observer: str = "2"
) -> Array:
    """Return how far a*, b* may be off for want of what lies beyond the ends or between the steps.

    Beyond the ends each spectrum is extended smoothly, as it ends; what it may do else there is
    let grow with the distance. Between the steps, what every other wavelength alone would lose
    tells what all of them do.

    Parameters
    ----------
    spectra, wavelengths
        Shapes (n, m) and (m,): reflectance factors, nm in even steps.
    lights
        k lights.

    Returns
    -------
    Array of shape (k,): the largest of all spectra.
    """
    plan = _plan(np.asarray(wavelengths, dtype=np.float64).tobytes(), tuple(lights), observer)
    k = len(plan.white[0])
    seen = np.hstack([spectra @ plan.read, plan.extended(spectra) @ plan.whole])
    ab = xyz_to_lab(seen.reshape(len(seen), -1, k, 3), plan.white)[..., 1:]
    read, *halves, extended, first, last = np.moveaxis(ab, 1, 0)
    parts = [extended - read, first - extended, last - extended]
    if halves:
        away = np.abs(np.stack(halves) - read)
        worse = np.argmax(away.max(axis=(1, 3)), axis=0)
        parts.append(_BY_HALF_THE_STEP * np.where(worse[:, np.newaxis], away[1], away[0]))
    return np.asarray(np.sqrt(np.sum(np.square(parts), axis=(0, 3)).max(axis=0)))


def loss_words(
    spectra: Array | None, wavelengths: Array | None, lights: Sequence[Light], observer: str = "2"
) -> tuple[str, ...]:
    """Return a sentence that says what may be lost, and under which light; none where little is."""
    if spectra is None or wavelengths is None:
        return ()
    first, last, step = wavelengths[0], wavelengths[-1], wavelengths[1] - wavelengths[0]
    known = f"The spectra go from {first:g} to {last:g} nm in steps of {step:g} nm"
    if step > _USUAL_STEP and len(wavelengths) < 2 * _FEWEST:
        return (f"{known}: too few to tell how far a*, b* are off by what lies between.",)
    losses = possible_loss(spectra, wavelengths, lights, observer)
    if not np.any(losses >= WORTH_SAYING):
        return ()
    worst = int(np.argmax(losses))
    return (
        f"{known}: by what lies beyond and between, a*, b* may be off by about "
        f"{losses[worst]:.2f} under {lights[worst].name}, or two to three times that.",
    )


@dataclass(frozen=True, eq=False)
class _Plan:
    """What spectra on some wavelengths are multiplied by, to see them under k lights.

    Attributes
    ----------
    read
        Shape (m, 3k), of the spectra as they are; where the steps are wide, of every other
        wavelength as well, from the first on and from the second.
    whole
        Shape (w, 9k), of the spectra extended to `_WHOLE`; as they are, and with a departure at
        either end.
    white
        Of each of these, shape (4 or 6, k, 3).
    spline
        Shape (m, w): to `_WHOLE`, held beyond the ends.
    ends
        Of each end that lies within `_WHOLE`: its wavelength, one further inside, the distance
        between them in nm, which of `_WHOLE` lie outside, and how far the slope goes on there.
    """

    read: Array
    whole: Array
    white: Array
    spline: Array
    ends: tuple[tuple[int, int, float, Mask, Array], ...]

    def extended(self, spectra: Array) -> Array:
        """The spectra on `_WHOLE`, extended smoothly."""
        smooth = np.maximum(spectra @ self.spline, 0.0)
        for end, inside, apart, outside, goes_on in self.ends:
            logs = np.log(np.maximum(spectra[:, [end, inside]], 1e-4))
            slope = (logs[:, :1] - logs[:, 1:]) / apart
            smooth[:, outside] *= np.exp(slope * goes_on)
        return smooth


@lru_cache(maxsize=16)
def _plan(at: bytes, lights: tuple[Light | str, ...], observer: str) -> _Plan:
    wavelengths = np.frombuffer(at)
    step = wavelengths[1] - wavelengths[0]

    def weights(own: Array) -> Array:
        grid = WavelengthGrid.of(own)
        return np.hstack([tristimulus_weights(grid, one, observer) for one in lights])

    read = [weights(wavelengths)]
    if step > _USUAL_STEP and len(wavelengths) >= 2 * _FEWEST:
        for start in (0, 1):
            read.append(np.zeros_like(read[0]))
            read[-1][start::2] = weights(wavelengths[start::2])
    whole = weights(_WHOLE)
    back = min(max(1, round(_SLOPE_OVER / step)), len(wavelengths) - 1)
    ends, departing = [], [whole]
    for end, inside, outside in (
        (0, back, wavelengths[0] > _WHOLE),
        (-1, -1 - back, wavelengths[-1] < _WHOLE),
    ):
        away = np.abs(_WHOLE - wavelengths[end]) * outside
        departing.append(np.exp(-_DEPARTS * away**2 / (away + _HELD))[:, np.newaxis] * whole)
        if outside.any():
            goes_on = _HELD * (1 - np.exp(-away[outside] / _HELD))
            ends.append((end, inside, float(back * step), outside, goes_on))
    inner = np.clip(_WHOLE, wavelengths[0], wavelengths[-1])
    white = [one.sum(axis=0) for one in (*read, whole, whole, whole)]
    return _Plan(
        np.hstack(read),
        np.hstack(departing),
        np.stack(white).reshape(len(white), len(lights), 3),
        cubic_spline(wavelengths, np.eye(len(wavelengths)), inner).T,
        tuple(ends),
    )
