"""The report and figures of a correction, as files in its folder."""

from __future__ import annotations

from functools import partial

import numpy as np

from greyscale.aims.tolerances import DEFAULT_TOLERANCE, tolerance
from greyscale.applying.preview import Preview
from greyscale.charts.picture_tones import PictureTones
from greyscale.correction.folder import CLF, CURVE, JSON, LUT_1D, LUT_3D, Luts, gives, takes
from greyscale.correction.picture_sureness import picture_sureness
from greyscale.correction.record import Correction
from greyscale.reporting.analysis_words import tolerance_in_words
from greyscale.reporting.before_after_pictures import (
    colour_picture,
    correction_courses,
    curve_picture,
    strip_picture,
    tone_picture,
)
from greyscale.reporting.cast_words import joined
from greyscale.reporting.correction_words import (
    correction_sentences,
    lut_sentences,
    trade_off_head,
    trade_off_rows,
)
from greyscale.reporting.figures.picture_before_after import EXAGGERATION, picture_before_after
from greyscale.reporting.next_step import NextStep
from greyscale.reporting.numbers import MISSING, day_and_time, fixed, signed
from greyscale.reporting.page import (
    CAUTIONS,
    Block,
    Facts,
    Number,
    Numbers,
    Picture,
    Prose,
    Report,
    Section,
    Table,
)
from greyscale.reporting.picture_words import sureness_words
from greyscale.reporting.preview_words import side_words
from greyscale.reporting.swatches import SIMULATED, Swatch, swatches

# The report of a correction: what it will do, what it cannot, what it sends, where it belongs.

KIND = "Correction"

CAUTION = (
    "A correction holds for this printer, this paper, these inks and these settings. After a "
    "change of any of them, and from time to time, measure again."
)

_TONES = 17


def correction_report(
    correction: Correction,
    luts: Luts | None,
    command: str = "",
    tones: PictureTones | None = None,
    preview: Preview | None = None,
    step: NextStep | None = None,
) -> Report:
    """Make the report of a correction; with the tones and a preview of its picture, if any."""
    shown = correction_courses(correction)
    first, *others = correction_sentences(correction)
    sections = (
        Section(
            "What should change",
            (numbers_of(correction), strip_picture(shown), colour_picture(shown)),
        ),
        *_lights(correction),
        *_picture(correction, tones, preview),
        Section("Tone scale", (tone_picture(shown),)),
        *_limits(correction),
        Section(
            "What is sent",
            (
                curve_picture(correction),
                *([] if luts is None else [Prose(" ".join(lut_sentences(luts)))]),
                tones_table(correction),
            ),
        ),
        Section("How to use it", _use(correction)),
        Section("The evidence", _evidence(correction)),
    )
    cautions = (SIMULATED, CAUTION, *CAUTIONS)
    return Report(
        KIND, correction.name, (first, " ".join(others)), sections, facts_of(correction),
        cautions, command, correction.rests_on, step,
    )  # fmt: skip


def _lights(correction: Correction) -> tuple[Section, ...]:
    if not correction.lights:
        return ()
    caption = (
        "Mean ΔCh expected under each light, by what the curve is solved for; the score is "
        f"{fixed(correction.worst_share)} of the worst light that counts and the rest of the mean"
    )
    head = trade_off_head(correction)
    table = Table(head, trade_off_rows(correction), caption, frozenset({0}), sorts=False)
    text = (
        f"All figures and tables of this page but this one are under {correction.light}, against "
        "its own white. A tone has three values to send; what cannot be neutral under all lights "
        "is shared out between them."
    )
    return (Section("The lights", (table, Prose(text))),)


def _picture(
    correction: Correction, tones: PictureTones | None, preview: Preview | None
) -> tuple[Section, ...]:
    blocks: list[Block] = []
    if preview is not None:
        before, after = (side_words(side) for side in preview.sides)
        blocks += [
            Picture(
                partial(picture_before_after, preview),
                "picture",
                alt=f"The picture as it prints before and after the correction. Before: {before}. "
                f"After, as predicted: {after}.",
                caption=f"As it prints on this paper under {preview.light}, simulated from the "
                f"reading; below, casts {EXAGGERATION:g} times as strong, so that a screen shows "
                "them.",
            ),
            Prose(f"Before: {before}. After, as predicted: {after}."),
        ]
    if tones is not None:
        blocks.append(Prose(sureness_words(picture_sureness(correction, tones), tones.source)))
    return (Section("The picture", tuple(blocks)),) if blocks else ()


def numbers_of(correction: Correction) -> Numbers:
    """Return what is expected, at a glance."""
    expected = correction.expectation
    return Numbers(
        (
            Number(
                fixed(expected.after_mean_delta_Ch),
                "mean ΔCh expected",
                f"{fixed(expected.before_mean_delta_Ch)} now, without noise",
            ),
            Number(
                fixed(expected.after_max_delta_Ch),
                "largest ΔCh expected",
                f"{fixed(expected.before_max_delta_Ch)} now",
            ),
            Number(
                fixed(expected.after_mean_delta_L),
                "mean ΔL* expected",
                f"{fixed(expected.before_mean_delta_L)} now",
            ),
        )
    )


