"""A whole chart: which patches, where, drawn, with its layout; and strips for settings."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.folders import files_together
from greyscale.charts.drawing import Caption, PageDrawing, draw_page, head_and_foot
from greyscale.charts.page import (
    DEFAULT_DPI,
    DEFAULT_LEAST_MM,
    DEFAULT_MARGIN_MM,
    DEFAULT_PAGE,
    MM_PER_INCH,
    Grid,
    PageSize,
    Sheet,
    check_resolution,
    page_size,
    place_in_turn,
    place_patches,
    strip_letters,
)
from greyscale.charts.patches import (
    DEFAULT_BITS,
    FULL_SCALE,
    PatchList,
    Plan,
    falling_order,
    greys,
    joined,
    near_neutral_patches,
    shuffled_order,
    whole_steps,
)
from greyscale.charts.picture_tones import PictureTones
from greyscale.charts.plan import plan_patches, tones_in_words
from greyscale.checks.identity import CODE, LENGTH, REPEATED, code_levels, code_of
from greyscale.colorimetry.arrays import Array
from greyscale.readings.layout import Layout, write_layout
from greyscale.readings.reading import Reading

DEFAULT_SEED = 1


@dataclass(frozen=True)
class Through:
    """What lies between a chart's values and the printer: a correction.

    Attributes
    ----------
    apply
        Gives the device values to send, shape (n, 3), for those of the chart.
    """

    name: str
    apply: Callable[[Array], Array]


@dataclass(frozen=True, eq=False)
class Chart:
    """A chart, ready to be written.

    Attributes
    ----------
    layout
        The patches in order of their places.
    summary
        What was made, as sentences.
    why
        Why the patches lie where they do, as sentences.
    through
        The name of the correction that is in the pages, but not in the layout; or None.
    """

    name: str
    layout: Layout
    grid: Grid
    pages: tuple[PageDrawing, ...]
    summary: tuple[str, ...]
    why: tuple[str, ...]
    through: str | None = None


def make_chart(
    name: str,
    *,
    tones: int | None = None,
    spacing: str | None = None,
    near_neutral: bool = False,
    after: Reading | None = None,
    picture: PictureTones | None = None,
    page: str | PageSize = DEFAULT_PAGE,
    dpi: int = DEFAULT_DPI,
    patch_mm: float | None = None,
    least_mm: float = DEFAULT_LEAST_MM,
    margin_mm: float = DEFAULT_MARGIN_MM,
    repeats: int | None = None,
    shuffle: bool = True,
    seed: int = DEFAULT_SEED,
    bits: int = DEFAULT_BITS,
    date: datetime.date | None = None,
    through: Through | None = None,
    code: bool = True,
    chosen: Plan | None = None,
) -> Chart:
    """Make a chart.

    Parameters
    ----------
    name
        What it is called: in its caption and layout.
    tones
        How many tones; None takes 33, or 24 in a follow-up chart.
    spacing
        How a starting chart's tones are spaced, a name of `SPACINGS`.
    near_neutral
        Whether near-neutral patches are printed beside them.
    after
        A reading to follow up: patches go where it leaves most uncertain.
    picture
        A picture's tones: patches go where it has them.
    page
        A name of `PAGE_SIZES`, or width and height as 329x483mm.
    dpi
        Pixels per inch.
    patch_mm
        Side of a patch; None finds it.
    least_mm
        What the instrument needs at least.
    margin_mm
        Kept white all round.
    repeats
        How many patches are printed again elsewhere; None takes about one in twelve.
    shuffle
        Whether places are shuffled; else from paper to black.
    seed
        Same seed, same chart.
    bits
        Device values are whole codes of 8 or 16 bits.
    date
        For the caption.
    through
        A correction that the pages are sent through; the layout keeps the chart's own values.
    code
        Whether its first patches say which chart it is, see `greyscale.checks.identity`. They
        repeat paper, black and two greys, so that four repeats fewer are printed elsewhere.
    chosen
        The patches, repeats among them, where they were chosen otherwise (`printer.design`).

    Raises
    ------
    BadInput
        For options that do not go together, a reading that cannot be followed up, a page on which
        patches would be too small, and numbers that cannot be.
    """
    if bits not in FULL_SCALE:
        raise BadInput(f"{bits} bits are not possible; device values have 8 or 16")
    if not name:
        raise BadInput("the chart has no name; give it one")
    if seed < 0:
        raise BadInput(f"a seed of {seed} is not possible; take 0 or more")
    size = page_size(page)
    check_resolution(size, dpi)
    _check_lengths(margin_mm, least_mm, patch_mm)
    plan = chosen or plan_patches(
        tones=tones,
        spacing=spacing,
        near_neutral=near_neutral,
        after=after,
        picture=picture,
        repeats=repeats,
        bits=bits,
        repeated=REPEATED if code else 0,
    )
    patches = plan.patches
    how = tones_in_words(spacing, after, picture) if chosen is None else "where they tell most"
    settings = _settings(patches, how, shuffle, seed, dpi)
    if through is not None:
        settings = (*settings, f"sent through the correction {through.name}")
    caption = _caption(name, date, settings)
    sheet = Sheet(size, dpi, margin_mm, *head_and_foot(caption, size.width, margin_mm))
    taken = LENGTH if code else 0
    grid = place_patches(taken + len(patches), sheet, patch_mm, least_mm)
    order = shuffled_order(patches, grid, seed, taken) if shuffle else falling_order(patches)
    patches = patches.select(order.tolist())
    if code:
        number = code_of(patches.device, None if through is None else through.name)
        first = greys(code_levels(number), CODE)
        patches = PatchList(
            np.concatenate([first.device, patches.device]), (*first.reasons, *patches.reasons)
        )

    sent = patches.device if through is None else through.apply(patches.device)
    pages = tuple(draw_page(sheet, grid, sent, caption, i) for i in range(grid.pages))
    fields = _fields(", ".join(settings), sheet, bits) | grid.as_fields()
    if date is not None:
        fields["CHART_DATE"] = date.isoformat()
    if through is not None:
        fields["CHART_THROUGH"] = through.name
    return Chart(
        name=name,
        layout=_layout(name, patches, grid, fields),
        grid=grid,
        pages=pages,
        summary=(_counts(patches), _placement(sheet, grid, shuffle, seed)),
        why=plan.why,
        through=None if through is None else through.name,
    )


def write_chart(
    chart: Chart, stem: Path | str, advance: Callable[[float], None] | None = None
) -> tuple[Path, ...]:
    """Write a chart: its TIFF (one for each page), PDF and layout.

    Parameters
    ----------
    stem
        Path without an ending; several pages become STEM-1.tif, STEM-2.tif and so on.
    advance
        Called with the share of the work done, from 0 to 1.

    Returns
    -------
    The files' paths, as `chart_files` names them.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    *tiffs, pdf, layout = chart_files(stem, len(chart.pages))
    _write_pages(chart.pages, chart.name, tiffs, pdf, {layout: chart.layout}, advance)
    return (*tiffs, pdf, layout)


