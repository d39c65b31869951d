"""Words in files do nothing in what the commands write: every text field of every input is hostile.

The commands are run as a person runs them; every page, drawing and PDF that they leave is opened.
"""

from __future__ import annotations

import json
import os
import shlex
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import tifffile
from support import logged
from support.corrections import correction_with, curve_against, printed, proof_of
from support.families import family
from support.hostile import HOSTILE, HOSTILE_NAME, Outline, harmful_in_svg
from support.runner import Runner

from greyscale.correction.folder import write_files
from greyscale.demo.printer import demo_printer
from greyscale.readings.iso28178 import write
from greyscale.readings.reading import Reading

pytestmark = pytest.mark.skipif(os.name == "nt", reason="no such names of files there")

TEXTS = dict.fromkeys(("instrument", "printer", "paper", "settings"), HOSTILE)
LEVELS = np.concatenate([np.linspace(0, 1, 13), [0, 0.5, 1]])


def measured(paper: str, hours: float | None = None, condition: str = "M1") -> Reading:
    device = np.repeat(LEVELS[:, np.newaxis], 3, axis=1)
    ids = [f"{HOSTILE}{i}" for i in range(len(LEVELS))]
    made = demo_printer(paper).measure(
        ids, device, hours=hours, condition=condition, seed=int(10 * (hours or 0))
    )
    fields = {"ORIGINATOR": HOSTILE, "PRINT_CONDITIONS": HOSTILE}
    return replace(made, **TEXTS, name=f"{HOSTILE}{paper}", backing=HOSTILE, fields=fields)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Inputs, hostile in each word, and in their files' names."""
    made = tmp_path_factory.mktemp("hostile")
    for paper in ("kozo", "baryta"):
        for condition in ("M1", "M2"):
            write(measured(paper, condition=condition), made / f"{paper}-{condition}.txt")
        write(measured(paper), made / f"{paper}{HOSTILE_NAME}.txt")
    for hours in (0.5, 2, 8, 24):
        write(measured("kozo", hours), made / f"{hours:g}h.txt")
    for week in range(8):
        when = datetime(2026, 3, 4) + timedelta(weeks=week)
        one = logged.reading(week, b=2.0 * (week > 5), created=when, **TEXTS)
        write(replace(one, name=HOSTILE, backing=HOSTILE), made / f"week-{week}.txt")
    wavelengths = np.arange(380, 781, 5)
    table = "".join(f"{w},{1 + np.sin(w / 50) / 3:.5f}\n" for w in wavelengths)
    (made / f"lamp{HOSTILE_NAME}.csv").write_text(table, encoding="utf-8")
    pixels = np.random.default_rng(1).integers(0, 65535, (40, 60, 3), dtype=np.uint16)
    tifffile.imwrite(
        made / f"fog{HOSTILE_NAME}.tif", pixels, photometric="rgb", metadata=None,
        description=HOSTILE.encode("ascii", "replace").decode(),
    )  # fmt: skip
    correction = correction_with(
        curve_against(), name=HOSTILE, printer=None, paper=None, settings=HOSTILE,
        remarks=(HOSTILE,), backing=HOSTILE,
    )  # fmt: skip
    source = replace(
        correction.evidence.sources[0],
        name=HOSTILE, source=HOSTILE, instrument=HOSTILE, settings=HOSTILE, backing=HOSTILE,
    )  # fmt: skip
    correction = replace(correction, evidence=replace(correction.evidence, sources=(source,)))
    (made / "correction").mkdir()
    write_files(correction, made / "correction", printed, lut_size=9)
    proof = proof_of(correction, **TEXTS, name=HOSTILE)
    proof = replace(proof, printer=None, paper=None, backing=HOSTILE)
    write(proof, made / "proof.txt")
    return made


LAMP, FOG = shlex.quote(f"lamp{HOSTILE_NAME}.csv"), shlex.quote(f"fog{HOSTILE_NAME}.tif")
KOZO, WORDS = shlex.quote(f"kozo{HOSTILE_NAME}.txt"), shlex.quote(HOSTILE)
COMMANDS = {
    "analyse": f"analyse {KOZO} --light {LAMP} --for-image {FOG} -o out --pdf --unchecked",
    "analyse several": f"analyse {KOZO} baryta-M1.txt --light {LAMP} -o out --pdf",
    "compare": "compare kozo-M1.txt kozo-M2.txt baryta-M1.txt baryta-M2.txt "
    f"--light {LAMP} --light D50 -o out --pdf",
    "correct": f"correct {KOZO} --name {WORDS} --printer {WORDS} --paper {WORDS} "
    f"--settings {WORDS} --path {WORDS} --for-image {FOG} --lut-size 9 --icc grey -o out --pdf",
    "verify": "verify proof.txt --correction correction -o out --pdf",
    "drying": "drying 0.5h.txt 2h.txt 8h.txt 24h.txt --hours 0.5,2,8,24 -o out --pdf",
    "log trend": "log trend --db log.sqlite3 -o out --pdf",
}
FIRST = {
    "log trend": [
        "log add week-0.txt week-1.txt week-2.txt week-3.txt week-4.txt week-5.txt week-6.txt "
        f"week-7.txt --inks {WORDS} --correction none --db log.sqlite3",
        f"log add --note {WORDS} --at 2026-03-20 --db log.sqlite3 --about 3",
    ]
}
"""What has to be done before."""


