"""The same measurements as text in every format, written with nothing of the project."""

from __future__ import annotations

SPELLINGS = ("SPECTRAL_NM{}", "NM_{}", "nm{}", "SPEC_{}")


def iso28178(ids, device, spectra, wavelengths, percent=False, spelling=SPELLINGS[0], gap="\t"):
    """ISO 28178 text; device values on 0 to 255."""
    factor = 100 if percent else 1
    fields = ["SAMPLE_ID", "RGB_R", "RGB_G", "RGB_B"]
    fields += [spelling.format(int(w)) for w in wavelengths]
    rows = [
        gap.join([name, *(repr(float(v) * 255) for v in d), *(repr(float(v) * factor) for v in s)])
        for name, d, s in zip(ids, device, spectra, strict=True)
    ]
    return "\n".join(
        [
            "CGATS.17",
            'MEASUREMENT_SOURCE "Illumination=M1"',
            f"NUMBER_OF_FIELDS {len(fields)}",
            "BEGIN_DATA_FORMAT",
            gap.join(fields),
            "END_DATA_FORMAT",
            f"NUMBER_OF_SETS {len(rows)}",
            "BEGIN_DATA",
            *rows,
            "END_DATA",
            "",
        ]
    )


def delimited(ids, device, spectra, wavelengths, percent=False, mark=","):
    """CSV with a header of field names; semicolons go with decimal commas."""
    factor = 100 if percent else 1
    header = ["SAMPLE_ID", "RGB_R", "RGB_G", "RGB_B"]
    header += [f"{int(w)} nm{' (%)' if percent else ''}" for w in wavelengths]
    rows = [header]
    for name, d, s in zip(ids, device, spectra, strict=True):
        rows.append(
            [name, *(repr(float(v) * 255) for v in d), *(repr(float(v) * factor) for v in s)]
        )
    if mark == ";":
        rows[1:] = [[cell.replace(".", ",") for cell in row] for row in rows[1:]]
    return "\n".join(mark.join(row) for row in rows) + "\n"


def cxf3(ids, device, spectra, wavelengths):
    """CxF3 of ISO 17972-1, one colour specification of condition M1."""
    objects = "".join(
        f'<cc:Object Id="o{i}" Name="{name}" ObjectType="Standard">'
        f"<cc:CreationDate>2025-03-04T10:00:00</cc:CreationDate>"
        f'<cc:ColorValues><cc:ReflectanceSpectrum ColorSpecification="spec" '
        f'StartWL="{int(wavelengths[0])}">{" ".join(repr(float(v)) for v in s)}'
        f"</cc:ReflectanceSpectrum></cc:ColorValues>"
        f'<cc:DeviceColorValues><cc:ColorRGB ColorSpecification="spec">'
        f"<cc:MaxRange>255</cc:MaxRange>"
        f"<cc:R>{float(d[0]) * 255!r}</cc:R><cc:G>{float(d[1]) * 255!r}</cc:G>"
        f"<cc:B>{float(d[2]) * 255!r}</cc:B></cc:ColorRGB></cc:DeviceColorValues>"
        f"</cc:Object>"
        for i, (name, d, s) in enumerate(zip(ids, device, spectra, strict=True))
    )
    step = int(wavelengths[1] - wavelengths[0])
    return (
        '<?xml version="1.0" encoding="UTF-8"?>'
        '<cc:CxF xmlns:cc="http://colorexchangeformat.com/CxF3-core">'
        "<cc:FileInformation><cc:Creator>workshop</cc:Creator>"
        "<cc:CreationDate>2025-03-04T10:00:00</cc:CreationDate>"
        "<cc:Description>ramp</cc:Description></cc:FileInformation>"
        f"<cc:Resources><cc:ObjectCollection>{objects}</cc:ObjectCollection>"
        '<cc:ColorSpecificationCollection><cc:ColorSpecification Id="spec">'
        "<cc:MeasurementSpec><cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType>"
        "<cc:GeometryChoice><cc:SingleAngle><cc:SingleAngleConfiguration>Annular"
        "</cc:SingleAngleConfiguration><cc:IlluminationAngle>45</cc:IlluminationAngle>"
        "<cc:MeasurementAngle>0</cc:MeasurementAngle></cc:SingleAngle></cc:GeometryChoice>"
        f'<cc:WavelengthRange StartWL="{int(wavelengths[0])}" Increment="{step}"/>'
        "<cc:Device><cc:DeviceIllumination>M1_Daylight</cc:DeviceIllumination></cc:Device>"
        "</cc:MeasurementSpec></cc:ColorSpecification></cc:ColorSpecificationCollection>"
        "</cc:Resources></cc:CxF>"
    )
