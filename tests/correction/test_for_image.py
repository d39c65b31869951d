"""A correction sharpened for a picture: better over its tones, and the others not let go."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from support.correction_loop import Subject, chart, fading, grey, rounds, subject
from support.families import family

from greyscale.charts.chart import make_chart
from greyscale.charts.picture_tones import PictureTones
from greyscale.correction.correct import MOST, correct, priority
from greyscale.correction.folder import JSON, read_correction, write_files
from greyscale.correction.luts import GreyAxis, choose_size, even_knots
from greyscale.correction.record import Correction, Options
from greyscale.printer.solver import smoothed
from greyscale.readings.reading import Reading

LEVELS = np.linspace(0.0, 1.0, 256)
USED = LEVELS >= 0.03
NOISE = 0.15


def picture(middle: float, spread: float) -> PictureTones:
    shares = np.exp(-0.5 * ((LEVELS - middle) / spread) ** 2)
    return PictureTones("fog.tif", LEVELS, shares / shares.sum(), 1_000_000)


PICTURES = {
    "harbour at night": picture(0.15, 0.06),
    "grey morning": picture(0.5, 0.1),
    "lighthouse in fog": picture(0.85, 0.06),
}


def reading(who: Subject, device: np.ndarray, seed: int) -> Reading:
    noise = np.random.default_rng(seed).normal(0.0, NOISE, device.shape)
    ids = tuple(map(str, range(len(device))))
    return Reading("reading", "arrays", ids, device, who.lab(device) + noise)


def tints(who: Subject, made: Correction) -> np.ndarray:
    """ΔCh of the print itself at 256 tones."""
    paper, black = who.lab(np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]]))
    off = who.lab(made.curve.apply(grey(LEVELS))) - fading(LEVELS, paper, black)
    return np.hypot(off[:, 1], off[:, 2])


@pytest.mark.parametrize("name", family(PICTURES, []))
def test_a_chart_for_the_picture_is_worth_more_to_it_than_a_second_plain_chart(name: str) -> None:
    who, tones = subject("spectral, cotton rag"), PICTURES[name]
    plain = make_chart("plain", tones=17, near_neutral=True, code=False).layout.device
    for_it = make_chart(
        "for it", tones=17, near_neutral=True, picture=tones, code=False
    ).layout.device
    assert len(for_it) <= len(plain)
    found: dict[str, list[float]] = {"first": [], "plain": [], "for it": []}
    for seed in range(3):
        first = reading(who, chart(True), seed)
        for what, more in (("first", None), ("plain", plain), ("for it", for_it)):
            given = [first] if more is None else [first, reading(who, more, 100 + seed)]
            made = correct(given, Options(picture=tones))
            off = tints(who, made)
            found[what].append(float(tones.shares @ off))
            # What one round must reach with one chart, of every tone.
            assert off[USED].max() <= 0.7
    means = {what: np.mean(values) for what, values in found.items()}
    assert means["for it"] < min(means["plain"], means["first"])


@pytest.mark.parametrize("name", family(PICTURES, ["harbour at night"]))
def test_the_3d_lut_keeps_to_the_curve_at_the_pictures_tones(name: str) -> None:
    """With its nodes in even steps, on a printer whose black sets in with a kink: on average over
    the picture no farther than a LUT for all tones alike, and unseen at the size that is written.
    """
    tones = PICTURES[name]
    made = rounds(subject("hue reversal, blocked"), near_neutral=True, count=1)[0]
    assert made.model is not None
    alike = GreyAxis.of(made.curve, made.model.lab, None)
    sharpened = GreyAxis.of(made.curve, made.model.lab, priority(tones))
    shares = np.interp(alike.levels, LEVELS, tones.shares)
    shares /= shares.sum()
    for size in (33, 65):
        knots = even_knots(size)
        mean = shares @ sharpened.differences(knots)
        assert mean <= 1.001 * (shares @ alike.differences(knots))
    assert choose_size(sharpened) == 65
    assert mean < 0.02
    assert sharpened.differences(even_knots(65)).max() < 0.5


def test_no_tone_counts_less_than_usual_and_none_for_everything() -> None:
    for tones in PICTURES.values():
        counts = priority(tones)
        assert counts.min() == 1.0
        assert 2.0 < counts.max() <= MOST
        assert counts[np.argmax(tones.shares)] == counts.max()
    one_tone = priority(picture(0.4, 1e-4))
    assert one_tone.max() == MOST


def test_what_counts_more_is_smoothed_less() -> None:
    wobble = 0.01 * np.sin(np.arange(256) / 3)[:, None]
    rgb = np.clip(grey(LEVELS) + wobble, 0, 1)
    slopes = np.repeat(80 * np.eye(3)[None], 256, axis=0)
    sd = np.full((256, 3), 0.3)
    counts = np.where(LEVELS < 0.5, 8.0, 1.0)
    moved = np.abs(smoothed(rgb, slopes, sd, counts) - rgb).mean(axis=1)
    usual = np.abs(smoothed(rgb, slopes, sd) - rgb).mean(axis=1)
    dark, light = (LEVELS > 0.05) & (LEVELS < 0.45), (LEVELS > 0.55) & (LEVELS < 0.95)
    assert moved[dark].mean() < 0.5 * usual[dark].mean()
    assert moved[light].mean() == pytest.approx(usual[light].mean(), rel=0.05)


def test_the_folder_tells_for_which_picture_and_how_much_its_tones_counted(tmp_path: Path) -> None:
    who, tones = subject("random 7"), PICTURES["grey morning"]
    made = correct([reading(who, chart(True), 0)], Options(picture=tones))
    write_files(made, tmp_path, lut_size=9)
    again = read_correction(tmp_path)
    assert again.picture == "fog.tif"
    np.testing.assert_allclose(again.priority, priority(tones), atol=1e-4)
    text = (tmp_path / JSON).read_text(encoding="utf-8")
    plain = rounds(who, near_neutral=True, count=1)[0]
    write_files(plain, tmp_path, lut_size=9)
    assert '"priority": [' in text
    assert read_correction(tmp_path).priority is None
