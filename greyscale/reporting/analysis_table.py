"""An analysis in the terminal: the paragraph, the numbers if they are wanted, the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from greyscale.analysis.analyse import Analysis
from greyscale.analysis.casts import Cast, to_be_named
from greyscale.colorimetry.arrays import Array
from greyscale.reporting.analysis_words import light_figures, sentences, summary, verdict
from greyscale.reporting.cast_words import joined
from greyscale.reporting.next_step import NextStep
from greyscale.reporting.numbers import MISSING, fixed, percent, signed, span
from greyscale.reporting.terminal import conclude, plain_table


def show(
    analyses: Sequence[Analysis],
    console: Console,
    every: bool = False,
    step: NextStep | None = None,
    written: Path | None = None,
) -> None:
    """Print analyses: of each the paragraph, of several a line each as well.

    Parameters
    ----------
    analyses
        One or more.
    console
        Where to print; it decides about colour (NO_COLOR, not a terminal: none).
    every
        All tables of each, with every tone.
    step, written
        What to do next, and the report that was written.
    """
    alone = len(analyses) == 1
    for analysis in analyses:
        console.print(heading(analysis))
        console.print(Text(" ".join(sentences(analysis)) if alone else summary(analysis)))
        console.print()
        if every:
            _print_tables(analysis, console)
    if len(analyses) > 1:
        console.print(comparison_table(analyses))
        console.print()
    conclude(
        console,
        verdict(analyses),
        step,
        remarks=_remarks(analyses),
        rests_on=[support for one in analyses for support in one.rests_on],
        every=every,
        written=written,
    )


def _print_tables(analysis: Analysis, console: Console) -> None:
    console.print(numbers_table(analysis))
    console.print()
    if analysis.lights is not None:
        console.print(lights_table(analysis))
        console.print()
    console.print(tones_table(analysis))
    console.print()


def _remarks(analyses: Sequence[Analysis]) -> list[str]:
    if len(analyses) == 1:
        return list(analyses[0].remarks)
    return [f"{one.reading.name}: {remark}" for one in analyses for remark in one.remarks]


def heading(analysis: Analysis) -> Text:
    """Return the reading's name, and below it how it was measured."""
    facts = analysis.reading
    details = [f"{facts.patches} patches", "spectra" if facts.spectral else "CIELAB only"]
    if facts.condition:
        details.append(facts.condition)
    if facts.backing:
        details.append(f"{facts.backing} backing")
    details.append(f"D50, {facts.observer}°")
    return Text.assemble((facts.name, "bold"), "\n", (", ".join(details), "dim"))


def numbers_table(analysis: Analysis) -> Table:
    """Return neutrality and tone scale as a few lines of numbers."""
    neutrality, tone = analysis.neutrality, analysis.tone
    paper, black = analysis.paper, analysis.black
    repeats = analysis.reading.repeatability
    table = plain_table()
    table.add_column(style="bold", no_wrap=True)
    table.add_column()
    table.add_row(
        "Neutrality",
        f"mean ΔCh {neutrality.mean_delta_Ch:.2f}, max {neutrality.max_delta_Ch:.2f} at level "
        f"{neutrality.max_at_level:.2f}; of black {neutrality.black_delta_Ch:.2f}",
    )
    table.add_row(
        "",
        f"{neutrality.verdict}: the {neutrality.tolerance} grade allows "
        f"{neutrality.tolerance_mean_delta_Ch:.2f} and {neutrality.tolerance_max_delta_Ch:.2f}",
    )
    table.add_row(
        "",
        f"a* {span(neutrality.a_range)}, b* {span(neutrality.b_range)}; aim {neutrality.aim}",
    )
    table.add_row("Paper, black", f"L* a* b*  {_lab(paper)}   and   {_lab(black)}")
    table.add_row(
        "Tone",
        f"ΔL* RMS {tone.rms_delta_L:.2f}, max {tone.max_delta_L:.2f} at level "
        f"{tone.max_at_level:.2f}; aim {tone.aim}, scaling {tone.scaling}",
    )
    table.add_row(
        "",
        f"density range {tone.density_range:.2f}; smoothness {fixed(tone.smoothness)}; "
        f"reversals {_levels(tone.reversals)}",
    )
    table.add_row(
        "",
        f"shadows distinct from level {fixed(tone.distinct_shadow_level)}, "
        f"highlights up to {fixed(tone.distinct_highlight_level)}",
    )
    known = f"{repeats.repeated} levels repeated" if repeats.known else "assumed, nothing repeated"
    table.add_row(
        "Repeatability", f"sd {repeats.sd_Ch:.2f} in a*, b*; {repeats.sd_L:.2f} in L* ({known})"
    )
    if (picture := analysis.picture) is not None:
        table.add_row(
            "Picture",
            f"mean ΔCh {picture.mean_delta_Ch:.2f}, ΔL* {signed(picture.mean_delta_L)}, |ΔL*| "
            f"{picture.mean_abs_delta_L:.2f} by area; "
            f"{percent(picture.share_in_casts)} lies in a cast",
        )
    return table


