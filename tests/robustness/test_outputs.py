"""No output replaces an input, a print log, or what greyscale didn't write; the rest on demand."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import AbstractContextManager
from itertools import combinations
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import typer.main
from support.commands import COMMANDS, QUICK, command
from support.families import family
from support.runner import Runner, snapshot

from greyscale.base.errors import BadInput
from greyscale.base.outputs import guarded, refuse_to_replace
from greyscale.checks.typing_in import typed_reading
from greyscale.cli import app as program
from greyscale.cli.contents import HelpPage
from greyscale.cli.outputs import declared, files_of, writes
from greyscale.readings import iso28178
from greyscale.readings.formats import read
from greyscale.readings.layout import Layout, write_layout

INPUTS = {
    "analyse": "analyse reading-1.txt --aim aim.csv --for-image fog-1.tif",
    "check": "check reading-1.txt --layout layout.txt",
    "compare": "compare 24h-1.txt 24h-2.txt --light lamp.csv --glazing glass.csv",
    "read": "read layout.txt",
    "settings": "settings reading-1.txt 24h-1.txt --layout layout.txt",
    "drying": "drying 1h-1.txt 24h-1.txt --hours 1,24",
    "chart": "chart --after reading-1.txt --through correction-1 --for-image fog-1.tif --dpi 72",
    "correct": "correct reading-1.txt --amend profile.icc --for-image fog-1.tif",
    "verify": "verify proof-1.txt --correction correction-1",
    "apply": "apply correction-1 fog-1.tif --encoding lstar",
    "preview": "preview 24h-1.txt fog-1.tif --correction correction-1 --light lamp.csv",
    "lights": "lights lamp.csv --glazing glass.csv",
    "demo": "demo",
    "export": "log export --db log-1.sqlite3",
    "show": "log show 1 --db log-1.sqlite3",
    "list": "log list --db log-1.sqlite3",
    "status": "log status --db log-1.sqlite3",
    "rescue": "log rescue --db log-1.sqlite3",
    "trend": "log trend --db log-1.sqlite3",
}
"""Each command that writes, with every kind of input that it takes."""


def commands() -> Iterator[Any]:
    """Each command as it declares itself, those of groups too."""
    group = typer.main.get_command(program.app)
    for one in group.commands.values():  # type: ignore[attr-defined]
        yield from getattr(one, "commands", {one.name: one}).values()


def outputs_of(one: Any) -> list[Any]:
    return [parameter for parameter in one.params if writes(parameter)]


def texts_of(one: Any) -> list[Any]:
    """The parameters that may name a file: every one that takes a text or a path."""
    return [
        parameter
        for parameter in one.params
        if not writes(parameter) and parameter.type.name in ("text", "path", "file", "directory")
    ]


def ran(one: Any, **params: object) -> AbstractContextManager[None]:
    """What surrounds the work of a command that is run with these values."""
    values = {parameter.name: None for parameter in one.params} | params
    return declared(SimpleNamespace(command=one, params=values))


@pytest.mark.parametrize("one", commands(), ids=lambda one: one.name)
def test_each_option_that_may_name_a_file_is_guarded_against_each_output(
    one: Any, tmp_path: Path
) -> None:
    """Made from the commands' own declaration, so that an option that comes later is tried too."""
    assert isinstance(one, HelpPage)
    place = tmp_path / "one" / "chart"
    place.parent.mkdir()
    for given in texts_of(one):
        file = tmp_path / "given.txt"
        file.write_text("an input")
        os.link(file, tmp_path / "linked.txt")
        (tmp_path / "symbolic.txt").symlink_to(file)
        value: object = (str(file),) if given.multiple or given.nargs != 1 else str(file)
        with ran(one, **{given.name: value, "replace": True}):
            for name in ("given.txt", "linked.txt", "symbolic.txt"):
                with pytest.raises(BadInput, match="is an input"):
                    refuse_to_replace(tmp_path / name)
        for output in outputs_of(one):
            for target in files_of(one.name, output.opts[0], place):
                target.parent.mkdir(parents=True, exist_ok=True)
                os.link(file, target)
                with (
                    pytest.raises(BadInput, match="is an input"),
                    ran(one, **{given.name: value, output.name: place, "replace": True}),
                ):
                    pass
                target.unlink()
            shutil.rmtree(place, ignore_errors=True)
        for name in ("given.txt", "linked.txt", "symbolic.txt"):
            (tmp_path / name).unlink()


@pytest.mark.parametrize("one", commands(), ids=lambda one: one.name)
def test_two_outputs_of_a_command_are_never_one_file(one: Any, tmp_path: Path) -> None:
    for first, second in combinations(outputs_of(one), 2):
        for target in files_of(one.name, first.opts[0], tmp_path / "chart"):
            # A folder's name is no file's: only where both would write one file do they collide.
            if target not in files_of(one.name, second.opts[0], target):
                continue
            with pytest.raises(BadInput, match="is given for"):  # noqa: SIM117
                with ran(one, **{first.name: tmp_path / "chart", second.name: target}):
                    pass


