"""Figures, one per file: each takes a result and a look, and gives a Matplotlib figure."""
