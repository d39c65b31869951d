"""CSV with commas, semicolons or tabs (IETF RFC 4180 for quoting; the rest is common practice)."""

import numpy as np
import pytest

from greyscale.base.errors import BadInput
from greyscale.readings.formats import read, read_all
from greyscale.readings.layout import Layout


@pytest.fixture
def file(tmp_path):
    def make(content, encoding="utf-8"):
        path = tmp_path / "ramp.csv"
        path.write_text(content, encoding=encoding)
        return path

    return make


COMMA = """\
# PAPER: unbleached cotton
# Measurement condition: M1
id,R,G,B,L*,a*,b*
1,0,0,0,15.5,0.5,-1
"patch, the 2nd",127.5,127.5,127.5,55.25,0.25,-1.5
3,255,255,255,96,0,-2
"""


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
@pytest.mark.parametrize(("delimiter", "point"), [(",", "."), (";", "."), (";", ","), ("\t", ",")])
def test_delimiters_and_decimal_commas_give_the_same_reading(file, delimiter, point, encoding):
    content = COMMA
    if delimiter != ",":
        content = content.replace("patch, the", "patch; the").replace(",", delimiter)
        content = content.replace("patch; the", "patch, the")
        content = "\n".join(
            line if line.startswith("#") else line.replace(".", point)
            for line in content.split("\n")
        )
    reading = read(file(content, encoding))
    assert reading.ids == ("1", "patch, the 2nd", "3")
    assert reading.device[:, 2].tolist() == [0.0, 0.5, 1.0]
    assert reading.lab.tolist() == [[15.5, 0.5, -1], [55.25, 0.25, -1.5], [96, 0, -2]]
    assert (reading.paper, reading.condition) == ("unbleached cotton", "M1")


@pytest.mark.parametrize(
    "names",
    [
        "Feld-Nr.;Rot;Grün;Blau;Helligkeit L*;a*-Wert;b*-Wert",
        "N° de plage;Rouge;Vert;Bleu;Luminosité L*;a*;b*",
        "Échantillon;Rouge;Vert;Bleu;Clarté;a*;b*",
        "Campione;Rosso;Verde;Blu;L*;a*;b*",
        "#;R (0-255);G (0-255);B (0-255);L* D50/2°;a* D50/2°;b* D50/2°",
        "Sample;Device R;Device G;Device B;Lightness L*;a* (D50);b* (D50)",
        "ID;R;G;B;L* mean;a* mean;b* mean",
        "ID;R;G;B;M1_L;M1_a;M1_b",
    ],
)
def test_a_heading_may_say_the_same_in_more_words(file, names):
    """Headings of spreadsheets, in the languages of their users (common practice, no source)."""
    reading = read(file(f"{names}\n1;0;0;0;15,5;0,5;-1\n2;255;255;255;96;0;-2\n"))
    assert reading.lab.tolist() == [[15.5, 0.5, -1], [96, 0, -2]]
    assert reading.device[1].tolist() == [1, 1, 1]
    assert reading.condition == ("M1" if "M1" in names else None)
    assert reading.ids == ("1", "2")


@pytest.mark.parametrize("name", ["ΔL*", "target L*", "L* sd", "dE L*"])
def test_words_that_make_it_another_figure_do_not_make_it_lightness(file, name):
    with pytest.raises(BadInput, match="LAB_L is missing"):
        read(file(f"ID;R;G;B;{name};a*;b*\n1;0;0;0;15;0;1\n2;255;255;255;96;0;2\n"))


_TONE = [[16, 0, 0], [95, 0, 0]]
_COLOUR = [[16, 2, 3], [95, 2, 3]]
_AIM = "99;9;9"


