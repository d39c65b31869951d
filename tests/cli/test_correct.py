"""`greyscale correct` as a person runs it, on the demo's printer: files in, files out."""

from __future__ import annotations

import dataclasses
import html
import json
import re
from functools import partial

import numpy as np
import pytest
from PIL import ImageCms
from support.corrections import apply_lut
from support.corrections import measure_chart as measure
from support.invoked import invoke, refused

from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write

FILES = {
    "correction.json", "curve.csv", "correction-1d.cube", "correction-3d.cube", "correction.clf",
    "report.html", "figures",
}  # fmt: skip


run = partial(invoke, code=0)


@pytest.fixture(scope="module")
def start(tmp_path_factory):
    """A starting chart with near-neutral patches, measured."""
    folder = tmp_path_factory.mktemp("start")
    run("chart", "-o", folder / "start", "--patches", 40, "--dpi", 72)
    return measure(folder / "start.txt", folder / "reading.txt")


@pytest.fixture(scope="module")
def ramp(tmp_path_factory):
    """A ramp alone, measured."""
    folder = tmp_path_factory.mktemp("ramp")
    run("chart", "-o", folder / "start", "--dpi", 72)
    return measure(folder / "start.txt", folder / "reading.txt")


@pytest.fixture(scope="module")
def made(start, tmp_path_factory):
    """A correction, and what was said of it."""
    folder = tmp_path_factory.mktemp("made") / "harbour-light"
    result = run("correct", start, "--name", "Harbour light", "--settings", "best", "-o", folder)
    return folder, result.stdout


def test_it_writes_the_folder_of_the_design(made):
    folder, _ = made
    assert {path.name for path in folder.iterdir()} == FILES


def test_what_is_expected_stands_before_how_to_prove_it(made):
    text = " ".join(made[1].split())
    assert text.startswith("Harbour light round 1")
    assert "should be removed: mean ΔCh" in text
    assert "Against the aim" not in text
    assert text.index("should be removed: mean ΔCh") < text.index("Prove it: print a chart")
    assert "greyscale verify PROOF-READING --correction" in text


def test_name_printer_paper_and_settings_travel_into_every_file(made, start):
    folder, _ = made
    printer = demo_printer("cotton rag")
    for name in FILES - {"curve.csv", "figures"}:
        text = html.unescape((folder / name).read_text(encoding="utf-8"))
        for known in ("Harbour light", printer.name, "cotton rag", "best"):
            assert known in text, (name, known)


def test_json_names_the_reading_by_its_hash(made, start):
    import hashlib

    data = json.loads((made[0] / "correction.json").read_text(encoding="utf-8"))
    (source,) = data["evidence"]["sources"]
    assert source["sha256"] == hashlib.sha256(start.read_bytes()).hexdigest()
    assert source["source"] == str(start)
    assert source["round"] == 0
    assert data["path"] == "device"
    assert data["encoding"] == "lstar"


def test_all_luts_print_alike(made):
    """1D and CLF equal the curve within 1/4000; the 3D LUT, whose nodes lie in even steps, prints
    within 0.1 ΔE00 of it on the axis from level 0.02 on, and within 0.5 in the blacks below."""
    from colour.difference import delta_E_CIE2000

    folder, _ = made
    table = np.loadtxt(folder / "curve.csv", delimiter=",", skiprows=1)
    levels = np.linspace(0, 1, 4096)
    greys = np.repeat(levels[:, np.newaxis], 3, axis=1)
    curve = np.stack([np.interp(levels, table[:, 0], table[:, c]) for c in (1, 2, 3)], axis=-1)
    assert np.abs(apply_lut(folder / "correction-1d.cube", greys) - curve).max() < 1 / 4000
    assert np.abs(apply_lut(folder / "correction.clf", greys) - curve).max() < 1 / 4000
    printed = demo_printer("cotton rag").lab
    for interpolation in ("linear", "tetrahedral"):
        read = apply_lut(folder / "correction-3d.cube", greys, interpolation)
        off = delta_E_CIE2000(printed(read), printed(curve))
        assert off[levels >= 0.02].max() < 0.1
        assert off.max() < 0.5


def test_a_working_space_by_name_alone_is_said_to_be_that(ramp, tmp_path):
    said = run("correct", ramp, "--path", "workshop grey", "-o", tmp_path / "by-name").output
    assert "'workshop grey' is neither sRGB nor the file of a profile" in " ".join(said.split())
    assert "neither" not in run("correct", ramp, "--path", "sRGB", "-o", tmp_path / "known").output


