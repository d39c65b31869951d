"""How the printer answers near the grey axis: L*, a*, b* of R, G, B, with uncertainty."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from greyscale.aims.neutral import neutral_aim
from greyscale.aims.tone import tone_aim
from greyscale.base.libraries import on_one_thread
from greyscale.checks.spoilt import borne_out
from greyscale.colorimetry.arrays import Array, ArrayLike, equal_channels
from greyscale.colorimetry.cielab import xyz_to_lab
from greyscale.colorimetry.display import srgb_decoded
from greyscale.printer.answers import Answers, Centre
from greyscale.printer.covariance import WEIGHTS, Covariance, Onset, Pairs, PairsWithin, Points
from greyscale.printer.gaussian_process import (
    BEFOREHAND,
    GaussianProcess,
    fit_process,
    with_expected_detail,
)
from greyscale.readings.reading import AXIS_TOLERANCE

MOST_ONSETS = 3
_WORTH = 12.0
"""How much larger the log evidence must become for an onset to be believed."""

_SUPPOSED_UNSURE = 2.0
"""What a*, b* err by where answers beside the axis are only supposed, in the standard deviations of
the prior: found on seven kinds of simulated printers, others of the same kinds kept out."""

_PARAMETERS_UNSURE = 1.14
"""What answers err by on printers whose inks set in, since parameters are found from the same
evidence: drawn from their posterior, all of them, they raise the variance by three tenths; without
onsets by less, where bands are wide enough. Not for a ramp alone, see `_SUPPOSED_UNSURE`."""

_UNSEEN = 0.15
"""Standard deviation of L* half-way between black and the first tone measured, over what it rises
there. A course that only rises may be anywhere between (then 0.29); drivers that lay their last ink
at once err by 0.2 to 0.3, most by far less. Common practice, no source."""

_STEP = 1e-4  # In device values, for differences.


_OUT_OF_LINE = 5.64
"""Length of the three deviations, each over its standard deviation with the measurement itself left
out, from which on it is not followed: as rare (6e-7) as 5 standard deviations of one."""

_CLEARLY = 1.0  # CIELAB units that it must be off as well: less does no harm.
_MOST_SPOILT = 0.05  # Share of the measurements; beyond it, the model is what is wrong.
_MOST_SCREENINGS = 4
_UNHEARD = 1e4  # Variance of a measurement that is not followed.


@dataclass(frozen=True)
class Spoilt:
    """A measurement that is out of line with all the others.

    Attributes
    ----------
    row
        Index into the evidence.
    off
        L*, a*, b* measured less what all the others let expect.
    deviations
        Length of the three, each over its standard deviation.
    """

    row: int
    off: tuple[float, float, float]
    deviations: float


@dataclass(frozen=True, eq=False)
class PrinterModel:
    """A smooth model of the printer near its grey axis, made from evidence.

    Attributes
    ----------
    prior
        What is supposed beforehand.
    processes
        What the evidence adds to it: for L*, a*, b*.
    onsets
        Where inks set in, as far as the evidence tells.
    spoilt
        Measurements out of line with all the others, which the model does not follow.
    alone
        Whether only a ramp was measured, so that answers beside the grey axis are supposed.
    """

    prior: GeneralPrior
    processes: tuple[GaussianProcess, GaussianProcess, GaussianProcess]
    onsets: tuple[Onset, ...]
    spoilt: tuple[Spoilt, ...] = ()
    alone: bool = False

    @property
    def log_evidence(self) -> float:
        """Logarithm of the probability of the evidence under this model."""
        return sum(process.log_evidence for process in self.processes)

    def lab(self, device: ArrayLike) -> Array:
        """Return the CIELAB to be expected of device values from 0 to 1, shape (..., 3)."""
        values = np.asarray(device, dtype=np.float64)
        flat = values.reshape(-1, 3)
        points = Points(flat, self.onsets)
        found = np.stack([process.mean(points) for process in self.processes], axis=-1)
        return np.asarray(self.prior.lab(flat) + found).reshape(values.shape)

    def uncertainty(self, device: ArrayLike) -> Array:
        """Return one standard deviation of L*, a*, b*, shape (..., 3)."""
        values = np.asarray(device, dtype=np.float64)
        points = Points(values.reshape(-1, 3), self.onsets)
        found = np.stack([process.sd(points) for process in self.processes], axis=-1)
        return found.reshape(values.shape)

    @cached_property
    def _first_tone(self) -> float:
        """The lowest level of equal channels, above black, that was measured."""
        device = self.processes[0].points.device
        grey = device[np.ptp(device, axis=1) < AXIS_TOLERANCE].mean(axis=1)
        return float(np.min(grey[grey > AXIS_TOLERANCE], initial=1.0))

    def stated(self, device: ArrayLike) -> Array:
        """Return one standard deviation as it is to be stated, of device values (n, 3), likewise.

        Where onsets were found, the parameters are not surely known (see `_PARAMETERS_UNSURE`);
        for a ramp alone nothing is added for that. Between black and the first tone measured, where
        inks answer fastest, nothing tells how L* rises (see `_UNSEEN`). A ramp alone says nothing
        of how surely answers beside the axis are supposed: a*, b* there erred by more than that on
        printers of many kinds (see `_SUPPOSED_UNSURE`).
        """
        sd = self.uncertainty(device)
        level = np.asarray(device, dtype=np.float64).mean(axis=-1)
        first = self._first_tone
        way = np.clip(level / first, 0.0, 1.0)
        rise = np.abs(np.diff(self.lab(equal_channels(np.array([0.0, first])))[:, 0]))
        sd[..., 0] = np.hypot(sd[..., 0], _UNSEEN * rise * 4.0 * way * (1.0 - way))
        if not self.alone:
            return _PARAMETERS_UNSURE * sd if self.onsets else sd
        beside = np.maximum(sd**2 - self.uncertainty(equal_channels(level)) ** 2, 0.0)
        beside[..., 0] = 0.0
        return np.asarray(np.sqrt(sd**2 + (_SUPPOSED_UNSURE**2 - 1.0) * beside))

    def jacobian(self, device: ArrayLike) -> Array:
        """Return the change of L*, a*, b* (rows) with R, G, B (columns), shape (..., 3, 3)."""
        values = np.asarray(device, dtype=np.float64)
        steps = _STEP * np.eye(3)
        up, down = (
            self.lab(values[..., np.newaxis, :] + steps),
            self.lab(values[..., np.newaxis, :] - steps),
        )
        return np.asarray(np.swapaxes((up - down) / (2 * _STEP), -1, -2))


@on_one_thread
def fit(evidence: Answers, centre: Centre | None = None) -> PrinterModel:
    """Make the model of a printer from everything that was measured.

    Parameters
    ----------
    evidence
        What was sent, and what came back.
    centre
        CIELAB aimed at by level, from which the grey axis is taken to depart; None takes the
        usual aims ("lstar", "fading").
    """
    _keep_freed_memory()
    prior = _prior(evidence, centre or _usual_centre(evidence))
    answers = evidence.lab - prior.lab(evidence.device)
    noises = supposed = _noises(evidence)
    model = _with_onsets(prior, evidence, answers, supposed)
    # A spoilt measurement bends the model towards itself and hides others: again without it.
    for _ in range(_MOST_SCREENINGS):
        spoilt = _out_of_line(model, evidence, noises, supposed)
        if {found.row for found in spoilt} == {found.row for found in model.spoilt}:
            break
        supposed = noises.copy()
        supposed[[found.row for found in spoilt]] = _UNHEARD
        model = replace(_with_onsets(prior, evidence, answers, supposed), spoilt=spoilt)
    return model


def refit(model: PrinterModel, answers: Array, centre: Centre) -> PrinterModel:
    """The same printer seen in another way, as under another light.

    How smoothly it answers, where inks set in and which measurements are spoilt stay: they are the
    printer's, and not the light's. That saves the search, which is nearly all of the time.

    Parameters
    ----------
    model
        What `fit` made of the evidence.
    answers
        Shape (n, 3): CIELAB of the same n measurements, seen that way.
    centre
        CIELAB aimed at by level, seen that way.
    """
    prior = model.prior.around(centre)
    device = model.processes[0].points.device
    left = answers - prior.lab(device)
    L, a, b = (one.conditioned_on(left[:, c]) for c, one in enumerate(model.processes))
    return replace(model, prior=prior, processes=(L, a, b))


def predict_spectra(model: PrinterModel, lab: Array, spectra: Array, device: Array) -> Array:
    """The spectra to be expected of device values, from those of the evidence.

    Wavelength by wavelength, as L* would be of that reflectance alone. What of it goes with L*, a*
    and b* answers as the model has these, so that a spectrum looks as the model says; the rest,
    which is little, as a* does: a single wavelength answers to single channels.

    Parameters
    ----------
    lab, spectra
        Shapes (n, 3) and (n, m): CIELAB and reflectance factors of the n measurements that `model`
        was fitted to.
    device
        Shape (k, 3): R, G, B from 0 to 1.

    Returns
    -------
    Array of shape (k, m).
    """
    process = model.processes[1]
    measured = 116.0 * np.cbrt(np.maximum(spectra, 0.0)) - 16.0
    known, asked = (np.column_stack([np.ones(len(one)), one]) for one in (lab, model.lab(device)))
    by_lab = np.linalg.lstsq(known, measured, rcond=None)[0]
    rest = process.mean_of(measured - known @ by_lab, Points(device, model.onsets))
    return np.asarray(((asked @ by_lab + rest + 16.0) / 116.0) ** 3)


def _out_of_line(
    model: PrinterModel, evidence: Answers, noises: Array, supposed: Array
) -> tuple[Spoilt, ...]:
    """The measurements, the furthest out first, that all the others speak against."""
    if evidence.as_it_is:
        return ()
    parts = [
        process.left_out(noises[:, c], supposed[:, c]) for c, process in enumerate(model.processes)
    ]
    off = np.column_stack([part[0] for part in parts])
    deviations = np.linalg.norm(off / np.column_stack([part[1] for part in parts]), axis=1)
    size = np.linalg.norm(off, axis=1)
    out = (deviations > _OUT_OF_LINE) & (size > _CLEARLY)
    worst = np.where(out, deviations, 0.0)
    device, lab = evidence.device, evidence.lab
    unheard = [found.row for found in model.spoilt]

    def explained(row: int) -> bool:
        others = np.delete(np.arange(len(lab)), [row, *unheard])
        # In a ramp alone a spoilt tone has its neighbours far out as well.
        far = evidence.near_neutral * deviations[others] / deviations[row]
        return borne_out(device, lab, row, others, float(size[row]), far)

    rows = [int(row) for row in np.argsort(-worst) if worst[row] > 0.0 and not explained(row)]
    return tuple(
        Spoilt(row, (float(off[row, 0]), float(off[row, 1]), float(off[row, 2])), float(worst[row]))
        for row in rows[: max(1, int(_MOST_SPOILT * len(noises)))]
    )


def _with_onsets(
    prior: GeneralPrior, evidence: Answers, answers: Array, noises: Array
) -> PrinterModel:
    """The model with as many onsets as the evidence makes believable."""
    alone = not evidence.near_neutral
    model = _fitted(prior, evidence, answers, noises, (), alone)
    while len(model.onsets) < MOST_ONSETS:
        gain, onset = best_onset(
            evidence.device, answers, noises.mean(axis=1), model.onsets, alone=alone
        )
        if gain < _WORTH:
            break
        onsets = (*model.onsets, onset)
        richer = _fitted(prior, evidence, answers, noises, onsets, alone)
        if richer.log_evidence < model.log_evidence + _WORTH:
            break
        model = richer
    return model


def _keep_freed_memory() -> None:
    """Have glibc keep what is freed, instead of giving it back and asking for it again.

    The covariances, some hundred kilobytes each, come and go thousands of times; a third of the
    time went into that. Freeing one block of near 32 MB, which is never touched, raises both
    limits from which memory is given back (mallopt(3), M_MMAP_THRESHOLD). Elsewhere it does
    nothing.
    """
    np.empty(31 << 20, dtype=np.uint8)


def _noises(evidence: Answers) -> Array:
    """Return the variance of each mean, shape (n, 3)."""
    variance = np.array([evidence.sd_L, evidence.sd_ab, evidence.sd_ab]) ** 2
    return np.asarray(variance / evidence.counts[:, np.newaxis])


def _prior(evidence: Answers, centre: Centre) -> GeneralPrior:
    device, lab = evidence.device, evidence.lab
    if evidence.near_neutral:
        return general_prior(device, lab, centre, alone=False)
    plain = general_prior(device, lab, centre, alone=True)
    answers = lab - plain.lab(device)
    gain, onset = best_onset(device, answers, _noises(evidence).mean(axis=1), (), alone=True)
    if gain < _WORTH:
        return plain
    return general_prior(device, lab, centre, alone=True, black_below=onset.level)


def _fitted(
    prior: GeneralPrior,
    evidence: Answers,
    answers: Array,
    noises: Array,
    onsets: Sequence[Onset],
    alone: bool,
) -> PrinterModel:
    points = Points(evidence.device, tuple(onsets))
    pairs = PairsWithin(points)
    alike = evidence.over_the_page
    page = None if alike is None else pairs.of(alike)
    L, a, b = with_expected_detail(
        [
            fit_process(
                pairs,
                answers[:, c],
                noises[:, c],
                noise_spread=evidence.noise_spread,
                alone=alone,
                page=None if page is None else page * sd**2,
            )
            for c, sd in enumerate((evidence.sd_L, evidence.sd_ab, evidence.sd_ab))
        ]
    )
    return PrinterModel(prior, (L, a, b), tuple(onsets), alone=alone)


def _usual_centre(evidence: Answers) -> Centre:
    paper, black = evidence.paper, evidence.black
    aim = tone_aim("lstar")

    def centre(level: Array) -> Array:
        L = aim.target(level, float(black[0]), float(paper[0]))
        return np.column_stack([L, neutral_aim("fading", L, paper, black)])

    return centre


# Whether and where an ink sets in, told from the evidence.

_TRIED = np.linspace(0.08, 0.95, 59)
_ALIKE = 0.04
"""How far apart the levels of the channels lie beforehand, by the least ink: standard deviation.
Found on simulated printers; levels far apart were found where there was only a soft shadow."""

_LEAST_BEHIND = 6  # Patches that must lie behind an onset, to tell what it does.
_SIZE, _SIZE_OFF_AXIS = 40.0, 8.0  # What an onset may add, per level: as in the process.
_IMPOSSIBLE = -1e3


def best_onset(
    device: Array, answers: Array, noise: Array, known: Sequence[Onset], *, alone: bool
) -> tuple[float, Onset]:
    """Find the onset that explains most, beside those known.

    Parameters
    ----------
    device
        Shape (n, 3).
    answers, noise
        Shape (n, 3) and (n,): L*, a*, b* measured less what the general prior says, and the
        variance.
    alone
        Whether only a ramp was measured. It cannot tell what the driver goes by; their mean is
        taken.

    Returns
    -------
    How much larger the log evidence becomes by it, and the onset.
    """
    gain = _gain(device, answers, noise, known)
    if alone:
        return _best_by_mean(gain, "mean")
    found = [_best_by_mean(gain, by) for by in WEIGHTS]
    found.append(_best_least(gain))
    return max(found, key=lambda pair: pair[0])


def _gain(
    device: Array, answers: Array, noise: Array, known: Sequence[Onset]
) -> Callable[[Onset], float]:
    """Return the function that says how much an onset adds to the log evidence.

    With the parameters at their medians, an onset adds a few columns to a linear model; the rest
    needs to be factored only once (Rasmussen and Williams 2006, section 2.7).
    """
    from scipy.linalg.lapack import dpotrf, dtrtrs

    points = Points(device, known)
    matrix = Covariance(Pairs(points, points), BEFOREHAND).value
    matrix[np.diag_indices_from(matrix)] += noise
    # LAPACK itself: what SciPy puts around it takes a third of the time of matrices so small.
    factor, failed = dpotrf(matrix, lower=1)
    if failed:
        raise np.linalg.LinAlgError("the covariance of the answers is not positive definite")
    whitened, _ = dtrtrs(factor, answers, lower=1)
    offset = points.offset

    def gain(onset: Onset) -> float:
        amounts = onset.amounts(device)
        if np.count_nonzero(amounts) < _LEAST_BEHIND:
            return _IMPOSSIBLE
        columns = [_SIZE * amounts, _SIZE * amounts**2]
        columns += [_SIZE_OFF_AXIS * amounts * offset[:, [i]] for i in (0, 1)]
        added = np.concatenate(columns, axis=1)
        white, _ = dtrtrs(factor, added, lower=1)
        small, _ = dpotrf(np.eye(white.shape[1]) + white.T @ white, lower=1)
        fitted, _ = dtrtrs(small, white.T @ whitened, lower=1)
        outputs = answers.shape[1]
        return float(0.5 * np.sum(fitted**2) - outputs * np.log(np.diag(small)).sum())

    return gain


def _refined(
    gain: Callable[[Onset], float], make: Callable[[Array], Onset], start: Array, step: float
) -> tuple[float, Onset]:
    from scipy.optimize import minimize

    corners = np.vstack([start, start + step * np.eye(start.size)])
    found = minimize(
        lambda levels: -gain(make(levels)),
        start,
        method="Nelder-Mead",
        options={
            "initial_simplex": corners,
            "maxfev": 40 * start.size,
            "xatol": 5e-4,
            "fatol": 0.05,
        },
    )
    return -float(found.fun), make(found.x)


def _on_grid(gain: Callable[[Onset], float], make: Callable[[Array], Onset]) -> float:
    gains = [gain(make(np.array([level]))) for level in _TRIED]
    return float(_TRIED[int(np.argmax(gains))])


def _best_by_mean(gain: Callable[[Onset], float], by: str) -> tuple[float, Onset]:
    def make(levels: Array) -> Onset:
        return Onset(by, (float(levels[0]),) * 3)

    return _refined(gain, make, np.array([_on_grid(gain, make)]), 0.006)


def _best_least(gain: Callable[[Onset], float]) -> tuple[float, Onset]:
    def make(levels: Array) -> Onset:
        red, green, blue = levels
        return Onset("least", (float(red), float(green), float(blue)))

    def likely(onset: Onset) -> float:
        return gain(onset) - 1.5 * float(np.var(onset.below)) / _ALIKE**2

    level = _on_grid(likely, lambda level: make(np.repeat(level, 3)))
    return _refined(likely, make, np.full(3, level), 0.03)


# What any printer is held to answer before its near-neutral patches are measured.
#
# On the grey axis: that it prints the aim. Beside it: that its channels act like those of the
# image's working space (sRGB, IEC 61966-2-1), at the pace at which the print's lightness rises.

# Linear sRGB to XYZ under D50 (IEC 61966-2-1, adapted by the Bradford matrix; memory).
_SRGB_D50 = np.array([[0.4361, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7141]])

PACE = 0.9
"""Ratio of a printer's answer in a*, b* to the working space's, at equal rise of L*: inks are
duller. Found on some twenty published and simulated printers."""

_MAGENTA_IN_BLUE = 0.25
"""Of what the green channel takes of green light, it takes this share of blue light: magenta inks
absorb blue light as well. Common practice, no source; found on the same printers."""

_FOLLOWING = 0.75  # How closely the pace follows the ramp's own slope: 0 not at all, 1 wholly.
_LEVELS = np.linspace(0.0, 1.0, 201)
_SMOOTHED_OVER = 0.06  # Levels, standard deviation of the window that finds the ramp's slope.
_ODDEST = 3.0  # Slopes further than this from the mean slope are not followed.


@dataclass(frozen=True, eq=False)
class GeneralPrior:
    """The supposed answer: `lab` of device values.

    Attributes
    ----------
    centre
        CIELAB of the grey axis at 201 levels, shape (201, 3).
    jacobian
        Change of L*, a*, b* with R, G, B there, shape (201, 3, 3).
    """

    centre: Array
    jacobian: Array

    def around(self, centre: Centre) -> GeneralPrior:
        """The same answers around another grey axis."""
        return GeneralPrior(centre(_LEVELS), self.jacobian)

    def lab(self, device: Array) -> Array:
        """Return CIELAB (n, 3) of device values (n, 3)."""
        level = device.mean(axis=1)
        offset = device - level[:, np.newaxis]
        columns = [
            np.interp(level, _LEVELS, self.centre[:, row])
            + sum(
                np.interp(level, _LEVELS, self.jacobian[:, row, channel]) * offset[:, channel]
                for channel in range(3)
            )
            for row in range(3)
        ]
        return np.stack(columns, axis=-1)


def general_prior(
    device: Array, lab: Array, centre: Centre, *, alone: bool, black_below: float | None = None
) -> GeneralPrior:
    """Make the prior for a printer whose ramp was measured.

    Parameters
    ----------
    device, lab
        Shape (n, 3): everything measured, paper and black among it.
    centre
        The aim, by level.
    alone
        Whether only the ramp was measured, so that the prior has to serve as it is: then its pace
        follows the ramp's own slope. Else the mean slope serves better, being smooth; the
        near-neutral patches tell the rest.
    black_below
        Level below which black ink helps, if that is known. It makes the ramp steeper without
        making the colours livelier.
    """
    whole = lab[:, 0].max() - lab[:, 0].min()
    pace = np.full(_LEVELS.shape, PACE * whole)
    if alone:
        slope = _slope_of_lightness(device.mean(axis=1), lab[:, 0])
        if black_below is not None:
            slope = _without_black(slope, black_below)
        pace = pace * np.clip(slope / whole, 1 / _ODDEST, _ODDEST) ** _FOLLOWING
    space = _working_space_jacobian(_LEVELS)
    space = space / space[:, :1].sum(axis=2, keepdims=True)
    return GeneralPrior(centre(_LEVELS), space * pace[:, np.newaxis, np.newaxis])


def _without_black(slope: Array, below: float) -> Array:
    """Take out of the ramp's slope what black ink adds, and by how much it dulls the colours."""
    above = _LEVELS - below
    darker = (above < -0.03) & (above > -0.12)
    lighter = (above > 0.03) & (above < 0.12)
    if not darker.any() or not lighter.any():
        return slope
    share = min(float(slope[lighter].mean() / slope[darker].mean()), 1.0)
    return np.where(above < 0, slope * share**2, slope)


