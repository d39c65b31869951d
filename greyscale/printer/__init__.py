"""How a printer answers: evidence in; prediction, uncertainty and inverse out; no files."""
