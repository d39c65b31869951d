"""Bad input ends in one message with file and line; no input makes a traceback."""

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from support.cxf3_files import Patch, cxf3_bytes, specification

from greyscale.base.errors import BadInput
from greyscale.readings import formats
from greyscale.readings.about import About
from greyscale.readings.assemble import Measurements
from greyscale.readings.formats import read_all
from greyscale.readings.layout import read_layout
from greyscale.readings.reading import Reading

BANDS = range(400, 701, 20)


def spectral_lines(bands=BANDS, letter="p"):
    """Lines 1 to 11 of a good file: five patches, rows on lines 6 to 10."""
    fields = ["SAMPLE_ID", "RGB_R", "RGB_G", "RGB_B", *(f"SPECTRAL_NM{w}" for w in bands)]
    rows = [
        " ".join([f"{letter}{k}", *[str(k * 51)] * 3, *[f"{0.02 + 0.2 * k:.3f}"] * len(bands)])
        for k in (0, 1, 2, 3, 4)
    ]
    return [
        "NUMBER_OF_SETS 5",
        "BEGIN_DATA_FORMAT",
        " ".join(fields),
        "END_DATA_FORMAT",
        "BEGIN_DATA",
        *rows,
        "END_DATA",
    ]


def changed(line, old, new):
    lines = spectral_lines()
    assert old in lines[line - 1]
    lines[line - 1] = lines[line - 1].replace(old, new, 1)
    return "\n".join(lines)


LAB_CSV = "id,R,G,B,L,a,b\n1,0,0,0,12,0,0\n2,255,255,255,95,0,-1\n"


@pytest.mark.parametrize(
    ("content", "message", "line"),
    [
        ("", "the file is empty", None),
        ("\n \n", "the file is empty", None),
        (changed(8, "0.420", "-0.420"), "the reflectance factor at 400 nm is -0.42, .* below 0", 8),
        (changed(8, "0.420", "1.62"), "the reflectance factor at 400 nm is 1.62, .*above 1.5", 8),
        (changed(8, "0.420", "nan"), "SPECTRAL_NM400 is 'nan', which is not a number", 8),
        (changed(8, "0.420", "inf"), "SPECTRAL_NM400 is 'inf', which is not a number", 8),
        (changed(8, "0.420", "--"), "SPECTRAL_NM400 is '--', which is not a number", 8),
        (changed(8, "0.420", ""), "this row has 19 values, and .* names 20 fields", 8),
        (changed(8, "p2", "p1"), r"the id 'p1' occurs twice \(first on line 7\)", 8),
        (changed(8, "102", "-102"), "RGB_R is -102, which is below 0", 8),
        (changed(3, "RGB_B", "blueish"), "RGB_R, RGB_G but no RGB_B", None),
        (changed(3, "RGB_R RGB_G RGB_B", "a1 a2 a3"), "there are no device values", None),
        (changed(3, "NM420", "NM410"), "not equally spaced .*410 follows 400 where the step", 3),
        (changed(3, "NM420", "NM400"), "400 nm occurs twice", 3),
        (changed(3, "NM420", "PCT420").replace("NM440", "DEC440"), "different units", 3),
        (changed(1, "5", "7"), "NUMBER_OF_SETS says 7, and there are 5 rows", 1),
        ("\n".join(spectral_lines()[:-1]).replace("SETS 5", "SETS 6"), "the file is cut off", 10),
        (LAB_CSV.replace(",b\n", ",x\n"), "LAB_L is there, but LAB_B is missing", 1),
        (LAB_CSV.replace(",L,a,b", ",D1,D2,D3"), "nothing measured is in here", 1),
        (LAB_CSV.replace(",95,", ",950,"), r"L\* 950, a\* 0, b\* -1 cannot be a print's", 3),
        (LAB_CSV.replace(",12,", ",-12,"), r"L\* -12", 2),
    ],
)
def test_each_fault_is_named_with_file_and_line(tmp_path, content, message, line):
    path = tmp_path / "ramp.txt"
    path.write_text(content)
    with pytest.raises(BadInput, match=message) as caught:
        read_all(path)
    assert (caught.value.source, caught.value.line) == (str(path), line)


def test_a_format_that_is_no_text_can_be_added(tmp_path, monkeypatch):
    path = tmp_path / "reading.bin"
    path.write_bytes(b"\x00LAB" + np.float32([[0, 9, 0.5, -1], [1, 96, 0, -2]]).tobytes())
    with pytest.raises(BadInput, match="is a binary file"):
        read_all(path)

    class Binary:
        @staticmethod
        def recognises(file):
            return file.data.startswith(b"\x00LAB")

        @staticmethod
        def read_all(file, options):
            level, *lab = np.frombuffer(file.data[4:], np.float32).reshape(-1, 4).T
            device = np.column_stack([level] * 3)
            return [Reading("own", str(file.source), ("1", "2"), device, np.column_stack(lab))]

    monkeypatch.setattr(formats, "FORMATS", (Binary, *formats.FORMATS))
    (reading,) = read_all(path)
    assert reading.lab.tolist() == [[9, 0.5, -1], [96, 0, -2]]


def test_tables_of_unlike_wavelengths_are_refused(tmp_path):
    path = tmp_path / "two.txt"
    path.write_text("\n".join(spectral_lines() + spectral_lines(range(380, 681, 20), "q")))
    with pytest.raises(BadInput, match="mixed wavelengths: 16 from 380 to 680 nm here") as caught:
        read_all(path)
    assert caught.value.line == 14


def test_slight_noise_below_zero_is_taken_as_none_and_said(tmp_path):
    path = tmp_path / "ramp.txt"
    path.write_text(changed(6, "0.020", "-0.004"))
    (reading,) = read_all(path)
    assert reading.spectra[0, 0] == 0.0
    assert any("Slightly negative reflectance (down to -0.0040)" in r for r in reading.remarks)


