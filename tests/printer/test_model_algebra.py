"""The printer model's algebra against finite differences, plain sums and textbook formulas."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from support.corrections import printed

from greyscale.colorimetry.arrays import Array
from greyscale.correction.evidence import evidence_from
from greyscale.printer.covariance import (
    PARAMETERS,
    AnswerByLine,
    Covariance,
    Onset,
    Pairs,
    PairsWithin,
    Points,
    variance,
)
from greyscale.printer.gaussian_process import (
    BEFOREHAND,
    _Beside,
    _minus_log_evidence,
    fit_process,
)
from greyscale.printer.model import PrinterModel, _slope_of_lightness, _without_black, fit
from greyscale.printer.solver import TONE_ERROR, _Search
from greyscale.readings.reading import Reading

ONSETS = {
    "none": (),
    "least": (Onset("least", (0.5, 0.55, 0.45)),),
    "two": (Onset("mean", (0.4, 0.4, 0.4)), Onset("luma", (0.7, 0.7, 0.7))),
}
RNG = np.random.default_rng(7)
# Not at the medians, where some derivatives are small: each parameter is moved by itself.
UNUSUAL = BEFOREHAND + RNG.uniform(-0.5, 0.5, BEFOREHAND.size)


def device(count: int, seed: int) -> np.ndarray:
    """Device values all round the grey axis."""
    random = np.random.default_rng(seed)
    level = random.uniform(0.05, 0.95, (count, 1))
    return np.clip(level + random.normal(0.0, 0.05, (count, 3)), 0.0, 1.0)


@pytest.fixture(params=ONSETS)
def points(request) -> tuple[Points, Points]:
    onsets = ONSETS[request.param]
    return Points(device(9, 1), onsets), Points(device(14, 2), onsets)


@pytest.mark.parametrize("name", PARAMETERS)
def test_each_derivative_of_the_covariance(name: str, points: tuple[Points, Points]) -> None:
    """Against central differences by the logarithm of the parameter."""
    pairs, index, step = PairsWithin(points[0]), PARAMETERS.index(name), 1e-5
    weight = np.random.default_rng(6).normal(0, 1, len(pairs.dot))
    change = step * np.eye(len(PARAMETERS))[index]
    up, down = (Covariance(pairs, UNUSUAL + sign * change).value for sign in (1, -1))
    expected = weight @ (up - down) / (2 * step)
    found = Covariance(pairs, UNUSUAL).slopes(weight)[index]
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-7 * np.abs(up).max())


def test_the_least_ink_is_each_channels_alike_at_black() -> None:
    """By hand: where each channel is half way down from its own level, so is its ink."""
    onset = Onset("least", (0.5, 0.6, 0.4))
    sent = np.array([[0, 0, 0], [0.25, 0, 0], [0, 0.3, 0], [0.1, 0.1, 0.2], [0.1, 0.6, 0.1]])
    np.testing.assert_allclose(onset.amounts(sent)[:, 0], [0.5, 0.25, 0.25, 0.25, 0.0])


def test_the_gradient_of_the_evidence(points: tuple[Points, Points]) -> None:
    """By each parameter and by the noise, against central differences."""
    own = points[1]
    pairs, random = PairsWithin(own), np.random.default_rng(3)
    answer, noise = random.normal(0, 2, len(own.device)), random.uniform(0.01, 0.1, 14)
    page = np.exp(-0.3 * np.abs(np.subtract.outer(np.arange(14), np.arange(14))))
    page = pairs.of(0.004 * page)
    _, slopes, on_diagonal, of_pairs = _minus_log_evidence(pairs, answer, noise, UNUSUAL, page)
    step = 1e-5
    for index, change in enumerate(step * np.eye(len(PARAMETERS))):
        up, down = (
            _minus_log_evidence(pairs, answer, noise, UNUSUAL + sign * change, page)[0]
            for sign in (1, -1)
        )
        assert slopes[index] == pytest.approx((up - down) / (2 * step), rel=1e-4, abs=1e-5)
    up, down = (
        _minus_log_evidence(pairs, answer, noise * np.exp(2 * sign * step), UNUSUAL, page)[0]
        for sign in (1, -1)
    )
    assert on_diagonal @ noise == pytest.approx((up - down) / (2 * step), rel=1e-4)
    up, down = (
        _minus_log_evidence(pairs, answer, noise, UNUSUAL, page * np.exp(sign * step))[0]
        for sign in (1, -1)
    )
    assert of_pairs @ page == pytest.approx((up - down) / (2 * step), rel=1e-4)


def test_the_gradient_of_what_comes_beside_the_smooth_answer(
    points: tuple[Points, Points],
) -> None:
    """Noise, the share that wanders, more of it in the dark, detail: by central differences."""
    alike = np.round(points[1].device, 1)  # Some share one channel or two.
    pairs, random = PairsWithin(Points(alike, points[1].onsets)), np.random.default_rng(5)
    answer, noise = random.normal(0, 2, 14), random.uniform(0.01, 0.1, 14)
    page = pairs.of(0.01 * np.exp(-0.3 * np.abs(np.subtract.outer(range(14), range(14)))))
    beside, own = _Beside(pairs, noise, 0.2, page), np.array([0.5, -0.3, 0.8, 1.1])

    def evidence(own: Array) -> tuple[float, Array, Array, Array]:
        return _minus_log_evidence(pairs, answer, beside.alone(own), UNUSUAL, beside.together(own))

    assert beside.shared.max() > 0.3
    found = beside.slopes(own, *evidence(own)[2:])
    for index, change in enumerate(1e-5 * np.eye(4)):
        up, down = evidence(own + change)[0], evidence(own - change)[0]
        assert found[index] == pytest.approx((up - down) / 2e-5, rel=1e-4)


def test_the_variance_is_the_covariance_with_itself(points: tuple[Points, Points]) -> None:
    own = points[1]
    np.testing.assert_allclose(
        variance(own, UNUSUAL), np.diag(Covariance(Pairs(own, own), UNUSUAL).value), rtol=1e-9
    )


def test_the_pairs_within_a_set_are_those_of_the_set_with_itself(
    points: tuple[Points, Points],
) -> None:
    """In the lower triangle; and folded, a sum over them is one over the whole matrix."""
    pairs = PairsWithin(points[1])
    whole = Covariance(Pairs(points[1], points[1]), UNUSUAL).value
    values = Covariance(pairs, UNUSUAL).value
    np.testing.assert_allclose(pairs.matrix(values), np.tril(whole), rtol=1e-12)
    assert values @ pairs.folded(np.tril(whole)) == pytest.approx(np.sum(whole**2))


def test_the_tabulated_answer_is_the_sum_of_covariances(points: tuple[Points, Points]) -> None:
    """Tables and splines in place of a sum over all evidence: to a thousandth of its size."""
    at, evidence = points
    weights = np.random.default_rng(4).normal(0, 1, len(evidence.device))
    # Bends large enough to count.
    parameters = UNUSUAL + 3.0 * (np.array(PARAMETERS) == "bend")
    tabulated = AnswerByLine.tabulated(evidence, weights, parameters).at(at)
    summed = Covariance(Pairs(at, evidence), parameters).value @ weights
    np.testing.assert_allclose(tabulated, summed, atol=1e-3 * np.abs(summed).max())


def test_mean_and_deviation_are_the_textbooks() -> None:
    """Rasmussen and Williams 2006, 2.25 and 2.26, by NumPy's own inverse."""
    own, at = Points(device(30, 5)), Points(device(11, 6))
    random = np.random.default_rng(8)
    answer, noise = random.normal(0, 1, 30), np.full(30, 0.02)
    process = fit_process(PairsWithin(own), answer, noise)
    parameters = process.log_parameters
    K = Covariance(Pairs(own, own), parameters).value + np.diag(
        noise * process.noisier**2 + process.detail**2
    )
    k = Covariance(Pairs(at, own), parameters).value
    inverse = np.linalg.inv(K)
    mean = k @ inverse @ answer
    left = variance(at, parameters) - np.einsum("ij,jk,ik->i", k, inverse, k)
    left += process.detail**2  # What no smooth curve follows is there, unknown, at others too.
    np.testing.assert_allclose(process.mean(at), mean, atol=2e-3 * np.abs(mean).max())
    # Where was measured decides, and not what; other points have their own.
    other, few = process.conditioned_on(random.normal(0, 1, 30)), Points(device(11, 6)[:4])
    for one, points, expected in ((process, at, left), (other, at, left), (other, few, left[:4])):
        np.testing.assert_allclose(one.sd(points), np.sqrt(expected), rtol=1e-4)


