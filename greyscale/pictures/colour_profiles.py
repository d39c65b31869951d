"""ICC profiles of pictures: what they are called, and what their values stand for, by Little CMS.

`imagecodecs` carries Little CMS as Pillow does, and takes 16-bit and floating-point R, G, B, which
Pillow does not.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text
from greyscale.colorimetry.arrays import Array, equal_channels
from greyscale.readings.source_file import read_bytes

_COLOURS = {"GRAY": 1, "RGB": 3}
_SPACES = {1: "gray", 3: "rgb"}
_CLASSES = ("mntr", "scnr", "prtr", "spac")
"""Profiles that tell what values stand for: of screens, scanners, printers, working spaces."""

# ISO 15076-1: colours relative to the medium's white; its black is taken as black (ISO 18619).
_RELATIVE, _BLACK_POINT = 1, 0x2000


LARGEST_PROFILE = 100_000_000
"""Bytes. The largest output profiles have some 10 MB."""


def read_profile_file(path: Path | str) -> bytes:
    """Read a profile's file; BadInput if it cannot be read, or is larger than any profile is."""
    return read_bytes(path, LARGEST_PROFILE, "no ICC profile is as large; give another file")


@dataclass(frozen=True)
class ColourProfile:
    """An ICC profile that tells what a picture's values stand for.

    Attributes
    ----------
    colours
        1 for grey, 3 for R, G, B.
    """

    name: str
    colours: int
    data: bytes


IN_A_PICTURE = "convert the picture to a working space of grey or R, G and B in its editor"


def colour_profile(data: bytes, source: object, remedy: str = IN_A_PICTURE) -> ColourProfile:
    """Read an ICC profile.

    Parameters
    ----------
    remedy
        What to do about one that cannot be used, for messages.

    Raises
    ------
    BadInput
        If it is damaged, is for neither grey nor R, G, B, or only links other profiles.
    """
    from PIL import ImageCms

    try:
        profile = ImageCms.ImageCmsProfile(BytesIO(data)).profile
        space, kind = profile.xcolor_space.strip(), profile.device_class.strip()
        name = plain_text(" ".join((profile.profile_description or "").split()))
    except (OSError, ImageCms.PyCMSError, ValueError) as error:
        embedded = remedy == IN_A_PICTURE
        what = "the colour profile is damaged" if embedded else "is no ICC profile that can be read"
        raise BadInput(f"{what}; {remedy}", source) from error
    if space not in _COLOURS or kind not in _CLASSES:
        raise BadInput(
            f"the colour profile '{name}' is of the class '{kind}', for {space} values, and no "
            f"working space; {remedy}",
            source,
        )
    found = ColourProfile(name or "a profile without a name", _COLOURS[space], data)
    _refuse_useless(found, source, remedy)
    return found


@lru_cache(maxsize=1)
def srgb_profile() -> ColourProfile:
    """Return a profile of sRGB (IEC 61966-2-1), as Little CMS makes it, always the same bytes."""
    from PIL import ImageCms

    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # The library puts the time in the header (ISO 15076-1, 7.2.8), an identity made of it (7.2.18)
    # and a sentence about rights, of which nothing is known here, in the copyright tag.
    data[24:36] = struct.pack(">6H", 2000, 1, 1, 0, 0, 0)
    data[84:100] = bytes(16)
    theirs = "No copyright, use freely"
    ours = "Copyright not stated".ljust(len(theirs))
    return ColourProfile(
        "sRGB", 3, bytes(data).replace(theirs.encode("utf-16-be"), ours.encode("utf-16-be"))
    )


def to_xyz(values: Array, profile: ColourProfile) -> Array:
    """Return X, Y, Z under D50 of values from 0 to 1, relative to the profile's white.

    Parameters
    ----------
    values
        Shape (n,) for a grey profile, (n, 3) for one of R, G, B.

    Returns
    -------
    Array of shape (n, 3); Y of white is 1.
    """
    import imagecodecs

    xyz = _transformed(values, profile, imagecodecs.cms_profile("xyz"), "xyz")
    return np.asarray(xyz, dtype=np.float64)


def converted(values: Any, profile: ColourProfile, target: ColourProfile) -> Any:
    """Turn values into those of another profile of R, G, B.

    Parameters
    ----------
    values
        Shape (n, 3) or (n,), from 0 to 1.

    Returns
    -------
    Array of float32, shape (n, 3); what the target cannot hold is held at its ends.
    """
    return np.clip(_transformed(values, profile, target.data, "rgb"), 0.0, 1.0)


def _transformed(values: Any, profile: ColourProfile, target: bytes, space: str) -> Any:
    import imagecodecs

    pixels = np.ascontiguousarray(values, dtype=np.float32)
    return imagecodecs.cms_transform(
        pixels[np.newaxis],
        profile.data,
        target,
        colorspace=_SPACES[profile.colours],
        outcolorspace=space,
        outdtype=np.float32,
        intent=_RELATIVE,
        flags=_BLACK_POINT,
    )[0]


def _refuse_useless(profile: ColourProfile, source: object, remedy: str) -> None:
    """Refuse a profile that opens, and then cannot be used."""
    import imagecodecs

    ends = np.array([0.0, 1.0])
    values = ends if profile.colours == 1 else equal_channels(ends)
    try:
        xyz = to_xyz(values, profile)
    except imagecodecs.CmsError as error:
        raise BadInput(
            f"the colour profile '{profile.name}' lacks what a conversion needs; {remedy}", source
        ) from error
    if not np.isfinite(xyz).all() or xyz[1, 1] <= xyz[0, 1]:
        raise BadInput(
            f"by the colour profile '{profile.name}' white is no lighter than black; {remedy}",
            source,
        )
