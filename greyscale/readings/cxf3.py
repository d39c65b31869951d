"""CxF3 (ISO 17972-1): readings out of its objects and colour specifications.

A file may hold several measuring conditions: each becomes a reading. Device values stand with the
measured object, or with another object of the same name (a target).
"""

from __future__ import annotations

import logging
import re
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text
from greyscale.colorimetry.arrays import Array
from greyscale.readings.about import about_file, backing_of, condition_in, weighting
from greyscale.readings.assemble import Measurements, ReadOptions
from greyscale.readings.fields import recognise_fields
from greyscale.readings.reading import Reading
from greyscale.readings.source_file import Contents, Outline, to_number

# The parts of a CxF3 file that a reading needs: what each object and specification states.

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
        Value of each channel, by the names of `fields.DEVICE_FIELDS`.
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
    """Return the word that an element holds: of a list of the standard, or as it stands."""
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


NAMESPACE = "http://colorexchangeformat.com/CxF3-core"
"""Of ISO 17972-1."""

_DECLARATION = re.compile(r"<\?xml[^>]*\?>")


def recognises(file: Contents) -> bool:
    """Tell whether a file is XML.

    Examples
    --------
    >>> recognises(Contents(b"<?xml version='1.0'?><CxF/>", "a"))
    True
    """
    return file.text.lstrip("\ufeff \t\r\n").startswith("<")


def read_all(file: Contents, options: ReadOptions) -> list[Reading]:
    """Read every reading: one per measuring condition and backing.

    Raises
    ------
    BadInput
        With the line: XML that is harmful or broken, or is no CxF3; or what cannot be true.
    """
    text, source = file.text.lstrip("\ufeff \t\r\n"), file.source
    declared = _DECLARATION.match(text)
    text = text if declared is None else text[declared.end() :]
    seen = Outline(text, source, wanted="Object")
    if seen.root != "CxF" or seen.namespace != NAMESPACE:
        raise BadInput(
            f"is XML ({seen.root}) but not CxF3 (ISO 17972-1); export the reading as CxF3", source
        )
    document = _parse(text, source)
    stated = _File(document, seen.lines, source)
    groups = stated.groups()
    if not groups:
        raise BadInput(
            "no object in here has a reflectance spectrum, CIELAB or XYZ; export the reading "
            "with its measurements",
            source,
        )
    return [stated.measurements(group).reading(options) for group in groups]


def _parse(text: str, source: object) -> Any:
    import colour_cxf
    from xsdata.exceptions import ConverterError, ParserError

    try:
        with _silence():
            return colour_cxf.read_cxf(text.encode("utf-8"))
    except (ParserError, ConverterError, ValueError, TypeError) as error:
        reason = " ".join(str(error).split())[:120]
        raise BadInput(f"is not valid CxF3 ({reason}); export it again", source) from error


@contextmanager
def _silence() -> Iterator[None]:
    """Keep the parser's own warnings from the terminal.

    A word outside a list of the standard stays a word, and is judged where it is used.
    """
    logger = logging.getLogger("xsdata")
    level = logger.level
    logger.setLevel(logging.ERROR)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        logger.setLevel(level)


@dataclass(frozen=True)
class _Group:
    """Values that belong together: measured under one condition, on one backing."""

    condition: str | None
    backing: str | None
    kind: Kind
    main: Specification
    beside: tuple[tuple[Kind, Specification], ...]


