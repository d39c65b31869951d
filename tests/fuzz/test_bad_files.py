"""Bad files of every kind are refused in words: the same each time, some dozens for each reader.

`python -m tests.fuzz.run` does the same with very many. Hypothesis adds files made from nothing.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from fuzz import seeds
from fuzz.campaign import campaign
from fuzz.targets import TARGETS
from fuzz.watch import REFUSED, outcome, watch_files
from fuzz.worker import content
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.families import family

SEED = 20_260_304
USUAL = 40
SLOW = {"readings, analysed": 15, "readings, checked": 15, "corrections, fitted": 5,
        "page, routes": 30, "print logs, exported": 30, "print logs, databases": 30,
        "print logs, cells": 30}  # fmt: skip
"""So many files made worse are tried every time."""

READERS = {target.name: target for target in TARGETS}
CHEAP = settings(
    max_examples=60, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip


NATIVE = {"readings, CxF3", "corrections, .cube", "ICC profiles, working spaces", "pictures, read"}
"""Read by libraries that could end the process, or fill the memory: in a process of their own."""


@pytest.mark.parametrize("name", family(sorted(NATIVE), {"readings, CxF3", "pictures, read"}))
def test_files_made_worse_in_a_process_of_its_own(name: str) -> None:
    count = len(READERS[name].seeds()) + USUAL
    found = campaign(READERS[name], count, SEED)
    assert found.inputs == count
    assert found.failures == {}


@pytest.mark.parametrize("name", sorted(READERS.keys() - NATIVE))
def test_files_made_worse(name: str, tmp_path: Path) -> None:
    target = READERS[name]
    path = tmp_path / f"any{target.ending}"
    watch_files(tmp_path)
    for index in range(len(target.seeds()) + SLOW.get(name, USUAL)):
        path.write_bytes(content(target, SEED, index))
        found = outcome(target.read, path, target.writes)
        assert found is None or found.startswith(REFUSED), f"input {index}: {found}"
        # SQLite keeps its own files beside a database that it cannot put in order.
        left = {one.name.removesuffix("-wal").removesuffix("-shm") for one in tmp_path.iterdir()}
        assert left == {path.name}


def refuses_or_reads(name: str, content: bytes, folder: Path) -> None:
    target = READERS[name]
    path = folder / f"any{target.ending}"
    path.write_bytes(content)
    found = outcome(target.read, path, writes=True)
    assert found is None or found.startswith(REFUSED), found


WORDS = st.sampled_from([
    "CGATS.17", "BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA", "NUMBER_OF_SETS",
    "NUMBER_OF_FIELDS", "KEYWORD", "SAMPLE_ID", "PATCH_PLACE", "RGB_R", "RGB_G", "RGB_B", "LAB_L",
    "LAB_A", "LAB_B", "XYZ_X", "XYZ_Y", "XYZ_Z", "CMYK_K", "SPECTRAL_NM400", "SPECTRAL_NM410",
    "SPECTRAL_NM420", "WAVELENGTH", "SPECTRAL_POWER", "A1", "B2", "M1", "#", '"', "1", "3", "0",
])  # fmt: skip
CELLS = st.one_of(WORDS, st.floats().map(repr), st.integers(0, 255).map(str), st.text(max_size=6))
MARKS = st.sampled_from(["\t", " ", ",", ";"])
LINES = st.tuples(MARKS, st.lists(CELLS, max_size=8)).map(lambda line: line[0].join(line[1]))
TABLES = st.lists(LINES, max_size=12).map("\n".join)
FILES = st.tuples(
    TABLES, st.sampled_from(["utf-8", "utf-16", "utf-8-sig", "utf-32"])
).map(lambda file: file[0].encode(file[1], "surrogatepass"))  # fmt: skip


@pytest.mark.parametrize(
    "name",
    ["readings, ISO 28178", "readings, CSV", "layouts", "lamps", "aims, tone", "aims, toning"],
)
@CHEAP
@given(content=FILES | st.binary(max_size=200))
def test_text_from_nothing(name: str, tmp_path: Path, content: bytes) -> None:
    refuses_or_reads(name, content, tmp_path)


@CHEAP
@given(rows=st.lists(st.tuples(*[st.floats(-5, 300)] * 4), min_size=1, max_size=12))
def test_tables_of_any_numbers(tmp_path: Path, rows: list[tuple[float, ...]]) -> None:
    lines = "\n".join(";".join(map(repr, (v, v, v, *row))) for v, *row in rows)
    for name in ("readings, CSV", "readings, analysed"):
        refuses_or_reads(name, f"R;G;B;L*;a*;b*\n{lines}\n".encode(), tmp_path)


NAMES = st.sampled_from([
    "schema", "version", "name", "created", "round", "aim", "scaling", "curve", "points", "rgb",
    "lab", "sd", "evidence", "sources", "device", "entries", "files", "uid", "kind", "text",
    "sha256", "reading", "correction", "note",
])  # fmt: skip
JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(NAMES, inner, max_size=6),
    max_leaves=25,
)


@pytest.mark.parametrize(
    ("name", "sound"),
    [("corrections, JSON", seeds.corrections), ("print logs, exported", seeds.exported_logs)],
)
@CHEAP
@given(value=JSON, data=st.data())
def test_any_value_in_json(name: str, sound, tmp_path: Path, value: object, data) -> None:
    document = json.loads(sound()[0])
    place = document
    while isinstance(place, dict | list) and place:
        keys = list(place) if isinstance(place, dict) else list(range(min(3, len(place))))
        key = data.draw(st.sampled_from(keys))
        inner = place[key]
        if not isinstance(inner, dict | list) or not inner or data.draw(st.booleans()):
            place[key] = value
            break
        place = inner
    refuses_or_reads(name, json.dumps(document).encode(), tmp_path)