@pytest.fixture(scope="module")
def model() -> PrinterModel:
    level = np.linspace(0, 1, 17)[:, None]
    ramp = np.repeat(level, 3, axis=1)
    beside = [np.clip(ramp[1:-1:2] + offset, 0, 1) for offset in 0.04 * np.eye(3)]
    sent = np.vstack([ramp, *beside, ramp[[0, 8, 16]]])
    noise = np.random.default_rng(9).normal(0, 0.05, sent.shape)
    reading = Reading(
        "kozo", "kozo.txt", tuple(f"P{i}" for i in range(len(sent))), sent, printed(sent) + noise,
        condition="M1",
    )  # fmt: skip
    return fit(evidence_from([reading]))


def test_the_jacobian_is_the_change_of_the_answer(model: PrinterModel) -> None:
    """Over steps a hundred times as long; and close to what the printer really does."""
    at = np.array([[0.3, 0.31, 0.29], [0.5, 0.5, 0.5], [0.72, 0.7, 0.7]])
    found = model.jacobian(at)
    steps = 0.01 * np.eye(3)
    for answers, within in ((model.lab, 2.0), (printed, 15.0)):
        change = np.stack([(answers(at + s) - answers(at - s)) / 0.02 for s in steps], axis=-1)
        np.testing.assert_allclose(found, change, atol=within)
    assert np.abs(found).max() > 50


