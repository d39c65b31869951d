"""A correction in sentences: what will go, what cannot, and what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.response import LIGHTNESS, STEPS
from greyscale.checks import spoilt_words
from greyscale.correction.folder import Luts
from greyscale.correction.luts import CLOSE_ENOUGH, MOST_NODES
from greyscale.correction.record import Correction
from greyscale.correction.targets import tone_aim_of
from greyscale.icc.amend import INTENTS, Amendment
from greyscale.reporting.cast_words import joined
from greyscale.reporting.next_step import after_correction
from greyscale.reporting.numbers import fixed, signed
from greyscale.reporting.response_words import response_sentences
from greyscale.reporting.terminal import conclude, plain_table

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
    """Say why a correction is not worth writing, in the middle of a sentence."""
    expected = correction.expectation
    told = "a print through it should not be nearer"
    if correction.evidence.response.tone_step and expected.after < expected.before:
        told = "by a mode of so few tones, it cannot be told whether a print through it is nearer"
    return (
        f"{told} its aims than the print as it is: mean ΔCh "
        f"{fixed(expected.after_mean_delta_Ch)} and mean ΔL* {fixed(expected.after_mean_delta_L)} "
        f"expected, {fixed(expected.before_mean_delta_Ch)} and "
        f"{fixed(expected.before_mean_delta_L)} now"
    )


def lut_sentences(luts: Luts) -> tuple[str, ...]:
    """Say how closely the 3D LUT keeps to the curve, and what it does with colours."""
    near = f"within {fixed(luts.axis_delta_E00, 3)} ΔE00 of the curve on the grey axis"
    sentences = [f"The 3D LUT of {luts.size_3d} nodes keeps {near}."]
    if luts.axis_delta_E00 >= CLOSE_ENOUGH:
        more = "More nodes would keep closer; the" if luts.size_3d < MOST_NODES else "The"
        sentences.append(f"{more} 1D LUT and the Common LUT Format file are the curve itself.")
    runs = [
        f"{name} between the levels {fixed(run[0])} and {fixed(run[1])}"
        for name, run in zip(("red", "green", "blue"), luts.backwards, strict=True)
        if run is not None
    ]
    if runs:
        sentences.append(
            f"The curve runs backwards in {joined(runs)}, as this printer needs it: greys are "
            "right by every file, but for colours take the 3D LUT, which is kept from folding."
        )
    if luts.by_luminance:
        sentences.append("It prints every colour as the grey of its luminance.")
    else:
        far = fixed(luts.unchanged_from)
        sentences.append(f"It leaves colours of saturation {far} and more as they are.")
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
    if before - after < _WORTH_SAYING:
        return (
            f"The print is as close to {aim}{_under(correction)} as the reading can tell: the "
            f"correction leaves the mean ΔCh at {fixed(before)} (largest "
            f"{fixed(expected.before_max_delta_Ch)})."
        )
    sheets = len(correction.evidence.sources)
    another, least, most = map(fixed, expected.on_another_sheet(sheets))
    return (
        f"Of the departure from {aim}{_under(correction)}, {100 * (1 - after / before):.0f} % "
        f"should be removed: mean ΔCh {fixed(before)} now (without noise), {fixed(after)} "
        f"expected; largest {fixed(expected.before_max_delta_Ch)} now, "
        f"{fixed(expected.after_max_delta_Ch)} expected. That is of a print like the "
        f"{'sheet' if sheets == 1 else f'{sheets} sheets'} read: no two are alike, and as they "
        f"usually differ, another should come to {another} ({least} to {most} in four cases of "
        "five)."
    )


def _under(correction: Correction) -> str:
    return f" under {correction.light}" if correction.lights else ""


TRADE_OFF_HEAD = "solved for"


def trade_off_rows(correction: Correction) -> tuple[tuple[str, ...], ...]:
    """Return a row for each choice of lights: what for, then the mean ΔCh expected in each light.

    The last is the correction itself. Empty where it is for D50 as ever.
    """
    if not correction.lights:
        return ()
    last = len(correction.trade_offs) - 1
    return tuple(
        (
            f"{' and '.join(one.solved_for)}{'' if len(one.solved_for) > 1 else ' alone'}"
            f"{' (this correction)' if i == last else ''}",
            *(fixed(mean) for mean in one.mean_delta_Ch),
            fixed(one.score),
        )
        for i, one in enumerate(correction.trade_offs)
    )


def trade_off_head(correction: Correction) -> tuple[str, ...]:
    """Return the headings of `trade_off_rows`."""
    return (TRADE_OFF_HEAD, *(one.name for one in correction.lights), "score")


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
        f"; under D50, which it is not made for, {fixed(expected[names.index('D50')])}"
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
    return (
        f"L* departs from the {correction.aim} aim by {fixed(expected.before_mean_delta_L)} on "
        f"average, {fixed(expected.before_max_delta_L)} at most; of that "
        f"{fixed(expected.after_mean_delta_L)} and {fixed(expected.after_max_delta_L)} should "
        "remain."
    )


def _scaling(correction: Correction) -> tuple[str, ...]:
    """Name the choice of scaling for a paper whose black is far from black."""
    black, paper = float(correction.black[0]), float(correction.paper[0])
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
        f"mid-grey (level 0.5) at L* {fixed(own, 0)}, --scaling {_OTHER[correction.scaling]} would "
        f"at {fixed(other, 0)}.",
    )


def _limits(correction: Correction) -> tuple[str, ...]:
    left = correction.expectation.unreachable_mean_delta_Ch
    sentences = [limit.message for limit in correction.limits]
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
        "correction goes part of the way on purpose, and a second round will pay. Near-neutral "
        "patches on the chart (greyscale chart --near-neutral) would save that round, and tell "
        "whether the printer answers in colour at all."
    )


# A correction in the terminal: what is sent, then what will be removed and what cannot.

_LEVELS = 11


def show_correction(
    correction: Correction,
    luts: Luts,
    folder: Path,
    console: Console,
    every: bool = False,
    further: Sequence[str] = (),
) -> None:
    """Print a correction that was written to a folder.

    Parameters
    ----------
    console
        Where to print; it decides about colour (NO_COLOR, not a terminal: none).
    every
        The tables as well.
    further
        Sentences on what else was written.
    """
    console.print(heading(correction))
    console.print()
    if correction.lights:
        console.print(trade_off_table(correction))
        console.print()
    if every:
        console.print(expectation_table(correction))
        console.print()
        console.print(tones_table(correction))
        console.print()
    conclude(
        console,
        (*correction_sentences(correction), *further),
        after_correction(folder, correction.evidence.tone_alone),
        remarks=(*correction.remarks, *lut_sentences(luts)),
        rests_on=correction.rests_on,
        every=every,
        written=folder,
    )


def heading(correction: Correction) -> Text:
    """Return the name, and what it is for, as one line."""
    known = [correction.printer, correction.paper_name, correction.settings]
    details = [f"round {correction.round}", *(text for text in known if text)]
    if correction.follows:
        details.append(f"follows {correction.follows}")
    return Text.assemble((correction.name, "bold"), "  ", (", ".join(details), "dim"))


def expectation_table(correction: Correction) -> Table:
    """Return the errors now and as expected."""
    expected = correction.expectation
    where = f" under {correction.light}" if correction.lights else ""
    table = plain_table(f"Against the aim{where}", ("figure", "now", "expected"))
    rows = (
        ("mean ΔCh", expected.before_mean_delta_Ch, expected.after_mean_delta_Ch),
        ("largest ΔCh", expected.before_max_delta_Ch, expected.after_max_delta_Ch),
        ("mean ΔL*", expected.before_mean_delta_L, expected.after_mean_delta_L),
        ("largest ΔL*", expected.before_max_delta_L, expected.after_max_delta_L),
    )
    for name, before, after in rows:
        table.add_row(name, fixed(before), fixed(after))
    return table


def trade_off_table(correction: Correction) -> Table:
    """Return what each choice of lights would leave under all of them."""
    table = plain_table("Mean ΔCh expected, by light", trade_off_head(correction))
    for row in trade_off_rows(correction):
        table.add_row(*row)
    return table


def tones_table(correction: Correction) -> Table:
    """Return what is sent and predicted for even steps of level, from paper to black."""
    curve = correction.curve
    levels = np.linspace(1.0, 0.0, _LEVELS)
    sent = curve.apply(np.repeat(levels[:, np.newaxis], 3, axis=1))
    lab = curve.predict(levels)
    table = plain_table("Sent, and predicted", ("level", "R", "G", "B", "L*", "a*", "b*"), ())
    for level, rgb, tone in zip(levels, sent, lab, strict=True):
        table.add_row(
            fixed(level),
            *(fixed(value, 4) for value in rgb),
            fixed(tone[0], 1),
            signed(tone[1]),
            signed(tone[2]),
        )
    return table
