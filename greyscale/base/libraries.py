"""Large libraries: imported in less time, and their linear algebra on one thread."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable
from functools import wraps
from importlib import import_module
from threading import Lock, local
from types import ModuleType
from typing import Any, ParamSpec, TypeVar

# SciPy and Matplotlib put their documentation together when they are imported, which takes a fifth
# of that time. The program imports them without it, and without what they load and never use.
_IMPORTING = Lock()


def import_scipy() -> ModuleType:
    """Import SciPy's optimisers, and with them its linear algebra."""
    import numpy

    # It asks NumPy for each of its names, and so imports its tests and its reader of Fortran, too.
    names = [name for name in dir(numpy) if name not in ("f2py", "testing")]
    return _imported(
        "scipy.optimize",
        (inspect, "getdoc", lambda _: None),
        (numpy, "__dir__", lambda: names),
        (numpy, "__all__", [name for name in numpy.__all__ if name in names]),
    )


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


def _imported(module: str, *places: tuple[Any, str, Any]) -> ModuleType:
    """Import a module, while something else stands where it would take time for nothing.

    Of each such place: what has it, its name, and what stands there meanwhile.
    """
    with _IMPORTING:
        if module in sys.modules or "greyscale.cli.app" not in sys.modules:
            return import_module(module)
        # A version that takes its time elsewhere only takes longer.
        places = tuple(one for one in places if one[1] in vars(one[0]))
        kept = [(owner, name, vars(owner)[name]) for owner, name, _ in places]
        for one in places:
            setattr(*one)
        try:
            return import_module(module)
        finally:
            for one in kept:
                setattr(*one)


_Given = ParamSpec("_Given")
_Made = TypeVar("_Made")
_HELD = local()  # What this thread holds already: to look for the libraries takes a while.


def on_one_thread(work: Callable[_Given, _Made]) -> Callable[_Given, _Made]:
    """Return the function, its linear algebra held to one thread; afterwards all is as before.

    The matrices here have some hundred rows: threads gain nothing, and where several processes
    share the processors they wait for each other, tens of times as long. One thread also gives the
    same last digits everywhere, and with them the same identifiers.
    """
    # SciPy brings a library of its own, which can be held only once it is there.
    return _holding(work, "scipy")


def numpy_on_one_thread(work: Callable[_Given, _Made]) -> Callable[_Given, _Made]:
    """Return the same for a function that takes no linear algebra from SciPy, nor its import."""
    return _holding(work, "numpy")


def _holding(work: Callable[_Given, _Made], library: str) -> Callable[_Given, _Made]:
    @wraps(work)
    def held(*arguments: _Given.args, **keywords: _Given.kwargs) -> _Made:
        already = getattr(_HELD, "libraries", ())
        if library in already:
            return work(*arguments, **keywords)
        import numpy  # noqa: F401
        from threadpoolctl import threadpool_limits

        if library == "scipy":
            import_scipy()
        with threadpool_limits(limits=1, user_api="blas"):
            _HELD.libraries = ("numpy", library)
            try:
                return work(*arguments, **keywords)
            finally:
                _HELD.libraries = already

    return held
