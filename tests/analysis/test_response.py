"""How a driver answers is told from one chart: on simulated drivers kept out of tuning."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from support.array_printers import ArrayPrinter, halftone_printer
from support.families import family
from support.grey_readings import ramp_lab, reading_of
from support.odd_printers import odd_printer

from greyscale.analysis.analyse import analyse
from greyscale.analysis.response import Response, response, shadow
from greyscale.charts.chart import make_chart
from greyscale.printer.design import design
from greyscale.readings.reading import Reading

DEVICE = make_chart("chart", near_neutral=True, code=False).layout.device


def response_of(who: ArrayPrinter, device: np.ndarray = DEVICE) -> Response:
    lab = who.lab(device) + np.random.default_rng(1).normal(0.0, 0.15, device.shape)
    ids = tuple(str(number) for number in range(len(device)))
    return analyse(Reading("chart", "chart", ids, device, lab), lights=()).response


@cache
def chosen(count: int) -> np.ndarray:
    return design(count).patches.device


NUMBERS = range(1, 20, 2)


@pytest.mark.parametrize("number", family(NUMBERS, (1, 3, 5)))
@pytest.mark.parametrize(
    ("kind", "told"),
    [
        ("ordinary", "colour"),
        ("neutral already", "colour"),
        ("by the least", "colour"),
        ("blocked", "colour"),
        ("over-inked", "colour"),
        ("grey mode", "lightness only"),
    ],
)
def test_the_kind_of_answer_is_told(kind: str, told: str, number: int) -> None:
    assert response_of(odd_printer(kind, number)).kind == told


@pytest.mark.parametrize("number", family(NUMBERS, (1, 3)))
def test_few_patches_make_no_steps_of_an_ordinary_driver(number: int) -> None:
    """Some of them with black ink that sets in by a kink."""
    for count in (24, 40, 75):
        told = response_of(odd_printer("ordinary", number), chosen(count)).kind
        assert told in ("colour", "not known")


@pytest.mark.parametrize("values", [None, 7])
def test_a_light_ink_that_is_full_before_the_dark_one_sets_in_is_no_step(
    values: int | None,
) -> None:
    """In each channel elsewhere: tones a tenth apart answer otherwise, and ten leave gaps.

    Nor does a driver of that kind that knows few values pass for one that answers in colour.
    """
    kinds = []
    for seed in range(12):
        light = np.random.default_rng(seed).uniform(0.3, 0.6, 3)

        def lab(device: np.ndarray, light: np.ndarray = light) -> np.ndarray:
            ink = 1 - (device if values is None else np.round(device * values) / values)
            full = np.minimum(1.5 * light, 0.7)
            laid = np.column_stack(
                [
                    np.interp(ink[:, c], [0, light[c], light[c] + 0.3, 1], [0, f, f + 0.02, 1])
                    for c, f in enumerate(full)
                ]
            )
            a, b = laid[:, 1] - laid[:, 0], laid[:, 2] - laid[:, :2].mean(axis=1)
            return np.column_stack([95 - 80 * laid.mean(axis=1), 60 * a, 50 * b])

        kinds.append(response_of(ArrayPrinter("light inks", lab), chosen(48)).kind)
    assert set(kinds) == {"colour"} if values is None else "colour" not in kinds


@pytest.mark.parametrize(("amounts", "fewest"), [(32, 147), (48, 75), (64, 75), (128, 75)])
@pytest.mark.parametrize("start", family((0.25, 0.35, 0.45, 0.55, 0.65), (0.35, 0.65)))
def test_more_patches_make_no_steps_of_a_screen_that_knows_few_amounts_of_ink(
    start: float, amounts: int, fewest: int
) -> None:
    """Its tint follows the channels, if not finely, whatever the number of patches."""
    who = halftone_printer(start, removal=0.4, gammas=(1.2, 0.95, 1.0), amounts=amounts)
    several = [chosen(count) for count in (75, 90, 110) if count >= fewest]
    for device in (*several, DEVICE, np.concatenate([DEVICE, chosen(75)])):
        assert response_of(who, device).kind == "colour"


@pytest.mark.parametrize("number", family(NUMBERS, (3, 5)))
def test_a_driver_that_snaps_widely_does_not_pass_for_colour(number: int) -> None:
    """Where it snaps all near-neutral values, nothing but lightness is left."""
    who = odd_printer("steps", number)
    size = float(who.name.rsplit(",", 1)[0].rsplit(" ", 1)[1])
    if size > 0.06:
        assert response_of(who).kind in ("steps", "lightness only")


@pytest.mark.parametrize("number", family(NUMBERS, (1, 7)))
def test_where_ink_stops_helping_is_told(number: int) -> None:
    """The true darkest level lies within a step of the ramp, 1/32, or prints as dark."""
    who = odd_printer("over-inked", number)
    found = response_of(who)
    grid = np.linspace(0.0, 1.0, 501)
    L = who.lab(np.repeat(grid[:, np.newaxis], 3, axis=1))[:, 0]
    at = who.lab(np.full((1, 3), found.darkest_level))[0, 0]
    assert found.darkest_level > 0
    assert abs(found.darkest_level - grid[np.argmin(L)]) <= 1 / 32 or at - L.min() < 0.3


@pytest.mark.parametrize("number", family(NUMBERS, (1, 7)))
def test_the_blocked_shadow_ends_where_it_does(number: int) -> None:
    who = odd_printer("blocked", number)
    below = response_of(who).blocked_below
    assert below is not None
    L = who.lab(np.array([[0.0] * 3, [below - 1 / 32] * 3, [below + 1 / 32] * 3]))[:, 0]
    assert L[1] - L[0] < 0.6
    assert L[2] - L[0] > 0.4


@pytest.mark.parametrize(("tones", "beside"), [(3000, 24), (50, 1500)])
def test_long_charts_are_told_by_some_of_their_patches(
    monkeypatch: pytest.MonkeyPatch, tones: int, beside: int
) -> None:
    """Time grows with the cube of what is inverted: never more than a thousand patches."""
    inverted = []
    monkeypatch.setattr(
        np.linalg, "inv", lambda a, own=np.linalg.inv: inverted.append(len(a)) or own(a)
    )
    grey = np.repeat(np.linspace(0.0, 1.0, tones)[:, np.newaxis], 3, axis=1)
    directions = np.vstack([np.eye(3), -np.eye(3)])
    near = np.repeat(np.linspace(0.2, 0.9, beside // 6), 6)[:, np.newaxis]
    device = np.vstack([grey, near + 0.05 * np.tile(directions, (beside // 6, 1))])
    for kind, told in (("ordinary", "colour"), ("grey mode", "lightness only")):
        found = response_of(odd_printer(kind, 3), device)
        assert found.kind == told
        assert found.foretold is not None
    assert max(inverted) <= 1000


@pytest.mark.parametrize("nudge", [0.02, 0.08])
def test_the_answer_is_what_noise_does_not_add_to_it(nudge: float) -> None:
    """a* and b* follow the channels in proportion; of noise a fifth of that, nothing is counted."""
    level, tones = np.linspace(0, 1, 21), np.linspace(0.2, 0.8, 40)
    grey = np.repeat(level[:, np.newaxis], 3, axis=1)
    off = nudge * np.array([[1, -1, 0], [0, 1, -1], [-1, 0, 1], [0, -1, 1]])
    device = np.concatenate([grey, np.concatenate([tones[:, None] + one for one in off])])
    straight = 45.0 * np.array([[1.0, -1.0, 0.0], [0.5, 0.5, -1.0]])
    tint = (device - device.mean(axis=1, keepdims=True)) @ straight.T
    exact = np.column_stack([10 + 85 * device.mean(axis=1), tint])
    found = []
    for seed in range(20):
        noise = np.random.default_rng(seed).normal(0.0, 0.2, exact.shape)
        found.append(response(device, exact + noise, np.ones(len(device)), 0.2, 0.2).answer)
    size = np.mean(np.sum(tint[21:] ** 2, axis=1))
    departure = np.mean(np.sum((device - device.mean(axis=1, keepdims=True))[21:] ** 2, axis=1))
    assert np.mean(found) == pytest.approx(np.sqrt(size / departure), rel=0.03)


@pytest.mark.parametrize("end", [0.125, 0.27, 0.4, 0.95])
@pytest.mark.parametrize("rise", [40.0, 90.0])
def test_the_blocked_shadow_ends_half_a_unit_above_black(end: float, rise: float) -> None:
    """Of a straight scale that is flat below: also where that lies between the tones measured."""
    level = np.linspace(0.0, 1.0, 17)
    L = 20.0 + rise * np.maximum(level - end, 0.0)
    last, following = level[level <= end].max(), level[level > end].min()
    at = last + 0.5 / (rise * (following - end)) * (following - last)
    below, darkest, by = shadow(level, L, np.full(17, 0.1))
    assert (below, darkest, by) == (pytest.approx(at), 0.0, 0.0)


def test_the_blacks_of_two_sheets_are_no_blocked_shadow() -> None:
    """One of them prints a little lighter; the next tone lies far above."""
    level, sd = np.array([0.0, 0.0, 0.08, 0.2, 1.0]), np.full(5, 0.15)
    for blacks in ([24.20, 24.25], [24.25, 24.20], [25.30, 24.20]):
        assert shadow(level, np.array([*blacks, 31.2, 40.0, 96.0]), sd) == (None, 0.0, 0.0)


def test_without_near_neutral_patches_nothing_is_claimed() -> None:
    level = np.linspace(0, 1, 21)
    assert analyse(reading_of(level, ramp_lab(level))).response.kind == "not known"


@pytest.mark.parametrize("count", [3, 4, 5])
def test_few_tones_show_no_steps(count: int) -> None:
    level = np.linspace(0, 1, count)
    assert analyse(reading_of(level, ramp_lab(level))).response.tone_step == 0.0


@pytest.mark.parametrize(("number", "values"), [(1, 12), (3, 20)])
def test_a_driver_that_knows_few_tones_is_told_by_its_steps(number: int, values: int) -> None:
    """The median step between the L* of its values, read off the printer itself."""
    who = odd_printer("coarse", number)
    L = who.lab(np.repeat(np.linspace(0, 1, values)[:, np.newaxis], 3, axis=1))[:, 0]
    found = response_of(who)
    assert found.kind == "steps"
    assert found.tone_step == pytest.approx(np.median(np.diff(L)), rel=0.25)
