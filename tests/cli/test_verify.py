"""`greyscale verify` as a person runs it, on the demo's printer."""

from __future__ import annotations

import json
from functools import partial

import pytest
from support.corrections import measure_chart as measure
from support.invoked import invoke

from greyscale.base.errors import BadInput

run = partial(invoke, code=0)


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """A correction, a print made through it, and one made without."""
    folder = tmp_path_factory.mktemp("job")
    run("chart", "-o", folder / "start", "--near-neutral", "--dpi", 72)
    run("correct", measure(folder / "start.txt", folder / "start-reading.txt"), "-o", folder / "c")
    run("chart", "-o", folder / "proof", "--through", folder / "c", "--dpi", 72)
    measure(folder / "proof.txt", folder / "proof-reading.txt", through=folder / "c", seed=2)
    measure(folder / "proof.txt", folder / "without.txt", seed=3)
    return folder


def test_all_three_side_by_side_if_asked_for_then_the_verdict_and_what_to_do(job):
    words = ("verify", job / "proof-reading.txt", "--correction", job / "c")
    assert "Side by side" not in run(*words).stdout
    text = run(*words, "--verbose").stdout
    plain = " ".join(text.split())
    assert "The correction worked: mean ΔCh" in plain
    assert "It is within the exhibition tolerance" in plain
    assert "Another round is" in plain
    assert plain.index("Side by side figure before promised") < plain.index("The correction worked")
    assert text.splitlines()[-1] == f"  greyscale apply {job / 'c'} PICTURE.tif -o PRINT.tif"


def test_json_on_standard_output_is_all_there_is(job):
    result = run("verify", job / "proof-reading.txt", "--correction", job / "c", "--json", "-")
    data = json.loads(result.stdout)
    assert data["schema"] == "greyscale/verification/1"
    assert (
        data["after"]["neutrality"]["mean_delta_Ch"] < data["before"]["neutrality"]["mean_delta_Ch"]
    )
    assert data["prediction_error"]["mean_delta_E00"] < 0.5


def test_a_report_is_written_and_the_corrections_own_is_kept(job, tmp_path):
    own = (job / "c" / "report.html").read_bytes()
    result = run(
        "verify", job / "proof-reading.txt", "--correction", job / "c", "-o", tmp_path / "proof"
    )
    assert (tmp_path / "proof" / "report.html").is_file()
    assert str(tmp_path / "proof" / "report.html") in result.stdout.replace("\n", "")
    with pytest.raises(BadInput, match="this is an input"):
        run("verify", job / "proof-reading.txt", "--correction", job / "c", "-o", job / "c")
    with pytest.raises(BadInput, match="this is an input"):
        run(
            "verify", job / "proof-reading.txt", "--correction", job / "c",
            "--json", job / "c" / "correction.json",
        )  # fmt: skip
    assert (job / "c" / "report.html").read_bytes() == own


def test_a_print_made_without_the_correction_is_noticed_and_fails(job):
    result = run("verify", job / "without.txt", "--correction", job / "c")
    plain = " ".join(result.stdout.split())
    assert "was the chart sent through the correction?" in plain
    run("verify", job / "without.txt", "--correction", job / "c", "--strict", code=1)


def test_a_reading_that_does_not_belong_is_refused(job, tmp_path):
    other = measure(job / "proof.txt", tmp_path / "m2.txt", through=job / "c", condition="M2")
    with pytest.raises(BadInput, match="condition is 'M2'"):
        run("verify", other, "--correction", job / "c")
    with pytest.raises(BadInput, match="no correction here"):
        run("verify", job / "without.txt", "--correction", tmp_path)
    with pytest.raises(BadInput, match="tolerance 'strict'"):
        run("verify", job / "without.txt", "--correction", job / "c", "--tolerance", "strict")
