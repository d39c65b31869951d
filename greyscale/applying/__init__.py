"""Sending pictures through a correction: their encoding, the LUT, the dither, the note of it."""
