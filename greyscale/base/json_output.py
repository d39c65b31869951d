"""Numbers and arrays as JSON text."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np


def plain(value: Any) -> Any:
    """Turn arrays, tuples and NumPy scalars into lists and plain numbers, NaN into None.

    Examples
    --------
    >>> plain({"a": np.array([1.0, np.nan]), "b": (np.float64(2), None, np.bool_(True))})
    {'a': [1.0, None], 'b': [2.0, None, True]}
    """
    if isinstance(value, np.ndarray | np.generic):
        value = value.tolist()
    if isinstance(value, float):
        # Zero has no sign for a reader; what has no finite value is missing.
        return value + 0.0 if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    return str(value) if isinstance(value, Path) else value


def json_text(data: Mapping[str, Any]) -> str:
    """Return JSON text: full precision, letters as they are, what is missing as null.

    Examples
    --------
    >>> print(json_text({"hue": "β", "angle": float("nan")}), end="")
    {
     "hue": "β",
     "angle": null
    }
    """
    return json.dumps(plain(data), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
