"""Little CMS as Pillow's wheel brings it, called directly: device links, 16 bits, doubles.

Pillow's own `ImageCms` joins two profiles with 8-bit pictures; a device link stands alone.
"""

from __future__ import annotations

import ctypes
import ctypes.util
from functools import lru_cache
from pathlib import Path

import numpy as np
import PIL
import pytest

# Pixel types of lcms2.h: COLORSPACE_SH(s) | CHANNELS_SH(c) | BYTES_SH(b) | FLOAT_SH(f).
GRAY_16 = (3 << 16) | (1 << 3) | 2
RGB_16 = (4 << 16) | (3 << 3) | 2
RGB_DOUBLE = (1 << 22) | (4 << 16) | (3 << 3)
LAB_DOUBLE = (1 << 22) | (10 << 16) | (3 << 3)
NO_OPTIMIZATION, NO_CACHE = 0x0100, 0x0040


@lru_cache
def library() -> ctypes.CDLL:
    """Load the library; skip the test where there is none to load."""
    folder = Path(PIL.__file__).parent.parent / "pillow.libs"
    names = [*map(str, sorted(folder.glob("liblcms2*"))), ctypes.util.find_library("lcms2")]
    for name in names:
        if name:
            cms = ctypes.CDLL(name)
            break
    else:
        pytest.skip("no Little CMS library can be loaded beside Pillow's")
    cms.cmsOpenProfileFromMem.restype = ctypes.c_void_p
    cms.cmsOpenProfileFromMem.argtypes = [ctypes.c_char_p, ctypes.c_uint32]
    cms.cmsCreateTransform.restype = ctypes.c_void_p
    cms.cmsCreateTransform.argtypes = [
        ctypes.c_void_p, ctypes.c_uint32, ctypes.c_void_p, ctypes.c_uint32, ctypes.c_uint32,
        ctypes.c_uint32,
    ]  # fmt: skip
    cms.cmsCreateLab4Profile.restype = ctypes.c_void_p
    cms.cmsCreateLab4Profile.argtypes = [ctypes.c_void_p]
    cms.cmsDoTransform.argtypes = [
        ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_uint32,
    ]  # fmt: skip
    return cms


def convert(
    values: np.ndarray,
    from_profile: bytes | None,
    to_profile: bytes | None,
    from_type: int,
    to_type: int,
    intent: int = 1,
    link: bool = False,
) -> np.ndarray:
    """Send values, shape (n, channels), through profiles; None is CIELAB.

    16-bit types take and give 0 to 65535, doubles CIELAB or 0 to 1. A link stands alone.
    """
    cms = library()

    def opened(data: bytes | None) -> int:
        if data is None:
            return int(cms.cmsCreateLab4Profile(None))
        handle = cms.cmsOpenProfileFromMem(data, len(data))
        assert handle, "Little CMS refuses the profile"
        return int(handle)

    second = None if link else opened(to_profile)
    flags = NO_OPTIMIZATION | NO_CACHE
    transform = cms.cmsCreateTransform(
        opened(from_profile), from_type, second, to_type, intent, flags
    )
    assert transform, "Little CMS makes no transform of it"
    kinds = {0: np.float64, 2: np.uint16}
    source = np.ascontiguousarray(values, dtype=kinds[from_type & 7])
    channels = (to_type >> 3) & 15
    result = np.zeros((len(source), channels), dtype=kinds[to_type & 7])
    cms.cmsDoTransform(transform, source.ctypes.data, result.ctypes.data, len(source))
    return result
