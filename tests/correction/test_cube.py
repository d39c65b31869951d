"""Our .cube files are those that `colour` writes of the same tables, byte for byte."""

from __future__ import annotations

from pathlib import Path

import colour
import numpy as np

from greyscale.correction.cube import DECIMALS, write_cube_1d, write_cube_3d

RANDOM = np.random.default_rng(1)
CHANNELS = RANDOM.uniform(0, 1, (1024, 3))
NODES = RANDOM.uniform(0, 1, (5, 5, 5, 3))
SHAPER = np.linspace(0, 1, 50) ** 2
COMMENTS = ["Printer: six-ink", "Paper: kozo"]


def theirs(lut: object, path: Path, **method: str) -> str:
    colour.write_LUT(lut, str(path), decimals=DECIMALS, **method)
    return path.read_bytes().decode("ascii")


def test_one_dimension(tmp_path: Path) -> None:
    ours = tmp_path / "ours.cube"
    write_cube_1d(CHANNELS, ours, "harbour", COMMENTS)
    lut = colour.LUT3x1D(CHANNELS, "harbour", comments=COMMENTS)
    assert ours.read_bytes().decode("ascii") == theirs(lut, tmp_path / "theirs.cube")


def test_three_dimensions(tmp_path: Path) -> None:
    ours = tmp_path / "ours.cube"
    write_cube_3d(NODES, ours, "harbour", COMMENTS)
    lut = colour.LUT3D(NODES, "harbour", comments=COMMENTS)
    assert ours.read_bytes().decode("ascii") == theirs(lut, tmp_path / "theirs.cube")


def test_three_dimensions_with_a_shaper_before(tmp_path: Path) -> None:
    ours = tmp_path / "ours.cube"
    write_cube_3d(NODES, ours, "harbour", COMMENTS, SHAPER)
    shaper = colour.LUT3x1D(np.repeat(SHAPER[:, None], 3, axis=1), comments=COMMENTS)
    both = colour.LUTSequence(shaper, colour.LUT3D(NODES, comments=[]))
    text = theirs(both, tmp_path / "theirs.cube", method="Resolve Cube")
    # Readers refuse a title where a shaper stands before: ours gives it as a comment.
    _, _, untitled = text.partition("\n")
    assert ours.read_bytes().decode("ascii") == f"# harbour\n{untitled}"
