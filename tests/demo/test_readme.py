"""README: each command of its guide runs in the demo's folder, and so does its Python."""

from __future__ import annotations

import doctest
import re
import shlex
import shutil
from pathlib import Path

import pytest
from support.empty_figures import have_empty_figures
from typer.testing import CliRunner

from greyscale.cli.app import app

REPOSITORY = Path(__file__).parents[2]
README = (REPOSITORY / "README.md").read_text(encoding="utf-8")
FINDINGS = {"check": 1}
"""Commands that end with another code than 0 when all is as it should be."""


def blocks(kind: str) -> list[str]:
    return re.findall(rf"^```{kind}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def commands() -> list[str]:
    lines = [line for block in blocks("sh") for line in block.splitlines()]
    # The page is served until it is ended; its own tests start it.
    waiting = "greyscale page"
    return [line for line in lines if line.startswith("greyscale ") and waiting not in line]


pytestmark = pytest.mark.xdist_group("demo")


@pytest.fixture(scope="module")
def folder(job, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that `greyscale demo` fills, for the guide's commands to work in."""
    copy = tmp_path_factory.mktemp("readme") / "greyscale-demo"
    shutil.copytree(job.folder, copy)
    return copy


def test_every_command_of_the_guide_runs_as_it_stands(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without figures: the demo has just drawn those of the same commands."""
    have_empty_figures(monkeypatch)
    monkeypatch.chdir(folder)
    assert len(commands()) >= 14
    for command in commands():
        _, *arguments = shlex.split(command)
        done = CliRunner().invoke(app, arguments)
        expected = FINDINGS.get(arguments[0], 0)
        assert done.exit_code == expected, f"{command}\n{done.output}\n{done.exception}"


def test_the_python_of_the_readme_does_what_it_says(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    (text,) = blocks("pycon")
    example = doctest.DocTestParser().get_doctest(text, {}, "README.md", "README.md", 0)
    results = doctest.DocTestRunner().run(example)
    assert results.attempted >= 8
    assert results.failed == 0


def test_the_two_commands_of_the_readme_are_those_of_ci() -> None:
    first, second = (block.strip() for block in blocks("sh")[:2])
    assert first.endswith("greyscale demo -o greyscale-demo")
    # In an environment of its own name, so that a contributor's is left alone.
    own = second.replace(".venv", ".ci-venv")
    assert own in (REPOSITORY / ".ci" / "run").read_text(encoding="utf-8")


def test_pictures_and_pages_that_the_readme_shows_are_there() -> None:
    for name in re.findall(r"\]\((?!http)([^)#]+)\)", README):
        assert (REPOSITORY / name).exists(), name


def test_what_the_readme_quotes_is_what_the_demo_says(job) -> None:
    (quoted,) = re.findall(r"^((?:> .*\n)+)", README, re.MULTILINE)
    plain = " ".join(quoted.replace("> ", "").split()).removesuffix(" ...")
    assert plain in " ".join(job.text.split())
