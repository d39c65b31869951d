"""The examples in docstrings are true."""

from __future__ import annotations

import doctest
import pkgutil
from importlib import import_module

import greyscale


def test_every_example_says_what_is_found() -> None:
    tried = 0
    for found in pkgutil.walk_packages(greyscale.__path__, "greyscale."):
        if not found.name.endswith("__main__"):
            result = doctest.testmod(import_module(found.name))
            assert result.failed == 0, found.name
            tried += result.attempted
    assert tried > 100
