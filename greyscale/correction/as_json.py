"""The correction as JSON, schema "greyscale/correction/1": everything that a next round needs."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np

from greyscale import __version__
from greyscale.aims.tolerances import WORST_SHARE
from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text
from greyscale.base.rests_on import REGISTER, support_data
from greyscale.base.results import plain
from greyscale.checks.finding import SpoiltPatch, spoilt_data
from greyscale.colorimetry.arrays import Array
from greyscale.colorimetry.lights import Light
from greyscale.colorimetry.observers import NANOMETRES
from greyscale.correction.expectation import Expectation, Limit
from greyscale.correction.record import Correction, Curve, Evidence, ForLight, Source, TradeOff
from greyscale.printer.answers import TONES
from greyscale.readings.source_file import read_bytes

Made = TypeVar("Made")

Range = tuple[float, float]
"""The least and the largest number that makes sense."""

_ANY: Range = (-math.inf, math.inf)


class Fields:
    """The fields of one JSON object.

    Parameters
    ----------
    data
        The parsed object.
    source
        The file, for messages.
    within
        The names that lead to this object, as "evidence.".
    """

    def __init__(self, data: object, source: Path | str, within: str = "") -> None:
        if not isinstance(data, dict):
            raise BadInput(f"{_named(within)} should be a JSON object, {_found(data)}", source)
        self._data: dict[str, Any] = data
        self._source = source
        self._within = within

    def has(self, key: str) -> bool:
        """Say whether there is anything, not null: what earlier programs did not write."""
        return self._data.get(key) is not None

    def text(self, key: str) -> str:
        """Return a text, without what nobody sees."""
        return plain_text(self.text_as_it_is(key))

    def text_as_it_is(self, key: str) -> str:
        """Return a text to the last sign."""
        return self._of(key, str, "a text")

    def optional_text(self, key: str) -> str | None:
        """Return a text, or None where it is null or missing."""
        return self.text(key) if self.has(key) else None

    def number(self, key: str, within: Range = _ANY) -> float:
        """Return a finite number of a range."""
        value = self._get(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._wrong(key, "a number", value)
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise self._wrong(key, "a finite number", value)
        self._refuse_outside(key, number, number, within)
        return number

    def whole(self, key: str) -> int:
        """Return a whole number from 0 up."""
        value = self._get(key)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 2**31:
            raise self._wrong(key, "a whole number", value)
        return value

    def flag(self, key: str) -> bool:
        """Return true or false."""
        return self._of(key, bool, "true or false")

    def moment(self, key: str) -> datetime:
        """Return a date and time (ISO 8601)."""
        value = self.text(key)
        try:
            return datetime.fromisoformat(value)
        except ValueError as error:
            raise self._wrong(key, "a date and time", value) from error

    def array(self, key: str, *shape: int | None, within: Range = _ANY) -> Array:
        """Return an array of finite numbers of a range; None in the shape is any length but 0."""
        value = self._get(key)
        try:
            array = np.array(value, dtype=np.float64)
        except (TypeError, ValueError, OverflowError) as error:
            raise self._wrong(key, "numbers in rows of one length", value) from error
        fits = array.ndim == len(shape) and all(
            wanted == found if wanted is not None else found > 0
            for wanted, found in zip(shape, array.shape, strict=True)
        )
        if not fits:
            wanted = " by ".join("n" if length is None else str(length) for length in shape)
            found = " by ".join(str(length) for length in array.shape) or "one"
            raise self._refusal(key, f"should hold {wanted} numbers, found {found}")
        if not np.isfinite(array).all():
            raise self._wrong(key, "finite numbers", "something else among them")
        self._refuse_outside(key, float(array.min()), float(array.max()), within)
        return array

    def made(self, kind: type[Made], **given: Any) -> Made:
        """Return a dataclass, each field read as what it is declared to be.

        Parameters
        ----------
        given
            Those that are not read here, by name.
        """
        for one in dataclasses.fields(cast(Any, kind)):
            if one.name not in given:
                of = str(one.type).removesuffix(" | None")
                # Earlier programs wrote no flag that says what is out of the ordinary.
                unsaid = False if one.default is False else None
                missing = (of != one.type or unsaid is False) and not self.has(one.name)
                given[one.name] = unsaid if missing else _BY_TYPE[of](self, one.name)
        return kind(**given)

    def texts(self, key: str, count: int | None = None) -> tuple[str, ...]:
        """Return a list of texts, of so many where a count is given."""
        value = self._of(key, list, "a list of texts")
        if not all(isinstance(item, str) for item in value):
            raise self._wrong(key, "a list of texts", value)
        if count not in (None, len(value)):
            raise self._refusal(key, f"should hold {count} texts, found {len(value)}")
        return tuple(map(plain_text, value))

    def mapping(self, key: str) -> dict[str, Any]:
        """Return an object as it is, whatever is in it."""
        return self._of(key, dict, "a JSON object")

    def fields(self, key: str) -> Fields:
        """Return the fields of an object within."""
        return Fields(self._get(key), self._source, f"{self._within}{key}.")

    def optional_list_of_fields(self, key: str) -> list[Fields]:
        """Return the fields of each object in a list; none where it is null or missing."""
        return self.list_of_fields(key) if self.has(key) else []

    def list_of_fields(self, key: str) -> list[Fields]:
        """Return the fields of each object in a list."""
        return [
            Fields(item, self._source, f"{self._within}{key}[{index}].")
            for index, item in enumerate(self._of(key, list, "a list"))
        ]

    def _get(self, key: str) -> Any:
        if key not in self._data:
            raise self._refusal(key, "is missing")
        return self._data[key]

    def _of(self, key: str, kind: type[Made], wanted: str) -> Made:
        value = self._get(key)
        if not isinstance(value, kind):
            raise self._wrong(key, wanted, value)
        return value

    def _refuse_outside(self, key: str, least: float, most: float, within: Range) -> None:
        if least < within[0] or most > within[1]:
            found = f"{least:g}" if least == most else f"{least:g} to {most:g}"
            ends = f"{within[0]:g} and {within[1]:g}"
            raise self._refusal(key, f"should lie between {ends}, found {found}")

    def _wrong(self, key: str, wanted: str, value: object) -> BadInput:
        return self._refusal(key, f"should be {wanted}, {_found(value)}")

    def _refusal(self, key: str, said: str) -> BadInput:
        named = _named(self._within + key)
        return BadInput(f"{named} {said}; take an undamaged copy of the file", self._source)


_BY_TYPE: Mapping[str, Callable[[Fields, str], object]] = {
    "str": Fields.text,
    "int": Fields.whole,
    "float": Fields.number,
    "bool": Fields.flag,
    "datetime": Fields.moment,
    "tuple[str, ...]": Fields.texts,
}
"""How a field is read that is declared so."""

LARGEST_FILE = 100_000_000
"""Bytes. A correction from a thousand patches takes about a million."""


def read_fields(path: Path, schema: str, largest: int = LARGEST_FILE) -> Fields:
    """Read a JSON file that says it follows `schema`, as "greyscale/correction/1".

    Parameters
    ----------
    largest
        Bytes that it may have.

    Raises
    ------
    BadInput
        If it cannot be read, is no JSON, or follows another schema, a later version's too.
    """
    try:
        data = json.loads(read_bytes(path, largest, "is it the right file?").decode("utf-8"))
    except UnicodeDecodeError as error:
        raise BadInput("cannot be read as text; take an undamaged copy of it", path) from error
    except json.JSONDecodeError as error:
        raise BadInput(
            f"is not complete JSON ({error.msg}); take an undamaged copy of it", path, error.lineno
        ) from error
    except (ValueError, RecursionError) as error:
        raise BadInput(
            "is not JSON that can be used; take an undamaged copy of it", path
        ) from error
    fields = Fields(data, path)
    found = fields.optional_text("schema")
    if found == schema:
        return fields
    kind, _, version = schema.rpartition("/")
    if found is not None and found.startswith(f"{kind}/"):
        raise BadInput(
            f"this was written as '{found[:60]}' by another version of greyscale; this one reads "
            f"version {version}. Update greyscale",
            path,
        )
    said = f"'{found[:60]}'" if found else "nothing"
    raise BadInput(f"says schema {said}, not '{schema}'; give another file", path)


def _named(path: str) -> str:
    return f"'{path.rstrip('.')}'" if path else "the file"


def _found(value: object) -> str:
    shown = json.dumps(value, default=str)
    return f"found {shown if len(shown) <= 40 else shown[:37] + '...'}"


# The lights of a correction as JSON, each with its spectrum: a lamp's file may be gone.

_POWER = (-1.0, 1e9)
_DEVICE, _LAB, _SD, _COUNTS = (0.0, 1.0), (-300.0, 300.0), (0.0, 100.0), (1.0, 1e6)
_CURVES = {"aim_lab": _LAB, "before_lab": _LAB, "lab": _LAB, "sd": _SD}
_OF_LIGHT = (
    "power", "wavelengths", "measured", "remarks", "known_from", "unknown_excitation", "rests_on",
    "noise",
)  # fmt: skip


def _lights_data(lights: Sequence[ForLight]) -> list[dict[str, Any]]:
    return [
        {
            "name": one.name,
            "weight": one.weight,
            "paper": one.paper_lab.tolist(),
            "black": one.black_lab.tolist(),
            "expectation": asdict(one.expectation),
            "brightener_low": one.low,
            "brightener_high": one.high,
            "spectrum": plain(_values(one.light, _OF_LIGHT)),
            **{name: _rows(getattr(one, name), _LAB_DIGITS) for name in _CURVES},
        }
        for one in lights
    ]


def _read_lights(items: Sequence[Fields]) -> tuple[ForLight, ...]:
    return tuple(
        ForLight(
            light=_read_light(item.text("name"), item.fields("spectrum")),
            weight=item.number("weight", within=(0.0, 1e9)),
            paper_lab=item.array("paper", 3, within=_LAB),
            black_lab=item.array("black", 3, within=_LAB),
            expectation=item.fields("expectation").made(Expectation),
            low=item.number("brightener_low"),
            high=item.number("brightener_high"),
            **{name: item.array(name, TONES, 3, within=most) for name, most in _CURVES.items()},
        )
        for item in items
    )


def _trade_offs_data(lights: Sequence[ForLight], found: Sequence[TradeOff]) -> list[dict[str, Any]]:
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


def _read_trade_off(item: Fields, lights: Sequence[ForLight]) -> TradeOff:
    mean, largest = (
        tuple(item.fields(key).number(one.name) for one in lights)
        for key in ("mean_delta_Ch", "max_delta_Ch")
    )
    return TradeOff(item.texts("solved_for"), mean, largest, item.number("score"))


def _read_light(name: str, data: Fields) -> Light:
    wavelengths = data.array("wavelengths", None, within=(0.0, 1e5))
    return data.made(
        Light,
        name=name,
        power=data.array("power", NANOMETRES.size, within=_POWER),
        wavelengths=wavelengths,
        measured=data.array("measured", len(wavelengths), within=_POWER),
        rests_on=tuple(key for key in data.texts("rests_on") if key in REGISTER),
        credible=(),
        # Corrections made before lamps' noise was kept lack it.
        noise=data.number("noise", within=(0.0, 1e9)) if data.has("noise") else 0.0,
    )


SCHEMA = "greyscale/correction/1"

# 1e-8 of the device range, 1e-5 of a CIELAB unit: far below what any printer or reading resolves.
_DEVICE_DIGITS, _LAB_DIGITS = 8, 5

_FACTS = (
    "name", "created", "round", "follows", "printer", "paper_name", "settings", "aim", "scaling",
    "neutral", "toning", "path", "encoding", "bits", "picture", "condition", "backing", "observer",
)  # fmt: skip
_OTHER_NAMES = {"paper_name": "paper", "path": "space"}  # Where a field is not called as its key.
_OF_SOURCE = (
    "name", "source", "patches", "round", "condition", "backing", "observer", "instrument",
    "printer", "paper", "settings", "created", "sha256", "glow_source",
    "glow_sha256", "as_it_is",
)  # fmt: skip

_AT_LEVELS = ("aim_lab", "target_lab", "before_lab")
"""CIELAB of a correction at its curve's levels."""

