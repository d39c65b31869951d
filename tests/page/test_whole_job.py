"""The whole job in a real browser, held against what the functions of the commands give.

The simulated printer prints what the chart's TIFF holds; the page is not told what printer it is.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms
from support.browser import Chromium, needs_browser
from support.families import family
from support.page import page_of

import greyscale
from greyscale.charts.chart import make_chart
from greyscale.demo.printer import demo_printer
from greyscale.demo.workshop import Workshop, strip_read_backwards
from greyscale.readings.iso28178 import write

pytestmark = needs_browser

PRINTED = ".next .do button"
NEXT = ".next button.button"
LIGHTS, LIGHT = "[name=made_for]", "LED-B1"
POINTED = """[
  document.querySelector(".hairline").getBoundingClientRect().left
    - document.querySelector(".ramp .drawn").getBoundingClientRect().left,
  document.querySelector(".ramp .drawn").getBoundingClientRect().width,
  [...document.querySelectorAll(".readout dd")].map(one => one.textContent),
  [...document.querySelectorAll("#numbers tbody tr")].map(
    row => [...row.cells].map(cell => cell.textContent)),
]"""


ROWS = "[...document.querySelectorAll('.row .label')].map(one => one.textContent)"
DIARY = "[...document.querySelectorAll('.sheets strong')].map(one => one.textContent)"
PLACES = "[...document.querySelectorAll('#numbers tbody tr')].map(row => row.dataset.x / 100)"


@pytest.fixture(scope="module", params=family(["keys", "mouse"], ["keys"]))
def job(tmp_path_factory, request):
    """A paper taken through the job by keyboard alone, or by mouse, and what was seen on the way.

    Of the keyboard only the system's own dialog for files is left out: a test cannot press its
    keys. By mouse files are dropped on the page.
    """
    by_mouse = request.param == "mouse"
    root = tmp_path_factory.mktemp("prints")
    folder = root / "six-ink, Möwe"
    workshop = Workshop(folder, demo_printer("cotton rag"))
    seen = {"violations": [], "verdicts": [], "pointed": []}

    def look() -> None:
        seen["verdicts"].append(browser.run("document.querySelector('.verdict').textContent"))
        seen["violations"] += browser.violations()

    def follow(selector: str) -> None:
        browser.follow(selector) if by_mouse else browser.enter(selector)

    def press() -> None:
        follow(NEXT)
        browser.until_done()

    def drop(given: Path, form: str = ".next") -> None:
        if by_mouse:
            browser.drop(given)
        else:
            browser.choose(f"{form} input[type=file]", given)
            browser.enter(f"{form} .drop button")

    def measured(reading) -> Path:
        given = tmp_path_factory.mktemp("instrument") / "Export 1.txt"
        write(reading, given)
        return given

    with page_of(root) as address, Chromium(tmp_path_factory.mktemp("profile")) as browser:
        browser.size(390)
        browser.open(address)
        seen["violations"] += browser.violations()
        browser.click("#name") if by_mouse else browser.tab_to("#name")
        browser.call("Input.insertText", text=folder.name)
        follow("#name + button")
        look()
        press()
        follow(PRINTED)
        seen["drying"] = browser.run("document.querySelector('.clock').textContent")
        reading = workshop.print_and_measure("chart-1", name="chart", seed=1, hours=24.0)
        drop(measured(strip_read_backwards(reading, "C")))
        look()
        press()
        look()
        if by_mouse:
            browser.run("document.querySelector('.ramp').scrollIntoView({block: 'center'})")
            places = browser.run(PLACES)
        else:
            browser.tab_to("#tone")
        for row, name in ((21, "ArrowRight"), (22, "ArrowRight"), (21, "ArrowLeft")):
            browser.point(".ramp .drawn", places[row]) if by_mouse else browser.key(name)
            seen["pointed"].append(browser.run(POINTED))
        browser.size(1500)
        browser.point(".ramp .drawn", 0.25)
        seen["pointed"].append(browser.run(POINTED))
        browser.size(390)
        browser.click(LIGHTS) if by_mouse else browser.tab_to(LIGHTS)
        browser.call("Input.insertText", text=LIGHT)
        browser.press_enter()
        seen["chosen"] = browser.run("document.activeElement.name")
        press()
        press()
        drop(measured(workshop.print_and_measure("proof-1", name="proof", seed=3, hours=72.0)))
        browser.until_done()
        look()
        seen["words"] = browser.run("document.querySelector('.words').textContent")
        seen["rows"], seen["diary"] = browser.run(ROWS), browser.run(DIARY)
        seen["width"] = browser.run("document.documentElement.scrollWidth")
        browser.run("document.querySelector('.other').open = true")
        drop(fog(tmp_path_factory.mktemp("scans")), ".other")
        look()
        press()
        seen["links"] = browser.run("document.querySelector('.next ul').textContent").strip()
        seen["problems"] = browser.events("Log.entryAdded", "Runtime.exceptionThrown")
        asked = browser.events("Network.requestWillBeSent")
        seen["elsewhere"] = [
            one["request"]["url"] for one in asked
            if not one["request"]["url"].startswith((address.split("?")[0], "about:"))
        ]  # fmt: skip
    return folder, seen


def fog(folder: Path) -> Path:
    """A small picture, in sRGB."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    picture = Image.linear_gradient("L").resize((64, 48)).convert("RGB")
    picture.save(folder / "fog.tif", icc_profile=profile)
    return folder / "fog.tif"


