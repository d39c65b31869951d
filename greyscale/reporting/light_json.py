"""Lights as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from greyscale.base.rests_on import support_data
from greyscale.colorimetry.light_quality import LightQuality
from greyscale.colorimetry.lights import Light
from greyscale.reporting.light_table import light_remarks, lights_rest_on

LIGHTS_SCHEMA = "greyscale/lights/1"


def lights_data(sources: Sequence[Light], qualities: Sequence[LightQuality]) -> dict[str, Any]:
    """Give lights as plain data: their numbers, and the relative power they were made from."""
    return {
        "schema": LIGHTS_SCHEMA,
        "lights": [
            {
                **asdict(quality),
                "remarks": light_remarks(source, quality),
                "wavelengths": source.wavelengths.tolist(),
                "power": source.measured.tolist(),
            }
            for source, quality in zip(sources, qualities, strict=True)
        ],
        "rests_on": support_data(lights_rest_on(sources)),
    }
