"""The job from Python: the ten lines of a README, and that importing costs nothing."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

import greyscale
from greyscale import api

SAMPLES = Path(__file__).parents[2] / "sample_measurements"


def run(code: str) -> str:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_importing_the_package_imports_next_to_nothing_of_it():
    code = (
        "import sys, greyscale; print(greyscale.__version__, "
        "[m for m in sys.modules if m.startswith(('greyscale.', 'numpy', 'scipy', 'colour'))])"
    )
    light = ["greyscale.base", "greyscale.base.results"]
    assert run(code) == f"{greyscale.__version__} {light}"


def test_a_function_imports_what_it_needs_and_no_more():
    path = str(SAMPLES / "cotton-rag-33-m1.txt")
    code = (
        f"import sys, greyscale; greyscale.read({path!r}); "
        "print([m for m in sys.modules if m.startswith(('greyscale.reporting', "
        "'greyscale.correction', 'greyscale.cli', 'jinja2', 'typer'))])"
    )
    assert run(code) == "[]"


def test_to_apply_a_correction_nothing_is_imported_that_solves_one():
    code = (
        "import sys, greyscale.applying.apply; "
        "print([m for m in sys.modules if m.startswith(('greyscale.printer.gaussian_process', "
        "'greyscale.printer.solver', 'matplotlib'))])"
    )
    assert run(code) == "[]"


def test_all_that_is_offered_is_there_and_nothing_else():
    assert set(greyscale.__all__) == set(api.__all__)
    assert set(greyscale.__all__) <= set(dir(greyscale))
    for name in greyscale.__all__:
        assert getattr(greyscale, name) is getattr(api, name)
        assert getattr(api, name).__doc__
    with pytest.raises(AttributeError, match="no attribute 'analyze'"):
        greyscale.analyze  # noqa: B018


def test_the_whole_job_in_a_few_lines(tmp_path):
    reading = greyscale.read(SAMPLES / "cotton-rag-33-m1.txt")
    assert greyscale.check(reading).clean
    analysis = greyscale.analyse(reading, lights=["D50", "A", "LED-B3"])
    assert analysis.neutrality.verdict == "fail"
    assert "greenish" in greyscale.summary(analysis)
    page = greyscale.write_report(analysis, tmp_path / "report", pdf=True)
    assert page.is_file()
    assert page.with_suffix(".pdf").is_file()
    assert greyscale.light("A", glazing="window-glass").name == "A behind window-glass"


def test_m1_and_m2_of_one_chart_are_analysed_together(tmp_path):
    both = [SAMPLES / f"cotton-rag-33-m{n}.txt" for n in (1, 2)]
    joined = greyscale.analyse(both, lights="A").lights[0]
    assert joined.told
    assert joined.low < greyscale.analyse(both[:1], lights="A").lights[0].high
    with pytest.raises(greyscale.BadInput, match="these are 2: analyse each by itself"):
        greyscale.analyse([both[0], SAMPLES / "baryta-65-m1.txt"])
    with pytest.raises(TypeError, match="a reading or its path is wanted, not int"):
        greyscale.analyse([1])
    with pytest.raises(TypeError, match="not NoneType"):
        greyscale.analyse(None)


def test_a_correction_from_a_ramp_is_written_read_and_applied(tmp_path):
    from greyscale.demo.printer import demo_printer

    levels = np.repeat(np.linspace(0, 1, 13), 2)
    device = np.repeat(levels[:, np.newaxis], 3, axis=1)
    reading = demo_printer("baryta").measure([str(i) for i in range(26)], device, name="baryta")
    correction = greyscale.correct(reading, name="Harbour light")
    folder = greyscale.write_correction(correction, tmp_path / "harbour-light")
    assert (folder / "correction-1d.cube").is_file()
    assert (folder / "report.html").is_file()
    assert greyscale.read_correction(folder).name == "Harbour light"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    fog = Image.linear_gradient("L").convert("RGB")
    fog.save(tmp_path / "fog.tif", icc_profile=profile)
    applied = greyscale.apply(folder, tmp_path / "fog.tif", tmp_path / "fog-baryta.tif")
    assert applied.path.is_file()
    seen = greyscale.analyse(reading, lights=(), picture=tmp_path / "fog.tif").picture
    assert seen is not None
    assert seen.mean_delta_Ch > 0
    proof = greyscale.chart(tmp_path / "proof", tones=9, dpi=72, through=folder)
    assert proof.layout.fields["CHART_SETTINGS"].endswith(
        "sent through the correction Harbour light"
    )
    verification = greyscale.verify(reading, folder)
    assert greyscale.write_report(verification, tmp_path / "proof-report").is_file()


def test_what_has_no_report_is_refused(tmp_path):
    with pytest.raises(TypeError, match="no report of int"):
        greyscale.write_report(3, tmp_path)
    with pytest.raises(TypeError, match="no report of list"):
        greyscale.write_report([], tmp_path)


def test_a_mistake_is_one_plain_message(tmp_path):
    with pytest.raises(greyscale.BadInput, match="no such file"):
        greyscale.read(tmp_path / "none.txt")


def test_every_default_is_that_of_the_function_behind_it():
    """The defaults are written out, so that importing the package imports nothing of it."""
    from inspect import Parameter, signature

    from greyscale.analysis import analyse, comparison
    from greyscale.applying.apply import ApplyOptions
    from greyscale.charts.chart import make_chart
    from greyscale.correction import verify
    from greyscale.correction.record import Options

    behind = [
        (greyscale.chart, make_chart),
        (greyscale.analyse, analyse.analyse),
        (greyscale.compare, comparison.ComparisonOptions),
        (greyscale.verify, verify.verify),
        (greyscale.apply, ApplyOptions),
    ]
    for offered, original in behind:
        theirs = {
            name: one.default
            for name, one in signature(original).parameters.items()
            # What is told on the way is for the command alone.
            if one.default is not Parameter.empty and name != "told"
        }
        ours = {name: one.default for name, one in signature(offered).parameters.items()}
        assert {name: ours[name] for name in theirs} == theirs
    # The place that the chart went through is called as the command calls it.
    asked = {"path" if name == "space" else name for name in signature(Options).parameters}
    assert asked <= set(signature(greyscale.correct).parameters)


def test_a_path_serves_where_a_reading_is_wanted_and_a_text_is_one_light():
    path = SAMPLES / "cotton-rag-33-m1.txt"
    by_path = greyscale.analyse(path, lights="A")
    by_reading = greyscale.analyse(greyscale.read(path), lights=["A"])
    assert greyscale.summary(by_path) == greyscale.summary(by_reading)
    assert greyscale.check(str(path)).clean


def test_its_types_are_right_and_a_misspelt_keyword_is_found_by_them():
    """With the example beside this file, which holds a misspelt one."""
    mypy = (sys.executable, "-m", "mypy")
    said = subprocess.run(mypy, capture_output=True, text=True, cwd=SAMPLES.parent).stdout
    assert "Success" in said, said