def lights_table(analysis: Analysis) -> Table:
    """Return a line for each light; the analysis must have lights."""
    title = "Under each light: ΔCh, metamerism index, largest colour inconstancy"
    table = plain_table(title, ("light", "mean ΔCh", "max", "mean index", "max", "inconstancy"))
    table.add_column("casts")
    tones = analysis.patches.is_tone
    for light in analysis.lights or ():
        mean, largest, casts = light_figures(light)
        table.add_row(
            light.name,
            mean,
            largest,
            f"{light.mean_metamerism_index:.2f}",
            f"{light.max_metamerism_index:.2f}",
            f"{light.colour_inconstancy[tones].max():.2f}",
            casts,
        )
    return table


def tones_table(analysis: Analysis) -> Table:
    """Return the ramp from paper to black, tone by tone."""
    patches = analysis.patches
    table = plain_table("Tones", ("level", "L*", "ΔL*", "a*", "b*", "ΔCh", "density"))
    table.add_column("")
    for i in range(len(patches)):
        table.add_row(
            f"{patches.level[i]:.3f}",
            f"{patches.lab[i, 0]:.1f}",
            signed(patches.delta_L[i]),
            signed(patches.lab[i, 1]),
            signed(patches.lab[i, 2]),
            f"{patches.delta_Ch[i]:.2f}",
            f"{patches.density[i]:.2f}",
            _note(analysis, i),
        )
    return table


def comparison_table(analyses: Sequence[Analysis]) -> Table:
    """Return a line for each reading."""
    numbers = ("mean ΔCh", "max ΔCh", "verdict", "RMS ΔL*", "density range", "worst light")
    table = plain_table("Side by side", ("reading", *numbers))
    for one in analyses:
        table.add_row(
            Text(one.reading.name),
            f"{one.neutrality.mean_delta_Ch:.2f}",
            f"{one.neutrality.max_delta_Ch:.2f}",
            one.verdict,
            f"{one.tone.rms_delta_L:.2f}",
            f"{one.tone.density_range:.2f}",
            _worst_light(one),
        )
    return table


def _worst_light(analysis: Analysis) -> str:
    worst = analysis.worst_light
    return MISSING if worst is None else f"{worst.name} {worst.mean_delta_Ch:.2f}"


def _note(analysis: Analysis, row: int) -> str:
    patches = analysis.patches
    if row == patches.paper_index:
        return "paper"
    if row == patches.black_index:
        return "black"
    level = float(patches.level[row])
    cast = _cast_at(level, to_be_named(analysis.neutrality.casts))
    notes = [] if cast is None else [cast.hue + (", peak" if level == cast.peak_level else "")]
    if level in analysis.tone.reversals:
        notes.append("reversal")
    return ", ".join(notes)


def _cast_at(level: float, casts: Sequence[Cast]) -> Cast | None:
    return next((cast for cast in casts if cast.from_level <= level <= cast.to_level), None)


def _lab(lab: Array) -> str:
    return f"{lab[0]:.1f} {signed(lab[1])} {signed(lab[2])}"


def _levels(levels: Sequence[float]) -> str:
    return joined([f"{level:.2f}" for level in levels]) or "none"
