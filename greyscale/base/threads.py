"""How many threads the linear algebra takes: one, where the matrices are small."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from threading import local
from typing import ParamSpec, TypeVar

from greyscale.base.imports import import_scipy

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
