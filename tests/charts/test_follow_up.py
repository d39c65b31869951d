"""Follow-up charts: more patches where the first reading leaves most open, and why."""

import numpy as np
import pytest
from support.array_printers import halftone_printer

from greyscale.base.errors import BadInput
from greyscale.charts.patches import starting_tones
from greyscale.charts.plan import follow_up_tones, measured_ramp, plan_patches
from greyscale.readings.reading import Reading

LEVELS = starting_tones(33).level


def _reading(lab_of, levels=LEVELS, noise=0.15, seed=0, device=None):
    """Read a chart of a printer that is known as L*, a*, b* by level."""
    levels = np.asarray(levels, dtype=float)
    device = np.repeat(levels[:, np.newaxis], 3, axis=1) if device is None else device
    lab = lab_of(levels) if callable(lab_of) else lab_of
    lab = lab + np.random.default_rng(seed).normal(0, noise, lab.shape)
    return Reading("first chart", "first.txt", tuple(map(str, range(len(lab)))), device, lab)


def _straight(v):
    return np.stack([18 + 77 * v, 0 * v, 2 * v], axis=-1)


def _kinked(at, change):
    """Give a ramp whose L* turns at one level, as where a black ink sets in."""
    return lambda v: (
        _straight(v) - np.stack([change * np.maximum(at - v, 0), 0 * v, 0 * v], axis=-1)
    )


def _kinds(patches, kind):
    return patches.level[[each == kind for each in patches.kinds()]]


@pytest.mark.parametrize("at", [0.25, 0.4, 0.62])
@pytest.mark.parametrize("seed", range(3))
def test_more_patches_go_to_a_constructed_bend_and_say_so(at, seed):
    plan = follow_up_tones(measured_ramp(_reading(_kinked(at, 45.0), seed=seed)), 24)
    bends = _kinds(plan.patches, "bend")
    assert len(bends) >= 5
    assert np.abs(bends - at).max() < 0.1
    near = np.abs(plan.patches.level - at) < 0.06
    assert near.sum() > 2 * 24 * 0.12
    assert any("where the curve bends" in line for line in plan.why)


def test_a_straight_ramp_asks_for_no_bend_and_no_drift():
    plan = follow_up_tones(measured_ramp(_reading(_straight)), 24)
    assert set(plan.patches.kinds()) == {"paper and black", "tie", "uncertain"}
    assert any("none for a bend" in line for line in plan.why)
    assert any("none for drift" in line for line in plan.why)


def test_more_patches_go_where_drift_is_fast_and_say_so():
    """a* falls by 8 between levels 0.5 and 0.6 and stands still elsewhere."""

    def lab_of(v):
        return _straight(v) - np.stack([0 * v, 4 * np.tanh((v - 0.55) / 0.03), 0 * v], axis=-1)

    plan = follow_up_tones(measured_ramp(_reading(lab_of)), 24)
    drift = _kinds(plan.patches, "drift")
    assert len(drift) >= 3
    assert np.abs(drift - 0.55).max() < 0.1
    assert any("where drift is fast" in line for line in plan.why)


def test_more_patches_go_where_the_fitted_curve_is_least_certain():
    """Nothing was measured between 0.3 and 0.6."""
    levels = LEVELS[(LEVELS < 0.3) | (LEVELS > 0.6)]
    plan = follow_up_tones(measured_ramp(_reading(_kinked(0.2, 30.0), levels)), 16)
    uncertain = _kinds(plan.patches, "uncertain")
    assert ((uncertain > 0.3) & (uncertain < 0.6)).sum() >= 3
    assert any("least certain" in line for line in plan.why)


def test_paper_and_black_and_ties_are_kept_and_each_tone_has_a_reason():
    plan = follow_up_tones(measured_ramp(_reading(_kinked(0.4, 45.0))), 24)
    assert len(plan.patches) == 24
    assert plan.patches.level[0] == 0
    assert plan.patches.level[-1] == 1
    assert _kinds(plan.patches, "tie") == pytest.approx([0.25, 0.5, 0.75], abs=0.01)
    assert all(plan.patches.reasons)


