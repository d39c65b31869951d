"""The drying of a print as JSON."""

from __future__ import annotations

from typing import Any

from greyscale.analysis.drying import WITHIN, Drying
from greyscale.base.rests_on import support_data
from greyscale.reporting.drying_words import drying_sentences

DRYING_SCHEMA = "greyscale/drying/1"


def drying_data(drying: Drying) -> dict[str, Any]:
    """Give the drying of a print as plain data; times in hours."""
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
