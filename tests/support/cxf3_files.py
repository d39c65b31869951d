"""CxF3 files made with the writer of colour-cxf, after ISO 17972-1."""

from __future__ import annotations

from dataclasses import dataclass

import colour_cxf
import numpy as np
from colour_cxf import cxf3
from xsdata.models.datatype import XmlDateTime

CREATED = XmlDateTime.from_string("2024-05-01T10:30:00+02:00")

ILLUMINATION = {
    "M0": cxf3.EdeviceIlluminationType.M0_INCANDESCENT,
    "M1": cxf3.EdeviceIlluminationType.M1_DAYLIGHT,
    "M2": cxf3.EdeviceIlluminationType.M2_UVEXCLUDED,
    "M3": cxf3.EdeviceIlluminationType.M3_POLARIZED,
}


@dataclass
class Patch:
    """What one object of a file is to state; a part that is None is left out."""

    name: str
    rgb: tuple[float, float, float] | None = None
    cmyk: tuple[float, float, float, float] | None = None
    spectra: dict[str, np.ndarray] | None = None
    lab: dict[str, np.ndarray] | None = None
    xyz: dict[str, np.ndarray] | None = None
    place: str | None = None


def specification(
    name,
    condition=None,
    *,
    backing=None,
    illuminant="D50",
    observer="2_Degree",
    start=400,
    step=10,
    device=None,
):
    """Make a ColorSpecification, geometry 45/0."""
    if device is None and condition is not None:
        light = cxf3.DeviceIllumination(value=ILLUMINATION[condition])
        device = cxf3.Device(manufacturer="Harbour", model="hand-held", device_illumination=light)
    return cxf3.ColorSpecification(
        id=name,
        tristimulus_spec=cxf3.TristimulusSpec(
            illuminant_or_custom_illuminant=cxf3.Illuminant(value=cxf3.EilluminantType(illuminant)),
            observer=cxf3.Observer(value=cxf3.EobserverType(observer)),
            method=cxf3.Method(value=cxf3.EastmTableType.E308_TABLE5),
        ),
        measurement_spec=cxf3.MeasurementSpec(
            measurement_type=cxf3.MeasurementType(value=cxf3.EspectrumType.SPECTRUM_REFLECTANCE),
            geometry_choice=cxf3.GeometryChoice(
                choice=cxf3.SingleAngleType(
                    single_angle_configuration=cxf3.SingleAngleConfiguration(
                        value=cxf3.EsingleAngleConfigurationType.ANNULAR
                    ),
                    illumination_angle=45.0,
                    measurement_angle=0.0,
                )
            ),
            wavelength_range=cxf3.WavelengthRange(start_wl=start, increment=step),
            backing=backing,
            device=device,
        ),
    )


def cxf3_bytes(patches, specifications, *, description=None, tags=(), max_range=None):
    """Give the bytes of a file of some patches."""
    objects = [_object(k, patch, max_range) for k, patch in enumerate(patches)]
    document = cxf3.CxF(
        file_information=cxf3.FileInformation(
            creator="harbour print workshop",
            creation_date=cxf3.CreationDate(value=CREATED),
            description=description,
            tag=[cxf3.Tag(name=name, value=value) for name, value in tags],
        ),
        resources=cxf3.Resources(
            object_collection=cxf3.ObjectCollection(object_value=objects),
            color_specification_collection=cxf3.ColorSpecificationCollection(
                color_specification=list(specifications)
            ),
        ),
    )
    return colour_cxf.write_cxf(document)


def _object(number, patch, max_range):
    values = [
        *(
            cxf3.ReflectanceSpectrum(value=[float(v) for v in values], color_specification=name)
            for name, values in (patch.spectra or {}).items()
        ),
        *(
            cxf3.ColorCielab(l=float(v[0]), a=float(v[1]), b=float(v[2]), color_specification=name)
            for name, v in (patch.lab or {}).items()
        ),
        *(
            cxf3.ColorCiexyz(x=float(v[0]), y=float(v[1]), z=float(v[2]), color_specification=name)
            for name, v in (patch.xyz or {}).items()
        ),
    ]
    device = []
    if patch.rgb is not None:
        r, g, b = patch.rgb
        device.append(
            cxf3.ColorRgb(max_range=max_range, r=r, g=g, b=b, color_specification="device")
        )
    if patch.cmyk is not None:
        cyan, magenta, yellow, black = patch.cmyk
        device.append(
            cxf3.ColorCmyk(
                cyan=cyan,
                magenta=magenta,
                yellow=yellow,
                black=black,
                color_specification="device",
            )
        )
    place = []
    if patch.place is not None:
        tag = cxf3.Tag(name="PATCH_PLACE", value=patch.place)
        place.append(cxf3.TagCollection(name="place", tag=[tag]))
    return cxf3.Object(
        object_type="Standard" if values else "Target",
        name=patch.name,
        id=f"o{number}",
        creation_date=cxf3.CreationDate(value=CREATED),
        color_values=cxf3.ColorValues(choice=values) if values else None,
        device_color_values=cxf3.DeviceColorValues(choice=device) if device else None,
        tag_collection=place,
    )
