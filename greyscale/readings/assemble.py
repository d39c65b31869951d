"""How the numbers of a file, whatever its format, become a Reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text
from greyscale.base.results import filled, with_rows
from greyscale.colorimetry.arrays import Array, Indices, Mask, medians
from greyscale.colorimetry.cielab import delta_E_2000, spectra_to_lab, xyz_to_lab
from greyscale.colorimetry.tristimulus import WavelengthGrid, white_point
from greyscale.readings.about import THROUGH, About
from greyscale.readings.fields import (
    DEVICE_FIELDS,
    LONGEST_WAVELENGTH,
    RGB,
    SHORTEST_WAVELENGTH,
    Ramp,
    Units,
    device_values,
)
from greyscale.readings.layout import DEVICE_TOLERANCE, Layout, comparable
from greyscale.readings.reading import Reading
from greyscale.readings.source_file import refuse_more_patches

HIGHEST_REFLECTANCE = 1.5
"""No print reflects more: papers with much brightener reach 1.3 at 440 nm (common practice)."""

NOISE = 0.01
"""A negative reflectance factor down to minus this is an instrument's noise, and taken as 0."""

NEEDED = (430.0, 660.0)
"""nm that spectra must reach over; what less than 380 to 730 costs, the analysis says."""

FINEST_STEP = 0.1
"""nm between two values, at least."""

COARSE = "Spectra are stated in steps of"
"""How the remark begins that says so."""

_COARSE_STEPS = (0.01, 0.005)
_FEWEST_VALUES = 200

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