@pytest.mark.parametrize(
    ("names", "first", "second", "lab"),
    [
        # What was sent, or aimed at, is not what was measured.
        ("Input L;Input a;Input b;Output L;Output a;Output b", f"{_AIM};16;2;3", f"{_AIM};95;2;3",
         _COLOUR),
        ("Input L*;L*;a*;b*", "99;16;2;3", "99;95;2;3", _COLOUR),
        ("Printed L*;a*;b*", "16;2;3", "95;2;3", _COLOUR),
        ("Device L*;Device a*;Device b*;Printed L*;Printed a*;Printed b*", f"{_AIM};16;2;3",
         f"{_AIM};95;2;3", _COLOUR),
        ("Sent L*;L* measured;a* measured;b* measured", "99;16;2;3", "99;95;2;3", _COLOUR),
        ("Input L;Input C;Input h;L;a;b", f"{_AIM};16;2;3", f"{_AIM};95;2;3", _COLOUR),
        # CIE 15:2018, 8.2.1.2: chroma and hue angle, only together.
        ("L*;C*ab;hab", "16;2;90", "95;1;180", [[16, 0, 2], [95, -1, 0]]),
        ("L*;C*_ab;h_ab", "16;2;90", "95;1;180", [[16, 0, 2], [95, -1, 0]]),
        ("L;C;h", "16;2;90", "95;1;180", [[16, 0, 2], [95, -1, 0]]),
        ("L*;Chroma", "16;2", "95;1", _TONE),
        ("L*;Hue", "16;90", "95;180", _TONE),
        # Black by programs that divide by X + Y + Z without a look.
        ("x;y;Y;L;a;b", "0;0;0;16;2;3", "0.34;0.35;88;95;2;3", _COLOUR),
    ],
)  # fmt: skip
def test_columns_are_told_from_others_like_them(file, names, first, second, lab):
    reading = read(file(f"ID;Input K;{names}\n1;100;{first}\n2;0;{second}\n"))
    np.testing.assert_allclose(reading.lab, lab, atol=1e-12)
    assert reading.device[:, 0].tolist() == [0, 1]


def test_the_letters_of_inks_stay_inks(file):
    rows = "1;16;0;0;0;100\n2;95;0;0;0;0"
    assert read(file(f"ID;L*;C;M;Y;K\n{rows}\n")).lab.tolist() == _TONE
    rows = "1;0;0;0;100;0.3457;0.3585;20\n2;0;0;0;0;0.3457;0.3585;100"
    reading = read(file(f"ID;C;M;Y;K;x;y;Y\n{rows}\n"))
    np.testing.assert_allclose(reading.lab, [[51.837, 0, 0], [100, 0, 0]], atol=0.02)


@pytest.mark.parametrize(
    ("names", "message"),
    [
        ("Device L*;Device a*;Device b*", "nor LAB_L LAB_A LAB_B"),
        ("Input L*;Output L*;a*;b*", "LAB_L is missing"),
        ("Input L*;a*;b*;L* mean", "LAB_L is missing"),
        ("Input L*;a*;b*;Output L*;Output a*;Output b*", "LAB_L is missing"),
        ("Target L*;a*;b*;L* mean;a* mean;b* mean", "LAB_L is missing"),
    ],
)
def test_an_aim_is_no_measurement(file, names, message):
    cells = ";9" * (names.count(";") + 1)
    with pytest.raises(BadInput, match=message):
        read(file(f"ID;K;{names}\n1;100{cells}\n2;0{cells}\n"))


def test_a_chromaticity_of_0_is_refused_where_there_is_light(file):
    with pytest.raises(BadInput, match="the chromaticity y is 0") as caught:
        read(file("ID;K;x;y;Y\n1;100;0;0;0\n2;0;0.3;0;88\n"))
    assert caught.value.line == 3


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        ("Nr.;Feld", ("A", "B")),
        ("No.;ID", ("A", "B")),
        ("Probe;ID", ("A", "B")),
        ("#;Sample", ("A", "B")),
        ("Nr.;Probe", ("1", "2")),
        ("#;Muestra", ("1", "2")),
    ],
)
def test_a_running_number_is_an_id_where_there_is_no_other(file, names, expected):
    reading = read(file(f"{names};K;L;a;b\n1;A;100;16;2;3\n2;B;0;95;2;3\n"))
    assert (reading.ids, reading.lab.tolist()) == (expected, _COLOUR)


def test_a_comment_that_names_fields_is_no_header(file):
    rows = "1\t100\t16\t2\t3\n2\t0\t95\t2\t3\n"
    reading = read(file(f"#\tL\tlightness\n# PAPER: kozo\nID\tK\tL\ta\tb\n{rows}"))
    assert (reading.paper, reading.lab.tolist()) == ("kozo", _COLOUR)


def test_a_row_whose_name_is_that_of_a_field_is_no_header(file):
    rows = "1;grey;255;255;255;95;2;3\n2;black;0;0;0;16;2;3\n"
    reading = read(file(f"#;Sample;R;G;B;L*;a*;b*\n{rows}"))
    assert (reading.ids, reading.lab.tolist()) == (("grey", "black"), _COLOUR[::-1])


def test_what_is_said_plainly_counts_though_it_is_said_again(file):
    names = "ID;R;G;B;LAB_L;LAB_A;LAB_B;LCH_L;LCH_C;LCH_H"
    rows = "1;0;0;0;15;0;1;99;9;9\n2;255;255;255;96;0;2;99;9;9"
    assert read(file(f"{names}\n{rows}\n")).lab[0].tolist() == [15, 0, 1]


