"""Results as JSON: the stable form that other programs read."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.base.rests_on import support_data
from greyscale.base.results import json_text
from greyscale.colorimetry.arrays import Array

if TYPE_CHECKING:
    # Who only writes JSON waits for no analysis to be imported.
    from greyscale.analysis.analyse import Analysis, PatchTable, ReadingFacts
    from greyscale.analysis.neutrality import Cast, Neutrality
    from greyscale.analysis.under_lights import UnderLight

Data = dict[str, Any]


def write_json(data: Mapping[str, Any], destination: Path | str) -> None:
    """Write JSON to a file, whole or not at all; "-" is standard output.

    Raises
    ------
    BadInput
        If the file cannot be written.
    """
    if str(destination) == "-":
        if sys.stdout is None:
            raise BadInput("standard output is closed; give a file", "--json -")
        sys.stdout.write(json_text(data))
    else:
        write_whole(destination, json_text(data))


def picked(result: object, *names: str) -> Data:
    """Return those fields of a result that JSON has by the same names."""
    return {name: getattr(result, name) for name in names}


def analyses_data(analyses: Sequence[Analysis]) -> Data:
    """Return one analysis by itself, several as a list in a frame of their own."""
    if len(analyses) == 1:
        return analysis_data(analyses[0])
    return {"schema": "greyscale/analyses/1", "analyses": [analysis_data(one) for one in analyses]}


def analysis_data(analysis: Analysis) -> Data:
    """Return an analysis as plain data, keys as they are documented."""
    from greyscale.checks.finding import spoilt_data

    lights = analysis.lights
    return {
        "schema": "greyscale/analysis/1",
        "reading": reading_data(analysis.reading),
        "paper": lab_data(analysis.paper),
        "black": lab_data(analysis.black),
        "patches": patches_data(analysis.patches),
        "verdict": analysis.verdict,
        "probability": analysis.probability,
        "neutrality": neutrality_data(analysis.neutrality),
        "tone": asdict(analysis.tone),
        "response": analysis.response.kind,
        "response_told_by": asdict(analysis.response),
        "lights": None if lights is None else [light_data(light) for light in lights],
        "lights_absent": analysis.lights_absent,
        "spoilt": spoilt_data(analysis.spoilt),
        "remarks": list(analysis.remarks),
        "picture": None if analysis.picture is None else asdict(analysis.picture),
        "rests_on": support_data(analysis.rests_on),
    }


def lab_data(lab: Array) -> Data:
    """Return one CIELAB triple."""
    return dict(zip("Lab", lab.tolist(), strict=True))


_OF_READING = (
    "name", "source", "patches", "spectral", "condition", "backing", "observer", "repeatability",
    "instrument", "printer", "paper", "settings", "created", "sent_through",
)  # fmt: skip


def reading_data(facts: ReadingFacts) -> Data:
    """Return what was read, and how; the time as ISO 8601."""
    created = None if facts.created is None else facts.created.isoformat()
    known = asdict(facts) | {"created": created}
    return {key: known[key] for key in _OF_READING}


def patch_columns(patches: PatchTable) -> dict[str, Array]:
    """Return the ramp's numbers by falling level, a column of shape (n,) for each name."""
    return {
        "level": patches.level,
        **dict(zip("Lab", patches.lab.T, strict=True)),
        "density": patches.density,
        **dict(zip(("aim_L", "aim_a", "aim_b"), patches.aim_lab.T, strict=True)),
        "delta_L": patches.delta_L,
        **dict(zip(("delta_a", "delta_b"), patches.delta_ab.T, strict=True)),
        "delta_Ch": patches.delta_Ch,
        "delta_E00": patches.delta_E00,
        "measurements": patches.counts,
    }


def patches_data(patches: PatchTable) -> list[Data]:
    """Return the ramp, one object a patch, by falling level."""
    columns = {name: column.tolist() for name, column in patch_columns(patches).items()}
    columns["measurements"] = [int(count) for count in patches.counts]
    return [
        {"id": name, **dict(zip(columns, row, strict=True))}
        for name, row in zip(patches.ids, zip(*columns.values(), strict=True), strict=True)
    ]


def neutrality_data(neutrality: Neutrality) -> Data:
    """Return the neutrality; `casts` by rising level."""
    return asdict(neutrality) | {"casts": [_cast_data(cast) for cast in neutrality.casts]}


def _cast_data(cast: Cast) -> Data:
    return asdict(cast) | {"verdict": cast.verdict}


def light_data(light: UnderLight) -> Data:
    """Return a ramp under a light; arrays by falling level, as the patches."""
    relative = ("relative_L", "relative_a", "relative_b")
    return {
        **dict(zip("Lab", light.lab.T, strict=True)),
        **dict(zip(relative, light.relative_lab.T, strict=True)),
        **picked(
            light, "name", "metamerism_index", "mean_metamerism_index", "max_metamerism_index",
            "colour_inconstancy", "mean_delta_Ch", "max_delta_Ch", "told",
        ),
        **picked(light.drift, "delta_Ch", "max_at_level"),
        "metamerism_index_delta_E_ab": light.metamerism_index_ab,
        "brightener_low": light.low,
        "brightener_high": light.high,
        "paper_b_range": list(light.paper_b),
        "casts": [_cast_data(cast) for cast in light.casts],
    }  # fmt: skip