@pytest.mark.parametrize(("kind", "space"), [("abst", "Lab"), ("link", "RGB")])
def test_a_profile_of_no_working_space_is_refused_as_such(ramp, tmp_path, kind, space):
    """An abstract profile of Lab, and a device link, which tells of no colour of its own."""
    given = ImageCms.createProfile("LAB" if space == "Lab" else "sRGB")
    data = bytearray(ImageCms.ImageCmsProfile(given).tobytes())
    data[12:16] = kind.encode()  # The class (ISO 15076-1, 7.2.5).
    file = tmp_path / "space.icc"
    file.write_bytes(data)
    said = refused("correct", ramp, "--path", file, "-o", tmp_path / "refused")
    assert f"of the class '{kind}', for {space} values, and no working space; give one of R" in said
    assert "picture" not in said


def test_the_whole_loop_through_files_and_two_rounds(made, start, tmp_path):
    """Limits of one and of two rounds with near-neutral patches, on the true print."""
    first, _ = made
    second = tmp_path / "second"
    run("chart", "-o", tmp_path / "proof", "--near-neutral", "--through", first, "--dpi", 72)
    proof = measure(tmp_path / "proof.txt", tmp_path / "proof-reading.txt", through=first, seed=2)
    told = run("correct", proof, "--previous", first, "-o", second).stdout
    assert "round 2" in told
    data = json.loads((second / "correction.json").read_text(encoding="utf-8"))
    assert data["round"] == 2
    assert data["follows"] == "Harbour light"
    assert [source["round"] for source in data["evidence"]["sources"]] == [0, 1]
    run("chart", "-o", tmp_path / "last", "--near-neutral", "--through", second, "--dpi", 72)
    last = measure(tmp_path / "last.txt", tmp_path / "last-reading.txt", through=second, seed=3)
    run("verify", last, "--correction", second, "--json", tmp_path / "v.json")
    verified = json.loads((tmp_path / "v.json").read_text(encoding="utf-8"))
    assert verified["within_tolerance"] is True
    assert verified["after"]["neutrality"]["mean_delta_Ch"] < 0.35
    assert (
        verified["before"]["neutrality"]["mean_delta_Ch"]
        > 3 * verified["after"]["neutrality"]["mean_delta_Ch"]
    )


def test_another_round_is_one_curve_from_the_original(made, tmp_path):
    """Applied alone it prints neutral; nothing of the first correction is to be applied with it."""
    first, _ = made
    second = tmp_path / "second"
    run("chart", "-o", tmp_path / "proof", "--through", first, "--dpi", 72)
    proof = measure(tmp_path / "proof.txt", tmp_path / "proof-reading.txt", through=first, seed=4)
    run("correct", proof, "--previous", first, "-o", second)
    one, two = (np.loadtxt(f / "curve.csv", delimiter=",", skiprows=1) for f in (first, second))
    assert np.abs(one[:, 1:4] - two[:, 1:4]).max() < 0.03


def test_a_next_round_keeps_aims_whose_tables_are_gone(ramp, tmp_path):
    """Tone aim and toning were read from tables; the correction keeps what they said."""
    aim, toning = tmp_path / "aim.csv", tmp_path / "toning.csv"
    aim.write_text("level, L\n0, 15\n0.4, 50\n1, 96\n")
    toning.write_text("L, a, b\n20, 1, 5\n60, 1, 8\n90, 0, 4\n")
    first, second = tmp_path / "first", tmp_path / "second"
    run("correct", ramp, "--aim", aim, "--toning", toning, "-o", first)
    aim.unlink()
    toning.unlink()
    run("chart", "-o", tmp_path / "proof", "--through", first, "--dpi", 72)
    proof = measure(tmp_path / "proof.txt", tmp_path / "proof-reading.txt", through=first, seed=5)
    run("correct", proof, "--previous", first, "-o", second)
    one, two = (
        json.loads((folder / "correction.json").read_text(encoding="utf-8"))
        for folder in (first, second)
    )
    assert two["aim"] == str(aim)
    difference = np.subtract(one["curve"]["aim_lab"], two["curve"]["aim_lab"])
    assert np.abs(difference).max() < 0.3
    wanted = np.interp(60, *np.array(two["curve"]["aim_lab"]).T[[0, 2]])
    assert wanted == pytest.approx(8, abs=0.2)


def test_readings_are_joined(start, ramp, tmp_path):
    run("correct", start, ramp, "-o", tmp_path / "both")
    data = json.loads((tmp_path / "both" / "correction.json").read_text(encoding="utf-8"))
    assert len(data["evidence"]["sources"]) == 2


def test_a_picture_weighs_in(start, tmp_path):
    from PIL import Image

    Image.fromarray(np.full((40, 60), 64, dtype=np.uint8)).save(tmp_path / "fog.png")
    told = run("correct", start, "--for-image", tmp_path / "fog.png", "-o", tmp_path / "fog")
    assert "Over the tones of fog.png" in " ".join(told.output.split())
    data = json.loads((tmp_path / "fog" / "correction.json").read_text(encoding="utf-8"))
    assert data["picture"] == str(tmp_path / "fog.png")
    # The report shows it before and after.
    page = (tmp_path / "fog" / "report.html").read_text(encoding="utf-8")
    assert "<h2>The picture</h2>" in page
    (expected,) = re.findall(r"Over the tones of fog.png, a mean ΔCh of (\S+) is", page)
    assert f"After, as predicted: over this picture, mean ΔCh {expected}," in page
    assert (tmp_path / "fog" / "figures" / "picture.png").exists()


