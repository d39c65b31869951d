"""Property tests: what a file looks like changes nothing in the reading."""

from dataclasses import dataclass

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.cxf3_files import Patch, cxf3_bytes, specification

from greyscale.readings import iso28178
from greyscale.readings.formats import read
from greyscale.readings.layout import Layout, read_layout, write_layout
from greyscale.readings.reading import Reading

quick = settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@dataclass(frozen=True)
class Measured:
    """What was measured, before it is put in a file."""

    device: np.ndarray
    factors: np.ndarray
    start: int
    step: int
    condition: str | None
    backing: str | None

    @property
    def wavelengths(self):
        return self.start + self.step * np.arange(self.factors.shape[1])

    @property
    def ids(self):
        return [f"p{k}" for k in range(len(self.device))]


@st.composite
def measured(draw):
    """A chart with black, paper, repeats and off-axis patches; any regular grid."""
    count = draw(st.integers(3, 9))
    levels = draw(st.lists(st.integers(0, 255), min_size=count, max_size=count))
    device = np.repeat(np.array([0, 255, *levels])[:, np.newaxis], 3, axis=1)
    device[-1, draw(st.integers(0, 2))] = draw(st.integers(0, 255))
    start, step = draw(st.integers(360, 400)), draw(st.sampled_from([5, 10, 20]))
    bands = (660 - start) // step + draw(st.integers(2, 15))
    seed = draw(st.integers(0, 2**32 - 1))
    noise = np.random.default_rng(seed).uniform(0.9, 1.1, (count + 2, bands))
    factors = np.round((0.02 + 0.85 * device.mean(axis=1, keepdims=True) / 255) * noise, 5)
    return Measured(
        device,
        factors,
        start,
        step,
        draw(st.sampled_from([None, "M0", "M1", "M2", "M3"])),
        draw(st.sampled_from([None, "white", "black", "self"])),
    )


def rows(chart, order, percent, comma):
    factors = chart.factors * (100 if percent else 1)
    made = []
    for k in order:
        numbers = [f"{v:.8g}" for v in (*chart.device[k], *factors[k])]
        made.append([chart.ids[k], *(n.replace(".", ",") if comma else n for n in numbers)])
    return made


def as_iso28178(chart, order, *, percent=False, comma=False, tabs=False, end="\n"):
    space = "\t" if tabs else " "
    fields = ["SAMPLE_ID", "RGB_R", "RGB_G", "RGB_B"]
    fields += [f"SPECTRAL_NM{w}" for w in chart.wavelengths]
    lines = ["CGATS.17"]
    lines += [f"MEASUREMENT_CONDITION {chart.condition}"] if chart.condition else []
    lines += [f"SAMPLE_BACKING {chart.backing}"] if chart.backing else []
    lines += [f"NUMBER_OF_SETS {len(order)}", "BEGIN_DATA_FORMAT", space.join(fields)]
    lines += ["END_DATA_FORMAT", "BEGIN_DATA"]
    lines += [space.join(row) for row in rows(chart, order, percent, comma)]
    return end.join([*lines, "END_DATA", ""]).encode()


def as_csv(chart, order, *, percent=False, comma=False, delimiter=";"):
    unit = " (%)" if percent else ""
    header = ["ID", "R", "G", "B", *(f"{w} nm{unit}" for w in chart.wavelengths)]
    lines = [f"# condition: {chart.condition}"] if chart.condition else []
    lines += [f"# backing: {chart.backing}"] if chart.backing else []
    lines += [delimiter.join(row) for row in (header, *rows(chart, order, percent, comma))]
    return "\n".join(lines).encode()


def as_cxf3(chart, order):
    patches = [
        Patch(chart.ids[k], tuple(map(int, chart.device[k])), spectra={"S": chart.factors[k]})
        for k in order
    ]
    stated = specification(
        "S", chart.condition, backing=chart.backing, start=chart.start, step=chart.step
    )
    return cxf3_bytes(patches, [stated])


def in_order(reading):
    """Give what a reading says of each patch, by id."""
    order = np.argsort(np.array(reading.ids))
    return reading.select(order)


def same(first, second):
    first, second = in_order(first), in_order(second)
    assert first.ids == second.ids
    assert first.condition == second.condition
    assert first.backing == second.backing
    assert first.observer == second.observer
    np.testing.assert_allclose(first.device, second.device, atol=1e-9)
    np.testing.assert_array_equal(first.wavelengths, second.wavelengths)
    np.testing.assert_allclose(first.spectra, second.spectra, atol=1e-9)
    np.testing.assert_allclose(first.lab, second.lab, atol=1e-6)


def read_bytes(tmp_path, content):
    path = tmp_path / "reading"  # no ending: the content tells
    path.write_bytes(content)
    return read(path)


