"""What a person looks by: aims, a toning, lights, a picture. They stand in the address."""

from __future__ import annotations

import os
import re
import urllib.parse
from collections.abc import Collection, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NEUTRAL_AIMS, presets
from greyscale.aims.tone import DEFAULT_TONE_AIM, NAMED, TONE_AIMS
from greyscale.base.errors import BadInput
from greyscale.colorimetry.lights import REQUIRED_LIGHTS
from greyscale.readings.source_file import to_number

# Lights as a person names them on the page: never a file, which a path could lead anywhere.

LIGHTS = ("D50", "A", "F11", "D65", "daylight-5500K", "blackbody-3000K", "LED-B1", "LED-B3")
"""Lights to choose from: what is always looked at, and what halls and windows often have."""

FORETOLD = "foretold"
"""In place of a correction's folder: what one would be by the choices, before it is made."""

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
    from greyscale.readings.lamps import find_light

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


@dataclass(frozen=True)
class Choices:
    """What a person chose to look by; the correction is made with the same.

    Attributes
    ----------
    light
        A further one to look under.
    made_for
        Lights that the correction is for, as typed: "LED-B1, D50=2"; empty is D50 alone.
    picture, encoding
        Name of the picture that it is for, and how that is encoded; empty is none, and as it says.
    """

    aim: str = DEFAULT_TONE_AIM
    neutral: str = DEFAULT_NEUTRAL_AIM
    toning: str = ""
    light: str = ""
    made_for: str = ""
    picture: str = ""
    encoding: str = ""

    @property
    def lights(self) -> tuple[str, ...]:
        """Those to look under: the usual ones, and every one that was chosen."""
        asked: tuple[str, ...] = ()
        with suppress(BadInput):  # What foretells the correction says what is wrong.
            asked = tuple(name for name, _ in self.weighted)
        return tuple(dict.fromkeys((*REQUIRED_LIGHTS, *filter(None, (self.light, *asked)))))

    @property
    def weighted(self) -> tuple[tuple[str, float], ...]:
        """The lights that the correction is for, with their weights.

        Raises
        ------
        BadInput
            For a light that is not known by name, or a weight that is none.
        """
        return weighted_lights(self.made_for)

    @property
    def options(self) -> tuple[tuple[str, str], ...]:
        """Options of `greyscale correct` that are not the usual ones, with their values."""
        chosen = (
            ("aim", "" if self.aim == DEFAULT_TONE_AIM else self.aim),
            ("neutral", "" if self.neutral == DEFAULT_NEUTRAL_AIM else self.neutral),
            ("toning", self.toning),
        )
        return (
            *((option, value) for option, value in chosen if value),
            *(("light", name) for name, _ in self.weighted),
            *(("weight", f"{name}={weight:g}") for name, weight in self.weighted if weight != 1),
            *((("for-image", self.picture),) if self.picture else ()),
        )

    @property
    def query(self) -> str:
        """The choices as they stand in an address."""
        usual = Choices()
        chosen = {name: value for name, value in vars(self).items() if value != vars(usual)[name]}
        return urllib.parse.urlencode(chosen)


def choices_in(given: Mapping[str, Any], pictures: Collection[str] = ()) -> Choices:
    """Take the choices from an address or a form; names that are not known are the usual ones."""
    asked = {name: str(given.get(name) or "").strip()[:200] for name in vars(Choices())}
    return Choices(
        aim=asked["aim"] if asked["aim"] in TONE_AIMS else DEFAULT_TONE_AIM,
        neutral=asked["neutral"] if asked["neutral"] in NEUTRAL_AIMS else DEFAULT_NEUTRAL_AIM,
        toning=asked["toning"] if asked["toning"] in presets() else "",
        light=asked["light"],
        made_for=asked["made_for"],
        picture=asked["picture"] if asked["picture"] in pictures else "",
        encoding=asked["encoding"] if asked["encoding"] in NAMED else "",
    )
