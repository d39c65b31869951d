"""Lights as a person names them on the page: never a file, which a path could lead anywhere."""

from __future__ import annotations

import os
import re

from greyscale.base.errors import BadInput
from greyscale.readings.numbers import to_number

LIGHTS = ("D50", "A", "F11", "D65", "daylight-5500K", "blackbody-3000K", "LED-B1", "LED-B3")
"""Lights to choose from: what is always looked at, and what halls and windows often have."""

_PLAIN = re.compile(r"[\w .%+-]+")


def light_name(text: str) -> str:
    """Return the name of a light, or of a mixture, if it is one and no file's.

    Raises
    ------
    BadInput
        For a light that is not known, or anything that a file is called by.

    Examples
    --------
    >>> light_name(" LED-B3 "), light_name("70%D65+30%blackbody-2700K")
    ('LED-B3', '70%D65+30%blackbody-2700K')
    """
    from greyscale.readings.lights import find_light

    name = text.strip()
    parts = [part.strip() for part in re.split(r"[+%]", name)]
    if not _PLAIN.fullmatch(name) or any(part and os.path.lexists(part) for part in (name, *parts)):
        raise BadInput(
            f"'{name[:60]}' is not a light known by name; a lamp's file can be given to the command"
        )
    find_light(name)
    return name


def weighted_lights(text: str) -> tuple[tuple[str, float], ...]:
    """Return lights with their weights, 1 where none is given.

    Raises
    ------
    BadInput
        For a light that is not known by name, or a weight that is none.

    Examples
    --------
    >>> weighted_lights("LED-B1, D50=2")
    (('LED-B1', 1.0), ('D50', 2.0))
    """
    found = []
    for part in filter(None, (one.strip() for one in re.split("[,;]", text))):
        name, sign, number = part.partition("=")
        weight = to_number(number) if sign else 1.0
        if weight is None or not 0 <= weight < 1e6:
            raise BadInput(f"'{part[:60]}' has no weight; write it as D50=2")
        found.append((light_name(name), weight))
    return tuple(found)
