"""Patch and Reading; one file per file format; checks of a reading."""
