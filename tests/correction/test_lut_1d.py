"""The 1D LUT and the Common LUT Format file are the curve, as OpenColorIO reads them."""

import numpy as np
import pytest

from greyscale.correction.luts import cube_text, write_clf, write_cube

TOLERANCE = 1 / 4000


@pytest.fixture
def pictures():
    """Greys in fine steps, and colours: each channel has its own curve."""
    greys = np.repeat(np.linspace(0, 1, 8193)[:, np.newaxis], 3, axis=1)
    return np.vstack([greys, np.random.default_rng(1).random((2000, 3))])


def test_cube_is_the_curve(curve, pictures, tmp_path, read_by_opencolorio):
    path = tmp_path / "a.cube"
    write_cube(curve.rgb, path, "harbour")
    assert np.abs(read_by_opencolorio(path, pictures) - curve.apply(pictures)).max() < 1e-6


def test_clf_is_the_curve(curve, pictures, tmp_path, read_by_opencolorio):
    path = tmp_path / "a.clf"
    write_clf(
        curve.rgb, path, identifier="3f", name="harbour", takes="levels", gives="device values"
    )
    assert np.abs(read_by_opencolorio(path, pictures) - curve.apply(pictures)).max() < TOLERANCE


def test_clf_is_read_back_by_another_library(curve, tmp_path):
    import colour_clf_io

    path = tmp_path / "a.clf"
    table = curve.rgb
    write_clf(
        table,
        path,
        identifier="3f",
        name="kozo \x07& <mist>",
        description=("Paper: kozo", "Settings: 'fine' & \"slow\""),
        takes="picture values",
        gives="device values",
    )
    processes = colour_clf_io.read_clf_from_file(path)
    assert (processes.id, processes.name) == ("3f", "kozo & <mist>")
    assert processes.description == ["Paper: kozo", "Settings: 'fine' & \"slow\""]
    assert processes.input_descriptor == "picture values"
    (node,) = processes.process_nodes
    # A file of 32-bit floats: half their last place.
    np.testing.assert_allclose(node.array.as_array(), table, atol=2.0**-25)


def test_cube_is_read_back_by_colour(curve, tmp_path):
    import colour

    path = tmp_path / "a.cube"
    write_cube(curve.rgb, path, "baryta – 2×", ["Printer: Süd\nsecond line"])
    lut = colour.read_LUT(str(path))
    np.testing.assert_allclose(lut.table, curve.rgb, atol=1e-7)
    assert lut.name == "baryta - 2x"
    assert lut.comments == ["Printer: Sud second line"]


def test_text_of_a_cube_holds_no_quotation_marks_or_line_breaks():
    assert cube_text('one "two"\n\tthree') == "one 'two' three"
    assert cube_text("Straße, 和紙") == "Strasse, ??"
