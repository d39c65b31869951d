"""The parts of a CxF3 file that a reading needs: what each object and specification states."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text
from greyscale.readings.field_names import recognise_fields
from greyscale.readings.measuring import backing_of, condition_in
from greyscale.readings.numbers import to_number

Kind = Literal["spectrum", "CIELAB", "XYZ"]

_TRIPLES: dict[str, tuple[Kind, tuple[str, str, str]]] = {
    "ColorCielab": ("CIELAB", ("l", "a", "b")),
    "ColorCiexyz": ("XYZ", ("x", "y", "z")),
}
_DEVICE = {
    "ColorRgb": {"r": "RGB_R", "g": "RGB_G", "b": "RGB_B"},
    "ColorCmyk": {
        "cyan": "CMYK_C",
        "magenta": "CMYK_M",
        "yellow": "CMYK_Y",
        "black": "CMYK_K",
    },
}


@dataclass(frozen=True)
class Specification:
    """A ColorSpecification: how something was measured, and for which light and observer.

    Attributes
    ----------
    id
        By which values refer to it.
    condition, backing
        As in `Reading`.
    illuminant, observer
        Of tristimulus values and CIELAB; None where it does not say.
    start, increment
        Of spectra, nm.
    instrument, serial, geometry
        In words, where it says.
    """

    id: str
    condition: str | None = None
    backing: str | None = None
    illuminant: str | None = None
    observer: str | None = None
    start: float | None = None
    increment: float | None = None
    instrument: str | None = None
    serial: str | None = None
    geometry: str | None = None


@dataclass(frozen=True)
class MeasuredObject:
    """An object: a patch that was measured, a target that was printed, or both.

    Attributes
    ----------
    id, name
        As stated; the name need not be unique.
    line
        Where it begins, or None.
    place
        Strip letter and number, if a tag PATCH_PLACE says.
    created
        When it was measured, as stated.
    device
        Value of each channel, by the names of `device_values.DEVICE_FIELDS`.
    full_scale
        What stands for paper white in `device`, where it says.
    values
        Numbers by kind and specification; of a spectrum its stated start comes first.
    """

    id: str
    name: str
    line: int | None
    place: str | None
    created: str | None
    device: Mapping[str, float]
    full_scale: float | None
    values: Mapping[tuple[Kind, str], tuple[float, ...]]
    starts: Mapping[str, float]


def specification_of(item: Any) -> Specification:
    """Take what a ColorSpecification states."""
    tristimulus, measurement = item.tristimulus_spec, item.measurement_spec
    name = str(item.id or "")
    illuminant = _value(getattr(tristimulus, "illuminant_or_custom_illuminant", None))
    observer = _value(getattr(tristimulus, "observer", None))
    wavelengths = getattr(measurement, "wavelength_range", None)
    device = getattr(measurement, "device", None)
    maker = [getattr(device, key, None) for key in ("manufacturer", "model")]
    return Specification(
        id=name,
        condition=_condition(device) or condition_in(name),
        backing=backing_of(getattr(measurement, "backing", None) or ""),
        illuminant=illuminant,
        observer=None if observer is None else observer.partition("_")[0],
        start=_number(getattr(wavelengths, "start_wl", None)),
        increment=_number(getattr(wavelengths, "increment", None)),
        instrument=" ".join(str(part) for part in maker if part) or None,
        serial=_value(getattr(device, "serial_number", None)),
        geometry=_geometry(measurement),
    )


def object_of(item: Any, line: int | None, source: object) -> MeasuredObject:
    """Take what an Object states.

    Raises
    ------
    BadInput
        If a value is no number.
    """
    name = plain_text(str(item.name or "")).strip()
    what = f"the object '{name or item.id}'"
    values: dict[tuple[Kind, str], tuple[float, ...]] = {}
    starts: dict[str, float] = {}
    created = _value(item.creation_date)
    for choice in getattr(item.color_values, "choice", ()):
        specification = str(getattr(choice, "color_specification", None) or "")
        if type(choice).__name__ == "ReflectanceSpectrum":
            # Of a list that holds anything but numbers, colour-cxf gives the text.
            stated = choice.value if isinstance(choice.value, list) else str(choice.value).split()
            numbers = [_required(v, f"{what}: ReflectanceSpectrum", line, source) for v in stated]
            values["spectrum", specification] = tuple(numbers)
            start = _number(choice.start_wl)
            if start is not None:
                starts[specification] = start
            created = _value(choice.measure_date) or created
        elif type(choice).__name__ in _TRIPLES:
            kind, keys = _TRIPLES[type(choice).__name__]
            values[kind, specification] = tuple(
                _required(getattr(choice, key), f"{what}: {kind}", line, source) for key in keys
            )
    device, full_scale = _device(item, what, line, source)
    return MeasuredObject(
        id=plain_text(str(item.id or "")).strip(),
        name=name,
        line=line,
        place=_place(item),
        created=created,
        device=device,
        full_scale=full_scale,
        values=values,
        starts=starts,
    )


def _device(
    item: Any, what: str, line: int | None, source: object
) -> tuple[dict[str, float], float | None]:
    device: dict[str, float] = {}
    full_scale = None
    for choice in getattr(item.device_color_values, "choice", ()):
        for key, name in _DEVICE.get(type(choice).__name__, {}).items():
            device[name] = _required(getattr(choice, key), f"{what}: {name}", line, source)
        full_scale = _number(getattr(choice, "max_range", None)) or full_scale
    return device, full_scale


def _condition(device: Any) -> str | None:
    """Tell the condition by the device's light, its filter, its polariser."""
    illumination = getattr(device, "device_illumination", None)
    for words in (_value(illumination), getattr(illumination, "custom_type", None)):
        found = condition_in(words or "")
        if found is not None:
            return found
    if getattr(device, "device_polarization", None) is True:
        return "M3"
    return condition_in(_value(getattr(device, "device_filter", None)) or "")


def _geometry(measurement: Any) -> str | None:
    choice = getattr(getattr(measurement, "geometry_choice", None), "choice", None)
    angles = [getattr(choice, key, None) for key in ("illumination_angle", "measurement_angle")]
    if None in angles:
        return None
    return "/".join(f"{angle:g}" if isinstance(angle, float) else str(angle) for angle in angles)


def _place(item: Any) -> str | None:
    for collection in item.tag_collection:
        for tag in collection.tag:
            if recognise_fields([str(tag.name)])[0].name == "PATCH_PLACE" and tag.value:
                return plain_text(str(tag.value)).strip()
    return None


def _value(item: Any) -> str | None:
    """Give the word that an element holds: of a list of the standard, or as it stands."""
    for _ in range(3):
        inner = getattr(item, "value", None)
        if inner is None:
            break
        item = inner
    text = "" if item is None else str(item).strip()
    is_element = hasattr(type(item), "__dataclass_fields__")
    return None if not text or is_element else text


def _number(value: Any) -> float | None:
    return None if value is None else to_number(str(value))


def _required(value: Any, what: str, line: int | None, source: object) -> float:
    number = _number(value)
    if number is None:
        word = " ".join(str(value).split())[:40]
        found = "is missing" if value is None else f"is '{word}', which is not a number"
        raise BadInput(f"{what} {found}; measure this patch again", source, line)
    return number
