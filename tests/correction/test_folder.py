"""A correction folder is written whole or not at all, and read back as it was."""

import contextlib
import csv
import dataclasses
import json
import os
import shutil
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import plain_text
from greyscale.correction.as_json import correction_id, correction_text, from_json, to_json
from greyscale.correction.folder import (
    CLF,
    CURVE,
    JSON,
    LUT_1D,
    LUT_3D,
    read_correction,
    whole_folder,
)
from greyscale.correction.record import Curve


@pytest.fixture
def folder(written_once, tmp_path) -> Path:
    return Path(shutil.copytree(written_once, tmp_path / "cotton-rag"))


def assert_same(first, second, tolerance=1e-5):
    """Every field of two dataclasses, arrays within the digits that are written."""
    assert type(first) is type(second)
    for field in dataclasses.fields(first):
        one, other = getattr(first, field.name), getattr(second, field.name)
        if dataclasses.is_dataclass(one):
            assert_same(one, other, tolerance)
        elif isinstance(one, np.ndarray):
            np.testing.assert_allclose(one, other, atol=tolerance, err_msg=field.name)
        else:
            assert one == other, field.name


def test_it_holds_what_the_design_says(folder):
    assert {path.name for path in folder.iterdir()} == {JSON, CURVE, LUT_1D, LUT_3D, CLF}


def test_it_reads_back_as_it_was(correction, folder):
    assert_same(read_correction(folder), correction)
    assert_same(read_correction(folder / JSON), correction)


def test_evidence_is_kept_to_the_last_digit(correction, folder):
    """A next round must not start from rounded measurements."""
    assert_same(read_correction(folder).evidence, correction.evidence, tolerance=0.0)


