"""Swatches show the measured CIELAB, to the rounding of eight bits."""

import numpy as np
import pytest
from coloraide import Color

from greyscale.reporting.style import swatches

TONES = np.column_stack(
    [np.linspace(6, 93, 60), 3 * np.sin(np.arange(60)), 4 * np.cos(np.arange(60))]
)


def test_each_swatch_is_the_measured_cielab_within_half_a_step():
    """Against coloraide's conversion of the same CIELAB (D50)."""
    for lab, swatch in zip(TONES, swatches(TONES), strict=True):
        expected = 255 * np.array(Color("lab", list(lab)).convert("srgb").coords())
        drawn = 255 * np.array(Color(swatch.colour).coords())
        assert np.all(np.abs(drawn - expected) <= 0.501)
        assert not swatch.clipped


def test_a_tone_the_screen_cannot_show_is_marked():
    assert [s.clipped for s in swatches([[97, 1, -9], [50, 0, 0]])] == [True, False]


def test_a_missing_value_is_refused():
    with pytest.raises(ValueError, match="finite"):
        swatches([[50, np.nan, 0]])
