"""What a correction's files say of where it comes from and where it belongs."""

from __future__ import annotations

from greyscale.correction.record import Correction

ENCODINGS = {
    "lstar": "L* by level (L* = 100 × level)",
    "srgb": "sRGB (IEC 61966-2-1)",
    "gamma-1.8": "a gamma of 1.8",
    "gamma-2.2": "a gamma of 2.2",
    "density": "density by level",
}


def describe(correction: Correction) -> tuple[str, ...]:
    """Give lines about printer, paper, settings, aim and use, as for a file's comments."""
    known = (
        ("Printer", correction.printer),
        ("Paper", correction.paper_name),
        ("Settings", correction.settings),
        ("Made", correction.created.isoformat(sep=" ", timespec="minutes")),
        ("Follows", correction.follows),
        ("Tone aim", correction.aim),
        ("Toning", correction.toning),
        ("Neutral aim", None if correction.toning else correction.neutral),
    )
    lines = [f"{name}: {value}" for name, value in known if value]
    return (*lines, f"Takes: {takes(correction)}", f"Gives: {gives(correction)}")


def takes(correction: Correction) -> str:
    """Say what values the correction must be given."""
    encoding = ENCODINGS.get(correction.aim, f"the table {correction.aim}")
    return f"picture values encoded as {encoding}"


def gives(correction: Correction) -> str:
    """Say where the values that come out must go, and how."""
    if correction.path == "device":
        return "values for the printer as it was set for the chart, without colour management"
    return f"values of {correction.path}, through the same profile and settings as the chart"
