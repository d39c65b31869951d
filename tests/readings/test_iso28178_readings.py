"""Readings out of ISO 28178 text, and into it.

Spellings of fields and keywords: ISO 28178:2009 (CGATS.17), and those found in the wild (common
practice, no source).
"""

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from greyscale.base.errors import BadInput
from greyscale.colorimetry.cielab import spectra_to_lab
from greyscale.readings import iso28178
from greyscale.readings.formats import read, read_all
from greyscale.readings.reading import Reading

WAVELENGTHS = np.arange(400.0, 701.0, 10.0)
FACTORS = np.linspace(0.02, 0.9, 5)[:, np.newaxis] * np.linspace(0.97, 1.0, WAVELENGTHS.size)


def text(fields, rows, *keywords):
    lines = ["CGATS.17", *keywords, "BEGIN_DATA_FORMAT", " ".join(fields), "END_DATA_FORMAT"]
    return "\n".join([*lines, "BEGIN_DATA", *(" ".join(map(str, r)) for r in rows), "END_DATA\n"])


@pytest.fixture
def file(tmp_path):
    def make(*args, name="ramp.txt"):
        path = tmp_path / name
        path.write_text(text(*args), encoding="utf-8")
        return path

    return make


def spectral_rows(scale=1.0, form="{:.6f}".format):
    return [
        [k + 1, *[round(255 * k / 4, 2)] * 3, *map(form, scale * factors)]
        for k, factors in enumerate(FACTORS)
    ]


RGB = ["SAMPLE_ID", "RGB_R", "RGB_G", "RGB_B"]


@pytest.mark.parametrize(
    "spelling",
    ["SPECTRAL_NM{}", "SPECTRAL_NM_{}", "NM_{}", "nm{}", "SPEC_{}", "R_{}nm", "SPECTRAL_{}", "{}",
     "{}nm", "R{}", "LAMBDA_{}", "SPECTRAL_{}.0", "Reflectance-{}", "WL{}"],
)  # fmt: skip
def test_every_spelling_of_a_spectral_field_is_known(file, spelling):
    fields = RGB + [spelling.format(int(w)) for w in WAVELENGTHS]
    reading = read(file(fields, spectral_rows()))
    assert reading.wavelengths.tolist() == WAVELENGTHS.tolist()
    np.testing.assert_allclose(reading.spectra, FACTORS, atol=1e-6)
    np.testing.assert_allclose(reading.lab, spectra_to_lab(FACTORS, WAVELENGTHS), atol=1e-3)


def test_percent_or_decimal_is_decided_and_said(file):
    fields = RGB + [f"SPECTRAL_NM{w:g}" for w in WAVELENGTHS]
    decimal = read(file(fields, spectral_rows()))
    percent = read(file(fields, spectral_rows(100)))
    np.testing.assert_allclose(percent.spectra, decimal.spectra, atol=1e-6)
    assert decimal.remarks[0] == (
        "Spectra, 400 to 700 nm by 10 nm, are decimal, 1 for the perfect diffuser "
        "(decided from the data)."
    )
    assert percent.remarks[0] == (
        "Spectra, 400 to 700 nm by 10 nm, are in percent (decided from the data)."
    )


def test_stated_units_go_before_the_data(file):
    dark = 0.004 * np.ones((5, WAVELENGTHS.size))  # of no print's: only a statement can tell
    rows = [[k, *[51 * k] * 3, *row] for k, row in enumerate(100 * dark)]
    by_name = RGB + [f"SPECTRAL_PCT{w:g}" for w in WAVELENGTHS]
    plain = RGB + [f"SPECTRAL_NM{w:g}" for w in WAVELENGTHS]
    np.testing.assert_allclose(read(file(by_name, rows)).spectra, dark)
    np.testing.assert_allclose(read(file(plain, rows), units="percent").spectra, dark)
    keyword = read(file(plain, rows, 'SPECTRAL_UNITS "percent"'))
    np.testing.assert_allclose(keyword.spectra, dark)
    assert not any("Spectra" in remark for remark in keyword.remarks)


def test_decimal_commas_quotes_and_tabs(tmp_path):
    fields = ["SAMPLE_NAME", "GRAY", "LAB_L", "LAB_A", "LAB_B"]
    rows = ["dark grey\t0\t12,5\t0,25\t-1,5", "paper\t255\t96,125\t,5\t-2"]
    path = tmp_path / "ramp.txt"
    path.write_text(
        "\n".join(["BEGIN_DATA_FORMAT", "\t".join(fields), "END_DATA_FORMAT"])
        + "\n".join(["\nBEGIN_DATA", *rows, "END_DATA"])
    )
    reading = read(path)
    assert reading.ids == ("dark grey", "paper")
    assert reading.lab.tolist() == [[12.5, 0.25, -1.5], [96.125, 0.5, -2.0]]
    assert reading.device[:, 1].tolist() == [0.0, 1.0]