def test_new_tones_are_whole_codes_apart_from_measured_ones():
    plan = follow_up_tones(measured_ramp(_reading(_kinked(0.4, 45.0))), 60)
    new = plan.patches.level[
        [kind in ("bend", "drift", "uncertain") for kind in plan.patches.kinds()]
    ]
    assert np.abs(new[:, np.newaxis] - LEVELS).min() >= 2 / 255 - 1e-9
    assert np.diff(np.sort(new)).min() >= 2 / 255 - 1e-9
    assert new * 255 == pytest.approx(np.round(new * 255))


def test_joined_with_the_first_the_follow_up_catches_a_bend_better_than_as_many_even_tones():
    """Where the black of a halftone print sets in; curves through the tones by SciPy's pchip."""
    from scipy.interpolate import PchipInterpolator

    printer = halftone_printer(black_start=0.5)

    def lab_of(v):
        return printer.lab(np.repeat(np.asarray(v)[:, np.newaxis], 3, axis=1))

    def missed(more):
        levels = np.unique(np.concatenate([LEVELS, more]))
        grid = np.linspace(0.02, 0.98, 500)
        return np.abs(PchipInterpolator(levels, lab_of(levels))(grid) - lab_of(grid)).max()

    for seed in range(4):
        plan = follow_up_tones(measured_ramp(_reading(lab_of, seed=seed)), 24)
        assert missed(plan.patches.level) < 0.6 * missed(starting_tones(24).level)


def test_a_printer_that_clips_half_of_the_tones_is_refused_with_what_to_look_at():
    with pytest.raises(BadInput, match=r"levels 0 to 0\.50 all print like black.*paper setting"):
        measured_ramp(_reading(lambda v: _straight(np.clip(2 * v - 1, 0, 1))))


def test_clipped_highlights_are_refused_alike():
    with pytest.raises(BadInput, match="all print like paper"):
        measured_ramp(_reading(lambda v: _straight(np.clip(2 * v, 0, 1))))


def test_nothing_goes_where_a_printer_blocks_its_shadows_a_little():
    ramp = measured_ramp(_reading(lambda v: _straight(np.clip((v - 0.15) / 0.85, 0, 1))))
    plan = follow_up_tones(ramp, 24)
    inner = plan.patches.level[(plan.patches.level > 0) & (plan.patches.level < 1)]
    assert inner.min() > 0.14
    assert any("everything prints like black" in line for line in plan.why)


@pytest.mark.parametrize(
    ("levels", "lab_of", "what"),
    [
        (LEVELS, lambda v: _straight(1 - v), "L\\* does not rise"),
        (LEVELS[::12], _straight, "too few"),
        (LEVELS[4:], _straight, "black \\(0\\) and paper \\(1\\)"),
        (LEVELS[:-4], _straight, "black \\(0\\) and paper \\(1\\)"),
    ],
    ids=["upside down", "three tones", "no black", "no paper"],
)
def test_a_reading_that_cannot_be_followed_up_is_refused(levels, lab_of, what):
    with pytest.raises(BadInput, match=f"first.txt: .*{what}"):
        measured_ramp(_reading(lab_of, levels))


def test_a_reading_in_shuffled_tones_is_refused_as_a_wrong_layout():
    shuffled = np.random.default_rng(5).permutation(LEVELS[1:-1])
    lab = _straight(np.concatenate([[0.0], shuffled, [1.0]]))
    with pytest.raises(BadInput, match="layout may not be this reading's"):
        measured_ramp(_reading(lab))


def test_near_neutral_patches_of_a_follow_up_are_sized_by_the_measured_answer():
    """A printer that answers half as much gets nudges twice as large."""
    first = plan_patches(tones=33, near_neutral=True).patches

    def response(gain):
        v = first.level
        beside = first.device - v[:, np.newaxis]
        lab = _straight(v)
        lab[:, 1] += gain * (beside[:, 0] - beside[:, 1])
        lab[:, 2] += gain * (beside[:, 0] + beside[:, 1] - 2 * beside[:, 2]) / np.sqrt(3)
        return _reading(lab, v, device=first.device)

    sizes = []
    for gain in (120.0, 60.0):
        patches = plan_patches(near_neutral=True, after=response(gain)).patches
        beside = patches.device[[kind == "near-neutral" for kind in patches.kinds()]]
        away = np.linalg.norm(beside - beside.mean(axis=1, keepdims=True), axis=1)
        sizes.append(np.median(away))
        assert len(patches) <= 150
    assert sizes[1] == pytest.approx(2 * sizes[0], rel=0.12)
