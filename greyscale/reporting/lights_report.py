"""Lights: their report, their JSON, and the figure of their spectra."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from greyscale.base.plain_text import as_typed, fixed, joined, signed
from greyscale.base.rests_on import Support, support_data, supports
from greyscale.colorimetry.light_quality import ULTRAVIOLET, LightQuality
from greyscale.colorimetry.lights import Light, at_wavelengths, luminous_power
from greyscale.readings.by_sheets import ASSUMES, Glass, LampBySheets
from greyscale.reporting.figures.labels import label
from greyscale.reporting.page import CONSERVATION, Facts, Picture, Report, Section, Table
from greyscale.reporting.style import Look, in_look, line, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure

GROUPS = (
    ("incandescent", ("A",)),
    ("daylight", ("D50", "D55", "D60", "D65", "D75", "B", "C")),
    ("daylight indoors", ("ID50", "ID65")),
    ("equal energy", ("E",)),
    ("fluorescent", ("F",)),
    ("high-pressure discharge", ("HP",)),
    ("LED", ("LED-",)),
)
"""Kinds of CIE illuminants, and the names (or how the names begin) that belong to each."""


_NOISE_UNSAID = 0.05
"""Noise up to this share of the ultraviolet is left out."""

_CAUTION = f"This list {CONSERVATION}"

_NEXT_TO_NONE = 0.05
"""Microwatts per lumen of which not one tenth is left when rounded."""


def grouped_names(names: Sequence[str]) -> list[tuple[str, list[str]]]:
    """Sort illuminants into kinds; what no kind claims comes last as "other".

    Examples
    --------
    >>> grouped_names(["A", "F1", "X"])
    [('incandescent', ['A']), ('fluorescent', ['F1']), ('other', ['X'])]
    """
    left = list(names)
    groups = []
    for kind, members in GROUPS:
        taken = [m for m in members if m in left]
        taken += [n for n in left if n not in taken and _begins(n, members)]
        left = [n for n in left if n not in taken]
        if taken:
            groups.append((kind, taken))
    return [*groups, *([("other", left)] if left else [])]


def _begins(name: str, members: Sequence[str]) -> bool:
    return any(
        name.startswith(m) and (m.endswith("-") or name[len(m) :][:1].isdigit()) for m in members
    )


def lights_list(names: Sequence[str], glazings: Sequence[str]) -> Report:
    """List every light that can be named, and how the others are written."""
    rows = (
        *((kind, "  ".join(members)) for kind, members in grouped_names(names)),
        ("by colour temperature", "daylight-4000K  blackbody-2700K"),
        ("mixed, by illuminance", "70%D65+30%blackbody-2700K"),
        ("measured", "the lamp's file: IES TM-27-14, ISO 28178 text, or two columns"),
        ("behind glass", "  ".join(f"--glazing {name}" for name in glazings)),
    )
    return Report("Lights", "Lights", (), (Section("", (Facts(rows),)),))


def lights_report(sources: Sequence[Light], qualities: Sequence[LightQuality]) -> Report:
    """Return what lights are like, a row each, and how their power lies over wavelength."""
    rows = tuple(
        (
            quality.name,
            fixed(quality.correlated_colour_temperature, 0),
            signed(quality.duv, 4),
            fixed(quality.colour_fidelity_index, 0),
            fixed(quality.colour_rendering_index, 0),
            ultraviolet_words(quality),
        )
        for quality in qualities
    )
    head = ("light", "CCT (K)", "Duv", "Rf (CIE 224)", "Ra (CIE 13.3)", "UV-A (µW/lm)")
    picture = Picture(
        lambda look: spectra_of_lights(sources, look),
        "lights",
        alt="The relative power of each light over wavelength, at equal illuminance.",
    )
    return Report(
        "Lights",
        "Lights",
        (),
        (Section("", (Table(head, rows, words=frozenset({0})), picture)),),
        cautions=(_CAUTION,),
        rests_on=lights_rest_on(sources),
        remarks=(*remarks_by_light(sources, qualities), _CAUTION),
    )


def glass_report(found: Glass, target: Path | None) -> Report:
    """Return how much a measured glass lets through, every so many nanometres."""
    shown = range(0, len(found.wavelengths), max(1, len(found.wavelengths) // 8))
    rows = tuple((f"{found.wavelengths[i]:.0f} nm", f"{found.transmittance[i]:.3f}") for i in shown)
    return Report(
        "Glass",
        "Transmittance of the glass",
        (),
        (Section("", (Facts(rows),)),),
        remarks=(ASSUMES, found.remark),
        named=False,
        made=_written(target, "--glazing"),
    )


def lamp_report(found: LampBySheets, target: Path | None) -> Report:
    """Return how far the light that two sheets were seen in makes brighteners glow."""
    return Report(
        "Lamp",
        "The light that two sheets were seen in",
        (found.remark,),
        (),
        rests_on=supports("two-sheets", "excitation"),
        named=False,
        made=_written(target, "--light"),
    )


def _written(target: Path | None, option: str) -> tuple[str, ...]:
    if target is None:
        return ()
    typed = as_typed(option, target).removeprefix("greyscale ")
    return (f"Written to {target}; use it as {typed}",)


def ultraviolet_words(quality: LightQuality) -> str:
    """Return the ultraviolet as a figure, as a floor, or as unknown; with its noise if that tells.

    Examples
    --------
    >>> ultraviolet_words(LightQuality("lamp", None, None, None, None, 0.0934, 315.0, 0.21))
    '0.1 ± 0.2'
    >>> ultraviolet_words(LightQuality("lamp", None, None, None, None, 2e-5, 380.0))
    'next to none from 380 nm on'
    """
    if quality.ultraviolet is None:
        return "not known"
    known_whole = quality.ultraviolet_from <= ULTRAVIOLET[0]
    floor = "" if known_whole else "at least "
    noise = quality.ultraviolet_noise
    if quality.ultraviolet + noise < _NEXT_TO_NONE:
        return "next to none" + ("" if known_whole else f" from {quality.ultraviolet_from:g} nm on")
    if noise <= _NOISE_UNSAID * quality.ultraviolet:
        return f"{floor}{quality.ultraviolet:.3g}"
    digits = max(-math.floor(math.log10(noise)), 0)
    return f"{floor}{quality.ultraviolet:.{digits}f} ± {noise:.{digits}f}"


def lights_rest_on(sources: Sequence[Light]) -> tuple[Support, ...]:
    """Return what the figures of some lights rest on."""
    own = [key for source in sources for key in source.rests_on]
    return supports(*own, "colour-temperature", "rendering", "ultraviolet")


def light_remarks(source: Light, quality: LightQuality) -> list[str]:
    """Say, as sentences, what one should know about a light before relying on it."""
    remarks = list(source.remarks)
    if quality.correlated_colour_temperature is None:
        remarks.append(
            "too far from the colours of black bodies to have a colour temperature"
            " or a rendering index"
        )
    if quality.ultraviolet is None or quality.ultraviolet_from > ULTRAVIOLET[0]:
        remarks.append(
            f"the table begins at {quality.ultraviolet_from:g} nm, so how far such light makes "
            "brighteners glow is only partly known"
        )
    if quality.ultraviolet is not None and "glazing-curve" in source.rests_on:
        remarks.append(
            "the glass was not measured: the µW/lm rest on a general curve drawn from memory, "
            "and a real pane may be far from it"
        )
    return remarks


def remarks_by_light(sources: Sequence[Light], qualities: Sequence[LightQuality]) -> list[str]:
    """Say each remark once, with the lights that it is of."""
    lights: dict[str, list[str]] = {}
    for source, quality in zip(sources, qualities, strict=True):
        for remark in light_remarks(source, quality):
            lights.setdefault(remark, []).append(source.name)
    return [f"{joined(list(dict.fromkeys(of)))}: {remark}" for remark, of in lights.items()]


def lights_data(sources: Sequence[Light], qualities: Sequence[LightQuality]) -> dict[str, Any]:
    """Return lights as plain data: their numbers, and the relative power they were made from."""
    return {
        "schema": "greyscale/lights/1",
        "lights": [
            {
                **asdict(quality),
                "remarks": [f"{source.name}: {one}" for one in light_remarks(source, quality)],
                "wavelengths": source.wavelengths.tolist(),
                "power": source.measured.tolist(),
            }
            for source, quality in zip(sources, qualities, strict=True)
        ],
        "rests_on": support_data(lights_rest_on(sources)),
    }


# Figure: what power lights have at each wavelength, at equal illuminance.

WAVELENGTHS = np.arange(300.0, 781.0)
"""Drawn range, nm: from where brighteners are excited to the end of sight."""


@in_look
def spectra_of_lights(sources: Sequence[Light], look: Look) -> Figure:
    """Draw a panel for each light: relative power over wavelength, at equal illuminance."""
    heights = [1.55] * len(sources)
    heights[-1] += 0.35
    figure, axes = panels(look, heights)
    for panel, source in zip(axes, sources, strict=True):
        known = source.begins <= WAVELENGTHS
        power = at_wavelengths(source, WAVELENGTHS) / luminous_power(source) * 100
        style = line(0).options(look)
        panel.fill_between(WAVELENGTHS[known], power[known], color=look.band, linewidth=0)
        panel.plot(WAVELENGTHS[known], power[known], color=style["color"], linewidth=1.3)
        panel.set_title(label(source.name, 34 if look.narrow else 60))
        panel.set_xlim(WAVELENGTHS[0], WAVELENGTHS[-1])
        panel.set_ylim(0, max(1.08 * float(power[known].max()), 1e-9))
        panel.set_yticks([])
        if not known.all():
            panel.axvspan(WAVELENGTHS[0], source.begins, color=look.band, alpha=0.5, lw=0)
            panel.text(
                (WAVELENGTHS[0] + source.begins) / 2,
                0.5 * panel.get_ylim()[1],
                "not\nknown",
                color=look.muted,
                ha="center",
                va="center",
                fontsize=look.font_size - 1,
            )
    axes[0].set_ylabel("relative power")
    axes[-1].set_xlabel("wavelength (nm); ultraviolet to the left of 400")
    return figure
