"""`greyscale compare` and `greyscale lights` as a person runs them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from support.invoked import invoke, refused
from support.misreading import chart_layout, strips_of
from support.runner import Done, Runner

from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write


@pytest.fixture
def run(runner: Runner, tmp_path: Path) -> Callable[..., Done]:
    return lambda *arguments: runner.run(*arguments, cwd=tmp_path)


@pytest.fixture(scope="module")
def readings(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("papers")
    device = np.repeat(np.repeat(np.linspace(0, 1, 13), 2)[:, None], 3, axis=1)
    paths = []
    for paper in ("cotton rag", "baryta"):
        for condition in ("M1", "M2"):
            path = folder / f"{paper.replace(' ', '-')}-{condition.lower()}.txt"
            ids = [str(i) for i in range(len(device))]
            one = demo_printer(paper).measure(
                ids, device, name=f"{paper}, {condition}", condition=condition
            )
            write(one, path)
            paths.append(path)
    return paths


def test_of_many_papers_the_terminal_shows_the_best(
    run: Callable[..., Done], tmp_path: Path
) -> None:
    device = np.repeat(np.linspace(0, 1, 7)[:, None], 3, axis=1)
    one = demo_printer().measure([str(i) for i in range(7)], device, condition="M2")
    assert one.spectra is not None
    for i in range(45):
        tint = 1 + 0.002 * i * np.linspace(-1, 1, one.spectra.shape[1])
        name = f"paper {i}"
        write(replace(one, name=name, spectra=one.spectra * tint), tmp_path / f"{i:02}.txt")
    paths = sorted(tmp_path.glob("*.txt"))
    done, every = run("compare", *paths), run("compare", *paths, "--verbose")
    assert done.code == every.code == 0, done.err
    assert "the first 40 of 45, all with --verbose or -o DIR" in " ".join(done.out.split())
    ranked = [re.findall(r"^(paper \d+) +\d+=? ", one.out, re.MULTILINE) for one in (done, every)]
    assert len(ranked[1]) == len(set(ranked[1])) == 45
    assert ranked[0] == ranked[1][:40]
    assert "paper 1, paper 2 and 42 more): prints are compared as printed" in done.out.replace(
        "\n", " "
    )


def test_compare_writes_a_report_with_a_switch_for_the_light(
    run: Callable[..., Done], readings: list[Path], tmp_path: Path
) -> None:
    done = run("compare", *readings, "--light", "D50", "--light", "LED-B3", "-o", tmp_path / "out")
    assert done.code == 0, done.err
    assert "most neutral under these lights" in " ".join(done.out.split())
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert page.count('type="radio"') == 2
    assert page.count("<script") == 1
    assert "not conservation advice" in page
    figures = {path.name for path in (tmp_path / "out" / "figures").iterdir()}
    assert {"papers-by-lights.png", "drift.svg", "strips-2.png"} <= figures
    data = json.loads((tmp_path / "out" / "comparison.json").read_text(encoding="utf-8"))
    assert data["schema"] == "greyscale/comparison/1"
    facts = "order of the patches and single values: nothing found"
    assert f"<dt>Checks</dt>\n<dd>{facts}</dd>" in page


def test_one_paper_misread_is_refused_unless_told_otherwise(tmp_path: Path) -> None:
    layout = chart_layout()
    strip = strips_of(layout)[2]
    backwards = np.arange(len(layout.ids))
    backwards[strip] = strip[::-1]
    paths = []
    for paper in ("cotton rag", "baryta"):
        one = demo_printer(paper).measure(
            layout.ids, layout.device, places=layout.places, name=paper
        )
        if paper == "baryta":
            one = replace(one, spectra=one.spectra[backwards], lab=one.lab[backwards])
        paths.append(tmp_path / f"{paper.replace(' ', '-')}.txt")
        write(one, paths[-1])
    words = ("compare", *paths, "--light", "A", "-o", tmp_path / "out")
    assert "baryta.txt: certainly misread: strip read backwards" in refused(*words)
    assert not (tmp_path / "out").exists()
    invoke(*words, "--unchecked", code=0)
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "<dt>Checks</dt>\n<dd>not made (--unchecked)</dd>" in page


def test_json_on_standard_output_is_nothing_but_json(
    run: Callable[..., Done], readings: list[Path]
) -> None:
    lights = [word for light in ("A", "D65", "A") for word in ("--light", light)]
    done = run("compare", *readings, *lights, "--json", "-")
    data = json.loads(done.out)
    assert data["lights"] == ["A", "D65"]
    first = data["papers"][0]
    assert {"name", "rank", "score", "by_light", "dmax", "L_range", "brightener"} <= set(first)
    under = first["by_light"]["A"]
    assert {"mean_delta_Ch", "max_delta_Ch", "paper_a", "paper_b", "max_metamerism_index"} <= set(
        under
    )
    baryta = next(paper for paper in data["papers"] if paper["name"] == "baryta")
    assert baryta["brightener"] < -2


def test_weights_change_the_score_of_the_lights(
    run: Callable[..., Done], readings: list[Path]
) -> None:
    lights = ("--light", "A", "--light", "D65", "--json", "-")
    plain = json.loads(run("compare", *readings, *lights).out)
    only_a = json.loads(run("compare", *readings, *lights, "--weight", "D65=0").out)
    for paper in only_a["papers"]:
        assert paper["score"] == pytest.approx(paper["by_light"]["A"]["mean_delta_Ch"])
    assert plain["papers"][0]["score"] != only_a["papers"][0]["score"]


def test_a_lamps_weight_is_given_by_its_file_or_as_the_results_call_it(
    run: Callable[..., Done], readings: list[Path], tmp_path: Path
) -> None:
    (tmp_path / "hall.csv").write_text("\n".join(f"{w},{w - 300}" for w in range(380, 781, 5)))
    lights = ("--light", "A", "--light", "hall.csv", "--json", "-")
    scores = [
        json.loads(run("compare", *readings, *lights, "--weight", f"{name}=3").out)["papers"]
        for name in ("hall", "hall.csv")
    ]
    assert scores[0] == scores[1]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--light", "LED-B9"], "LED-B"),
        (["--weight", "D65"], "write it as A=2"),
        (["--weight", "D65=2"], "not among the lights"),
        (["--glazing", "windo-glass"], "window-glass"),
        (["--viewer", "wall"], "viewer"),
    ],
)
def test_bad_options_end_with_one_message(
    run: Callable[..., Done],
    readings: list[Path],
    arguments: list[str],
    message: str,
    tmp_path: Path,
) -> None:
    done = run("compare", *readings, *arguments, "-o", tmp_path / "out")
    assert done.code == 2
    assert message in done.err
    assert "Traceback" not in done.err
    assert not (tmp_path / "out").exists()


def test_one_paper_is_no_comparison(run: Callable[..., Done], readings: list[Path]) -> None:
    done = run("compare", *readings[:2])
    assert done.code == 2
    assert "at least two papers" in done.err


def test_lights_lists_and_describes(run: Callable[..., Done], tmp_path: Path) -> None:
    assert "LED-B3" in run("lights").out
    done = run("lights", "F11", "blackbody-2700K", "-o", tmp_path)
    # CIE 15:2018 (memory): F11 has 4000 K, given to 10 K.
    assert round(float(re.search(r"^F11 +(\d+) ", done.out, re.M)[1]), -1) == 4000
    assert re.search(r"^blackbody-2700K +2700 ", done.out, re.M)
    assert (tmp_path / "lights.png").exists()
    data = json.loads(run("lights", "D65", "--json", "-").out)
    assert data["lights"][0]["colour_rendering_index"] == pytest.approx(100, abs=0.1)
    bad = run("lights", "D6500")
    assert bad.code == 2
    assert "D65" in bad.err