def test_what_was_measured_is_known_to_about_its_noise(model: PrinterModel) -> None:
    """And the more surely the nearer to it."""
    at = np.array([[0.5, 0.5, 0.5], [0.5, 0.62, 0.5], [0.5, 0.9, 0.5]])
    known = model.uncertainty(at)
    assert (known[0] < 0.15).all()
    for nearer, farther in pairwise(known):
        assert (nearer < farther).all()


def test_what_the_search_makes_small(model: PrinterModel) -> None:
    """Errors of L* times their weight, and more the larger they are; of a*, b* as they are."""
    targets = np.array([[40.0, 1.0, 2.0], [70.0, 0.0, -1.0]])
    weight, at = np.array([0.5, 2.0]), np.array([[0.4, 0.4, 0.4], [0.7, 0.7, 0.7]])
    error = model.lab(at) - targets
    L = weight * error[:, 0] * np.sqrt(1 + (error[:, 0] / TONE_ERROR) ** 2)
    expected = np.column_stack([L, error[:, 1:]])
    plain = _Search(model, targets, weight, cautious=False)
    np.testing.assert_allclose(plain._residual(at), expected)
    np.testing.assert_allclose(plain.cost(at), np.sum(expected**2, axis=1))
    careful = _Search(model, targets, weight, cautious=True)
    with_doubt = np.column_stack([expected, model.uncertainty(at)])
    np.testing.assert_allclose(careful._residual(at), with_doubt)


@pytest.mark.parametrize("power", [1.0, 2.0])
def test_the_ramps_slope_is_found_as_it_is_seen_through_the_window(power: float) -> None:
    """Of a straight line and of a parabola a least-squares line in an even window is exact."""
    level = np.linspace(0, 1, 401)
    slope = _slope_of_lightness(level, 20 + 60 * level**power)
    middle = slice(60, 141)
    expected = 60 * power * np.linspace(0, 1, 201) ** (power - 1)
    np.testing.assert_allclose(slope[middle], expected[middle], rtol=1e-3)
    assert (slope >= 1e-3).all()


def test_black_ink_dulls_what_colours_do_by_the_square_of_its_share() -> None:
    """Below level 0.4 the ramp falls twice as steeply: a share of a half, a quarter of that."""
    grid = np.linspace(0, 1, 201)
    slope = np.where(grid < 0.4, 160.0, 80.0)
    found = _without_black(slope, 0.4)
    np.testing.assert_allclose(found[grid < 0.39], 40.0)
    np.testing.assert_allclose(found[grid > 0.41], 80.0)


def test_how_tones_rise_from_black_before_the_first_measured_is_not_stated_as_known() -> None:
    """Two printers that measure alike at all tones of a chart: one lays its last ink at once."""
    level = np.linspace(0.0, 1.0, 33)
    device = np.repeat(level[:, np.newaxis], 3, axis=1)
    lab = np.column_stack(
        [np.interp(level, [0.0, 1 / 32, 1.0], [20.0, 24.0, 95.0]), *[0 * level] * 2]
    )
    ids = tuple(str(number) for number in range(len(level)))
    model = fit(evidence_from([Reading("ramp", "ramp", ids, device, lab)]))
    asked = np.repeat([[1 / 64], [0.4]], 3, axis=1)
    at_once = 20.0 + 4.0 * np.sqrt(0.5)
    stated, found = model.stated(asked)[:, 0], model.uncertainty(asked)[:, 0]
    assert abs(model.lab(asked)[0, 0] - at_once) < 2.5 * stated[0]
    assert stated[0] > 2 * found[0]
    assert stated[1] == pytest.approx(found[1])


def test_an_edge_on_the_grey_axis_is_followed() -> None:
    """Black ink by the least of the inks, common practice, darkens to all sides of the axis."""

    def answer(values: Array) -> Array:
        level = values.mean(axis=1)
        return np.asarray(-40.0 * (1.0 - level) * (values.max(axis=1) - level))

    measured, unseen = device(130, 3), device(60, 4)
    noise = np.random.default_rng(5).normal(0.0, 0.1, len(measured))
    process = fit_process(
        PairsWithin(Points(measured)), answer(measured) + noise, np.full(len(measured), 0.1**2)
    )
    off = process.mean(Points(unseen)) - answer(unseen)
    assert np.sqrt(np.mean(off**2)) < 0.1  # Smooth slopes and bends leave 0.22 to 0.32.
    assert np.mean(np.abs(off) < 1.96 * process.sd(Points(unseen))) > 0.9
