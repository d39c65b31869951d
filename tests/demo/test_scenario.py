"""The demo does the whole job as one command, and every command that it names can be typed."""

import re
import shlex
from pathlib import Path

import numpy as np
import pytest
import typer

import greyscale
from greyscale.analysis.drying import drying
from greyscale.base.errors import BadInput
from greyscale.cli.app import app
from greyscale.cli.demo import demo
from greyscale.correction.folder import read_correction
from greyscale.demo import scenario
from greyscale.demo.materials import PAPERS
from greyscale.demo.printer import demo_printer
from greyscale.demo.scenario import (
    BEFORE_AFTER,
    CORRECTED,
    FIRST_READING,
    FOLLOW_UP_READING,
    MISREAD_STRIP,
    PAPER,
    PICTURE,
    STEPS,
    run,
)
from greyscale.demo.workshop import READING
from greyscale.readings.formats import read
from greyscale.reporting.next_step import after_analysis

# One worker for all tests of one run: the demo is run once.
pytestmark = pytest.mark.xdist_group("demo")

REPOSITORY = Path(__file__).parents[2]


def cast(lab):
    """Give ΔCh beside the fading aim (ISO 12647-2:2013, 4.2.8; memory) of a rising ramp."""
    paper, black = lab[-1], lab[0]
    fading = 1 - 0.85 * (paper[0] - lab[:, 0]) / (paper[0] - black[0])
    return np.hypot(*(lab[:, 1:] - paper[1:] * fading[:, None]).T)


def test_it_tells_every_step_in_order_and_where_the_report_lies(job):
    places = [job.text.index(f"\n{n}  {step.title}") for n, step in enumerate(STEPS, start=1)]
    assert places == sorted(places)
    assert "lighthouses and harbours" in job.text
    assert job.text.rstrip().endswith(str(Path("made") / "analysis" / "report.html"))


def test_it_writes_every_file_that_it_names(job):
    assert len(job.files) > 30
    for name in job.files:
        assert (job.folder / name).stat().st_size > 0, name


def test_every_command_that_it_names_can_be_typed_in_its_folder(job):
    """Its words are parsed and its files are there; the like are run as README has them."""
    group = typer.main.get_command(app)
    assert len(job.commands) >= 14
    for program, name, *arguments in job.commands:
        assert program == "greyscale"
        group.commands[name].make_context(name, list(arguments))
        for given in arguments:
            if Path(given).suffix in (".txt", ".tif", ".csv"):
                assert (job.folder / given).is_file(), f"{name} {given}"


def test_every_report_says_what_to_do_next_as_one_types_it_in_that_folder(job):
    reports = [name for name in job.files if name.endswith("report.html")]
    assert len(reports) >= 7
    for name in reports:
        page = (job.folder / name).read_text(encoding="utf-8")
        (step,) = re.findall(r'<p class="next">(.*?)</p>', page, re.DOTALL)
        typed = re.sub(r"<[^>]*>", "", step)
        assert "greyscale " in typed, name
        for file in re.findall(r"[\w/-]+\.txt", typed):
            assert (job.folder / file).is_file(), f"{name}: {file}"


def test_the_drying_time_found_is_the_papers_own(job):
    names = [scenario.reading_at(hours) for hours in scenario.HOURS]
    found = drying([read(job.folder / name) for name in names])
    low, _, high = found.time_constants[0]
    assert found.terms == 1
    assert low < PAPERS[PAPER].drying_hours < high


def test_the_misread_strip_is_named_and_put_right(job):
    assert f"read backwards, strip {MISREAD_STRIP}" in job.text
    true = demo_printer().lab(read(job.folder / READING).device)
    as_taken = np.abs(read(job.folder / FIRST_READING).lab - true).max(axis=1)
    repaired = np.abs(read(job.folder / READING).lab - true).max(axis=1)
    assert as_taken.max() > 10
    # The largest of 3 x 147 draws of noise of sd 0.15.
    assert repaired.max() < 0.75


def test_the_follow_up_agrees_with_the_first_reading_where_they_share_tones(job):
    first, second = (read(job.folder / name) for name in (READING, FOLLOW_UP_READING))
    for level in (0.0, 1.0):
        lab = [one.lab[one.on_axis & (abs(one.level - level) < 1e-6)] for one in (first, second)]
        assert lab[0].mean(axis=0) == pytest.approx(lab[1].mean(axis=0), abs=0.6)