def test_curve_csv_holds_the_curve(correction, folder):
    with (folder / CURVE).open(encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    assert head == ["level", "R", "G", "B", "L", "a", "b", "sd_L", "sd_a", "sd_b"]
    found = np.array(rows, dtype=float)
    curve = correction.curve
    wanted = np.column_stack([curve.levels, curve.rgb, curve.lab, curve.sd])
    np.testing.assert_allclose(found, wanted, atol=5e-5)
    np.testing.assert_allclose(found[:, 1:4], curve.rgb, atol=5e-8)


def test_all_files_send_the_same_values(correction, folder, read_by_opencolorio, printer_lab):
    from colour.difference import delta_E_CIE2000

    greys = np.repeat(np.linspace(0, 1, 4001)[:, np.newaxis], 3, axis=1)
    wanted = correction.curve.apply(greys)
    assert np.abs(read_by_opencolorio(folder / LUT_1D, greys) - wanted).max() < 1 / 4000
    assert np.abs(read_by_opencolorio(folder / CLF, greys) - wanted).max() < 1 / 4000
    for interpolation in ("linear", "tetrahedral"):
        read = read_by_opencolorio(folder / LUT_3D, greys, interpolation)
        assert delta_E_CIE2000(printer_lab(read), printer_lab(wanted)).max() < 0.1


def test_json_states_how_close_the_luts_are(folder):
    luts = json.loads((folder / JSON).read_text(encoding="utf-8"))["luts"]
    assert luts["points_1d"] == 2041
    assert luts["size_3d"] in (33, 49, 65)
    assert 0 < luts["axis_delta_E00"] < 0.1


def test_every_file_names_the_correction_and_where_it_belongs(correction, folder):
    for name in (LUT_1D, LUT_3D, CLF, JSON):
        text = (folder / name).read_text(encoding="utf-8")[:3000]
        assert "Harbour light" in text
        for known in ("six-ink, studio", "cotton rag", "best, no colour management"):
            assert known in text
    identifier = json.loads((folder / JSON).read_text(encoding="utf-8"))["id"]
    assert f'id="{identifier}"' in (folder / CLF).read_text(encoding="utf-8")[:500]
    assert identifier == correction_id(read_correction(folder))


def test_what_earlier_programs_did_not_write_of_a_reading_is_not_missed(folder):
    path = folder / "correction.json"
    data = json.loads(path.read_text())
    for source in data["evidence"]["sources"]:
        for key in ("as_it_is", "glow_source", "glow_sha256"):
            del source[key]
    path.write_text(json.dumps(data))
    (source,) = read_correction(folder).evidence.sources
    assert (source.as_it_is, source.glow_source, source.glow_sha256) == (False, None, None)


def test_lists_of_texts_and_brackets_in_texts_survive():
    data = {"remarks": ["a  [1,\n 2]  b", "c"], "rows": [[1.0, -0.5], [2.0, 3.0]], "none": []}
    text = correction_text(data)
    assert json.loads(text) == data
    assert '\n "rows": [[1.0, -0.5], [2.0, 3.0]],\n' in text


@settings(max_examples=15, deadline=None)
@given(
    values=st.lists(
        st.tuples(*[st.floats(0, 1, allow_subnormal=False)] * 3), min_size=2, max_size=40
    ),
    name=st.text(min_size=1, max_size=40),
)
def test_any_curve_and_name_survive(make_correction, values, name, tmp_path_factory):
    """Property: what goes into JSON comes back, and the second writing equals the first.

    Of a name all that can be seen.
    """
    name = plain_text(name)
    rgb = np.array(values)
    levels = np.linspace(0, 1, len(rgb))
    lab = np.column_stack([100 * levels, rgb[:, 0] - rgb[:, 1], rgb[:, 1] - rgb[:, 2]])
    first = make_correction(Curve(levels, rgb, lab, np.abs(lab) / 100), name=name)
    path = tmp_path_factory.mktemp("any") / "correction.json"
    path.write_text(correction_text(to_json(first)), encoding="utf-8")
    second = from_json(path)
    assert_same(second, first)
    assert to_json(second) == to_json(first)
    assert correction_id(second) == correction_id(first)


def _damaged(path: Path, change) -> Path:
    data = json.loads(path.read_text(encoding="utf-8"))
    change(data)
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def _remove(key):
    return lambda data: data.pop(key)


def _set(*keys, value):
    def change(data):
        for key in keys[:-1]:
            data = data[key]
        data[keys[-1]] = value

    return change


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (_remove("curve"), "'curve' is missing"),
        (_remove("evidence"), "'evidence' is missing"),
        (_remove("schema"), "says schema nothing"),
        (_set("schema", value="greyscale/correction/2"), "another version"),
        (_set("schema", value="greyscale/analysis/1"), "says schema 'greyscale/analysis/1'"),
        (_set("schema", value=3), "'schema' should be a text, found 3"),
        (_set("name", value=None), "'name' should be a text, found null"),
        (_set("round", value=-1), "'round' should be a whole number, found -1"),
        (_set("round", value=True), "'round' should be a whole number, found true"),
        (_set("created", value="yesterday"), "'created' should be a date and time"),
        (_set("paper", "L", value="light"), "'paper.L' should be a number"),
        (_set("paper", "L", value=10**400), "'paper.L' should be a finite number"),
        (_set("curve", "rgb", value=[[0, 0, 0]]), "'curve.rgb' should hold 2041 by 3 numbers"),
        (_set("curve", "rgb", 5, value=[0, 0]), "'curve.rgb' should be numbers in rows"),
        (_set("curve", "rgb", 5, value=[0, 2, 0]), "should lie between 0 and 1, found 0 to 2"),
        (_set("curve", "lab", 5, value=[0, None, 0]), "'curve.lab' should be finite numbers"),
        (
            _set("curve", "points", value=1),
            "should lie between 2 and 65536, found 1",
        ),
        (_set("evidence", "origin", 0, value=9), "'evidence.origin' should lie between 0"),
        (_set("evidence", "origin", 0, value=1e30), "'evidence.origin' should lie between 0"),
        (_set("evidence", "sources", value=[]), "'evidence.origin' should lie between 0"),
        (_set("evidence", "sources", value=[3]), "'evidence.sources[0]' should be a JSON object"),
        (_set("evidence", value=[]), "'evidence' should be a JSON object"),
        (_set("limits", value={}), "'limits' should be a list"),
        (_set("remarks", value=[1]), "'remarks' should be a list of texts"),
        (_set("near_neutral", value="no"), "'near_neutral' should be true or false"),
    ],
)
def test_damage_is_named(folder, change, message):
    path = _damaged(folder / JSON, change)
    with pytest.raises(BadInput) as caught:
        read_correction(folder)
    assert message in str(caught.value)
    assert str(path) in str(caught.value)


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"\xff\xfe\x00", b"null", b"[1, 2]", b"[" * 100_000, b'{"schema": NaN}'],
)
def test_what_is_no_json_is_refused(folder, content):
    (folder / JSON).write_bytes(content)
    with pytest.raises(BadInput):
        read_correction(folder)


