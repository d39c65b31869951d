"""What a file states of its patches, as numbers, before anything is decided about them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from greyscale.colorimetry.arrays import Array
from greyscale.readings.field_names import Units


@dataclass(frozen=True, eq=False)
class Measurements:
    """What a file states of n patches.

    Attributes
    ----------
    ids
        Of each patch, as stated.
    device
        Name of `device_values.DEVICE_FIELDS` and its values, shape (n,) each.
    spectra, wavelengths
        Shapes (n, m) and (m,), in percent or decimal, wavelengths in any order; or None.
    spectral_units
        Where the names of the columns tell.
    lab, xyz
        Shape (n, 3) each, or None.
    places
        Strip letter and number of each patch, or None.
    lines
        The line of each patch, or None.
    header_line
        The line that names the columns, or None.
    """

    ids: tuple[str, ...]
    device: Mapping[str, Array]
    spectra: Array | None = None
    wavelengths: Array | None = None
    spectral_units: Units | None = None
    lab: Array | None = None
    xyz: Array | None = None
    places: tuple[str, ...] | None = None
    lines: Sequence[int] | None = None
    header_line: int | None = None

    def select(self, rows: Sequence[int]) -> Measurements:
        """Give some patches only, by their indices."""
        index = list(rows)
        spectra, lab, xyz = (
            None if values is None else values[index]
            for values in (self.spectra, self.lab, self.xyz)
        )
        return replace(
            self,
            ids=tuple(self.ids[row] for row in index),
            device={name: values[index] for name, values in self.device.items()},
            spectra=spectra,
            lab=lab,
            xyz=xyz,
            places=None if self.places is None else tuple(self.places[row] for row in index),
            lines=None if self.lines is None else [self.lines[row] for row in index],
        )
