"""Which profile files a correction comes with, and how they are written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.correction.record import Correction
from greyscale.icc.amend import INTENTS, Amendment, amend
from greyscale.icc.device_link import device_link
from greyscale.icc.grey_profile import grey_profile
from greyscale.icc.measured_printer import measured_printer
from greyscale.icc.profile import Profile, profile_bytes, read_profile
from greyscale.icc.simple_tags import NOT_STATED
from greyscale.printer.model import fit
from greyscale.readings.reading import Reading

VERSIONS = {"v4": (4, 3), "v2": (2, 4)}
"""Both are written: v4 for whatever reads it, v2 for what does not."""

AMENDED = "amended.icc"


def write_links(correction: Correction, folder: Path, rights: str = NOT_STATED) -> tuple[str, ...]:
    """Write the device links of a correction; return the files' names."""
    return _both(folder, "link", lambda version: device_link(correction, version, rights))


def write_grey_profiles(
    reading: Reading, folder: Path, rights: str = NOT_STATED
) -> tuple[str, ...]:
    """Write the monochrome profiles of a reading, for soft proofs; return the files' names."""
    return _both(folder, "grey", lambda version: grey_profile(reading, version, rights))


def _both(folder: Path, name: str, make: Callable[[tuple[int, int]], Profile]) -> tuple[str, ...]:
    names = []
    for label, version in VERSIONS.items():
        names.append(f"{name}-{label}.icc")
        write_whole(folder / names[-1], profile_bytes(make(version)))
    return tuple(names)


def amend_profile(
    correction: Correction,
    path: Path | str,
    intents: Sequence[str] = (),
    rights: str | None = None,
) -> tuple[bytes, tuple[Amendment, ...]]:
    """Make an output profile anew whose greys print neutral, by what a correction knows.

    Parameters
    ----------
    correction
        From charts that went straight to the printer, with the profile's driver settings.
    path
        The profile.
    intents
        Names of `INTENTS` to amend; none given are all.
    rights
        What the new profile says of its copyright; by default what the old one says.

    Raises
    ------
    BadInput
        If the charts did not go straight to the printer, or the profile cannot be amended.
    """
    if correction.path != "device":
        raise BadInput(
            f"the charts went through {correction.path}, and a profile is amended from charts "
            "that went straight to the printer, colour management off",
            "--amend",
        )
    model = correction.model or fit(correction.evidence)
    printer = measured_printer(model, correction.evidence)
    note = f"grey amended: {correction.name}"
    made, amendments = amend(
        read_profile(path),
        printer,
        path,
        intents=intents or tuple(INTENTS),
        note=note,
        rights=rights,
    )
    return profile_bytes(made), amendments