def test_the_verdict_stands_first(job):
    _, seen = job
    nothing, misread, first, proved, picture = seen["verdicts"]
    assert nothing == "Nothing has been measured yet."
    assert misread == "Certainly misread: strip read backwards, strip C."
    assert first.endswith("outside the exhibition tolerance.")
    assert proved == "The correction worked: within the exhibition tolerance."
    assert picture.startswith("Mean ΔCh over this picture: 1.")


def test_its_folder_holds_what_a_person_can_read(job):
    folder, _ = job
    assert sorted(path.name for path in folder.iterdir()) == [
        "chart-1-reading-put-right.txt", "chart-1-reading.txt", "chart-1.pdf", "chart-1.printed",
        "chart-1.tif", "chart-1.txt", "correction-1", "fog-correction-1.tif", "fog.tif",
        "proof-1-reading.txt", "proof-1.pdf", "proof-1.tif", "proof-1.txt",
    ]  # fmt: skip


def test_the_chart_is_the_command_s(job):
    folder, _ = job
    own = make_chart("chart-1", near_neutral=True, seed=1)
    made = greyscale.read_layout(folder / "chart-1.txt")
    assert made.ids == own.layout.ids
    assert made.places == own.layout.places
    assert np.allclose(made.device, own.layout.device)


def test_what_was_put_right_is_the_check_s(job):
    folder, _ = job
    result = greyscale.check(folder / "chart-1-reading.txt", folder / "chart-1.txt")
    put_right = greyscale.read(folder / "chart-1-reading-put-right.txt")
    assert np.allclose(put_right.spectra, result.repaired.spectra)
    assert put_right.ids == result.repaired.ids


def test_the_correction_for_a_light_has_the_same_numbers(job):
    folder, _ = job
    own = greyscale.correct(folder / "chart-1-reading-put-right.txt", lights=[LIGHT])
    with (folder / "correction-1" / "curve.csv").open() as file:
        rows = list(csv.DictReader(file))
    sent = np.array([[float(row[name]) for name in "RGB"] for row in rows])
    assert np.abs(sent - own.curve.rgb).max() < 1e-6


def test_the_proof_is_judged_alike(job):
    """In the light that the correction is for, by the figures that `verify` finds."""
    folder, seen = job
    own = greyscale.verify(folder / "proof-1-reading.txt", folder / "correction-1")
    assert own.light == LIGHT
    after, before = own.after.neutrality, own.before.neutrality
    assert f"Under {LIGHT} mean ΔCh {after.mean_delta_Ch:.2f} measured" in seen["words"]
    assert f"Largest {after.max_delta_Ch:.2f}, promised" in seen["words"]
    assert f", against {before.max_delta_Ch:.2f} before; RMS" in seen["words"]
    assert "greyscale verify proof-1-reading.txt --correction correction-1" in seen["words"]


def test_the_diary_goes_as_the_work_went(job):
    _, seen = job
    assert seen["diary"] == ["chart-1", "correction-1", "proof-1"]


def test_of_a_proof_the_light_of_its_correction_is_a_row(job):
    _, seen = job
    assert any(one.startswith(LIGHT) for one in seen["rows"])


def test_the_picture_is_corrected_alike(job, tmp_path):
    folder, seen = job
    own = tmp_path / "own.tif"
    greyscale.apply(folder / "correction-1", folder / "fog.tif", own)
    made = np.asarray(Image.open(folder / "fog-correction-1.tif"))
    assert np.array_equal(made, np.asarray(Image.open(own)))
    assert not np.array_equal(made, np.asarray(Image.open(folder / "fog.tif")))
    assert seen["links"] == "fog-correction-1.tif"


def test_pointing_at_a_tone_shows_its_numbers_where_it_lies(job):
    _, seen = job
    tones = []
    for left, width, numbers, table in seen["pointed"]:
        assert numbers in table
        assert left / width == pytest.approx(float(numbers[0]), abs=0.006)
        tones.append(table.index(numbers))
    first, second, back, at_a_quarter = tones
    assert (second, back) == (first + 1, first)
    assert float(table[at_a_quarter][0]) == pytest.approx(0.25, abs=1 / 64)


def test_a_choice_leaves_one_where_one_was(job):
    _, seen = job
    assert seen["chosen"] == "made_for"


def test_a_printed_sheet_shows_how_long_it_dries_still(job):
    _, seen = job
    assert "24 h 0 min to go." in seen["drying"] or "23 h 59 min to go." in seen["drying"]


def test_everyone_can_use_it_and_it_fits_a_phone(job):
    _, seen = job
    assert seen["violations"] == []
    assert seen["width"] <= 390


def test_the_console_stays_silent_and_nothing_is_asked_for_elsewhere(job):
    _, seen = job
    assert seen["problems"] == []
    assert seen["elsewhere"] == []