# What a damaged file may not say, or nothing that is computed from it would make sense.
_PRIORITY = (1.0, 1e3)
_WIDENED = (1.0, 1e3)
_NM, _FACTOR = (100.0, 5000.0), (-10.0, 10.0)


def to_json(correction: Correction) -> dict[str, Any]:
    """Return the correction as plain numbers, texts and lists, in a fixed order.

    The evidence is kept as exactly as it was measured, the curve to 1e-8 (R, G, B) and 1e-5
    (CIELAB).
    """
    return {
        "schema": SCHEMA,
        "version": __version__,
        **_values(correction, _FACTS),
        "paper": _lab(correction.paper_lab),
        "black": _lab(correction.black_lab),
        "near_neutral": correction.near_neutral,
        "response": correction.evidence.response.kind,
        "response_told_by": asdict(correction.evidence.response),
        "expectation": asdict(correction.expectation),
        "priority": _listed(correction.priority, 4),
        "widened": correction.widened,
        "limits": [asdict(limit) for limit in correction.limits],
        "worst_share": correction.worst_share,
        "lights": _lights_data(correction.lights),
        "trade_offs": _trade_offs_data(correction.lights, correction.trade_offs),
        "rests_on": support_data(correction.rests_on),
        "spoilt": spoilt_data(correction.spoilt),
        "remarks": list(correction.remarks),
        "curve": {
            "points": len(correction.curve),
            "rgb": _rows(correction.curve.rgb, _DEVICE_DIGITS),
            "lab": _rows(correction.curve.lab, _LAB_DIGITS),
            "sd": _rows(correction.curve.sd, _LAB_DIGITS),
            **{name: _rows(getattr(correction, name), _LAB_DIGITS) for name in _AT_LEVELS},
        },
        "evidence": _evidence(correction.evidence),
    }