def test_wavelengths_in_any_order_and_unmeasured_ends(file):
    order = np.random.default_rng(1).permutation(WAVELENGTHS.size)
    factors = FACTORS.copy()
    factors[:, 0] = 0.0
    rows = [[k, *[51 * k] * 3, *row[order]] for k, row in enumerate(factors)]
    reading = read(file(RGB + [f"nm{w:g}" for w in WAVELENGTHS[order]], rows))
    assert reading.wavelengths.tolist() == WAVELENGTHS[1:].tolist()
    np.testing.assert_allclose(reading.spectra, FACTORS[:, 1:])
    assert "At 400 nm every patch is exactly 0" in " ".join(reading.remarks)


def test_each_row_may_state_its_wavelengths(file):
    fields = [*RGB, *["SPECTRAL_NM", "SPECTRAL_DEC"] * 4]
    rows = [
        [k, *[51 * k] * 3, 400, 0.1 * k, 500, 0.1 * k, 600, 0.11 * k, 700, 0.1 * k]
        for k in range(1, 6)
    ]
    reading = read(file(fields, rows))
    assert reading.wavelengths.tolist() == [400, 500, 600, 700]
    np.testing.assert_allclose(reading.spectra[4], [0.5, 0.5, 0.55, 0.5])
    rows[3][4] = 410
    with pytest.raises(BadInput, match="mixed wavelengths") as caught:
        read(file(fields, rows))
    assert caught.value.line == 9


@pytest.mark.parametrize(
    ("keyword", "attribute", "value"),
    [
        ('MEASUREMENT_CONDITION "M1"', "condition", "M1"),
        ('FILTER "M2"', "condition", "M2"),
        ('FILTER "UVcut"', "condition", "M2"),
        ('FILTER "No filter"', "condition", None),
        ('POLARIZATION "polarized"', "condition", "M3"),
        ('POLARIZATION "unpolarized"', "condition", None),
        ('MEASUREMENT_SOURCE "M0 (incandescent)"', "condition", "M0"),
        ('FILE_DESCRIPTOR "kozo, M1, 2nd sheet"', "condition", "M1"),
        ('INSTRUMENTATION "model M1 of ours"', "condition", None),
        ('SAMPLE_BACKING "Black"', "backing", "black"),
        ('SAMPLE_BACKING "same paper, 4 sheets"', "backing", "self"),
        ('SAMPLE_BACKING "ceramic tile"', "backing", "ceramic tile"),
        ('MEASUREMENT_SOURCE "D50, 2 degree, 0/45, white backing"', "backing", "white"),
        ('WEIGHTING_FUNCTION "OBSERVER, 10 degree"', "observer", "10"),
        ('OBSERVER "10"', "observer", "10"),
        ('OBSERVER "CIE 1931"', "observer", "2"),
        ('COMPUTATIONAL_PARAMETER "D50 10°"', "observer", "10"),
        ('INSTRUMENTATION "hand-held, 45/0"', "instrument", "hand-held, 45/0"),
        ('MATERIAL "unbleached cotton"', "paper", "unbleached cotton"),
        ('PAPER "kozo"', "paper", "kozo"),
        ('PRINTER "upstairs"', "printer", "upstairs"),
        ('PRINT_CONDITIONS "slow, matte black"', "settings", "slow, matte black"),
        ('FILE_DESCRIPTOR "lighthouse"', "name", "lighthouse"),
        ('ILLUMINANT "D65, observer 10°"', "observer", "10"),
        ('ORIGINATOR "me"', "name", "ramp"),
        ('CREATED "2024-05-01"', "created", datetime(2024, 5, 1)),
        ('CREATED "2024-05-01T10:30:00+02:00"', "created", datetime(2024, 5, 1, 10, 30)),
        ('CREATED "05/21/2024 3:04 PM"', "created", datetime(2024, 5, 21, 15, 4)),
        ('CREATED "21.5.2024 15:04"', "created", datetime(2024, 5, 21, 15, 4)),
        ('CREATED "May 21, 2024"', "created", datetime(2024, 5, 21)),
        ("CREATED Tue May 21 15:04:05 2024", "created", datetime(2024, 5, 21, 15, 4, 5)),
        ('CREATED "3/4/2024"', "created", None),
    ],
)
def test_what_the_keywords_say(file, keyword, attribute, value):
    fields = ["SAMPLE_ID", "GRAY", "LAB_L", "LAB_A", "LAB_B"]
    reading = read(file(fields, [[1, 0, 10, 0, 0], [2, 255, 95, 0, 0]], keyword))
    assert getattr(reading, attribute) == value


