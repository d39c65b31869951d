"""`greyscale apply` as a person runs it: files, notes, refusals, and runs that are cut off."""

from __future__ import annotations

import signal
import subprocess
import sys

import numpy as np
import pytest
import tifffile
from PIL import Image
from support.corrections import correction_with, curve_against, printed
from support.invoked import invoke
from support.picture_files import (
    SRGB,
    XMP,
    codes,
    exif,
    exif_of,
    gamma_profile,
    jpeg_bytes,
    png_bytes,
    tiff,
    tiff_with_exif,
)

from greyscale.base.errors import BadInput
from greyscale.correction.as_json import correction_id
from greyscale.correction.folder import write_files
from greyscale.pictures.formats import read_picture
from greyscale.pictures.metadata import own_properties


def run(*arguments):
    return " ".join(invoke("apply", *arguments, code=0).output.split())


@pytest.fixture(scope="module")
def correction(tmp_path_factory):
    folder = tmp_path_factory.mktemp("harbour-light")
    write_files(correction_with(curve_against(), name="Harbour light"), folder, printed)
    return folder


def test_what_was_done_is_said(correction, tmp_path):
    fog = tiff(tmp_path / "fog.tif", codes((20, 30), "uint16"), iccprofile=gamma_profile(1, 2.2))
    said = run(correction, fog, "-o", tmp_path / "fog-print.tif")
    assert "30 × 20 pixels, 16 bits; converted from gray built-in to lstar, then corrected" in said
    assert "no profile: print it without colour management, as the chart was" in said
    plain = tiff(tmp_path / "plain.tif", codes((20, 30), "uint16"))
    said = run(correction, plain, "-o", tmp_path / "plain-print.tif", "--encoding", "lstar")
    assert "taken as lstar, which the correction expects" in said


def test_a_tiffs_exif_resolution_and_xmp_are_kept_and_the_correction_noted(correction, tmp_path):
    path, target = tmp_path / "a.tif", tmp_path / "b.tif"
    tiff_with_exif(path, codes((20, 30, 3), "uint8"), icc_profile=SRGB)
    run(correction, path, "-o", target)
    before, after = exif_of(path), exif_of(target)
    # What comes out is not sRGB any more.
    assert after["photo"] == {**before["photo"], 0xA001: 65535}
    assert after["place"] == before["place"]
    assert after["main"] == before["main"]
    with tifffile.TiffFile(path) as old, tifffile.TiffFile(target) as new:
        for name in ("XResolution", "YResolution", "ResolutionUnit", "Orientation", "Make"):
            assert new.pages[0].tags[name].value == old.pages[0].tags[name].value
    noted = own_properties(read_picture(target).form.metadata.xmp)
    assert noted["Correction"] == "Harbour light"
    assert noted["CorrectionID"] == correction_id(
        correction_with(curve_against(), name="Harbour light")
    )
    assert (noted["ValuesFor"], noted["ConvertedFrom"], noted["Lut"]) == (
        "device", "sRGB built-in", "1D",
    )  # fmt: skip


@pytest.mark.parametrize("ending", ["png", "jpg"])
def test_png_and_jpeg_keep_what_they_say(ending, correction, tmp_path):
    path, target = tmp_path / f"a.{ending}", tmp_path / f"b.{ending}"
    image = Image.fromarray(codes((20, 30, 3), "uint8"))
    image.save(path, exif=exif(), dpi=(360, 240), icc_profile=SRGB)
    if ending == "jpg":
        path.write_bytes(
            jpeg_bytes(np.asarray(image), exif=exif(), dpi=(360, 240), xmp=XMP, icc_profile=SRGB)
        )
    run(correction, path, "-o", target)
    before, after = exif_of(path), exif_of(target)
    assert after == {**before, "photo": {**before["photo"], 0xA001: 65535}}
    with Image.open(target) as found:
        assert found.info["dpi"] == pytest.approx((360, 240), abs=0.0254)
        assert "icc_profile" not in found.info
        assert b"Harbour light" in found.info["xmp"]
        if ending == "jpg":
            assert b"Fog, \xc3\xa9bb" in found.info["xmp"]


@pytest.mark.parametrize("ending", ["tif", "png", "jpg"])
def test_a_second_time_is_refused_unless_forced(ending, correction, tmp_path):
    path = tmp_path / f"a.{ending}"
    Image.fromarray(codes((20, 30), "uint8")).save(path)
    once, twice = tmp_path / f"once.{ending}", tmp_path / f"twice.{ending}"
    run(correction, path, "-o", once, "--encoding", "lstar")
    with pytest.raises(
        BadInput, match=r"gone through the correction 'Harbour light' already.*--force"
    ):
        run(correction, once, "-o", twice, "--encoding", "lstar")
    assert not twice.exists()
    run(correction, once, "-o", twice, "--encoding", "lstar", "--force")
    assert twice.exists()