def correction_id(correction: Correction) -> str:
    """Return 16 hexadecimal digits that are this correction's own: of its curve and its origin."""
    digest = hashlib.sha256()
    for values, digits in (
        (correction.curve.rgb, _DEVICE_DIGITS),
        (correction.target_lab, _LAB_DIGITS),
    ):
        # As they will be read back.
        digest.update(np.ascontiguousarray(np.round(values, digits) + 0.0).tobytes())
    origin = [
        correction.name,
        correction.created.isoformat(),
        correction.round,
        correction.space,
        correction.aim,
        [source.sha256 or source.name for source in correction.evidence.sources],
    ]
    digest.update(json.dumps(origin).encode("utf-8"))
    return digest.hexdigest()[:16]


def correction_text(data: dict[str, Any]) -> str:
    """Write JSON that can also be looked at: one field a line, of fields within fields as well."""
    return f"{_fields_text(data, '')}\n"


def _fields_text(data: dict[str, Any], indent: str) -> str:
    lines = []
    for name, value in data.items():
        fields = isinstance(value, dict) and bool(value)
        text = _fields_text(value, f"{indent} ") if fields else _value_text(value)
        lines.append(f"{indent} {_value_text(name)}: {text}")
    return "{\n" + ",\n".join(lines) + f"\n{indent}}}"


