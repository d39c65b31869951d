"""Tonings as a table: what `toning.py` knows by name."""