def test_several_pictures_go_into_a_folder_under_their_names(correction, tmp_path):
    fog = tiff(tmp_path / "fog.tif", codes((5, 6), "uint16"))
    quay = tmp_path / "quay.png"
    quay.write_bytes(png_bytes(codes((5, 6), "uint8")))
    run(correction, fog, quay, "-o", tmp_path / "print", "--encoding", "srgb")
    assert sorted(path.name for path in (tmp_path / "print").iterdir()) == ["fog.tif", "quay.png"]
    run(correction, fog, "-o", f"{tmp_path}/single/", "--encoding", "srgb")
    assert (tmp_path / "single" / "fog.tif").is_file()
    (tmp_path / "other").mkdir()
    other = tiff(tmp_path / "other" / "FOG.tif", codes((5, 6), "uint16"))
    with pytest.raises(BadInput, match="same file"):
        run(correction, fog, other, "-o", tmp_path / "print", "--encoding", "srgb")
    with pytest.raises(BadInput, match="this is an input"):
        run(correction, fog, quay, "-o", quay, "--encoding", "srgb")


def test_no_input_is_written_over(correction, tmp_path):
    fog = tiff(tmp_path / "fog.tif", codes((5, 6), "uint16"))
    before = fog.read_bytes()
    for out in (fog, tmp_path, correction / "correction-1d.cube"):
        with pytest.raises(BadInput, match="this is an input"):
            run(correction, fog, "-o", out, "--encoding", "lstar")
    assert fog.read_bytes() == before


def test_what_a_format_cannot_hold_is_refused(correction, tmp_path):
    layered = tiff(
        tmp_path / "a.tif", codes((5, 6, 4), "uint8"), photometric="rgb",
        extrasamples=["unassalpha"],
    )  # fmt: skip
    floats = tiff(tmp_path / "f.tif", codes((5, 6), "float32"))
    for path, out, message in [
        (layered, "b.jpg", "a JPEG cannot hold the picture's transparency; write a TIFF"),
        (floats, "b.png", "a PNG cannot hold floating-point values; write a TIFF"),
        (floats, "b.bmp", "its ending does not name a format; take one of .tif, .png, .jpg"),
    ]:
        with pytest.raises(BadInput, match=message):
            run(correction, path, "-o", tmp_path / out, "--encoding", "lstar")
        assert not (tmp_path / out).exists()


def test_of_several_pictures_the_sound_ones_are_corrected_and_the_others_named(
    correction, tmp_path
):
    fog = tiff(tmp_path / "fog.tif", codes((5, 6), "uint16"))
    quay = tiff(tmp_path / "quay.tif", codes((5, 6), "uint16"))
    (tmp_path / "broken.tif").write_bytes(b"II*\0 no picture")
    words = (fog, tmp_path / "broken.tif", quay, "-o", f"{tmp_path}/print/", "--encoding", "lstar")
    result = invoke("apply", correction, *words, code=1)
    assert sorted(one.name for one in (tmp_path / "print").iterdir()) == ["fog.tif", "quay.tif"]
    assert "broken.tif" in result.stderr
    assert "1 of 3 pictures was not corrected." in result.stderr


def test_a_damaged_picture_leaves_what_was_there(correction, tmp_path):
    path = tiff(tmp_path / "a.tif", codes((300, 200), "uint16"), compression="lzw", rowsperstrip=50)
    whole = bytearray(path.read_bytes())
    whole[-20_000:-19_000] = bytes(1000)
    path.write_bytes(bytes(whole))
    with pytest.raises(BadInput, match="damaged or cut short"):
        run(correction, path, "-o", tmp_path / "b.tif", "--encoding", "lstar")
    assert [one.name for one in tmp_path.iterdir()] == ["a.tif"]


CUT_OFF = """
import signal, sys, time
# Where the tests run in the background, an interrupt is inherited as ignored.
signal.signal(signal.SIGINT, signal.default_int_handler)
from greyscale.applying import bands
correct = bands.BandCorrection.__call__
def slow(self, band):
    print("a band", flush=True)
    time.sleep(0.2)
    return correct(self, band)
bands.BandCorrection.__call__ = slow
from greyscale.cli.app import main
main()
"""


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_a_run_that_is_cut_off_leaves_nothing(how, correction, tmp_path):
    if how == signal.SIGKILL and not sys.platform.startswith("linux"):
        pytest.skip("only Linux has files without a name")
    fog = tiff(tmp_path / "fog.tif", np.zeros((4000, 3000), np.uint16))
    (tmp_path / "print").mkdir()
    target = tmp_path / "print" / "fog.tif"
    process = subprocess.Popen(
        [
            sys.executable, "-c", CUT_OFF, "apply", str(correction), str(fog),
            "-o", str(target), "--encoding", "lstar",
        ],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )  # fmt: skip
    for _ in range(2):
        assert process.stdout.readline() == "a band\n"
    process.send_signal(how)
    assert process.wait(30) != 0
    process.stdout.close()
    assert list((tmp_path / "print").iterdir()) == []
