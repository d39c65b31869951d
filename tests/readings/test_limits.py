"""A reading too large, or that no reader could finish, is refused by one message in no time."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from greyscale.base.errors import BadInput
from greyscale.readings.delimited import MOST_FIELDS
from greyscale.readings.formats import read
from greyscale.readings.source_file import LONGEST_LINE, MOST_LINES, MOST_PATCHES

_HEADER = "SAMPLE_ID,RGB_R,RGB_G,RGB_B,LAB_L,LAB_A,LAB_B\n"


def _refused(path: Path) -> str:
    start = time.process_time()
    with pytest.raises(BadInput) as refused:
        read(path)
    assert time.process_time() - start < 10
    return str(refused.value)


def test_more_patches_than_the_limit_are_refused_at_the_row(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    path.write_text(_HEADER + "1,0,0,0,10,0,0\n" * 1_000_000)
    assert f"more than {MOST_PATCHES} patches" in _refused(path)
    text = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B\n"
    path.write_text(text + "END_DATA_FORMAT\nBEGIN_DATA\n" + "1 0 0 0 10 0 0\n" * 1_000_000)
    assert f"more than {MOST_PATCHES} patches" in _refused(path)


def test_of_rows_broken_over_lines_the_patches_count(tmp_path: Path) -> None:
    """As many as there may be are read; refused are one more, at its line, and endless lines."""
    path = tmp_path / "broken.txt"
    text = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B\n"
    text += "END_DATA_FORMAT\nBEGIN_DATA\n"
    for row in ("1 0 0 0 10 0 0\n", "1 0 0 0\n10 0 0\n"):
        path.write_text(text + row * MOST_PATCHES + "END_DATA\n")
        assert len(read(path)) == MOST_PATCHES
    too_many = f"more than {MOST_PATCHES} patches"
    path.write_text(text + "1 0 0 0\n10 0 0\n" * (MOST_PATCHES + 1) + "END_DATA\n")
    assert too_many in _refused(path)
    path.write_text(text + "1 0 0 0 10 0 0\n" * (MOST_PATCHES + 1) + "END_DATA\n")
    assert f"line {5 + MOST_PATCHES + 1}: holds {too_many}" in _refused(path)
    path.write_text(text + "1 0 0 0\n10 0 0\n" * MOST_LINES)
    assert f"line {5 + MOST_LINES + 1}: holds {too_many}" in _refused(path)


def test_more_columns_than_the_limit_are_refused_at_the_header(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    more = "".join(f",x{k}" for k in range(MOST_FIELDS))
    path.write_text(_HEADER.strip() + more + "\n1,0,0,0,10,0,0" + MOST_FIELDS * ",1" + "\n")
    assert f"line 1: names {MOST_FIELDS + 7} fields" in _refused(path)
    # As many lines as a header is looked for in, none of which is one.
    path.write_text(("hello," * 40_000 + "\n") * 200)
    assert "no known format" in _refused(path)


def test_one_id_as_often_as_there_may_be_patches_is_read_in_linear_time(tmp_path: Path) -> None:
    path = tmp_path / "same.csv"
    path.write_text(_HEADER + "1,0,0,0,10,0,0\n" * MOST_PATCHES)
    start = time.process_time()
    reading = read(path)
    assert time.process_time() - start < 5
    assert len(set(reading.ids)) == MOST_PATCHES


def test_a_quote_that_is_never_closed_takes_no_memory_for_each_letter(tmp_path: Path) -> None:
    path = tmp_path / "quote.txt"
    path.write_text('CGATS.17\nDESCRIPTOR "' + "grey " * 8_000_000)
    assert str(LONGEST_LINE) in _refused(path)


def test_a_pipe_or_a_device_is_refused_before_it_is_opened(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.txt"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero")):
        assert "device or a pipe" in _refused(path)


@pytest.mark.parametrize("names", [("Rot", "Grün", "Blau"), ("Rouge", "Vert", "Bleu")])
def test_columns_may_be_named_in_german_or_french(tmp_path: Path, names: tuple[str, ...]) -> None:
    path = tmp_path / "named.csv"
    path.write_text(
        f"ID,{','.join(names)},L*,a*,b*\n1,0,0,0,10,0,\u22120.5\n2,255,255,255,95,0,1\n"
    )
    reading = read(path)
    assert reading.device.tolist() == [[0, 0, 0], [1, 1, 1]]
    assert reading.lab[0].tolist() == [10, 0, -0.5]
