"""What the long campaigns found, kept small: each of these once ended in a traceback."""

from __future__ import annotations

import io
import json
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import tifffile
from fuzz import seeds
from fuzz.targets import TARGETS
from fuzz.watch import REFUSED, outcome
from support.picture_files import XMP

from greyscale.aims.neutral import toning
from greyscale.aims.tone import tone_aim
from greyscale.base.errors import BadInput
from greyscale.correction.folder import read_correction
from greyscale.readings.formats import read
from greyscale.readings.lamps import find_light
from greyscale.readings.layout import read_layout

READERS = {target.name: target for target in TARGETS}
LONG = "x" * 300
"""No system has names of files this long; Linux says so by an error of its own."""


def _lamp(old: bytes, new: bytes) -> bytes:
    seed = next(one for one in seeds.lamps() if b"IESTM2714" in one)
    assert old in seed
    return seed.replace(old, new, 1)


def _correction(**changed: object) -> bytes:
    return json.dumps({**json.loads(seeds.corrections()[0]), **changed}).encode()


def _picture_with_braces() -> bytes:
    """A picture whose XMP has a namespace that ElementTree takes no name from."""
    file = io.BytesIO()
    packet = XMP.replace(b'xmlns:x="adobe:ns:meta/"', b'xmlns:x="adobe:ns:{{7*7}}meta/"')
    assert packet != XMP
    tags = [(700, "B", len(packet), packet, True)]
    tifffile.imwrite(file, np.zeros((4, 4), np.uint8), extratags=tags, metadata=None)
    return file.getvalue()


def _log_after(statement: str, *values: str) -> bytes:
    """A print log whose content was changed past all of its constraints."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.sqlite3"
        path.write_bytes(seeds.databases()[0])
        with closing(sqlite3.connect(path)) as connection, connection:
            for name in ("ignore_check_constraints", "writable_schema"):
                connection.execute(f"PRAGMA {name} = ON")
            connection.execute(statement, values)
        return path.read_bytes()


def _log_of_kind(kind: str) -> bytes:
    """A print log with entries of a kind that there is not."""
    return _log_after("UPDATE entries SET kind = ?", kind)


def _begun_elsewhere() -> bytes:
    """A reading that was typed in half, with a patch that its layout does not have."""
    (begun,) = seeds.begun()
    assert begun.count(b"\n4") == 1
    return begun.replace(b"\n4", b"\n9")


INPUTS = {
    "a namespace with a brace": ("lamps", lambda: _lamp(b'"iestm2714"', b'"ie{{7*7}}stm2714"')),
    "a toning longer than a name": ("corrections, used", lambda: _correction(toning=LONG)),
    "a namespace with a brace in XMP": ("pictures, read", _picture_with_braces),
    "a patch of another layout": ("typed readings, begun", _begun_elsewhere),
    "a name that is too long": ("page, routes", lambda: b"GET /file/" + 300 * b"x" + b"\n\n"),
    "a new paper's name that is too long": (
        "page, routes",
        lambda: b"POST /papers\napplication/x-www-form-urlencoded\nname=" + 100 * b"%F0%9F%92%A9",
    ),
    "a kind with a null character": ("print logs, databases", lambda: _log_of_kind("reading\0")),
    "a table whose words are no text": (
        "print logs, databases",
        lambda: _log_after("UPDATE sqlite_master SET sql = X'00FF' WHERE name = 'entries'"),
    ),
    "a kind that is a statement": (
        "print logs, databases",
        lambda: _log_of_kind("files; DROP TABLE file"),
    ),
}


@pytest.mark.parametrize("name", INPUTS)
def test_it_is_read_or_refused_in_words(name: str, tmp_path: Path) -> None:
    reader, made = INPUTS[name]
    path = tmp_path / f"any{READERS[reader].ending}"
    path.write_bytes(made())
    found = outcome(READERS[reader].read, path, writes=True)
    assert found is None or found.startswith(REFUSED), found


NAMED: dict[str, Callable[[str], object]] = {
    "light": find_light,
    "lamp": lambda name: find_light(f"{name}.csv"),
    "mixture": lambda name: find_light(f"100%{name}"),
    "glazing": lambda name: find_light("D50", name),
    "tone aim": tone_aim,
    "toning": toning,
    "reading": read,
    "layout": read_layout,
    "correction": read_correction,
}


@pytest.mark.parametrize("kind", NAMED)
@pytest.mark.parametrize("name", [LONG, "a\0b", "a\0b/c", f"{LONG}/{LONG}", "\udcff"])
def test_a_name_that_no_file_can_have(kind: str, name: str) -> None:
    with pytest.raises(BadInput):
        NAMED[kind](name)