def tones_table(correction: Correction) -> Table:
    """Return what is sent and predicted for even steps of level, from paper to black."""
    curve = correction.curve
    levels = np.linspace(1.0, 0.0, _TONES)
    sent = curve.apply(np.repeat(levels[:, np.newaxis], 3, axis=1))
    lab = curve.predict(levels)
    sd = np.column_stack([np.interp(levels, curve.levels, curve.sd[:, axis]) for axis in range(3)])
    drawn = swatches(lab)
    rows: tuple[tuple[str | Swatch, ...], ...] = tuple(
        (
            drawn[i],
            fixed(levels[i], 4),
            *(fixed(value, 4) for value in sent[i]),
            fixed(lab[i, 0]),
            signed(lab[i, 1]),
            signed(lab[i, 2]),
            f"{fixed(sd[i, 0])}, {fixed(np.hypot(sd[i, 1], sd[i, 2]) / np.sqrt(2))}",
        )
        for i in range(len(levels))
    )
    head = ("tone", "level", "R", "G", "B", "L*", "a*", "b*", "sd of L*, of a*b*")
    caption = f"What is sent (0 to 1) and what is predicted; every step is in {CURVE}"
    return Table(head, rows, caption, frozenset({0}))


def facts_of(correction: Correction) -> tuple[tuple[str, str], ...]:
    """Say what the correction is for and how it was asked for."""
    rows = (
        ("Printer", correction.printer),
        ("Paper", correction.paper_name),
        ("Settings", correction.settings),
        ("Made", day_and_time(correction.created)),
        ("Round", str(correction.round)),
        ("Follows", correction.follows),
        ("Lights", _light_names(correction)),
        ("Tone aim", f"{correction.aim}, scaling {correction.scaling}"),
        ("Neutral aim", None if correction.toning else correction.neutral),
        ("Toning", correction.toning),
        ("Tolerance shown", _tolerance()),
        ("Made for the picture", correction.picture),
        ("Condition", f"{correction.condition} (ISO 13655)" if correction.condition else None),
        ("Backing", correction.backing),
        *((("Remark" if i == 0 else ""), text) for i, text in enumerate(correction.remarks)),
    )
    return tuple((name, text) for name, text in rows if text)


def _light_names(correction: Correction) -> str | None:
    if not correction.lights:
        return None
    alike = len({one.weight for one in correction.own_lights}) == 1
    names = [
        one.name if alike else f"{one.name}, weight {one.weight:g}" for one in correction.own_lights
    ]
    return f"{joined(names)}; {correction.observer}° observer"


def _tolerance() -> str:
    grade = tolerance(DEFAULT_TOLERANCE)
    return tolerance_in_words(grade.name, grade.mean_delta_Ch, grade.max_delta_Ch)


def _limits(correction: Correction) -> tuple[Section, ...]:
    if not correction.limits:
        return ()
    rows = tuple(
        (
            limit.message,
            f"{fixed(limit.from_level, 3)} to {fixed(limit.to_level, 3)}",
            fixed(limit.max_delta_Ch),
            fixed(limit.max_delta_L),
        )
        for limit in correction.limits
    )
    head = ("what", "levels", "ΔCh left", "ΔL* left")
    return (Section("What cannot be corrected", (Table(head, rows, words=frozenset({0})),)),)


def _use(correction: Correction) -> tuple[Block, ...]:
    files = (
        (LUT_1D, "for monochrome pictures: each channel by itself, exactly the curve"),
        (CLF, "the same in the Common LUT Format (SMPTE ST 2136-1), with these notes"),
        (LUT_3D, "for RGB pictures"),
        (CURVE, "the curve as a table, with the prediction"),
        (JSON, "everything, for a next round"),
    )
    return (
        Facts(
            (
                ("Takes", takes(correction)),
                ("Gives", gives(correction)),
                *files,
            )
        ),
    )


def _evidence(correction: Correction) -> tuple[Block, ...]:
    evidence = correction.evidence
    rows = tuple(
        (
            source.name,
            source.source,
            "uncorrected" if source.round == 0 else f"round {source.round}",
            str(source.patches),
            source.condition or MISSING,
            MISSING if source.created is None else f"{source.created:%Y-%m-%d %H:%M}",
            (source.sha256 or MISSING)[:12],
        )
        for source in evidence.sources
    )
    head = ("reading", "file", "printed", "patches", "condition", "measured", "SHA-256")
    known = "measured" if evidence.known else "assumed: nothing was repeated"
    return (
        Table(head, rows, words=frozenset({0, 1, 2, 4, 5, 6})),
        Prose(
            f"Repeatability ({known}): standard deviation {fixed(evidence.sd_L)} in L*, "
            f"{fixed(evidence.sd_ab)} in a* and b*."
        ),
    )
