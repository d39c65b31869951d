"""Figures, one per file: `function(result, look=LIGHT)` gives a Matplotlib figure.

Each is decorated with `greyscale.reporting.style.in_look`; `save.save_figure` writes it, and a
page draws it by `Picture(lambda look: function(result, look), ...)` in all its looks.
"""