def test_every_command_that_writes_is_tried() -> None:
    assert {one.name for one in commands() if outputs_of(one)} == set(INPUTS)


PAIRS = [
    (one.name, output.opts[0], read.removesuffix("/"))
    for one in commands()
    for output in outputs_of(one)
    for read in INPUTS.get(one.name, "").split()
    if "." in read or read.startswith("correction-")
]


@pytest.fixture
def folder(work: Path) -> Path:
    (work / "lamp.csv").write_text("".join(f"{nm},{nm / 400}\n" for nm in range(360, 781, 10)))
    (work / "glass.csv").write_text("nm,transmittance\n300,0.1\n380,0.8\n700,0.9\n")
    (work / "aim.csv").write_text("level,L\n0,20\n1,95\n")
    (work / "layout.txt").write_bytes((work / "reading-1.txt").read_bytes())
    (work / "profile.icc").write_bytes(b"no profile")
    return work


@pytest.mark.parametrize("pair", family(PAIRS, PAIRS[::6]))
def test_no_output_replaces_an_input(
    pair: tuple[str, str, str], folder: Path, runner: Runner
) -> None:
    """Nor by another name of it, nor where replacing is allowed."""
    name, option, read = pair
    inside = read if (folder / read).is_file() else f"{read}/correction.json"
    os.link(folder / inside, folder / "another-name")
    before = snapshot(folder)
    for output in (read, inside, "another-name"):
        runner.start(*INPUTS[name].split(), option, output, "--replace", cwd=folder)
        done = runner.wait()
        # A folder may be named after a file's stem, as a chart is: then nothing is in the way.
        assert done.code in (0, 1, 2), done.err
        after = snapshot(folder)
        assert {key: after.get(key) for key in before} == before, (output, done)


@pytest.mark.parametrize("name", family(COMMANDS, QUICK))
def test_what_is_there_is_replaced_only_on_demand(name: str, folder: Path, runner: Runner) -> None:
    words = [word for word in command(name, 1) if word != "--replace"]
    codes = []
    for extra in ([], [], ["--replace"]):
        runner.start(*words, *extra, cwd=folder)
        codes.append(runner.wait())
    if name == "log show":
        # It gives files back as they were; the same once more replaces nothing.
        assert [done.code for done in codes] == [0, 0, 0], [done.err for done in codes]
        return
    assert [done.code for done in codes] == [0, 2, 0], [done.err for done in codes]
    assert "--replace" in codes[1].err


@pytest.mark.parametrize("name", ["json", "apply to TIFF", "preview", "chart", "analyse"])
def test_what_another_program_wrote_is_never_replaced(
    name: str, folder: Path, runner: Runner
) -> None:
    foreign = {
        "json": "result.json", "apply to TIFF": "print.tif", "preview": "seen.png",
        "chart": "page.tif", "analyse": "out/report.html",
    }[name]  # fmt: skip
    (folder / foreign).parent.mkdir(exist_ok=True)
    (folder / foreign).write_text("a photograph, or something else of worth")
    before = snapshot(folder)
    runner.start(*command(name, 1), cwd=folder)
    done = runner.wait()
    assert done.code == 2
    assert "greyscale did not write" in done.err
    assert snapshot(folder) == before


def test_a_link_is_written_through_and_a_device_written_to(folder: Path, runner: Runner) -> None:
    (folder / "linked.json").symlink_to("real.json")
    runner.start("lights", "D50", "--json", "linked.json", cwd=folder)
    assert runner.wait().code == 0
    assert (folder / "linked.json").is_symlink()
    assert '"schema": "greyscale/lights' in (folder / "real.json").read_text()
    runner.start("lights", "D50", "--json", "/dev/null", cwd=folder)
    assert runner.wait().code == 0
    assert not Path("/dev/null").is_file()


FOREIGN = {
    "invoice.pdf": b"%PDF-1.7\n1 0 obj << /Creator (another program) >> endobj\n%%EOF\n",
    "photograph.tif": b"II*\0\x08\0\0\0\0\0\0\0\0\0a greyscale photograph\0",
    "page.html": b"<!doctype html><title>greyscale 0.1.0</title>",
    "letter.txt": b'I wrote: {"schema": "greyscale/lights/1"} and Software\0greyscale',
}


@pytest.mark.parametrize("name", FOREIGN)
def test_a_file_that_only_looks_a_little_like_ours_is_not_replaced(
    name: str, folder: Path, runner: Runner
) -> None:
    (folder / name).write_bytes(FOREIGN[name])
    done = runner.run("lights", "D50", "--json", name, "--replace", cwd=folder)
    assert (done.code, "greyscale did not write" in done.err) == (2, True), done
    stem = name.split(".")[0]
    done = runner.run("chart", "-o", stem, "--tones", 9, "--dpi", 72, "--replace", cwd=folder)
    if name.endswith((".pdf", ".tif", ".txt")):
        assert done.code == 2, done
    assert (folder / name).read_bytes() == FOREIGN[name]