def test_lightness_chroma_and_hue(file):
    """CIE 15:2018, 8.2.1.2: a* = C*ab cos h, b* = C*ab sin h."""
    rows = "1;0;0;0;15;2;90\n2;255;255;255;96;1;180"
    reading = read(file(f"ID;R;G;B;L*;C*;h°\n{rows}\n"))
    np.testing.assert_allclose(reading.lab, [[15, 0, 2], [96, -1, 0]], atol=1e-12)


def test_chromaticity_and_luminance(file):
    """D50 and a grey of 20 % of it: x = 0.3457, y = 0.3585 (CIE 15:2018, table T.3)."""
    rows = "1;0;0;0;20;0.3457;0.3585\n2;255;255;255;100;0.3457;0.3585"
    for names in ("Y;x;y", "xyY_Y;xyY_x;xyY_y", "XYY_CAPY;XYY_X;XYY_Y"):
        reading = read(file(f"ID;R;G;B;{names}\n{rows}\n"))
        np.testing.assert_allclose(reading.lab, [[51.837, 0, 0], [100, 0, 0]], atol=0.02)


def test_keywords_may_stand_in_rows_above_the_header(file):
    reading = read(file("Printer;upstairs\nCondition;M2\n\nID;GRAY;L;a;b\n1;0;9;0;0\n2;1;90;0;0\n"))
    assert (reading.printer, reading.condition, reading.ids) == ("upstairs", "M2", ("1", "2"))


@pytest.mark.parametrize(
    ("header", "values", "said"),
    [
        ("{} nm (%)", "0.4 0.5", False),
        ("{} [percent]", "0.4 0.5", False),
        ("R{} %", "0.4 0.5", False),
        ("{} (reflectance)", "0.004 0.005", False),
        ("{}nm", "0.004 0.005", True),
    ],
)
def test_units_in_the_header_are_kept_to(file, header, values, said):
    names = ";".join(header.format(w) for w in (400, 500, 600, 700))
    first, second = values.split()
    rows = [f"1;0;{';'.join([first] * 4)}", f"2;255;{';'.join([second] * 4)}"]
    reading = read(file("\n".join([f"ID;GRAY;{names}", *rows])))
    np.testing.assert_allclose(reading.spectra, [[0.004] * 4, [0.005] * 4])
    assert any("decided from the data" in r for r in reading.remarks if "Spectra" in r) == said


def test_a_column_may_state_the_condition_of_each_row(file):
    rows = [f"{i},{g},{m},{L},0,0" for i, g, L in [(1, 0, 9), (2, 255, 90)] for m in ("M0", "M2")]
    readings = read_all(file("\n".join(["ID,GRAY,Condition,L,a,b", *rows])))
    assert [(r.condition, r.ids) for r in readings] == [("M0", ("1", "2")), ("M2", ("1", "2"))]


@pytest.mark.parametrize(
    "names",
    ["L* ({})|a* ({})|b* ({})", "{}_L|{}_a|{}_b", "{}_400|{}_500|{}_600|{}_700",
     "400 nm ({})|500 nm ({})|600 nm ({})|700 nm ({})", "nm400 {}|nm500 {}|nm600 {}|nm700 {}"],
)  # fmt: skip
@pytest.mark.parametrize("interleaved", [False, True])
def test_conditions_may_stand_side_by_side(file, names, interleaved):
    columns = [(name, m) for m in ("M1", "M2") for name in names.split("|")]
    if interleaved:
        columns.sort(key=lambda column: names.split("|").index(column[0]))
    header = ",".join(["ID", "GRAY", *(name.format(m) for name, m in columns)])
    values = {"M1": (5, 80), "M2": (4, 70)}
    rows = [
        ",".join([name, grey, *(str(values[m][k]) for _, m in columns)])
        for k, (name, grey) in enumerate([("1", "0"), ("2", "255")])
    ]
    readings = {r.condition: r for r in read_all(file("\n".join([header, *rows])))}
    assert list(readings) == ["M1", "M2"]
    for condition, reading in readings.items():
        percent = reading.lab if reading.spectra is None else reading.spectra * 100
        np.testing.assert_allclose(percent.T, [values[condition]] * percent.shape[1])
        assert reading.device[:, 1].tolist() == [0, 1]


