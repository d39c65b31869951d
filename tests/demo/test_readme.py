"""README: each command of its guide runs in the demo's folder, and so does its Python."""

from __future__ import annotations

import doctest
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

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


def test_every_command_of_the_guide_runs_as_it_stands(folder: Path) -> None:
    # `greyscale` is what this Python runs, whatever is installed elsewhere.
    program = folder / "greyscale"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m greyscale "$@"\n')
    program.chmod(0o755)
    environment = {**os.environ, "PATH": f"{folder}{os.pathsep}{os.environ['PATH']}"}
    assert len(commands()) >= 14
    for command in commands():
        done = subprocess.run(
            command, shell=True, cwd=folder, env=environment, capture_output=True, text=True,
            check=False,
        )  # fmt: skip
        expected = FINDINGS.get(command.split()[1], 0)
        assert done.returncode == expected, f"{command}\n{done.stdout}\n{done.stderr}"


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
