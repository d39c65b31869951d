"""The wheel: small, whole, and fit for a machine with nothing but Python."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "greyscale"
READING = ROOT / "sample_measurements" / "cotton-rag-33-m1.txt"
MOST_BYTES = 3_000_000


def project() -> dict:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Built as `pip` builds it, but for the fresh environment, which would need a network."""
    folder = tmp_path_factory.mktemp("wheel")
    code = "import sys; from hatchling.build import build_wheel; build_wheel(sys.argv[1])"
    subprocess.run([sys.executable, "-c", code, str(folder)], cwd=ROOT, check=True)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def unpacked(wheel, tmp_path_factory):
    folder = tmp_path_factory.mktemp("unpacked")
    zipfile.ZipFile(wheel).extractall(folder)
    return folder


def run(*command, cwd: Path, **environment) -> str:
    done = subprocess.run(
        list(map(str, command)), cwd=cwd, capture_output=True, text=True, check=False,
        env={**os.environ, "HOME": str(cwd), **environment},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_it_is_under_3_megabytes(wheel):
    assert wheel.stat().st_size < MOST_BYTES


def test_it_says_under_which_licences_it_and_its_tables_come(wheel):
    archive = zipfile.ZipFile(wheel)
    texts = {
        name.split("licenses/")[1]: archive.read(name).decode()
        for name in archive.namelist()
        if ".dist-info/licenses/" in name
    }
    assert set(texts) == {"greyscale/LICENSE", "greyscale/colorimetry/data/NOTICE"}
    assert all(
        "Redistribution and use in source and binary forms" in text for text in texts.values()
    )
    # As the licence of `colour` asks: its own copyright line goes with its tables.
    assert "Colour Developers" in texts["greyscale/colorimetry/data/NOTICE"]


def test_it_holds_every_file_of_the_package_and_no_tests(wheel):
    held = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    there = {
        path.relative_to(ROOT).as_posix()
        for path in PACKAGE.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert held == there
    assert {"greyscale/py.typed", "greyscale/reporting/pages/page.css"} <= held


def test_what_is_in_it_does_the_job(unpacked, tmp_path):
    """Templates, style sheet, tables and migrations are read from it, not from the source."""
    here = {"cwd": tmp_path, "PYTHONPATH": str(unpacked)}
    # The program, and then where it was taken from.
    code = "import greyscale.cli.app as app; print(app.__file__, flush=True); app.main()"
    greyscale = (sys.executable, "-c", code)
    run(*greyscale, "analyse", READING, "-o", "out", "--log", "--db", "log.db", **here)
    assert (tmp_path / "out" / "report.html").stat().st_size > 100_000
    said = run(*greyscale, "lights", "A", "--glazing", "window-glass", **here)
    assert "window-glass" in said
    assert Path(said.splitlines()[0]).is_relative_to(unpacked)


def test_pip_installs_it_into_a_new_environment(wheel, tmp_path):
    """Without what it depends on, which is looked up where tests run: there is no network."""
    run(sys.executable, "-m", "venv", "--without-pip", tmp_path / "new", cwd=tmp_path)
    scripts = tmp_path / "new" / ("Scripts" if os.name == "nt" else "bin")
    # The pip that is here installs into that one: to put one of its own there takes seconds.
    pip = (sys.executable, "-m", "pip", "--python", scripts / "python", "install", "-q",
           "--no-index", "--no-deps", "--no-compile", wheel)  # fmt: skip
    run(*pip, cwd=tmp_path)
    packages = next(path for path in map(Path, sys.path) if path.name == "site-packages")
    said = run(scripts / "greyscale", "--version", cwd=tmp_path, PYTHONPATH=str(packages))
    assert said.strip() == f"greyscale {project()['version']}"


def test_everything_imported_is_declared():
    imported = {
        name
        for path in PACKAGE.rglob("*.py")
        for name in top_level_imports(path)
        if name not in sys.stdlib_module_names and name != "greyscale"
    }
    distributions = packages_distributions()
    needed = {normal(distributions.get(name, [name])[0]) for name in imported}
    declared = {normal(requirement) for requirement in project()["dependencies"]}
    extras = project()["optional-dependencies"]
    optional = {normal(one) for extra in ("pdf", "table") for one in extras[extra]}
    assert needed - declared == optional == {"fpdf2", "pandas"}


def top_level_imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            found.add(node.module.split(".")[0])
    return found


def normal(requirement: str) -> str:
    name = re.match(r"[\w.-]+", requirement)[0]
    return re.sub(r"[-_.]+", "-", name).lower()


def test_the_version_is_said_once_and_everywhere_alike():
    from greyscale import __version__

    assert project()["version"] == __version__
