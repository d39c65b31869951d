"""How the numbers of a file, whatever its format, become a Reading."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text
from greyscale.colorimetry.arrays import Array, Indices
from greyscale.colorimetry.cielab import spectra_to_lab, xyz_to_lab
from greyscale.colorimetry.differences import delta_E_2000
from greyscale.colorimetry.tristimulus import white_point
from greyscale.readings.about import THROUGH, About
from greyscale.readings.device_values import Ramp, device_values
from greyscale.readings.field_names import Units
from greyscale.readings.from_layout import with_device_values
from greyscale.readings.layout import Layout
from greyscale.readings.limits import refuse_more_patches
from greyscale.readings.measurements import Measurements
from greyscale.readings.print_facts import facts_of
from greyscale.readings.reading import Reading
from greyscale.readings.spectral_data import Spectra, spectra_of

DISAGREEMENT = 0.5
"""ΔE00 from which a stated CIELAB is said to disagree with the spectra beside it."""


@dataclass(frozen=True)
class ReadOptions:
    """What a person says beside the file.

    Attributes
    ----------
    ramp
        Of a CMYK file that holds both: "K" or "CMY".
    units
        Of spectra: "percent" or "decimal"; None to decide.
    layout
        The chart's layout, for a file without device values.
    """

    ramp: Ramp | None = None
    units: Units | None = None
    layout: Layout | None = None


def reading_of(
    stated: Measurements, about: About, source: Path | str, options: ReadOptions
) -> Reading:
    """Make a Reading: spectra as reflectance factors, CIELAB for D50 and 2°, device values 0-1.

    Spectra go before a stated CIELAB, and that before X, Y, Z. The same id may stand twice if
    the device values are the same: then the patch was read again.

    Raises
    ------
    BadInput
        If there is nothing measured, or what is stated cannot be true.
    """
    remarks: tuple[str, ...] = ()
    if options.layout is not None:
        stated, remarks = with_device_values(stated, options.layout, source)
        about = replace(
            about,
            full_scale=1.0 if remarks else about.full_scale,
            sent_through=options.layout.fields.get(THROUGH[0], about.sent_through),
        )
    return _Assembly(stated, about, source, options, list(remarks)).reading()


@dataclass
class _Assembly:
    """One reading in the making, and what was decided on the way."""

    stated: Measurements
    about: About
    source: Path | str
    options: ReadOptions
    remarks: list[str] = field(default_factory=list)

    def reading(self) -> Reading:
        refuse_more_patches(len(self.stated.ids), self.source)
        spectra = self._spectra()
        lab, observer = self._lab(spectra)
        device = device_values(
            self.stated.device,
            self.source,
            lightness=lab[:, 0],
            ramp=self.options.ramp,
            full_scale=self.about.full_scale,
            lines=self.stated.lines,
        )
        rows = device.rows
        ids = self._unique_ids(device.values, rows)
        places = self.stated.places
        return Reading(
            name=self.about.name or plain_text(Path(self.source).stem),
            source=str(self.source),
            ids=ids,
            device=device.values,
            lab=lab[rows],
            spectra=None if spectra is None else spectra.factors[rows],
            wavelengths=None if spectra is None else spectra.wavelengths,
            places=None if places is None else tuple(places[row] for row in rows),
            observer=observer,
            **facts_of(self.about),
            fields=self.about.fields,
            remarks=(*self.about.remarks, *self.remarks, *device.remarks),
        )

    def _spectra(self) -> Spectra | None:
        stated = self.stated
        if stated.spectra is None or stated.wavelengths is None:
            return None
        units: Units | None = None
        if self.about.units == "percent":
            units = "percent"
        elif self.about.units == "decimal":
            units = "decimal"
        spectra = spectra_of(
            stated.spectra,
            stated.wavelengths,
            self.source,
            units=self.options.units or stated.spectral_units or units,
            lines=stated.lines,
            header_line=stated.header_line,
        )
        self.remarks.extend(spectra.remarks)
        return spectra

    def _lab(self, spectra: Spectra | None) -> tuple[Array, str]:
        """Give CIELAB and its observer."""
        if spectra is None:
            return self._stated_lab()
        lab = spectra_to_lab(spectra.factors, spectra.wavelengths, "D50", "2")
        if self.stated.lab is not None:
            self._compare(self.stated.lab, spectra, lab)
        return lab, "2"

    def _compare(self, stated: Array, spectra: Spectra, lab: Array) -> None:
        """Say whether the stated CIELAB, in its own light, is that of the spectra."""
        light, observer = self.about.illuminant or "D50", self.about.observer or "2"
        compared, how = lab, "the file's CIELAB"
        if (light, observer) != ("D50", "2"):
            try:
                compared = spectra_to_lab(spectra.factors, spectra.wavelengths, light, observer)
            except LookupError:
                return
            how = f"the file's CIELAB, for {light} and {observer}°,"
            self.remarks.append(
                f"The file's CIELAB is for {light} and {observer}°; here it is computed from the "
                "spectra for D50 and 2°."
            )
        difference = delta_E_2000(stated, compared)
        apart = int((difference > DISAGREEMENT).sum())
        if apart:
            self.remarks.append(
                f"The spectra are used; {how} disagrees with them by more than "
                f"{DISAGREEMENT:g} ΔE00 in {apart} of {len(difference)} patches "
                f"(mean {difference.mean():.2f}, max {difference.max():.2f})."
            )

    def _stated_lab(self) -> tuple[Array, str]:
        light, observer = self.about.illuminant or "D50", self.about.observer or "2"
        if self.stated.lab is not None:
            lab = self.stated.lab
        elif self.stated.xyz is not None:
            lab = self._lab_from_xyz(self.stated.xyz, light, observer)
        elif any(name.startswith("CHART_") for name in self.about.fields):
            raise BadInput(
                "is a chart's layout: it says what was printed, and holds no measurement; give the "
                "reading of that chart",
                self.source,
            )
        else:
            raise BadInput(
                "nothing measured is in here: neither spectra, nor LAB_L LAB_A LAB_B, nor XYZ_X "
                "XYZ_Y XYZ_Z; export the reading with spectra if the instrument has them",
                self.source,
                self.stated.header_line,
            )
        self._check_lab(lab)
        if (light, observer) != ("D50", "2"):
            self.remarks.append(
                f"CIELAB is for {light} and {observer}°, as the file states it; print "
                "colorimetry is D50 and 2° (ISO 13655). Without spectra it cannot be converted."
            )
        return lab, observer

    def _lab_from_xyz(self, xyz: Array, light: str, observer: str) -> Array:
        scale = 1.0
        if xyz[:, 1].max() <= 1.5:
            scale = 100.0
            self.remarks.append("X, Y, Z are on 0-1 (decided from the data).")
        try:
            white = white_point(light, observer)
        except LookupError:
            light, white = "D50", white_point("D50", observer)
        self.remarks.append(f"CIELAB is computed from X, Y, Z with the white of {light}.")
        return xyz_to_lab(xyz * scale, white)

    def _check_lab(self, lab: Array) -> None:
        wrong = (lab[:, 0] < -1) | (lab[:, 0] > 130) | (np.abs(lab[:, 1:]) > 200).any(axis=1)
        if wrong.any():
            row = int(np.flatnonzero(wrong)[0])
            L, a, b = lab[row]
            raise BadInput(
                f"L* {L:.4g}, a* {a:.4g}, b* {b:.4g} cannot be a print's; measure this patch "
                "again or put it right",
                self.source,
                None if self.stated.lines is None else self.stated.lines[row],
            )

    def _unique_ids(self, device: Array, rows: Indices) -> tuple[str, ...]:
        """Give every patch an id of its own; a patch that was read again gets a number."""
        stated, lines = self.stated.ids, self.stated.lines
        first: dict[str, int] = {}
        last: dict[str, int] = {}  # The number that a name was given last.
        taken = {stated[int(row)] for row in rows}
        ids = []
        for k, row in enumerate(map(int, rows)):
            name = stated[row]
            earlier = first.setdefault(name, k)
            if earlier == k:
                ids.append(name)
                continue
            if np.abs(device[k] - device[earlier]).max() > 1e-6:
                where = "" if lines is None else f" (first on line {lines[int(rows[earlier])]})"
                raise BadInput(
                    f"the id '{name}' occurs twice{where}, with different device values; "
                    "give each patch its own",
                    self.source,
                    None if lines is None else lines[row],
                )
            number = last.get(name, 1) + 1
            while f"{name} ({number})" in taken:
                number += 1
            last[name] = number
            ids.append(f"{name} ({number})")
            taken.add(ids[-1])
        again = len(ids) - len(first)
        if again:
            patches = "1 patch was" if again == 1 else f"{again} patches were"
            self.remarks.append(f"{patches} read again (same id, same device values).")
        return tuple(ids)