def _slope_of_lightness(level: Array, L: Array) -> Array:
    """Return dL*/dlevel on the grid: straight lines fitted in a sliding window."""
    weight = np.exp(-0.5 * ((_LEVELS[:, np.newaxis] - level) / _SMOOTHED_OVER) ** 2) + 1e-9
    total = weight.sum(axis=1)
    mean_level, mean_L = weight @ level / total, weight @ L / total
    away = level - mean_level[:, np.newaxis]
    slope = np.sum(weight * away * (L - mean_L[:, np.newaxis]), axis=1)
    return np.asarray(np.maximum(slope / np.sum(weight * away**2, axis=1), 1e-3))


def _working_space_jacobian(level: Array) -> Array:
    """Return the change of CIELAB with R, G, B on sRGB's grey axis, by inks: shape (n, 3, 3)."""
    grey = equal_channels(np.clip(level, 0.02, 0.98))
    step = 0.01
    columns = [
        (_working_space(grey + step * unit) - _working_space(grey - step * unit)) / (2 * step)
        for unit in np.eye(3)
    ]
    jacobian = np.stack(columns, axis=-1)
    jacobian[:, :, 1] += _MAGENTA_IN_BLUE * jacobian[:, :, 2]
    return jacobian


def _working_space(rgb: Array) -> Array:
    return xyz_to_lab(srgb_decoded(rgb) @ _SRGB_D50.T, _SRGB_D50.sum(axis=1))