@pytest.mark.parametrize("grid", [range(400, 701, 10), range(700, 399, -20)])
def test_spectra_need_no_other_column(file, grid):
    names = ",".join(f"{w} nm" for w in grid)
    rows = [",".join([f"0.{w}"] * len(grid)) for w in (3, 5)]
    layout = Layout("chart", ("7", "1"), ("A1", "A2"), np.array([[0.0] * 3, [1.0] * 3]))
    reading = read(file("\n".join([names, *rows])), layout=layout)
    assert reading.spectra[:, 0].tolist() == [0.3, 0.5]
    assert reading.device[:, 0].tolist() == [0, 1]
    assert any("by position in the file" in remark for remark in reading.remarks)


@pytest.mark.parametrize("first", ["nm", "Wavelength (nm)", "Wellenlänge [nm]"])
@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_spectra_may_stand_in_columns(file, first, delimiter):
    """As they stand in rows: two patches, 400 to 700 nm."""
    rows = [[str(w), f"0.{w}", f"0.{w + 50}"] for w in range(400, 701, 10)]
    text = "\n".join(delimiter.join(row) for row in [[first, "1", "7"], *rows])
    layout = Layout("chart", ("7", "1"), ("A1", "A2"), np.array([[1.0] * 3, [0.0] * 3]))
    reading = read(file(f"Condition{delimiter}M2\n{text}\n"), layout=layout)
    assert (reading.ids, reading.condition) == (("1", "7"), "M2")
    assert reading.wavelengths.tolist() == list(range(400, 701, 10))
    assert reading.spectra[:, 0].tolist() == [0.4, 0.45]
    assert reading.device[:, 0].tolist() == [0, 1]


def test_spectra_in_columns_have_eight_wavelengths_at_least(file):
    rows = "".join(f"{w};0.{w};0.{w + 50}\n" for w in range(400, 681, 40))
    layout = Layout("chart", ("7", "1"), ("A1", "A2"), np.array([[1.0] * 3, [0.0] * 3]))
    eight = read(file(f"nm;1;7\n{rows}"), layout=layout)
    assert eight.wavelengths.tolist() == list(range(400, 681, 40))
    with pytest.raises(BadInput, match="no known format"):
        read(file(f"nm;1;7\n{rows[: rows.index('680;')]}"), layout=layout)


def test_cells_may_be_parted_by_blanks_and_have_units_above_them(file):
    rows = "\n".join([" 1   0  0   0  9.5 0.5 -1 ", " 2 255 255 255 96.0 0 -2"])
    by_blanks = read(file(f"   \n  ID R G B  L* a* b*\n{rows}\n"))
    with_units = read(
        file("ID,R,G,B,L*,a*,b*\n,-,-,-,%,,\n1,0,0,0,9.5,0.5,-1\n2,255,255,255,96,0,-2")
    )
    assert by_blanks.lab.tolist() == with_units.lab.tolist() == [[9.5, 0.5, -1], [96, 0, -2]]
    assert by_blanks.device[:, 0].tolist() == [0, 1]


@pytest.mark.parametrize("nothing", [",,", "n/a,n/a,n/a", "-,-,-"])
def test_patches_that_nobody_measured_are_left_out_and_named(file, nothing):
    text = "ID,R,G,B,L*,a*,b*\n1,0,0,0,9.5,0.5,-1\nA7,9,9,9,?\n2,255,255,255,96,0,-2\n"
    reading = read(file(text.replace("?", nothing)))
    assert reading.ids == ("1", "2")
    assert "Patches not measured, and left out: A7." in reading.remarks
    with pytest.raises(BadInput, match=r"line 3: a\* is missing"):
        read(file(text.replace("?", "9,,")))


def test_wavelengths_rounded_to_whole_nm_are_taken_as_the_even_steps_that_they_are(file):
    even = 380 + np.arange(106) * 10 / 3
    rows = "".join(f"\n{R}" + f",{R}" * 2 + f",{0.1 + R / 300:.4f}" * 106 for R in (0, 255))
    names = ",".join(["R", "G", "B", *(f"{one:.0f}" for one in even)])
    reading = read(file(names + rows))
    np.testing.assert_allclose(reading.wavelengths, even)
    with pytest.raises(BadInput, match="not equally spaced"):
        read(file((names + rows).replace(",403,", ",402,")))


