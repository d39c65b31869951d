"""How many threads the linear algebra takes: one, where the matrices are small."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

_Given = ParamSpec("_Given")
_Made = TypeVar("_Made")


def on_one_thread(work: Callable[_Given, _Made]) -> Callable[_Given, _Made]:
    """Return the function, its linear algebra held to one thread; afterwards all is as before.

    The matrices here have some hundred rows: threads gain nothing, and where several processes
    share the processors they wait for each other, tens of times as long. One thread also gives the
    same last digits everywhere, and with them the same identifiers.
    """

    held = numpy_on_one_thread(work)

    @wraps(work)
    def held_as_well(*arguments: _Given.args, **keywords: _Given.kwargs) -> _Made:
        # SciPy brings a library of its own, which can be held only once it is there.
        import scipy.linalg  # noqa: F401

        return held(*arguments, **keywords)

    return held_as_well


def numpy_on_one_thread(work: Callable[_Given, _Made]) -> Callable[_Given, _Made]:
    """Return the same for a function that takes no linear algebra from SciPy, nor its import."""

    @wraps(work)
    def held(*arguments: _Given.args, **keywords: _Given.kwargs) -> _Made:
        from threadpoolctl import threadpool_limits

        with threadpool_limits(limits=1, user_api="blas"):
            return work(*arguments, **keywords)

    return held