def _value_text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def from_json(path: Path) -> Correction:
    """Read a correction back from its JSON file.

    Raises
    ------
    BadInput
        Naming the field that is missing or not what it must be.
    """
    data = read_fields(path, SCHEMA)
    table = data.fields("curve")
    curve = _read_curve(table)
    count = len(curve)
    # Corrections of before these fields were for D50 alone.
    lights = _read_lights(data.optional_list_of_fields("lights"))
    return data.made(
        Correction,
        paper=data.optional_text("paper_name"),
        space=data.text("path"),
        paper_lab=_read_lab(data.fields("paper")),
        black_lab=_read_lab(data.fields("black")),
        curve=curve,
        **{name: table.array(name, count, 3, within=_LAB) for name in _AT_LEVELS},
        evidence=_read_evidence(data.fields("evidence")),
        expectation=data.fields("expectation").made(Expectation),
        # Corrections of before this field were for no picture.
        priority=data.array("priority", 256, within=_PRIORITY) if data.has("priority") else None,
        widened=data.number("widened", _WIDENED) if data.has("widened") else 1.0,
        limits=tuple(item.made(Limit) for item in data.list_of_fields("limits")),
        spoilt=tuple(map(_read_spoilt, data.optional_list_of_fields("spoilt"))),
        model=None,
        lights=lights,
        worst_share=data.number("worst_share") if data.has("worst_share") else WORST_SHARE,
        trade_offs=tuple(
            _read_trade_off(item, lights) for item in data.optional_list_of_fields("trade_offs")
        ),
    )


