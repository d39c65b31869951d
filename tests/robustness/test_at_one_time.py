"""Two runs that write to one place at the same time: the result is that of the one or the other."""

from __future__ import annotations

import json
import multiprocessing
from itertools import product
from pathlib import Path

import pytest
from support.commands import command
from support.corrections import correction_with, curve_against
from support.families import family
from support.runner import Runner, snapshot

from greyscale.base.files import write_whole
from greyscale.base.folders import files_together
from greyscale.correction.as_json import correction_text, to_json
from greyscale.correction.folder import whole_folder


@pytest.fixture(scope="module")
def runners(runner):
    with Runner() as other:
        yield runner, other


def both(runners, name: str, work: Path) -> None:
    """Run both forms of a command at the same time; both must end well."""
    for runner, number in zip(runners, (1, 2), strict=True):
        runner.start(*command(name, number), cwd=work)
    for runner in runners:
        done = runner.wait()
        assert done.code == 0, done.err


@pytest.mark.parametrize(
    "name", family(["analyse", "chart", "apply to TIFF", "json"], ["apply to TIFF"])
)
def test_the_files_are_all_of_one_run(name, runners, work) -> None:
    alone = []
    for number in (1, 2):
        assert runners[0].run(*command(name, number), cwd=work).code == 0
        alone.append({k: v for k, v in snapshot(work).items() if not k.endswith(("-wal", "-shm"))})
    assert alone[0] != alone[1]
    for _ in range(2):
        both(runners, name, work)
        assert snapshot(work) in alone


@pytest.mark.exhaustive
def test_corrections_by_whole_commands(runners, work) -> None:
    for _ in range(2):
        both(runners, "correct", work)
        made = snapshot(work / "made")
        name = json.loads(made["correction.json"])["name"].encode()
        assert name in (b"reading-1", b"reading-2")
        assert all(name in made[path] for path in ("correction-1d.cube", "correction.clf"))
        assert not list(work.glob(".*"))


def _write_corrections(folder: Path, number: int, rounds: int, begin) -> None:
    data = correction_text(to_json(correction_with(curve_against(points=33), name=f"c{number}")))
    begin.wait()
    for k in range(rounds):
        with whole_folder(folder) as fresh:
            (fresh / "correction.json").write_text(data, encoding="utf-8")
            for name in ("curve.csv", "correction-1d.cube", "correction.clf"):
                (fresh / name).write_text(f"c{number} {k}", encoding="utf-8")


def _write_reports(folder: Path, number: int, rounds: int, begin) -> None:
    begin.wait()
    for k in range(rounds):
        with files_together(folder) as fresh:
            for name in ("a.txt", "figures/b.txt", "figures/c.txt", "z.txt"):
                write_whole(fresh / name, f"{number} {k}")


def _write_files(folder: Path, number: int, rounds: int, begin) -> None:
    begin.wait()
    for k in range(rounds):
        write_whole(folder / "one.txt", f"{number} {k} " * 5000)


def crowd(work, folder: Path, writers: int, rounds: int) -> None:
    context = multiprocessing.get_context("fork")
    begin = context.Barrier(writers)
    processes = [
        context.Process(target=work, args=(folder, n, rounds, begin)) for n in range(writers)
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join(120)
    assert [process.exitcode for process in processes] == [0] * writers


def test_four_processes_replace_a_correction_over_and_over(tmp_path) -> None:
    folder = tmp_path / "made"
    crowd(_write_corrections, folder, 4, 25)
    (folder / "mine.txt").write_text("kept", encoding="utf-8")
    crowd(_write_corrections, folder, 4, 25)
    files = snapshot(folder)
    assert files.pop("mine.txt") == b"kept"
    name = json.loads(files.pop("correction.json"))["name"]
    assert len(set(files.values())) == 1
    assert next(iter(files.values())).decode().startswith(f"{name} ")
    assert [path.name for path in tmp_path.iterdir()] == ["made"]


def test_four_processes_write_reports_into_one_folder(tmp_path) -> None:
    crowd(_write_reports, tmp_path / "out", 4, 40)
    files = snapshot(tmp_path / "out")
    assert set(files) == {"a.txt", "figures/b.txt", "figures/c.txt", "z.txt"}
    assert len(set(files.values())) == 1


def test_four_processes_write_one_file(tmp_path) -> None:
    crowd(_write_files, tmp_path, 4, 100)
    (path,) = tmp_path.iterdir()
    words = path.read_text(encoding="utf-8").split()
    assert words == words[:2] * 5000


@pytest.mark.parametrize("killed", list(product(["report", "correction"], [True, False])), ids=str)
def test_what_the_dead_left_goes_and_what_the_living_make_stays(killed, tmp_path) -> None:
    kind, dead = killed
    folder = tmp_path / "made"
    place = folder if kind == "report" else tmp_path

    def write(begin) -> None:
        make = files_together if kind == "report" else whole_folder
        with make(folder) as fresh:
            (fresh / "half.txt").write_text("half", encoding="utf-8")
            begin.wait()
            begin.wait()

    context = multiprocessing.get_context("fork")
    begin = context.Barrier(2)
    process = context.Process(target=write, args=(begin,))
    process.start()
    begin.wait()
    if dead:
        process.kill()
        process.join()
    assert len(list(place.glob(".greyscale-new-*"))) == 1
    text = correction_text(to_json(correction_with(curve_against(points=33))))
    with (files_together if kind == "report" else whole_folder)(folder) as fresh:
        (fresh / "correction.json").write_text(text, encoding="utf-8")
    assert len(list(place.glob(".greyscale-new-*"))) == (0 if dead else 1)
    assert (folder / "correction.json").is_file()
    if not dead:
        process.kill()
        process.join()
