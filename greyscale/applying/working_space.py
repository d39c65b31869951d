"""The working space that a correction's values belong to, as a profile to be embedded."""

from __future__ import annotations

import re
from pathlib import Path

from greyscale.base.errors import BadInput
from greyscale.correction.record import Correction
from greyscale.pictures.colour_profiles import ColourProfile, colour_profile, srgb_profile

DEVICE = "device"


def working_space(
    correction: Correction, embedded: bytes | None, file: Path | None = None
) -> ColourProfile | None:
    """Give the profile of the space that a correction was made for; None for a printer's values.

    It is looked for in `file`, in a file that the correction names as its space, and in the
    picture itself, if that carries a profile of that name. sRGB is known.

    Parameters
    ----------
    correction
        The correction; its `path` names the space.
    embedded
        The picture's own profile.
    file
        An ICC profile, where the name alone does not lead to it.

    Raises
    ------
    BadInput
        If the space cannot be found, or is not one of R, G, B; if a file is given, and the
        correction is for a printer's own values.
    """
    name = correction.path
    if name == DEVICE:
        if file is not None:
            raise BadInput(
                "the correction is for values that go straight to the printer, not for a working "
                "space; leave out --space",
                file,
            )
        return None
    found = _found(name, embedded, file)
    if found is None:
        raise BadInput(
            f"the correction is for values of '{name}', and neither it nor the picture holds that "
            "profile; give its file with --space",
        )
    if found.colours != 3:
        raise BadInput(f"the working space '{found.name}' is for grey; give one of R, G and B")
    return found


def _found(name: str, embedded: bytes | None, file: Path | None) -> ColourProfile | None:
    for path in (file, Path(name)):
        if path is not None and (path is file or path.is_file()):
            return colour_profile(_read(path), path)
    if embedded is not None:
        own = colour_profile(embedded, "the picture's profile")
        if _plain(own.name) == _plain(name):
            return own
    return srgb_profile() if _plain(name) == "srgb" else None


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadInput(f"cannot be read ({error.strerror})", path) from error


def _plain(name: str) -> str:
    return re.sub(r"[^\w]|_", "", name).casefold()
