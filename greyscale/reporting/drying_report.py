"""The drying of a print: in sentences, as JSON, and as a report."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from greyscale.analysis.drying import WITHIN, Drying, DryingSeries
from greyscale.analysis.trend import MATCHES_WITHIN
from greyscale.base.plain_text import beside, fixed, joined, percent, signed, time_words
from greyscale.base.rests_on import support_data
from greyscale.base.results import json_text
from greyscale.reporting.figures.over_time import drying as drying_figure
from greyscale.reporting.json_output import Data, picked
from greyscale.reporting.next_step import after_drying
from greyscale.reporting.page import CAUTIONS, Picture, Prose, Report, Section, Table, known_facts


def _range_words(low: float, high: float) -> str:
    """Return a range of times, as "1.3 h to 1.6 h"."""
    first, last = time_words(low), time_words(high)
    return first if first == last else f"{first} to {last}"


def _span_words(series: DryingSeries) -> str:
    first, last = float(series.hours[0]), float(series.hours[-1])
    if first == 0.0:
        return f"in the {time_words(last)} {series.clock}"
    return f"from {time_words(first)} to {time_words(last)} {series.clock}"


DRY_MEANS = "Dry means dry to measure: framing, stacking and varnishing need longer."


def drying_sentences(drying: Drying) -> list[str]:
    """Say whether the last reading can be trusted, when the print was dry, and what changed."""
    sentences = [_verdict(drying), _settled(drying), _change(drying), _fit(drying), DRY_MEANS]
    return [sentence for sentence in sentences if sentence]


def _is_open(drying: Drying) -> bool:
    """Whether what is still to come has no upper bound."""
    return drying.not_before is not None


def _verdict(drying: Drying) -> str:
    worst = drying.to_come[np.argmax(drying.to_come[:, 0 if _is_open(drying) else 1])]
    when = f"{time_words(float(drying.series.hours[-1]))} {drying.series.clock}"
    if drying.trusted == "yes":
        return (
            f"Dry: the reading made {when} can be trusted. With a probability of "
            f"{percent(min(drying.probability, 0.99))} no tone is more than ΔE00 {WITHIN:g} from "
            f"its final state; from {MATCHES_WITHIN:g} on prints side by side look different."
        )
    if drying.trusted == "no":
        low, middle, high = (beside(float(one), WITHIN, 1) for one in worst)
        left = f"at least ΔE00 {low}" if _is_open(drying) else f"ΔE00 {middle} ({low} to {high})"
        return f"Not dry: {when} the tone with most to go is still {left} from its final state."
    return (
        f"Not yet known whether the print was dry {when}. {drying.why_unknown} "
        f"{_unnoticed(drying)}{_again_words(drying)}"
    )


def _unnoticed(drying: Drying) -> str:
    if drying.to_come[:, 2].max() >= MATCHES_WITHIN or len(set(drying.series.hours)) < 3:
        return ""
    return (
        f"Side by side that would not be noticed (less than {MATCHES_WITHIN:g}): dry to look at, "
        "if not to measure. "
    )


def _again_words(drying: Drying) -> str:
    if drying.read_again is None:
        return "Print again, and read it sooner."
    return f"Read it again {time_words(drying.read_again)} {drying.series.clock}."


def _settled(drying: Drying) -> str:
    clock, settled = drying.series.clock, drying.settled
    if settled is None:
        if drying.trusted == "not yet known":
            return ""
        if drying.trusted == "yes":
            return "These readings do not tell since when."
        least = ""
        if drying.not_before is not None:
            least = f", but not before {time_words(drying.not_before)} {clock}"
        return f"When it is dry is not yet known{least}. {_again_words(drying)}"
    low, middle, high = settled
    first = float(drying.series.hours[0])
    if high <= first + 1e-9:
        return f"It was dry by the first reading, {time_words(first)} {clock}."
    return (
        f"Every tone is within ΔE00 {WITHIN:g} of its final state from {time_words(middle)} "
        f"{clock} on ({_range_words(low, high)})."
    )


def _change(drying: Drying) -> str:
    series = drying.series
    span = _span_words(series)
    span = span[0].upper() + span[1:]
    if drying.terms == 0 and len(series.hours) > 2:
        return f"{span} nothing changed beyond the noise of the readings."
    most = int(np.argmax(drying.change_E00))
    L, a, b = drying.change[most]
    return (
        f"{span} the tones changed by up to ΔE00 "
        f"{fixed(float(drying.change_E00[most]), 1)}, most at level "
        f"{fixed(float(series.level[most]))}: L* {signed(L, 1)}, a* {signed(a, 1)}, "
        f"b* {signed(b, 1)}, density {signed(float(drying.change_density[most]))}."
    )


def _fit(drying: Drying) -> str:
    if _is_open(drying):
        return (
            "What still changes does so too slowly for these readings to tell how it dies away "
            "or when it ends."
        )
    if not len(drying.time_constants):
        return ""
    constants = [
        f"{time_words(middle)} ({_range_words(low, high)})"
        for low, middle, high in drying.time_constants.tolist()
    ]
    if len(constants) == 1:
        return f"The change dies away by about two thirds every {constants[0]}."
    return (
        "The change dies away in two ways at once, by about two thirds every "
        f"{joined(constants)}: a quick one and a slow one."
    )


def _settled_data(drying: Drying) -> Data | None:
    if drying.not_before is not None:
        return _range((drying.not_before, np.nan, np.nan))
    return None if drying.settled is None else _range(drying.settled)


def drying_data(drying: Drying) -> Data:
    """Return the drying of a print as plain data; times in hours.

    Of `to_come_delta_E00`, `low` is each tone's own 5th percentile; with a probability of 95 % no
    tone exceeds its `high`. Where the readings leave that open, `median` and `high` are missing
    there and in `settled_hours`, and so are the final states.
    """
    series = drying.series
    return {
        "schema": "greyscale/drying/1",
        "readings": [
            {"name": name, "source": source, "hours": float(hours)}
            for name, source, hours in zip(series.names, series.sources, series.hours, strict=True)
        ],
        "clock": series.clock,
        **picked(drying, "trusted", "probability", "why_unknown"),
        "within_delta_E00": WITHIN,
        "settled_hours": _settled_data(drying),
        "read_again_hours": drying.read_again,
        "summary": " ".join(drying_sentences(drying)),
        "fit": {
            **picked(drying, "terms", "sd"),
            "time_constants": [_range(constant) for constant in drying.time_constants.tolist()],
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


def _tone(drying: Drying, index: int) -> Data:
    series = drying.series
    axes = tuple(enumerate("Lab"))
    final = {}
    for axis, name in axes:
        final[f"final_{name}"] = float(drying.final[index, axis])
        final[f"final_{name}_sd"] = float(drying.final_sd[index, axis])
    return {
        "id": series.ids[index],
        "level": float(series.level[index]),
        **{name: series.lab[:, index, axis].tolist() for axis, name in axes},
        "density": series.density[:, index].tolist(),
        **{f"change_{name}": float(drying.change[index, axis]) for axis, name in axes},
        "change_density": float(drying.change_density[index]),
        "change_delta_E00": float(drying.change_E00[index]),
        **final,
        "final_density": float(drying.final_density[index]),
        "to_come_delta_E00": _range(drying.to_come[index]),
    }


def drying_report(drying: Drying, command: str = "") -> Report:
    """Make the report of a print's drying."""
    series = drying.series
    sections = (
        Section("Over time", (_picture(drying), Prose(_how(drying)))),
        Section("Tone by tone", (_table(drying),)),
    )
    return Report(
        "Drying of a print",
        series.names[-1], tuple(drying_sentences(drying)), sections, _facts(drying), CAUTIONS,
        command, drying.rests_on, after_drying(drying), tuple(series.sources),
        lambda: {"drying.json": json_text(drying_data(drying))},
        f"{len(series.hours)} readings {_span_words(series)}", remarks=tuple(series.remarks),
    )  # fmt: skip


