"""A verification as JSON, schema "greyscale/verification/1"."""

from __future__ import annotations

from dataclasses import asdict

from greyscale.analysis.analyse import Analysis
from greyscale.base.rests_on import support_data
from greyscale.checks.spoilt import spoilt_data
from greyscale.correction.verify import Verification
from greyscale.reporting.json_output import (
    Data,
    neutrality_data,
    patches_data,
    reading_data,
    tone_data,
)

SCHEMA = "greyscale/verification/1"


def verification_data(verification: Verification) -> Data:
    """Give a verification as plain data; the tones by falling level."""
    return {
        "schema": SCHEMA,
        "correction": verification.correction,
        "round": verification.round,
        "reading": reading_data(verification.after.reading),
        "before": _course(verification.before),
        "predicted": _course(verification.predicted),
        "after": _course(verification.after),
        "within_tolerance": verification.within_tolerance,
        "light": verification.light,
        "lights": [asdict(one) for one in verification.lights],
        "promise": asdict(verification.promise),
        "expected_mean_delta_Ch": verification.expected_mean_delta_Ch,
        "prediction_error": asdict(verification.prediction_error),
        "next_round": asdict(verification.next_round),
        "patches": _patches(verification),
        "rests_on": support_data(verification.rests_on),
        "spoilt": spoilt_data(verification.spoilt),
        "remarks": [*verification.after.remarks, *verification.oddities],
    }


def _course(analysis: Analysis) -> Data:
    return {
        "neutrality": neutrality_data(analysis.neutrality),
        "tone": tone_data(analysis.tone),
    }


def _patches(verification: Verification) -> list[Data]:
    predicted = verification.predicted.patches
    return [
        {
            **measured,
            "predicted_L": float(predicted.lab[i, 0]),
            "predicted_a": float(predicted.lab[i, 1]),
            "predicted_b": float(predicted.lab[i, 2]),
            "prediction_delta_E00": float(verification.delta_E00[i]),
        }
        for i, measured in enumerate(patches_data(verification.after.patches))
    ]
