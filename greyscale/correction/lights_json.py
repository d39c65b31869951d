"""The lights of a correction as JSON, each with its spectrum: a lamp's file may be gone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, fields
from typing import Any

import numpy as np

from greyscale.base.rests_on import REGISTER
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.lights import Light
from greyscale.colorimetry.observers import NANOMETRES
from greyscale.correction.expectation import Expectation
from greyscale.correction.json_fields import Fields
from greyscale.correction.record import ForLight, TradeOff
from greyscale.printer.solver import TONES

_LAB, _SD = (-300.0, 300.0), (0.0, 100.0)
_POWER = (-1.0, 1e9)
_CURVES = {"aim_lab": _LAB, "before_lab": _LAB, "lab": _LAB, "sd": _SD}
_DIGITS = 5


def lights_data(lights: Sequence[ForLight]) -> list[dict[str, Any]]:
    """Return what a correction does under each light as plain data."""
    return [
        {
            "name": one.name,
            "weight": one.weight,
            "paper": one.paper.tolist(),
            "black": one.black.tolist(),
            "expectation": asdict(one.expectation),
            "brightener_low": one.low,
            "brightener_high": one.high,
            "spectrum": _spectrum(one.light),
            **{name: _rows(getattr(one, name)) for name in _CURVES},
        }
        for one in lights
    ]


def read_lights(items: Sequence[Fields]) -> tuple[ForLight, ...]:
    """Read the lights of a correction back.

    Raises
    ------
    BadInput
        Naming the field that is missing or not what it must be.
    """
    return tuple(
        ForLight(
            light=_read_light(item.text("name"), item.fields("spectrum")),
            weight=item.number("weight", within=(0.0, 1e9)),
            paper=item.array("paper", 3, within=_LAB),
            black=item.array("black", 3, within=_LAB),
            expectation=read_expectation(item.fields("expectation")),
            low=item.number("brightener_low"),
            high=item.number("brightener_high"),
            **{name: item.array(name, TONES, 3, within=most) for name, most in _CURVES.items()},
        )
        for item in items
    )


def trade_offs_data(lights: Sequence[ForLight], found: Sequence[TradeOff]) -> list[dict[str, Any]]:
    """Return what each choice of lights would leave, by the lights' names."""
    names = [one.name for one in lights]
    return [
        {
            "solved_for": list(one.solved_for),
            "mean_delta_Ch": dict(zip(names, one.mean_delta_Ch, strict=True)),
            "max_delta_Ch": dict(zip(names, one.max_delta_Ch, strict=True)),
            "score": one.score,
        }
        for one in found
    ]


def read_trade_offs(items: Sequence[Fields], lights: Sequence[ForLight]) -> tuple[TradeOff, ...]:
    """Read the trade-offs back."""

    def by_light(item: Fields, key: str) -> tuple[float, ...]:
        return tuple(item.fields(key).number(one.name) for one in lights)

    return tuple(
        TradeOff(
            item.texts("solved_for"),
            by_light(item, "mean_delta_Ch"),
            by_light(item, "max_delta_Ch"),
            item.number("score"),
        )
        for item in items
    )


def read_expectation(data: Fields) -> Expectation:
    """Read what is expected."""
    return Expectation(**{field.name: data.number(field.name) for field in fields(Expectation)})


def _spectrum(one: Light) -> dict[str, Any]:
    return {
        "power": one.power.tolist(),
        "wavelengths": one.wavelengths.tolist(),
        "measured": one.measured.tolist(),
        "remarks": list(one.remarks),
        "known_from": one.known_from,
        "unknown_excitation": one.unknown_excitation,
        "rests_on": list(one.rests_on),
    }


def _read_light(name: str, data: Fields) -> Light:
    wavelengths = data.array("wavelengths", None, within=(0.0, 1e5))
    return Light(
        name=name,
        power=data.array("power", NANOMETRES.size, within=_POWER),
        wavelengths=wavelengths,
        measured=data.array("measured", len(wavelengths), within=_POWER),
        remarks=data.texts("remarks"),
        known_from=data.optional_number("known_from"),
        unknown_excitation=data.optional_number("unknown_excitation"),
        rests_on=tuple(key for key in data.texts("rests_on") if key in REGISTER),
    )


def _rows(values: Array) -> list[list[float]]:
    rows: list[list[float]] = (np.round(values, _DIGITS) + 0.0).tolist()
    return rows