@quick
@given(chart=measured(), data=st.data())
def test_order_units_and_format_change_nothing(tmp_path, chart, data):
    plain = range(len(chart.ids))
    order = data.draw(st.permutations(plain))
    percent, comma, tabs = (data.draw(st.booleans()) for _ in range(3))
    end = data.draw(st.sampled_from(["\n", "\r\n", "\r"]))
    reference = read_bytes(tmp_path, as_iso28178(chart, plain))
    np.testing.assert_allclose(reference.device * 255, chart.device, atol=1e-9)
    np.testing.assert_allclose(reference.spectra, chart.factors, atol=1e-12)
    assert (reference.condition, reference.backing) == (chart.condition, chart.backing)
    delimiter = data.draw(st.sampled_from([";", "\t"] if comma else [",", ";", "\t"]))
    for content in (
        as_iso28178(chart, order, percent=percent, comma=comma, tabs=tabs, end=end),
        as_csv(chart, order, percent=percent, comma=comma, delimiter=delimiter),
        as_cxf3(chart, order),
    ):
        same(read_bytes(tmp_path, content), reference)


# Any text that a person may type as an id or a value: no line ends or other control characters.
words = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=12
)
sentences = st.lists(words, min_size=1, max_size=4).map(" ".join)
names = st.from_regex(r"[A-Z][A-Z_]{0,10}X", fullmatch=True)  # no keyword with a meaning


@quick
@given(
    ids=st.lists(sentences, min_size=3, max_size=8, unique=True),
    texts=st.lists(sentences, min_size=5, max_size=5),
    fields=st.dictionaries(names, sentences, max_size=4),
    bands=st.integers(0, 12),
    observer=st.sampled_from(["2", "10"]),
    created=st.none() | st.datetimes().map(lambda time: time.replace(microsecond=0)),
    seed=st.integers(0, 2**32 - 1),
)
def test_a_reading_round_trips(tmp_path, ids, texts, fields, bands, observer, created, seed):
    random = np.random.default_rng(seed)
    count, spectral = len(ids), bands >= 3
    from greyscale.colorimetry.cielab import spectra_to_lab

    wavelengths = 400.0 + 300 / max(bands - 1, 1) * np.arange(bands)
    wavelengths = np.round(wavelengths, 2)
    spectra = random.uniform(0.001, 1.2, (count, bands))
    lab = random.uniform([0, -20, -20], [100, 20, 20], (count, 3))
    reading = Reading(
        name=texts[0],
        source="x",
        ids=tuple(ids),
        device=random.uniform(0, 1, (count, 3)),
        lab=spectra_to_lab(spectra, wavelengths) if spectral else lab,
        spectra=spectra if spectral else None,
        wavelengths=wavelengths if spectral else None,
        places=tuple(f"A{k + 1}" for k in range(count)),
        condition="M1",
        backing="white",
        observer="2" if spectral else observer,
        instrument=texts[1],
        printer=texts[2],
        paper=texts[3],
        settings=texts[4],
        created=created,
        fields=fields,
    )
    path = tmp_path / "again.txt"
    iso28178.write(reading, path)
    again = read(path)
    for name in ("name", "ids", "places", "condition", "backing", "observer", "instrument",
                 "printer", "paper", "settings", "created", "fields"):  # fmt: skip
        assert getattr(again, name) == getattr(reading, name), name
    np.testing.assert_allclose(again.device, reading.device, rtol=1e-8, atol=1e-12)
    np.testing.assert_allclose(again.lab, reading.lab, rtol=1e-6, atol=1e-6)
    if spectral:
        np.testing.assert_allclose(again.spectra, reading.spectra, rtol=1e-8)
        np.testing.assert_array_equal(again.wavelengths, reading.wavelengths)


@quick
@given(
    ids=st.lists(sentences, min_size=1, max_size=8, unique=True),
    reasons=st.lists(st.just("") | sentences, min_size=8, max_size=8),
    name=sentences,
    fields=st.dictionaries(names, sentences, max_size=4),
    seed=st.integers(0, 2**32 - 1),
)
def test_a_layout_round_trips(tmp_path, ids, reasons, name, fields, seed):
    places = tuple(f"{'ABZ'[k % 3]}{k + 1}" for k in range(len(ids)))
    device = np.random.default_rng(seed).uniform(0, 1, (len(ids), 3))
    layout = Layout(name, tuple(ids), places, device, tuple(reasons[: len(ids)]), fields)
    path = tmp_path / "chart.txt"
    write_layout(layout, path)
    again = read_layout(path)
    for attribute in ("name", "ids", "places", "reasons", "fields"):
        assert getattr(again, attribute) == getattr(layout, attribute), attribute
    np.testing.assert_allclose(again.device, device, rtol=1e-8, atol=1e-12)