def test_a_date_that_could_be_two_is_kept_and_said(file):
    fields = ["SAMPLE_ID", "GRAY", "LAB_L", "LAB_A", "LAB_B"]
    reading = read(file(fields, [[1, 0, 10, 0, 0], [2, 255, 95, 0, 0]], "CREATED 3/4/2024"))
    assert reading.fields == {"CREATED": "3/4/2024"}
    assert any("3/4/2024" in remark for remark in reading.remarks)


def test_spectra_go_before_a_stated_cielab_and_disagreement_is_said(file):
    lab = spectra_to_lab(FACTORS, WAVELENGTHS)
    fields = [*RGB, "LAB_L", "LAB_A", "LAB_B", *[f"nm{w:g}" for w in WAVELENGTHS]]

    def rows(stated):
        return [[*r[:4], *s, *r[4:]] for r, s in zip(spectral_rows(), stated, strict=True)]

    agreeing = read(file(fields, rows(lab + np.array([0.0, 0.0, 0.2]))))
    assert not any("disagrees" in remark for remark in agreeing.remarks)
    off = lab.copy()
    off[:2, 2] += 3.0
    reading = read(file(fields, rows(off)))
    np.testing.assert_allclose(reading.lab, lab, atol=1e-3)
    remark = next(r for r in reading.remarks if "disagrees" in r)
    assert "by more than 0.5 ΔE00 in 2 of 5 patches (mean " in remark


def test_a_cielab_for_another_light_is_compared_in_its_own(file):
    other = spectra_to_lab(FACTORS, WAVELENGTHS, "D65", "10")
    fields = [*RGB, "LAB_L", "LAB_A", "LAB_B", *[f"nm{w:g}" for w in WAVELENGTHS]]
    rows = [[*r[:4], *s, *r[4:]] for r, s in zip(spectral_rows(), other, strict=True)]
    keywords = ['WEIGHTING_FUNCTION "ILLUMINANT, D65"', 'WEIGHTING_FUNCTION "OBSERVER, 10 degree"']
    reading = read(file(fields, rows, *keywords))
    assert reading.observer == "2"
    assert any("CIELAB is for D65 and 10°; here it is computed" in r for r in reading.remarks)
    assert not any("disagrees" in remark for remark in reading.remarks)
    alone = read(file(fields[:7], [row[:7] for row in rows], *keywords))
    assert alone.observer == "10"
    assert any("CIELAB is for D65 and 10°, as the file states it" in r for r in alone.remarks)


def test_xyz_becomes_cielab_with_the_white_of_d50_or_the_files(file):
    fields = ["SAMPLE_ID", "GRAY", "XYZ_X", "XYZ_Y", "XYZ_Z"]
    # ASTM E308 white points (10 nm, 2°), D50 and A: their greys are a* = b* = 0.
    for white, keywords in [
        ((96.422, 100, 82.521), ()),
        ((109.850, 100, 35.585), ('WEIGHTING_FUNCTION "ILLUMINANT, A"',)),
        ((109.850, 100, 35.585), ('ILLUMINANT "A"',)),
    ]:
        rows = [[k, 51 * k, *(0.18 * k * np.array(white))] for k in range(1, 6)]
        reading = read(file(fields, rows, *keywords))
        np.testing.assert_allclose(reading.lab[:, 1:], 0, atol=0.05)
        small = [[k, g, x / 100, y / 100, z / 100] for k, g, x, y, z in rows]
        np.testing.assert_allclose(read(file(fields, small, *keywords)).lab, reading.lab)


def test_several_conditions_in_one_file_are_several_readings(tmp_path):
    fields = ["SAMPLE_ID", "GRAY", "LAB_L", "LAB_A", "LAB_B"]
    parts = [
        text(fields, [[1, 0, 10, 0, b], [2, 255, 95, 0, b]], f"MEASUREMENT_CONDITION {m}")
        for m, b in [("M0", -1), ("M1", -2), ("M2", 3)]
    ]
    path = tmp_path / "three.txt"
    path.write_text("".join(parts))
    assert [r.condition for r in read_all(path)] == ["M0", "M1", "M2"]
    chosen = read(path)
    assert chosen.condition == "M1"
    assert chosen.remarks[-1] == "The file holds M0, M1, M2; M1 is used."
    assert read(path, condition="M2").lab[0, 2] == 3
    with pytest.raises(BadInput, match="holds no reading under M3, but under M0, M1, M2"):
        read(path, condition="M3")


