"""The help: a table of contents in the order of the work, and for each command an example."""

from __future__ import annotations

import inspect
import re
import shlex
import shutil
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms
from support.invoked import invoke

from greyscale.base.errors import BadInput
from greyscale.cli import app as program
from greyscale.cli import log
from greyscale.cli.contents import EXAMPLE, PARTS
from greyscale.cli.log import NAMES
from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write
from greyscale.readings.layout import read_layout

LOG = [f"log {name}" for name in NAMES]
COMMANDS = [name for _, names in PARTS for name in names if name != "log"] + LOG
WIDTH = 80


run = partial(invoke, COLUMNS=str(WIDTH))


def example(command: str) -> str:
    """The example in a command's help, as it can be copied from there."""
    lines = run(*command.split(), "--help").stdout.splitlines()
    (at,) = [i for i, line in enumerate(lines) if line == EXAMPLE.strip()]
    return lines[at + 1].strip()


def test_the_commands_stand_in_the_order_of_the_work():
    text = run("--help").stdout
    text = text[text.index("To begin:") :]
    places = [text.index(f"\n  {name} ") for _, names in PARTS for name in names]
    assert places == sorted(places)
    assert text.index("Keep the record:") < text.index("Options:")


def test_the_contents_hold_every_command_there_is():
    folder = Path(program.__file__).parent
    offered = {name for _, names in PARTS for name in names}
    # A command's module says how it is called, which shared options and words don't.
    modules = {
        path.stem for path in folder.glob("*.py") if path.read_text().startswith('"""`greyscale ')
    }
    assert modules == offered
    functions = {
        name.rstrip("_")
        for name, one in vars(log).items()
        if inspect.isfunction(one) and EXAMPLE in (one.__doc__ or "")
    }
    assert functions == set(NAMES)


@pytest.mark.parametrize("command", ["", "log", *COMMANDS])
def test_the_help_fits_80_columns_and_is_cut_nowhere(command):
    text = run(*command.split(), "--help").stdout
    assert max(map(len, text.splitlines())) <= WIDTH
    assert not re.search(r"\w\.\.\.$", text, re.MULTILINE)
    assert "list[" not in text


@pytest.mark.parametrize("command", COMMANDS)
def test_every_argument_and_option_is_explained(command):
    text = run(*command.split(), "--help").stdout
    for line in text[text.index("Options:") :].splitlines()[1:]:
        if line.startswith("  -"):
            option, _, explained = line.strip().partition("  ")
            assert explained or option, line
    assert "--quiet" in text
    assert "--verbose" in text


@pytest.mark.parametrize("command", [[], ["log", "list"]])
def test_help_is_there_at_once(command):
    """Nothing heavy is imported: NumPy alone would take longer than all of it."""
    code = (
        f"import sys; sys.argv = {['greyscale', *command, '--help']}\n"
        "from greyscale.cli.app import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'scipy', 'colour', 'matplotlib', 'rich', 'sqlite3'}\n"
        "print(sorted(heavy & sys.modules.keys()))"
    )
    begun = time.monotonic()
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert time.monotonic() - begun < 5
    assert done.stdout.splitlines()[-1] == "[]"


def measure(paper: str, levels: np.ndarray, target: Path, **changes) -> None:
    levels = np.concatenate([levels, levels[::5]])
    device = np.repeat(levels[:, np.newaxis], 3, axis=1)
    ids = [str(i + 1) for i in range(levels.size)]
    name = changes.pop("name", target.stem.replace("-", " "))
    write(demo_printer(paper).measure(ids, device, name=name, **changes), target)


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    """A folder with all that the examples speak of."""
    folder = tmp_path_factory.mktemp("work shop, Möwe")
    ramp = np.linspace(0, 1, 17)
    run("chart", "-o", str(folder / "cotton-rag-start"), "--tones", "17", "--dpi", "72")
    layout = read_layout(folder / "cotton-rag-start.txt")
    printer = demo_printer("cotton rag")
    started = printer.measure(
        layout.ids, layout.device, places=layout.places, name="cotton rag, start", seed=1
    )
    write(started, folder / "cotton-rag.txt")
    measure("baryta", ramp, folder / "baryta.txt")
    for number in (1, 2):
        measure("cotton rag", ramp, folder / f"matt-{number}.txt", seed=number)
    for hours, name in ((0.2, "fresh"), (6, "evening"), (24, "next-day")):
        measure("cotton rag", ramp, folder / f"{name}.txt", hours=hours)
    fog = Image.linear_gradient("L").resize((64, 48)).convert("RGB")
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    fog.save(folder / "fog.tif", icc_profile=profile)
    run("correct", str(folder / "cotton-rag.txt"), "-o", str(folder / "harbour-light"), "-q")
    measure("cotton rag", ramp, folder / "proof-reading.txt", seed=3)
    return folder


