"""Neutrality of black-and-white inkjet prints: measured, judged, corrected, proved."""

__version__ = "0.1.0"
