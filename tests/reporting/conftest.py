"""Readings and analyses that the tests of reports share."""

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from greyscale.analysis.analyse import Analysis, analyse
from greyscale.colorimetry.lights import Light, light
from greyscale.demo.printers import demo_printer
from greyscale.readings.reading import Reading

HOSTILE = (
    "</script></title><script>document.title='owned'</script>"
    "<img src='http://example.test/x.png' onerror=\"document.title='owned'\">"
    '$\\frac{x}$ "quoted" & {{ 7 * 7 }}'
)
"""Markup, an event handler, TeX and template syntax: all of it must be shown as it stands."""


def reading_of(tones: int = 33, **changes: object) -> Reading:
    """A ramp with some repeats, printed and read by the simulated printer."""
    levels = np.linspace(1, 0, tones)
    levels = np.concatenate([levels, levels[::8]])
    reading = demo_printer("cotton rag").measure(
        [f"T{i + 1}" for i in range(levels.size)],
        np.repeat(levels[:, np.newaxis], 3, axis=1),
        name="cotton rag, harbour wall",
        seed=7,
        created=datetime(2025, 3, 4, 10, 30),
    )
    return replace(reading, **changes)


@pytest.fixture(scope="session")
def make_reading():
    return reading_of


@pytest.fixture(scope="session")
def analysis() -> Analysis:
    return analyse(reading_of())


@pytest.fixture(scope="session")
def without_spectra() -> Analysis:
    return analyse(reading_of(spectra=None, wavelengths=None))


@pytest.fixture(scope="session")
def many_lights() -> Analysis:
    lights = ("D50", "A", "F11", "F2", "D65", "LED-B1", "LED-B3", "LED-V2")
    return analyse(reading_of(), lights=lights)


@pytest.fixture(scope="session")
def three_tones() -> Analysis:
    """Paper, one grey, black: the least that is a ramp."""
    return analyse(reading_of(3))


@pytest.fixture(scope="session")
def hostile_analysis() -> Analysis:
    """Every text that a file or an option can bring in is hostile."""
    a = light("A")
    lamp = Light(HOSTILE, a.power, a.wavelengths, a.measured)
    reading = reading_of(
        name=HOSTILE,
        source=HOSTILE,
        condition=HOSTILE,
        backing=HOSTILE,
        instrument=HOSTILE,
        printer=HOSTILE,
        paper=HOSTILE,
        settings=HOSTILE,
        remarks=(HOSTILE, HOSTILE),
    )
    reading = replace(reading, ids=tuple(f"{HOSTILE}{i}" for i in range(len(reading))))
    return analyse(reading, lights=("D50", lamp))
