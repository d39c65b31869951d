"""Neutrality of black-and-white inkjet prints: measured, judged, corrected, proved.

    import greyscale

    reading = greyscale.read("cotton-rag.txt")
    analysis = greyscale.analyse(reading, lights=["D50", "A", "LED-B3"])
    print(greyscale.summary(analysis))
    greyscale.write_report(analysis, "report")
    greyscale.write_correction(greyscale.correct(reading), "harbour-light")

All that is offered here is in `greyscale.api`. Importing the package imports nothing heavy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from greyscale.base.results import register as _register

__version__ = "0.1.0"

if TYPE_CHECKING:
    from greyscale.api import (
        BadInput,
        analyse,
        apply,
        chart,
        check,
        compare,
        correct,
        drying,
        light,
        read,
        read_correction,
        read_layout,
        settings,
        summary,
        verify,
        write_correction,
        write_report,
    )


__all__ = [
    "BadInput", "analyse", "apply", "chart", "check", "compare", "correct", "drying", "light",
    "read", "read_correction", "read_layout", "settings", "summary", "verify",
    "write_correction", "write_report",
]  # fmt: skip


def _presenter() -> Any:
    from importlib import import_module

    return import_module("greyscale.reporting.presenting")


# Results show themselves in notebooks; what draws them is imported when one does.
_register(_presenter)


def __getattr__(name: str) -> Any:
    """Return what `greyscale.api` offers, once it is asked for."""
    if name in __all__:
        from importlib import import_module

        return getattr(import_module("greyscale.api"), name)
    raise AttributeError(f"module 'greyscale' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
