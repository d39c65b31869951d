"""What a person looks by: aims, a toning, a further light. They stand in the address."""

from __future__ import annotations

import urllib.parse
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NEUTRAL_AIMS
from greyscale.aims.tone import DEFAULT_TONE_AIM, TONE_AIMS
from greyscale.aims.toning import presets
from greyscale.colorimetry.lights import REQUIRED_LIGHTS


@dataclass(frozen=True)
class Choices:
    """What a person chose to look by; the correction is made with the same."""

    aim: str = DEFAULT_TONE_AIM
    neutral: str = DEFAULT_NEUTRAL_AIM
    toning: str = ""
    light: str = ""

    @property
    def lights(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*REQUIRED_LIGHTS, *([self.light] if self.light else []))))

    @property
    def wishes(self) -> dict[str, str]:
        """Options of `greyscale correct` that are not the usual ones."""
        return {
            "aim": "" if self.aim == DEFAULT_TONE_AIM else self.aim,
            "neutral": "" if self.neutral == DEFAULT_NEUTRAL_AIM else self.neutral,
            "toning": self.toning,
        }

    @property
    def query(self) -> str:
        """The choices as they stand in an address."""
        usual = Choices()
        chosen = {name: value for name, value in vars(self).items() if value != vars(usual)[name]}
        return urllib.parse.urlencode(chosen)


def choices_in(given: Mapping[str, Any]) -> Choices:
    """Take the choices from an address or a form; names that are not known are the usual ones."""
    asked = {name: str(given.get(name) or "").strip()[:200] for name in vars(Choices())}
    return Choices(
        aim=asked["aim"] if asked["aim"] in TONE_AIMS else DEFAULT_TONE_AIM,
        neutral=asked["neutral"] if asked["neutral"] in NEUTRAL_AIMS else DEFAULT_NEUTRAL_AIM,
        toning=asked["toning"] if asked["toning"] in presets() else "",
        light=asked["light"],
    )