@pytest.fixture(scope="module", params=family(COMMANDS, ("analyse", "log trend", "preview")))
def out(request, folder: Path, runner: Runner, tmp_path_factory) -> Path:
    """The folder that a command wrote."""
    work = tmp_path_factory.mktemp("work")
    for path in folder.iterdir():
        (work / path.name).symlink_to(path)
    for command in [*FIRST.get(request.param, []), COMMANDS[request.param]]:
        done = runner.run(*shlex.split(command), cwd=work)
        assert done.code == 0, done.err
    return work / "out"


def test_pages_hold_words_alone(out: Path) -> None:
    page = (out / "report.html").read_text(encoding="utf-8")
    found = Outline(page)
    assert found.scripts <= 1
    assert found.handlers == []
    assert found.outside == []
    assert not found.tags & {"iframe", "object", "embed", "base", "form"}
    text = " ".join("".join(found.text).split())
    assert "<script>document.title='owned'" in text
    assert "{{ 7 * 7 }}" in text


def test_drawings_hold_words_alone(out: Path) -> None:
    drawings = sorted(out.rglob("*.svg"))
    assert drawings
    for path in drawings:
        assert harmful_in_svg(path.read_bytes()) == [], path.name


def test_names_of_files_stay_plain(out: Path) -> None:
    """And within the folder: every one of them is one that the command always writes."""
    names = [path.relative_to(out).as_posix() for path in out.rglob("*")]
    for name in names:
        assert name.replace("/", "").replace("-", "").replace(".", "").isalnum(), name


def test_a_pdf_is_written(out: Path) -> None:
    import pypdf

    document = pypdf.PdfReader(out / "report.pdf")
    assert document.pages
    catalogue = document.trailer["/Root"]
    # Where to open it, an array; not what to do, a dictionary.
    assert isinstance(catalogue.get("/OpenAction", []), list)
    assert "/JavaScript" not in str(catalogue.get("/Names"))
    for page in document.pages:
        for link in page.get("/Annots") or []:
            action = link.get_object().get("/A")
            assert action is None or action.get("/S") == "/GoTo"


def test_json_is_json(out: Path) -> None:
    written = sorted(out.glob("*.json"))
    assert written
    for path in written:
        assert "<script>" in json.dumps(json.loads(path.read_text(encoding="utf-8"))), path.name


MARKUP = "[/bold] [red]red[/] [link=http://example.test]l[/link]"
SAID = {
    "check": ("check spoilt.txt", "document.title"),
    "log add": (f"log add baryta-M1.txt --inks {WORDS} --db new.sqlite3", MARKUP),
    "log list": ("log list --db log.sqlite3", "</script>"),
    "log show": ("log show 1 --db log.sqlite3", MARKUP),
    "lights": (f"lights {LAMP}", "document.title"),
    "preview": (f"preview {KOZO} {FOG} -o seen.png --encoding lstar", "document.title"),
    "apply": (f"apply correction {FOG} -o printed.tif --encoding lstar", "printed.tif"),
}
"""Commands that say what is hostile, and a part of it that has to be seen."""


@pytest.fixture(scope="module")
def place(folder: Path, runner: Runner, tmp_path_factory) -> Path:
    work: Path = tmp_path_factory.mktemp("said")
    for path in folder.iterdir():
        (work / path.name).symlink_to(path)
    lab = measured("kozo").lab.copy()
    lab[6, 1] += 20
    spoilt = replace(measured("kozo"), lab=lab, spectra=None, wavelengths=None)
    write(spoilt, work / "spoilt.txt")
    for command in FIRST["log trend"]:
        assert runner.run(*shlex.split(command), cwd=work).code == 0
    return work


@pytest.mark.parametrize("name", SAID)
def test_a_terminal_is_told_words_alone(name: str, place: Path, runner: Runner) -> None:
    """Neither what it obeys, nor markup that is taken for more than words."""
    command, seen = SAID[name]
    done = runner.run(*shlex.split(command), cwd=place)
    said = done.out + done.err
    assert "Traceback" not in said
    assert not set(said) & set("\x1b\x9b\u202e")
    assert seen in " ".join(said.split())