def _write_pages(
    pages: Sequence[PageDrawing],
    name: str,
    tiffs: Sequence[Path],
    pdf: Path,
    layouts: Mapping[Path, Layout],
    advance: Callable[[float], None] | None,
) -> None:
    """Write pages as TIFFs and one PDF, with their layouts, all or none."""
    from greyscale.charts.drawing import write_pdf, write_tiff

    # A page and the layout of another must never lie side by side.
    with files_together(pdf.parent) as fresh:
        for index, (page, path) in enumerate(zip(pages, tiffs, strict=True)):

            def of_page(done: float, before: int = index) -> None:
                if advance is not None:
                    advance(0.9 * (before + done) / len(tiffs))

            write_tiff(page, fresh / path.name, of_page)
        write_pdf(pages, fresh / pdf.name, name)
        for path, layout in layouts.items():
            write_layout(layout, fresh / path.name)
    if advance is not None:
        advance(1.0)


def chart_files(stem: Path | str, pages: int) -> tuple[Path, ...]:
    """Name the files of a chart: TIFFs, PDF, layout.

    Examples
    --------
    >>> [path.name for path in chart_files("proofs/start", 1)]
    ['start.tif', 'start.pdf', 'start.txt']
    """
    base = Path(stem)
    names = [base.name] if pages == 1 else [f"{base.name}-{i + 1}" for i in range(pages)]
    tiffs = tuple(base.with_name(f"{each}.tif") for each in names)
    return (*tiffs, base.with_name(f"{base.name}.pdf"), base.with_name(f"{base.name}.txt"))


def _check_lengths(margin_mm: float, least_mm: float, patch_mm: float | None) -> None:
    if not 0 <= margin_mm <= 100:
        raise BadInput(f"a margin of {margin_mm:g} mm is not possible; take 0 to 100")
    if not 2 <= least_mm <= 100:
        raise BadInput(f"a least size of {least_mm:g} mm is not possible; take 2 to 100")
    if patch_mm is not None and not 0 < patch_mm <= 200:
        raise BadInput(f"patches of {patch_mm:g} mm are not possible; take up to 200")


