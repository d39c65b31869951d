"""What the demo's printer is given and its instrument hands over."""

import numpy as np
import pytest

from greyscale.charts.chart import make_chart, write_chart
from greyscale.demo.printer import demo_printer
from greyscale.demo.workshop import Workshop, as_exported, strip_read_backwards, values_on_sheet


@pytest.fixture(scope="module")
def chart():
    return make_chart("some chart", tones=21, dpi=100, code=False)


@pytest.fixture(scope="module")
def reading(chart):
    layout = chart.layout
    return demo_printer().measure(layout.ids, layout.device, places=layout.places)


def test_the_printer_gets_what_the_tiff_holds(chart, tmp_path):
    write_chart(chart, tmp_path / "some chart")
    values = values_on_sheet(tmp_path / "some chart", chart.layout)
    assert values == pytest.approx(chart.layout.device, abs=0.5 / 65535)


def test_a_chart_of_several_pages_is_printed_whole(tmp_path):
    chart = make_chart("long", tones=120, page="a5", dpi=100, code=False)
    assert len(chart.pages) > 1
    write_chart(chart, tmp_path / "long")
    values = values_on_sheet(tmp_path / "long", chart.layout)
    assert values == pytest.approx(chart.layout.device, abs=0.5 / 65535)


def test_a_strip_read_backwards_has_its_values_reversed_and_nothing_else(reading):
    misread = strip_read_backwards(reading, "B")
    rows = [i for i, place in enumerate(reading.places) if place.startswith("B")]
    others = [i for i in range(len(reading)) if i not in rows]
    assert np.array_equal(misread.spectra[rows], reading.spectra[rows[::-1]])
    assert np.array_equal(misread.spectra[others], reading.spectra[others])
    assert misread.ids == reading.ids
    assert np.array_equal(misread.device, reading.device)


def test_a_strip_that_is_not_there_is_refused(reading):
    with pytest.raises(ValueError, match="no strip Z"):
        strip_read_backwards(reading, "Z")


def test_an_exported_reading_has_few_digits_and_its_own_cielab(reading):
    exported = as_exported(reading)
    assert np.array_equal(exported.spectra, np.round(reading.spectra, 5))
    assert exported.lab == pytest.approx(exported.lab_under("D50"), abs=5.1e-4)


def test_the_reading_of_a_printed_chart_keeps_the_charts_own_values(chart, tmp_path):
    write_chart(chart, tmp_path / "some chart")
    workshop = Workshop(tmp_path, demo_printer())
    reading = workshop.print_and_measure("some chart", name="first", seed=1, hours=24.0)
    assert reading.name == "cotton rag, first"
    assert reading.device == pytest.approx(chart.layout.device, abs=1e-9)
    assert reading.places == chart.layout.places
