"""Readings out of CxF3 (ISO 17972-1:2015), from files that colour-cxf wrote."""

from datetime import datetime

import numpy as np
import pytest
from support.cxf3_files import Patch, cxf3_bytes, specification

from greyscale.base.errors import BadInput
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.readings.formats import read, read_all

WAVELENGTHS = np.arange(400.0, 701.0, 10.0)
FACTORS = np.linspace(0.02, 0.9, 5)[:, np.newaxis] * np.linspace(0.97, 1.0, WAVELENGTHS.size)
LAB = spectra_to_lab(FACTORS, WAVELENGTHS)
RGB = [(51 * k + (3 if k == 2 else 0), 51 * k, 51 * k) for k in (0, 1, 2, 3, 5)]


@pytest.fixture
def file(tmp_path):
    def make(*args, change=lambda data: data, **options):
        path = tmp_path / "ramp.cxf"
        path.write_bytes(change(cxf3_bytes(*args, **options)))
        return path

    return make


def spectral_patches(*names):
    return [
        Patch(f"p{k}", RGB[k], spectra=dict.fromkeys(names, FACTORS[k]), place=f"A{k + 1}")
        for k in range(5)
    ]


def test_spectra_device_values_and_conditions(file):
    path = file(
        spectral_patches("S1"),
        [specification("S1", "M1", backing="Black")],
        description="kozo, first sheet",
        tags=[("Printer", "upstairs"), ("Paper name", "kozo")],
    )
    reading = read(path)
    assert reading.ids == ("p0", "p1", "p2", "p3", "p4")
    assert reading.places == ("A1", "A2", "A3", "A4", "A5")
    assert reading.wavelengths.tolist() == WAVELENGTHS.tolist()
    np.testing.assert_allclose(reading.spectra, FACTORS)
    np.testing.assert_allclose(reading.lab, LAB)
    np.testing.assert_allclose(reading.device, np.array(RGB) / 255)
    assert reading.on_axis.tolist() == [True, True, False, True, True]
    assert (reading.condition, reading.backing, reading.observer) == ("M1", "black", "2")
    assert (reading.name, reading.printer, reading.paper) == (
        "kozo, first sheet",
        "upstairs",
        "kozo",
    )
    assert reading.instrument == "Harbour hand-held"
    assert reading.created == datetime(2024, 5, 1, 10, 30)
    assert reading.fields["MEASUREMENT_GEOMETRY"] == "45/0"


def test_each_condition_of_a_file_is_a_reading(file):
    specifications = [specification(f"S{m}", m) for m in ("M0", "M1", "M2")]
    path = file(spectral_patches("SM0", "SM1", "SM2"), specifications)
    assert [r.condition for r in read_all(path)] == ["M0", "M1", "M2"]
    assert read(path).condition == "M1"
    assert read(path, condition="M2").condition == "M2"


@pytest.mark.parametrize(
    ("old", "new", "condition"),
    [
        ("M1_Daylight", "M3_Polarized", "M3"),
        ("M1_Daylight", "Flash", None),
        ("<ns0:DeviceIllumination>M1_Daylight</ns0:DeviceIllumination>",
         "<ns0:DeviceFilter>Filter_UVExcluded</ns0:DeviceFilter>", "M2"),
        ("<ns0:DeviceIllumination>M1_Daylight</ns0:DeviceIllumination>",
         "<ns0:DevicePolarization>true</ns0:DevicePolarization>", "M3"),
    ],
)  # fmt: skip
def test_the_condition_is_told_by_light_filter_or_polariser(file, old, new, condition):
    def change(data):
        assert old.encode() in data
        return data.replace(old.encode(), new.encode())

    path = file(spectral_patches("S"), [specification("S", "M1")], change=change)
    assert read(path).condition == condition


def test_cielab_for_another_observer_says_so(file):
    patches = [Patch(f"p{k}", RGB[k], lab={"S": LAB[k]}) for k in range(5)]
    path = file(patches, [specification("S", "M1", illuminant="D65", observer="10_Degree")])
    reading = read(path)
    np.testing.assert_allclose(reading.lab, LAB)
    assert (reading.observer, reading.condition, reading.spectra) == ("10", "M1", None)
    assert any("CIELAB is for D65 and 10°" in remark for remark in reading.remarks)


def test_stated_cielab_of_another_specification_is_compared_with_the_spectra(file):
    for shift, disagrees in [(0.1, False), (2.0, True), (1e308, True)]:
        patches = [
            Patch(f"p{k}", RGB[k], spectra={"S": FACTORS[k]}, lab={"L": LAB[k] + shift})
            for k in range(5)
        ]
        reading = read(file(patches, [specification("S", "M1"), specification("L")]))
        np.testing.assert_allclose(reading.lab, LAB)
        assert any("disagrees" in remark for remark in reading.remarks) == disagrees


