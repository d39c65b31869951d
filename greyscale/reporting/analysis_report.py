"""A folder with everything on an analysis: page, figures, JSON, table."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

import numpy as np

from greyscale.aims.tone import SCALINGS
from greyscale.analysis.analyse import Analysis, ReadingFacts
from greyscale.analysis.neutrality import Cast, to_be_named
from greyscale.analysis.under_lights import UnderLight
from greyscale.base.plain_text import MISSING, beside, day_and_time, fixed, joined, signed, span
from greyscale.base.results import json_text
from greyscale.colorimetry.lights import REFERENCE_LIGHT
from greyscale.reporting.analysis_words import (
    by_size,
    describe_cast,
    light_figures,
    sentences,
    summary,
    tolerance_in_words,
    verdict,
)
from greyscale.reporting.figures.analysis import (
    ab_path,
    lights_drawn,
    metamerism_by_light,
    neutral_drift,
    ramp_strip,
    tone_curve,
)
from greyscale.reporting.json_output import analyses_data, patch_columns
from greyscale.reporting.next_step import after_analysis
from greyscale.reporting.page import (
    CAUTIONS,
    Block,
    Facts,
    NextStep,
    Number,
    Numbers,
    Picture,
    Prose,
    Report,
    Section,
    Strip,
    Subheading,
    Switch,
    Table,
    known_facts,
    plain_and_strong,
    strip,
)
from greyscale.reporting.style import EXAGGERATION, SIMULATED, swatches

# The ramp as a table for a spreadsheet: one line a patch, by falling level.

DECIMALS = 4


def patches_csv(analysis: Analysis) -> str:
    """Return CSV text: ids, levels, what was measured, the aim, the differences, then each light.

    Columns of a light are named by it, as `A a`, `A metamerism index`. Numbers have four
    decimals and a decimal point; lines end in LF.
    """
    columns = patch_columns(analysis.patches)
    for light in analysis.lights or ():
        columns |= {
            f"{light.name} L": light.lab[:, 0],
            f"{light.name} a": light.lab[:, 1],
            f"{light.name} b": light.lab[:, 2],
            f"{light.name} metamerism index": light.metamerism_index,
            f"{light.name} colour inconstancy": light.colour_inconstancy,
        }
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["id", *columns])
    # Adding zero takes the sign off a rounded -0.
    numbers = np.column_stack(list(columns.values())).round(DECIMALS) + 0.0
    for name, row in zip(analysis.patches.ids, numbers, strict=True):
        writer.writerow([cell(name), *(f"{value:.{DECIMALS}f}" for value in row)])
    return text.getvalue()


def cell(text: str) -> str:
    """Return a text as a spreadsheet takes it for text: what begins like a formula is quoted.

    Examples
    --------
    >>> cell("A1"), cell("=1+1"), cell("-B2")
    ('A1', "'=1+1", "'-B2")
    """
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


# The pictures of an analysis, with what to read in them and what they show in words.


def _strip_picture(analysis: Analysis, stem: str) -> Picture:
    hues = [cast.hue for cast in reversed(to_be_named(analysis.neutrality.casts))]
    return Picture(
        lambda look: ramp_strip(analysis, look),
        f"{stem}ramp",
        alt="Three strips of tones from black to paper: as they measure, neutral at the same "
        f"L*, and with the cast {EXAGGERATION} times as strong. From paper to black: "
        f"{joined(hues) or 'no cast'}.",
        caption="Simulated tones, from black to paper. Where the two upper strips part, the print "
        f"has a cast; the lowest strip shows it {EXAGGERATION} times as strong, so that its hue "
        "is plain on any screen.",
    )


def _drift_picture(analysis: Analysis, stem: str) -> Picture:
    neutrality = analysis.neutrality
    limit = neutrality.tolerance_max_delta_Ch
    casts = [
        f"{cast.hue} from level {fixed(cast.from_level)} to {fixed(cast.to_level)}"
        for cast in to_be_named(neutrality.casts)
    ]
    return Picture(
        lambda look: neutral_drift(analysis, look),
        f"{stem}drift",
        alt=f"a*, b* and ΔCh over level. a* lies between {_span(neutrality.a_range)}, b* between "
        f"{_span(neutrality.b_range)}. ΔCh is largest, {fixed(neutrality.max_delta_Ch)}, at level "
        f"{fixed(neutrality.max_at_level)}. "
        + (f"Casts: {joined(casts)}." if casts else "There is no cast."),
        caption=f"The shaded band is the most that the {neutrality.tolerance} grade allows, "
        f"{limit:g}. In a* and b* it holds for each alone; what counts is ΔCh, which takes both "
        "together. Paper and black are left out of ΔCh: their tint is the paper's and the ink's. "
        "Bars name the casts.",
    )


def _path_picture(analysis: Analysis, stem: str) -> Picture:
    drawn = [light.name for light in lights_drawn(analysis)]
    others = [light for light in analysis.lights or () if light.name != REFERENCE_LIGHT]
    lights = f", and under {joined(drawn)}" if drawn else ""
    patches = analysis.patches
    paper, black = patches.lab[patches.paper_index], patches.lab[patches.black_index]
    also = ""
    if drawn:
        also = (
            " Each light has a plane of its own, with colours held against that light's white and "
            "the aim from the paper as it is under it; the thin line is the path under D50."
        )
    if len(drawn) < len(others):
        also += f" Of {len(others)} lights, those are drawn that change the greys most."
    return Picture(
        lambda look: ab_path(analysis, look),
        f"{stem}path",
        alt=f"The ramp's path in the a*b* plane under D50{lights}: from paper at a* "
        f"{signed(paper[1])}, b* {signed(paper[2])} to black at a* {signed(black[1])}, b* "
        f"{signed(black[2])}, beside the neutral aim.",
        caption="Seen from above, lightness left out: arrows lead from paper to black, each dot "
        "is filled with its tone. A neutral print stays within the shaded shape; loops mean that "
        f"highlights and shadows have different casts.{also}",
    )


def _tone_picture(analysis: Analysis, stem: str) -> Picture:
    tone = analysis.tone
    reversals = (
        f" The scale reverses at {joined([fixed(level) for level in tone.reversals])}."
        if tone.reversals
        else ""
    )
    return Picture(
        lambda look: tone_curve(analysis, look),
        f"{stem}tone",
        alt=f"L* over level with the {tone.aim} aim, and the error ΔL* below: RMS "
        f"{fixed(tone.rms_delta_L)}, largest {fixed(tone.max_delta_L)} at level "
        f"{fixed(tone.max_at_level)}.{reversals}",
        caption="The aim is fitted between this print's own black and paper, so both ends of the "
        "error are 0."
        if tone.scaling == "linear"
        else "",
    )


def _metamerism_picture(analysis: Analysis, stem: str) -> Picture:
    others = [light for light in analysis.lights or () if light.name != REFERENCE_LIGHT]
    most = joined([f"{light.name} at most {fixed(light.max_metamerism_index)}" for light in others])
    return Picture(
        lambda look: metamerism_by_light(analysis, look),
        f"{stem}metamerism",
        alt=f"Metamerism index over level: {most}.",
        caption="How far each tone parts from a grey of flat spectrum that matches it under D50, "
        "once the light changes; 0 is a grey that stays neutral under this light.",
    )


def _span(limits: tuple[float, float]) -> str:
    return f"{signed(limits[0])} and {signed(limits[1])}"


NEUTRAL_AIMS_IN_WORDS = {
    "fading": "the paper's tint, fading to 15 % of itself at black, linearly in L* (ISO "
    "12647-2:2013; black is the darkest patch here)",
    "adapting": "the paper's tint, fading to 15 % of itself at black, linearly in luminance "
    "(after High, Nussbaum and Green, 2023)",
    "paper": "the paper's own a*, b* at every tone",
    "absolute": "a* = b* = 0 at every tone",
}


def analysis_report(
    analyses: Sequence[Analysis], command: str = "", step: NextStep | None = None
) -> Report:
    """Make the report of one or more analyses, with `analysis.json` and a `patches.csv` for each.

    With several readings, the names of figures and tables begin with each reading's own. Without
    a `step` to do next, it is what follows from the analyses alone.
    """
    stems = _stems(analyses)
    if len(analyses) == 1:
        only = analyses[0]
        title, facts, remarks = only.reading.name, facts_of(only), only.remarks
        sections = _sections_of(only, stems[0])
        about, paragraph = _about(only), " ".join(sentences(only))
    else:
        names = _names(analyses)
        title, facts = joined(names), ()
        each = tuple(zip(analyses, names, strict=True))
        remarks = tuple(f"{name}: {text}" for one, name in each for text in one.remarks)
        parts = (_joined_section(*of, stem) for of, stem in zip(each, stems, strict=True))
        sections = (_side_by_side(each), *parts)
        about = paragraph = ""
    rests_on = tuple(support for one in analyses for support in one.rests_on)
    clipped = sum(swatch.clipped for one in analyses for swatch in swatches(one.patches.lab))
    drawn = SIMULATED
    if clipped:
        drawn += f" {clipped} of the tones lie outside sRGB and are drawn at its edge."

    def texts() -> dict[str, str]:
        tables = zip(analyses, stems, strict=True)
        return {"analysis.json": json_text(analyses_data(analyses))} | {
            f"{stem}patches.csv": patches_csv(one) for one, stem in tables
        }

    return Report(
        "Neutrality of a grey ramp",
        title, verdict(analyses), sections, facts, (drawn, *CAUTIONS), command, rests_on,
        step or after_analysis(analyses),
        tuple(file for one in analyses for file in one.reading.files),
        texts, about, paragraph, remarks,
    )  # fmt: skip


def _about(analysis: Analysis) -> str:
    facts = analysis.reading
    known = (
        f"{facts.patches} patches",
        "spectra" if facts.spectral else "CIELAB only",
        facts.condition,
        f"{facts.backing} backing" if facts.backing else None,
        f"D50, {facts.observer}°",
    )
    return ", ".join(text for text in known if text)


def _sections_of(analysis: Analysis, stem: str) -> tuple[Section, ...]:
    return (
        Section("The ramp", (_strip_picture(analysis, stem), _numbers_of(analysis))),
        Section("Neutrality", _neutrality(analysis, stem)),
        Section("Tone scale", _tone(analysis, stem)),
        Section("Under other lights", _lights(analysis, stem)),
        Section("Every tone", (_patches_table(analysis),)),
    )


def _names(analyses: Sequence[Analysis]) -> list[str]:
    """What to call each: where several have one name, with the condition too."""
    names = [one.reading.name for one in analyses]
    return [
        f"{name} ({one.reading.condition or 'condition not stated'})" * (names.count(name) > 1)
        or name
        for one, name in zip(analyses, names, strict=True)
    ]


def _joined_section(analysis: Analysis, name: str, stem: str) -> Section:
    """Return all that there is on one of several readings, under its name."""
    blocks: list[Block] = [
        Prose(_about(analysis), at_once=True), Prose(summary(analysis), at_once=True)
    ]  # fmt: skip
    for section in _sections_of(analysis, stem):
        blocks += [Subheading(section.heading), *section.blocks]
    blocks += [Subheading("What was measured, and how"), Facts(facts_of(analysis))]
    return Section(name, tuple(blocks))


def _side_by_side(analyses: Sequence[tuple[Analysis, str]]) -> Section:
    rows = tuple(
        (
            name,
            one.reading.condition or MISSING,
            fixed(one.neutrality.mean_delta_Ch),
            fixed(one.neutrality.max_delta_Ch),
            one.verdict,
            fixed(one.tone.rms_delta_L),
            fixed(one.tone.density_range),
            f"{worst.name} {fixed(worst.mean_delta_Ch)}" if worst else MISSING,
        )
        for one, name, worst in ((one, name, one.worst_light) for one, name in analyses)
    )
    head = (
        "reading", "condition", "mean ΔCh", "max ΔCh", "verdict", "RMS ΔL*", "density range",
        "worst light",
    )  # fmt: skip
    table = Table(head, rows, words=frozenset({0, 1, 4, 7}), at_once=True)
    strips = (named_strip(one, name) for one, name in analyses)
    return Section("Side by side", (*strips, table))


def named_strip(analysis: Analysis, name: str) -> Strip:
    """Return a ramp as a strip of its tones, under a name."""
    alt = f"Strip of the tones of {name} from black to paper."
    return strip(analysis.patches.level, analysis.patches.lab, alt, name)


def _numbers_of(analysis: Analysis) -> Numbers:
    neutrality, tone = analysis.neutrality, analysis.tone
    mean_limit, limit = neutrality.tolerance_mean_delta_Ch, neutrality.tolerance_max_delta_Ch
    mean_ok, max_ok = neutrality.mean_delta_Ch <= mean_limit, neutrality.max_delta_Ch <= limit
    numbers = [
        Number(
            beside(neutrality.mean_delta_Ch, mean_limit),
            "mean ΔCh",
            _held_against(mean_ok, mean_limit),
            mean_ok,
        ),
        Number(
            beside(neutrality.max_delta_Ch, limit),
            "largest ΔCh",
            f"{_held_against(max_ok, limit)}, at level {fixed(neutrality.max_at_level)}",
            max_ok,
        ),
        Number(
            fixed(tone.rms_delta_L),
            "RMS ΔL*",
            f"largest {fixed(tone.max_delta_L)} at level {fixed(tone.max_at_level)}",
        ),
        Number(fixed(tone.density_range), "density range", "black above paper"),
    ]
    worst = analysis.worst_light
    if worst is not None:
        under = f"mean ΔCh under {worst.name}"
        numbers.append(Number(fixed(worst.mean_delta_Ch), under, "the worst light"))
    return Numbers(tuple(numbers))


def _held_against(passed: bool, limit: float) -> str:
    return f"within {limit:g}" if passed else f"over {limit:g}"


def _neutrality(analysis: Analysis, stem: str) -> tuple[Block, ...]:
    neutrality = analysis.neutrality
    rows = (
        (
            "Tolerance",
            tolerance_in_words(
                neutrality.tolerance,
                neutrality.tolerance_mean_delta_Ch,
                neutrality.tolerance_max_delta_Ch,
            ),
        ),
        ("Verdict", neutrality.verdict),
        (
            "Free of casts",
            f"{neutrality.no_cast_verdict} (probability {fixed(neutrality.no_cast)})",
        ),
        ("Neutral aim", f"{neutrality.aim}: {NEUTRAL_AIMS_IN_WORDS[neutrality.aim]}"),
        ("a* from paper to black", span(neutrality.a_range)),
        ("b* from paper to black", span(neutrality.b_range)),
        ("Black", f"ΔCh {fixed(neutrality.black_delta_Ch)}, not judged: its tint is the ink's"),
    )
    named = to_be_named(neutrality.casts)
    casts = (_casts_table(named),) if named else ()
    return (
        _drift_picture(analysis, stem), _path_picture(analysis, stem), *casts, Facts(rows),
    )  # fmt: skip


def _casts_table(casts: Sequence[Cast]) -> Table:
    rows = tuple(
        (
            cast.hue,
            fixed(cast.from_level),
            fixed(cast.to_level),
            fixed(cast.peak_delta_Ch),
            fixed(cast.peak_level),
            f"{cast.hue_angle:.0f}°",
            f"{cast.verdict} ({fixed(cast.probability)})",
        )
        for cast in sorted(casts, key=lambda cast: -cast.to_level)
    )
    head = ("cast", "from level", "to level", "peak ΔCh", "at level", "hue angle", "verdict")
    caption = "Casts, from paper to black; in brackets the probability that they can be seen"
    return Table(head, rows, caption, frozenset({0}))


def _tone(analysis: Analysis, stem: str) -> tuple[Block, ...]:
    tone = analysis.tone
    density = "ISO 5-3 visual density" if tone.density_source == "spectra" else "−log10(Y/100)"
    rows = (
        ("Aim", f"{tone.aim}, {SCALINGS[tone.scaling]}"),
        (
            "Error",
            f"RMS {fixed(tone.rms_delta_L)} in L*; largest {fixed(tone.max_delta_L)}, at level "
            f"{fixed(tone.max_at_level)}",
        ),
        ("Reversals", joined([f"at level {fixed(v)}" for v in tone.reversals]) or "none"),
        ("Distinct from black", f"from level {fixed(tone.distinct_shadow_level)} upwards"),
        ("Distinct from paper", f"up to level {fixed(tone.distinct_highlight_level)}"),
        ("Density range", f"{fixed(tone.density_range)} ({density}, black above paper)"),
        ("Smoothness", f"{fixed(tone.smoothness)} in L*; 0 is smooth"),
    )
    return _tone_picture(analysis, stem), Facts(rows)


def _lights(analysis: Analysis, stem: str) -> tuple[Block, ...]:
    if analysis.lights is None:
        return (Prose(analysis.lights_absent or ""),)
    blocks: list[Block] = []
    if any(light.name != REFERENCE_LIGHT for light in analysis.lights):
        blocks += [_metamerism_picture(analysis, stem), _light_by_light(analysis)]
    return (*blocks, _lights_table(analysis), Prose(_LIGHTS_EXPLAINED))


def _light_by_light(analysis: Analysis) -> Switch:
    """Show the ramp under one light after the other, in the same place."""
    level = analysis.patches.level
    return Switch(
        "Light",
        lambda: (
            (
                light.name,
                (
                    *plain_and_strong(
                        level, light.lab, light.drift.delta_ab, f"under {light.name}"
                    ),
                    *_under_light(light),
                ),
            )
            for light in analysis.lights or ()
        ),
    )


def _under_light(light: UnderLight) -> tuple[Prose, ...]:
    if not light.told:
        return (
            Prose(
                f"This is the reading as it stands, and only a guess under {light.name}: how much "
                "of the paper's colour comes from its brightener is not known. Mean ΔCh "
                f"{fixed(light.low)} to {fixed(light.high)}."
            ),
        )
    casts = [describe_cast(cast) for cast in by_size(to_be_named(light.casts))]
    return (
        Prose(
            f"Simulated for eyes adapted to {light.name}, below with the cast {EXAGGERATION} times "
            "as strong.",
            of_pictures=True,
        ),
        Prose(
            f"Mean ΔCh {fixed(light.mean_delta_Ch)}, largest {fixed(light.max_delta_Ch)}: "
            f"{'; '.join(casts) or 'no cast'}."
        ),
    )


_LIGHTS_EXPLAINED = (
    "ΔCh is the departure from the neutral aim with paper and black as they are under that "
    "light. The metamerism index (CIE 15, special index for a change of illuminant, corrected "
    "multiplicatively) and the colour inconstancy (CAT16, adaptation complete) are CIEDE2000 "
    "differences."
)


def _lights_table(analysis: Analysis) -> Table:
    tones = analysis.patches.is_tone
    rows = tuple(
        (
            light.name,
            *figures[:2],
            fixed(light.mean_metamerism_index),
            fixed(light.max_metamerism_index),
            fixed(float(light.colour_inconstancy[tones].max())),
            figures[2],
        )
        for light, figures in ((one, light_figures(one)) for one in analysis.lights or ())
    )
    head = (
        "light", "mean ΔCh", "max ΔCh", "mean index", "max index", "max inconstancy", "casts",
    )  # fmt: skip
    return Table(head, rows, "The ramp under each light", frozenset({0, 6}))


def _patches_table(analysis: Analysis) -> Table:
    patches = analysis.patches
    drawn = swatches(patches.lab)
    rows = tuple(
        (
            drawn[i],
            fixed(patches.level[i], 3),
            fixed(patches.lab[i, 0]),
            signed(patches.lab[i, 1]),
            signed(patches.lab[i, 2]),
            fixed(patches.density[i]),
            signed(patches.delta_L[i]),
            fixed(patches.delta_Ch[i]),
            fixed(patches.delta_E00[i]),
            _what_of_tone(analysis, i),
        )
        for i in range(len(patches))
    )
    head = ("tone", "level", "L*", "a*", "b*", "density", "ΔL*", "ΔCh", "ΔE00", "")
    caption = "As measured (repeats averaged), and the differences from the aims"
    return Table(head, rows, caption, frozenset({0, len(head) - 1}))


def _what_of_tone(analysis: Analysis, row: int) -> str:
    """Name the paper, the black, the cast that a tone lies in, and a reversal."""
    patches = analysis.patches
    if row in (patches.paper_index, patches.black_index):
        return "paper" if row == patches.paper_index else "black"
    level = float(patches.level[row])
    notes = [
        cast.hue + (", peak" if level == cast.peak_level else "")
        for cast in to_be_named(analysis.neutrality.casts)
        if cast.from_level <= level <= cast.to_level
    ]
    return ", ".join([*notes, *(["reversal"] if level in analysis.tone.reversals else [])])


def facts_of(analysis: Analysis) -> tuple[tuple[str, str], ...]:
    """Say what was measured and how, as far as it is known."""
    facts = analysis.reading
    lights = [light.name for light in analysis.lights or ()]
    rows = (
        ("Reading", facts.name),
        ("File", facts.source),
        ("Printer", facts.printer),
        ("Paper", facts.paper),
        ("Settings", facts.settings),
        ("Instrument", facts.instrument),
        ("Measured", None if facts.created is None else day_and_time(facts.created)),
        ("Condition", f"{facts.condition} (ISO 13655)" if facts.condition else "not stated"),
        ("Backing", facts.backing or "not stated"),
        (
            "Patches",
            f"{facts.patches} measured, {'spectra' if facts.spectral else 'CIELAB only'}; "
            f"{len(analysis.patches)} different tones on the ramp",
        ),
        ("Colour", f"CIELAB under D50, {facts.observer}° observer, against the perfect diffuser"),
        ("Lights", joined(lights) or "D50 only"),
        ("Repeats", _repeats(facts)),
    )
    return known_facts(rows, analysis.remarks)


def _repeats(facts: ReadingFacts) -> str:
    known = facts.repeatability
    sd = f"standard deviation {fixed(known.sd_Ch)} in a*, b* and {fixed(known.sd_L)} in L*"
    if not known.known:
        return f"nothing was measured twice; {sd} assumed"
    return f"{known.repeated} tones measured {known.measurements} times in all; {sd}"


def _stems(analyses: Sequence[Analysis]) -> tuple[str, ...]:
    """Return what file names begin with: nothing for one reading, else its name, each unlike."""
    if len(analyses) == 1:
        return ("",)
    stems: list[str] = []
    for one in analyses:
        kept = "".join(c if c.isalnum() else " " for c in one.reading.name.lower())
        stem = "-".join(kept.split())[:40] or "reading"
        number = 2
        unlike = stem
        while f"{unlike}-" in stems:
            unlike = f"{stem}-{number}"
            number += 1
        stems.append(f"{unlike}-")
    return tuple(stems)
