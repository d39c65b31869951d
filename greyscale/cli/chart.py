"""`greyscale chart`: a page of patches to print."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from greyscale.base.errors import BadInput
from greyscale.cli import option, voice
from greyscale.cli.outputs import CHART_ENDINGS


def chart(
    name: Annotated[
        Path,
        option.value(
            "NAME",
            "What to call it: NAME.tif to print, NAME.pdf to keep, NAME.txt, the layout.",
            "-o",
        ),
    ],
    tones: Annotated[
        int | None, option.value("N", "How many tones; 33 by default, 24 with --after.")
    ] = None,
    spacing: Annotated[
        Literal["level", "lightness"] | None,
        typer.Option(
            help="A starting chart's tones: even in level, or even in expected L*; level by "
            "default."
        ),
    ] = None,
    near_neutral: Annotated[
        bool,
        option.flag(
            "--near-neutral",
            "Add near-neutral patches: the correction learns from them how the printer answers.",
        ),
    ] = False,
    after: Annotated[
        Path | None,
        option.value("READING", "Follow up a reading: patches go where it leaves most uncertain."),
    ] = None,
    ramp: Annotated[
        Literal["K", "CMY"] | None,
        typer.Option(
            help="Which ramp of the reading, where it holds a black one and one of three colours."
        ),
    ] = None,
    for_image: Annotated[
        Path | None,
        option.value("IMAGE", "Patches go where this picture has its tones (TIFF, PNG or JPEG)."),
    ] = None,
    through: Annotated[
        Path | None,
        option.value(
            "CORRECTION",
            "Send the patches through this correction, to prove it; the layout keeps the "
            "chart's own values.",
        ),
    ] = None,
    patches: Annotated[
        int | None,
        option.value(
            "N",
            "This many patches in all, from 24 up, near-neutral ones and repeats among them, "
            "each where it tells most about the correction; with --after, after what was measured.",
        ),
    ] = None,
    settings: Annotated[
        int | None,
        option.value(
            "N",
            "Instead of a chart, small strips for this many settings of the driver, to be "
            "printed on one sheet, one setting each: NAME-1.tif, NAME-2.tif and so on.",
            min=2,
            max=8,
        ),
    ] = None,
    page: Annotated[
        str, option.value("PAGE", "a5, a4, a3, letter, or a size as 329x483mm.")
    ] = "a4",
    dpi: Annotated[int, option.value("N", "Pixels per inch.")] = 300,
    patch_size: Annotated[
        float | None,
        option.value("MM", "Side of a patch; by default up to 12, as large as the pages allow."),
    ] = None,
    least_size: Annotated[
        float, option.value("MM", "The smallest patch your instrument can measure.")
    ] = 8.0,
    margin: Annotated[float, option.value("MM", "Kept white all round the page.")] = 10.0,
    repeats: Annotated[
        int | None,
        option.value(
            "N",
            "How many patches are printed again in other places; by default four plus one "
            "in sixteen.",
        ),
    ] = None,
    shuffle: Annotated[
        bool,
        typer.Option(
            help="Shuffle the patches, so that a change over the page does not look like one "
            "over the tones."
        ),
    ] = True,
    seed: Annotated[int, option.value("N", "Seed of the shuffle: same seed, same chart.")] = 1,
    bits: Annotated[
        int,
        option.value(
            "8|16", "Device values are whole steps of so many bits; with 8, no driver rounds them."
        ),
    ] = 8,
    code: Annotated[
        bool | None,
        typer.Option(
            help="Begin with sixteen patches that say which chart this is and through which "
            "correction it was sent: its reading cannot be taken for another's. On by "
            "default, except with --patches."
        ),
    ] = None,
    date: Annotated[
        datetime | None,
        option.day("The date in the caption; today's by default."),
    ] = None,
    layout: option.Layout = None,
    unchecked: option.Unchecked = False,
    replace: option.Replace = False,
) -> None:
    """Make a chart of grey tones to print and measure.

    Example: greyscale chart -o cotton-rag-start --near-neutral
    """
    from datetime import date as day

    from greyscale.charts.chart import (
        chart_files,
        make_chart,
        settings_strips,
        strips_files,
        write_chart,
        write_strips,
    )
    from greyscale.cli.outputs import counted_tones, taken
    from greyscale.reporting.made_report import chart_report, strips_report
    from greyscale.reporting.terminal import show_report, terminal

    stem = name.with_suffix("") if name.suffix.lower() in CHART_ENDINGS else name
    on = day.today() if date is None else date.date()
    if settings is not None:
        others = (
            tones, spacing, near_neutral, after, for_image, through, patch_size, repeats, patches
        )  # fmt: skip
        if any(others) or code is not None or not shuffle:
            raise BadInput(
                "--settings makes strips of its own; of the other options it takes --page, --dpi, "
                "--least-size, --margin, --seed, --bits and --date"
            )
        strips = settings_strips(
            stem.name, settings, page=page, dpi=dpi, least_mm=least_size, margin_mm=margin,
            seed=seed, bits=bits, date=on,
        )  # fmt: skip
        with voice.progress("Drawing") as advance:
            write_strips(strips, stem, advance)
        show_report(strips_report(strips, *strips_files(stem, settings)), terminal())
        return
    if patches is not None and any((tones, spacing, near_neutral, for_image, repeats)):
        raise BadInput(
            "--patches chooses them all; leave out --tones, --spacing, --near-neutral, "
            "--for-image and --repeats"
        )
    tones_of_picture = counted_tones(for_image)
    correction = None
    if through is not None:
        from greyscale.correction.charts import chart_through

        correction = chart_through(through)
    reading = None
    if after is not None:
        reading = taken([after], layout, unchecked, ramp=ramp)[0][0]
    with voice.working("Choosing the patches"):
        chosen = None
        if patches is not None:
            from greyscale.correction.charts import choose_patches

            chosen = choose_patches(patches, reading, bits)
        made = make_chart(
            stem.name,
            tones=tones,
            spacing=spacing,
            near_neutral=near_neutral,
            after=reading,
            picture=tones_of_picture,
            page=page,
            dpi=dpi,
            patch_mm=patch_size,
            least_mm=least_size,
            margin_mm=margin,
            repeats=repeats,
            shuffle=shuffle,
            seed=seed,
            bits=bits,
            date=on,
            through=correction,
            # Whoever counts patches reads them by hand: a code would be 16 more.
            code=patches is None if code is None else code,
            chosen=chosen,
        )
    files = chart_files(stem, len(made.pages))
    with voice.progress("Drawing") as advance:
        write_chart(made, stem, advance)
    remarks = () if tones_of_picture is None else tones_of_picture.remarks
    show_report(chart_report(made, files, through or "CORRECTION", remarks), terminal())