@pytest.mark.parametrize("first", ["W0,-,-,-,-,-,-", ",-,-,-,,,", "W0,x,x,x,%,,", "W0,,,,,,"])
def test_a_first_patch_without_numbers_is_no_row_of_units(file, first):
    with pytest.raises(BadInput, match=r"line 2: R is (missing|'.', which is not a number)"):
        read(file(f"ID,R,G,B,L*,a*,b*\n{first}\n1,0,0,0,9.5,0.5,-1\n2,255,255,255,96,0,-2"))
    units = ",0-255,0-255,0-255,1,1,1\n"
    with pytest.raises(BadInput, match="line 3: R is '0-255', which is not a number"):
        read(file(f"ID,R,G,B,L*,a*,b*\n{units}{units}1,0,0,0,9.5,0.5,-1\n2,1,1,1,96,0,-2"))


@pytest.mark.parametrize("name", ["D", "Density", "D_VIS", "Dichte", "DENSITY_K"])
def test_density_alone_tells_the_tone(file, name):
    """Density is minus log10 of the reflectance factor (ISO 5-4); L* as CIE 15 has it, by hand."""
    reading = read(file(f"Level;{name}\n0;1,8\n0,5;0,74473\n1;0\n"))
    assert reading.tone_alone
    assert reading.fields["TONE_ALONE"] == "density"
    np.testing.assert_allclose(reading.lab, [[13.14, 0, 0], [49.5, 0, 0], [100, 0, 0]], atol=0.01)
    with pytest.raises(BadInput, match="a density of 45 is not possible; export visual"):
        read(file(f"Level;{name}\n0;1,8\n1;45\n"))
    with pytest.raises(BadInput, match=f"{name} and Visual density both say DENSITY; keep one$"):
        read(file(f"Level;{name};Visual density\n0;1,8;1,2\n1;0,1;0,2\n"))
    whole = read(file(f"GRAY,L,a,b,{name},D_V\n0,9,1,1,1.9,2\n255,90,1,1,0.1,0"))
    assert whole.lab.tolist() == [[9, 1, 1], [90, 1, 1]]
    zeroed = [
        any("looks zeroed on the paper" in remark for remark in one.remarks)
        for one in (reading, read(file(f"Level;{name}\n0;1,8\n1;0,02\n")), whole)
    ]
    assert zeroed == [True, False, False]


@pytest.mark.parametrize("encoding", ["cp1252", "mac_roman"])
def test_an_encoding_that_a_file_does_not_name_is_told_by_its_letters(file, encoding):
    content = "Échantillon;Rouge;Vert;Bleu;Clarté;a*;b*\nà côté d’été;0;0;0;9;0;0\nN°;1;1;1;90;0;0"
    assert read(file(content, encoding)).ids == ("à côté d’été", "N°")


@pytest.mark.parametrize(
    ("content", "message", "line"),
    [
        (COMMA.replace("96,0,-2", "96,0"), "has 6 cells, and the header .line 3. names 7", 6),
        (COMMA.replace("96,0", "96,5,0"), "this row has 8 cells.*decimal commas apart", 6),
        (COMMA.replace("55.25", "n/a"), r"L\* is 'n/a', which is not a number", 5),
        (COMMA.replace("55.25", ""), r"L\* is missing", 5),
        (COMMA.replace("b*", "R"), r"the fields R and R both say RGB_R; keep one$", 3),
        (COMMA.replace("G,B", "L*,B"), r"say LAB_L; keep one, or name in each the condition", 3),
        (COMMA.replace("b*", "hue"), "LAB_L is there, but LAB_B is missing", 3),
        ("id,R,G,B,L*,a*,b*\n", "no rows below", 1),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_with_its_line(file, content, message, line):
    with pytest.raises(BadInput, match=message) as caught:
        read(file(content))
    assert caught.value.line == line


def test_text_that_is_no_table_is_refused(file):
    with pytest.raises(BadInput, match="is in no known format; export the reading as ISO 28178"):
        read(file("Dear colleague,\nthe prints, all of them, are dry.\n"))


@pytest.mark.parametrize("thousands", [",", "."])
def test_marks_between_thousands_are_not_taken_for_decimal_marks(thousands, tmp_path):
    """65,535 is white on 16 bit, and no level of 0.66."""
    decimal = {",": ".", ".": ","}[thousands]
    rows = [
        f"{k};" + 3 * f"{k * 13107:,};".replace(",", thousands) + f"{15 + 16 * k}{decimal}5;0;-1"
        for k in range(6)
    ]
    path = tmp_path / "parted.csv"
    path.write_text("\n".join(["id;R;G;B;L*;a*;b*", *rows]))
    with pytest.raises(BadInput, match=f"line 3: '13{thousands}107' .* between thousands"):
        read_all(path)
    # Decimals of one mark throughout are decimals, also three of them.
    path.write_text(path.read_text().replace(thousands, decimal))
    assert read_all(path)[0].device.max() == pytest.approx(0.65535)
