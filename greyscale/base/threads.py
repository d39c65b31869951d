"""How many threads the linear algebra takes: one, where the matrices are small."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from importlib import import_module
from threading import Lock
from typing import TYPE_CHECKING, ParamSpec, TypeVar

if TYPE_CHECKING:
    from threadpoolctl import threadpool_limits

_Given = ParamSpec("_Given")
_Made = TypeVar("_Made")


class _Held:
    """How many calls of this process hold the libraries, which they do for all its threads."""

    def __init__(self) -> None:
        self.lock, self.calls = Lock(), 0
        # To look for the libraries takes a while: once for each module that brings some.
        self.limits: dict[str, threadpool_limits] = {}

    def begin(self, module: str) -> None:
        from threadpoolctl import threadpool_limits

        import_module(module)
        with self.lock:
            if module not in self.limits:
                self.limits[module] = threadpool_limits(limits=1, user_api="blas")
            self.calls += 1

    def end(self) -> None:
        with self.lock:
            self.calls -= 1
            while not self.calls and self.limits:
                _, last = self.limits.popitem()
                last.restore_original_limits()


_HELD = _Held()


def on_one_thread(work: Callable[_Given, _Made]) -> Callable[_Given, _Made]:
    """Return the function, its linear algebra held to one thread; afterwards all is as before.

    The matrices here have some hundred rows: threads gain nothing, and where several processes
    share the processors they wait for each other, tens of times as long. One thread also gives the
    same last digits everywhere, and with them the same identifiers.
    """
    # SciPy brings a library of its own, which can be held only once it is there.
    return _holding(work, "scipy.linalg")


def numpy_on_one_thread(work: Callable[_Given, _Made]) -> Callable[_Given, _Made]:
    """Return the same for a function that takes no linear algebra from SciPy, nor its import."""
    return _holding(work, "numpy")


def _holding(work: Callable[_Given, _Made], module: str) -> Callable[_Given, _Made]:
    @wraps(work)
    def held(*arguments: _Given.args, **keywords: _Given.kwargs) -> _Made:
        _HELD.begin(module)
        try:
            return work(*arguments, **keywords)
        finally:
            _HELD.end()

    return held
