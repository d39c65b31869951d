"""The whole job in a real browser, held against what the functions of the commands give.

The simulated printer prints what the chart's TIFF holds; the page is not told what printer it is.
"""

from __future__ import annotations

import csv

import numpy as np
import pytest
from support.browser import needs_browser
from support.devtools import Chromium
from support.page import page_of

import greyscale
from greyscale.charts.chart import make_chart
from greyscale.demo.instrument import strip_read_backwards
from greyscale.demo.printers import demo_printer
from greyscale.demo.workshop import Workshop
from greyscale.readings.iso28178 import write
from greyscale.reporting.verification_words import verification_sentences

pytestmark = needs_browser

FILE = ".next input[type=file]"


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """A paper taken through the job: its folder, and what was seen on the way."""
    root = tmp_path_factory.mktemp("prints")
    seen = {"violations": [], "verdicts": []}
    folder = root / "six-ink, Möwe"
    workshop = Workshop(folder, demo_printer("cotton rag"))

    def look() -> None:
        seen["verdicts"].append(browser.run("document.querySelector('.verdict').textContent"))
        seen["violations"] += browser.violations()

    def press() -> None:
        browser.go("document.querySelector('.next button.button').click()")
        browser.until_done()

    def drop(reading) -> None:
        given = tmp_path_factory.mktemp("instrument") / "Export 1.txt"
        write(reading, given)
        browser.choose(FILE, given)
        browser.go(f"document.querySelector('{FILE}').form.requestSubmit()")

    profile = tmp_path_factory.mktemp("profile")
    with page_of(root) as address, Chromium(profile) as browser:
        browser.size(390)
        browser.open(address)
        seen["violations"] += browser.violations()
        browser.go(
            f"document.querySelector('#name').value = {folder.name!r};"
            "document.querySelector('#name').form.requestSubmit()"
        )
        look()
        press()
        reading = workshop.print_and_measure("chart-1", name="chart", seed=1, hours=24.0)
        drop(strip_read_backwards(reading, "C"))
        look()
        press()
        look()
        press()
        press()
        drop(workshop.print_and_measure("proof-1", name="proof", seed=3, hours=72.0))
        look()
        seen["words"] = browser.run("document.querySelector('.words').textContent")
        seen["width"] = browser.run("document.documentElement.scrollWidth")
        seen["problems"] = browser.events("Log.entryAdded", "Runtime.exceptionThrown")
        asked = browser.events("Network.requestWillBeSent")
        seen["elsewhere"] = [
            one["request"]["url"] for one in asked
            if not one["request"]["url"].startswith((address.split("?")[0], "about:"))
        ]  # fmt: skip
    return folder, seen


def test_the_verdict_stands_first(job):
    _, seen = job
    nothing, misread, first, proved = seen["verdicts"]
    assert nothing == "Nothing has been measured yet."
    assert misread == "Certainly misread: strip read backwards, strip C."
    assert first.endswith("outside the exhibition tolerance.")
    assert proved == "The correction worked: within the exhibition tolerance."


def test_its_folder_holds_what_a_person_can_read(job):
    folder, _ = job
    assert sorted(path.name for path in folder.iterdir()) == [
        "chart-1-reading-put-right.txt", "chart-1-reading.txt", "chart-1.pdf", "chart-1.tif",
        "chart-1.txt", "correction-1", "proof-1-reading.txt", "proof-1.pdf", "proof-1.tif",
        "proof-1.txt",
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


def test_the_correction_has_the_same_numbers(job):
    folder, _ = job
    own = greyscale.correct(folder / "chart-1-reading-put-right.txt")
    with (folder / "correction-1" / "curve.csv").open() as file:
        rows = list(csv.DictReader(file))
    sent = np.array([[float(row[name]) for name in "RGB"] for row in rows])
    assert np.abs(sent - own.curve.rgb).max() < 1e-6


def test_the_proof_is_judged_alike(job):
    folder, seen = job
    own = greyscale.verify(folder / "proof-1-reading.txt", folder / "correction-1")
    assert own.within_tolerance
    for sentence in verification_sentences(own)[1:]:
        assert sentence in seen["words"]
    assert "greyscale verify proof-1-reading.txt --correction correction-1" in seen["words"]


def test_everyone_can_use_it_and_it_fits_a_phone(job):
    _, seen = job
    assert seen["violations"] == []
    assert seen["width"] <= 390


def test_the_console_stays_silent_and_nothing_is_asked_for_elsewhere(job):
    _, seen = job
    assert seen["problems"] == []
    assert seen["elsewhere"] == []