def test_the_correction_makes_the_print_itself_neutral(job):
    # Without noise, which only a simulated printer can show: mean ΔCh 0.2, |ΔL*| 0.8 in one round.
    levels = np.linspace(0.0, 1.0, 256)
    ramp = np.repeat(levels[:, None], 3, axis=1)
    tones = (levels >= 0.03) & (levels < 1)
    uncorrected = cast(demo_printer().lab(ramp))[tones]
    for folder in (scenario.FIRST, scenario.SECOND):
        curve = read_correction(job.folder / folder).curve
        lab = demo_printer().lab(curve.apply(ramp))
        off = np.abs(lab[:, 0] - (lab[0, 0] + (lab[-1, 0] - lab[0, 0]) * levels))[tones]
        assert cast(lab)[tones].mean() < 0.2 < uncorrected.mean() / 5
        assert off.max() < 0.8


def test_no_patch_of_its_charts_is_called_spoilt(job):
    for folder in (scenario.FIRST, scenario.SECOND):
        assert read_correction(job.folder / folder).spoilt == ()


def test_a_sheet_says_itself_which_round_it_was_sent_through(job):
    """No layout is given: a proof of another round proves nothing, as evidence it is refused."""
    proof = job.folder / "proof-2-reading.txt"
    found = greyscale.verify(proof, job.folder / scenario.FIRST)
    assert "through the correction 'Harbour light, round 2'" in found.accidents[0]
    for readings in ([job.folder / READING, proof], [proof]):
        with pytest.raises(BadInput, match="own code says that it was sent through a correction"):
            greyscale.correct(readings)
    # As it was printed it is proved, and then it is no news that it is a proof.
    (command,) = after_analysis([greyscale.analyse(proof)]).commands
    assert command == shlex.join(["greyscale", "verify", str(proof), "--correction", "CORRECTION"])
    proved = greyscale.verify(proof, job.folder / scenario.SECOND)
    assert proved.accidents == ()
    assert not any("proof" in remark.lower() for remark in proved.after.remarks)


def test_the_photograph_goes_through_the_correction(job):
    import tifffile

    picture, corrected = (tifffile.imread(job.folder / name) for name in (PICTURE, CORRECTED))
    levels = picture.astype(float) / 65535
    curve = read_correction(job.folder / scenario.FIRST).curve
    expected = curve.apply(np.repeat(levels[..., None], 3, axis=-1))
    assert np.abs(corrected / 65535 - expected).max() < 1 / 4000
    assert (job.folder / BEFORE_AFTER).read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_the_toned_variant_is_warm_where_the_neutral_one_is_not(job):
    middle = np.full((1, 3), 0.5)
    neutral, toned = (
        demo_printer().lab(read_correction(job.folder / name).curve.apply(middle))[0]
        for name in (scenario.FIRST, scenario.TONED)
    )
    assert toned[2] > neutral[2] + 4
    assert toned[0] == pytest.approx(neutral[0], abs=0.6)


def test_two_runs_write_the_same_readings(job, tmp_path):
    run(tmp_path, steps=STEPS[:3])
    for path in tmp_path.glob("*.txt"):
        assert path.read_bytes() == (job.folder / path.name).read_bytes()


def test_a_folder_that_cannot_be_is_one_clear_message(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(BadInput, match="cannot be written"):
        run(tmp_path / "file" / "demo")


def test_a_demo_that_ends_early_leaves_nothing_behind(tmp_path, monkeypatch):
    def ends(folder, **_):
        (folder / "chart.txt").write_text("half a demo")
        raise BadInput("asked to end")

    monkeypatch.setattr(scenario, "run", ends)
    with pytest.raises(BadInput, match="asked to end"):
        demo(tmp_path / "made")
    assert not list(tmp_path.iterdir())


def test_nothing_of_the_demo_reads_the_repository():
    for path in (REPOSITORY / "greyscale" / "demo").rglob("*.py"):
        assert "__file__" not in path.read_text(encoding="utf-8")
