"""`greyscale correct`: from readings to a correction."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from greyscale.cli import completion
from greyscale.cli.shared_options import (
    DbOption,
    GlazingOption,
    LayoutOption,
    LogOption,
    OpenOption,
    PdfOption,
    RampOption,
    ReplaceOption,
    UncheckedOption,
    WeightOption,
    check_report,
    open_page,
    weights_of,
)
from greyscale.cli.voice import EveryOption, QuietOption

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greyscale.applying.preview import Preview
    from greyscale.charts.picture_tones import PictureTones
    from greyscale.correction.record import Correction
    from greyscale.readings.reading import Reading


class ProfileKind(StrEnum):
    """Profiles that a correction can bring along."""

    link = "link"
    grey = "grey"


class Intent(StrEnum):
    """Rendering intents whose tables can be amended."""

    perceptual = "perceptual"
    relative = "relative"
    saturation = "saturation"


def correct(
    readings: Annotated[
        list[Path],
        typer.Argument(
            metavar="READING [READING ...]",
            help="Readings of one printer and paper: starting chart, follow-up, a picture's "
            "chart. They are joined.",
        ),
    ],
    folder: Annotated[
        Path,
        typer.Option(
            "-o", metavar="DIR", help="Folder for the correction: curve, LUTs, figures, report."
        ),
    ],
    name: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="What to call it; the folder's name by default."),
    ] = None,
    aim: Annotated[
        str | None,
        typer.Option(
            autocompletion=completion.tone_aims,
            metavar="AIM",
            help="Tone aim, which is also the encoding of the pictures to come: lstar, srgb, "
            "gamma-1.8, gamma-2.2, density, or a CSV table of level and L*. [default: lstar]",
        ),
    ] = None,
    scaling: Annotated[
        str | None,
        typer.Option(
            autocompletion=completion.scalings,
            metavar="SCALING",
            help="How the tone aim is fitted to the print's black and paper: linear, "
            "black-point, none. [default: linear]",
        ),
    ] = None,
    neutral: Annotated[
        str | None,
        typer.Option(
            autocompletion=completion.neutral_aims,
            metavar="NEUTRAL",
            help="Neutral aim: fading, adapting, paper or absolute. [default: fading]",
        ),
    ] = None,
    toning: Annotated[
        str | None,
        typer.Option(
            autocompletion=completion.tonings,
            metavar="TONING",
            help="Tone the print on purpose: a preset's name, hue and chroma as 75,6 (highlights "
            "and shadows: 75,6/260,4), or a CSV table.",
        ),
    ] = None,
    light: Annotated[
        list[str] | None,
        typer.Option(
            autocompletion=completion.lights,
            metavar="LIGHT",
            help="The light it will hang in: a name, a mixture or a lamp's file; repeat it for one "
            "curve that serves several, L* by the first. Needs spectra. [default: D50]",
        ),
    ] = None,
    weight: WeightOption = None,
    worst_share: Annotated[
        float | None,
        typer.Option(
            metavar="0..1",
            help="With several lights: share of the worst one in the score that is minimised. "
            "[default: 0.5]",
        ),
    ] = None,
    glazing: GlazingOption = None,
    observer: Annotated[
        str | None,
        typer.Option(metavar="2|10", help="Observer, for --light. [default: 2]"),
    ] = None,
    previous: Annotated[
        Path | None,
        typer.Option(
            metavar="CORRECTION",
            help="The correction that all these readings were printed through: makes the next "
            "round.",
        ),
    ] = None,
    image: Annotated[
        Path | None,
        typer.Option(
            "--for-image",
            metavar="IMAGE",
            help="Sharpen it for this picture: its tones count most where tones must share, in "
            "making the curve smooth and in the 3D LUT. Says how the picture's tones fare, and "
            "whether a chart for it would help; the report shows it before and after.",
        ),
    ] = None,
    lut_size: Annotated[
        int | None,
        typer.Option(
            min=9,
            max=65,
            metavar="N",
            help="Nodes of the 3D LUT. [default: 33, more where the curve needs them]",
        ),
    ] = None,
    by_luminance: Annotated[
        bool,
        typer.Option(
            "--by-luminance",
            help="Make a 3D LUT that prints every colour as the grey of its luminance, for "
            "toned monochrome pictures.",
        ),
    ] = False,
    tone_only: Annotated[
        bool,
        typer.Option(
            "--tone-only",
            help="Send equal R, G, B: correct the tone scale and leave the tint.",
        ),
    ] = False,
    path: Annotated[
        str | None,
        typer.Option(
            metavar="device|SPACE",
            help="Where the chart went in: straight to the printer, or as values of this working "
            "space. [default: device]",
        ),
    ] = None,
    bits: Annotated[
        Literal["8", "16"] | None,
        typer.Option(help="Bits per channel on the way to the printer. [default: 16]"),
    ] = None,
    printer: Annotated[str | None, typer.Option(metavar="TEXT", help="For the record.")] = None,
    paper: Annotated[str | None, typer.Option(metavar="TEXT", help="For the record.")] = None,
    settings: Annotated[str | None, typer.Option(metavar="TEXT", help="For the record.")] = None,
    icc: Annotated[
        list[ProfileKind] | None,
        typer.Option(
            metavar="link|grey",
            help="Write ICC profiles as well: link, a device link with the correction; grey, a "
            "profile of the first reading for soft proofs. Repeat it for both.",
        ),
    ] = None,
    profile: Annotated[
        Path | None,
        typer.Option(
            "--amend",
            metavar="PROFILE",
            help="Write this RGB output profile anew, its greys neutral. The charts must have "
            "been printed with its driver settings, colour management off.",
        ),
    ] = None,
    intent: Annotated[
        list[Intent] | None,
        typer.Option(
            metavar="INTENT",
            help="With --amend: amend only this rendering intent: perceptual, relative or "
            "saturation; repeat it for more. [default: all]",
        ),
    ] = None,
    copyright_text: Annotated[
        str | None,
        typer.Option(
            "--copyright",
            metavar="TEXT",
            help="What the ICC profiles say of their copyright. [default: Copyright not stated; "
            "with --amend, what the profile says]",
        ),
    ] = None,
    layout: LayoutOption = None,
    ramp: RampOption = None,
    pdf: PdfOption = False,
    shown: OpenOption = False,
    unchecked: UncheckedOption = False,
    log: LogOption = False,
    db: DbOption = None,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
    verbose: EveryOption = False,
) -> None:
    """Make a correction from measured charts: a curve, LUTs, and what to expect of them.

    Example: greyscale correct cotton-rag.txt --name "Harbour light" -o harbour-light
    """
    from rich.console import Console

    from greyscale.base.errors import BadInput
    from greyscale.cli.checking import chart_of, checked
    from greyscale.cli.progress import working
    from greyscale.cli.recording import as_learnt, is_wanted, record_correction
    from greyscale.cli.shared_options import command_line, counted_tones
    from greyscale.correction.correct import correct as solve
    from greyscale.correction.correct import options
    from greyscale.correction.folder import (
        read_correction,
        refuse_other_folder,
        whole_folder,
        write_files,
    )
    from greyscale.readings.formats import read
    from greyscale.readings.lights import find_light
    from greyscale.reporting.correction_report import correction_report
    from greyscale.reporting.correction_words import show_correction
    from greyscale.reporting.next_step import after_correction
    from greyscale.reporting.report_folder import PAGE, write_report

    recording = is_wanted(log, db)
    check_report(folder, pdf, shown)
    if not light and (weight or glazing or observer or worst_share is not None):
        raise BadInput(
            "--weight, --worst-share, --glazing and --observer go with --light; name the lights"
        )
    inputs = [*readings, *(given for given in (previous, image, profile) if given)]
    refuse_other_folder(folder, inputs)
    before = None if previous is None else read_correction(previous)
    chart = chart_of(layout)
    given = [read(reading, ramp=ramp, layout=chart) for reading in readings]
    checks = checked(given, unchecked)
    tones = counted_tones(image)
    lights = tuple(find_light(one, glazing) for one in light or ())
    with working("Working out the correction"):
        correction = solve(
            given,
            options(
                before,
                name=name or folder.resolve().name,
                aim=aim,
                scaling=scaling,
                neutral=neutral,
                toning=toning,
                path=path,
                bits=None if bits is None else int(bits),
                printer=printer,
                paper=paper,
                settings=settings,
                picture=tones,
                tone_only=tone_only,
                lights=lights or None,
                weights=weights_of(weight, glazing, lights) if light else None,
                worst_share=worst_share,
                observer=observer,
            ),
        )
        if recording:
            correction = as_learnt(db, correction)
    if not correction.helps:
        from greyscale.reporting.correction_words import no_better

        typer.echo(f"greyscale: nothing is written: {no_better(correction)}", err=True)
        raise typer.Exit(1)
    with working("Writing the LUTs and drawing the report"), whole_folder(folder, inputs) as fresh:
        luts = write_files(correction, fresh, lut_size=lut_size, by_luminance=by_luminance)
        profiles = _write_profiles(
            correction, given[0], fresh, icc or (), profile, intent, copyright_text
        )
        preview = _preview(correction, given[0], image) if previous is None else None
        report = correction_report(
            correction, luts, command_line(), tones, preview,
            after_correction(folder, correction.evidence.tone_alone),
        )  # fmt: skip
        write_report(fresh, report.with_fact("Checks", checks), pdf=pdf)
    further = [*([] if tones is None else [_sureness(correction, tones)]), *profiles]
    show_correction(correction, luts, folder, Console(highlight=False), verbose, further)
    if shown:
        open_page(folder / PAGE)
    if recording:
        record_correction(
            db,
            folder,
            readings,
            previous,
            ramp=ramp,
            printer=printer,
            paper=paper,
            settings=settings,
        )


def _preview(correction: Correction, reading: Reading, image: Path | None) -> Preview | None:
    """Return the picture as it prints before and after, if there is one."""
    if image is None:
        return None
    from greyscale.applying.preview import preview_of_picture

    return preview_of_picture(correction, reading, image)


def _sureness(correction: Correction, tones: PictureTones) -> str:
    """Say how sure the correction is over the picture's tones."""
    from greyscale.correction.picture_sureness import picture_sureness
    from greyscale.reporting.picture_words import sureness_words

    return sureness_words(picture_sureness(correction, tones), tones.source)


def _write_profiles(
    correction: Correction,
    reading: Reading,
    folder: Path,
    kinds: Sequence[str],
    profile: Path | None,
    intents: Sequence[str] | None,
    rights: str | None,
) -> list[str]:
    """Write the ICC profiles asked for; give a line to show for each."""
    if not kinds and profile is None:
        return []
    from greyscale.base.files import write_whole
    from greyscale.icc import files
    from greyscale.icc.profile import NOT_STATED
    from greyscale.reporting.correction_words import amended_words

    lines = []
    own = rights or NOT_STATED
    if "link" in kinds:
        lines.append(f"Device link: {', '.join(files.write_links(correction, folder, own))}")
    if "grey" in kinds:
        names = files.write_grey_profiles(reading, folder, own)
        lines.append(f"Grey profile for soft proofs: {', '.join(names)}")
    if profile is not None:
        data, amendments = files.amend_profile(correction, profile, tuple(intents or ()), rights)
        write_whole(folder / files.AMENDED, data)
        lines.append(amended_words(files.AMENDED, amendments))
    return lines
