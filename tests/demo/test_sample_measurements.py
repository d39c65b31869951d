"""The sample measurements are those that the demo makes, and read as what they are."""

from pathlib import Path

import numpy as np
import pytest

from greyscale.analysis.analyse import analyse
from greyscale.demo.samples import (
    COMMAND,
    CONDITIONS,
    SAMPLES,
    SOURCE,
    sample_reading,
    write_samples,
)
from greyscale.readings.formats import read

FOLDER = Path(__file__).parents[2] / "sample_measurements"
NAMES = [f"{sample.stem}-{condition.lower()}.txt" for sample in SAMPLES for condition in CONDITIONS]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("samples")
    assert [path.name for path in write_samples(folder)] == NAMES
    return folder


@pytest.mark.parametrize("name", NAMES)
def test_the_committed_file_is_what_the_demo_makes(made, name):
    committed, new = read(FOLDER / name), read(made / name)
    assert np.array_equal(committed.device, new.device), f"the charts have changed: {COMMAND}"
    # Another processor may round the last digit of five otherwise.
    assert committed.spectra == pytest.approx(new.spectra, abs=1.1e-5)
    assert committed.lab == pytest.approx(new.lab, abs=0.01)
    assert committed.fields == new.fields


@pytest.mark.parametrize("sample", SAMPLES)
@pytest.mark.parametrize("condition", CONDITIONS)
def test_a_file_reads_as_the_reading_that_was_made(made, sample, condition):
    reading = sample_reading(sample, condition)
    back = read(made / f"{sample.stem}-{condition.lower()}.txt")
    assert np.array_equal(back.spectra, reading.spectra)
    assert back.device == pytest.approx(reading.device, abs=1e-9)
    assert back.lab == pytest.approx(reading.lab, abs=6e-4)
    for said in ("name", "condition", "backing", "paper", "printer", "created"):
        assert getattr(back, said) == getattr(reading, said)


@pytest.mark.parametrize("name", [path.name for path in sorted(FOLDER.glob("*.txt"))])
def test_every_file_has_a_source_line_and_stands_in_the_readme(name):
    text = (FOLDER / name).read_text(encoding="utf-8")
    (source,) = [line for line in text.splitlines() if line.startswith("SOURCE ")]
    assert SOURCE in source or "ANSI CGATS TR 006-2007" in source
    assert f"`{name}`" in (FOLDER / "README.md").read_text(encoding="utf-8")


def test_the_cast_is_greenish_in_the_shadows_and_its_repeats_are_known():
    found = analyse(read(FOLDER / "cotton-rag-33-m1.txt"))
    hues = {cast.hue for cast in found.neutrality.casts if cast.from_level < 0.45}
    assert "greenish" in hues
    # Six tones, each printed three times.
    assert found.reading.repeatability.measurements >= 16
    assert found.reading.repeatability.sd_Ch == pytest.approx(0.15, rel=0.4)


def test_m1_is_bluer_than_m2_on_brightened_paper_only():
    paper = {name: analyse(read(FOLDER / name)).paper for name in NAMES}
    assert paper["baryta-65-m1.txt"][2] < paper["baryta-65-m2.txt"][2] - 2.5
    assert paper["cotton-rag-33-m1.txt"] == pytest.approx(paper["cotton-rag-33-m2.txt"], abs=0.6)
