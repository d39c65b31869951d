"""A simulated printer, and the whole job done on it, step by step."""
