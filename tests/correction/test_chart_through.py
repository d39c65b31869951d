"""A chart sent through a correction: the page has the corrected values, the layout its own."""

import numpy as np
import pytest
import tifffile

from greyscale.base.errors import BadInput
from greyscale.charts.chart import make_chart, write_chart
from greyscale.correction.charts import chart_through
from greyscale.correction.folder import write_files
from greyscale.readings.layout import read_layout


def test_page_holds_the_curve_of_the_layouts_values(written_once, correction, tmp_path):
    through = chart_through(written_once)
    plain = make_chart("start", near_neutral=True, dpi=100, code=False)
    proof = make_chart("start", near_neutral=True, dpi=100, through=through, code=False)
    np.testing.assert_array_equal(proof.layout.device, plain.layout.device)
    write_chart(proof, tmp_path / "proof")
    page = tifffile.imread(tmp_path / "proof.tif").reshape(-1, 3)
    printed = {tuple(code) for code in np.unique(page, axis=0).tolist()}
    layout = read_layout(tmp_path / "proof.txt")
    sent = np.round(correction.curve.apply(layout.device) * 65535).astype(int)
    # The curve is read from the file, to 1e-8: the last of 65535 steps may round the other way.
    near = [
        any(all(abs(a - b) <= 1 for a, b in zip(code, other, strict=True)) for other in printed)
        for code in sent.tolist()
    ]
    assert all(near)


def test_the_page_says_what_it_went_through(written_once):
    proof = make_chart("start", dpi=100, through=chart_through(written_once), code=False)
    assert "sent through the correction Harbour light" in proof.layout.fields["CHART_SETTINGS"]


def test_a_folder_without_a_correction_is_refused(tmp_path):
    with pytest.raises(BadInput, match="no correction here"):
        chart_through(tmp_path)


@pytest.mark.parametrize(("number", "name"), [(1, "harbour"), (2, "harbour, round 2")])
def test_a_chart_says_through_which_round_it_went(
    number: int, name: str, make_correction, curve, printer_lab, tmp_path
) -> None:
    correction = make_correction(curve, name="harbour", round=number)
    write_files(correction, tmp_path, printer_lab, lut_size=9)
    assert chart_through(tmp_path).name == name