def test_tables_may_be_pages_or_hold_device_values_apart(tmp_path):
    lab = ["SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B"]
    device = ["SAMPLE_ID", "GRAY"]
    path = tmp_path / "apart.txt"
    path.write_text(
        text(device, [["b", 255], ["a", 0]]) + text(lab, [["a", 9, 0, 0], ["b", 90, 0, 0]])
    )
    assert read(path).device[:, 0].tolist() == [0.0, 1.0]

    both = ["SAMPLE_ID", "GRAY", "LAB_L", "LAB_A", "LAB_B"]
    path.write_text(text(both, [["a", 0, 9, 0, 0]]) + text(both, [["b", 255, 90, 0, 0]]))
    pages = read(path)
    assert pages.ids == ("a", "b")
    assert any("continues the one before it" in remark for remark in pages.remarks)

    path.write_text(text(device, [["a", 0]]) + text(lab, [["z", 90, 0, 0]]))
    with pytest.raises(BadInput, match="has no patch 'z'"):
        read(path)


def test_a_patch_read_again_is_kept_under_a_number(file):
    fields = ["SAMPLE_ID", "GRAY", "LAB_L", "LAB_A", "LAB_B"]
    again = [["a", 0, 9, 0, 0], ["b", 255, 90, 0, 0], ["a", 0, 9.2, 0, 0], ["a", 0, 9.1, 0, 0]]
    reading = read(file(fields, again))
    assert reading.ids == ("a", "b", "a (2)", "a (3)")
    assert "2 patches were read again" in " ".join(reading.remarks)
    with pytest.raises(BadInput, match=r"'a' occurs twice \(first on line 6\)") as caught:
        read(file(fields, [*again, ["a", 17, 20, 0, 0]]))
    assert caught.value.line == 10


def full_reading(**changes):
    device = np.linspace(0, 1, 5)[:, np.newaxis] * np.ones(3)
    reading = Reading(
        name='cotton rag, the "soft" one',
        source="ramp.txt",
        ids=("1", "dark grey", "#3", "END_DATA", "5"),
        device=device,
        lab=spectra_to_lab(FACTORS, WAVELENGTHS),
        spectra=FACTORS,
        wavelengths=WAVELENGTHS,
        places=("A1", "A2", "A3", "B1", "B2"),
        condition="M1",
        backing="self",
        observer="2",
        instrument="hand-held spectrometer",
        printer="upstairs",
        paper="kozo, 70 g/m²",
        settings="slow, matte black",
        created=datetime(2024, 5, 1, 10, 30, 15),
        fields={"ORIGINATOR": "harbour print workshop", "HUMIDITY": "52 %", "NOTE": "wet # day"},
    )
    return replace(reading, **changes)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"spectra": None, "wavelengths": None, "observer": "10", "places": None},
        {"condition": None, "backing": "ceramic tile", "created": None, "paper": None},
        {"fields": {"WEIGHTING_FUNCTION": "ILLUMINANT, D65; OBSERVER, 10 degree"}},
    ],
)
def test_a_reading_written_and_read_again_is_the_same(tmp_path, changes):
    reading = full_reading(**changes)
    path = tmp_path / "again.txt"
    iso28178.write(reading, path)
    again = read(path)
    for name in ("name", "ids", "places", "condition", "backing", "observer", "instrument",
                 "printer", "paper", "settings", "created", "fields"):  # fmt: skip
        assert getattr(again, name) == getattr(reading, name), name
    np.testing.assert_allclose(again.device, reading.device, rtol=1e-8)
    np.testing.assert_allclose(again.lab, reading.lab, rtol=1e-7, atol=1e-9)
    if reading.spectral:
        np.testing.assert_allclose(again.spectra, reading.spectra, rtol=1e-8)
        assert again.wavelengths.tolist() == reading.wavelengths.tolist()
    else:
        assert again.spectra is None
    iso28178.write(again, tmp_path / "third.txt")
    assert (tmp_path / "third.txt").read_text() == path.read_text()


def test_what_is_not_of_the_standard_is_declared(tmp_path):
    path = tmp_path / "ramp.txt"
    iso28178.write(full_reading(), path)
    lines = path.read_text(encoding="utf-8").splitlines()
    for own in ("PATCH_PLACE", "HUMIDITY", "PRINTER", "MEASUREMENT_CONDITION"):
        assert f'KEYWORD "{own}"' in lines
    assert 'KEYWORD "SAMPLE_ID"' not in lines
