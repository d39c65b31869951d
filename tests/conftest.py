"""Settings of all tests."""

import gc
import os
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from support.runner import Runner

# Small matrices gain nothing from threads, and tests that run side by side lose much.
# Set before NumPy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# What each process that a test starts would compile anew: let it be kept, whoever asked for less.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# Thousands of modules and figures hold no garbage worth a search after every few hundred objects.
gc.set_threshold(50_000, 20, 50)

# That a machine is busy with other work is no fault of what is tested.
settings.register_profile("busy", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("busy")


LONG = ("demo", "correction", "reporting")
"""Folders whose tests begin first, so that no worker is left alone with them at the end."""

INDEPENDENT = "robustness"
"""The folder whose tests share nothing but what every worker has."""

TOGETHER = "reporting"
"""The folder whose tests share pages with dozens of figures."""


DRAWN = ("reporting", "demo")
"""The folders whose tests look at figures; all others are content with empty ones."""


def pytest_collection_finish() -> None:
    """Search what has been loaded by now for garbage no more: it is there to stay."""
    gc.freeze()


def pytest_sessionfinish() -> None:
    """Let Pytest's own searches at the end, five of them, find little to search."""
    gc.freeze()


@pytest.fixture(autouse=True, scope="module")
def figures(request: pytest.FixtureRequest) -> Iterator[None]:
    """Leave out the drawing of reports' figures where nobody looks at them."""
    from support.empty_figures import have_empty_figures

    with pytest.MonkeyPatch.context() as patch:
        if not set(DRAWN) & set(request.path.parts):
            have_empty_figures(patch)
        yield


@pytest.fixture(scope="session")
def runner(tmp_path_factory: pytest.TempPathFactory) -> "Iterator[Runner]":
    """Commands run in processes of their own, quickly; one for all tests of this process."""
    from support.runner import Runner, faults_library

    with Runner(faults_library(tmp_path_factory.mktemp("faults"))) as one:
        yield one


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let one worker run a file's tests, which share what they have made, unless told otherwise."""
    for item in items:
        folders = item.path.parts
        if INDEPENDENT not in folders and not item.get_closest_marker("xdist_group"):
            shared = item.path.parent if TOGETHER in folders else item.path
            item.add_marker(pytest.mark.xdist_group(name=str(shared)))
    items.sort(key=lambda item: not any(name in item.path.parts for name in LONG))
