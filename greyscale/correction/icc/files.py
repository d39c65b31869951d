"""Which profile files a correction comes with, and what they are called."""

from __future__ import annotations

from collections.abc import Callable

from greyscale.correction.correct import Correction
from greyscale.correction.icc.device_link import device_link
from greyscale.correction.icc.grey_profile import grey_profile
from greyscale.correction.icc.profile import Profile, profile_bytes
from greyscale.readings.reading import Reading

VERSIONS = {"v4": (4, 3), "v2": (2, 4)}
"""Both are written: v4 for whatever reads it, v2 for what does not."""


def link_files(correction: Correction) -> dict[str, bytes]:
    """Give the device links of a correction: file name and content."""
    return _both("link", lambda version: device_link(correction, version))


def grey_files(reading: Reading) -> dict[str, bytes]:
    """Give the monochrome profiles of a reading, for soft proofs: file name and content."""
    return _both("grey", lambda version: grey_profile(reading, version))


def _both(name: str, make: Callable[[tuple[int, int]], Profile]) -> dict[str, bytes]:
    return {
        f"{name}-{label}.icc": profile_bytes(make(version)) for label, version in VERSIONS.items()
    }