def test_ours_is_replaced_only_by_its_own_kind(folder: Path, runner: Runner) -> None:
    """Not a correction by a list of lights, nor a page, a drawing or a chart."""
    for words in ("analyse reading-1.txt -o out --pdf", "chart -o page --tones 9 --dpi 72",
                  "apply correction-1 fog-1.tif -o print.tif --encoding lstar",
                  "preview 24h-1.txt fog-1.tif -o seen.png --encoding lstar"):  # fmt: skip
        assert runner.run(*words.split(), cwd=folder).code == 0
    before = snapshot(folder)
    mine = "id,level,L,a,b\nA1,1,95,0,0\n"
    (folder / "patches.csv").write_text(mine)
    done = runner.run("analyse", "reading-1.txt", "-o", ".", "--replace", cwd=folder)
    assert (done.code, (folder / "patches.csv").read_text()) == (2, mine), done
    (folder / "patches.csv").unlink()
    for words in ("preview 24h-1.txt fog-1.tif --encoding lstar -o out/figures/drift.png",
                  "apply correction-1 fog-1.tif --encoding lstar -o page.tif",
                  "apply correction-1 fog-1.tif --encoding lstar -o seen.png"):  # fmt: skip
        done = runner.run(*words.split(), "--replace", cwd=folder)
        assert (done.code, "would become" in done.err) == (2, True), done
    for there in ("correction-1/correction.json", "out/report.html", "out/report.pdf",
                  "out/patches.csv", "out/figures/drift.png", "out/figures/drift.svg",
                  "page.tif", "page.pdf", "page.txt", "print.tif"):  # fmt: skip
        words = ("lights", "D50", "--json", there, "--replace")
        done = runner.run(*words, cwd=folder)
        assert done.code == 2, (there, done)
        assert "would become" in done.err, (there, done.err)
    assert snapshot(folder) == before


def test_a_command_that_types_goes_on_with_what_was_typed_and_nothing_else(work: Path) -> None:
    layout = Layout("one", ("1", "2"), ("A1", "A2"), np.array([[0.0] * 3, [1.0] * 3]))
    write_layout(layout, work / "layout.txt")
    values: dict[int, Any] = {0: np.array([16.0, 0.0, 0.0])}
    target = work / "typed.txt"
    with guarded([work / "layout.txt"], replace=False, goes_on=True):
        for index in (0, 1, 0):
            values[index] = np.array([20.0 + index, 0.0, 0.0])
            iso28178.write(typed_reading(layout, values, None, {}), target)
        assert len(read(target)) == 2
        before = snapshot(work)
        for other in ("layout.txt", "reading-1.txt", "correction-1/correction.json"):
            with pytest.raises(BadInput):
                iso28178.write(typed_reading(layout, values, None, {}), work / other)
        with pytest.raises(BadInput, match="would become"):
            iso28178.write(read(work / "reading-1.txt"), target)
    with guarded([], replace=False), pytest.raises(BadInput, match="--replace"):
        iso28178.write(typed_reading(layout, values | {0: values[1]}, None, {}), target)
    assert snapshot(work) == before


ODD = ("circle", "circle/x", "pipe", "/dev/zero", "reading-1.txt/x", "", "²", "-1", "1e308", "nan",
       "9" * 30, "9999-12-31", "\udcff", "=1+1", "a\nb", "x" * 5000)  # fmt: skip


@pytest.mark.parametrize("one", family(sorted(INPUTS), []))
def test_no_odd_value_of_any_option_is_a_fault_of_the_program(
    one: str, folder: Path, runner: Runner
) -> None:
    """For each option that takes a text, from the commands' own declaration."""
    (folder / "circle").symlink_to("circle")
    os.mkfifo(folder / "pipe")
    declaration = next(command for command in commands() if command.name == one)
    faults = []
    for parameter in (*texts_of(declaration), *outputs_of(declaration)):
        if not parameter.opts[0].startswith("-"):
            continue
        for odd in ODD:
            words = [*INPUTS[one].split(), parameter.opts[0], odd]
            done = runner.run(*words, cwd=folder)
            if done.code not in (0, 1, 2) or "Traceback" in done.err:
                faults.append((parameter.opts[0], odd[:20], done.err))
    assert not faults


def test_a_repaired_reading_is_replaced_where_that_is_said(more: Path, runner: Runner) -> None:
    words = "--layout", "chart.txt", "--repaired", "right.txt"
    assert runner.run("check", "mixed-1.txt", *words, cwd=more).code == 1
    first = (more / "right.txt").read_bytes()
    done = runner.run("check", "mixed-2.txt", *words, cwd=more)
    assert (done.code, "is there already" in done.err) == (2, True), done
    assert (more / "right.txt").read_bytes() == first
    assert runner.run("check", "mixed-2.txt", *words, "--replace", cwd=more).code == 1
    assert (more / "right.txt").read_bytes() != first