def test_one_spoiled_patch_does_not_turn_the_units(tmp_path):
    lines = spectral_lines()
    lines[7] = " ".join(["p2", *["102"] * 3, *["42.0"] * len(BANDS)])
    path = tmp_path / "ramp.txt"
    path.write_text("\n".join(lines))
    with pytest.raises(
        BadInput, match=r"factor at 400 nm is 42, and no print's is above"
    ) as caught:
        read_all(path)
    assert caught.value.line == 8


def test_a_200_MB_reading_is_refused_unread(tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as stream:
        stream.truncate(200_000_000)
    with pytest.raises(BadInput, match="holds 200 MB, and 50 MB is the limit"):
        read_all(path)


GOOD = {
    "iso28178": "\n".join(['MATERIAL "kozo, 70 g"', *spectral_lines()]).encode(),
    "csv": LAB_CSV.encode(),
    "cxf3": cxf3_bytes(
        [Patch(f"p{k}", (51 * k,) * 3, spectra={"S": np.full(31, 0.1 + k / 10)}) for k in range(4)],
        [specification("S", "M1", backing="white")],
    ),
    "two tables": (
        b"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID GRAY\nEND_DATA_FORMAT\nBEGIN_DATA\na 0\nb 255\n"
        b"END_DATA\nFILTER M1\nBEGIN_DATA_FORMAT\nSAMPLE_ID XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\n"
        b"BEGIN_DATA\nb 80 83 70\na 1 1 1\nEND_DATA\n"
    ),
}

PIECES = [
    b"", b"\x00", b"\xff", b"nan", b"-1", b"1e999", b"\"", b"#", b"\t", b"\n", b"\r", b";", b",",
    b"BEGIN_DATA", b"END_DATA\n", b"BEGIN_DATA_FORMAT\n", b"END_DATA_FORMAT\n", b"SPECTRAL_NM",
    b"NUMBER_OF_SETS 3\n", b"CREATED 31/31/9999\n", b"RGB_SCALE 0\n", b"SPECTRAL_UNITS percent\n",
    b"CMYK_K", b"\xe2\x80\xa8", b"\xef\xbb\xbf", b"<", b">", b"&amp;", b"<!DOCTYPE a>", b"</",
    "℮²٣".encode(), b"999999999999999999999999", b"_", b"LAB_L", b"0", b"WEIGHTING_FUNCTION F99\n",
]  # fmt: skip


def only_bad_input(path):
    for reader in (read_all, read_layout):
        try:
            reader(path)
        except BadInput as error:
            message = str(error)
            assert message.startswith(str(path))
            assert "\n" not in message.removeprefix(str(path))
            assert len(message) < 600 + len(str(path))


fuzz = settings(
    max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@fuzz
@given(content=st.binary(max_size=300) | st.text(max_size=200).map(lambda t: t.encode("utf-8")))
@example(content=b"\xff\xfe")
@example(content=b"\xff\xfe\x00\x00")
@example(content=b"a\x00b")
@example(content=b"id,L")
@example(content=b"BEGIN_DATA_FORMAT")
def test_random_bytes_end_in_bad_input_only(tmp_path, content):
    path = tmp_path / "random"
    path.write_bytes(content)
    only_bad_input(path)


@fuzz
@given(
    kind=st.sampled_from(sorted(GOOD)),
    changes=st.lists(
        st.tuples(
            st.integers(0, 10_000),
            st.integers(0, 12),
            st.sampled_from(PIECES) | st.binary(max_size=4),
        ),
        min_size=1,
        max_size=4,
    ),
)
def test_good_files_with_changes_end_in_a_reading_or_bad_input(tmp_path, kind, changes):
    content = GOOD[kind]
    for place, length, piece in changes:
        start = place % (len(content) + 1)
        content = content[:start] + piece + content[start + length :]
    path = tmp_path / "changed"
    path.write_bytes(content)
    only_bad_input(path)


@fuzz
@given(
    words=st.lists(
        st.sampled_from(
            ["BEGIN_DATA", "END_DATA", "BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "NUMBER_OF_SETS 1",
             "SAMPLE_ID", "LAB_L LAB_A LAB_B", "RGB_R RGB_G RGB_B", "GRAY", "1", "2 3 4", "0.5",
             "CMYK_C CMYK_M CMYK_Y CMYK_K", "XYZ_X XYZ_Y XYZ_Z", "nm400 nm410 nm420", "CONDITION",
             "M1", "SPECTRAL_NM SPECTRAL_DEC", '"', "FILTER M2", "0 0 0", "255"]
        ),
        max_size=25,
    ),
    glue=st.sampled_from(["\n", " ", "\t", ",", ";"]),
)  # fmt: skip
def test_the_words_of_the_format_in_any_order(tmp_path, words, glue):
    path = tmp_path / "words"
    path.write_text(glue.join(words))
    only_bad_input(path)


@pytest.mark.parametrize(
    ("start", "step", "message"),
    [
        (-2147483649, 10, "which is not possible"),
        (400, 1e9, "which is not possible"),
        (400, 1e-9, "cut off"),
        (560, 10, "cut off: they run from 560"),
        (380, 0.01, "closer than any instrument"),
    ],
)
def test_wavelengths_that_no_instrument_has(start, step, message) -> None:
    wavelengths = start + step * np.arange(40_000 if step == 0.01 else 31)
    spectra = np.full((2, wavelengths.size), 0.5)
    stated = Measurements("a.cxf", About(), ("1", "2"), {}, spectra, wavelengths)
    with pytest.raises(BadInput, match=message):
        stated.factors()
