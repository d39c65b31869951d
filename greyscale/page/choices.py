"""What a person looks by: aims, a toning, a further light. They stand in the address."""

from __future__ import annotations

import urllib.parse
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from greyscale.aims.neutral import DEFAULT_NEUTRAL_AIM, NEUTRAL_AIMS
from greyscale.aims.tone import DEFAULT_TONE_AIM, TONE_AIMS
from greyscale.aims.toning import presets
from greyscale.base.errors import BadInput
from greyscale.colorimetry.lights import REQUIRED_LIGHTS
from greyscale.page.lights import weighted_lights


@dataclass(frozen=True)
class Choices:
    """What a person chose to look by; the correction is made with the same.

    Attributes
    ----------
    light
        A further one to look under.
    made_for
        Lights that the correction is for, as typed: "LED-B1, D50=2"; empty is D50 alone.
    """

    aim: str = DEFAULT_TONE_AIM
    neutral: str = DEFAULT_NEUTRAL_AIM
    toning: str = ""
    light: str = ""
    made_for: str = ""

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
    def wishes(self) -> tuple[tuple[str, str], ...]:
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
        )

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
        made_for=asked["made_for"],
    )