@pytest.mark.parametrize("command", [one for one in COMMANDS if one not in ("demo", "page")])
def test_the_example_runs_as_it_stands(command, workshop, tmp_path, monkeypatch):
    """Those of the demo and of the page are run by the tests of their rooms."""
    folder = tmp_path / "work shop, Möwe"
    shutil.copytree(workshop, folder)
    monkeypatch.chdir(folder)
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    line = example(command)
    program_name, *arguments = shlex.split(line)
    assert program_name == "greyscale"
    assert line.startswith(f"greyscale {command} ")
    if command.startswith("log"):
        fill_log(folder)
    if "-o" in arguments:
        # The folder holds what other examples read; nothing of that is written over.
        there = arguments[arguments.index("-o") + 1]
        shutil.move(folder, folder.with_name("others"))
        folder.mkdir()
        for one in folder.with_name("others").iterdir():
            if one.name.split(".")[0] != there.split(".")[0]:
                shutil.move(one, folder / one.name)
        monkeypatch.chdir(folder)
    # Who types a reading in stops after one patch.
    result = run(*arguments, typed="50 0 0\nq\n" if command == "read" else "")
    assert result.exit_code == 0, (line, result.output)
    if "-o" in arguments:
        made = folder / arguments[arguments.index("-o") + 1]
        assert made.exists() or list(folder.glob(f"{made.name}.*")), line


def fill_log(folder: Path) -> None:
    """Put readings into the log, and write out a log to be read in."""
    for day in range(1, 5):
        path = folder / f"day-{day}.txt"
        measure("cotton rag", np.linspace(0, 1, 17), path, seed=day, name=f"cotton rag {day}")
        run("log", "add", str(path), "--paper", "cotton rag", "--correction", "none")
    run("log", "export", "-o", str(folder / "print-log.json"))


@pytest.mark.parametrize(
    ("shell", "written"),
    [
        ("bash", ".bash_completions/greyscale.sh"),
        ("zsh", ".zfunc/_greyscale"),
        ("fish", ".config/fish/completions/greyscale.fish"),
    ],
)
def test_completion_is_installed_for_the_shell_that_is_named(shell, written, tmp_path):
    """Whatever shell it is asked from; and the shell gets the names that it asks for.

    What the person has set stays, and stays theirs to read.
    """
    own = tmp_path / f".{shell}rc"
    own.write_text("# a person's own\n")
    own.chmod(0o600)
    result = run("--install-completion", shell, HOME=str(tmp_path), SHELL="/bin/sh")
    assert (result.exit_code, result.stdout.split()[0]) == (0, shell)
    scripts = {str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*greyscale*")}
    assert scripts == {written}
    assert own.read_text().startswith("# a person's own\n")
    assert own.stat().st_mode & 0o777 == 0o600
    variable = re.search(r"_[A-Z]+_COMPLETE\b", (tmp_path / written).read_text(encoding="utf-8"))
    asked = {
        variable[0]: f"complete_{shell}", "_TYPER_COMPLETE_ARGS": "greyscale ver",
        "_TYPER_COMPLETE_FISH_ACTION": "get-args", "COMP_WORDS": "greyscale ver", "COMP_CWORD": "1",
    }  # fmt: skip
    assert "verify" in run(**asked).stdout


def test_a_shell_that_is_not_known_is_refused():
    with pytest.raises(BadInput, match="take one of bash, zsh, fish") as refused:
        run("--install-completion", "zhs")
    assert "did you mean zsh?" in str(refused.value)