@settings(max_examples=30, deadline=None)
@given(at=st.floats(0, 1), byte=st.integers(0, 255))
def test_no_flipped_byte_makes_another_error(correction, at, byte, tmp_path_factory):
    """Property: a damaged file is read or refused, nothing else."""
    path = tmp_path_factory.mktemp("flipped") / JSON
    # Few points, so that the damage does not always fall into the curve.
    few = slice(None, None, 100)
    small = dataclasses.replace(
        correction,
        curve=Curve(
            *[getattr(correction.curve, name)[few] for name in ("levels", "rgb", "lab", "sd")]
        ),
        aim_lab=correction.aim_lab[few],
        target_lab=correction.target_lab[few],
        before_lab=correction.before_lab[few],
    )
    content = bytearray(correction_text(to_json(small)).encode("utf-8"))
    content[int(at * (len(content) - 1))] = byte
    path.write_bytes(bytes(content))
    with contextlib.suppress(BadInput):
        from_json(path)


def test_a_folder_without_a_correction_is_refused(tmp_path):
    with pytest.raises(BadInput, match="no correction here"):
        read_correction(tmp_path)
    for name in ("curve.csv", "fog.tif"):
        (tmp_path / name).write_bytes(b"\xff level")
        with pytest.raises(BadInput, match="no correction here; give the folder that"):
            read_correction(tmp_path / name)
    with pytest.raises(BadInput, match="no correction here"):
        read_correction(tmp_path / "missing")


def _break_off(target):
    with whole_folder(target) as fresh:
        (fresh / JSON).write_text("half")
        raise RuntimeError


def test_an_error_leaves_nothing(tmp_path):
    with pytest.raises(RuntimeError):
        _break_off(tmp_path / "new")
    assert list(tmp_path.iterdir()) == []


def test_an_error_leaves_the_old_correction(folder):
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    with pytest.raises(RuntimeError):
        _break_off(folder)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    assert [path.name for path in folder.parent.iterdir()] == [folder.name]


def test_a_correction_is_replaced_and_what_others_put_there_is_kept(folder):
    (folder / "my notes.txt").write_text("print 2 of 5")
    (folder / "figures").mkdir()
    (folder / "figures" / "old.png").write_text("old")
    with whole_folder(folder) as fresh:
        (fresh / JSON).write_text("new")
    assert {path.name for path in folder.iterdir()} == {JSON, "my notes.txt"}
    assert (folder / "my notes.txt").read_text() == "print 2 of 5"
    assert (folder / JSON).read_text() == "new"
    assert [path.name for path in folder.parent.iterdir()] == [folder.name]


def test_another_folder_is_not_touched(tmp_path):
    (tmp_path / "pictures").mkdir()
    (tmp_path / "pictures" / "harbour.tif").write_text("x")
    with (
        pytest.raises(BadInput, match="holds other files and no correction"),
        whole_folder(tmp_path / "pictures"),
    ):
        pytest.fail("the work must not begin")


def test_json_of_another_kind_is_not_taken_for_a_correction(tmp_path):
    (tmp_path / JSON).write_text('{"schema": "greyscale/analysis/1"}')
    with pytest.raises(BadInput, match="says schema"), whole_folder(tmp_path):
        pytest.fail("the work must not begin")


def test_an_input_is_never_overwritten(folder):
    reading = folder / "reading.txt"
    reading.write_text("...")
    for inputs in ([reading], [folder], [folder / JSON]):
        with pytest.raises(BadInput, match="holds the input"), whole_folder(folder, inputs):
            pytest.fail("the work must not begin")


def test_a_file_in_the_way_is_refused(tmp_path):
    (tmp_path / "name").write_text("x")
    with pytest.raises(BadInput, match="is a file"), whole_folder(tmp_path / "name"):
        pytest.fail("the work must not begin")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_is_refused(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(BadInput, match="cannot be written"), whole_folder(tmp_path / "new"):
        pytest.fail("the work must not begin")


def test_an_empty_folder_is_filled(tmp_path):
    target = tmp_path / "empty"
    target.mkdir()
    with whole_folder(target) as fresh:
        (fresh / JSON).write_text("new")
    assert [path.name for path in target.iterdir()] == [JSON]
