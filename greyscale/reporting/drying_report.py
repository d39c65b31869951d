"""A folder with everything on a print's drying: page, figure, JSON."""

from __future__ import annotations

from functools import partial
from typing import Any

from greyscale.analysis.drying import WITHIN, Drying
from greyscale.base.json_output import json_text
from greyscale.base.rests_on import support_data
from greyscale.reporting.drying_words import HEAD, drying_sentences, time_words, tone_row
from greyscale.reporting.figures.drying import drying as drying_figure
from greyscale.reporting.next_step import after_drying
from greyscale.reporting.numbers import fixed, percent
from greyscale.reporting.page import CAUTIONS, Picture, Prose, Report, Section, Table

# The drying of a print as JSON.

DRYING_SCHEMA = "greyscale/drying/1"


def drying_data(drying: Drying) -> dict[str, Any]:
    """Return the drying of a print as plain data; times in hours."""
    series = drying.series
    return {
        "schema": DRYING_SCHEMA,
        "readings": [
            {"name": name, "source": source, "hours": float(hours)}
            for name, source, hours in zip(series.names, series.sources, series.hours, strict=True)
        ],
        "clock": series.clock,
        "trusted": drying.trusted,
        "probability": drying.probability,
        "within_delta_E00": WITHIN,
        "settled_hours": None if drying.settled is None else _range(drying.settled),
        "why_unknown": drying.why_unknown,
        "read_again_hours": drying.read_again,
        "summary": " ".join(drying_sentences(drying)),
        "fit": {
            "terms": drying.terms,
            "time_constants": [_range(constant) for constant in drying.time_constants.tolist()],
            "sd": drying.sd,
            "candidates": [
                {"law": law, "probability": float(probability)}
                for law, probability in zip(drying.laws, drying.probabilities, strict=True)
            ],
        },
        "tones": [_tone(drying, index) for index in range(len(series.level))],
        "rests_on": support_data(drying.rests_on),
        "remarks": list(series.remarks),
    }


def _range(values: Any) -> dict[str, float]:
    low, median, high = (float(value) for value in values)
    return {"low": low, "median": median, "high": high}


def _tone(drying: Drying, index: int) -> dict[str, Any]:
    series = drying.series
    axes = ("L", "a", "b")
    tone: dict[str, Any] = {"id": series.ids[index], "level": float(series.level[index])}
    for axis, name in enumerate(axes):
        tone[name] = [float(value) for value in series.lab[:, index, axis]]
    tone["density"] = [float(value) for value in series.density[:, index]]
    for axis, name in enumerate(axes):
        tone[f"change_{name}"] = float(drying.change[index, axis])
    tone["change_density"] = float(drying.change_density[index])
    tone["change_delta_E00"] = float(drying.change_E00[index])
    for axis, name in enumerate(axes):
        tone[f"final_{name}"] = float(drying.final[index, axis])
        tone[f"final_{name}_sd"] = float(drying.final_sd[index, axis])
    tone["final_density"] = float(drying.final_density[index])
    tone["to_come_delta_E00"] = _range(drying.to_come[index])
    return tone


# The report of a print's drying: its words, picture and numbers, in reading order.

KIND = "Drying of a print"


def drying_report(drying: Drying, command: str = "") -> Report:
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
        tuple(series.sources),
        {"drying.json": json_text(drying_data(drying))},
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