def test_lut_size_and_luminance_are_taken(ramp, tmp_path):
    run("correct", ramp, "-o", tmp_path / "c", "--lut-size", 17, "--by-luminance")
    data = json.loads((tmp_path / "c" / "correction.json").read_text(encoding="utf-8"))
    assert data["luts"]["size_3d"] == 17
    assert data["luts"]["by_luminance"] is True
    # In a picture encoded in L*, ΔL* of 100 between none and all of the light (CIE 15:2018), a red
    # prints as the grey of its luminance (weights of ITU-R BT.709) does by the curve.
    red = np.array([90.0, 20.0, 20.0])
    Y = np.where(red > 8, ((red + 16) / 116) ** 3, red * 27 / 24389) @ [0.2126, 0.7152, 0.0722]
    grey = np.repeat(1.16 * np.cbrt(Y) - 0.16, 3)
    by_cube = apply_lut(tmp_path / "c" / "correction-3d.cube", red[np.newaxis] / 100)
    by_curve = apply_lut(tmp_path / "c" / "correction-1d.cube", grey[np.newaxis])
    np.testing.assert_allclose(by_cube, by_curve, atol=0.006)


def test_a_correction_is_replaced_by_a_new_one_whole(ramp, tmp_path):
    target = tmp_path / "c"
    run("correct", ramp, "-o", target, "--name", "first")
    (target / "notes.txt").write_text("kept")
    run("correct", ramp, "-o", target, "--name", "second", "--replace")
    assert json.loads((target / "correction.json").read_text(encoding="utf-8"))["name"] == "second"
    assert (target / "notes.txt").read_text() == "kept"
    assert [path.name for path in tmp_path.iterdir()] == ["c"]


# Bad input: one clear message, nothing written.


def rows_of(source, target, keep):
    """Write the reading again with some patches only."""
    from greyscale.readings.formats import read

    reading = read(source)
    write(reading.select(keep(reading)), target)
    return target


@pytest.mark.parametrize(
    ("keep", "message"),
    [
        (lambda r: ~(r.device.min(axis=1) > 0.99), "paper"),
        (lambda r: ~(r.device.max(axis=1) < 0.01), "black"),
        (lambda r: np.isin(np.round(r.level * 32).astype(int), [0, 16, 32]), "at least 7"),
    ],
    ids=["no paper white", "no black", "too few patches"],
)
def test_a_ramp_that_does_not_do_is_refused(ramp, tmp_path, keep, message):
    reading = rows_of(ramp, tmp_path / "r.txt", keep)
    assert message in refused("correct", reading, "-o", tmp_path / "c", "--unchecked")
    assert not (tmp_path / "c").exists()


def test_a_ramp_that_turns_back_is_refused(ramp, tmp_path):
    from greyscale.readings.formats import read

    reading = read(ramp)
    lab = reading.lab.copy()
    # So many tones that they cannot all be spoilt patches.
    rows = np.abs(reading.level - 0.5) < 0.16
    lab[rows, 0] = 60 - 40 * (reading.level[rows] - 0.5)
    write(dataclasses.replace(reading, lab=lab, spectra=None, wavelengths=None), tmp_path / "r.txt")
    refused("correct", tmp_path / "r.txt", "-o", tmp_path / "c", "--unchecked")
    assert not (tmp_path / "c").exists()


def test_near_neutral_patches_too_close_against_the_noise_are_refused(start, tmp_path):
    from greyscale.readings.formats import read

    reading = read(start)
    level = reading.level[:, np.newaxis]
    closer = level + 0.02 * (reading.device - level)
    write(dataclasses.replace(reading, device=closer), tmp_path / "r.txt")
    message = refused("correct", tmp_path / "r.txt", "-o", tmp_path / "c", "--unchecked")
    assert "near-neutral patches" in message
    assert "noise" in message
    assert not (tmp_path / "c").exists()


def test_a_reading_of_another_paper_does_not_join(start, tmp_path):
    run("chart", "-o", tmp_path / "other", "--dpi", 72)
    other = measure(tmp_path / "other.txt", tmp_path / "other-reading.txt", paper="baryta")
    refused("correct", start, other, "-o", tmp_path / "c")
    assert not (tmp_path / "c").exists()


