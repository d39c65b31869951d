"""README: each command of its guide runs in the demo's folder, and so does its Python."""

from __future__ import annotations

import doctest
import re
import shutil
from pathlib import Path

import pytest
from demo import readme
from PIL import Image
from support.empty_figures import have_empty_figures
from support.families import family

REPOSITORY = Path(__file__).parents[2]
README = (REPOSITORY / "README.md").read_text(encoding="utf-8")


pytestmark = pytest.mark.xdist_group("demo")


@pytest.fixture(scope="module")
def folder(job, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that `greyscale demo` fills, for the guide's commands to work in."""
    copy = tmp_path_factory.mktemp("readme") / "greyscale-demo"
    shutil.copytree(job.folder, copy)
    return copy


LIKE_ANOTHER = r"--toning|--light LED-B1 --light D50|--previous|--patches 30"
"""Commands that take long, like one that is run before them but for what they are for."""


@pytest.mark.parametrize("every", family([True, False], [False]))
def test_every_command_of_the_guide_runs_as_it_stands(
    folder: Path, every: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without figures: the demo has just drawn those of the same commands."""
    have_empty_figures(monkeypatch)
    wanted = [one for one in readme.commands(README) if every != (not re.search(LIKE_ANOTHER, one))]
    assert len(wanted) >= (4 if every else 14)
    readme.run_commands(wanted, folder)


def test_the_python_of_the_readme_does_what_it_says(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    (text,) = readme.blocks(README, "pycon")
    example = doctest.DocTestParser().get_doctest(text, {}, "README.md", "README.md", 0)
    results = doctest.DocTestRunner().run(example)
    assert results.attempted >= 8
    assert results.failed == 0


def test_the_two_commands_of_the_readme_are_those_of_ci() -> None:
    first, second = (block.strip() for block in readme.blocks(README, "sh")[:2])
    assert first.endswith("greyscale demo -o greyscale-demo")
    # In an environment of its own name, so that a contributor's is left alone.
    own = second.replace(".venv", ".ci-venv")
    assert own in (REPOSITORY / ".ci" / "run").read_text(encoding="utf-8")


def test_pictures_and_pages_that_the_readme_shows_are_there() -> None:
    for name in re.findall(r"\]\((?!http)([^)#]+)\)", README):
        assert (REPOSITORY / name).exists(), name


def test_what_the_readme_quotes_is_what_is_found_today(job) -> None:
    assert readme.quoting(README, job.folder) == README


@pytest.mark.exhaustive
def test_its_pictures_are_taken_anew(job, tmp_path) -> None:
    readme.take_pictures(job.folder, tmp_path)
    made, kept = (
        {path.relative_to(folder) for path in folder.rglob("*") if path.is_file()}
        for folder in (tmp_path, readme.EXAMPLE)
    )
    assert kept - made <= ({Path("page.png")} if readme.BROWSER is None else set())
    assert made <= kept
    shown = [name for name in made if name.parts[-1] in ("page.png", "lighthouse-before-after.png")]
    for name in shown:
        first, second = (Image.open(folder / name) for folder in (tmp_path, readme.EXAMPLE))
        assert first.size == second.size, name
