"""A command opens each of its inputs once, writes each file once, and loads what it needs.

What is opened is counted by the interpreter's audit events (PEP 578), in a process of its own.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import tifffile

READING = Path(__file__).parents[2] / "sample_measurements" / "cotton-rag-33-m1.txt"

COUNTED = """
import json, os, sys
opened = []
def count(event, arguments):
    if event == "open" and isinstance(arguments[0], str):
        opened.append((os.path.realpath(arguments[0]), bool(arguments[2] & os.O_ACCMODE)))
sys.addaudithook(count)
from greyscale.cli.app import main
try:
    main()
finally:
    with open(os.environ["COUNTED"], "w") as file:
        json.dump({"opened": opened, "modules": list(sys.modules)}, file)
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    made = tmp_path_factory.mktemp("paths")
    (made / "reading.txt").write_bytes(READING.read_bytes())
    (made / "proof.txt").write_bytes(READING.read_bytes() + b"\n")
    tones = np.linspace(0, 65535, 600 * 100, dtype=np.uint16).reshape(600, 100)
    tifffile.imwrite(made / "fog.tif", np.repeat(tones, 9, axis=1))
    return made


@pytest.fixture(scope="module")
def run(folder):
    """Run a command line; return how often each file was read and written, and the modules."""

    def ran(line: str) -> tuple[Counter[str], Counter[str], set[str]]:
        counted = folder / "counted.json"
        subprocess.run(
            [sys.executable, "-c", COUNTED, *line.split()],
            cwd=folder, env=os.environ | {"COUNTED": str(counted)}, check=True,
            stdout=subprocess.DEVNULL,
        )  # fmt: skip
        told = json.loads(counted.read_text(encoding="utf-8"))
        read, written = (
            Counter(Path(name).name for name, writes in told["opened"] if writes is wanted)
            for wanted in (False, True)
        )
        return read, written, {name for name in told["modules"] if name.startswith("greyscale.")}

    return ran


def rooms(modules: set[str]) -> set[str]:
    return {name.split(".")[1] for name in modules}


@pytest.fixture(scope="module")
def corrected(run):
    return run("correct reading.txt -o made --lut-size 9")


def test_correct_opens_a_reading_once_and_writes_each_file_once(corrected):
    read, written, _ = corrected
    assert read["reading.txt"] == 1
    files = ("correction.json", "curve.csv", "correction-1d.cube", "correction-3d.cube",
             "correction.clf")  # fmt: skip
    assert [written[name] for name in files] == [1] * len(files)


@pytest.mark.parametrize("more", ["", " --strip below"])
def test_apply_opens_a_picture_once(corrected, run, more):
    read, _, modules = run(f"apply made fog.tif -o print{len(more)}.tif --encoding lstar{more}")
    assert read["fog.tif"] == 1
    assert read["correction.json"] == 1
    assert not {"greyscale.printer.gaussian_process", "greyscale.printer.model"} & modules
    assert not {"records", "icc", "demo", "page"} & rooms(modules)


def test_verify_and_preview_open_each_input_once(corrected, run):
    read, _, _ = run("preview reading.txt fog.tif -o seen.png --correction made --encoding lstar")
    assert (read["reading.txt"], read["fog.tif"], read["correction.json"]) == (1, 1, 1)
    read, _, _ = run("verify proof.txt --correction made")
    assert (read["proof.txt"], read["correction.json"]) == (1, 1)


def test_analysing_without_a_picture_loads_nothing_of_pictures(run):
    read, _, modules = run("analyse reading.txt -o report")
    assert read["reading.txt"] == 1
    # Figures are packed by what packs pictures as PNG.
    packing = {"greyscale.pictures", "greyscale.pictures.picture", "greyscale.pictures.png"}
    others = rooms(modules - packing)
    assert not {"pictures", "charts", "correction", "printer", "applying"} & others
