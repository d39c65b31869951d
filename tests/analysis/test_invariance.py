"""The order of patches, units of reflectance and the file's format change nothing found."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.grey_readings import WAVELENGTHS, grey_spectra
from support.reading_files import SPELLINGS, cxf3, delimited, iso28178

from greyscale.analysis.analyse import analyse
from greyscale.readings.formats import read
from greyscale.reporting.json_output import analysis_data

LEVELS = np.append(np.linspace(0, 255, 18).round() / 255, [0, 150 / 255, 1])  # three are repeated
DEVICE = np.concatenate([np.repeat(LEVELS[:, None], 3, axis=1), [[0.5, 0.48, 0.5]]])
RNG = np.random.default_rng(8)
CAST = 1 + 0.05 * np.sin(WAVELENGTHS / 60) * RNG.uniform(0.4, 1, (len(DEVICE), 1))
CAST[[np.argmin(LEVELS), *np.flatnonzero(LEVELS == 1)]] = 1.0  # paper and black are neutral
SPECTRA = (grey_spectra(DEVICE.mean(axis=1)) * CAST).round(7)
IDS = np.array([f"P{i:02d}" for i in range(len(DEVICE))])

WRITERS = {
    "decimal": lambda *c: iso28178(*c),
    "percent": lambda *c: iso28178(*c, percent=True),
    "other spelling": lambda *c: iso28178(*c, percent=True, spelling=SPELLINGS[3], gap=" "),
    "csv": lambda *c: delimited(*c),
    "csv, semicolons": lambda *c: delimited(*c, mark=";"),
    "csv, percent": lambda *c: delimited(*c, percent=True),
    "CxF3": lambda *c: cxf3(*c),
}


def found_in(path, text):
    path.write_text(text, encoding="utf-8")
    data = analysis_data(analyse(read(path), lights=["D50", "A", "LED-B3"]))
    for patch in data["patches"]:
        del patch["id"]  # of repeated patches the first in the file gives its id
    return {key: data[key] for key in ("paper", "black", "patches", "neutrality", "tone", "lights")}


def assert_same(found, expected, path=""):
    if isinstance(expected, dict):
        assert found.keys() == expected.keys(), path
        for key in expected:
            assert_same(found[key], expected[key], f"{path}.{key}")
    elif isinstance(expected, list | tuple) and expected and not np.isscalar(expected[0]):
        assert len(found) == len(expected), path
        for i, (one, other) in enumerate(zip(found, expected, strict=True)):
            assert_same(one, other, f"{path}[{i}]")
    elif isinstance(expected, str) or expected is None:
        assert found == expected, path
    else:
        np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-9, err_msg=path)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("same") / "ramp.dat"


@pytest.fixture(scope="module")
def expected(path):
    return found_in(path, iso28178(IDS, DEVICE, SPECTRA, WAVELENGTHS))


def test_there_is_something_to_be_found(expected):
    assert expected["neutrality"]["casts"]
    assert len(expected["patches"]) == 18


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(order=st.permutations(range(len(DEVICE))), writer=st.sampled_from(sorted(WRITERS)))
def test_order_units_and_format_change_nothing(path, expected, order, writer):
    order = np.array(order)
    text = WRITERS[writer](IDS[order], DEVICE[order], SPECTRA[order], WAVELENGTHS)
    assert_same(found_in(path, text), expected)


@pytest.mark.parametrize("writer", WRITERS)
def test_every_format_is_read_as_such(path, expected, writer):
    assert_same(found_in(path, WRITERS[writer](IDS, DEVICE, SPECTRA, WAVELENGTHS)), expected)
