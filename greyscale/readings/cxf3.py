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
from typing import Any

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text
from greyscale.colorimetry.arrays import Array
from greyscale.readings.about import about_file, weighting
from greyscale.readings.assemble import ReadOptions, reading_of
from greyscale.readings.cxf3_parts import (
    Kind,
    MeasuredObject,
    Specification,
    object_of,
    specification_of,
)
from greyscale.readings.measurements import Measurements
from greyscale.readings.reading import Reading
from greyscale.readings.safe_xml import outline

NAMESPACE = "http://colorexchangeformat.com/CxF3-core"
"""Of ISO 17972-1."""

_DECLARATION = re.compile(r"<\?xml[^>]*\?>")


def recognises(text: str) -> bool:
    """Tell whether a text is XML.

    Examples
    --------
    >>> recognises("<?xml version='1.0'?><CxF/>"), recognises("CGATS.17")
    (True, False)
    """
    return text.lstrip("\ufeff \t\r\n").startswith("<")


def read_all(text: str, source: Path | str, options: ReadOptions) -> list[Reading]:
    """Read every reading: one per measuring condition and backing.

    Raises
    ------
    BadInput
        With the line: XML that is harmful or broken, or is no CxF3; or what cannot be true.
    """
    text = text.lstrip("\ufeff \t\r\n")
    declared = _DECLARATION.match(text)
    text = text if declared is None else text[declared.end() :]
    seen = outline(text, source, wanted="Object")
    if seen.root != "CxF" or seen.namespace != NAMESPACE:
        raise BadInput(
            f"is XML ({seen.root}) but not CxF3 (ISO 17972-1); export the reading as CxF3", source
        )
    document = _parse(text, source)
    file = _File(document, seen.lines, source)
    groups = file.groups()
    if not groups:
        raise BadInput(
            "no object in here has a reflectance spectrum, CIELAB or XYZ; export the reading "
            "with its measurements",
            source,
        )
    readings = []
    for group in groups:
        about = replace(about_file(file.keywords(group)), full_scale=file.full_scale())
        readings.append(reading_of(file.measurements(group), about, source, options))
    return readings


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
        """Give what the file says of itself as keywords of ISO 28178."""
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
        """Give what stands for paper white in device values, where the objects say so."""
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
