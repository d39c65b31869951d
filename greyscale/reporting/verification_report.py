"""A verification in sentences (did it work, was it foretold), as JSON, and as a report."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict

import numpy as np

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.neutrality import VISIBLE_DELTA_CH
from greyscale.base.plain_text import MISSING, beside, fixed, joined, percent, signed
from greyscale.base.rests_on import support_data
from greyscale.base.results import json_text
from greyscale.checks.finding import spoilt_data
from greyscale.checks.spoilt import spoilt_words
from greyscale.correction.accidents import is_up_and_down
from greyscale.correction.sureness import by_chance
from greyscale.correction.targets import has_ends
from greyscale.correction.verify import InLight, Verification
from greyscale.reporting.analysis_report import facts_of
from greyscale.reporting.analysis_words import beyond_limits, tolerance_in_words
from greyscale.reporting.figures.correction import (
    BeforeAfter,
    Course,
    colour_picture,
    strip_picture,
    tone_picture,
    verification_courses,
)
from greyscale.reporting.json_output import (
    Data,
    neutrality_data,
    patches_data,
    picked,
    reading_data,
)
from greyscale.reporting.page import (
    CAUTIONS,
    Inner,
    NextStep,
    Number,
    Numbers,
    Prose,
    Report,
    Section,
    Switch,
    Table,
    plain_and_strong,
)
from greyscale.reporting.style import EXAGGERATION, SIMULATED, swatches

_WORKED = 0.5
"""Less than this share of the error left: the correction worked; below 1 it helped."""


def verification_sentences(verification: Verification) -> tuple[str, ...]:
    """Say the verdict first, then the tone scale, the prediction, the next round.

    A doubt about what was printed comes before all: nothing is proved until it is settled.
    """
    foretold, after = _prediction(verification), verification.after.tone
    # That fewer values lie within the band than it says is a finding, and no remark.
    found = not verification.prediction_error.kept and not verification.accidents
    return (
        *verification.accidents,
        _outcome(verification),
        *((foretold,) if found else ()),
        _verdict(verification),
        *spoilt_words(verification.spoilt),
        *light_sentences(verification),
        *_ends(verification),
        *_black(verification),
        f"L* departs from the {after.aim} aim by at most {fixed(after.max_delta_L)}, "
        f"{fixed(verification.before.tone.max_delta_L)} before.",
        *(() if found else (foretold,)),
        verification.next_round.reason,
    )


def _outcome(verification: Verification) -> str:
    before, after = verification.before.neutrality, verification.after.neutrality
    where = f"under {verification.light} " if verification.lights else ""
    numbers = (
        f"{where}mean ΔCh {fixed(after.mean_delta_Ch)} measured, against "
        f"{fixed(before.mean_delta_Ch)} before, over all readings of the uncorrected print; "
        f"promised {fixed(verification.promise.after_mean_delta_Ch)} for the print, "
        f"{fixed(verification.expected_mean_delta_Ch)} with this reading's noise. Largest "
        f"{fixed(after.max_delta_Ch)}, promised {fixed(verification.expected_max_delta_Ch)} for "
        f"these tones with that noise, against {fixed(before.max_delta_Ch)} before; RMS ΔL* "
        f"{fixed(verification.after.tone.rms_delta_L)}, against "
        f"{fixed(verification.before.tone.rms_delta_L)} before"
    )
    if verification.tone_only:
        numbers = (
            f"RMS ΔL* {fixed(verification.after.tone.rms_delta_L)} measured, against "
            f"{fixed(verification.before.tone.rms_delta_L)} before; its tint was to stay: mean ΔCh "
            f"{fixed(after.mean_delta_Ch)}, {fixed(before.mean_delta_Ch)} before"
        )
    repeatability = verification.after.reading.repeatability.sd_Ch
    then, now = _error(verification, verification.before), _error(verification, verification.after)
    worse = ""
    if now > then + repeatability:
        nearer = after.mean_delta_Ch < before.mean_delta_Ch and not verification.tone_only
        worse = f"the print is worse than before{' in its tone' if nearer else ''}"
    if verification.accidents:
        as_measured = f"; as measured, {worse}" if worse else ""
        return f"Until that is settled this proves nothing{as_measured}: {numbers}."
    if worse:
        return f"{worse[0].upper()}{worse[1:]}: {numbers}."
    if now < _WORKED * then:
        return f"The correction worked: {numbers}."
    if abs(now - then) <= repeatability:
        return f"The correction changed no more than the repeatability: {numbers}."
    return f"The correction helped, but only in part: {numbers}."


def _error(verification: Verification, course: Analysis) -> float:
    """What the correction was to make less: tint and tone together, or tone alone."""
    tint = 0.0 if verification.tone_only else course.neutrality.mean_delta_Ch
    return float(np.hypot(tint, course.tone.rms_delta_L))


def light_sentences(verification: Verification) -> tuple[str, ...]:
    """Say how the print does in each light, those that the correction is for first."""
    if not verification.lights:
        return ()
    own = [one for one in verification.lights if one.counts]
    others = [one for one in verification.lights if not one.counts]
    said = [_in_light(one) for one in own]
    sentences = [f"In the light{'s' if len(own) > 1 else ''} that it was made for: "
                 f"{'; '.join(said)}."] if own else []  # fmt: skip
    if others:
        also = "; ".join(_in_light(one) for one in others)
        sentences.append(f"Looked at as well, but not judged: {also}.")
    return tuple(sentences)


def _in_light(one: InLight) -> str:
    promised = (
        ""
        if one.promised_mean_delta_Ch is None
        else f" ({fixed(one.promised_mean_delta_Ch)} promised)"
    )
    return (
        f"{one.name} mean ΔCh {fixed(one.after_mean_delta_Ch)}{promised}, "
        f"{fixed(one.before_mean_delta_Ch)} before, {one.verdict}"
    )


def _verdict(verification: Verification) -> str:
    after, tone = verification.after.neutrality, verification.after.tone
    allowed = (
        f"mean ΔCh {after.tolerance_mean_delta_Ch:g}, largest {after.tolerance_max_delta_Ch:g}; "
        f"mean ΔL* {tone.tolerance_mean_delta_L:g}, largest {tone.tolerance_max_delta_L:g}"
    )
    verdict = verification.verdict
    if verification.accidents and verdict != "fail":
        return (
            f"Whether it is within the {after.tolerance} tolerance ({allowed}) can be told once "
            "that is settled."
        )
    if verdict not in ("pass", "fail"):
        return (
            f"Whether it is within the {after.tolerance} tolerance ({allowed}) cannot be told from "
            f"this reading: it is with a probability of {percent(verification.after.probability)}."
        )
    if verdict == "pass":
        noisy = beyond_limits(after) or tone.faults
        noise = "; what lies beyond it, the reading's noise explains" if noisy else ""
        return f"It is within the {after.tolerance} tolerance ({allowed}){noise}."
    fails = [name for name, one in (("tint", after), ("tone", tone)) if one.verdict == "fail"]
    why = f": {joined(tone.faults)}" if "tone" in fails and tone.faults else ""
    where = joined([f"in {name}" for name in fails])
    return f"It is outside the {after.tolerance} tolerance ({allowed}) {where}{why}."


def _ends(verification: Verification) -> tuple[str, ...]:
    """Say what a proof without black, or without bare paper, was judged by."""
    ends = zip(has_ends(verification.after.patches.level), ("black", "bare paper"), strict=True)
    missing = " and no ".join(name for there, name in ends if not there)
    if not missing:
        return ()
    untold = "; whether shadows are distinct from black cannot be told" * ("black" in missing)
    return (
        f"The proof has no {missing}: its tones are held to the aims that the correction was made "
        f"for, with its own black and paper{untold}.",
    )


def _black(verification: Verification) -> tuple[str, ...]:
    """Say that black keeps its tint, which no figure of the tones tells, where it is visible."""
    delta_Ch = verification.after.neutrality.black_delta_Ch
    noise = 2 * verification.after.reading.repeatability.sd_Ch
    if verification.tone_only or delta_Ch < max(VISIBLE_DELTA_CH, noise):
        return ()
    return (f"Black keeps the tint of its ink: ΔCh {fixed(delta_Ch)}, not judged.",)


def _prediction(verification: Verification) -> str:
    error = verification.prediction_error
    broken = "more was promised than was kept"
    if verification.accidents:
        broken += ", or another print was measured"
    elif is_up_and_down(verification.after, verification.predicted.patches.lab):
        broken += (
            "; from tone to tone, as by clogged nozzles, or a driver that knows few amounts of ink "
            "or bends between the tones of its chart"
        )
    if error.as_stated:
        stated = "95 % should, give or take chance"
        if not error.kept:
            stated += (
                ", but the mean ΔCh is more than what was said of four sheets out of five: "
                + broken
            )
    else:
        if not by_chance(error.within_sheets):
            why = f", fewer than chance would leave: {broken}"
        elif error.kept:
            why = ", as far as chance allows: the promise is kept"
        else:
            why = (
                ", but they lie off together, one beside the other, or from neutral, as few sheets "
                f"do: {broken}"
            )
        stated = (
            "95 % should for the sheets read; for others, allowing for what sheets of one print "
            f"usually differ by, {100 * error.within_sheets:.0f} % do{why}"
        )
    return (
        f"The print lies {fixed(error.mean_delta_E00)} ΔE00 from the prediction on average, "
        f"{fixed(error.max_delta_E00)} at most (level {fixed(error.max_at_level)}); "
        f"{100 * error.within_stated:.0f} % of its values lie within the stated uncertainty "
        f"({stated})."
    )


def verification_data(verification: Verification) -> Data:
    """Return a verification as plain data; the tones by falling level."""
    return {
        "schema": "greyscale/verification/1",
        **picked(
            verification, "correction", "round", "within_tolerance", "light",
            "expected_mean_delta_Ch", "expected_max_delta_Ch", "verdict", "doubted",
        ),
        "reading": reading_data(verification.after.reading),
        "before": _course(verification.before),
        "predicted": _course(verification.predicted),
        "after": _course(verification.after),
        "lights": [asdict(one) for one in verification.lights],
        "promise": asdict(verification.promise),
        "prediction_error": asdict(verification.prediction_error),
        "next_round": asdict(verification.next_round),
        "patches": _patches(verification),
        "rests_on": support_data(verification.rests_on),
        "spoilt": spoilt_data(verification.spoilt),
        "remarks": [*verification.after.remarks, *verification.accidents],
    }  # fmt: skip


def _course(analysis: Analysis) -> Data:
    return {"neutrality": neutrality_data(analysis.neutrality), "tone": asdict(analysis.tone)}


def _patches(verification: Verification) -> list[Data]:
    after, predicted = verification.after.patches, verification.predicted.patches.lab.tolist()
    return [
        {
            **measured,
            **dict(zip(("predicted_L", "predicted_a", "predicted_b"), lab, strict=True)),
            "prediction_delta_E00": float(verification.delta_E00[i]),
        }
        for i, (measured, lab) in enumerate(zip(patches_data(after), predicted, strict=True))
    ]


def verification_report(
    verification: Verification, command: str = "", step: NextStep | None = None
) -> Report:
    """Make the report of a verification."""
    shown = verification_courses(verification)
    sections = (
        Section(
            "Before and after",
            (
                _numbers_of(verification),
                strip_picture(shown),
                _print_by_print(verification, shown),
                colour_picture(shown),
            ),
        ),
        Section("Tone scale", (tone_picture(shown),)),
        Section("Side by side", (_side_by_side(verification),)),
        Section("Another round?", (Prose(verification.next_round.reason),)),
        Section("Every tone", (_tones_table(verification),)),
    )
    judged = verification.after.neutrality
    facts = (
        ("Correction", f"{verification.correction}, round {verification.round}"),
        ("Before", "the uncorrected ramp, from all the readings that the correction was made from"),
        *(
            (name, text.replace("under D50", f"under {verification.light}", 1))
            for name, text in facts_of(verification.after)
            if name != "Lights"
        ),
        (
            "Tolerance",
            tolerance_in_words(
                judged.tolerance, judged.tolerance_mean_delta_Ch, judged.tolerance_max_delta_Ch
            ),
        ),
    )
    return Report(
        "Proof of a correction",
        f"{verification.correction}: did it work?", verification_sentences(verification),
        sections, facts, (SIMULATED, *CAUTIONS), command, verification.rests_on, step,
        (verification.after.reading.source,),
        lambda: {"verification.json": json_text(verification_data(verification))},
        f"round {verification.round}", remarks=verification.after.remarks,
    )  # fmt: skip


def _print_by_print(verification: Verification, shown: BeforeAfter) -> Switch:
    promise = verification.promise
    told_of = (
        _figures(verification.before),
        f"As the curve predicts it. Promised, with the uncertainty counted in: mean ΔCh "
        f"{fixed(promise.after_mean_delta_Ch)}, largest {fixed(promise.after_max_delta_Ch)}.",
        _figures(verification.after),
    )
    return Switch(
        "Print",
        lambda: (
            (course.name, (*_one_print(course, shown.toned), Prose(told)))
            for course, told in zip(shown.courses, told_of, strict=True)
        ),
    )


def _figures(ramp: Analysis) -> str:
    neutrality = ramp.neutrality
    return (
        f"Mean ΔCh {fixed(neutrality.mean_delta_Ch)}, largest {fixed(neutrality.max_delta_Ch)}; "
        f"RMS ΔL* {fixed(ramp.tone.rms_delta_L)}."
    )


def _one_print(course: Course, toned: bool) -> tuple[Inner, ...]:
    enlarged = f"the cast {EXAGGERATION} times as strong"
    if toned and course.cast is None:
        enlarged = f"the distance from the toning {EXAGGERATION} times as large"
    return (
        *plain_and_strong(course.level, course.lab, course.enlarged, course.name),
        Prose(f"Simulated, below with {enlarged}.", of_pictures=True),
    )


def _numbers_of(verification: Verification) -> Numbers:
    before, after = verification.before, verification.after
    neutrality, error = after.neutrality, verification.prediction_error
    return Numbers(
        (
            Number(
                beside(neutrality.mean_delta_Ch, neutrality.tolerance_mean_delta_Ch),
                "mean ΔCh",
                f"{fixed(before.neutrality.mean_delta_Ch)} before; promised "
                f"{fixed(verification.promise.after_mean_delta_Ch)}; "
                f"{neutrality.tolerance_mean_delta_Ch:g} allowed",
                _kept(verification, neutrality.mean_delta_Ch, neutrality.tolerance_mean_delta_Ch),
            ),
            Number(
                beside(neutrality.max_delta_Ch, neutrality.tolerance_max_delta_Ch),
                "largest ΔCh",
                f"{fixed(before.neutrality.max_delta_Ch)} before; promised for these tones "
                f"{fixed(verification.expected_max_delta_Ch)} with noise; "
                f"{neutrality.tolerance_max_delta_Ch:g} allowed",
                _kept(verification, neutrality.max_delta_Ch, neutrality.tolerance_max_delta_Ch),
            ),
            Number(
                fixed(after.tone.rms_delta_L), "RMS ΔL*", f"{fixed(before.tone.rms_delta_L)} before"
            ),
            Number(
                fixed(error.mean_delta_E00),
                "mean ΔE00 from the prediction",
                f"largest {fixed(error.max_delta_E00)} at level {fixed(error.max_at_level)}",
            ),
        )
    )


def _kept(verification: Verification, value: float, limit: float) -> bool | None:
    """Whether a limit is kept; None where that would prove nothing."""
    return None if verification.accidents and value <= limit else value <= limit


LINES: tuple[tuple[str, Callable[[Analysis], str]], ...] = (
    ("mean ΔCh", lambda one: fixed(one.neutrality.mean_delta_Ch)),
    ("largest ΔCh", lambda one: fixed(one.neutrality.max_delta_Ch)),
    ("at level", lambda one: fixed(one.neutrality.max_at_level)),
    ("verdict", lambda one: one.verdict),
    ("ΔCh of black", lambda one: fixed(one.neutrality.black_delta_Ch)),
    ("RMS ΔL*", lambda one: fixed(one.tone.rms_delta_L)),
    ("largest ΔL*", lambda one: fixed(one.tone.max_delta_L)),
    ("reversals", lambda one: str(len(one.tone.reversals))),
    ("density range", lambda one: fixed(one.tone.density_range)),
    ("L* of paper", lambda one: fixed(float(one.paper[0]), 1)),
    ("L* of black", lambda one: fixed(float(one.black[0]), 1)),
)
"""What is compared."""


def _side_by_side(verification: Verification) -> Table:
    """Compare the three ramps line by line: before, promised, after.

    What the correction promised of the mean ΔCh stands as it was made; the rest is of the same
    tones.
    """
    promise = verification.promise
    promised = {
        "mean ΔCh": fixed(promise.after_mean_delta_Ch),
        "largest ΔCh": fixed(verification.expected_max_delta_Ch),
        "at level": MISSING,
        "verdict": MISSING,
    }
    found = {"verdict": verification.verdict}
    rows = tuple(
        (
            name,
            value(verification.before),
            promised.get(name, value(verification.predicted)),
            found.get(name, value(verification.after)),
        )
        for name, value in LINES
    )
    head = ("figure", "before", "promised", "after")
    return Table(head, rows, words=frozenset({0}), sorts=False)


def _tones_table(verification: Verification) -> Table:
    after = verification.after.patches
    drawn = swatches(after.lab)
    rows = tuple(
        (
            drawn[i],
            fixed(after.level[i], 3),
            *_lab(verification.predicted, i),
            *_lab(verification.after, i),
            signed(after.delta_L[i]),
            fixed(after.delta_Ch[i]),
            fixed(verification.delta_E00[i]),
        )
        for i in range(len(after))
    )
    head = (
        "tone", "level", "L* predicted", "a*", "b*", "L* measured", "a*", "b*", "ΔL*",
        "ΔCh", "ΔE00 from prediction",
    )  # fmt: skip
    return Table(head, rows, "The corrected print, tone by tone", frozenset({0}))


def _lab(analysis: Analysis, row: int) -> tuple[str, str, str]:
    L, a, b = analysis.patches.lab[row]
    return fixed(L), signed(a), signed(b)
