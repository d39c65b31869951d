"""A correction in sentences (what will go, what cannot, what comes next), and its report."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from greyscale.aims.tolerances import DEFAULT_TOLERANCE, tolerance
from greyscale.analysis.response import LIGHTNESS, STEPS
from greyscale.applying.preview import Preview
from greyscale.base.plain_text import MISSING, day_and_time, fixed, joined, percent, signed
from greyscale.charts.picture_tones import PictureTones
from greyscale.checks.identity import CODE_SAYS
from greyscale.checks.spoilt import spoilt_words
from greyscale.correction.expectation import limit_words
from greyscale.correction.folder import CLF, CURVE, JSON, LUT_1D, LUT_3D, Luts, gives, takes
from greyscale.correction.luts import CLOSE_ENOUGH, MOST_NODES
from greyscale.correction.record import Correction
from greyscale.correction.sureness import (
    largest_in_four_of_five,
    limit_of_largest,
    picture_sureness,
)
from greyscale.correction.targets import tone_aim_of
from greyscale.icc.amend import INTENTS, Amendment
from greyscale.reporting.analysis_words import (
    response_sentences,
    side_words,
    sureness_words,
    tolerance_in_words,
)
from greyscale.reporting.figures.correction import (
    colour_picture,
    correction_courses,
    curve_picture,
    preview_picture,
    strip_picture,
    tone_picture,
)
from greyscale.reporting.page import (
    CAUTIONS,
    Block,
    Facts,
    NextStep,
    Number,
    Numbers,
    Prose,
    Report,
    Section,
    Table,
    known_facts,
)
from greyscale.reporting.style import SIMULATED, Swatch, swatches

# What became of a profile, in words.


def amended_words(name: str, amendments: Sequence[Amendment]) -> str:
    """Say which intents of an amended profile print neutral, and how much of it changed.

    Examples
    --------
    >>> amended_words("amended.icc", [Amendment("B2A1", 1000, 120), Amendment("A2B1", 1000, 300)])
    'Amended profile: amended.icc; relative (12 % of its points to the printer changed)'
    """
    names = {number: intent for intent, number in INTENTS.items()}
    parts = [
        f"{names[int(one.table[3])]} ({100 * one.changed / one.points:.0f} % of its points to the "
        "printer changed)"
        for one in sorted(amendments, key=lambda one: one.table)
        if one.table.startswith("B2A")
    ]
    return f"Amended profile: {name}; {joined(parts)}"


LIGHT_BLACK = 15.0
"""L* of black from which the choice of scaling is named (common practice, no source)."""

_OTHER = {"linear": "black-point", "black-point": "linear"}

_ONE_TONE = 1.0 / 255.0 + 1e-9  # Levels from one tone to the next: no tone lies between.

_WORTH_SAYING = 0.05
"""ΔCh below this is not spoken of: no instrument repeats so well."""


def correction_sentences(correction: Correction) -> tuple[str, ...]:
    """What is expected first, then the limits, then how well the printer is known.

    How the driver answers comes before all where it decides what can be corrected.
    """
    response = correction.evidence.response
    answers = response_sentences(response, corrected=True)
    decides = response.kind in (LIGHTNESS, STEPS) or response.tone_step or response.darker_by > 0
    return (
        *(answers if decides else ()),
        _expected_colour(correction),
        *spoilt_words(correction.spoilt),
        *_trade_off(correction),
        *_unknown_brightener(correction),
        _expected_tone(correction),
        *(() if decides else answers),
        *_scaling(correction),
        *_limits(correction),
        _knowledge(correction),
    )


def no_better(correction: Correction) -> str:
    """Say why a correction is not worth writing, from the middle of a sentence on."""
    expected = correction.expectation
    doubts = [f". {remark}" for remark in correction.remarks if CODE_SAYS in remark]
    told = "a print through it should not be nearer"
    if correction.evidence.response.tone_step and expected.after < expected.before:
        told = "by a mode of so few tones, it cannot be told whether a print through it is nearer"
    return (
        f"{told} its aims than the print as it is: mean ΔCh "
        f"{fixed(expected.after_mean_delta_Ch)} and mean ΔL* {fixed(expected.after_mean_delta_L)} "
        f"expected, {fixed(expected.before_mean_delta_Ch)} and "
        f"{fixed(expected.before_mean_delta_L)} now{''.join(doubts)}"
    )


def lut_sentences(luts: Luts) -> tuple[str, ...]:
    """Say how closely the 3D LUT keeps to the curve, and what it does with colours."""
    near = f"within {fixed(luts.axis_delta_E00, 3)} ΔE00 of the curve on the grey axis"
    sentences = [f"The 3D LUT of {luts.size_3d} nodes stays {near}."]
    if luts.axis_delta_E00 >= CLOSE_ENOUGH:
        more = "More nodes would come closer; the" if luts.size_3d < MOST_NODES else "The"
        sentences.append(f"{more} 1D LUT and the Common LUT Format file are the curve itself.")
    runs = [
        f"{name} between the levels {fixed(run[0])} and {fixed(run[1])}"
        for name, run in zip(("red", "green", "blue"), luts.backwards, strict=True)
        if run is not None and run[1] - run[0] > _ONE_TONE
    ]
    if runs:
        sentences.append(
            f"The curve runs backwards in {joined(runs)}, as this printer needs it: greys come out "
            "right by every file, but for colours take the 3D LUT, which is kept from folding."
        )
    if luts.by_luminance:
        sentences.append("The 3D LUT prints every colour as the grey of its luminance.")
    else:
        far = fixed(luts.unchanged_from)
        sentences.append(f"The 3D LUT leaves colours of saturation {far} and more as they are.")
    return tuple(sentences)


def _expected_colour(correction: Correction) -> str:
    expected = correction.expectation
    before, after = expected.before_mean_delta_Ch, expected.after_mean_delta_Ch
    aim = f"the {correction.toning} toning" if correction.toning else "neutral"
    if correction.evidence.tone_alone:
        return (
            "Tone alone was measured: equal R, G and B are sent, which corrects the tone scale; "
            "what tint the print has is not known."
        )
    if correction.tone_only:
        return (
            f"Equal R, G and B are sent, which corrects the tone scale; the tint stays: mean ΔCh "
            f"{fixed(after)}{_under(correction)}, largest {fixed(expected.after_max_delta_Ch)}."
        )
    if after - before >= _WORTH_SAYING and len(correction.own_lights) > 1:
        return (
            f"For the sake of the other lights the print comes out farther from {aim}"
            f"{_under(correction)}: mean ΔCh {fixed(before)} now (without noise), {fixed(after)} "
            f"expected; largest {fixed(expected.before_max_delta_Ch)} now, "
            f"{fixed(expected.after_max_delta_Ch)} expected."
        )
    if before - after < _WORTH_SAYING:
        return (
            f"The print is as close to {aim}{_under(correction)} as the reading can tell: the "
            f"correction leaves the mean ΔCh at {fixed(before)} (largest "
            f"{fixed(expected.before_max_delta_Ch)})."
        )
    sheets = len(correction.evidence.sources)
    supposed = not correction.near_neutral
    another, least, most = map(fixed, expected.on_another_sheet(sheets, supposed))
    sure = " and answers beside the axis are supposed" if supposed else ""
    largest, _ = largest_in_four_of_five(correction)
    return (
        f"Of the departure from {aim}{_under(correction)}, {100 * (1 - after / before):.0f} % "
        f"should be removed: mean ΔCh {fixed(before)} now (without noise), {fixed(after)} "
        f"expected; largest {fixed(expected.before_max_delta_Ch)} now, "
        f"{fixed(expected.after_max_delta_Ch)} expected ({_range(largest)} in four cases out of "
        f"five){_where_largest(correction)}. That holds for a print like the "
        f"{'sheet' if sheets == 1 else f'{sheets} sheets'} read. No two sheets are alike: another, "
        f"as sheets usually differ{sure}, should come to {another} ({least} to {most} in four "
        "cases out of five)."
    )


def _where_largest(correction: Correction) -> str:
    """Say where the largest ΔCh is and why, if that is a limit; a proof may have no tone there."""
    limit, elsewhere = limit_of_largest(correction)
    if limit is None or correction.expectation.after_max_delta_Ch - elsewhere < _WORTH_SAYING:
        return ""
    start, end = fixed(limit.from_level, 3), fixed(limit.to_level, 3)
    where = {
        "black": f"below level {end}, where the curve blends into black",
        "paper": f"above level {start}, where the curve blends into bare paper",
    }.get(limit.kind, f"between levels {start} and {end}, where no values print the aim")
    return f", {where}; elsewhere {fixed(elsewhere)} at most"


def _range(ends: Sequence[float]) -> str:
    return " to ".join(map(fixed, ends))


def _under(correction: Correction) -> str:
    return f" under {correction.light}" if correction.lights else ""


def _trade_off(correction: Correction) -> tuple[str, ...]:
    if not correction.lights:
        return ()
    own, names = correction.trade_offs[-1], [one.name for one in correction.lights]
    asked = range(len(correction.own_lights))

    def each(means: Sequence[float]) -> str:
        return joined([f"{fixed(means[i])} under {names[i]}" for i in asked])

    expected = [one.expectation.after_mean_delta_Ch for one in correction.lights]
    sentence = f"Expected mean ΔCh: {each(expected)}"
    if correction.tone_only:
        return (
            f"{sentence}. Lights play no other part: equal R, G and B leave the tint as it "
            f"is, and L* is solved under {correction.light}.",
        )
    if names[: len(asked)] == ["D50"]:
        return (f"{sentence}.",)
    D50 = next(one for one in correction.trade_offs if one.solved_for == ("D50",))
    paid = "" if "D50" in own.solved_for else (
        f"; under D50, which it was not made for, {fixed(expected[names.index('D50')])}"
    )  # fmt: skip
    return (f"{sentence}; a correction for D50 alone would leave {each(D50.mean_delta_Ch)}{paid}.",)


def _unknown_brightener(correction: Correction) -> tuple[str, ...]:
    wide = [one for one in correction.own_lights if one.high - one.low > _WORTH_SAYING]
    if not wide:
        return ()
    ranges = joined([f"{fixed(one.low)} to {fixed(one.high)} under {one.name}" for one in wide])
    why = (
        "how strongly the light excites the brightener"
        if correction.evidence.glow_known
        else "how much brightener the paper has"
    )
    if any("glazing-curve" in one.light.rests_on for one in wide):
        why = f"what the glass lets through, nor {why}"
    return (f"It is not known {why}: the mean ΔCh may be {ranges}.",)


def _expected_tone(correction: Correction) -> str:
    expected = correction.expectation
    _, largest = largest_in_four_of_five(correction)
    # A driver's steps are beside what the curve is known to.
    stepped = correction.evidence.response.tone_step
    sure = "" if stepped else f" ({_range(largest)} in four cases out of five)"
    return (
        f"L* departs from the {correction.aim} aim by {fixed(expected.before_mean_delta_L)} on "
        f"average, {fixed(expected.before_max_delta_L)} at most; of that "
        f"{fixed(expected.after_mean_delta_L)} and {fixed(expected.after_max_delta_L)}{sure} "
        "should remain."
    )


def _scaling(correction: Correction) -> tuple[str, ...]:
    """Name the choice of scaling for a paper whose black is far from black."""
    black, paper = float(correction.black_lab[0]), float(correction.paper_lab[0])
    if black <= LIGHT_BLACK or correction.scaling not in _OTHER:
        return ()
    aim = tone_aim_of(correction)
    own, other = (
        float(aim.target([0.5], black, paper, scaling)[0])
        for scaling in (correction.scaling, _OTHER[correction.scaling])
    )
    if abs(own - other) < 1.0:
        return ()
    return (
        f"This paper's black is at L* {fixed(black, 0)}: {correction.scaling} scaling prints "
        f"mid-grey (level 0.5) at L* {fixed(own, 0)}; --scaling {_OTHER[correction.scaling]} "
        f"would print it at {fixed(other, 0)}.",
    )


def _limits(correction: Correction) -> tuple[str, ...]:
    left = correction.expectation.unreachable_mean_delta_Ch
    sentences = limit_words(correction.limits)
    if left >= _WORTH_SAYING:
        sentences.append(f"A mean ΔCh of {fixed(left)} remains whatever is sent to this printer.")
    return tuple(sentences) or ("All tones of the aim are within the printer's reach.",)


def _knowledge(correction: Correction) -> str:
    evidence = correction.evidence
    what = (
        f"{evidence.measurements} patches in {len(evidence.sources)} "
        f"{'reading' if len(evidence.sources) == 1 else 'readings'}"
    )
    if correction.tone_only:
        return f"How the printer answers along the grey axis was measured ({what})."
    if correction.near_neutral:
        return f"How the printer answers was measured beside the grey axis as well ({what})."
    return (
        f"How the printer answers beside the grey axis is assumed, not measured ({what}): the "
        "correction goes part of the way on purpose, and a second round will be worth it. "
        "Near-neutral patches on the chart (greyscale chart --near-neutral) would save that round, "
        "and tell whether the printer answers in colour at all."
    )


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
    lut_words = () if luts is None else lut_sentences(luts)
    use = (
        ("Takes", takes(correction)),
        ("Gives", gives(correction)),
        (LUT_1D, "for monochrome pictures: each channel by itself, exactly the curve"),
        (CLF, "the same in the Common LUT Format (SMPTE ST 2136-1), with these notes"),
        (LUT_3D, "for RGB pictures"),
        (CURVE, "the curve as a table, with the prediction"),
        (JSON, "everything needed for the next round"),
    )
    sections = (
        Section(
            "What should change",
            (_numbers_of(correction), strip_picture(shown), colour_picture(shown)),
        ),
        *_lights(correction),
        Section("Tone scale", (tone_picture(shown),)),
        *_picture(correction, tones, preview),
        *_out_of_reach(correction),
        Section(
            "What is sent",
            (
                curve_picture(correction),
                *([Prose(" ".join(lut_words))] if lut_words else []),
                _tones_table(correction),
            ),
        ),
        Section("How to use it", (Facts(use),)),
        Section("The evidence", _evidence(correction)),
    )
    return Report(
        "Correction", correction.name, correction_sentences(correction), sections,
        _facts_of(correction), (SIMULATED, CAUTION, *CAUTIONS), command, correction.rests_on, step,
        about=_about(correction), remarks=(*correction.remarks, *lut_words),
    )  # fmt: skip


def _about(correction: Correction) -> str:
    follows = f"follows {correction.follows}" if correction.follows else None
    known = (correction.printer, correction.paper, correction.settings, follows)
    return ", ".join((f"round {correction.round}", *(text for text in known if text)))


def _lights(correction: Correction) -> tuple[Section, ...]:
    if not correction.lights:
        return ()
    caption = (
        "Mean ΔCh expected under each light, by what the curve is solved for; the score is "
        f"{percent(correction.worst_share)} of the worst light that counts and "
        f"{percent(1 - correction.worst_share)} of the mean"
    )
    last = len(correction.trade_offs) - 1
    rows = tuple(
        (
            f"{' and '.join(one.solved_for)}{'' if len(one.solved_for) > 1 else ' alone'}"
            f"{' (this correction)' if i == last else ''}",
            *(fixed(mean) for mean in one.mean_delta_Ch),
            fixed(one.score),
        )
        for i, one in enumerate(correction.trade_offs)
    )
    head = ("solved for", *(one.name for one in correction.lights), "score")
    table = Table(head, rows, caption, frozenset({0}), sorts=False, at_once=True)
    text = (
        f"All figures and tables on this page except this one are under {correction.light}, "
        "against its own white. A tone has three values to send; what cannot be neutral under all "
        "lights is shared out between them."
    )
    return (Section("The lights", (table, Prose(text))),)


def _picture(
    correction: Correction, tones: PictureTones | None, preview: Preview | None
) -> tuple[Section, ...]:
    blocks: list[Block] = []
    sureness = None if tones is None else picture_sureness(correction, tones)
    if preview is not None:
        first, second = preview.sides
        before = side_words(first)
        after = side_words(second, None if sureness is None else sureness.delta_Ch)
        blocks += [
            preview_picture(preview, before, after),
            Prose(f"Before: {before}. After, as predicted: {after}."),
        ]
    if tones is not None and sureness is not None:
        blocks.append(Prose(" ".join((sureness_words(sureness, tones.source), *tones.remarks))))
    return (Section("The picture", tuple(blocks)),) if blocks else ()


def _numbers_of(correction: Correction) -> Numbers:
    expected = correction.expectation
    three = (
        ("mean ΔCh", expected.after_mean_delta_Ch, expected.before_mean_delta_Ch),
        ("largest ΔCh", expected.after_max_delta_Ch, expected.before_max_delta_Ch),
        ("mean ΔL*", expected.after_mean_delta_L, expected.before_mean_delta_L),
    )
    return Numbers(
        tuple(
            Number(
                fixed(after),
                f"{name} expected",
                f"{fixed(before)} now{', without noise' if name == 'mean ΔCh' else ''}",
            )
            for name, after, before in three
        )
    )


def _tones_table(correction: Correction) -> Table:
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


def _facts_of(correction: Correction) -> tuple[tuple[str, str], ...]:
    grade = tolerance(DEFAULT_TOLERANCE)
    rows = (
        ("Printer", correction.printer),
        ("Paper", correction.paper),
        ("Settings", correction.settings),
        ("Made", day_and_time(correction.created)),
        ("Round", str(correction.round)),
        ("Follows", correction.follows),
        ("Lights", _light_names(correction)),
        ("Tone aim", f"{correction.aim}, scaling {correction.scaling}"),
        ("Neutral aim", None if correction.toning else correction.neutral),
        ("Toning", correction.toning),
        (
            "Tolerance shown",
            tolerance_in_words(grade.name, grade.mean_delta_Ch, grade.max_delta_Ch),
        ),
        ("Made for the picture", correction.picture),
        ("Condition", f"{correction.condition} (ISO 13655)" if correction.condition else None),
        ("Backing", correction.backing),
    )
    return known_facts(rows, correction.remarks)


def _light_names(correction: Correction) -> str | None:
    if not correction.lights:
        return None
    alike = len({one.weight for one in correction.own_lights}) == 1
    names = [
        one.name if alike else f"{one.name}, weight {one.weight:g}" for one in correction.own_lights
    ]
    return f"{joined(names)}; {correction.observer}° observer"


def _out_of_reach(correction: Correction) -> tuple[Section, ...]:
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


def _evidence(correction: Correction) -> tuple[Block, ...]:
    evidence = correction.evidence
    rows = tuple(
        (
            source.name,
            joined([source.source, *filter(None, [source.glow_source])]),
            "uncorrected" if source.round == 0 else f"round {source.round}",
            str(source.patches),
            joined([source.condition or MISSING, *(["M2"] if source.glow_source else [])]),
            MISSING if source.created is None else f"{source.created:%Y-%m-%d %H:%M}",
            joined([one[:12] for one in (source.sha256, source.glow_sha256) if one]) or MISSING,
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