def _picture(drying: Drying) -> Picture:
    band = ", and the band in which it lies with a probability of 90 %"
    if _is_open(drying):
        band = " at least, with a probability of 95 %: the band has no upper end"
    return Picture(
        partial(drying_figure, drying),
        "drying",
        alt=" ".join(drying_sentences(drying)[:2]),
        caption=f"Above: how far the tone with most to go is from its final state{band}; ticks "
        f"mark the readings, the dashed line ΔE00 {WITHIN:g}. Below: points as measured, lines as "
        "fitted.",
    )


def _how(drying: Drying) -> str:
    laws = ", ".join(
        f"{name} {percent(probability)}"
        for name, probability in zip(drying.laws, drying.probabilities, strict=True)
    )
    slower = " Slower ones may be as likely: ranges have no upper end." if _is_open(drying) else ""
    return (
        "The laws by which prints may dry, each as probable as the readings make it: "
        f"{laws}. None is ruled out for that: 90 % ranges hold all that any of them, with time "
        "constants from minutes to three days or to the span of the readings, makes nearly as "
        f"likely as the likeliest, given the scatter about the fit (standard deviation "
        f"{fixed(drying.sd)} of one value).{slower}"
    )


def _table(drying: Drying) -> Table:
    series = drying.series
    rows = tuple(
        (
            fixed(float(level), 3),
            fixed(float(lab[0]), 1),
            *(signed(value) for value in change),
            signed(float(density), 3),
            fixed(float(delta_E00)),
            f"{fixed(low)} or more"
            if _is_open(drying)
            else f"{fixed(middle)} ({fixed(low)} to {fixed(high)})",
        )
        for level, lab, change, density, delta_E00, (low, middle, high) in zip(
            series.level, series.lab[-1], drying.change, drying.change_density, drying.change_E00,
            drying.to_come, strict=True,
        )
    )  # fmt: skip
    head = ("level", "L*", "ΔL*", "Δa*", "Δb*", "Δdensity", "ΔE00 so far", "ΔE00 to come")
    caption = (
        "Last reading minus first; ΔE00 still to come (from the 5th percentile to what no tone "
        "exceeds with a probability of 95 %)"
    )
    return Table(head, rows, caption)


def _facts(drying: Drying) -> tuple[tuple[str, str], ...]:
    series = drying.series
    readings = [
        (f"{time_words(float(hours))} {series.clock}", f"{name} ({source})")
        for hours, name, source in zip(series.hours, series.names, series.sources, strict=True)
    ]
    repeats = ("Repeatability", f"standard deviation {fixed(series.repeatability)} per axis")
    how = (
        ("Instrument", series.instrument or "not stated"),
        ("Condition", f"{series.condition} (ISO 13655)" if series.condition else "not stated"),
        ("Backing", series.backing or "not stated"),
        ("Colour", f"CIELAB under D50, {series.observer}° observer"),
        ("Held against", f"ΔE00 {WITHIN:g} from the final state (common practice, no source)"),
    )
    return known_facts((*readings, *how, repeats), series.remarks)
