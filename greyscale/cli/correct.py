"""`greyscale correct`: from readings to a correction."""

from __future__ import annotations

import dataclasses
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from greyscale.base.errors import BadInput
from greyscale.cli import option, voice

if TYPE_CHECKING:
    from collections.abc import Sequence

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
        option.argument(
            "READING [READING ...]",
            "Readings of one printer and paper: starting chart, follow-up, a picture's "
            "chart. They are joined.",
        ),
    ],
    folder: Annotated[
        Path, option.value("DIR", "Folder for the correction: curve, LUTs, figures, report.", "-o")
    ],
    name: Annotated[
        str | None, option.value("TEXT", "What to call it; the folder's name by default.")
    ] = None,
    aim: Annotated[
        str | None,
        option.aim(
            "Tone aim, which is also the encoding of the pictures to come: lstar, srgb, "
            "gamma-1.8, gamma-2.2, density, or a CSV table of level and L*. [default: lstar]"
        ),
    ] = None,
    scaling: Annotated[
        str | None,
        option.scaling(
            "How the tone aim is fitted to the print's black and paper: linear, "
            "black-point, none. [default: linear]"
        ),
    ] = None,
    neutral: Annotated[
        str | None,
        option.neutral("Neutral aim: fading, adapting, paper or absolute. [default: fading]"),
    ] = None,
    toning: Annotated[
        str | None,
        option.toning(
            "Tone the print on purpose: a preset's name, hue and chroma as 75,6 (highlights "
            "and shadows: 75,6/260,4), or a CSV table."
        ),
    ] = None,
    light: Annotated[
        list[str] | None,
        option.light(
            "The light it will hang in: a name, a mixture or a lamp's file; repeat it for one "
            "curve that serves several, L* by the first. Needs spectra. [default: D50]"
        ),
    ] = None,
    weight: option.Weight = None,
    worst_share: Annotated[
        float | None,
        option.value(
            "0..1",
            "With several lights: share of the worst one in the score that is minimised. "
            "[default: 0.5]",
        ),
    ] = None,
    glazing: option.Glazing = None,
    observer: Annotated[
        str | None, option.value("2|10", "Observer, for --light. [default: 2]")
    ] = None,
    previous: Annotated[
        Path | None,
        option.value(
            "CORRECTION",
            "The correction that all these readings were printed through: makes the next round.",
        ),
    ] = None,
    image: Annotated[
        Path | None,
        option.value(
            "IMAGE",
            "Sharpen it for this picture: its tones count most where tones must share, in "
            "making the curve smooth and in the 3D LUT. Says how the picture's tones fare, and "
            "whether a chart for it would help; the report shows it before and after.",
            "--for-image",
        ),
    ] = None,
    lut_size: Annotated[
        int | None,
        option.value(
            "N",
            "Nodes of the 3D LUT. [default: 33, more where the curve needs them]",
            min=9,
            max=65,
        ),
    ] = None,
    by_luminance: Annotated[
        bool,
        option.flag(
            "--by-luminance",
            "Make a 3D LUT that prints every colour as the grey of its luminance, for "
            "toned monochrome pictures.",
        ),
    ] = False,
    tone_only: Annotated[
        bool,
        option.flag(
            "--tone-only", "Send equal R, G, B: correct the tone scale and leave the tint."
        ),
    ] = False,
    path: Annotated[
        str | None,
        option.value(
            "device|SPACE",
            "Where the chart went in: straight to the printer, or as values of this working "
            "space. [default: device]",
        ),
    ] = None,
    bits: Annotated[
        Literal["8", "16"] | None,
        typer.Option(help="Bits per channel on the way to the printer. [default: 16]"),
    ] = None,
    printer: option.Printer = None,
    paper: option.Paper = None,
    settings: option.Settings = None,
    icc: Annotated[
        list[ProfileKind] | None,
        option.value(
            "link|grey",
            "Write ICC profiles as well: link, a device link with the correction; grey, a "
            "profile of the first reading for soft proofs. Repeat it for both.",
        ),
    ] = None,
    profile: Annotated[
        Path | None,
        option.value(
            "PROFILE",
            "Write this RGB output profile anew, its greys neutral. The charts must have "
            "been printed with its driver settings, colour management off.",
            "--amend",
        ),
    ] = None,
    intent: Annotated[
        list[Intent] | None,
        option.value(
            "INTENT",
            "With --amend: amend only this rendering intent: perceptual, relative or "
            "saturation; repeat it for more. [default: all]",
        ),
    ] = None,
    copyright_text: Annotated[
        str | None,
        option.value(
            "TEXT",
            "What the ICC profiles say of their copyright. [default: Copyright not stated; "
            "with --amend, what the profile says]",
            "--copyright",
        ),
    ] = None,
    layout: option.Layout = None,
    ramp: option.Ramp = None,
    pdf: option.Pdf = False,
    shown: option.Open = False,
    unchecked: option.Unchecked = False,
    log: option.Log = False,
    db: option.Db = None,
    replace: option.Replace = False,
    verbose: voice.Every = False,
) -> None:
    """Make a correction from measured charts: a curve, LUTs, and what to expect of them.

    Example: greyscale correct cotton-rag.txt --name "Harbour light" -o harbour-light
    """

    from greyscale.cli.outputs import Results, command_line, counted_tones, open_page, taken
    from greyscale.cli.recording import as_learnt, is_wanted, record_correction
    from greyscale.correction import folder as folders
    from greyscale.correction.correct import correct as solve
    from greyscale.correction.correct import options
    from greyscale.readings.lamps import find_lights
    from greyscale.reporting.correction_report import correction_report, no_better
    from greyscale.reporting.html import PAGE, write_report
    from greyscale.reporting.next_step import after_correction
    from greyscale.reporting.terminal import show_report, terminal

    recording = is_wanted(log, db)
    Results(folder=folder, pdf=pdf, shown=shown)
    if not light and (weight or glazing or observer or worst_share is not None):
        raise BadInput(
            "--weight, --worst-share, --glazing and --observer go with --light; name the lights"
        )
    inputs = [*readings, *(given for given in (previous, image, profile) if given)]
    folders.refuse_other_folder(folder, inputs)
    before = None if previous is None else folders.read_correction(previous)
    given, checks = taken(readings, layout, unchecked, ramp=ramp)
    tones = counted_tones(image)
    lights = find_lights(light or (), glazing)
    doubts = []
    if path is not None:
        from greyscale.applying.apply import doubt_of_space

        doubts = [doubt for doubt in [doubt_of_space(path)] if doubt is not None]
    with voice.working("Working out the correction"):
        correction = solve(
            given,
            options(
                before,
                name=name or folder.resolve().name,
                aim=aim,
                scaling=scaling,
                neutral=neutral,
                toning=toning,
                space=path,
                bits=None if bits is None else int(bits),
                printer=printer,
                paper=paper,
                settings=settings,
                picture=tones,
                tone_only=tone_only,
                lights=lights or None,
                weights=option.weights_of(weight, glazing, lights) if light else None,
                worst_share=worst_share,
                observer=observer,
            ),
        )
        correction = dataclasses.replace(correction, remarks=(*correction.remarks, *doubts))
        if recording:
            correction = as_learnt(db, correction)
    if not correction.helps:
        typer.echo(f"greyscale: nothing is written: {no_better(correction)}", err=True)
        raise typer.Exit(1)
    with (
        voice.working("Writing the LUTs and drawing the report"),
        folders.whole_folder(folder, inputs) as fresh,
    ):
        luts = folders.write_files(correction, fresh, lut_size=lut_size, by_luminance=by_luminance)
        further = _write_profiles(
            correction, given[0], fresh, icc or (), profile, intent, copyright_text
        )
        preview = None
        if image is not None and previous is None:
            from greyscale.applying.preview import preview_of_picture

            preview = preview_of_picture(correction, given[0], image)
        report = correction_report(
            correction, luts, command_line(), tones, preview,
            after_correction(folder, correction.evidence.tone_alone),
        ).with_fact("Checks", checks)  # fmt: skip
        write_report(fresh, report, pdf=pdf)
    if tones is not None:
        from greyscale.correction.sureness import picture_sureness
        from greyscale.reporting.analysis_words import sureness_words

        known = sureness_words(picture_sureness(correction, tones), tones.source)
        further[:0] = [known, *tones.remarks]
    show_report(report, terminal(), verbose, folder, further)
    if shown:
        open_page(folder / PAGE)
    if recording:
        record_correction(
            db,
            folder,
            readings,
            previous,
            ramp=ramp,
            layout=layout,
            printer=printer,
            paper=paper,
            settings=settings,
        )


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
    from greyscale.reporting.correction_report import amended_words

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