class _File:
    """The objects of a file, and the specifications that they refer to."""

    def __init__(self, document: Any, lines: Sequence[int], source: Path | str) -> None:
        self.source = source
        self.information = document.file_information
        resources = document.resources
        collection = getattr(resources, "object_collection", None)
        items = [] if collection is None else collection.object_value
        known = len(lines) == len(items)
        self.objects = [
            object_of(item, lines[k] if known else None, source) for k, item in enumerate(items)
        ]
        listed = getattr(resources, "color_specification_collection", None)
        specifications = [] if listed is None else listed.color_specification
        self.specifications = {str(item.id): specification_of(item) for item in specifications}
        named = [item.name for item in self.objects if item.device]
        self.targets = {item.name: item for item in reversed(self.objects) if item.device}
        self.by_name = all(named) and len(set(named)) == len(named)

    def groups(self) -> list[_Group]:
        """Sort what was measured by condition and backing; spectra lead, then CIELAB, then XYZ.

        Values of unsaid condition beside spectra of a single one are taken to be of that one.
        """
        used = dict.fromkeys(key for item in self.objects for key in item.values)
        entries = [
            (kind, self.specifications.get(name, Specification(name))) for kind, name in used
        ]
        by_condition: dict[tuple[str | None, str | None], list[tuple[Kind, Specification]]] = {}
        for kind, specification in entries:
            key = (specification.condition, specification.backing)
            by_condition.setdefault(key, []).append((kind, specification))
        said = [key for key in by_condition if key[0] is not None]
        for key in [key for key in by_condition if key[0] is None]:
            if len(said) == 1 and all(kind != "spectrum" for kind, _ in by_condition[key]):
                by_condition[said[0]] += by_condition.pop(key)
        return [_group(*key, entries) for key, entries in by_condition.items()]

    def keywords(self, group: _Group) -> list[tuple[str, str]]:
        """Return what the file says of itself as keywords of ISO 28178."""
        information = self.information
        tags = [] if information is None else information.tag
        created = next((item.created for item in self._measured(group) if item.created), None)
        if created is None:
            created = getattr(getattr(information, "creation_date", None), "value", None)
        colorimetric = next((s for kind, s in group.beside if kind == "CIELAB"), group.main)
        pairs = [
            ("FILE_DESCRIPTOR", getattr(information, "description", None)),
            ("ORIGINATOR", getattr(information, "creator", None)),
            ("CREATED", None if created is None else str(created)),
            ("MEASUREMENT_CONDITION", group.condition),
            ("SAMPLE_BACKING", group.backing),
            ("INSTRUMENTATION", group.main.instrument),
            ("SERIAL", group.main.serial),
            ("MEASUREMENT_GEOMETRY", group.main.geometry),
            ("WEIGHTING_FUNCTION", _weighting(colorimetric)),
            *((re.sub(r"[\s\-]+", "_", str(tag.name)), tag.value) for tag in tags),
        ]
        # A character that XML names by its number may be any.
        return [(plain_text(name), plain_text(str(value))) for name, value in pairs if value]

    def measurements(self, group: _Group) -> Measurements:
        """Bring the group's values side by side."""
        measured = self._measured(group)
        devices = [self._device(item) for item in measured]
        kept = [k for k, device in enumerate(devices) if device is not None]
        if not kept:
            kept, devices = list(range(len(measured))), [None] * len(measured)
        items = [measured[k] for k in kept]
        lines = [item.line or 0 for item in items]
        spectra, wavelengths = None, None
        if group.kind == "spectrum":
            spectra, wavelengths = self._spectra(items, group.main)
        places = [item.place for item in items]
        return Measurements(
            source=self.source,
            about=replace(about_file(self.keywords(group)), full_scale=self.full_scale()),
            ids=self._ids(items),
            device=self._columns([devices[k] for k in kept], items),
            spectra=spectra,
            wavelengths=wavelengths,
            lab=self._triples(items, group, "CIELAB"),
            xyz=self._triples(items, group, "XYZ"),
            places=tuple(map(str, places)) if all(places) else None,
            lines=lines if all(lines) else None,
        )

    def full_scale(self) -> float | None:
        """Return what stands for paper white in device values, where the objects say so."""
        said = {item.full_scale for item in self.objects if item.device}
        return said.pop() if len(said) == 1 else None

    def _measured(self, group: _Group) -> list[MeasuredObject]:
        key = (group.kind, group.main.id)
        return [item for item in self.objects if key in item.values]

    def _device(self, item: MeasuredObject) -> Mapping[str, float] | None:
        if item.device:
            return item.device
        target = self.targets.get(item.name) if self.by_name else None
        return None if target is None else target.device

    def _columns(
        self, devices: Sequence[Mapping[str, float] | None], items: Sequence[MeasuredObject]
    ) -> dict[str, Array]:
        if devices[0] is None:
            return {}
        names = tuple(devices[0])
        for device, item in zip(devices, items, strict=True):
            if device is None or tuple(device) != names:
                raise BadInput(
                    f"the object '{item.name or item.id}' has other device channels than the "
                    "first; export all patches alike",
                    self.source,
                    item.line,
                )
        return {
            name: np.array([device[name] for device in devices if device is not None])
            for name in names
        }

    def _ids(self, items: Sequence[MeasuredObject]) -> tuple[str, ...]:
        """Take names where they tell patches apart, or name the target; else the objects' ids."""
        names = tuple(item.name for item in items)
        joined = not all(item.device for item in items)
        if all(names) and (joined or len(set(names)) == len(names)):
            return names
        return tuple(item.id for item in items)

    def _spectra(
        self, items: Sequence[MeasuredObject], specification: Specification
    ) -> tuple[Array, Array]:
        key: tuple[Kind, str] = ("spectrum", specification.id)
        first = items[0]
        count = len(first.values[key])
        start = first.starts.get(specification.id, specification.start)
        if start is None or not specification.increment:
            raise BadInput(
                f"the colour specification '{specification.id}' does not state where its spectra "
                "start and their increment (WavelengthRange); export the reading again",
                self.source,
                first.line,
            )
        for item in items:
            its_start = item.starts.get(specification.id, specification.start)
            its_count = len(item.values[key])
            if (its_start, its_count) != (start, count):
                raise BadInput(
                    f"mixed wavelengths: the object '{item.name or item.id}' has {its_count} "
                    f"values from {its_start} nm, and the first one {count} from {start:g} nm; "
                    "export one reading per file",
                    self.source,
                    item.line,
                )
        values = np.array([item.values[key] for item in items], dtype=np.float64)
        wavelengths = start + specification.increment * np.arange(count, dtype=np.float64)
        return values.reshape(len(items), count), np.asarray(wavelengths)

    def _triples(self, items: Sequence[MeasuredObject], group: _Group, kind: Kind) -> Array | None:
        candidates = [(group.kind, group.main), *group.beside]
        name = next((s.id for other, s in candidates if other == kind), None)
        if name is None or any((kind, name) not in item.values for item in items):
            return None
        return np.array([item.values[kind, name] for item in items])


def _group(
    condition: str | None, backing: str | None, entries: list[tuple[Kind, Specification]]
) -> _Group:
    def rank(entry: tuple[Kind, Specification]) -> tuple[int, bool]:
        kind, specification = entry
        usual = (specification.illuminant, specification.observer) == ("D50", "2")
        return ("spectrum", "CIELAB", "XYZ").index(kind), not usual

    (kind, main), *beside = sorted(entries, key=rank)
    return _Group(condition, backing, kind, main, tuple(beside))


def _weighting(specification: Specification) -> str | None:
    if specification.illuminant is None and specification.observer is None:
        return None
    return weighting(specification.illuminant or "D50", specification.observer or "2")
