"""The report of a print's drying: its words, picture and numbers, in reading order."""

from __future__ import annotations

from functools import partial

from greyscale.analysis.drying import WITHIN, Drying
from greyscale.reporting.drying_table import HEAD, tone_row
from greyscale.reporting.drying_words import drying_sentences, time_words
from greyscale.reporting.figures.drying import drying as drying_figure
from greyscale.reporting.next_step import after_drying
from greyscale.reporting.numbers import fixed, percent
from greyscale.reporting.page import CAUTIONS, Picture, Prose, Report, Section, Table

KIND = "Drying of a print"


def drying_page(drying: Drying, command: str = "") -> Report:
    """Make the report of a print's drying."""
    first, *others = drying_sentences(drying)
    series = drying.series
    sections = (
        Section("Over time", (_picture(drying), Prose(_how(drying)))),
        Section("Tone by tone", (_table(drying),)),
    )
    return Report(
        KIND,
        series.names[-1],
        (first, " ".join(others)) if others else (first,),
        sections,
        _facts(drying),
        CAUTIONS,
        command,
        drying.rests_on,
        after_drying(drying),
    )


def _picture(drying: Drying) -> Picture:
    return Picture(
        partial(drying_figure, drying),
        "drying",
        alt=" ".join(drying_sentences(drying)[:2]),
        caption="Above: how far the tone with most to go is from its final state, and the band "
        "in which it lies with a probability of 90 %; strokes mark the readings, the dashed line "
        f"ΔE00 {WITHIN:g}. Below: points as measured, lines as fitted.",
    )


def _how(drying: Drying) -> str:
    laws = ", ".join(
        f"{name} {percent(probability)}"
        for name, probability in zip(drying.laws, drying.probabilities, strict=True)
    )
    return (
        "Averaged over the laws by which prints may dry, each as probable as the readings make "
        f"it: {laws}. Ranges are 90 % credible intervals, given the scatter about the fit "
        f"(standard deviation {fixed(drying.sd)} of one value). Time constants from minutes to "
        "three days, or twice the span of the readings, are thought possible."
    )


def _table(drying: Drying) -> Table:
    rows = tuple(tone_row(drying, index) for index in range(len(drying.series.level)))
    caption = "Last reading minus first; ΔE00 still to come with its 90 % range"
    return Table(HEAD, rows, caption)


def _facts(drying: Drying) -> tuple[tuple[str, str], ...]:
    series = drying.series
    readings = [
        (f"{time_words(float(hours))} {series.clock}", f"{name} ({source})")
        for hours, name, source in zip(series.hours, series.names, series.sources, strict=True)
    ]
    repeats = ("Repeatability", f"standard deviation {fixed(series.repeatability)} per axis")
    remarks = [("Remark" if i == 0 else "", text) for i, text in enumerate(series.remarks)]
    how = (
        ("Instrument", series.instrument or "not stated"),
        ("Condition", f"{series.condition} (ISO 13655)" if series.condition else "not stated"),
        ("Backing", series.backing or "not stated"),
        ("Colour", f"CIELAB under D50, {series.observer}° observer"),
        ("Held against", f"ΔE00 {WITHIN:g} from the final state (common practice, no source)"),
    )
    return (*readings, *how, repeats, *remarks)
