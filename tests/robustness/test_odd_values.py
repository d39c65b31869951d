"""Values that cannot be, pipes and devices as inputs, odd names: one message each."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from support.runner import Runner

OLD = os.fsdecode(b"caf\xe9")
REFUSED = {
    "hours beyond ten years": ("drying 1h-1.txt 24h-1.txt --hours 1,1e12", "ten years"),
    "hours beyond all numbers": ("drying 1h-1.txt 24h-1.txt --hours 1,1e308", "ten years"),
    "a minus as in print": ("drying 1h-1.txt 24h-1.txt --hours 1,−2", "from 0 up"),
    "a negative seed": ("apply correction-1 fog-1.tif -o x.tif --seed -1", "--seed"),
    "an endless weight": ("compare 24h-1.txt 24h-2.txt --weight D50=inf", "weights of the lights"),
    "a weight beyond sums": ("compare 24h-1.txt 24h-2.txt --weight D50=1e308", "to a million"),
    "no time between": ("drying 1h-1.txt 24h-1.txt --hours 0,1e-308", "the same time"),
    "a circle of links for a demo": ("demo -o circle/x", "leads in a circle"),
    "a circle of links for a page": ("page circle --no-browser", "leads in a circle"),
    "an entry beyond all": ("log show 99999999999999999999 --db log-1.sqlite3", "no entry"),
    "a superscript": ("log add reading-1.txt --db log-1.sqlite3 --correction ²", "no correction"),
    "a pipe as a reading": ("analyse pipe", "a device or a pipe"),
    "a pipe as a picture": ("apply correction-1 pipe -o x.tif", "a device or a pipe"),
    "a pipe as a layout": ("check reading-1.txt --layout pipe", "a device or a pipe"),
    "a pipe as a profile": ("correct reading-1.txt -o c --amend pipe", "a device or a pipe"),
    "an endless profile": ("correct reading-1.txt -o c --amend /dev/zero", "a device or a pipe"),
    "an endless reading": ("analyse /dev/zero", "a device or a pipe"),
    "a folder as a picture": ("apply correction-1 correction-2 -o made/", "(Is a directory)"),
    "a folder for JSON": ("analyse reading-1.txt --json .", "is a folder"),
    "a folder of a name for JSON": ("lights D50 --json correction-1", "is a folder"),
    "a folder for a repaired reading": ("check reading-1.txt --repaired .", "is a folder"),
    "a folder for a reading": ("read reading-1.txt --replace -o .", "is a folder"),
    "a folder for a chart": ("chart -o . --tones 9", "is a folder"),
    "the folder above for a chart": ("chart -o .. --tones 9", "is a folder"),
    "the JSON of no light": ("lights --json x.json", "name the lights"),
    "a correction's curve": ("correct correction-1/curve.csv -o x", "give the reading of a print"),
    "a correction as a folder of papers": ("log gather correction-1 --db x.db", "that it lies in"),
    "a circle of links": ("lights D50 --json circle", "leads in a circle"),
    "a circle of links as a log": (
        "log add reading-1.txt --db circle --correction none", "leads in a circle",
    ),
    "a name in an old encoding": (f"correct reading-1.txt -o c --name {OLD}", "not UTF-8 text"),
    "a printer in an old encoding": (
        f"log add reading-1.txt --db log-1.sqlite3 --printer {OLD}", "not UTF-8 text",
    ),
    "a chart in an old encoding": (f"chart -o {OLD} --tones 9", "not UTF-8 text"),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_it_is_refused_in_one_sentence(what: str, work: Path, runner: Runner) -> None:
    os.mkfifo(work / "pipe")
    (work / "circle").symlink_to("circle")
    there = {path.name for path in work.iterdir()}
    words, message = REFUSED[what]
    done = runner.run(*words.split(), cwd=work)
    assert done.code == 2, done
    assert message in " ".join(done.err.split()), done.err
    assert "Traceback" not in done.err
    assert {path.name for path in work.iterdir()} == there


@pytest.mark.parametrize("name", [f"{OLD}.txt", "a\x1b[31mb\n.txt"])
def test_files_of_any_name_are_kept_in_the_log(name: str, work: Path, runner: Runner) -> None:
    os.rename(work / "24h-1.txt", work / name)
    db = ("--db", "log-1.sqlite3")
    done = runner.run("log", "add", name, *db, "--verbose", cwd=work)
    assert done.code == 0, done
    assert not {"\x1b", "\ufffd"} & {*done.err}
    for words in ("check", "show 2 -o kept", "export -o all"):
        assert runner.run("log", *words.split(), *db, cwd=work).code == 0
    content = (work / name).read_bytes()
    assert [path.read_bytes() for path in (work / "kept").iterdir()] == [content]


def test_what_is_typed_in_an_old_encoding_is_asked_for_again(more: Path, runner: Runner) -> None:
    (more / "typed.bin").write_bytes(b"20 \xb6 0\n20 0 0\nq\n")
    done = runner.run("read", "chart.txt", "-o", "new.txt", "<", "typed.bin", cwd=more)
    assert (done.code, done.err) == (0, "")
    assert "1 of 22 patches are in new.txt" in done.out


def test_a_rescue_tells_of_no_file_but_its_own(work: Path, runner: Runner) -> None:
    order = "log rescue --db log-1.sqlite3 -o new.sqlite3 --verbose"
    done = runner.run(*order.split(), cwd=work)
    assert (done.code, done.err) == (0, "greyscale: wrote new.sqlite3\n")


def test_a_name_with_a_line_break_breaks_no_message(work: Path, runner: Runner) -> None:
    done = runner.run("analyse", "no\nsuch\u2028file.txt", cwd=work)
    assert done.err == "greyscale: no\\nsuch\\u2028file.txt: there is no such file\n"


def test_the_last_day_of_all_is_a_day(work: Path, runner: Runner) -> None:
    done = runner.run("log", "list", "--until", "9999-12-31", "--db", "log-1.sqlite3", cwd=work)
    assert (done.code, "1 entry" in done.out) == (0, True)


def test_nobodys_settings_of_matplotlib_reach_a_figure(
    work: Path, runner: Runner, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file in the working folder could change the curves, or start TeX with its preamble."""
    drawn = []
    for settings in (None, "lines.linewidth: 40\ntext.usetex: True\naxes.grid: True\n"):
        if settings is not None:
            (work / "matplotlibrc").write_text(settings)
        name = f"report-{len(drawn)}"
        assert runner.run("analyse", "reading-1.txt", "-o", name, cwd=work).code == 0
        drawn.append((work / name / "figures" / "drift.png").read_bytes())
    assert drawn[0] == drawn[1]


def test_nobodys_settings_of_opencolorio_reach_the_terminal(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from greyscale.cli import app

    for name in ("OCIO_LOGGING_LEVEL", "MPLBACKEND", "OPENBLAS_NUM_THREADS"):
        monkeypatch.setenv(name, "debug")
    monkeypatch.setattr(app, "app", lambda **_: None)
    app.main()
    assert os.environ["OCIO_LOGGING_LEVEL"] == "none"


def test_a_fault_of_the_program_is_one_sentence_with_a_code_of_its_own(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from greyscale.cli import app

    def fail(**_: object) -> None:
        raise ZeroDivisionError("never foreseen")

    monkeypatch.setattr(app, "app", fail)
    with pytest.raises(SystemExit) as end:
        app.main()
    assert end.value.code == app.UNFORESEEN
    said = capsys.readouterr().err
    assert "a fault of the program itself: ZeroDivisionError: never foreseen" in said
    assert said.count("\n") == 1
