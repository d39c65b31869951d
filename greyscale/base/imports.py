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
    return _imported("scipy.optimize", (inspect, "getdoc", lambda _: None))


def import_matplotlib() -> ModuleType:
    """Import Matplotlib with its figures."""
    import matplotlib
    from matplotlib import artist

    of_setters = "_update_set_signature_and_docstring"
    _imported(
        "matplotlib.figure",
        (artist, "kwdoc", lambda _: ""),
        (artist.Artist, of_setters, classmethod(lambda _: None)),
    )
    return matplotlib


def _imported(module: str, *makers: tuple[Any, str, Any]) -> ModuleType:
    """Import a module, while something else stands where its documentation is made.

    Of each such place: what has it, its name, and what stands there meanwhile.
    """
    if module in sys.modules or "greyscale.cli.app" not in sys.modules:
        return import_module(module)
    kept = [(owner, name, vars(owner)[name]) for owner, name, _ in makers]
    for one in makers:
        setattr(*one)
    try:
        return import_module(module)
    finally:
        for one in kept:
            setattr(*one)
