"""Names that a shell can complete: lights, aims, grades. Each is looked up when it is asked for."""

from __future__ import annotations

from collections.abc import Iterable


def lights(incomplete: str) -> list[str]:
    """Complete a light's name."""
    from greyscale.colorimetry.lights import illuminant_names

    return _beginning(illuminant_names(), incomplete)


def glazings(incomplete: str) -> list[str]:
    """Complete a glazing's name."""
    from greyscale.readings.lights import glazing_names

    return _beginning(glazing_names(), incomplete)


def tone_aims(incomplete: str) -> list[str]:
    """Complete a tone aim's name."""
    from greyscale.aims.tone import TONE_AIMS

    return _beginning(TONE_AIMS, incomplete)


def scalings(incomplete: str) -> list[str]:
    """Complete the name of a scaling."""
    from greyscale.aims.tone import SCALINGS

    return _beginning(SCALINGS, incomplete)


def neutral_aims(incomplete: str) -> list[str]:
    """Complete a neutral aim's name."""
    from greyscale.aims.neutral import NEUTRAL_AIMS

    return _beginning(NEUTRAL_AIMS, incomplete)


def tolerances(incomplete: str) -> list[str]:
    """Complete a grade's name."""
    from greyscale.aims.tolerances import TOLERANCES

    return _beginning(TOLERANCES, incomplete)


def tonings(incomplete: str) -> list[str]:
    """Complete a toning's name."""
    from greyscale.aims.toning import presets

    return _beginning(presets(), incomplete)


def _beginning(names: Iterable[str], incomplete: str) -> list[str]:
    return [name for name in names if name.lower().startswith(incomplete.lower())]
