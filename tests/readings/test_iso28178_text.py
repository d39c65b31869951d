"""ISO 28178 text is parsed in all its variety (STANDARD: ISO 28178:2009, CGATS.17; the ways in
which files in the wild depart from it are common practice, no source)."""

import pytest

from greyscale.base.errors import BadInput
from greyscale.readings.iso28178_text import parse, parse_file, words

LINES = [
    "CGATS.17",
    'ORIGINATOR "harbour print workshop"',
    "# made in the afternoon",
    'MATERIAL "cotton rag, 308 g/m²"',
    "NUMBER_OF_FIELDS 3",
    "BEGIN_DATA_FORMAT",
    "SAMPLE_ID GRAY LAB_L",
    "END_DATA_FORMAT",
    "NUMBER_OF_SETS 2",
    "BEGIN_DATA",
    '"dark grey" 10 12.5',
    "2 255 96.1",
    "END_DATA",
]
ROWS = (("dark grey", "10", "12.5"), ("2", "255", "96.1"))


@pytest.mark.parametrize("line_end", ["\n", "\r", "\r\n"])
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "latin-1"]
)
def test_every_encoding_and_line_end_gives_the_same_table(tmp_path, encoding, line_end):
    path = tmp_path / "ramp.txt"
    path.write_bytes(line_end.join(LINES).encode(encoding))
    file = parse_file(path)
    assert file.signature == "CGATS.17"
    assert file.remarks == []
    (table,) = file.tables
    assert table.fields == ("SAMPLE_ID", "GRAY", "LAB_L")
    assert table.rows == ROWS
    assert table.lines == (11, 12)
    assert ("MATERIAL", "cotton rag, 308 g/m²", 4) in table.keywords


def test_tabs_hold_cells_together_and_may_leave_them_empty():
    text = "\n".join([*LINES[:10], "dark grey\t10\t12.5", "2\t\t96.1\t", "END_DATA"])
    assert parse(text, "x").tables[0].rows == (ROWS[0], ("2", "", "96.1"))


def test_field_names_may_stand_on_several_lines_or_on_one_with_the_keyword():
    spread = [*LINES[:6], "SAMPLE_ID", "  GRAY", "LAB_L # lightness", *LINES[7:]]
    in_one = [*LINES[:5], "BEGIN_DATA_FORMAT SAMPLE_ID GRAY LAB_L END_DATA_FORMAT", *LINES[8:]]
    tabbed = [*LINES[:6], "Sample ID\tGray\tL star", *LINES[7:]]
    assert parse("\n".join(spread), "x").tables[0].fields == ("SAMPLE_ID", "GRAY", "LAB_L")
    assert parse("\n".join(in_one), "x").tables[0].fields == ("SAMPLE_ID", "GRAY", "LAB_L")
    assert parse("\n".join(tabbed), "x").tables[0].fields == ("Sample ID", "Gray", "L star")


def test_a_second_table_has_its_own_keywords_and_takes_over_the_format():
    second = ["CGATS.17", 'SAMPLE_BACKING "black"', "BEGIN_DATA", "3 128 50", "END_DATA"]
    file = parse("\n".join(LINES + second), "x")
    assert [len(table.rows) for table in file.tables] == [2, 1]
    assert file.tables[1].fields == file.tables[0].fields
    assert [k[:2] for k in file.tables[1].keywords] == [("SAMPLE_BACKING", "black")]


def test_rows_broken_over_lines_are_joined_and_it_is_said():
    text = "\n".join([*LINES[:10], '"dark grey"', "10 12.5", "2 255", "96.1", "END_DATA"])
    file = parse(text, "x")
    assert file.tables[0].rows == ROWS
    assert file.tables[0].lines == (11, 13)
    assert "broken over several lines" in file.remarks[0]


def test_quotes_comments_and_doubled_quotes():
    assert words('NOTE "he said ""dry""" # end') == ["NOTE", 'he said "dry"']
    assert words("A#1 #2") == ["A#1"]
    assert words('"#7" 3') == ["#7", "3"]


def test_a_count_wrong_by_one_is_a_remark_and_by_more_an_error():
    by_one = parse("\n".join(LINES).replace("SETS 2", "SETS 3"), "x")
    assert by_one.remarks == [
        "NUMBER_OF_SETS says 3, and there are 2 rows; the rows are taken as they are.",
    ]
    with pytest.raises(BadInput, match="NUMBER_OF_SETS says 40, and there are 2 rows") as caught:
        parse("\n".join(LINES).replace("SETS 2", "SETS 40"), "ramp.txt")
    assert (caught.value.source, caught.value.line) == ("ramp.txt", 9)


@pytest.mark.parametrize(
    ("lines", "message", "line"),
    [
        (["CGATS.17", "ORIGINATOR me"], "no BEGIN_DATA_FORMAT", 2),
        (LINES[:9], "no BEGIN_DATA,", 9),
        (LINES[:7], "END_DATA_FORMAT is missing", 7),
        (LINES[:6] + LINES[7:], "names no fields", 6),
        (LINES[:1] + LINES[8:], "before any BEGIN_DATA_FORMAT", 3),
        (LINES[:10] + LINES[12:], "no rows", 10),
        (LINES[:11], "the file is cut off", 11),
        ([*LINES[:10], "1 2", "2 3 4", "END_DATA"], "this row has 2 values, and .* 3 fields", 11),
        ([*LINES[:11], "1 2 3 4", "END_DATA"], "this row has 4 values", 12),
    ],
)
def test_what_cannot_be_a_table_is_refused_with_its_line(lines, message, line):
    with pytest.raises(BadInput, match=message) as caught:
        parse("\n".join(lines), "ramp.txt")
    assert (caught.value.source, caught.value.line) == ("ramp.txt", line)


@pytest.mark.parametrize("content", [b"", b"  \r\n\t"])
def test_an_empty_file_is_refused(tmp_path, content):
    path = tmp_path / "empty.txt"
    path.write_bytes(content)
    with pytest.raises(BadInput, match="the file is empty"):
        parse_file(path)


def test_a_binary_file_a_folder_and_no_file_are_refused(tmp_path):
    picture = tmp_path / "ramp.txt"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(range(256)))
    for path, message in [
        (picture, "is a binary file"),
        (tmp_path, "is a folder"),
        (tmp_path / "none.txt", "there is no such file"),
    ]:
        with pytest.raises(BadInput, match=message):
            parse_file(path)


def test_200_MB_are_refused_by_size_before_they_are_read(tmp_path):
    path = tmp_path / "huge.txt"
    with path.open("wb") as stream:
        stream.truncate(200_000_000)  # a hole: it takes no room on the disk
    with pytest.raises(BadInput, match="holds 200 MB, and 50 MB is the limit"):
        parse_file(path)
