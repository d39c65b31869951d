"""The code is laid out as DEVELOPERS.md says."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "greyscale"
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

ENTRANCES = "the package's own files"
DOWNWARDS = (
    "cli", "page", "demo", "reporting", "records", "applying", "icc", "correction", "printer",
    "analysis", "charts", "aims", "pictures", "checks", "readings", "colorimetry", "base",
)  # fmt: skip
MOST_LINES = 700


def sources() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    first, *inner = path.relative_to(PACKAGE).parts
    return first if inner else ENTRANCES


def imported_rooms(path: Path) -> Iterator[tuple[str, int]]:
    """Give the rooms of the package that a module imports from, each with the line."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        for package, *inner in (name.split(".") for name in names):
            if package == "greyscale" and inner:
                yield inner[0], node.lineno


@pytest.mark.parametrize("room", DOWNWARDS)
def test_imports_point_one_way(room: str) -> None:
    above = DOWNWARDS[: DOWNWARDS.index(room)]
    upwards = [
        f"{path.relative_to(ROOT)}:{line} imports from {other}"
        for path in sources()
        if room_of(path) == room
        for other, line in imported_rooms(path)
        if other in above
    ]
    assert not upwards


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def imported_modules(path: Path, known: set[str]) -> set[str]:
    """The package's modules that a module imports, inside functions and for its types too."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.update(
                inner if (inner := f"{node.module}.{alias.name}") in known else node.module
                for alias in node.names
            )
        elif isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
    return (found & known) - {module_name(path), "greyscale"}


def test_no_modules_import_each_other_in_a_circle() -> None:
    paths = {module_name(path): path for path in sources()}
    graph = {name: imported_modules(path, set(paths)) for name, path in paths.items()}
    assert graph["greyscale.printer.model"] >= {"greyscale.printer.covariance"}
    # Modules that import nothing that is left are taken away, until only circles are.
    while free := [name for name, needed in graph.items() if not needed & graph.keys()]:
        for name in free:
            del graph[name]
    circles = {name: sorted(needed & graph.keys()) for name, needed in graph.items()}
    assert not circles


def test_the_guide_names_the_rooms_in_this_order() -> None:
    (order,) = re.findall(r"Imports point one way: (.*?)\. ", GUIDE, re.S)
    assert re.findall(r"`(\w+)`", order) == list(DOWNWARDS)


def test_no_file_is_long() -> None:
    long = {
        str(path.relative_to(ROOT)): lines
        for path in [*sources(), *(ROOT / "tests").rglob("*.py")]
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > MOST_LINES
    }
    assert not long


def test_every_path_that_the_guide_names_is_there() -> None:
    named = re.findall(r"`([\w./-]+(?:/|\.py|\.md|\.csv))`", GUIDE)
    places = (ROOT, PACKAGE, PACKAGE / "readings", PACKAGE / "correction", PACKAGE / "reporting")
    places += (PACKAGE / "checks",)
    missing = [name for name in named if not any((place / name).exists() for place in places)]
    assert len(named) > 30
    assert not missing


def test_every_constant_that_the_guide_names_is_there() -> None:
    code = "\n".join(path.read_text(encoding="utf-8") for path in sources())
    named = set(re.findall(r"`([A-Z][A-Z_]+)`", GUIDE))
    assert named >= {"FORMATS", "STEPS", "TONE_AIMS"}
    assert not [name for name in named if not re.search(rf"^{name}\b", code, re.M)]
