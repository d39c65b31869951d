"""Settings of all tests."""

import os

import pytest

# Small matrices gain nothing from threads, and tests that run side by side lose much.
# Set before NumPy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

LONG = ("demo", "correction")
"""Folders whose tests begin first, so that no worker is left alone with them at the end."""

INDEPENDENT = "robustness"
"""The folder whose tests share nothing but what every worker has."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let one worker run a file's tests, which share what they have made, unless told otherwise."""
    for item in items:
        if INDEPENDENT not in item.path.parts and not item.get_closest_marker("xdist_group"):
            item.add_marker(pytest.mark.xdist_group(name=str(item.path)))
    items.sort(key=lambda item: not any(name in item.path.parts for name in LONG))