def _read_curve(data: Fields) -> Curve:
    points = int(data.number("points", within=(2, 65536)))
    return Curve(
        levels=np.linspace(0.0, 1.0, points),
        rgb=data.array("rgb", points, 3, within=_DEVICE),
        lab=data.array("lab", points, 3, within=_LAB),
        sd=data.array("sd", points, 3, within=_SD),
    )


def _evidence(evidence: Evidence) -> dict[str, Any]:
    return {
        "sources": [_values(source, _OF_SOURCE) for source in evidence.sources],
        **_values(evidence, ("sd_L", "sd_ab", "known")),
        "paper": _lab(evidence.paper),
        "black": _lab(evidence.black),
        "device": evidence.device.tolist(),
        "lab": evidence.lab.tolist(),
        "counts": [int(count) for count in evidence.counts],
        "origin": [int(index) for index in evidence.origin],
        "wavelengths": _listed(evidence.wavelengths),
        "spectra": _listed(evidence.spectra),
        "glow": _listed(evidence.glow),
        "glow_known": evidence.glow_known,
        "places": None if evidence.places is None else list(evidence.places),
    }


def _listed(values: Array | None, digits: int | None = None) -> list[Any] | None:
    if values is None:
        return None
    rows: list[Any] = (values if digits is None else np.round(values, digits)).tolist()
    return rows


def _read_evidence(data: Fields) -> Evidence:
    sources = tuple(item.made(Source) for item in data.list_of_fields("sources"))
    device = data.array("device", None, 3, within=_DEVICE)
    origin = data.array("origin", len(device), within=(0, len(sources) - 1))
    # Corrections of before these fields kept no spectra.
    spectral = data.has("wavelengths")
    wavelengths = data.array("wavelengths", None, within=_NM) if spectral else None

    def factors(key: str) -> Array | None:
        if wavelengths is None or not data.has(key):
            return None
        return data.array(key, len(device), len(wavelengths), within=_FACTOR)

    return Evidence(
        device=device,
        lab=data.array("lab", len(device), 3, within=_LAB),
        counts=data.array("counts", len(device), within=_COUNTS),
        origin=origin.astype(np.intp),
        sources=sources,
        sd_L=data.number("sd_L", within=_SD),
        sd_ab=data.number("sd_ab", within=_SD),
        known=data.flag("known"),
        paper=_read_lab(data.fields("paper")),
        black=_read_lab(data.fields("black")),
        wavelengths=wavelengths,
        spectra=factors("spectra"),
        glow=factors("glow"),
        glow_known=not spectral or (data.has("glow_known") and data.flag("glow_known")),
        # Corrections of before this field do not say where on the page a patch stood.
        places=data.texts("places", len(device)) if data.has("places") else None,
    )


def _values(record: object, keys: Iterable[str]) -> dict[str, Any]:
    """Return some fields as JSON has them, by their keys there."""
    values = ((key, getattr(record, _OTHER_NAMES.get(key, key))) for key in keys)
    return {
        name: value.isoformat() if isinstance(value, datetime) else value for name, value in values
    }


def _read_spoilt(data: Fields) -> SpoiltPatch:
    off = data.fields("departure")
    return data.made(
        SpoiltPatch,
        z=data.number("standard_deviations"),
        departure=(off.number("L"), off.number("a"), off.number("b")),
        index=-1,
    )


def _lab(values: Array) -> dict[str, float]:
    return {axis: float(value) for axis, value in zip("Lab", values, strict=True)}


def _read_lab(data: Fields) -> Array:
    return np.array([data.number(axis, within=_LAB) for axis in "Lab"])


def _rows(values: Array, digits: int) -> list[list[float]]:
    # Adding 0 turns -0.0, which rounding leaves behind, into 0.0.
    rows: list[list[float]] = (np.round(values, digits) + 0.0).tolist()
    return rows
