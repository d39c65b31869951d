"""Large libraries imported in less time: in the program without their documentation.

SciPy and Matplotlib put it together when they are imported, which takes a fifth of that time.
"""

from __future__ import annotations

import inspect
import sys
from importlib import import_module
from types import ModuleType
from typing import Any


def import_scipy() -> ModuleType:
    """Import SciPy's optimisers, and with them its linear algebra."""
    return _imported("scipy.optimize", inspect, "getdoc", lambda _: None)


def import_matplotlib() -> ModuleType:
    """Import Matplotlib with its figures."""
    import matplotlib
    from matplotlib.artist import ArtistInspector

    _imported("matplotlib.figure", ArtistInspector, "get_setters", lambda _: [])
    return matplotlib


def _imported(module: str, owner: Any, name: str, instead: Any) -> ModuleType:
    """Import a module, and let something else stand where its documentation is made meanwhile."""
    if module in sys.modules or "greyscale.cli.app" not in sys.modules:
        return import_module(module)
    kept = getattr(owner, name)
    setattr(owner, name, instead)
    try:
        return import_module(module)
    finally:
        setattr(owner, name, kept)