@dataclass(frozen=True, eq=False)
class Measurements:
    """What a file states of n patches.

    Attributes
    ----------
    device
        Name of `fields.DEVICE_FIELDS` and its values, shape (n,) each.
    spectra, wavelengths
        Shapes (n, m) and (m,), in percent or decimal, wavelengths in any order; or None.
    spectral_units
        Where the names of the columns tell.
    lab, xyz
        Shape (n, 3) each, or None.
    numbered
        Whether the file has no ids, and the patches are numbered as they stand in it.
    remarks
        What was decided on the way to a reading, as sentences.
    """

    source: Path | str
    about: About
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
    numbered: bool = False
    remarks: list[str] = field(default_factory=list)

    def reading(self, options: ReadOptions) -> Reading:
        """Make a Reading: spectra as reflectance factors, CIELAB for D50 and 2°, device values 0-1.

        Spectra go before a stated CIELAB, and that before X, Y, Z. The same id may stand twice if
        the device values are the same: then the patch was read again.

        Raises
        ------
        BadInput
            If there is nothing measured, or what is stated cannot be true.
        """
        if options.layout is not None:
            reading = with_device_values(self, options.layout)._reading(options)
            return told_what_it_lacks(reading, options.layout)
        return self._reading(options)

    def _reading(self, options: ReadOptions) -> Reading:
        refuse_more_patches(len(self.ids), self.source)
        spectra, wavelengths = self.factors(options.units)
        lab, observer = self._lab(spectra, wavelengths)
        device = device_values(
            self.device,
            self.source,
            lightness=lab[:, 0],
            ramp=options.ramp,
            full_scale=self.about.full_scale,
            lines=self.lines,
        )
        rows = device.rows
        ids = self._unique_ids(device.values, rows)
        return filled(
            Reading,
            self.about,
            name=self.about.name or plain_text(Path(self.source).stem),
            source=str(self.source),
            ids=ids,
            device=device.values,
            lab=lab[rows],
            spectra=None if spectra is None else spectra[rows],
            wavelengths=wavelengths,
            places=None if self.places is None else tuple(self.places[row] for row in rows),
            observer=observer,
            remarks=(*self.about.remarks, *self.remarks, *device.remarks),
        )

    def _line(self, row: int) -> int | None:
        return None if self.lines is None else self.lines[row]

    def factors(self, units: Units | None = None) -> tuple[Array | None, Array | None]:
        """Return reflectance factors (n, m) on rising wavelengths (m,), nm; None without spectra.

        What is decided goes to `remarks`. Units that a person states come before the file's word,
        and that before what the data tell.

        Raises
        ------
        BadInput
            If the wavelengths are too few, doubled or not equally spaced, or a reflectance factor
            is below `-NOISE` or above `HIGHEST_REFLECTANCE`.
        """
        if self.spectra is None or self.wavelengths is None:
            return None, None
        order = np.argsort(self.wavelengths, kind="stable")
        wavelengths, values = self.wavelengths[order], self.spectra[:, order]
        units, remarks = units or self.spectral_units or self.about.units, []
        even = _unrounded(wavelengths)
        if not np.array_equal(even, wavelengths):
            remarks.append(
                f"The wavelengths are rounded to whole nm; taken as {even[0]:g} to {even[-1]:g} nm "
                f"in even steps of {even[1] - even[0]:.3g}."
            )
            wavelengths = even
        _check_grid(wavelengths, self.source, self.header_line)
        decided = units or _decide_units(values)
        if decided == "percent":
            values = values / 100
        measured = _measured_columns(values)
        if not measured.all():
            left_out = wavelengths[~measured]
            wavelengths, values = wavelengths[measured], values[:, measured]
            remarks.append(
                f"At {', '.join(f'{w:g}' for w in left_out)} nm every patch is exactly 0, "
                "so nothing was measured there; left out."
            )
        self._check_range(values, wavelengths)
        if units is None:
            first, last, step = wavelengths[0], wavelengths[-1], np.diff(wavelengths).mean()
            grid = f"{first:g} to {last:g} nm by {step:.3g} nm"
            remarks.insert(0, f"Spectra, {grid}, are {_IN_WORDS[decided]} (decided from the data).")
        negative = values < 0
        if negative.any():
            remarks.append(
                f"Slightly negative reflectance (down to {values.min():.4f}) in "
                f"{int(negative.any(axis=1).sum())} patches is noise, and taken as 0."
            )
            values = np.maximum(values, 0.0)
        step = coarse_step(values)
        if step:
            tint = _tint_by_rounding(values, wavelengths, step)
            remarks.append(
                f"{COARSE} {100 * step:g} % of the perfect diffuser: by the rounding alone dark "
                f"tones look tinted, black by some ΔCh {tint:.1f}, and white that is cut off "
                "cannot be told; export them with at least two decimals more."
            )
        self.remarks.extend(remarks)
        return values, wavelengths

    def _check_range(self, values: Array, wavelengths: Array) -> None:
        wrong = (values < -NOISE) | (values > HIGHEST_REFLECTANCE)
        if not wrong.any():
            return
        row, column = map(int, np.argwhere(wrong)[0])
        value = values[row, column]
        why = "below 0" if value < 0 else f"above {HIGHEST_REFLECTANCE}"
        raise BadInput(
            f"the reflectance factor at {wavelengths[column]:g} nm is {value:.4g}, and no print's "
            f"is {why}; measure this patch again, or state the units if they are not as decided",
            self.source,
            self._line(row),
        )

    def _lab(self, spectra: Array | None, wavelengths: Array | None) -> tuple[Array, str]:
        """Return CIELAB and its observer."""
        if spectra is None or wavelengths is None:
            return self._stated_lab()
        lab = spectra_to_lab(spectra, wavelengths, "D50", "2")
        if self.lab is not None:
            self._compare(self.lab, spectra, wavelengths, lab)
        return lab, "2"

    def _compare(self, stated: Array, spectra: Array, wavelengths: Array, lab: Array) -> None:
        """Say whether the stated CIELAB, in its own light, is that of the spectra."""
        light, observer = self.about.illuminant or "D50", self.about.observer or "2"
        compared, how = lab, "the file's CIELAB"
        if (light, observer) != ("D50", "2"):
            try:
                compared = spectra_to_lab(spectra, wavelengths, light, observer)
            except LookupError:
                return
            how = f"the file's CIELAB, for {light} and {observer}°,"
            self.remarks.append(
                f"The file's CIELAB is for {light} and {observer}°; here it is computed from the "
                "spectra for D50 and 2°."
            )
        # ΔE00 is at most 2.2 times the distance in CIELAB, since no S is below 1.
        if np.abs(stated - compared).max() < DISAGREEMENT / 4:
            return
        # What is no colour at all is as far away as need be said.
        difference = delta_E_2000(np.clip(stated, -1000, 1000), compared)
        apart = int((difference > DISAGREEMENT).sum())
        if apart:
            self.remarks.append(
                f"The spectra are used; {how} disagrees with them by more than "
                f"{DISAGREEMENT:g} ΔE00 in {apart} of {len(difference)} patches "
                f"(mean {difference.mean():.2f}, max {difference.max():.2f})."
            )

    def _stated_lab(self) -> tuple[Array, str]:
        light, observer = self.about.illuminant or "D50", self.about.observer or "2"
        if self.lab is not None:
            lab = self.lab
        elif self.xyz is not None:
            lab = self._lab_from_xyz(self.xyz, light, observer)
        elif any(name.startswith("CHART_") for name in self.about.fields):
            raise BadInput(
                "is a chart's layout: it says what was printed, and holds no measurement; give the "
                "reading of that chart",
                self.source,
            )
        else:
            raise BadInput(
                "nothing measured is in here: neither spectra, nor LAB_L LAB_A LAB_B, nor XYZ_X "
                "XYZ_Y XYZ_Z, nor visual density; export the reading with spectra if the "
                "instrument has them",
                self.source,
                self.header_line,
            )
        self._check_lab(lab)
        if (light, observer) != ("D50", "2"):
            named = {"illuminant": self.about.illuminant, "observer": self.about.observer}
            unsaid = "".join(f" (it names no {what})" for what in named if named[what] is None)
            self.remarks.append(
                f"CIELAB is for {light} and {observer}°, as the file states it{unsaid}; print "
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
                self._line(row),
            )

    def _unique_ids(self, device: Array, rows: Indices) -> tuple[str, ...]:
        """Return every patch an id of its own; a patch that was read again gets a number."""
        first: dict[str, int] = {}
        last: dict[str, int] = {}  # The number that a name was given last.
        taken = {self.ids[int(row)] for row in rows}
        ids = []
        for k, row in enumerate(map(int, rows)):
            name = self.ids[row]
            earlier = first.setdefault(name, k)
            if earlier == k:
                ids.append(name)
                continue
            if np.abs(device[k] - device[earlier]).max() > 1e-6:
                before = self._line(int(rows[earlier]))
                where = "" if before is None else f" (first on line {before})"
                raise BadInput(
                    f"the id '{name}' occurs twice{where}, with different device values; "
                    "give each patch its own",
                    self.source,
                    self._line(row),
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


def coarse_step(spectra: Array) -> float:
    """The step to which all of many reflectance factors were rounded, where it is coarse; else 0.

    Examples
    --------
    >>> coarse_step(np.linspace(0.01, 0.9, 90 * 10).round(2)), coarse_step(np.ones((9, 30)) / 3)
    (0.01, 0.0)
    """
    if spectra.size < _FEWEST_VALUES:
        return 0.0
    for step in _COARSE_STEPS:
        # Most often the first spectrum tells already.
        parts = (part / step for part in (spectra[:1], spectra))
        if all(np.abs(steps - np.round(steps)).max() < 1e-6 for steps in parts):
            return step
    return 0.0


def _tint_by_rounding(factors: Array, wavelengths: Array, step: float) -> float:
    """The tint that a flat black of this brightness is given in 95 of 100 roundings."""
    darkest = np.sort(factors.mean(axis=1))[: max(1, len(factors) // 20)].mean()
    unknown = np.random.default_rng(0).uniform(-step / 2, step / 2, (400, wavelengths.size))
    lab = spectra_to_lab(np.maximum(darkest + unknown, 0), wavelengths, "D50", "2")
    return float(np.percentile(np.hypot(*lab[:, 1:].T), 95))


_IN_WORDS = {"percent": "in percent", "decimal": "decimal, 1 for the perfect diffuser"}


def _decide_units(values: Array) -> Units:
    """Decide by the patches' medians, so that a single spoiled patch does not.

    In percent, all but the deepest blacks reflect more than 1.5; as decimals, no patch does.
    """
    light = medians(values, 1) > HIGHEST_REFLECTANCE
    needed = 1 if len(values) < 4 else max(2, len(values) / 20)
    return "percent" if light.sum() >= needed else "decimal"


def _measured_columns(values: Array) -> Mask:
    """Tell which wavelengths lie within the first and the last that are not all exactly 0."""
    columns = np.flatnonzero((values != 0).any(axis=0))
    measured = np.ones(values.shape[1], dtype=bool)
    if columns.size >= 3:
        measured[: columns[0]] = False
        measured[columns[-1] + 1 :] = False
    return measured


def _unrounded(wavelengths: Array) -> Array:
    """The even steps of which these are roundings to whole nm; else the wavelengths themselves.

    No wavelength is missing where every one is as near: of a gap of 2 nm or more one would be off.
    """
    if wavelengths.size < 3 or (wavelengths % 1).any():
        return wavelengths
    even = np.linspace(wavelengths[0], wavelengths[-1], wavelengths.size)
    rounded = even[1] - even[0] > 2 and np.abs(even - wavelengths).max() <= 0.5
    return even if rounded else wavelengths


def _check_grid(wavelengths: Array, source: object, line: int | None) -> None:
    steps = np.diff(wavelengths)
    doubled = np.flatnonzero(steps == 0)
    if doubled.size:
        raise BadInput(f"{wavelengths[doubled[0]]:g} nm occurs twice", source, line)
    first, last = float(wavelengths[0]), float(wavelengths[-1])
    if first < SHORTEST_WAVELENGTH or last > LONGEST_WAVELENGTH:
        raise BadInput(
            f"the spectra run from {first:g} to {last:g} nm, which is not possible; state "
            "wavelengths in nm",
            source,
            line,
        )
    if first > NEEDED[0] or last < NEEDED[1]:
        raise BadInput(
            f"the spectra are cut off: they run from {first:g} to {last:g} nm, and colour takes "
            f"{NEEDED[0]:g} to {NEEDED[1]:g} nm at least",
            source,
            line,
        )
    if steps.min() < FINEST_STEP:
        raise BadInput(
            f"{wavelengths[np.argmin(steps)]:g} nm is followed after {steps.min():g} nm, closer "
            "than any instrument reads; export the spectra again",
            source,
            line,
        )
    try:
        WavelengthGrid.of(wavelengths)
    except ValueError as error:
        listed = ", ".join(f"{w:g}" for w in wavelengths)
        if steps.size > 1:
            usual = float(np.median(steps))
            odd = int(np.argmax(np.abs(steps - usual)))
            listed = f"{wavelengths[odd + 1]:g} follows {wavelengths[odd]:g} where the step is"
            listed += f" {usual:g}"
        raise BadInput(
            f"{error} ({listed} nm); export the spectra on one regular grid", source, line
        ) from error


# Device values from the chart's layout, for a file that holds nothing but measurements.

FROM_LAYOUT = "Device values are those of the layout"

LACKING = "Patches of its layout that the reading lacks"
"""How the remark begins that says so: the layout is then that of the whole chart."""

_NAMED = 6
"""Patches that a remark names before it stops."""


def with_device_values(stated: Measurements, layout: Layout) -> Measurements:
    """Return measurements with the device values (0 to 1) and places of their chart, if they lack
    them, and the correction that it was sent through.

    A patch is found in the layout by its id, else by its place, else by its position in the file
    where both have as many patches. What a file states itself is kept; patches that the layout
    does not have are left out.

    Raises
    ------
    BadInput
        If the layout is not this reading's, or nothing says which patch is which.
    """
    through = layout.fields.get(THROUGH[0], stated.about.sent_through)
    about = replace(stated.about, sent_through=through)
    if any(name in DEVICE_FIELDS for name in stated.device):
        return replace(stated, about=about)
    slots, how = _slots(stated, layout)
    found = [row for row, slot in enumerate(slots) if slot is not None]
    if not found:
        raise BadInput(
            f"has no patch of the layout '{layout.name}' ({len(layout)} patches; "
            f"{len(stated.ids)} here); give the layout that was made with the chart",
            stated.source,
        )
    remarks = [f"{FROM_LAYOUT} '{layout.name}', by {how}."]
    surplus = [stated.ids[row] for row, slot in enumerate(slots) if slot is None]
    if surplus:
        remarks.append(f"Left out, since the layout does not have them: {_listed(surplus)}.")
    index = [slot for slot in slots if slot is not None]
    return replace(
        with_rows(stated, found, "ids", "device", "spectra", "lab", "xyz", "places", "lines"),
        about=replace(about, full_scale=1.0),
        device=dict(zip(RGB, layout.device[index].T, strict=True)),
        places=tuple(layout.places[slot] for slot in index),
        remarks=[*stated.remarks, *remarks],
    )


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:_NAMED]) + (", ..." if len(names) > _NAMED else "")


def told_what_it_lacks(reading: Reading, layout: Layout) -> Reading:
    """Return a reading that names, as places, patches of its chart that it lacks.

    It is of this chart if each of its patches is there, with the same device values.
    """
    if any(remark.startswith(LACKING) for remark in reading.remarks):
        return reading
    for names, charted in ((reading.places, layout.places), (reading.ids, layout.ids)):
        own, there = comparable(names or (), charted)
        sent = dict(zip(there, layout.device, strict=True))
        if not own or not set(own) <= set(there):
            continue
        apart = reading.device - np.stack([sent[name] for name in own])
        lacking = set(there) - set(own)
        if lacking and np.abs(apart).max() < DEVICE_TOLERANCE:
            pairs = zip(there, layout.places, strict=True)
            said = f"{LACKING}: {_listed([place for name, place in pairs if name in lacking])}."
            return replace(reading, remarks=(*reading.remarks, said))
    return reading


def _slots(stated: Measurements, layout: Layout) -> tuple[Sequence[int | None], str]:
    """Return each patch's index in the layout, or None; and by what it was found."""
    if stated.numbered and stated.places is None:
        if len(stated.ids) != len(layout):
            raise BadInput(
                f"has {len(stated.ids)} patches without ids or places, and the layout "
                f"'{layout.name}' has {len(layout)}: nothing says which is which; add a column "
                "SAMPLE_ID with the layout's ids, or read the whole chart again",
                stated.source,
                stated.header_line,
            )
        return range(len(layout)), "position in the file"
    ways = [(stated.ids, layout.ids, "id"), (stated.ids, layout.places, "place")]
    if stated.places is not None:
        ways.append((stated.places, layout.places, "place"))
    tried = []
    for names, charted, how in ways:
        own, there = comparable(names, charted)
        index = {name: slot for slot, name in enumerate(there)}
        tried.append(([index.get(name) for name in own], how))
    slots, how = max(tried, key=lambda way: sum(slot is not None for slot in way[0]))
    if all(slot is None for slot in slots) and len(stated.ids) == len(layout):
        return range(len(layout)), "position in the file"
    return slots, how