def test_xyz_alone_becomes_cielab(file):
    # ASTM E308 white point of D50, 2°, 10 nm.
    patches = [
        Patch(f"p{k}", RGB[k], xyz={"S": 0.18 * (k + 1) * np.array([96.422, 100, 82.521])})
        for k in range(5)
    ]
    reading = read(file(patches, [specification("S", "M0")]))
    np.testing.assert_allclose(reading.lab[:, 1:], 0, atol=0.02)


def test_targets_of_the_same_name_bring_the_device_values(file):
    targets = [Patch(f"p{k}", RGB[k]) for k in range(5)]
    measured = [Patch(f"p{k}", spectra={"S": FACTORS[k]}) for k in (3, 1, 4, 0, 2)]
    reading = read(file([*targets, *measured], [specification("S", "M1")]))
    assert reading.ids == ("p3", "p1", "p4", "p0", "p2")
    np.testing.assert_allclose(reading.device * 255, [RGB[k] for k in (3, 1, 4, 0, 2)])


def test_ink_values_and_wider_rgb_ranges(file):
    black = [Patch(f"p{k}", cmyk=(0, 0, 0, 25 * k), lab={"S": LAB[4 - k]}) for k in range(5)]
    reading = read(file(black, [specification("S", "M1")]))
    assert reading.device[:, 0].tolist() == [1.0, 0.75, 0.5, 0.25, 0.0]
    wide = [Patch(f"p{k}", (4095 * k // 5,) * 3, lab={"S": LAB[k]}) for k in range(5)]
    reading = read(file(wide, [specification("S", "M1")], max_range=4095))
    np.testing.assert_allclose(reading.device[:, 0], [0, 0.2, 0.4, 0.6, 0.8])


def test_names_that_tell_nothing_apart_give_way_to_ids(file):
    patches = spectral_patches("S")
    for patch in patches:
        patch.name = "grey"
    assert read(file(patches, [specification("S")])).ids == ("o0", "o1", "o2", "o3", "o4")


def _mixed(patches):
    patches[3].spectra = {"S": FACTORS[3][:-1]}
    return patches


@pytest.mark.parametrize(
    ("patches", "specifications", "message"),
    [
        (_mixed(spectral_patches("S")), [specification("S")], "mixed wavelengths: the object 'p3'"),
        (spectral_patches("S"), [], "does not state where its spectra start"),
        ([Patch("p", (0, 0, 0))], [specification("S")], "no object in here has a reflectance"),
        ([], [], "no object in here has a reflectance"),
        ([Patch("p", spectra={"S": FACTORS[0]})], [specification("S")], "no device values"),
        ([Patch("p", (0, 0, 0), spectra={"S": FACTORS[0] + 1})], [specification("S")], "above 1.5"),
    ],
)
def test_what_a_reading_cannot_be_made_of_is_refused(file, patches, specifications, message):
    if "above" in message:
        patches[0].spectra["S"][5] = 2.5
    with pytest.raises(BadInput, match=message):
        read(file(patches, specifications))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("<ns0:R>51<", "<ns0:R>dark<", "the object 'p1': RGB_R is 'dark', which is not a number"),
        ("<ns0:R>51</ns0:R>", "", "the object 'p1': RGB_R is missing"),
        ("http://colorexchangeformat.com/CxF3-core", "http://example.org/", "not CxF3 .ISO"),
        ("</ns0:CxF>", "", "is not well-formed XML .no element found."),
        ("<ns0:Resources>", "<ns0:Surprise/><ns0:Resources>", "is not valid CxF3 .*Surprise"),
    ],
)
def test_broken_cxf3_is_refused_with_its_reason(file, old, new, message):
    def change(data):
        assert old.encode() in data
        return data.replace(old.encode(), new.encode())

    with pytest.raises(BadInput, match=message):
        read(file(spectral_patches("S"), [specification("S")], change=change))


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (
            '<?xml version="1.0"?>\n<!DOCTYPE lolz [<!ENTITY a "ha">'
            + "".join(f'<!ENTITY a{k} "{"&a;" * 10}">' for k in range(9))
            + "]>\n<CxF>&a8;</CxF>",
            "declares a document type or entities",
        ),
        (
            '<!DOCTYPE CxF [<!ENTITY x SYSTEM "file:///etc/hostname">]>\n<CxF>&x;</CxF>',
            "declares a document type or entities",
        ),
        ('<!DOCTYPE CxF SYSTEM "http://example.org/cxf.dtd"><CxF/>', "declares a document type"),
        ("<CxF>" + "<a>" * 100_000, "nested deeper than 64"),
        ("<html><body>no reading</body></html>", r"is XML \(html\) but not CxF3"),
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-8-sig"])
def test_harmful_xml_is_refused_before_it_is_parsed(tmp_path, monkeypatch, content, message,
                                                    encoding):  # fmt: skip
    import colour_cxf

    monkeypatch.setattr(colour_cxf, "read_cxf", lambda _: pytest.fail("was parsed"))
    path = tmp_path / "ramp.cxf"
    path.write_bytes(content.encode(encoding))
    with pytest.raises(BadInput, match=message):
        read(path)