def _settings(
    patches: PatchList, tones: str, shuffle: bool, seed: int, dpi: int
) -> tuple[str, ...]:
    number = _numbers(patches)
    parts = [f"{number['tones']} tones {tones}"]
    if number["near-neutral"]:
        parts.append(f"{number['near-neutral']} near-neutral patches")
    if number["repeats"]:
        parts.append(f"{number['repeats']} repeats")
    parts.append(f"shuffled, seed {seed}" if shuffle else "from paper to black")
    return (*parts, f"{dpi} dpi")


def _numbers(patches: PatchList) -> Counter[str]:
    names = {"near-neutral": "near-neutral", "repeat": "repeats", CODE: "code"}
    return Counter(names.get(kind, "tones") for kind in patches.kinds())


def _counts(patches: PatchList) -> str:
    number = _numbers(patches)
    parts = [f"{number['tones']} tone{'s' if number['tones'] != 1 else ''}"]
    if number["near-neutral"]:
        parts.append(f"{number['near-neutral']} near-neutral patches")
    if number["repeats"]:
        parts.append(
            f"{number['repeats']} repeat{'s' if number['repeats'] > 1 else ''} in other places"
        )
    if number["code"]:
        parts.append(f"{number['code']} that say which chart it is")
    return f"{len(patches)} patches: {', '.join(parts)}"


def _placement(sheet: Sheet, grid: Grid, shuffle: bool, seed: int) -> str:
    pages = "1 page" if grid.pages == 1 else f"{grid.pages} pages"
    side = grid.patch / sheet.dpi * MM_PER_INCH
    order = f"shuffled with seed {seed}" if shuffle else "from paper to black"
    strips = "1 strip" if grid.strips == 1 else f"{grid.strips} strips"
    return (
        f"{pages} of {sheet.size}, {strips} of {grid.per_strip} patches of {side:.1f} mm, {order}"
    )


def _caption(name: str, date: datetime.date | None, settings: Sequence[str]) -> Caption:
    dated = (f"{date.day} {date:%B} {date.year}",) if date else ()
    return Caption(name, (*dated, *settings))


def _fields(settings: str, sheet: Sheet, bits: int) -> dict[str, str]:
    """What a layout says of its pages."""
    return {
        "CHART_SETTINGS": settings,
        "CHART_PAGE": str(sheet.size),
        "CHART_RESOLUTION": f"{sheet.dpi} dpi",
        "CHART_BITS": str(bits),
    }


def _layout(
    name: str, patches: PatchList, grid: Grid, fields: dict[str, str], first: int = 0
) -> Layout:
    count = len(patches)
    return Layout(
        name=name,
        ids=tuple(str(i + 1) for i in range(count)),
        places=tuple(grid.place(first + i) for i in range(count)),
        device=patches.device,
        reasons=patches.reasons,
        fields=fields,
    )


# Small charts of a driver's settings, to be printed on one sheet, one setting each.

MOST_SETTINGS = 8

# Half of the tones lie in the darkest third: there settings differ most.
_LEVELS = (0, 0.03, 0.06, 0.09, 0.13, 0.18, 0.24, 0.32, 0.42, 0.53, 0.65, 0.77, 0.88, 1)
_BESIDE = (0.25, 0.5, 0.75)  # Where near-neutral patches tell whether it answers in colour.


@dataclass(frozen=True, eq=False)
class SettingsStrips:
    """One small chart, as often as there are settings, on one sheet.

    Attributes
    ----------
    layouts
        The patches of each setting.
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
    caption = _caption(name, date, (about, f"{dpi} dpi"))
    sheet = Sheet(size, dpi, margin_mm, *head_and_foot(caption, size.width, margin_mm))
    grid = place_in_turn(len(patches), settings, sheet, least_mm)
    each = grid.count // settings
    filled = patches.select([*range(len(patches)), *[0] * (each - len(patches))])
    own = Grid(each, grid.per_strip, grid.strips_per_page, grid.patch, 0, 0, 1, 1)
    filled = filled.select(shuffled_order(filled, own, seed).tolist())
    sent, fields = np.tile(filled.device, (settings, 1)), _fields(about, sheet, bits)
    return SettingsStrips(
        name=name,
        layouts=tuple(
            _layout(f"{name}, setting {k + 1}", filled, grid, fields, k * each)
            for k in range(settings)
        ),
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
    tiffs, pdf, layouts = strips_files(stem, len(made.pages))
    with_layouts = dict(zip(layouts, made.layouts, strict=True))
    _write_pages(made.pages, made.name, tiffs, pdf, with_layouts, advance)
