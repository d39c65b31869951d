"""The report and figures of a verification, as files in a folder."""

from __future__ import annotations

from dataclasses import asdict

from greyscale.analysis.analyse import Analysis
from greyscale.base.json_output import json_text
from greyscale.base.rests_on import support_data
from greyscale.checks.spoilt import spoilt_data
from greyscale.correction.verify import Verification
from greyscale.reporting.analysis_report import facts_of
from greyscale.reporting.analysis_words import tolerance_in_words
from greyscale.reporting.before_after_pictures import (
    colour_picture,
    strip_picture,
    tone_picture,
    verification_courses,
)
from greyscale.reporting.figures.before_after import BeforeAfter, Course
from greyscale.reporting.figures.ramp_strip import EXAGGERATION
from greyscale.reporting.json_output import (
    Data,
    neutrality_data,
    patches_data,
    reading_data,
    tone_data,
)
from greyscale.reporting.next_step import NextStep
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.page import (
    CAUTIONS,
    Inner,
    Number,
    Numbers,
    Prose,
    Report,
    Section,
    Switch,
    Table,
)
from greyscale.reporting.strips import plain_and_strong
from greyscale.reporting.swatches import SIMULATED, swatches
from greyscale.reporting.verification_words import HEAD, compared, verification_sentences

# A verification as JSON, schema "greyscale/verification/1".

SCHEMA = "greyscale/verification/1"


def verification_data(verification: Verification) -> Data:
    """Return a verification as plain data; the tones by falling level."""
    return {
        "schema": SCHEMA,
        "correction": verification.correction,
        "round": verification.round,
        "reading": reading_data(verification.after.reading),
        "before": _course(verification.before),
        "predicted": _course(verification.predicted),
        "after": _course(verification.after),
        "within_tolerance": verification.within_tolerance,
        "light": verification.light,
        "lights": [asdict(one) for one in verification.lights],
        "promise": asdict(verification.promise),
        "expected_mean_delta_Ch": verification.expected_mean_delta_Ch,
        "prediction_error": asdict(verification.prediction_error),
        "next_round": asdict(verification.next_round),
        "patches": _patches(verification),
        "rests_on": support_data(verification.rests_on),
        "spoilt": spoilt_data(verification.spoilt),
        "remarks": [*verification.after.remarks, *verification.oddities],
    }


def _course(analysis: Analysis) -> Data:
    return {
        "neutrality": neutrality_data(analysis.neutrality),
        "tone": tone_data(analysis.tone),
    }


def _patches(verification: Verification) -> list[Data]:
    predicted = verification.predicted.patches
    return [
        {
            **measured,
            "predicted_L": float(predicted.lab[i, 0]),
            "predicted_a": float(predicted.lab[i, 1]),
            "predicted_b": float(predicted.lab[i, 2]),
            "prediction_delta_E00": float(verification.delta_E00[i]),
        }
        for i, measured in enumerate(patches_data(verification.after.patches))
    ]


# The report of a verification: before, predicted and after, side by side.

KIND = "Proof of a correction"


def verification_report(
    verification: Verification, command: str = "", step: NextStep | None = None
) -> Report:
    """Make the report of a verification."""
    shown = verification_courses(verification)
    first, *others = verification_sentences(verification)
    sections = (
        Section(
            "Before and after",
            (
                numbers_of(verification),
                strip_picture(shown),
                print_by_print(verification, shown),
                colour_picture(shown),
            ),
        ),
        Section("Tone scale", (tone_picture(shown),)),
        Section("Side by side", (side_by_side(verification),)),
        Section("Another round?", (Prose(verification.next_round.reason),)),
        Section("Every tone", (tones_table(verification),)),
    )
    judged = verification.after.neutrality
    facts = (
        ("Correction", f"{verification.correction}, round {verification.round}"),
        ("Before", "the uncorrected ramp, from all the readings that the correction was made from"),
        *(
            _under_own_light(row, verification)
            for row in facts_of(verification.after)
            if row[0] != "Lights"
        ),
        (
            "Tolerance",
            tolerance_in_words(
                judged.tolerance, judged.tolerance_mean_delta_Ch, judged.tolerance_max_delta_Ch
            ),
        ),
    )
    return Report(
        KIND, f"{verification.correction}: did it work?", (first, " ".join(others)), sections,
        facts, (SIMULATED, *CAUTIONS), command, verification.rests_on, step,
        (verification.after.reading.source,),
        {"verification.json": json_text(verification_data(verification))},
    )  # fmt: skip


