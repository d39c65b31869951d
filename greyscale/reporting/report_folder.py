"""How a report becomes files in a folder: page, tables, and each picture as PNG and SVG."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from greyscale.files import keep_inputs, write_whole
from greyscale.reporting.figures.save import save_figure
from greyscale.reporting.page import Section, pictures
from greyscale.reporting.style import LIGHT

FIGURES = "figures"
"""The folder within that holds the pictures."""


def write_report(
    folder: Path | str,
    texts: Mapping[str, str],
    sections: Sequence[Section],
    inputs: Sequence[Path | str],
) -> Path:
    """Write a report's files; the page comes last, so that it is there only with all it needs.

    Parameters
    ----------
    folder
        Made if it is missing; other files in it are left alone.
    texts
        File names and contents; the first is the page.
    sections
        Their pictures are saved under `FIGURES`.
    inputs
        Files that must not be overwritten.

    Returns
    -------
    The page's path.

    Raises
    ------
    BadInput
        If a file cannot be written, or would overwrite an input. Each file is written whole or
        not at all.
    """
    target = Path(folder)
    figures = {target / FIGURES / picture.name: picture for picture in pictures(sections)}
    outputs = [target / name for name in texts]
    outputs += [
        stem.with_name(f"{stem.name}.{kind}") for stem in figures for kind in ("png", "svg")
    ]
    keep_inputs(inputs, outputs)
    for stem, picture in figures.items():
        save_figure(picture.drawing(LIGHT), stem)
    for name in reversed(list(texts)):
        write_whole(target / name, texts[name])
    return target / next(iter(texts))
