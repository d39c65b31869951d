"""How much light a glass lets through, from one white sheet read bare and through the glass."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.files import write_whole
from greyscale.colorimetry.arrays import Array
from greyscale.readings.lamps import spectral_text, two_columns

ASSUMES = (
    "Light passes the glass twice, to the sheet and back, so the transmittance is the square root "
    "of the ratio. Reflections to and fro between sheet and glass are neglected, which makes it "
    "all a few per cent too high, much the same at every wavelength. The sheet must not glow: "
    "take one without brightener, or read it in M2."
)
"""What `glass_of` rests on."""

WHITE = 0.3
"""A sheet that reflects less than this somewhere from 420 nm up is not white."""

_BEGINS_WHITE = 420.0
_HIGHEST = 1.02  # Beyond noise, nothing is lighter behind a glass.


@dataclass(frozen=True, eq=False)
class Glass:
    """A glass as it was measured.

    Attributes
    ----------
    wavelengths, transmittance
        Shape (n,): nm, and from 0 to 1.
    bare, behind
        The files it is from.
    """

    wavelengths: Array
    transmittance: Array
    bare: str
    behind: str

    @property
    def remark(self) -> str:
        """What is not known of it, as a sentence."""
        begins, first = float(self.wavelengths[0]), float(self.transmittance[0])
        return (
            f"Below {begins:g} nm nothing was read: there the glass is taken to let {first:.2f} "
            "through, as at that wavelength. Most glass lets less through, so brighteners are "
            "counted at their most."
        )


def glass_of(bare: Path, behind: Path) -> Glass:
    """Measure a glass by a white sheet.

    Parameters
    ----------
    bare, behind
        Spectra of the sheet alone and through the glass: ISO 28178 text (the mean of its patches)
        or two columns, in the same unit.

    Raises
    ------
    BadInput
        For files without spectra, of unlike wavelengths, of no white sheet, or the wrong way round.
    """
    (nm, alone), (other, through) = read_spectrum(bare), read_spectrum(behind)
    if not np.array_equal(nm, other):
        raise BadInput(
            f"holds other wavelengths ({other[0]:g} to {other[-1]:g} nm, {other.size} values) than "
            f"{bare} ({nm[0]:g} to {nm[-1]:g} nm, {nm.size} values); read both alike",
            behind,
        )
    scale = 100.0 if alone.max() > 1.5 else 1.0
    dark = (alone < WHITE * scale) & (nm >= _BEGINS_WHITE)
    if dark.any():
        raise BadInput(
            f"reflects only {alone[dark][0] / scale:.2f} at {nm[dark][0]:g} nm; read a white sheet",
            bare,
        )
    ratio = np.maximum(through, 0.0) / np.maximum(alone, 1e-3 * scale)
    share = np.sqrt(ratio)
    if np.median(share) > _HIGHEST:
        raise BadInput(
            f"is lighter than {bare}, which is said to be bare; give the bare sheet first, and "
            "both in the same unit",
            behind,
        )
    return Glass(nm, np.clip(share, 0.0, 1.0), str(bare), str(behind))


def write_glass(glass: Glass, target: Path) -> None:
    """Write a glass as a file that `--glazing` takes, whole or not at all."""
    lines = [
        # A line end in a file's name must not become one here.
        f"# greyscale glazing: {' against '.join(map(_one_line, (glass.behind, glass.bare)))}",
        f"# {ASSUMES}",
        f"# {glass.remark}",
        "wavelength_nm,transmittance",
        *(f"{nm:g},{share:.4f}" for nm, share in zip(glass.wavelengths, glass.transmittance,
                                                     strict=True)),
    ]  # fmt: skip
    write_whole(target, "\n".join(lines) + "\n")


def _one_line(path: str) -> str:
    return " ".join(Path(path).name.split())


def read_spectrum(path: Path) -> tuple[Array, Array]:
    """The one spectrum of a file, (n,) nm rising and (n,) values: of ISO 28178 text the mean."""
    try:
        head = path.read_bytes()[:4096]
    except OSError as error:
        raise BadInput(f"cannot be read ({error.strerror})", path) from error
    table = spectral_text if spectral_text.recognise(head) else two_columns
    nm, values = table.read_table(path)
    order = np.argsort(nm)
    return nm[order], values[order]