def _under_own_light(row: tuple[str, str], verification: Verification) -> tuple[str, str]:
    return row[0], row[1].replace("under D50", f"under {verification.light}", 1)


def print_by_print(verification: Verification, shown: BeforeAfter) -> Switch:
    """Show the ramp before, as predicted and after in the same place, so that a change is seen."""
    three = (verification.before, verification.predicted, verification.after)
    return Switch(
        "Print",
        tuple(
            (course.name, _one_print(course, ramp, shown.toned))
            for course, ramp in zip(shown.courses, three, strict=True)
        ),
    )


def _one_print(course: Course, ramp: Analysis, toned: bool) -> tuple[Inner, ...]:
    neutrality = ramp.neutrality
    enlarged = f"the cast {EXAGGERATION} times as strong"
    if toned and course.cast is None:
        enlarged = f"the distance from the toning {EXAGGERATION} times as large"
    return (
        *plain_and_strong(course.level, course.lab, course.enlarged, course.name),
        Prose(
            f"Simulated, below with {enlarged}. Mean ΔCh "
            f"{fixed(neutrality.mean_delta_Ch)}, largest {fixed(neutrality.max_delta_Ch)}; RMS ΔL* "
            f"{fixed(ramp.tone.rms_delta_L)}."
        ),
    )


def numbers_of(verification: Verification) -> Numbers:
    """Return the outcome at a glance."""
    before, after = verification.before, verification.after
    neutrality, error = after.neutrality, verification.prediction_error
    return Numbers(
        (
            Number(
                fixed(neutrality.mean_delta_Ch),
                "mean ΔCh",
                f"{fixed(before.neutrality.mean_delta_Ch)} before; promised "
                f"{fixed(verification.promise.after_mean_delta_Ch)}; "
                f"{neutrality.tolerance_mean_delta_Ch:g} allowed",
                neutrality.mean_delta_Ch <= neutrality.tolerance_mean_delta_Ch,
            ),
            Number(
                fixed(neutrality.max_delta_Ch),
                "largest ΔCh",
                f"{fixed(before.neutrality.max_delta_Ch)} before; "
                f"{neutrality.tolerance_max_delta_Ch:g} allowed",
                neutrality.max_delta_Ch <= neutrality.tolerance_max_delta_Ch,
            ),
            Number(
                fixed(after.tone.rms_delta_L),
                "RMS ΔL*",
                f"{fixed(before.tone.rms_delta_L)} before",
            ),
            Number(
                fixed(error.mean_delta_E00),
                "mean ΔE00 from the prediction",
                f"largest {fixed(error.max_delta_E00)} at level {fixed(error.max_at_level)}",
            ),
        )
    )


def side_by_side(verification: Verification) -> Table:
    """Compare the three ramps line by line."""
    return Table(HEAD, compared(verification), words=frozenset({0}), sorts=False)


def tones_table(verification: Verification) -> Table:
    """Return every tone as predicted and as it measures, from paper to black."""
    after, predicted = verification.after.patches, verification.predicted.patches
    drawn = swatches(after.lab)
    rows = tuple(
        (
            drawn[i],
            fixed(after.level[i], 3),
            *_lab(verification.predicted, i),
            *_lab(verification.after, i),
            fixed(predicted.delta_Ch[i]),
            fixed(after.delta_Ch[i]),
            fixed(verification.delta_E00[i]),
        )
        for i in range(len(after))
    )
    head = (
        "tone", "level", "L* predicted", "a*", "b*", "L* measured", "a*", "b*", "ΔCh predicted",
        "ΔCh", "ΔE00 from prediction",
    )  # fmt: skip
    return Table(head, rows, "The corrected print, tone by tone", frozenset({0}))


def _lab(analysis: Analysis, row: int) -> tuple[str, str, str]:
    L, a, b = analysis.patches.lab[row]
    return fixed(L), signed(a), signed(b)