def test_a_next_round_of_another_printer_or_aim_is_refused(made, tmp_path):
    first, _ = made
    run("chart", "-o", tmp_path / "proof", "--through", first, "--dpi", 72)
    other = measure(
        tmp_path / "proof.txt", tmp_path / "other.txt", through=first, printer="another printer"
    )
    assert "printer" in refused("correct", other, "--previous", first, "-o", tmp_path / "c")
    proof = measure(tmp_path / "proof.txt", tmp_path / "right.txt", through=first)
    assert "aim" in refused(
        "correct", proof, "--previous", first, "--aim", "srgb", "-o", tmp_path / "c"
    )
    assert not (tmp_path / "c").exists()


def test_a_print_through_a_correction_is_no_evidence_of_the_printer_without_it(
    made, ramp, tmp_path
):
    first, _ = made
    run("chart", "-o", tmp_path / "proof", "--through", first, "--dpi", 72)
    proof = measure(tmp_path / "proof.txt", tmp_path / "right.txt", through=first)
    words = ("correct", proof, "--layout", tmp_path / "proof.txt", "-o", tmp_path / "c")
    assert "was printed through the correction 'Harbour light'" in refused(*words)
    other = tmp_path / "other"
    run("correct", ramp, "--name", "Another", "-o", other)
    assert "not through 'Another'" in refused(*words, "--previous", other)
    assert not (tmp_path / "c").exists()


def test_the_previous_folder_is_never_written_to(made, tmp_path):
    first, _ = made
    run("chart", "-o", tmp_path / "proof", "--through", first, "--dpi", 72)
    proof = measure(tmp_path / "proof.txt", tmp_path / "right.txt", through=first)
    before = (first / "correction.json").read_bytes()
    assert "input" in refused("correct", proof, "--previous", first, "-o", first)
    assert (first / "correction.json").read_bytes() == before


def test_a_misread_chart_is_refused_unless_told_otherwise(start, tmp_path):
    """Two strips swapped: the checks see it before anything is solved."""
    from greyscale.readings.formats import read

    reading = read(start)
    strip = np.array([place[0] for place in reading.places])
    order = np.arange(len(reading))
    order[strip == "B"], order[strip == "C"] = (
        order[strip == "C"].copy(),
        order[strip == "B"].copy(),
    )
    write(
        dataclasses.replace(reading, spectra=reading.spectra[order], lab=reading.lab[order]),
        tmp_path / "swapped.txt",
    )
    refused("correct", tmp_path / "swapped.txt", "-o", tmp_path / "c")
    assert not (tmp_path / "c").exists()


@pytest.mark.parametrize(
    "options",
    [
        ("--aim", "bright"), ("--neutral", "grey"), ("--scaling", "some"), ("--toning", "sepia"),
        ("--previous", "nowhere"), ("--for-image", "nowhere.tif"),
    ],
)  # fmt: skip
def test_an_option_that_cannot_be_is_refused(ramp, tmp_path, options):
    assert refused("correct", ramp, "-o", tmp_path / "c", *options)
    assert not (tmp_path / "c").exists()


def test_a_reading_is_never_overwritten(ramp, tmp_path):
    assert "holds the input" in refused("correct", ramp, "-o", ramp.parent)
    assert "is a file" in refused("correct", ramp, "-o", _touched(tmp_path / "file"))


def _touched(path):
    path.write_text("x")
    return path


def test_lights_are_taken_and_their_trade_off_is_told(ramp, tmp_path):
    folder = tmp_path / "hall"
    lights = [word for light in ("LED-B3", "A", "LED-B3") for word in ("--light", light)]
    lights += ["--weight", "A=2", "--glazing", "uv-filter"]
    said = run("correct", ramp, *lights, "-o", folder).stdout
    assert "Mean ΔCh expected under each light" in said
    data = json.loads((folder / "correction.json").read_text(encoding="utf-8"))
    names = ["LED-B3 behind uv-filter", "A behind uv-filter", "D50"]
    assert [one["name"] for one in data["lights"]] == names
    assert [one["weight"] for one in data["lights"]] == [1.0, 2.0, 0.0]
    assert [one["solved_for"] for one in data["trade_offs"]] == [
        ["D50"], [names[0]], [names[1]], names[:2]
    ]  # fmt: skip
    assert "under LED-B3 behind uv-filter" in (folder / "report.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--weight", "A=2"], "go with --light"),
        (["--light", "A", "--weight", "D65=2"], "not among the lights"),
        (["--light", "A", "--worst-share", "2"], "give 0 to 1"),
        (["--light", "A", "--observer", "3"], "take one of 2, 10"),
        (["--light", "A", "--weight", "A=0"], "not all zero"),
    ],
)
def test_lights_that_cannot_be_are_refused(ramp, tmp_path, options, message):
    assert message in refused("correct", ramp, *options, "-o", tmp_path / "no")
    assert not (tmp_path / "no").exists()
