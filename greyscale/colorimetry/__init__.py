"""Spectra, lights, CIELAB, differences, adaptation, density: arrays in, arrays out.

Nothing in here imports the rest of the project. The last axis of an array is the colour, or
the wavelength. Reflectance factors are 1 for the perfect diffuser; X, Y, Z are 100 for it.
"""
