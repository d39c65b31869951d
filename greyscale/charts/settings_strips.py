"""Small charts of a driver's settings, to be printed on one sheet, one setting each."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.folders import files_together
from greyscale.charts.marks import Caption, PageDrawing, draw_page, head_and_foot
from greyscale.charts.near_neutral import near_neutral_patches
from greyscale.charts.page import (
    DEFAULT_DPI,
    DEFAULT_LEAST_MM,
    DEFAULT_MARGIN_MM,
    DEFAULT_PAGE,
    Grid,
    PageSize,
    Sheet,
    check_resolution,
    page_size,
    place_in_turn,
    strip_letters,
)
from greyscale.charts.patches import (
    DEFAULT_BITS,
    PatchList,
    greys,
    joined,
    shuffled_order,
    whole_steps,
)
from greyscale.readings.layout import Layout, write_layout

MOST_SETTINGS = 8

# Half of the tones lie in the darkest third: there settings differ most.
_LEVELS = (0, 0.03, 0.06, 0.09, 0.13, 0.18, 0.24, 0.32, 0.42, 0.53, 0.65, 0.77, 0.88, 1)
_BESIDE = (0.25, 0.5, 0.75)  # Where near-neutral patches tell whether it answers in colour.


@dataclass(frozen=True, eq=False)
class SettingsStrips:
    """One small chart, as often as there are settings, on one sheet.

    Attributes
    ----------
    name
        What it is called.
    layouts
        The patches of each setting.
    grid
        Where they lie on the sheet.
    pages
        What is printed with each setting.
    """

    name: str
    layouts: tuple[Layout, ...]
    grid: Grid
    pages: tuple[PageDrawing, ...]

    def strips(self, setting: int) -> str:
        """The letters of a setting's strips, counted from 0."""
        first = setting * self.grid.strips_per_page
        letters = [strip_letters(first + row) for row in range(self.grid.strips_per_page)]
        return ", ".join(letters)


def settings_strips(
    name: str,
    settings: int,
    *,
    page: str | PageSize = DEFAULT_PAGE,
    dpi: int = DEFAULT_DPI,
    least_mm: float = DEFAULT_LEAST_MM,
    margin_mm: float = DEFAULT_MARGIN_MM,
    seed: int = 1,
    bits: int = DEFAULT_BITS,
    date: datetime.date | None = None,
) -> SettingsStrips:
    """Make the strips for so many settings; arguments as `greyscale.charts.chart.make_chart`.

    Raises
    ------
    BadInput
        For a number of settings that cannot be, or a page without room for them.
    """
    if not 2 <= settings <= MOST_SETTINGS:
        raise BadInput(f"{settings} settings are not possible; take 2 to {MOST_SETTINGS}")
    size = page_size(page)
    check_resolution(size, dpi)
    patches = _patches(bits)
    about = f"one small chart for each of {settings} settings"
    dated = (f"{date.day} {date:%B} {date.year}",) if date else ()
    caption = Caption(name, (*dated, about, f"{dpi} dpi"))
    sheet = Sheet(size, dpi, margin_mm, *head_and_foot(caption, size.width, margin_mm))
    grid = place_in_turn(len(patches), settings, sheet, least_mm)
    each = grid.count // settings
    filled = patches.select([*range(len(patches)), *[0] * (each - len(patches))])
    own = Grid(each, grid.per_strip, grid.strips_per_page, grid.patch, 0, 0, 1, 1)
    filled = filled.select(shuffled_order(filled, own, seed).tolist())
    sent = np.tile(filled.device, (settings, 1))
    return SettingsStrips(
        name=name,
        layouts=tuple(_layout(name, filled, grid, k, sheet, about, bits) for k in range(settings)),
        grid=grid,
        pages=tuple(draw_page(sheet, grid, sent, caption, k) for k in range(settings)),
    )


def _patches(bits: int) -> PatchList:
    """Paper, the other tones, near-neutral patches; paper, black and a grey once more."""
    tones = greys(whole_steps(_LEVELS[::-1], bits), "tone")
    once = joined([tones, near_neutral_patches(_BESIDE, bits=bits)])
    again = [0, len(_LEVELS) - 1, len(_LEVELS) // 2]
    reasons = (*once.reasons, *("repeat: tone" for _ in again))
    return PatchList(np.concatenate([once.device, once.device[again]]), reasons)


def _layout(
    name: str, patches: PatchList, grid: Grid, setting: int, sheet: Sheet, about: str, bits: int
) -> Layout:
    count, first = len(patches), setting * len(patches)
    return Layout(
        name=f"{name}, setting {setting + 1}",
        ids=tuple(str(i + 1) for i in range(count)),
        places=tuple(grid.place(first + i) for i in range(count)),
        device=patches.device,
        reasons=patches.reasons,
        fields={
            "CHART_SETTINGS": about,
            "CHART_PAGE": str(sheet.size),
            "CHART_RESOLUTION": f"{sheet.dpi} dpi",
            "CHART_BITS": str(bits),
        },
    )


def strips_files(
    stem: Path | str, settings: int
) -> tuple[tuple[Path, ...], Path, tuple[Path, ...]]:
    """Name the files: a TIFF for each setting, the PDF, a layout for each setting."""
    base = Path(stem)
    tiffs, layouts = (
        tuple(base.with_name(f"{base.name}-{k + 1}.{end}") for k in range(settings))
        for end in ("tif", "txt")
    )
    return tiffs, base.with_name(f"{base.name}.pdf"), layouts


def write_strips(
    made: SettingsStrips, stem: Path | str, advance: Callable[[float], None] | None = None
) -> None:
    """Write the strips' files, all or none; see `strips_files`.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    from greyscale.charts.drawing import write_pdf, write_tiff

    tiffs, pdf, layouts = strips_files(stem, len(made.pages))
    with files_together(pdf.parent) as fresh:
        for done, (page, path) in enumerate(zip(made.pages, tiffs, strict=True), start=1):
            write_tiff(page, fresh / path.name)
            if advance is not None:
                advance(done / (len(tiffs) + 1))
        write_pdf(made.pages, fresh / pdf.name, made.name)
        for layout, path in zip(made.layouts, layouts, strict=True):
            write_layout(layout, fresh / path.name)
    if advance is not None:
        advance(1.0)
