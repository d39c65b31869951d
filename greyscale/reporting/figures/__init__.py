"""Figures, by kinds of results: `function(result, look=LIGHT)` gives a Matplotlib figure.

Each is decorated with `in_look` of `greyscale.reporting.style`, whose `save_figure` writes it; a
page draws it by `Picture(lambda look: function(result, look), ...)` in all its looks.
"""
